"""Do what a form asks for the first time it is sent, and remember where that led."""

from collections.abc import Callable
from datetime import timedelta

from django.db import transaction
from django.utils import timezone

from intake.once.models import SentForm

# Longer than anybody leaves a page open and comes back to it.
REMEMBERED = timedelta(days=7)


@transaction.atomic
def once(digest: str, do: Callable[[], str]) -> str:
    """Where `do` led; sent again, the same without doing it again.

    Two at once: the second waits at the unique digest until the first has ended. What is refused is forgotten with it.
    """
    sent, new = SentForm.objects.get_or_create(digest=digest)
    if new:
        sent.led_to = do()
        sent.save(update_fields=["led_to"])
    return sent.led_to


def delete_old() -> None:
    """Forget forms that nobody will send again."""
    SentForm.objects.filter(sent_at__lt=timezone.now() - REMEMBERED).delete()
