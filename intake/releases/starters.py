"""The release texts that come with the site, for each thing that a release can give the library.

A site begins with the licences in force (a migration); the others are there to begin a version of one's own with.
"""

from pathlib import Path

from intake.releases.models import Basis

STARTER = Path(__file__).parent / "starter"
# The paragraph that says what is given begins with these words; all others stay the same.
GIVES = {"en": "I give the library permission", "es": "Autorizo a la biblioteca"}


def release_text(role: str, language: str, basis: str) -> str:
    """The text for a role in a language; empty in a language that none comes in."""
    language = language.partition("-")[0]
    if language not in GIVES:
        return ""
    _, _, text = (STARTER / f"release.{role}.{language}.txt").read_text().strip().partition("\n\n")
    if basis == Basis.LICENCE:
        return text
    given = (STARTER / "bases" / f"{basis}.{role}.{language}.txt").read_text().strip()
    paragraphs = [given if told.startswith(GIVES[language]) else told for told in text.split("\n\n")]
    return "\n\n".join(paragraphs)
