"""Rights in a form that machines read: statements of RightsStatements.org 1.0, and Creative Commons licences 4.0.

A statement says how things stand; a licence is given, and only by whoever holds the rights.
"""

from collections.abc import Iterable

from intake.catalogue.withheld import standing
from intake.interviews.models import Participant
from intake.releases.models import Licence

_STATEMENTS = {
    "InC": "In copyright",
    "InC-EDU": "In copyright, educational use permitted",
    "InC-NC": "In copyright, non-commercial use permitted",
    "InC-RUU": "In copyright, rights-holders not found or not known",
    "InC-OW-EU": "In copyright, an orphan work in the European Union",
    "NoC-CR": "No copyright, contracts restrict the use",
    "NoC-NC": "No copyright, non-commercial use only",
    "NoC-OKLR": "No copyright, other law restricts the use",
    "NoC-US": "No copyright in the United States",
    "NKC": "No copyright is known of",
    "CNE": "Copyright not evaluated",
    "UND": "Copyright could not be determined",
}
STATEMENTS = {f"http://rightsstatements.org/vocab/{code}/1.0/": label for code, label in _STATEMENTS.items()}
LICENCES = {
    Licence.CC_BY: "https://creativecommons.org/licenses/by/4.0/",
    Licence.CC_BY_SA: "https://creativecommons.org/licenses/by-sa/4.0/",
    Licence.CC_BY_NC: "https://creativecommons.org/licenses/by-nc/4.0/",
    Licence.CC_BY_NC_ND: "https://creativecommons.org/licenses/by-nc-nd/4.0/",
}
LABELS = {**STATEMENTS, **{uri: str(licence.label).partition(":")[0] for licence, uri in LICENCES.items()}}


def licence_chosen(participants: Iterable[Participant]) -> str:
    """The URI of the licence that all narrators chose alike; empty where one of them chose none or another.

    Of participants who were fetched with their releases.
    """
    narrators = [one for one in participants if one.role == Participant.Role.NARRATOR]
    chosen = {release.licence for one in narrators for release in standing(one)}
    return LICENCES.get(Licence(chosen.pop()), "") if len(chosen) == 1 and "" not in chosen else ""
