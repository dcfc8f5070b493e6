"""What is still to set up, for the coordinator; and what the desk's home tells its staff of it."""

from dataclasses import dataclass

from django.conf import settings
from django.urls import reverse

from intake.accounts.models import Role, User
from intake.accounts.services import has_second_step
from intake.interviews.models import Collection
from intake.library import services as libraries
from intake.library.models import Step
from intake.web.requests import SignedInRequest
from intake.web.second_step import may_be_offered


@dataclass(frozen=True)
class ToSetUp:
    """One line of the set-up: what it is, where it is done, and whether it is done."""

    text: str
    url: str
    done: bool


@dataclass(frozen=True)
class HomeNotices:
    """What stands above the queue: open steps for the coordinator, where mail goes, and the offer of a second step."""

    steps: list[ToSetUp]
    mail_folder: str
    offer_second_step: bool

    @property
    def is_open(self) -> bool:
        return any(not step.done for step in self.steps)


def steps_for(user: User) -> list[ToSetUp]:
    """Every line of the set-up in the order in which it is best done."""
    settled = libraries.current().settled
    settled_by = {
        Step.LIBRARY: "desk:set-up-library",
        Step.LOGO: "desk:set-up-logo",
        Step.NUMBERS: "desk:set-up-numbers",
        Step.WORDINGS: "desk:wordings",
    }
    lines = [ToSetUp(step.label, reverse(name), step in settled) for step, name in settled_by.items()]
    mail = ToSetUp("Let the site send its mail", reverse("desk:set-up-mail"), libraries.mail_leaves())
    collection = ToSetUp("Open the first collection", reverse("desk:collections"), Collection.objects.exists())
    second = ToSetUp("Set up a second step for your own sign-in", reverse("mfa_index"), has_second_step(user))
    return [lines[0], lines[1], mail, lines[2], collection, lines[3], second]


def mail_folder() -> str:
    """Where messages are kept that reach nobody; empty if they leave. The demo's mail has a page of its own."""
    return "" if libraries.mail_leaves() or settings.DEMO else str(settings.EMAIL_FILE_PATH)


def notices(request: SignedInRequest) -> HomeNotices:
    is_coordinator = request.user.role == Role.COORDINATOR
    # The demo's library is set up.
    return HomeNotices(
        steps=steps_for(request.user) if is_coordinator and not settings.DEMO else [],
        mail_folder=mail_folder(),
        offer_second_step=may_be_offered(request),
    )
