"""How copies are named: a pattern of what is known of a part, made plain for every file system."""

import re
from string import Formatter

DEFAULT_PATTERN = "{date}_{narrator}_{part}"
KNOWN = ("date", "narrator", "part", "accession", "collection", "place")
PLAIN = re.compile(r"[A-Za-z0-9._-]*")
SEPARATORS = "-_."


def faults_of(pattern: str) -> list[str]:
    """What is wrong with a pattern, in sentences; empty if it can be used."""
    try:
        pieces = list(Formatter().parse(pattern))
    except ValueError:
        return ["Every { needs its }. Write {date} and {part} as in the example."]
    names = [name for _, name, _, _ in pieces if name is not None]
    # SECURITY: format() reaches attributes of what it is given; only the plain names may stand in a pattern.
    faults = [f"“{{{name}}}” is not known here: {_listed()} are filled in." for name in names if name not in KNOWN]
    if any(spec or conversion for _, _, spec, conversion in pieces):
        faults.append("Nothing stands beside a name within { and }.")
    if names.count("part") != 1:
        faults.append("The pattern needs {part} once: it is what tells one part from the next.")
    if not all(PLAIN.fullmatch(text) for text, _, _, _ in pieces):
        faults.append(
            "Use plain letters, digits, dots, hyphens and underscores: other signs are taken ill by some computers."
        )
    return faults


def named(pattern: str, known: dict[str, str]) -> str:
    """The name without an ending. What is not known leaves no gap: separators that meet become the first of them."""
    filled = pattern.format(**{name: known.get(name, "") for name in KNOWN})
    return re.sub(rf"([{SEPARATORS}])[{SEPARATORS}]+", r"\1", filled).strip(SEPARATORS)


def _listed() -> str:
    shown = [f"{{{name}}}" for name in KNOWN]
    return f"only {', '.join(shown[:-1])} and {shown[-1]}"
