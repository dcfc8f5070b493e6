"""The library that runs the site: what it is called, how its numbers look, and how its mail goes out."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from intake.files.models import StoredFile
from intake.library import naming
from intake.library.numbering import DEFAULT_PATTERN

NOT_NAMED_YET = "Your library"


class Step(models.TextChoices):
    """A step of the set-up that somebody has to look at and say that it is as it should be."""

    LIBRARY = "library", "Say what the library is called and how to reach it"
    LOGO = "logo", "Add the library's logo, or say that it has none"
    NUMBERS = "numbers", "Choose how accession numbers look"
    WORDINGS = "wordings", "Read the release wordings and put your own into force"


class MailSecurity(models.TextChoices):
    STARTTLS = "starttls", "STARTTLS (usually port 587)"
    TLS = "tls", "TLS from the start (usually port 465)"
    NONE = "none", "None: only for a mail server on this same computer"


class Library(models.Model):
    """The one row that people change on the set-up page; where there is none yet, these defaults hold."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    name = models.CharField(max_length=120, default=NOT_NAMED_YET)
    room = models.CharField(max_length=120, default="Local history room")
    place = models.CharField(max_length=120, blank=True, help_text="The town.")
    contact = models.TextField(blank=True, help_text="Address and telephone as they stand on papers, line by line.")
    email = models.EmailField(blank=True, help_text="Where people write to.")
    logo = models.ForeignKey(StoredFile, null=True, on_delete=models.PROTECT, related_name="+")
    accession_pattern = models.CharField(max_length=40, default=DEFAULT_PATTERN)
    copy_name_pattern = models.CharField(max_length=80, default=naming.DEFAULT_PATTERN)
    mail_server = models.CharField(max_length=253, blank=True)
    mail_port = models.PositiveIntegerField(default=587)
    mail_security = models.CharField(max_length=10, choices=MailSecurity.choices, default=MailSecurity.STARTTLS)
    mail_user = models.CharField(max_length=254, blank=True)
    mail_password = models.TextField(blank=True, help_text="Encrypted with a key made from the site's secret key.")
    mail_from = models.EmailField(blank=True, help_text="The sender's address; the library's own where empty.")
    settled = models.JSONField(default=list, help_text="Steps of the set-up that somebody has looked at.")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(id=1), name="there_is_one_library"),
            models.CheckConstraint(
                condition=Q(mail_security__in=MailSecurity.values), name="library_mail_security_is_known"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def contact_lines(self) -> str:
        """All that a paper says of how to reach the library, line by line."""
        return "\n".join(filter(None, [self.contact.strip(), self.email]))

    @property
    def whom_to_ask(self) -> str:
        """In a sentence: the room, and its address where one is set."""
        return f"{self.room} ({self.email})" if self.email else self.room

    @property
    def room_and_place(self) -> str:
        return ", ".join(filter(None, [self.room, self.place]))


class SigningCertificate(models.Model):
    """A certificate with which the site signs, or has signed, its papers; the newest is in force."""

    certificate_pem = models.TextField()
    others_pem = models.TextField(blank=True, help_text="Certificates between it and its root.")
    key_encrypted = models.TextField(help_text="PKCS #8, under a key derived from the site's secret key.")
    sha256 = models.CharField(max_length=64, unique=True, help_text="Of the certificate as DER.")
    subject = models.CharField(max_length=500)
    made_at = models.DateTimeField(auto_now_add=True)
    ends_at = models.DateTimeField()
    brought_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+", help_text="Empty: our own."
    )

    class Meta:
        ordering = ("-id",)

    def __str__(self) -> str:
        return self.subject
