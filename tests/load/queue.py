"""The queue's page as a browser asks for it: filters, counts, orders, words, deep places; and how long each took.

In the same run the usual way of paging beside it: counting all and skipping to the place.
"""

import random
import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from itertools import accumulate
from statistics import median, quantiles
from typing import Any

from django.core.paginator import Paginator
from django.db import connection
from django.db.models import Count
from django.test import Client

from intake.accounts.models import User
from intake.interviews.models import Interview
from intake.people.services import person_of
from intake.queue.lists import ORDERS, RESTRICTIONS, Asked, counted, entries, place_told, stretch
from intake.queue.models import BY_STAGE, STAGE, QueueEntry
from tests.factories import a_collection, a_user, an_archivist

LIMIT_MS = 150  # of the page and its counts, at the 95th percentile
ROUNDS = 12
ENDED = datetime(2026, 11, 1, tzinfo=UTC)
# Per thousand interviews; most of what a library has taken in is done, and some thousands are somebody's work.
STATES = {
    "draft": 10,
    "submitted": 10,
    "in_review": 2,
    "returned": 6,
    "accepted": 40,
    "catalogued": 900,
    "declined": 20,
    "withdrawn": 8,
    "taken_down": 4,
}
STANDINGS = {"good": 700, "look closer": 200, "problem": 80, "not measured": 20}


def fill(number: int) -> None:
    """Write the rows as PostgreSQL takes them fastest, and let it look at what they hold."""
    owner = a_user()
    giver = person_of(owner)
    staff = [an_archivist(name).pk for name in ("Ines Halloway", "Petra Lindqvist", "Corin Vale", "Dalia Reyes")]
    collections = [a_collection(f"Collection {number}").pk for number in range(200)]
    rows = list(generated(number, collections, staff))
    _copy(
        connection,
        Interview,
        (
            {
                "id": row["interview_id"],
                "collection_id": row["collection_id"],
                "owner_id": owner.pk,
                "given_by_id": giver.pk,
                "recorded_on": row["recorded_on"],
                "place": "Alder Ferry",
                "language": "en",
                "summary": "",
                "context_notes": "",
                "names_and_spellings": "",
                "state": row["state"],
                "reviewer_id": row["reviewer_id"],
                "started_at": row["waiting_since"],
                "submitted_at": row["submitted_at"],
            }
            for row in rows
        ),
    )
    _copy(connection, QueueEntry, rows)
    with connection.cursor() as cursor:
        cursor.execute("VACUUM ANALYZE")


def generated(number: int, collections: list[int], staff: list[int]) -> Iterator[dict[str, Any]]:
    """Entries whose names and words are as unevenly common as those of people: by the law of Zipf."""
    chance = random.Random(1)
    surnames, given = _vocabulary(chance, 20_000), _vocabulary(chance, 800)
    spoken = _vocabulary(chance, 8_000)
    for pk in range(1, number + 1):
        state = chance.choices(list(STATES), STATES.values())[0]
        since = ENDED - timedelta(seconds=chance.randrange(10 * 365 * 86400))
        name = f"{given()} {surnames()}"
        stage = BY_STAGE.index(state) if state in BY_STAGE else len(BY_STAGE)
        yield {
            "interview_id": pk,
            "collection_id": chance.choice(collections),
            "reviewer_id": chance.choice(staff) if state not in {"draft", "submitted"} else None,
            "state": state,
            "submitted_at": None if state == "draft" else since,
            "work_order": stage * STAGE + int(since.timestamp()),
            "waiting_since": since,
            "recorded_on": since.date(),
            "title": f"Interview with {name}, 25 Nov 2026",
            "name": name,
            "given_by": "Tobias Wrenfield",
            "seconds": chance.randrange(600, 14_400),
            "standing": chance.choices(list(STANDINGS), STANDINGS.values())[0],
            "is_signed": chance.random() < 0.95,
            "is_contested": chance.random() < 0.001,
            "closed_until": date(2030, 1, 1) if chance.random() < 0.03 else None,
            "is_on_site": chance.random() < 0.05,
            "is_name_withheld": chance.random() < 0.02,
            "has_closed_passages": chance.random() < 0.02,
            "accession_number": f"2026.{pk}" if state in {"accepted", "catalogued"} else "",
            "words": f"{name} alder ferry {' '.join(spoken() for _ in range(25))} {pk}",
        }


def _vocabulary(chance: random.Random, size: int) -> Callable[[], str]:
    """Draws words, the n-th of them as often as 1/n."""
    letters = "abcdefghiklmnoprstuvy"
    words = ["".join(chance.choices(letters, k=chance.randrange(4, 9))) for _ in range(size)]
    weights = list(accumulate(1 / rank for rank in range(1, size + 1)))
    return lambda: chance.choices(words, cum_weights=weights)[0]


