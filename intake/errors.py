"""The one expected "no": a rule that said so, in sentences fit for a volunteer."""


class Refused(Exception):
    """A rule said no. `reasons` are whole sentences, shown as they are."""

    def __init__(self, *reasons: str) -> None:
        super().__init__(" ".join(reasons))
        self.reasons = reasons


class DoneAlready(Refused):
    """What was asked for stands already, as after a second click: no error, told calmly."""


class Conflict(Refused):
    """Somebody else saved other words meanwhile. `fields` names what both changed; nothing was saved."""

    def __init__(self, fields: tuple[str, ...]) -> None:
        super().__init__(
            "This was changed meanwhile, in another tab or by somebody else. Nothing is lost: both versions stand "
            "below. Choose, and save again."
        )
        self.fields = fields


def refuse_if(reasons: list[str]) -> None:
    """Raise Refused with all reasons, if there are any."""
    if reasons:
        raise Refused(*reasons)
