"""Closures whose day has come: noted with an event, and the coordinators are told."""

from datetime import date

from django.db import transaction

from intake.accounts.services import coordinators
from intake.mail import services as mail
from intake.outputs.services import site_url
from intake.register.services import standing
from intake.releases.models import Lifting
from intake.releases.restrictions import lift_one_due

AT_ONCE = 200


@transaction.atomic
def lift_those_due(today: date) -> int:
    """Note the end of up to AT_ONCE closures, and write once to each coordinator of those that are in the register."""
    lifted = [lifting for _ in range(AT_ONCE) if (lifting := lift_one_due(today))]
    accessions = dict(line for lifting in lifted if (line := _line(lifting)))
    if accessions:
        for coordinator in coordinators():
            mail.write(
                key=f"closures-lifted-{lifted[0].pk}-{lifted[-1].pk}-{coordinator.pk}",
                to=coordinator.email,
                template="closures_lifted",
                context={"name": coordinator.name, "accessions": list(accessions.items())},
            )
    return len(lifted)


def _line(lifting: Lifting) -> tuple[str, str] | None:
    """An accession's number and its page. The letter names nobody."""
    interview = lifting.release.participant.interview
    accession = standing(interview)
    return (accession.number, site_url("desk:interview-detail", interview.pk)) if accession else None
