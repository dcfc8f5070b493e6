"""The queue's page: ready-made and saved views, and the stretch of the list that is shown."""

from dataclasses import dataclass

from intake.accounts.models import User
from intake.desk.queue_forms import QueueForm, TogetherForm
from intake.interviews.models import State
from intake.queue.lists import ORDERS, Asked, Counted, Stretch, counted, entries, stretch
from intake.queue.models import SavedView
from intake.queue.services import before_a_page, is_any_stale

PER_PAGE = 50
# In the order of the day's work.
READY = (
    (State.SUBMITTED, "Waiting for review"),
    (State.IN_REVIEW, "In review"),
    (State.RETURNED, "With the volunteers again"),
    (State.ACCEPTED, "Catalogue queue"),
    (State.CATALOGUED, "Catalogued"),
)


@dataclass(frozen=True)
class ReadyView:
    """One ready-made view, what stands in the address for it, and how many interviews are in it."""

    label: str
    filters: str
    counted: Counted


@dataclass(frozen=True)
class QueuePage:
    form: QueueForm
    together: TogetherForm
    ready: list[ReadyView]
    saved: list[SavedView]
    counted: Counted
    stretch: Stretch
    filters: str
    is_behind: bool


def queue_page(form: QueueForm, user: User, *, after: str, before: str) -> QueuePage:
    """All that the page shows; its number of questions to the database is the same for one interview and a million."""
    before_a_page()
    listed = entries(form.asked())
    shown = listed.select_related("collection", "reviewer")
    filters = form.querystring()
    return QueuePage(
        form=form,
        together=TogetherForm(user=user, initial={"filters": filters}),
        ready=ready_views(user),
        saved=list(user.saved_views.all()),
        counted=counted(listed),
        stretch=stretch(shown, ORDERS[form.order_name], rows=PER_PAGE, after=after, before=before),
        filters=filters,
        is_behind=is_any_stale(),
    )


def ready_views(user: User) -> list[ReadyView]:
    """One's own reviews, then what stands at each stage."""
    views = [ReadyView("My reviews", f"state=in_review&reviewer={user.pk}", counted(entries(_mine(user))))]
    for state, label in READY:
        views.append(ReadyView(label, f"state={state}", counted(entries(Asked(state=state)))))
    return views


def next_to_review(user: User) -> int | None:
    """The interview to go on with: the longest waiting of one's own reviews, else of those that nobody has taken up."""
    before_a_page()
    for asked in (_mine(user), Asked(state=State.SUBMITTED)):
        found = stretch(entries(asked), ORDERS["work"], rows=1).rows
        if found:
            return found[0].pk
    return None


def _mine(user: User) -> Asked:
    return Asked(state=State.IN_REVIEW, reviewer_id=user.pk)
