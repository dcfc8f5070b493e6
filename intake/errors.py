"""The one expected "no": a rule that said so, in sentences fit for a volunteer."""


class Refused(Exception):
    """A rule said no. `reasons` are whole sentences, shown as they are."""

    def __init__(self, *reasons: str) -> None:
        super().__init__(" ".join(reasons))
        self.reasons = reasons


def refuse_if(reasons: list[str]) -> None:
    """Raise Refused with all reasons, if there are any."""
    if reasons:
        raise Refused(*reasons)
