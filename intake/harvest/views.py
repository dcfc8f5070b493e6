"""OAI-PMH 2.0: six verbs, answered with what anybody may know of at this moment."""

from datetime import datetime
from typing import Any
from urllib.parse import urlsplit
from xml.etree.ElementTree import Element

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.core import signing
from django.db.models import Min, Q
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from intake.harvest import answers
from intake.harvest.answers import Going, Header, Item
from intake.harvest.requests import Asked, Wrong, read
from intake.library import services as libraries
from intake.outputs.describing import described
from intake.outputs.harvesting import harvestable
from intake.outputs.models import HarvestRecord
from intake.outputs.services import site_url

AT_ONCE = 100
SALT = "oai-pmh"
SET, ITEM = "collection-", "interview-"


# SECURITY: nothing is changed by it, and harvesters have no token against forgery; signed-in or not, the answer is one.
@csrf_exempt
@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def provider(request: HttpRequest) -> HttpResponse:
    if not settings.OAI_PMH:
        raise Http404("this site offers nothing to harvesters")
    try:
        asked = read(request)
        content, arguments = VERBS[asked.verb](asked), asked.arguments
    except Wrong as wrong:
        content = answers.error(wrong.code, wrong.sentence)
        # After a bad verb or argument none is repeated (section 3.2).
        arguments = {} if wrong.code in {"badVerb", "badArgument"} else dict(_given(request))
    told = answers.answered(site_url("harvest:provider"), timezone.now(), arguments, content)
    return HttpResponse(told, content_type="text/xml; charset=utf-8")


def _given(request: HttpRequest) -> Any:
    return (request.POST if request.method == "POST" else request.GET).items()


def _identify(asked: Asked) -> Element:
    library = libraries.current()
    earliest = HarvestRecord.objects.aggregate(earliest=Min("datestamp"))["earliest"] or timezone.now()
    return answers.identify(
        name=library.name,
        base_url=site_url("harvest:provider"),
        email=library.email or f"library@{_domain()}",
        earliest=earliest,
        domain=_domain(),
        sample=_identifier(1),
    )


def _formats(asked: Asked) -> Element:
    if asked.identifier:
        _record_of(asked.identifier)
    return answers.metadata_formats()


def _sets(asked: Asked) -> Element:
    if asked.token:
        raise Wrong("badResumptionToken", "The list of sets is never cut.")
    found = HarvestRecord.objects.order_by("collection").values_list("collection", "collection__name").distinct()
    return answers.sets((f"{SET}{pk}", name) for pk, name in found)


def _get_record(asked: Asked) -> Element:
    return answers.record(_items([_record_of(asked.identifier)])[0], asked.prefix)


def _identifiers(asked: Asked) -> Element:
    items, going, _ = _page(asked)
    return answers.identifiers(items, going)


def _records(asked: Asked) -> Element:
    items, going, prefix = _page(asked)
    return answers.records(items, prefix, going)


VERBS = {
    "Identify": _identify,
    "ListMetadataFormats": _formats,
    "ListSets": _sets,
    "ListIdentifiers": _identifiers,
    "ListRecords": _records,
    "GetRecord": _get_record,
}


def _page(asked: Asked) -> tuple[list[Item], Going | None, str]:
    """Some items, how it goes on (None for a list that is not cut), and in which format. Raises Wrong."""
    told = _from_token(asked) if asked.token else _told(asked)
    wanted = HarvestRecord.objects.filter(_within(told))
    size = wanted.count()
    if told["after"]:
        at, pk = datetime.fromisoformat(told["after"][0]), told["after"][1]
        wanted = wanted.filter(datestamp__gte=at).filter(Q(datestamp__gt=at) | Q(pk__gt=pk))
    found = list(wanted.order_by("datestamp", "pk")[: AT_ONCE + 1])
    if not found and not asked.token:
        raise Wrong("noRecordsMatch", "There is nothing of that kind.")
    is_more, found = len(found) > AT_ONCE, found[:AT_ONCE]
    going = Going(_token(told, found) if is_more else "", size, told["cursor"]) if is_more or asked.token else None
    return _items(found), going, told["prefix"]


def _told(asked: Asked) -> dict[str, Any]:
    return {
        "verb": asked.verb,
        "prefix": asked.prefix,
        "since": asked.since and asked.since.isoformat(),
        "until": asked.until and asked.until.isoformat(),
        "set": asked.set_spec,
        "after": None,
        "cursor": 0,
    }


def _token(told: dict[str, Any], found: list[HarvestRecord]) -> str:
    """All that the next answer needs, signed: nothing is kept here, and the same token gives the same again."""
    after = [found[-1].datestamp.isoformat(), found[-1].pk]
    return signing.dumps({**told, "after": after, "cursor": told["cursor"] + len(found)}, salt=SALT, compress=True)


def _from_token(asked: Asked) -> dict[str, Any]:
    try:
        told: dict[str, Any] = signing.loads(asked.token, salt=SALT)
    except signing.BadSignature as error:
        raise Wrong("badResumptionToken", "This token was not given here.") from error
    if told["verb"] != asked.verb:
        raise Wrong("badResumptionToken", f"This token goes on with {told['verb']}.")
    return told


def _within(told: dict[str, Any]) -> Q:
    wanted = Q()
    if told["since"]:
        wanted &= Q(datestamp__gte=datetime.fromisoformat(told["since"]))
    if told["until"]:
        wanted &= Q(datestamp__lt=datetime.fromisoformat(told["until"]))
    if told["set"]:
        number = told["set"].removeprefix(SET)
        wanted &= Q(collection=_number(number) if told["set"].startswith(SET) else 0)
    return wanted


def _items(records: list[HarvestRecord]) -> list[Item]:
    """SECURITY: each is looked at anew; of what may not be known of at this moment is told that it is deleted."""
    public = harvestable(one.interview_id for one in records if not one.is_deleted)
    said = dict(zip((accession.interview_id for accession in public), described(public), strict=True))
    return [_item(record, said.get(record.interview_id)) for record in records]


def _item(record: HarvestRecord, said: Any) -> Item:
    spec = f"{SET}{record.collection_id}"
    return Item(Header(_identifier(record.interview_id), record.datestamp, spec, said is None), said)


def _record_of(identifier: str) -> HarvestRecord:
    start = _identifier("")
    found = HarvestRecord.objects.filter(interview=_number(identifier.removeprefix(start))).first()
    if found is None or not identifier.startswith(start):
        raise Wrong("idDoesNotExist", "There is no record of that name.")
    return found


def _identifier(number: object) -> str:
    return f"oai:{_domain()}:{ITEM}{number}"


def _domain() -> str:
    """The site's host name; a name is wanted, so that of an example for a site that has none yet."""
    host = urlsplit(settings.SITE_URL).hostname or ""
    return host if "." in host and not host.replace(".", "").isdecimal() else "library.example.org"


def _number(told: str) -> int:
    return int(told) if told.isascii() and told.isdecimal() and len(told) < 19 else 0
