"""The numbers of a year: counted by hand beside what the page, the table and the paper say."""

import csv
import io
from datetime import UTC, datetime

import pytest
from pypdf import PdfReader

from intake import workflow
from intake.desk.numbers import numbers_of, years
from intake.interviews.models import State
from intake.kits import services as kits
from intake.kits.models import Card, Loan
from intake.outputs.paper.numbers import shown
from intake.register.models import Accession
from tests.factories import a_clipped_wav, an_interview, at_time, run_jobs
from tests.pages import signed_in, text_of

pytestmark = pytest.mark.django_db


def on(month: int, day: int = 10, year: int = 2026) -> datetime:
    return datetime(year, month, day, 12, tzinfo=UTC)


@pytest.fixture
def year(archivist, coordinator):
    """Handed in: two in April, one each in May, June and the year after; accepted: April and June; one undone."""
    with at_time(on(2, year=2027)):
        an_interview(State.SUBMITTED)
    with at_time(on(4)):
        an_interview(State.ACCEPTED, reviewer=archivist, parts=2)
        slow = an_interview(State.SUBMITTED, ready=True)
    with at_time(on(6, 30)):
        workflow.take_up(slow.pk, actor=archivist)
        workflow.accept(slow.pk, actor=archivist)
    with at_time(on(5)):
        loud = an_interview(State.IN_REVIEW, reviewer=archivist, content=a_clipped_wav())
        run_jobs("measure-part")
        workflow.send_back(loud.pk, message="Please look again.", actor=archivist)
    with at_time(on(6)):
        undone = an_interview(State.ACCEPTED, reviewer=archivist)
        workflow.propose_undo(undone.pk, reason="The wrong file.", actor=archivist)
        workflow.confirm_undo(undone.pk, actor=coordinator)
        workflow.decline(undone.pk, reason="Not about the crossing.", actor=archivist)
    return numbers_of(2026)


def table(numbers, key: str) -> dict[str, tuple]:
    return dict(next(table for table in numbers.tables if table.key == key).rows)


def test_the_year_at_its_head(year):
    told = {name: value for name, value, _ in year.figures}
    assert told == {
        "Handed in": "4",
        "Accepted": "2",
        "Hours accepted": "0.00",
        "Sent back": "1",
        "Declined": "1",
        "From hand-in to acceptance": "40.5",
    }


def test_each_month_has_its_own(year):
    months = table(year, "months")
    assert list(months) == [f"{datetime(2026, month, 1):%B}" for month in range(1, 13)]  # noqa: DTZ001  names alone
    handed_in, accepted, _, back, declined, days = zip(*months.values(), strict=True)
    assert handed_in[3:6] == (2, 1, 1)
    assert accepted[3:6] == (1, 0, 1)
    assert (back[4], declined[5]) == (1, 1)
    assert (days[3], days[5], days[0]) == (0, 81, None)  # 10 April to 30 June: 81 days
    assert sum(handed_in) == 4


def test_hours_are_those_of_all_parts(year):
    seconds = [
        entry.interview.queue_entry.seconds
        for entry in Accession.objects.filter(undone_at=None).order_by("accepted_at")
    ]
    assert seconds == [pytest.approx(0.8, abs=0.01), pytest.approx(0.4, abs=0.01)]


def test_collections_reasons_and_sound(year):
    hours = pytest.approx((0.8 + 0.4) / 3600, rel=0.05)
    assert table(year, "collections") == {"Both Banks: the crossing years": (2, hours)}
    reasons = table(year, "reasons")
    assert reasons["Clipping"] == (1,)
    sound = table(year, "sound")
    assert sound["May"][2] == 1
    assert sum(sum(row) for row in sound.values()) == 5


def test_kits_are_counted_in_every_month_in_which_they_were_out(coordinator, archivist):
    kits.add_kit(number="7", contents="recorder", actor=coordinator)
    kit = kits.add_kit(number="8", contents="recorder", actor=coordinator)
    with at_time(on(2)):
        loan, _ = kits.lend(kit.pk, name="Ada", email="ada@example.org", due_on=on(9).date(), actor=archivist)
        Loan.objects.filter(pk=loan.pk).update(lent_at=on(2))
    with at_time(on(4)):
        kits.take_back(loan.pk, condition="Well.", card=Card.CLEARED, told_of_card="", actor=archivist)
    used = table(numbers_of(2026), "kits")
    assert [used[month] for month in ("January", "February", "March", "April", "May")] == [
        (0, 0), (1, 1), (0, 1), (0, 1), (0, 0),
    ]  # fmt: skip


def test_the_table_for_other_programs_says_each_number_with_its_unit(year, archivist):
    answer = signed_in(archivist).get("/desk/numbers/csv/", {"year": "2026"})
    assert answer["Content-Disposition"] == 'attachment; filename="oral-history-2026.csv"'
    rows = list(csv.DictReader(io.StringIO(answer.content.decode())))
    assert all(row["unit"] and row["year"] == "2026" for row in rows)
    (april,) = [row for row in rows if (row["row"], row["column"], row["unit"]) == ("April", "Accepted", "interviews")]
    assert april["value"] == "1"


def test_the_paper_says_the_same(year, archivist):
    answer = signed_in(archivist).get("/desk/numbers/pdf/", {"year": "2026"})
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)
    for words in ("Oral history in numbers, 2026", "By month", "Clipping", "40.5 days", "Kits in use"):
        assert words in text


def test_the_page_draws_bars_and_says_the_same_in_words(year, archivist):
    shown_page = signed_in(archivist).get("/desk/numbers/", {"year": "2026"})
    html = shown_page.content.decode()
    assert 'role="img"' in html
    assert "<title" in html
    assert "The commonest reason:" in text_of(shown_page)


@pytest.mark.parametrize("asked", ["", "1066", "x", "20266", "٢٠٢٦"])
def test_a_year_that_is_none_shows_the_newest(archivist, asked):
    assert signed_in(archivist).get("/desk/numbers/", {"year": asked}).context["numbers"].year == years()[0]


def test_an_empty_year_says_so(archivist):
    told = text_of(signed_in(archivist).get("/desk/numbers/"))
    for words in ("No hours were accepted.", "Nothing was sent back.", "No recording was measured."):
        assert words in told


@pytest.mark.parametrize(
    ("value", "told"), [(None, "–"), (0, "0"), (2.0, "2"), (2.25, "2.2"), (1234567, "1,234,567"), (0.04, "0.04")]
)
def test_numbers_are_shown_as_they_are_read(value, told):
    assert shown(value) == told
