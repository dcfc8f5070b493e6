"""Every route, asked by everybody with numbers, names and methods that nobody should send: never a 500."""

import re
from collections.abc import Iterator

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse

from intake.desk import queries
from intake.portal.capabilities import program_address, upload_address
from tests.access.routes import all_routes
from tests.access.world import World, a_world
from tests.factories import a_part_stored, a_started_interview
from tests.pages import signed_in, text_of
from tests.portal.tus import VERSION

pytestmark = pytest.mark.django_db
ROLES = ("stranger", "owner", "other", "archivist", "coordinator")
NUMBERS = ("0", "9223372036854775807", "9223372036854775808", "1" * 40, "-1", "abc", "%00", "٣")
NAMES = ("x", "%00", "a" * 3000, "..%2F..", "%F0%9F%8E%99", "%FF", "%E2%80%AE", "<script>", "%0D%0AX: y", "'--")
UUIDS = ("00000000-0000-0000-0000-000000000000", "abc", "%00", "1" * 36)
ODD = {"int": NUMBERS, "str": NAMES, "uuid": UUIDS, "slug": NAMES}
BODIES = (
    {},
    {"name": "\0", "email": "\0@\0", "role": "\0", "reason": "\0", "message": "\0", "code": "\0", "answer": "\0"},
    {"name": "x" * 5000, "due_on": "9999-12-31", "number": "9" * 400, "role": "ruler", "form_key": "\r\n"},
    {"collection": "9223372036854775808", "recorded_on": "0000-00-00", "wording": "9" * 40, "to": "?"},
)


@pytest.fixture(scope="module")
def world(django_db_setup, django_db_blocker):
    with django_db_blocker.unblock(), transaction.atomic():
        yield a_world()
        transaction.set_rollback(True)


def browser_of(world: World, role: str) -> Client:
    """A browser that shows a server's fault as a page, as people's do."""
    browser = Client(raise_request_exception=False)
    person = world.person(role)
    if person:
        browser.force_login(person)
    return browser


def addresses(pattern: str) -> Iterator[str]:
    """The addresses of a route with each odd value in its places."""
    plain = re.sub(r"[$^\\]", "", pattern)
    kinds = [kind or "str" for kind in re.findall(r"<(?:(\w+):)?\w+>", plain)]
    values = [ODD.get(kind, NAMES) for kind in kinds]
    for row in zip(*values, strict=False) if values else [()]:
        given = iter(row)
        yield "/" + "".join(next(given) if piece.startswith("<") else piece for piece in re.split(r"(<[^>]+>)", plain))


PATTERNS = sorted({pattern for pattern in all_routes().values() if "(" not in pattern})


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("pattern", PATTERNS)
def test_no_odd_address_breaks_anything(world, role, pattern):
    with transaction.atomic():
        browser = browser_of(world, role)
        for address in addresses(pattern):
            for method in ("GET", "POST"):
                assert browser.generic(method, address).status_code < 500, (method, address)
        transaction.set_rollback(True)


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "TRACE", "OPTIONS", "PROPFIND"])
def test_no_odd_method_breaks_anything(world, method):
    with transaction.atomic():
        browser = browser_of(world, "coordinator")
        for address in (next(addresses(pattern)) for pattern in PATTERNS):
            assert browser.generic(method, address).status_code < 500, address
        transaction.set_rollback(True)


def test_control_a_view_that_breaks_is_seen(world, monkeypatch):
    def broken() -> None:
        raise RuntimeError("to be seen")

    monkeypatch.setattr(queries, "little_room", broken)
    assert browser_of(world, "archivist").get("/desk/").status_code == 500


def known_addresses(world: World) -> list[str]:
    numbers = {
        "interview": world.in_review.pk,
        "part": world.problem_part.pk,
        "person": world.unsigned.pk,
        "kit": world.kit.pk,
        "loan": world.loan.pk,
        "job": world.failed_job.pk,
        "release": world.own_release.pk,
    }
    ours = {name: pattern for name, pattern in all_routes().items() if re.match("portal|desk|narrator", name)}
    address = upload_address(world.upload)
    found = [address, f"{address}digest/", program_address(world.draft.pk, world.owner)]
    for name, pattern in ours.items():
        kind = name.partition(":")[2].partition("-")[0]
        args = [numbers.get(kind, 1)] * pattern.count("<")
        found.append(reverse(name, args=args) if "<uuid" not in pattern else "/")
    return found


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("body", BODIES, ids=range(len(BODIES)))
def test_no_odd_body_breaks_anything(world, role, body):
    for address in known_addresses(world):
        with transaction.atomic():
            answer = browser_of(world, role).post(address, body)
            transaction.set_rollback(True)
        assert answer.status_code < 500, address


def test_a_number_beyond_the_databases_is_not_found_on_our_own_page(volunteer):
    for number in ("9223372036854775808", "999999999"):
        answer = signed_in(volunteer).get(f"/interviews/{number}/")
        assert answer.status_code == 404
        assert "There is nothing here for you" in text_of(answer)


def test_a_wrong_method_is_405_with_allow_on_our_own_page(volunteer):
    interview = a_started_interview(volunteer)
    answer = signed_in(volunteer).get(f"/interviews/{interview.pk}/submit/")
    assert (answer.status_code, answer["Allow"]) == (405, "POST")
    assert "There is nothing to look at here" in text_of(answer)


def test_a_part_of_another_interview_is_not_reached_through_ones_own(volunteer, other_volunteer):
    theirs = a_part_stored(a_started_interview(other_volunteer))
    browser = signed_in(volunteer)
    for address in (f"/parts/{theirs.pk}/", f"/parts/{theirs.pk}/listen/"):
        assert browser.get(address).status_code == 404
    for address in (f"/parts/{theirs.pk}/remove/", f"/parts/{theirs.pk}/move/", f"/parts/{theirs.pk}/put-back/"):
        assert browser.post(address).status_code == 404
    assert browser.head(f"/uploads/{theirs.upload_id}/{'0' * 40}/", headers=VERSION).status_code == 404
    theirs.refresh_from_db()
    assert (theirs.position, theirs.interview.owner) == (1, other_volunteer)
