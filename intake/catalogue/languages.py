"""Languages by BCP 47 tag in the codes that catalogues use (ISO 639-2/B and ISO 639-3, as pycountry has them)."""

import re
from functools import cache
from typing import Any

import pycountry

from intake.errors import Refused
from intake.people.services import folded

UNDETERMINED = "und"
AT_MOST = 10
LONGEST_NAME = 80
SUBTAGS = re.compile(r"[A-Za-z0-9]{1,8}(-[A-Za-z0-9]{1,8})*")


def iso639_3(tag: str) -> str:
    """The code of three letters for the language of a tag; "und" for none that is known."""
    found = _language(tag)
    return found.alpha_3 if found else UNDETERMINED


def iso639_2b(tag: str) -> str:
    """The bibliographic code of ISO 639-2; empty for a language that is not known to have one there.

    pycountry does not list ISO 639-2: what has a code of two letters or a bibliographic one stands in it for sure.
    """
    found = _language(tag)
    if found is None:
        return UNDETERMINED
    return getattr(found, "bibliographic", "") or (found.alpha_3 if hasattr(found, "alpha_2") else "")


def name_of(tag: str) -> str:
    """The language's English name; the tag where it is not known."""
    found = _language(tag)
    return found.name if found else tag


def _language(tag: str) -> "pycountry.db.Data | None":
    primary = tag.partition("-")[0].lower()
    return pycountry.languages.get(**{"alpha_2" if len(primary) == 2 else "alpha_3": primary})


def tag_of(typed: str) -> str:
    """The BCP 47 tag of a language by its name or any of its codes, in its shortest form. Raises Refused."""
    code, hyphen, region = typed.strip().partition("-")
    found = pycountry.languages.get(bibliographic=code.lower()) or _language(code)
    named = _by_name().get(typed.strip().casefold()) or _by_name().get(folded(typed))
    # "ga" is a code, "Ga" a name: names begin with a capital letter.
    if named and not (found and code.islower()):
        return _tag(named)
    if found is None or (hyphen and not SUBTAGS.fullmatch(region)):
        near = [name for _, name in suggested(typed)][:3]
        meant = f" Perhaps {' or '.join(near)}?" if near else " Look it up by its name in English."
        raise Refused(f"“{typed.strip()[:LONGEST_NAME]}” is no language of ISO 639-3.{meant}")
    return f"{_tag(found)}{hyphen}{region}"


def suggested(typed: str) -> list[tuple[str, str]]:
    """Tags and names of languages in whose name a word begins so, or whose code it is; those best known first."""
    wanted = folded(typed)
    if not wanted:
        return []
    found = {_tag(one): one for name, one in _by_name().items() if f" {wanted}" in f" {name}" or one.alpha_3 == wanted}
    in_order = sorted(
        found.values(), key=lambda one: (len(_tag(one)), not folded(one.name).startswith(wanted), one.name)
    )
    return [(_tag(one), one.name) for one in in_order[:AT_MOST]]


@cache
def _by_name() -> dict[str, Any]:
    """As they are written first: without its accent one name may be another's."""
    named: dict[str, Any] = {}
    for form in (str.casefold, folded):
        for one in pycountry.languages:
            for name in (one.name, getattr(one, "inverted_name", ""), getattr(one, "common_name", "")):
                if name:
                    named.setdefault(form(name), one)
    return named


def _tag(found: Any) -> str:
    return getattr(found, "alpha_2", found.alpha_3)