def _copy(connection: Any, model: Any, rows: Any) -> None:
    rows = iter(rows)
    first = next(rows)
    columns = ", ".join(first)
    with connection.cursor() as cursor, cursor.copy(f"COPY {model._meta.db_table} ({columns}) FROM STDIN") as copy:
        copy.write_row(list(first.values()))
        for row in rows:
            copy.write_row(list(row.values()))


def show() -> int:
    """Ask for the pages in turn, several times, and print how long each took."""
    browser = Client()
    browser.force_login(User.objects.get(name="Ines Halloway"))
    pages = asked_for()
    for filters in pages.values():
        _milliseconds(lambda filters=filters: browser.get("/desk/", filters))
    taken: dict[str, list[float]] = {name: [] for name in pages}
    for _ in range(ROUNDS):
        for name, filters in pages.items():
            taken[name].append(_milliseconds(lambda filters=filters: browser.get("/desk/", filters)))
    print(f"{'page':44} {'median':>9} {'worst':>9}   (ms, page with its counts)")
    for name, times in taken.items():
        print(f"{name:44} {median(times):9.0f} {max(times):9.0f}")
    everything = [one for times in taken.values() for one in times]
    at_95 = quantiles(everything, n=20)[-1]
    print(f"\n95th percentile of {len(everything)} pages: {at_95:.0f} ms (aim: under {LIMIT_MS} ms)")
    _beside()
    return 0 if at_95 < LIMIT_MS else 1


def asked_for() -> dict[str, dict[str, str]]:
    """What archivists ask for, the rare and the common, and places deep in each order."""
    some = QueueEntry.objects.filter(pk__in=range(1000, 1100))
    common, rare = _most_common_name(), some[0].name.split()[1]
    reviewer = str(some.exclude(reviewer=None)[0].reviewer_id)
    collection = str(some[0].collection_id)
    deep = {}
    for name, order in ORDERS.items():
        listed = entries(Asked(state="catalogued")).order_by(order.column, "pk")
        middle = listed[listed.count() // 2]
        deep[f"catalogued, {name}, in the middle"] = {
            "state": "catalogued",
            "order": name,
            "after": place_told(order, middle),
        }
    return {
        "what is to do": {},
        **{f"stage: {state}": {"state": state} for state in STATES},
        **{f"order: {name}": {"order": name} for name in ORDERS},
        **deep,
        **{f"restriction: {name}": {"restriction": name} for name in RESTRICTIONS},
        **{f"sound: {standing}": {"standing": standing} for standing in STANDINGS},
        "waiting more than three months": {"waiting": "90"},
        "one reviewer": {"reviewer": reviewer},
        "one reviewer's reviews": {"reviewer": reviewer, "state": "in_review"},
        "one collection, newest": {"collection": collection, "order": "newest"},
        "one collection, problems, closed": {"collection": collection, "standing": "problem", "restriction": "closed"},
        "words: a rare name": {"words": rare},
        "words: the commonest name": {"words": common},
        "words: the commonest name, newest": {"words": common, "order": "newest"},
        "words: in nearly all": {"words": "alder ferry"},
        "words: in none": {"words": "nobodyatall"},
        "words: a number": {"words": "999999"},
        "words: one letter": {"words": "a"},
        "words: name, collection and problem": {"words": common, "collection": collection, "standing": "problem"},
    }


def _most_common_name() -> str:
    return QueueEntry.objects.values("name").annotate(n=Count("pk")).order_by("-n")[0]["name"].split()[1]


def _beside() -> None:
    """The usual way beside ours: all counted, and everything before the place read and thrown away."""
    listed, order = entries(Asked(state="catalogued")), ORDERS["work"]
    whole = listed.order_by("work_order", "pk")
    middle = whole[whole.count() // 2]
    place = place_told(order, middle)
    ours, usual = [], []
    for _ in range(ROUNDS):
        ours.append(_milliseconds(lambda: (counted(listed), stretch(listed, order, rows=50, after=place))))
        pages = Paginator(whole, 50)
        usual.append(_milliseconds(lambda pages=pages: list(pages.page(pages.num_pages // 2))))
    print(
        f"The middle of all catalogued, questions alone: {median(ours):.1f} ms; counting all and skipping: "
        f"{median(usual):.1f} ms, {median(usual) / median(ours):.0f} times as long."
    )


def _milliseconds(do: Callable[[], Any]) -> float:
    began = time.perf_counter()
    answer = do()
    taken = (time.perf_counter() - began) * 1000
    assert getattr(answer, "status_code", 200) == 200
    return taken
