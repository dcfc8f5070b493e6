"""Keep, and take away, what somebody of the staff calls a view of the queue."""

from django.db import transaction

from intake.accounts.models import User
from intake.errors import Refused
from intake.queue.models import SavedView

MOST = 30


@transaction.atomic
def save_view(*, name: str, filters: str, owner: User) -> SavedView:
    """The same name again keeps the new filters."""
    others = SavedView.objects.select_for_update().filter(owner=owner).exclude(name=name)
    if others.count() >= MOST:
        raise Refused(f"There is room for {MOST} views of your own. Take one away first.")
    view, _ = SavedView.objects.update_or_create(owner=owner, name=name, defaults={"filters": filters})
    return view


def delete_view(view_id: int, *, owner: User) -> None:
    """What is gone already stays gone; nobody else's is touched."""
    SavedView.objects.filter(pk=view_id, owner=owner).delete()
