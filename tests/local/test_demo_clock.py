"""Chapters are told in the order of their days, each step at its own time."""

from datetime import datetime

from django.utils import timezone

from intake.local.demo_clock import Chapter, at, story_time, tell


def chapter(seen: list[tuple[str, datetime]], name: str, *moments: datetime) -> Chapter:
    for moment in moments:
        yield moment
        seen.append((name, timezone.now().replace(microsecond=0)))


def test_chapters_interleave_by_their_moments() -> None:
    seen: list[tuple[str, datetime]] = []
    april, may, june = at(4, 2), at(5, 2), at(6, 2)
    tell([chapter(seen, "ferry", april, june), chapter(seen, "mill", may)], after_each_step=lambda: None)
    assert seen == [("ferry", april), ("mill", may), ("ferry", june)]


def test_work_after_a_step_is_done_at_its_time() -> None:
    seen: list[tuple[str, datetime]] = []
    worked: list[datetime] = []
    tell([chapter(seen, "ferry", at(4, 2))], after_each_step=lambda: worked.append(timezone.now()))
    assert [moment.date() for moment in worked] == [at(4, 2).date()]


def test_time_goes_on_within_a_step_and_is_real_again_after_it() -> None:
    before = timezone.now()
    with story_time(at(4, 2)):
        first, second = timezone.now(), timezone.now()
        assert at(4, 2) <= first < second
        assert timezone.localdate() == at(4, 2).date()
    assert timezone.now() >= before
