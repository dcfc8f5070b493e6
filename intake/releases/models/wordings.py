"""What people sign: the versioned texts, and the public licences that may go with them."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from intake.interviews.models import Participant


class Moment(models.TextChoices):
    """Consent to take part comes before the recording; what may be done with it is decided after it."""

    AGREEMENT = "agreement", "Participation agreement, before the recording"
    RELEASE = "release", "Release, after the recording"


class Basis(models.TextChoices):
    """What a release gives the library."""

    LICENCE = "licence", "Licence: the signer keeps the copyright and permits the library to use it"
    TRANSFER = "transfer", "Transfer: the signer hands the copyright over to the library"
    DEPOSIT = "deposit", "Deposit: the library keeps the recording, and the signer decides on every use"


class Licence(models.TextChoices):
    """Public licences that a signer may choose, by their SPDX identifiers."""

    CC_BY = "CC-BY-4.0", "Creative Commons Attribution 4.0: anybody may use it and must name its source"
    CC_BY_SA = "CC-BY-SA-4.0", "Creative Commons Attribution-ShareAlike 4.0: the same, and what they make is as free"
    CC_BY_NC = "CC-BY-NC-4.0", "Creative Commons Attribution-NonCommercial 4.0: the same, but not to earn money with it"
    CC_BY_NC_ND = (
        "CC-BY-NC-ND-4.0",
        "Creative Commons Attribution-NonCommercial-NoDerivatives 4.0: whole and unchanged only, and not to earn money",
    )


class Wording(models.Model):
    """The text of a release or agreement in one language, one version.

    A version never changes: a new text is a new version.
    """

    moment = models.CharField(max_length=10, choices=Moment.choices)
    role = models.CharField(max_length=12, choices=Participant.Role.choices)
    language = models.CharField(max_length=35, help_text="BCP 47 tag.")
    version = models.PositiveIntegerField()
    basis = models.CharField(max_length=10, choices=Basis.choices, blank=True, help_text="Empty for an agreement.")
    title = models.CharField(max_length=200)
    text = models.TextField(help_text="Paragraphs are parted by empty lines; placeholders stand in braces.")
    in_force_from = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ("moment", "role", "language", "-version")
        constraints = [
            models.UniqueConstraint(
                fields=["moment", "role", "language", "version"], name="wording_version_is_used_once"
            ),
            models.CheckConstraint(
                condition=Q(moment="agreement", basis="") | (Q(moment="release") & ~Q(basis="")),
                name="release_wording_says_what_it_gives",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.title}, version {self.version}"

    @property
    def language_name(self) -> str:
        """The language in words and as its tag, such as "English (en)"; the tag alone where no name is known for it."""
        name = dict(settings.LANGUAGES).get(self.language)
        return f"{name} ({self.language})" if name else self.language

    @property
    def offers_licences(self) -> bool:
        """Whether the signer may put it under a public licence: only who keeps the copyright can."""
        return self.basis == Basis.LICENCE
