"""How accession numbers look: a pattern with the year and a running sequence."""

import re
from string import Formatter

DEFAULT_PATTERN = "{year}-{sequence:04d}"
LONGEST = 40
# The number becomes part of file names, so it holds nothing that a file system takes for something else.
PLAIN = re.compile(r"[A-Za-z0-9._-]*")
HIGHEST_SEQUENCE = 999_999


def faults_of(pattern: str) -> list[str]:
    """What is wrong with a pattern, in sentences; empty if it can be used."""
    try:
        pieces = list(Formatter().parse(pattern))
    except ValueError:
        return ["Every { needs its }. Write {year} and {sequence:04d} as in the example."]
    fields = [(name, spec or "", conversion) for _, name, spec, conversion in pieces if name is not None]
    faults = [_fault_of(*field) for field in fields]
    names = [name for name, _, _ in fields]
    if names.count("sequence") != 1:
        faults.append("The pattern needs {sequence} once: it is what tells one accession from the next.")
    if names.count("year") > 1:
        faults.append("The year stands in a pattern once.")
    if not all(PLAIN.fullmatch(text) for text, _, _, _ in pieces):
        faults.append("Use plain letters, digits, dots, hyphens and underscores: the number is part of file names.")
    found = [fault for fault in faults if fault]
    if not found and len(numbered(pattern, year=9999, sequence=HIGHEST_SEQUENCE)) > LONGEST:
        found.append(f"The number would be longer than {LONGEST} characters.")
    return found


def runs_by_year(pattern: str) -> bool:
    """Whether the sequence begins anew each year. Without the year in the number it never does."""
    return any(name == "year" for _, name, _, _ in Formatter().parse(pattern))


def numbered(pattern: str, *, year: int, sequence: int) -> str:
    """The number of one accession."""
    return pattern.format(year=year, sequence=sequence)


def _fault_of(name: str, spec: str, conversion: str | None) -> str:
    # SECURITY: format() reaches attributes of what it is given; only the two plain names may stand in a pattern.
    if name not in {"year", "sequence"} or conversion:
        return f"“{{{name}}}” is not known here: only {{year}} and {{sequence}} are filled in."
    if spec and not (name == "sequence" and re.fullmatch("0[1-9]d", spec)):
        return "How many digits a sequence has at least is written as {sequence:04d}, with one digit before the d."
    return ""
