"""What was taken in from a back-log folder: one row an import, one row a line of its CSV."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from intake.interviews.models import Interview


class BacklogImport(models.Model):
    """One folder with one CSV. Started again, the same CSV goes on where it stopped."""

    started_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    folder = models.TextField()
    csv_name = models.CharField(max_length=255)
    csv_sha256 = models.CharField(max_length=64)
    rows_in_all = models.PositiveIntegerField()
    started_at = models.DateTimeField(auto_now_add=True)
    finished_at = models.DateTimeField(null=True, help_text="Empty while it runs, and after it was interrupted.")

    class Meta:
        ordering = ("-pk",)
        constraints = [
            models.UniqueConstraint(fields=["folder", "csv_sha256"], name="folder_and_csv_are_one_import"),
        ]

    def __str__(self) -> str:
        return f"{self.csv_name}, begun by {self.started_by}"


class BacklogRow(models.Model):
    """One line of the CSV: the interview it became, or why it was not taken."""

    taken_by = models.ForeignKey(BacklogImport, on_delete=models.PROTECT, related_name="rows")
    number = models.PositiveIntegerField(help_text="As the spreadsheet counts: the line of headings is 1.")
    content = models.UUIDField(null=True, unique=True, help_text="Made of its files' digests: they come in once.")
    interview = models.OneToOneField(Interview, null=True, on_delete=models.PROTECT, related_name="backlog_row")
    bytes = models.PositiveBigIntegerField(default=0)
    note = models.TextField(blank=True, help_text="Why it was not taken, or what is still to do.")
    at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ("number",)
        constraints = [
            models.UniqueConstraint(fields=["taken_by", "number"], name="backlog_row_is_told_once"),
            models.CheckConstraint(
                condition=Q(interview__isnull=False, content__isnull=False)
                | (Q(interview=None, content=None) & ~Q(note="")),
                name="backlog_row_is_an_interview_or_says_why_not",
            ),
        ]

    def __str__(self) -> str:
        return f"row {self.number} of {self.taken_by_id}"
