"""Bytes, and proof that they are intact."""

import uuid

from django.conf import settings
from django.db import models
from django.db.models import F, Q


class StoredFile(models.Model):
    """A file kept in every store. It never changes: a new content is a new row."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=255, help_text="As the person or recorder named it.")
    media_type = models.CharField(max_length=100)
    bytes = models.PositiveBigIntegerField()
    sha256 = models.CharField(max_length=64)
    key = models.CharField(max_length=120, unique=True, help_text="Its path in each store.")
    stored_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(sha256__regex="^[0-9a-f]{64}$"), name="file_has_a_sha256")]

    def __str__(self) -> str:
        return self.name


class UploadState(models.TextChoices):
    RECEIVING = "receiving", "on its way"
    RECEIVED = "received", "received, not yet compared"
    STORED = "stored", "stored"
    DAMAGED = "damaged", "arrived damaged"
    STOPPED = "stopped", "stopped"


class Expects(models.TextChoices):
    """Which kinds of files an upload may turn out to be; `files.media` tells them by their first bytes."""

    SOUND = "sound", "a recording"
    DOCUMENT = "document", "a photograph or a document"
    SCAN = "scan", "a scan or photo of a page"


class Upload(models.Model):
    """A file on its way in, piece by piece.

    `offset` counts the bytes that are on disk and, where a checksum came with them, verified.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    owner = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=255)
    media_type = models.CharField(max_length=100)
    expects = models.CharField(max_length=10, choices=Expects.choices, default=Expects.SOUND)
    metadata = models.TextField(blank=True, help_text="The Upload-Metadata header, given back as it came.")
    length = models.PositiveBigIntegerField()
    offset = models.PositiveBigIntegerField(default=0)
    modified_at = models.DateTimeField(null=True, help_text="The file's own date on the computer it came from.")
    declared_sha256 = models.CharField(max_length=64, blank=True)
    state = models.CharField(max_length=10, choices=UploadState.choices, default=UploadState.RECEIVING)
    file = models.OneToOneField(StoredFile, null=True, on_delete=models.PROTECT, related_name="upload")
    started_at = models.DateTimeField(auto_now_add=True)
    last_piece_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(offset__lte=F("length")), name="upload_holds_no_more_than_its_length"),
            models.CheckConstraint(
                condition=~Q(state="stored") | Q(file__isnull=False), name="stored_upload_points_to_its_file"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class FixityCheck(models.Model):
    """One reading of one stored copy, and whether it matched. Append-only by use: nothing changes a row."""

    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, related_name="checks")
    store = models.CharField(max_length=20)
    at = models.DateTimeField(auto_now_add=True)
    found_sha256 = models.CharField(max_length=64, blank=True, help_text="Empty if the copy could not be read.")
    matches = models.BooleanField()

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.store} copy of {self.file_id}: {'matches' if self.matches else 'does not match'}"
