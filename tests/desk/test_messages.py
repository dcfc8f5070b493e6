"""The desk's pages on messages: what was sent, what did not arrive, and sending it again."""

from uuid import uuid4

import pytest
from django.urls import reverse

from intake.files import services as files
from intake.interviews.models import State
from intake.jobs.models import Kind
from intake.mail import services as mail
from intake.mail.models import Message, MessageState
from intake.people.services import invite
from intake.workflow import send_back
from tests.factories import an_interview, run_jobs
from tests.pages import actions_of, links_of, signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def browser(archivist):
    return signed_in(archivist)


def page(name: str, *args: object) -> str:
    return reverse(f"desk:{name}", args=args)


def a_message(to: str = "marit@example.org", **given) -> Message:
    context = {"name": "Marit", "number": "S-2", "url": "https://history.example.org/check/S-2/"}
    message = mail.write(key=f"k-{uuid4()}", to=to, template="release_copy", context=context, **given)
    assert message is not None
    return message


def a_sent_message(to: str = "marit@example.org", **given) -> Message:
    message = a_message(to, **given)
    run_jobs(Kind.SEND_MESSAGE)
    message.refresh_from_db()
    return message


def a_bounced_message(archivist, to: str = "marit@example.org", **given) -> Message:
    return mail.note_bounce(a_sent_message(to, **given).pk, told="550 No such user", actor=archivist)


def listed(browser, **filters: str) -> set[str]:
    answer = browser.get(page("messages"), filters)
    return {link for link in links_of(answer) if link.startswith(page("messages")) and link != page("messages")}


def test_messages_are_filtered_by_state_and_searched_by_address_or_subject(browser, archivist):
    bounced, sent = a_bounced_message(archivist, "gone@example.org"), a_sent_message("here@example.org")
    waiting = a_message("later@example.org")
    all_three = {page("message-detail", message.pk) for message in (bounced, sent, waiting)}
    assert listed(browser) == all_three
    assert listed(browser, state="bounced") == {page("message-detail", bounced.pk)}
    assert listed(browser, state="waiting") == {page("message-detail", waiting.pk)}
    assert listed(browser, state="needs-care") == {page("message-detail", bounced.pk)}
    assert listed(browser, words="HERE@") == {page("message-detail", sent.pk)}
    assert listed(browser, words="your copy of the release") == all_three
    assert listed(browser, state="sent", words="gone@") == set()


def test_fifty_stand_on_a_page_and_the_filters_go_with_the_next(browser):
    for _ in range(51):
        a_message()
    first = browser.get(page("messages"), {"state": "waiting"})
    assert "Page 1 of 2 (51 in all)" in text_of(first)
    assert "?state=waiting&amp;page=2" in links_of(first)
    assert len(listed(browser, state="waiting", page="2")) == 1


def test_a_message_is_shown_as_it_was_sent_with_what_came_with_it(browser):
    paper = files.keep_bytes(b"%PDF-1.7 kept", file_id=uuid4(), name="release-S-2.pdf", media_type="application/pdf")
    message = a_sent_message(attachments=[paper])
    answer = browser.get(page("message-detail", message.pk))
    told = text_of(answer)
    assert "With this message comes your copy" in told
    assert "release-S-2.pdf" in told
    assert "Attempts 1" in told
    attachment = page("message-attachment", message.pk, paper.pk)
    assert attachment in links_of(answer)
    assert b"".join(browser.get(attachment).streaming_content) == b"%PDF-1.7 kept"


def test_where_messages_are_kept_that_reach_nobody_is_said_beside_them(browser, settings, tmp_path):
    """Such a message counts as sent: without the sentence somebody would wait for an answer."""
    message = a_sent_message()
    settings.EMAIL_FILE_PATH = str(tmp_path)
    for told in (browser.get(page("messages")), browser.get(page("message-detail", message.pk))):
        assert f"kept as files in {tmp_path} and reach nobody" in text_of(told)
    settings.EMAIL_BY_ENVIRONMENT, settings.EMAIL_HOST = True, "mail.example.org"
    for told in (browser.get(page("messages")), browser.get(page("message-detail", message.pk))):
        assert "No mail leaves this computer." not in text_of(told)


def test_a_file_of_another_message_is_not_found(browser):
    paper = files.keep_bytes(b"%PDF", file_id=uuid4(), name="a.pdf", media_type="application/pdf")
    a_sent_message(attachments=[paper])
    assert browser.get(page("message-attachment", a_sent_message().pk, paper.pk)).status_code == 404


def test_the_words_of_a_secret_message_are_shown_to_nobody(browser):
    """An archivist who read a coordinator's invitation could take it."""
    message = a_message(holds_secret=True)
    told = text_of(browser.get(page("message-detail", message.pk)))
    assert "https://history.example.org" not in told
    assert "shown to nobody else" in told


