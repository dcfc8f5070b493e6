"""Labels for what belongs to an accession and can be held in the hand. They are printed when asked for, never kept."""

from django.utils import timezone

from intake.access.services import who_may_hear
from intake.errors import Refused
from intake.interviews.models import Interview, Participant
from intake.library import services as libraries
from intake.outputs.naming import names_told
from intake.outputs.paper.labels import ON_A_SHEET, Label, labels_pdf
from intake.outputs.services import check_url
from intake.register.services import standing

MOST = 5 * ON_A_SHEET


def label_sheet(interview: Interview, *, papers: int, copies: int, first: int) -> bytes:
    """Labels for folders of `papers` and for `copies` to hand out, from place `first` of the sheet on. Raises Refused.

    Anybody may see a label, so withheld names are left out.
    """
    accession = standing(interview)
    if accession is None:
        raise Refused("Labels carry the accession number, so there are none before the interview is accepted.")
    if not 1 <= papers + copies <= MOST:
        raise Refused(f"Ask for 1 to {MOST} labels.")
    if not 1 <= first <= ON_A_SHEET:
        raise Refused(f"A sheet has the places 1 to {ON_A_SHEET}, counted row by row.")
    library = libraries.current()
    narrators = ", ".join(names_told(interview, Participant.Role.NARRATOR))
    lines = (narrators, f"Recorded {interview.recorded_on.isoformat()}", who_may_hear(interview), library.name)
    code = check_url(accession.receipt_number)
    folder = Label(accession.number, "Papers: closed, names inside", lines, code)
    copy = Label(accession.number, "Copy: closed passages are silent", lines, code)
    return labels_pdf(
        [folder] * papers + [copy] * copies,
        first=first,
        title=f"Labels for {accession.number}",
        author=library.name,
        dated=timezone.now(),
    )
