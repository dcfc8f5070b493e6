"""What a refused move says, and what a move leaves behind."""

import pytest

from intake.audit.models import Event
from intake.audit.services import story_of
from intake.errors import Refused
from intake.interviews.models import Interview
from intake.mail.models import Message


def refused(move, *args, **kwargs) -> tuple[str, ...]:
    """The reasons with which a move is refused; nothing may have changed by it."""
    interview_id = args[0]
    before = (Interview.objects.filter(pk=interview_id).values().get(), Event.objects.count(), Message.objects.count())
    with pytest.raises(Refused) as caught:
        move(*args, **kwargs)
    after = (Interview.objects.filter(pk=interview_id).values().get(), Event.objects.count(), Message.objects.count())
    assert after == before
    return caught.value.reasons


def last_event(interview, *, beside: str = "") -> tuple:
    """The newest event of its story; the one before the event `beside` that belongs to the same move."""
    event = story_of(interview).exclude(action=beside).last()
    free_words = event.names.names if hasattr(event, "names") else {}
    return event.action, event.actor, event.details | free_words


def is_now(interview) -> str:
    return Interview.objects.get(pk=interview.pk).state
