"""Headings: found while somebody types, suggested for a text, kept in the library's own list, read from a file."""

from collections.abc import Callable, Iterable
from uuid import uuid4

from django.db import transaction
from django.db.models import F, QuerySet, TextField, Value
from django.db.models.functions import Length, StrIndex
from django.utils import timezone

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.catalogue import list_files
from intake.catalogue.list_files import LARGEST_BYTES, Listed
from intake.catalogue.models import AccessPoint, AuthorityList, Heading, ListReading
from intake.catalogue.services import refuse_unless_staff
from intake.errors import Refused
from intake.files import services as files
from intake.files import serving
from intake.interviews.models import Interview
from intake.jobs.models import Kind
from intake.jobs.services import enqueue
from intake.people.services import folded

OWN_NAME, OWN_CODE = "The library's own headings", "local"
AT_MOST = 12
MEDIA_TYPES = {"ttl": "text/turtle", "nt": "application/n-triples", "csv": "text/csv"}
RDF_XML = "application/rdf+xml"
READ_AT_ONCE = 1000
SHORT = 3
DETAILS = ("label", "variants", "note", "latitude", "longitude", "is_current", "words", "stem")


def offered(typed: str) -> list[Heading]:
    """Those in whose names a word begins so: the library's own and the shortest first."""
    wanted = folded(typed)
    if not wanted:
        return []
    found = _current().filter(words__contains=f" {wanted}")
    return list(found.order_by("-authority__is_own", Length("label"), "label")[:AT_MOST])


def named(typed: str) -> list[Heading]:
    """Those that are called exactly so, in whichever list."""
    wanted = folded(typed)
    return list(_current().filter(words__contains=f"| {wanted} |")) if wanted else []


def suggested(interview: Interview, text: str) -> list[Heading]:
    """Those whose label stands in a text, in singular or plural, and not in the record yet."""
    there = AccessPoint.objects.filter(interview=interview).values("heading")
    said = Value(stemmed(text), output_field=TextField())
    return list(
        _current()
        .exclude(pk__in=there)
        .annotate(at=StrIndex(said, F("stem")))
        .filter(at__gt=0)
        .order_by("at")[:AT_MOST]
    )


def own_list() -> AuthorityList:
    own, _ = AuthorityList.objects.get_or_create(is_own=True, defaults={"name": OWN_NAME, "code": OWN_CODE})
    return own


def of_list(authority: AuthorityList, typed: str) -> QuerySet[Heading]:
    """All of a list, retired ones too; or those in whose names a word begins so."""
    wanted = folded(typed)
    found = authority.headings.select_related("broader")
    return found.filter(words__contains=f" {wanted}") if wanted else found


def add_own(label: str, *, kind: str, actor: User) -> Heading:
    """A heading of the library's own by its label alone; the rest can be written later."""
    return write_heading(
        None,
        kind=kind,
        label=" ".join(label.split()),
        variants=[],
        note="",
        latitude=None,
        longitude=None,
        is_current=True,
        actor=actor,
    )


@transaction.atomic
def write_heading(
    heading: Heading | None,
    *,
    kind: str,
    label: str,
    variants: list[str],
    note: str,
    latitude: float | None,
    longitude: float | None,
    is_current: bool,
    actor: User,
) -> Heading:
    """Add a heading to the library's own list, or change one of it; every record that uses it says so."""
    refuse_unless_staff(actor)
    if heading and not heading.authority.is_own:
        raise Refused(
            f"“{heading}” stands in the list “{heading.authority}”, which others keep. Only its file changes it."
        )
    if heading and heading.kind != kind and heading.access_points.exists():
        raise Refused(f"“{heading}” is in use as a {heading.kind}. Write the {kind} as a heading of its own.")
    own = AuthorityList.objects.select_for_update().get(pk=own_list().pk)
    same = own.headings.filter(kind=kind, label__iexact=label).first()
    if same and same != heading:
        raise Refused(f"“{label}” stands in the list already.")
    heading = heading or Heading(authority=own)
    heading.kind = kind
    heading.note, heading.latitude, heading.longitude, heading.is_current = note, latitude, longitude, is_current
    _call(heading, label, variants)
    heading.save()
    record(actor=actor, action=Action.HEADING_CHANGED, subject=heading, label=label)
    return heading


def take_in_list(name: str, code: str, *, kind: str, file_name: str, content: bytes, actor: User) -> ListReading:
    """Keep a file of headings, to be read in the background. A list of that name is brought up to date."""
    refuse_unless_staff(actor)
    ending = file_name.rpartition(".")[2].lower()
    if ending not in list_files.ENDINGS or len(content) > LARGEST_BYTES:
        list_files.read(file_name, content)  # says why not
    authority = _list_named(name, code)
    if authority.is_own and ending != list_files.CSV:
        raise Refused("The library's own list is written here, or read from CSV.")
    stored = files.keep_bytes(content, file_id=uuid4(), name=file_name, media_type=MEDIA_TYPES.get(ending, RDF_XML))
    with transaction.atomic():
        reading = ListReading.objects.create(authority=authority, kind=kind, file=stored, by=actor)
        enqueue(Kind.READ_LIST, reading.pk)
    return reading


