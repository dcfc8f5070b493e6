"""What a volunteer is told of room before a hand-in begins, and how much may wait for the library at a time."""

import pytest

from intake.files import storage
from intake.library import services as libraries
from intake.workflow import decline, submit, take_up, withdraw
from tests.factories import (
    a_form_typed_in,
    a_part_arriving,
    a_part_stored,
    a_started_interview,
    an_accession,
    narrator_of,
)
from tests.pages import signed_in, text_of
from tests.portal.pages import page, see
from tests.portal.tus import create, metadata

pytestmark = pytest.mark.django_db


@pytest.fixture
def nearly_full(monkeypatch):
    monkeypatch.setattr(storage, "disks", lambda: [(("staging", "primary", "replica"), 3_600_000_000)])


def test_a_volunteer_may_have_so_much_waiting_and_no_more(browser, interview, settings):
    """413, with both figures and what to do."""
    settings.UPLOAD_OPEN_BYTES = 25
    assert create(browser, interview).status_code == 201
    assert create(browser, interview).status_code == 201
    answer = create(browser, interview)
    assert answer.status_code == 413
    told = answer.content.decode()
    assert "“TOLL0007.WAV” has 10 bytes. You have handed in 20 bytes" in told
    assert "25 bytes may wait at a time. Nothing is lost" in told
    assert libraries.current().email in told
    assert interview.parts.count() == 2


def test_the_whole_site_may_keep_so_much_and_no_more(browser, interview, settings):
    """413, for staff too: it is the library's own limit."""
    settings.UPLOAD_SITE_BYTES = 25
    assert create(browser, interview).status_code == 201
    assert create(browser, interview).status_code == 201
    answer = create(browser, interview)
    assert answer.status_code == 413
    assert "The library keeps 20 bytes and may keep 25 bytes in all. Nothing is lost" in answer.content.decode()
    assert interview.parts.count() == 2


def test_attachments_and_scans_count_and_are_held_against_it_too(browser, interview, settings):
    """However a file is handed in, it waits on the same disks."""
    settings.UPLOAD_OPEN_BYTES = 25
    signed = a_form_typed_in(narrator_of(interview))
    scan = metadata(filename="form.jpg", purpose="scan", form=signed.pk)
    photograph = metadata(filename="porch.jpg", purpose="attachment", kind="photograph", interview=interview.pk)
    assert [create(browser, interview, described=described).status_code for described in (scan, photograph)] == [
        201,
        201,
    ]
    for described in (None, scan, photograph):
        answer = create(browser, interview, described=described)
        assert answer.status_code == 413
        assert "You have handed in 20 bytes" in answer.content.decode()


def test_what_was_withdrawn_waits_no_more(browser, volunteer, interview, settings):
    settings.UPLOAD_OPEN_BYTES = 10
    assert create(browser, interview).status_code == 201
    withdraw(interview.pk, reason="x", actor=volunteer)
    assert create(browser, a_started_interview(volunteer)).status_code == 201


def test_staff_have_no_such_limit(archivist, interview, settings):
    settings.UPLOAD_OPEN_BYTES = 1
    assert create(signed_in(archivist), interview).status_code == 201


def test_what_the_library_has_decided_on_waits_no_more(browser, volunteer, archivist, settings):
    accepted = an_accession(owner=volunteer)
    declined = a_started_interview(volunteer)
    a_part_stored(declined)
    submit(declined.pk, actor=volunteer)
    take_up(declined.pk, actor=archivist)
    decline(declined.pk, reason="x", actor=archivist)
    settings.UPLOAD_OPEN_BYTES = 10
    interview = a_started_interview(volunteer)
    asked = browser.get(page("interview-before-upload", interview.pk)).json()
    assert (asked["own_bytes_left"], accepted.interview.parts.count()) == (10, 1)
    assert create(browser, interview).status_code == 201


def test_a_browser_learns_before_the_first_byte_what_fits_and_what_is_there(browser, volunteer, interview, nearly_full):
    stored = a_part_stored(interview, name="TOLL0001.WAV")
    arriving = a_part_arriving(interview, b"0123456789", name="TOLL0002.WAV")
    asked = browser.get(page("interview-before-upload", interview.pk)).json()
    assert asked["room_bytes"] == (3_600_000_000 - 30) // 3
    assert asked["recordings"] == [{"name": "TOLL0001.WAV", "length": stored.upload.length, "position": 1}]
    assert [(known["name"], known["offset"]) for known in asked["unfinished"]] == [("TOLL0002.WAV", 0)]
    assert arriving.upload_id.hex in asked["unfinished"][0]["upload_url"].replace("-", "")


def test_little_room_is_said_before_a_hand_in_begins(browser, interview, nearly_full):
    told = text_of(see(browser, interview))
    assert "The library's disk has room for 1.2 GB of recordings just now. Nothing is lost" in told


def test_before_the_library_has_an_address_people_are_sent_to_its_room(browser, volunteer, nearly_full):
    told = text_of(see(browser, a_started_interview(volunteer)))
    assert "ask the Local history room before you hand in more." in told


def test_a_full_disk_is_said_before_a_hand_in_begins(browser, interview, monkeypatch):
    monkeypatch.setattr(storage, "disks", lambda: [(("staging", "primary", "replica"), 2)])
    assert "The library's disk is full, and takes nothing in just now. Nothing is lost" in text_of(
        see(browser, interview)
    )


def test_with_room_nothing_is_said_of_it(browser, interview, archivist, settings):
    settings.ROOM_LOW_BYTES = 1
    assert "disk" not in text_of(see(browser, interview))
    assert "room for" not in text_of(signed_in(archivist).get("/desk/"))


def test_the_desk_sees_the_figures(archivist, nearly_full):
    told = text_of(signed_in(archivist).get("/desk/"))
    assert "There is room for 1.2 GB of new recordings; volunteers are told to wait." in told
    assert "staging and primary and replica: 3.6 GB free, 0 bytes of it spoken for" in told


def test_somebody_who_signed_in_meanwhile_begins_nothing_for_the_one_before(browser, interview, volunteer):
    """The page says for whom it was drawn; none is begun in another's name."""
    mine, another = str(volunteer.pk), str(volunteer.pk + 1)
    assert create(browser, interview, **{"X-Account": mine}).status_code == 201
    for answer in (
        create(browser, interview, **{"X-Account": another}),
        browser.get(page("interview-before-upload", interview.pk), headers={"X-Account": another}),
    ):
        assert (answer.status_code, answer["X-Account-Differs"]) == (403, "yes")
    assert interview.parts.count() == 1