def test_a_secret_message_that_was_sent_says_to_invite_anew(browser):
    message = a_sent_message(holds_secret=True)
    answer = browser.get(page("message-detail", message.pk))
    assert page("people") in links_of(answer)
    assert page("message-send-again", message.pk) not in actions_of(answer)
    told = text_of(browser.post(page("message-send-again", message.pk), follow=True))
    assert "so it cannot be sent again. Invite them anew." in told
    message.refresh_from_db()
    assert message.state == MessageState.SENT


def test_it_came_back_is_noted_and_the_address_corrected(browser, mailoutbox):
    message = a_sent_message("marit@exmaple.org")
    browser.post(page("message-came-back", message.pk), {"told": "550 Host unknown"})
    answer = browser.get(page("message-detail", message.pk))
    assert "550 Host unknown" in text_of(answer)
    assert page("message-address", message.pk) in links_of(answer)
    browser.post(page("message-address", message.pk), {"to": "marit@example.org"})
    run_jobs(Kind.SEND_MESSAGE)
    assert [sent.to for sent in mailoutbox] == [["marit@exmaple.org"], ["marit@example.org"]]
    assert mailoutbox[0].body == mailoutbox[1].body


def test_a_refusal_is_told_at_the_form(browser):
    message = a_message()
    assert "Only a message that was sent can come back." in text_of(
        browser.post(page("message-came-back", message.pk), {"told": "x"})
    )
    assert "waiting to be sent" in text_of(browser.post(page("message-address", message.pk), {"to": "a@example.org"}))


def test_a_message_is_sent_again_with_a_click(browser, archivist, mailoutbox):
    message = a_bounced_message(archivist)
    assert page("message-send-again", message.pk) in actions_of(browser.get(page("message-detail", message.pk)))
    browser.post(page("message-send-again", message.pk))
    run_jobs(Kind.SEND_MESSAGE)
    assert len(mailoutbox) == 2


def test_staff_are_told_on_every_page_how_many_did_not_arrive(browser, archivist, volunteer):
    assert "did not arrive" not in text_of(browser.get(page("kits")))
    first = a_bounced_message(archivist)
    a_bounced_message(archivist)
    assert "Messages 2 did not arrive" in text_of(browser.get(page("kits")))
    browser.post(page("message-settle", first.pk))
    assert "Messages 1 did not arrive" in text_of(browser.get(page("kits")))
    assert "did not arrive" not in text_of(signed_in(volunteer).get(reverse("portal:home")))


def test_an_interviews_page_tells_of_its_own_message_that_did_not_arrive(browser, archivist):
    interview = an_interview(State.IN_REVIEW, reviewer=archivist)
    other = an_interview(State.IN_REVIEW, reviewer=archivist)
    send_back(interview.pk, message="Please name the second voice.", actor=archivist)
    run_jobs()
    message = Message.objects.get(key__startswith="decision-")
    mail.note_bounce(message.pk, told="550 No such user", actor=archivist)
    answer = browser.get(page("interview-detail", interview.pk))
    assert page("message-detail", message.pk) in links_of(answer)
    assert f"did not reach {interview.owner.email}. 550 No such user" in text_of(answer)
    assert "did not reach" not in text_of(browser.get(page("interview-detail", other.pk)))


def test_the_people_page_tells_of_an_invitation_that_did_not_arrive(browser, archivist, coordinator):
    for name in ("orla", "jonna"):
        invite(name=name, email=f"{name}@example.org", role="volunteer", actor=coordinator, url_for=lambda token: token)
    run_jobs()
    message = Message.objects.get(to="orla@example.org")
    mail.note_bounce(message.pk, told="550 No such user", actor=archivist)
    answer = browser.get(page("people"))
    assert f"{page('messages')}?state=needs-care&amp;words=orla%40example.org" in links_of(answer)
    assert not [link for link in links_of(answer) if "jonna" in link]


def test_a_message_is_seen_as_a_mail_program_shows_it_and_runs_nothing(browser):
    message = a_message()
    assert page("message-preview", message.pk) in links_of(browser.get(page("message-detail", message.pk)))
    answer = browser.get(page("message-preview", message.pk))
    assert f"<title>{message.subject}</title>" in answer.content.decode()
    assert '<a href="https://history.example.org/check/S-2/"' in answer.content.decode()
    policy = answer["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "sandbox" in policy
    assert "script-src" not in policy


def test_a_message_with_a_link_for_one_person_is_shown_to_nobody(browser):
    message = a_message(holds_secret=True)
    assert browser.get(page("message-preview", message.pk)).status_code == 404