def _list_named(name: str, code: str) -> AuthorityList:
    if name.lower() == OWN_NAME.lower():
        return own_list()
    known = AuthorityList.objects.filter(name__iexact=name).first()
    return known or AuthorityList.objects.create(name=name, code=code)


def read_list(reading_id: int, progress: Callable[[float], None]) -> None:
    """Read the file of a reading into its list: all of it, or nothing with the reason. Twice is as once."""
    reading = ListReading.objects.select_related("authority", "file", "by").get(pk=reading_id)
    if reading.done_at:
        return
    try:
        with serving.open_copy(reading.file) as copy:
            found = list_files.read(reading.file.name, copy.read())
        _bring_up_to_date(reading, found, progress)
    except Refused as refused:
        reading.refusal = "\n".join(refused.reasons)
        reading.done_at = timezone.now()
        reading.save(update_fields=["refusal", "done_at"])


@transaction.atomic
def _bring_up_to_date(reading: ListReading, found: list[Listed], progress: Callable[[float], None]) -> None:
    """What the file has no more is retired; the library's own list only grows."""
    authority = AuthorityList.objects.select_for_update().get(pk=reading.authority_id)
    known = {_key(one.uri, one.label): one for one in authority.headings.filter(kind=reading.kind)}
    kept: dict[str, Heading] = {}
    new: list[Heading] = []
    changed: list[Heading] = []
    for number, listed in enumerate(found, start=1):
        key = _key(listed.uri, listed.label)
        heading = known.get(key) or Heading(authority=authority, kind=reading.kind, uri=listed.uri)
        if key not in kept and _take_over(heading, listed):
            (changed if heading.pk else new).append(heading)
        kept.setdefault(key, heading)
        if number % READ_AT_ONCE == 0:
            progress(number / len(found))
    Heading.objects.bulk_create(new, batch_size=READ_AT_ONCE)
    Heading.objects.bulk_update(changed, DETAILS, batch_size=READ_AT_ONCE)
    _join(kept, found)
    gone = [] if authority.is_own else [one for key, one in known.items() if key not in kept and one.is_current]
    Heading.objects.filter(pk__in=[one.pk for one in gone]).update(is_current=False)
    reading.new, reading.changed, reading.retired, reading.done_at = len(new), len(changed), len(gone), timezone.now()
    reading.save()
    record(
        actor=reading.by,
        action=Action.LIST_READ,
        subject=authority,
        list=authority.name,
        new=reading.new,
        changed=reading.changed,
        retired=reading.retired,
    )
    _tell_records_that_use(changed, reading.by)


def _key(uri: str, label: str) -> str:
    """What makes a heading of a file the same as one of the list."""
    return uri or label.lower()


def _take_over(heading: Heading, listed: Listed) -> bool:
    """Write what the file says into a heading; whether that changed anything."""
    before = [getattr(heading, name) for name in DETAILS]
    is_place = heading.kind == Heading.Kind.PLACE
    heading.note, heading.is_current = listed.note, True
    heading.latitude, heading.longitude = (listed.latitude, listed.longitude) if is_place else (None, None)
    _call(heading, listed.label, listed.variants)
    return before != [getattr(heading, name) for name in DETAILS]


def _call(heading: Heading, label: str, variants: Iterable[str]) -> None:
    heading.label, heading.variants = label, list(variants)
    heading.words = f"| {' | '.join(folded(name) for name in (label, *heading.variants))} |"
    heading.stem = stemmed(label)


def _join(kept: dict[str, Heading], found: list[Listed]) -> None:
    """Point from the narrower to the wider, where the wider is in the file too."""
    joined = []
    for listed in found:
        heading = kept[_key(listed.uri, listed.label)]
        broader = kept.get(listed.broader) or kept.get(listed.broader.lower())
        if broader is not heading and heading.broader_id != (broader and broader.pk):
            heading.broader = broader
            joined.append(heading)
    Heading.objects.bulk_update(joined, ["broader"], batch_size=READ_AT_ONCE)


def _tell_records_that_use(headings: list[Heading], actor: User) -> None:
    """What is derived from records follows their events."""
    in_use = set(
        AccessPoint.objects.filter(heading__authority__in={one.authority_id for one in headings}).values_list(
            "heading", flat=True
        )
    )
    for heading in headings:
        if heading.pk in in_use:
            record(actor=actor, action=Action.HEADING_CHANGED, subject=heading, label=heading.label)


def stemmed(text: str) -> str:
    """The words of a text without accents and the endings of the plural (English), each between spaces."""
    words = "".join(letter if letter.isalnum() else " " for letter in folded(text)).split()
    return f" {' '.join(_singular(word) for word in words)} "


def _singular(word: str) -> str:
    if len(word) <= SHORT or word.endswith("ss") or not word.endswith("s"):
        return word
    return f"{word[:-3]}y" if word.endswith("ies") else word[:-1]


def _current() -> QuerySet[Heading]:
    return Heading.objects.filter(is_current=True).select_related("authority")
