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
    EXPIRED = "expired", "expired"


class Expects(models.TextChoices):
    """Which kinds of files an upload may turn out to be; `files.media` tells them by their first bytes."""

    SOUND = "sound", "a recording"
    DOCUMENT = "document", "a photograph or a document"
    SCAN = "scan", "a scan or photo of a page"


class Upload(models.Model):
    """A file on its way in, piece by piece.

    `offset` counts the bytes that are kept and, where a checksum came with them, verified. Several partial uploads,
    sent side by side, are joined into one: the protocol calls that concatenation.
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
    awaits_digest = models.BooleanField(default=False, help_text="Whether the sender still declares its own digest.")
    declared_sha256 = models.CharField(max_length=64, blank=True)
    pieces_verified = models.BooleanField(default=True, help_text="Every byte came with a checksum that matched.")
    is_partial = models.BooleanField(default=False, help_text="One of several that are joined into one.")
    joined_into = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="partials")
    joined_at = models.PositiveIntegerField(null=True, help_text="Its place among those joined; 1 is first.")
    state = models.CharField(max_length=10, choices=UploadState.choices, default=UploadState.RECEIVING)
    file = models.OneToOneField(StoredFile, null=True, on_delete=models.PROTECT, related_name="upload")
    started_at = models.DateTimeField(auto_now_add=True)
    last_piece_at = models.DateTimeField(null=True)
    expires_at = models.DateTimeField(help_text="Until when it may be gone on with; each piece moves it on.")
    # Where pieces are gathered in an object store (files.gathering.objects); empty where they lie in a folder.
    multipart_id = models.CharField(max_length=255, blank=True, help_text="The store's name for what it gathers.")
    next_number = models.PositiveIntegerField(default=1, help_text="A number is given to one piece, and never again.")
    writer = models.CharField(max_length=32, blank=True, help_text="Who writes to it at this moment.")
    writer_until = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(offset__lte=F("length")), name="upload_holds_no_more_than_its_length"),
            models.CheckConstraint(
                condition=~Q(state="stored") | Q(file__isnull=False), name="stored_upload_points_to_its_file"
            ),
            models.UniqueConstraint(
                fields=["joined_into", "joined_at"], name="joined_uploads_have_places_of_their_own"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Piece(models.Model):
    """Bytes of an upload that an object store holds: a part of what it gathers, or a remainder too short to be one."""

    upload = models.ForeignKey(Upload, on_delete=models.CASCADE, related_name="pieces")
    number = models.PositiveIntegerField(help_text="The part's number, rising with the offset.")
    bytes = models.PositiveBigIntegerField()
    etag = models.CharField(max_length=100, blank=True, help_text="As the store gave it; empty for a remainder.")

    class Meta:
        ordering = ("number",)
        constraints = [models.UniqueConstraint(fields=["upload", "number"], name="pieces_have_numbers_of_their_own")]

    def __str__(self) -> str:
        return f"piece {self.number} of {self.upload_id}"


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
