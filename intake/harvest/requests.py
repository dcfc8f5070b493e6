"""What a harvester asks: the arguments of each verb, and what is wrong with them, by the codes of OAI-PMH 2.0."""

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from django.http import HttpRequest, QueryDict

from intake.harvest.answers import PREFIXES

# Of each verb: what must be said, what may be, and whether a token may be said alone.
VERBS: dict[str, tuple[set[str], set[str], bool]] = {
    "Identify": (set(), set(), False),
    "ListMetadataFormats": (set(), {"identifier"}, False),
    "ListSets": (set(), set(), True),
    "ListIdentifiers": ({"metadataPrefix"}, {"from", "until", "set"}, True),
    "ListRecords": ({"metadataPrefix"}, {"from", "until", "set"}, True),
    "GetRecord": ({"identifier", "metadataPrefix"}, set(), False),
}
TOKEN = "resumptionToken"  # noqa: S105  a name
DAY, MOMENT = r"\d{4}-\d\d-\d\d", r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ"


class Wrong(Exception):
    """A request that is answered by an error; `code` is the protocol's."""

    def __init__(self, code: str, sentence: str) -> None:
        super().__init__(sentence)
        self.code, self.sentence = code, sentence


@dataclass(frozen=True)
class Asked:
    """A request in order. `until` is the first moment that is not meant any more."""

    verb: str
    arguments: dict[str, str]
    token: str = ""
    prefix: str = ""
    identifier: str = ""
    since: datetime | None = None
    until: datetime | None = None
    set_spec: str = ""


def read(request: HttpRequest) -> Asked:
    """What is asked, by GET or by POST. Raises Wrong."""
    given = request.POST if request.method == "POST" else request.GET
    verb = _verb(given)
    arguments = _arguments(given, verb)
    if TOKEN in arguments:
        return Asked(verb, {"verb": verb, **arguments}, token=arguments[TOKEN])
    prefix = arguments.get("metadataPrefix", "")
    if prefix and prefix not in PREFIXES:
        raise Wrong("cannotDisseminateFormat", f"The formats are {', '.join(PREFIXES)}.")
    since, until = _stretch(arguments)
    return Asked(
        verb,
        {"verb": verb, **arguments},
        prefix=prefix,
        identifier=arguments.get("identifier", ""),
        since=since,
        until=until,
        set_spec=arguments.get("set", ""),
    )


def _verb(given: QueryDict) -> str:
    said = given.getlist("verb")
    if len(said) != 1 or said[0] not in VERBS:
        raise Wrong("badVerb", f"Say one verb: {', '.join(VERBS)}.")
    return said[0]


def _arguments(given: QueryDict, verb: str) -> dict[str, str]:
    must, may, has_token = VERBS[verb]
    said = {name: given.getlist(name) for name in given if name != "verb"}
    known = must | may | ({TOKEN} if has_token else set())
    if unknown := sorted(set(said) - known):
        raise Wrong("badArgument", f"{verb} takes no argument {', '.join(unknown)}.")
    if repeated := sorted(name for name, values in said.items() if len(values) != 1):
        raise Wrong("badArgument", f"Said more than once: {', '.join(repeated)}.")
    if TOKEN in said:
        if len(said) > 1:
            raise Wrong("badArgument", f"{TOKEN} is said alone.")
    elif missing := sorted(must - set(said)):
        raise Wrong("badArgument", f"{verb} needs {', '.join(missing)}.")
    return {name: values[0] for name, values in said.items()}


def _stretch(arguments: dict[str, str]) -> tuple[datetime | None, datetime | None]:
    """From the first moment on, up to the first one after the last; both said alike, as days or as seconds."""
    said = [arguments.get("from", ""), arguments.get("until", "")]
    if all(said) and len(said[0]) != len(said[1]):
        raise Wrong("badArgument", "from and until are both days or both moments to the second.")
    since, until = (_moment(one) if one else None for one in said)
    if since and until and since > until:
        raise Wrong("badArgument", "from is later than until.")
    if until:
        until += timedelta(days=1) if re.fullmatch(DAY, said[1]) else timedelta(seconds=1)
    return since, until


def _moment(said: str) -> datetime:
    if re.fullmatch(f"{DAY}|{MOMENT}", said, re.ASCII):
        try:
            return datetime.fromisoformat(said.removesuffix("Z")).replace(tzinfo=UTC)
        except ValueError:
            pass  # no day of any calendar
    raise Wrong(
        "badArgument", f"“{said[:40]}” is no day such as 2026-03-14, and no moment such as 2026-03-14T12:00:00Z."
    )
