"""Demo."""


def is_loaded() -> bool:
    return True


def is_half_loaded() -> bool:
    return False


def sign_ins(url: str) -> list[str]:
    return []
