"""Thousands of accepted interviews, open to anybody: rows copied from one that came by the services."""

from uuid import uuid4

from intake.interviews.models import Interview, Participant
from intake.outputs.harvesting import bring_up_to_date
from intake.queue.models import Reader, Touched
from intake.register.models import Accession
from intake.releases.models import Release, SigningSession
from tests.factories import an_interview

AT_ONCE = 500


def many_open_interviews(number: int) -> None:
    """`number` of them in all, each with its own number, people and releases, and a record for harvesters."""
    model = an_interview("catalogued")
    accession = model.accessions.get()
    participants = list(model.participants.all())
    releases = {release.participant_id: release for release in Release.objects.filter(participant__in=participants)}
    made = Interview.objects.bulk_create([_copy(model) for _ in range(number - 1)], batch_size=AT_ONCE)
    Accession.objects.bulk_create(
        [
            _copy(
                accession,
                interview=one,
                sequence=1000 + place,
                number=f"2026-{1000 + place}",
                receipt_number=str(place),
            )
            for place, one in enumerate(made)
        ],
        batch_size=AT_ONCE,
    )
    for participant in participants:
        copies = Participant.objects.bulk_create(
            [_copy(participant, interview=one) for one in made], batch_size=AT_ONCE
        )
        signed = releases[participant.pk]
        sessions = SigningSession.objects.bulk_create(
            [_copy(signed.session, participant=one) for one in copies], batch_size=AT_ONCE
        )
        Release.objects.bulk_create(
            [
                _copy(signed, participant=one, session=session, number=f"S-{uuid4().hex[:12]}")
                for one, session in zip(copies, sessions, strict=True)
            ],
            batch_size=AT_ONCE,
        )
    Touched.objects.bulk_create([Touched(interview=one.pk, reader=Reader.HARVEST) for one in made])
    while bring_up_to_date(AT_ONCE):
        pass


def _copy(row, **changes):
    fields = {
        field.attname: getattr(row, field.attname) for field in row._meta.concrete_fields if not field.primary_key
    }
    for name, value in changes.items():
        fields[row._meta.get_field(name).attname] = getattr(value, "pk", value)
    return type(row)(**fields)
