"""Two records of one person are made one: everything that points to the one points to the other."""

from collections import defaultdict

from django.db import models, transaction
from django.utils import timezone

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.errors import Refused, refuse_if
from intake.interviews.models import Interview, Participant
from intake.people.models import Invitation, Person
from intake.people.services import address_of, folded

IN_THE_CATALOGUE = ("catalogue_name", "variant_names", "life_dates", "uri")


def likely_twins() -> list[list[Person]]:
    """Groups of records that may be one person: the same e-mail address, or the same name but for case and accents."""
    groups: dict[tuple[str, str], list[Person]] = defaultdict(list)
    for person in Person.objects.filter(merged_into=None).select_related("user").order_by("pk"):
        groups["name", folded(person.name)].append(person)
        if address_of(person):
            groups["address", address_of(person).lower()].append(person)
    twins = {tuple(person.pk for person in group): group for group in groups.values() if len(group) > 1}
    return sorted(twins.values(), key=lambda group: folded(group[0].name))


@transaction.atomic
def merge(person_id: int, *, into_id: int, actor: User) -> Person:
    """Make the first record point to the second, which takes over all that belonged to it; returns the second.

    Nothing is deleted: the first stays as a row that says which stands for it. What was signed keeps its name.
    """
    if not actor.is_archivist:
        raise Refused("Only the library's staff merge records of persons.")
    both = Person.objects.select_for_update(of=("self",)).select_related("user").order_by("pk")
    found = {person.pk: person for person in both.filter(pk__in=[person_id, into_id])}
    twin, stays = found[person_id], found[into_id]
    refuse_if(reasons_against(twin, stays))
    user, twin.user, twin.merged_into = twin.user, None, stays
    twin.save(update_fields=["user", "merged_into"])
    stays.user, stays.email = stays.user or user, stays.email or twin.email
    _take_over_names(twin, stays)
    stays.save(update_fields=["user", "email", *IN_THE_CATALOGUE])
    _end_invitations(twin, stays)
    moved = {str(relation.field): _move(relation, twin, stays) for relation in _relations()}
    record(
        actor=actor,
        action=Action.PERSON_MERGED,
        subject=stays,
        names={"merged": twin.name, "into": stays.name, "address": twin.email},
        merged=twin.pk,
        account=user and user.pk,
        moved={name: rows for name, rows in moved.items() if rows},
    )
    return stays


def reasons_against(twin: Person, stays: Person) -> list[str]:
    """Why two records cannot be one person: sentences, none if they can."""
    if twin.pk == stays.pk:
        return ["This is one record already."]
    merged = [person for person in (twin, stays) if person.merged_into_id]
    if merged:
        return [f"{merged[0]} has been merged into {merged[0].merged_into} already."]
    reasons = []
    if twin.user_id and stays.user_id:
        reasons.append("Both have accounts, and what was done with an account stays with it. Keep both records.")
    return reasons + [_both_in(interview, twin, stays) for interview in _interviews_of_both(twin, stays)]


def _interviews_of_both(twin: Person, stays: Person) -> list[Interview]:
    return list(
        Interview.objects.filter(participants__person=twin)
        .filter(participants__person=stays)
        .prefetch_related("participants__person")
        .distinct()
    )


def _both_in(interview: Interview, twin: Person, stays: Person) -> str:
    """Two who talk with each other are two people, unless one of them was named by mistake."""
    signed = Participant.objects.filter(
        interview=interview, person__in=[twin, stays], releases__isnull=False
    ).distinct()
    if signed.count() == 2:
        return f"Both have signed for “{interview}”, each with a release of their own."
    return f"Both take part in “{interview}”. If one was named there by mistake, take that one out first."


def _take_over_names(twin: Person, stays: Person) -> None:
    """In the catalogue the person is found by the names of both records."""
    names = [*stays.variant_names, *twin.variant_names, twin.name]
    stays.variant_names = [name for name in dict.fromkeys(names) if name not in (stays.name, stays.catalogue_name)]
    for name in ("catalogue_name", "life_dates", "uri"):
        setattr(stays, name, getattr(stays, name) or getattr(twin, name))


def _end_invitations(twin: Person, stays: Person) -> None:
    """SECURITY: a link that is still on its way would open an account at another address, or a second one."""
    ended = [twin, stays] if stays.user else [twin]
    now = timezone.now()
    Invitation.objects.filter(person__in=ended, used_at=None, expires_at__gt=now).update(expires_at=now)


def _relations() -> list[models.ManyToOneRel]:
    """Everything that points to a person, whatever app it belongs to, also where a person cannot look back."""
    return [field for field in Person._meta.get_fields(include_hidden=True) if isinstance(field, models.ManyToOneRel)]


def _move(relation: models.ManyToOneRel, twin: Person, stays: Person) -> list[str]:
    """Returns the ids of the rows that were moved: the event keeps them, should somebody have to part them again."""
    rows = relation.related_model._default_manager
    ids = list(rows.filter(**{relation.field.name: twin}).order_by("pk").values_list("pk", flat=True))
    rows.filter(pk__in=ids).update(**{relation.field.name: stays})
    return [str(row) for row in ids]
