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
    warned_at = models.DateTimeField(null=True, help_text="When its owner was told that it expires soon.")
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


class Found(models.TextChoices):
    """What a reading of a copy found, against the size and the SHA-256 of its file."""

    MATCHES = "matches", "matches"
    DIFFERS = "differs", "differs"
    MISSING = "missing", "missing"
    UNREADABLE = "unreadable", "unreadable"


class Why(models.TextChoices):
    """What made somebody or something read a copy."""

    ARRIVAL = "arrival", "on arrival"
    SCHEDULE = "schedule", "on schedule"
    ASKED = "asked", "asked for"
    RESTORED = "restored", "after restoring"
    SERVED = "served", "missing when somebody wanted it"


class Audit(models.Model):
    """One round of readings: a night's, or what somebody asked for. Its figures grow with every copy that was read."""

    why = models.CharField(max_length=10, choices=Why.choices)
    about = models.CharField(max_length=130, help_text="The night, or the thing whose copies are read: type:id.")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    started_at = models.DateTimeField(auto_now_add=True)
    listed_at = models.DateTimeField(null=True, help_text="When the stores' listings were compared, for a night.")
    finished_at = models.DateTimeField(null=True)
    budget_bytes = models.PositiveBigIntegerField(null=True, help_text="What a night is to read; none for the others.")
    copies_read = models.PositiveIntegerField(default=0)
    bytes_read = models.PositiveBigIntegerField(default=0)
    seconds = models.FloatField(default=0, help_text="Time spent reading.")
    bad_copies = models.PositiveIntegerField(default=0)
    ended_because = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ("-id",)
        constraints = [
            models.UniqueConstraint(
                fields=["about"], condition=Q(finished_at=None), name="one_audit_of_a_thing_is_open"
            ),
        ]

    def __str__(self) -> str:
        return f"reading {self.about}"


class StoredCopy(models.Model):
    """The bytes of one stored file in one store, and what its latest reading found."""

    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, related_name="stored_copies")
    store = models.CharField(max_length=20)
    read_at = models.DateTimeField(null=True)
    found = models.CharField(max_length=10, choices=Found.choices, blank=True)
    is_suspect = models.BooleanField(default=False, help_text="A listing of the store speaks against it: read it next.")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["file", "store"], name="file_has_one_copy_in_a_store"),
            models.CheckConstraint(
                condition=Q(found="") | Q(read_at__isnull=False), name="what_was_found_was_read_at_a_time"
            ),
        ]
        indexes = [models.Index(fields=["read_at"], name="copy_by_reading")]

    def __str__(self) -> str:
        return f"{self.store} copy of {self.file_id}"


class FixityCheck(models.Model):
    """One reading of one stored copy, and what it found.

    The database refuses to change or delete it (see audit/triggers.py).
    """

    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, related_name="checks")
    store = models.CharField(max_length=20)
    at = models.DateTimeField(auto_now_add=True)
    why = models.CharField(max_length=10, choices=Why.choices)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    audit = models.ForeignKey(Audit, null=True, on_delete=models.PROTECT, related_name="checks")
    found = models.CharField(max_length=10, choices=Found.choices)
    found_sha256 = models.CharField(max_length=64, blank=True, help_text="Empty if the copy could not be read.")
    bytes_read = models.PositiveBigIntegerField(default=0)
    seconds = models.FloatField(default=0)
    told = models.CharField(max_length=500, blank=True, help_text="Why it could not be read.")

    class Meta:
        ordering = ("id",)
        constraints = [
            models.CheckConstraint(
                condition=Q(found__in=["missing", "unreadable"]) | ~Q(found_sha256=""), name="reading_has_a_digest"
            ),
            models.CheckConstraint(condition=~Q(found="unreadable") | ~Q(told=""), name="unreadable_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.store} copy of {self.file_id}: {self.found}"

    @property
    def matches(self) -> bool:
        return self.found == Found.MATCHES


class IncidentState(models.TextChoices):
    FOUND = "found", "found, nothing done yet"
    SET_ASIDE = "set-aside", "set aside, to be restored"
    NO_GOOD_COPY = "no-good-copy", "no good copy to restore it from"
    RESTORED = "restored", "restored and read back"
    RIGHT_AGAIN = "right-again", "right again without our doing"


class Incident(models.Model):
    """A bad copy, from the day it was found until it is right again; without a file, a whole store that is gone."""

    file = models.ForeignKey(StoredFile, null=True, on_delete=models.PROTECT, related_name="incidents")
    store = models.CharField(max_length=20)
    check_found = models.ForeignKey(FixityCheck, null=True, on_delete=models.PROTECT, related_name="+")
    told = models.CharField(max_length=500, help_text="What was found, in words.")
    state = models.CharField(max_length=15, choices=IncidentState.choices, default=IncidentState.FOUND)
    hindrance = models.CharField(max_length=500, blank=True, help_text="Why it could not be put right yet.")
    found_at = models.DateTimeField(auto_now_add=True)
    closed_at = models.DateTimeField(null=True)
    notified_at = models.DateTimeField(null=True, help_text="When the coordinators were written to.")

    class Meta:
        ordering = ("id",)
        constraints = [
            models.UniqueConstraint(
                fields=["file", "store"],
                condition=Q(closed_at=None, file__isnull=False),
                name="copy_has_one_open_incident",
            ),
            models.UniqueConstraint(
                fields=["store"], condition=Q(closed_at=None, file=None), name="store_has_one_open_incident"
            ),
            models.CheckConstraint(
                condition=Q(closed_at=None, state__in=["found", "set-aside", "no-good-copy"])
                | Q(closed_at__isnull=False, state__in=["restored", "right-again"]),
                name="incident_is_closed_when_it_is_right",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.store}: {self.told}"


class UnexpectedObject(models.Model):
    """Something in a store that no stored file is known for. Nothing removes it by itself."""

    store = models.CharField(max_length=20)
    key = models.CharField(max_length=1024)
    bytes = models.PositiveBigIntegerField()
    modified_at = models.DateTimeField()
    first_seen_at = models.DateTimeField()
    last_seen_at = models.DateTimeField()
    gone_at = models.DateTimeField(null=True, help_text="When a listing no longer had it.")
    set_aside_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("store", "key")
        constraints = [models.UniqueConstraint(fields=["store", "key"], name="unexpected_object_is_listed_once")]

    def __str__(self) -> str:
        return f"{self.store}: {self.key}"
