"""What harvesters have been told of: a record for each interview that anybody may know of, or might once.

A record comes to be when its interview is catalogued and may be known of by anybody, and stays for ever: what may not
be known of any more, or is being described anew, is told as deleted. Its datestamp moves whenever what is told changes.
"""

import hashlib
from collections.abc import Iterable

from django.utils import timezone

from intake.interviews.models import State
from intake.outputs.describing import accepted, described
from intake.outputs.exporting import is_public
from intake.outputs.models import HarvestRecord
from intake.queue.models import Reader
from intake.queue.services import AT_ONCE, deal_with
from intake.register.models import Accession


def bring_up_to_date(at_most: int = AT_ONCE) -> int:
    """Look again at interviews of which something was recorded; returns at how many."""
    return deal_with(Reader.HARVEST, _look_at, at_most)


def harvestable(interviews: Iterable[int]) -> list[Accession]:
    """SECURITY: those that are catalogued and that anybody may know of, asked anew for every answer."""
    catalogued = accepted().filter(interview__in=interviews, interview__state=State.CATALOGUED)
    return [accession for accession in catalogued if is_public(accession)]


def _look_at(interviews: set[int]) -> None:
    known = {record.interview_id: record for record in HarvestRecord.objects.filter(interview__in=interviews)}
    accessions = harvestable(interviews)
    public = {
        accession.interview_id: (accession, hashlib.sha256(repr(said).encode()).hexdigest())
        for accession, said in zip(accessions, described(accessions), strict=True)
    }
    now = timezone.now().replace(microsecond=0)
    for pk, (accession, digest) in public.items():
        record = known.get(pk)
        if record is None or record.is_deleted or record.sha256 != digest:
            HarvestRecord.objects.update_or_create(
                interview_id=pk,
                defaults={
                    "collection": accession.interview.collection,
                    "datestamp": now,
                    "is_deleted": False,
                    "sha256": digest,
                },
            )
    gone = [record.pk for pk, record in known.items() if pk not in public and not record.is_deleted]
    HarvestRecord.objects.filter(pk__in=gone).update(is_deleted=True, datestamp=now)
