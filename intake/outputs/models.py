"""Things made from an interview, to hand out or to listen to."""

from django.db import models

from intake.files.models import StoredFile
from intake.interviews.models import Interview


class OutputKind(models.TextChoices):
    LISTENING_COPY = "listening-copy", "Listening copy"
    WORKING_COPY = "working-copy", "Working copy"
    ACCESS_COPY = "access-copy", "Access copy"
    DESCRIBED_COPY = "described-copy", "Described copy"
    RELEASE_COPY = "release-copy", "Signer's copy of a release"
    AGREEMENT_COPY = "agreement-copy", "Signer's copy of an agreement"
    ARRIVAL_RECEIPT = "arrival-receipt", "Arrival receipt"
    RECEIPT = "receipt", "Acceptance receipt"


# Copies of a part: the number at the end of their subject is the part's.
OF_A_PART = (OutputKind.LISTENING_COPY, OutputKind.WORKING_COPY, OutputKind.ACCESS_COPY, OutputKind.DESCRIBED_COPY)


class Output(models.Model):
    """One thing made of one subject (a part, a release, an arrival, an accession), once."""

    kind = models.CharField(max_length=20, choices=OutputKind.choices)
    subject_id = models.CharField(max_length=64)
    interview = models.ForeignKey(Interview, on_delete=models.PROTECT, related_name="outputs")
    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["kind", "subject_id"], name="output_is_made_once"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} of {self.subject_id}"
