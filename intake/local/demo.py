"""Loads the demo through the services and jobs that people and workers use: only its story is made up."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial

from django.db import connection

from intake.accounts.models import User
from intake.interviews.models import Interview
from intake.jobs import services as jobs
from intake.jobs.models import Job, JobState
from intake.kits import services as kits
from intake.kits.models import Loan
from intake.local import demo_people as who
from intake.local import demo_steps as do
from intake.local import demo_story as story
from intake.local.demo_clock import tell
from intake.local.processes import Say
from intake.people.models import Invitation

WORKERS = 2  # as the worker of a house on one computer has (commands.py)


class DemoFailed(Exception):
    """A piece of background work did not end well while loading; the message is what its row says."""


def is_loaded() -> bool:
    """The invitation that nobody has followed is the last thing made."""
    _, email = who.NOT_YET_JOINED
    return Invitation.objects.filter(person__email=email).exists()


def is_half_loaded() -> bool:
    return User.objects.exists() and not is_loaded()


def load(say: Say) -> None:
    """Fill an empty database: people, kits, and an interview at each stage."""
    say("Loading the demo: the library's year, from March to November 2026. This takes about half a minute.")
    chapters = [chapter() for chapter in (*story.THE_LIBRARY, *story.INTERVIEWS)]
    tell(chapters, after_each_step=partial(_work, _teller(say)))
    story.today_at_the_counter()
    _do_waiting_work()


def sign_ins(url: str) -> list[str]:
    """What to tell the person at the terminal: who can sign in, and a code for the kit that is lent."""
    people = [f"  {account.role:<11} {account.email:<31} {account.worth_trying}" for account in who.ACCOUNTS]
    return [
        f"Sign in as one of these; the password is {who.PASSWORD} for all. The sign-in page does it with one click.",
        "",
        *people,
        "",
        *_kit_code(url),
        f"Recordings to hand in lie in {do.card()}, as on a recorder's memory card.",
        "",
    ]


def _kit_code(url: str) -> list[str]:
    """A new code at every start: the one before may have been used, and only its digest is kept."""
    _, email = who.NELL
    loan = Loan.objects.select_related("kit", "borrower").filter(returned_at=None, borrower__email=email).first()
    if loan is None:
        return []
    code = kits.issue_code(loan.pk, actor=do.user(who.INES))
    return [f"Kit {loan.kit.number} is lent to {loan.borrower}. Its code {code} opens {url}kit-code/ once."]


def _teller(say: Say) -> Callable[[], None]:
    """Tells of every interview once, as soon as it has been begun."""
    told: set[int] = set()

    def tell_of_new() -> None:
        for interview in Interview.objects.exclude(pk__in=told).order_by("pk"):
            told.add(interview.pk)
            say(f"  {len(told):>2} of {story.HOW_MANY}  {interview.title}")

    return tell_of_new


def _work(tell_of_new: Callable[[], None]) -> None:
    tell_of_new()
    _do_waiting_work()


def _do_waiting_work() -> None:
    """Do what workers would, here and now and two at a time, until nothing waits."""
    while waiting := list(Job.objects.filter(state=JobState.WAITING).order_by("pk").values_list("pk", flat=True)):
        with ThreadPoolExecutor(WORKERS) as workers:
            list(workers.map(_run, waiting))
        for job in Job.objects.filter(pk__in=waiting).exclude(state=JobState.DONE):
            raise DemoFailed(f"{job.get_kind_display()} did not end well: {job.error}")


def _run(job_id: int) -> None:
    try:
        jobs.run(job_id)
    finally:
        connection.close()  # each thread has its own
