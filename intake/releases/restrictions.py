"""What the signed releases restrict, until when, and how a closure ends."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db import transaction
from django.utils import formats, timezone

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.errors import Refused
from intake.interviews import lifecycle
from intake.interviews.models import Interview
from intake.releases.models import WHILE_CLOSED, Access, Lifting, Release


@dataclass(frozen=True)
class Restriction:
    """What holds on one day for one signer's release, or for the whole interview: the strictest of what they chose.

    `events` end the closure earlier than `closed_until`. `afterwards` is what holds once it has ended, or at once where
    nothing is closed: open, or on site only. `withheld` lists the roles whose names the library leaves out.
    """

    closed_until: date | None
    events: tuple[str, ...]
    afterwards: Access
    withheld: tuple[str, ...]

    @classmethod
    def of(cls, releases: Iterable[Release], *, on: date) -> "Restriction":
        releases = list(releases)
        closed = [release for release in releases if is_closed(release, on=on)]
        on_site = any(release.access == Access.ON_SITE for release in releases)
        withheld = {release.participant.get_role_display().lower() for release in releases if release.name_withheld}
        return cls(
            closed_until=max((release.closed_until for release in closed if release.closed_until), default=None),
            events=tuple(dict.fromkeys(release.closed_event for release in closed if release.closed_event)),
            afterwards=Access.ON_SITE if on_site else Access.OPEN,
            withheld=tuple(sorted(withheld, reverse=True)),
        )

    def sentence(self) -> str:
        names = "".join(f" The {role}'s name is withheld." for role in self.withheld)
        if not self.closed_until:
            return f"{self.afterwards.label}.{names}"
        later = " After that, on site only." if self.afterwards == Access.ON_SITE else ""
        day = formats.date_format(self.closed_until)
        end = f"{' and '.join(self.events)}, at the latest until {day}" if self.events else day
        return f"Closed until {end}: {WHILE_CLOSED}.{later}{names}"


def chosen(release: Release) -> Restriction:
    """What one signer chose, as it stood on the day of the signature."""
    return Restriction.of([release], on=release.signed_on)


def is_closed(release: Release, *, on: date) -> bool:
    """Whether what this signer closed is still closed on that day. It opens on the day itself."""
    if release.closed_until is None or release.closed_until <= on:
        return False
    return not (hasattr(release, "lifting") and release.lifting.on <= on)


def standing_releases(interview: Interview) -> list[Release]:
    return list(
        Release.objects.filter(participant__interview=interview, withdrawn_at=None)
        .select_related("participant__person", "wording", "lifting", "signed_form__decided_by", "signed_form__form")
        .order_by("participant_id")
    )


def restriction_of(interview: Interview, *, on: date | None = None) -> Restriction | None:
    """The strictest of the standing releases on a day, today if none is said; None while nobody has signed."""
    releases = standing_releases(interview)
    return Restriction.of(releases, on=on or timezone.localdate()) if releases else None


def names_withheld(interview: Interview) -> list[str]:
    """The names that their bearers chose to be withheld, as they signed them."""
    return [release.signer_name for release in standing_releases(interview) if release.name_withheld]


@transaction.atomic
def record_event(release_id: int, *, on: date, how_known: str, actor: User) -> Lifting:
    """Staff record that the event which ends a closure has happened: from that day it is not closed any more."""
    release = Release.objects.select_related("participant__interview", "lifting").get(pk=release_id)
    lifecycle.locked(release.participant.interview_id)
    if not actor.is_archivist:
        raise Refused("Only the library's staff record that a closure has ended.")
    if not how_known.strip():
        raise Refused("Say how the library knows of it, such as: a notice in the newspaper of that day.")
    if on > timezone.localdate():
        raise Refused("The day lies in the future. Record the event once it has happened.")
    if not release.closed_event or release.withdrawn_at or not is_closed(release, on=timezone.localdate()):
        raise Refused("This release is not closed until an event, or is not closed any more.")
    return _lift(release, on=on, because=how_known.strip(), actor=actor)


@transaction.atomic
def lift_one_due(today: date) -> Lifting | None:
    """Note the end of one closure whose day has come (it is open since then anyhow); None when there is none left."""
    due = Release.objects.select_for_update(of=("self",)).select_related("participant__interview")
    release = due.filter(closed_until__lte=today, withdrawn_at=None, lifting=None).order_by("closed_until").first()
    if release is None:
        return None
    assert release.closed_until is not None, "the filter above"
    return _lift(release, on=release.closed_until, because="The day came until which it was closed.", actor=None)


def is_any_due(today: date) -> bool:
    return Release.objects.filter(closed_until__lte=today, withdrawn_at=None, lifting=None).exists()


def _lift(release: Release, *, on: date, because: str, actor: User | None) -> Lifting:
    lifting = Lifting.objects.create(release=release, on=on, because=because, recorded_by=actor)
    record(
        actor=actor,
        action=Action.CLOSURE_LIFTED,
        subject=release,
        thread=release.participant.interview,
        names={"signer": release.signer_name, "because": because},
        on=on.isoformat(),
    )
    return lifting
