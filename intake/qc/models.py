"""What audio_qc said about a file."""

import re
from datetime import date

from django.db import models

from intake.files.models import StoredFile


class QCReports(models.Manager["QCReport"]):
    """Lists leave out what only a drawing needs, which grows with the recording; it is fetched when asked for."""

    def get_queryset(self) -> models.QuerySet["QCReport"]:
        return super().get_queryset().defer("series")


class QCReport(models.Model):
    """One measurement and judgement of one file, by one version of audio_qc and one target profile; never changed."""

    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, related_name="qc_reports")
    audio_qc_version = models.CharField(max_length=20)
    profile = models.CharField(max_length=60, help_text="Name and version of the target profile.")
    unreadable = models.TextField(blank=True, help_text="Why nothing could be measured; empty if it could.")
    measurement = models.JSONField(null=True)
    samples_sha256 = models.CharField(
        max_length=64, blank=True, db_index=True, help_text="Of the decoded sound: the same for the same sound."
    )
    series = models.JSONField(null=True, help_text="Waveform, loudness over time, spectrum and spread of levels.")
    findings = models.JSONField(default=list)
    standing = models.CharField(max_length=20)
    verdict = models.TextField()
    measured_at = models.DateTimeField(auto_now_add=True)

    objects = QCReports()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["file", "audio_qc_version", "profile"], name="file_is_measured_once_by_a_version"
            ),
            models.CheckConstraint(
                condition=models.Q(measurement__isnull=False) | ~models.Q(unreadable=""),
                name="report_measures_or_says_why_not",
            ),
        ]

    def __str__(self) -> str:
        return f"report on {self.file}"

    @property
    def format_in_words(self) -> str:
        """Such as "WAV, 48 kHz, 24 bit, stereo"; empty if nothing could be measured."""
        if not self.measurement:
            return ""
        facts = self.measurement["format"]
        bits = f"{facts['bits_per_sample']} bit" if facts["bits_per_sample"] else ""
        channels = {1: "mono", 2: "stereo"}.get(facts["channels"], f"{facts['channels']} channels")
        return ", ".join(filter(None, [facts["container"], f"{facts['sample_rate_hz'] / 1000:g} kHz", bits, channels]))

    @property
    def is_doubtful(self) -> bool:
        """Whether the card may hold more than this file does: its end is missing, or nothing can be read.

        What is only noted about how a file is built leaves its sound whole.
        """
        return any(
            finding["measure"] == "structure" and finding["standing"] in {"problem", "look closer"}
            for finding in self.findings
        )

    @property
    def recorder_day(self) -> date | None:
        """The day that the recorder itself wrote into the file (EBU Tech 3285, OriginationDate); None if it did not."""
        broadcast = self.measurement and self.measurement["details"]["broadcast"]
        written = re.fullmatch(
            r"(\d{4})[-_:. /](\d{2})[-_:. /](\d{2})", broadcast["origination_date"] if broadcast else ""
        )
        try:
            return date(*map(int, written.groups())) if written else None
        except ValueError:
            return None  # no day of any calendar, such as 0000-00-00

    @property
    def problems(self) -> list[dict]:
        """The findings that a reviewer must answer."""
        return [finding for finding in self.findings if finding["standing"] == "problem"]
