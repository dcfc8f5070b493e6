"""Figures in sentences, for every layer."""


def size(count: int) -> str:
    """Bytes in kB, MB or GB (powers of 1000), one decimal."""
    for unit, step in (("GB", 1e9), ("MB", 1e6), ("kB", 1e3)):
        if count >= step:
            return f"{count / step:.1f} {unit}"
    return f"{count} bytes"
