"""Languages by BCP 47 tag in the codes that catalogues use (ISO 639-2/B and ISO 639-3, as pycountry has them)."""

import pycountry

UNDETERMINED = "und"


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
