"""The one row of the library's own words and choices."""

import pytest
from django.db import IntegrityError, transaction

from intake.audit.models import Event
from intake.errors import Refused
from intake.library import services as libraries
from intake.library.models import NOT_NAMED_YET, Library, Step
from tests.factories import describe_the_library

pytestmark = pytest.mark.django_db


def test_before_anybody_said_anything_the_defaults_hold_and_no_row_is_made():
    assert libraries.current().name == NOT_NAMED_YET
    assert libraries.current().accession_pattern == "{year}-{sequence:04d}"
    assert not Library.objects.exists()


def test_what_the_coordinator_says_is_kept_and_recorded(coordinator):
    describe_the_library(coordinator, name="  Alder Ferry Public Library ")
    library = libraries.current()
    assert (library.name, library.place) == ("Alder Ferry Public Library", "Alder Ferry")
    assert library.contact_lines == "3 Landing Lane\nTel. 0100 555\nhistory@alderferry.example.org"
    assert library.room_and_place == "Local History Room, Alder Ferry"
    assert library.settled == [Step.LIBRARY]
    event = Event.objects.get(action="library-changed")
    assert event.actor == coordinator
    assert event.details["values"]["name"] == "Alder Ferry Public Library"


def test_only_what_changed_is_recorded_as_changed(coordinator):
    describe_the_library(coordinator)
    describe_the_library(coordinator, place="Lower Ferry")
    assert Event.objects.latest("pk").details["changed"] == ["place"]
    assert Library.objects.count() == 1


def test_nobody_but_the_coordinator_changes_it(archivist, volunteer):
    for person in (archivist, volunteer):
        with pytest.raises(Refused, match="Only the coordinator"):
            describe_the_library(person)
        with pytest.raises(Refused, match="Only the coordinator"):
            libraries.settle(Step.WORDINGS, actor=person)
    assert not Library.objects.exists()


def test_the_database_holds_one_library():
    Library.objects.create()
    with pytest.raises(IntegrityError, match="there_is_one_library"), transaction.atomic():
        Library.objects.create(id=2)


def test_the_sender_is_the_library_by_name_until_the_environment_says_otherwise(coordinator, settings):
    assert libraries.sender() == "Your library <no-reply@library.example.org>"
    describe_the_library(coordinator)
    assert libraries.sender() == "Alder Ferry Public Library <history@alderferry.example.org>"
    settings.DEFAULT_FROM_EMAIL = "site@elsewhere.example.org"
    assert libraries.sender() == "site@elsewhere.example.org"


def test_the_name_is_one_line_since_it_stands_in_the_header_of_every_message(coordinator):
    describe_the_library(coordinator, name="Alder Ferry\nPublic Library", contact="3 Landing Lane\nAlder Ferry")
    library = libraries.current()
    assert (library.name, library.contact) == ("Alder Ferry Public Library", "3 Landing Lane\nAlder Ferry")
