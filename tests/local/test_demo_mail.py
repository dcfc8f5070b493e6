"""The demo's page of sent mail, and that it stands nowhere else."""

from pathlib import Path
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import NoReverseMatch, reverse

from intake.files import services as files
from intake.local import sent_mail
from intake.mail import services as mail
from intake.people.services import accept_invitation, invite
from tests.access.routes import all_routes
from tests.factories import run_jobs, sha256
from tests.local.alone import manage
from tests.pages import links_of, text_of
from tests.web.pieces import HOSTILE, Page

pytestmark = pytest.mark.django_db
PAPER = b"%PDF-1.7 " + bytes(range(256)) * 50


@pytest.fixture
def as_in_the_demo(settings, tmp_path):
    settings.ROOT_URLCONF = "tests.local.demo_urls"
    settings.EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    settings.EMAIL_FILE_PATH = str(tmp_path / "mail")


def send(key: str = "k", name: str = "Marit", **given) -> None:
    context = {"name": name, "number": "S-2", "url": "https://history.example.org/check/S-2/"}
    mail.write(key=key, to="marit@example.org", template="release_copy", context=context, **given)
    run_jobs()


def the_page(browser: Client | None = None):
    return (browser or Client()).get(reverse("demo:mail"))


def test_anybody_follows_an_invitation_from_the_page(as_in_the_demo, coordinator):
    invite(
        name="Orla Finch",
        email="orla@example.org",
        role="volunteer",
        actor=coordinator,
        url_for=lambda token: f"http://testserver/welcome/{token}/",
    )
    run_jobs()
    answer = the_page()
    assert "To orla@example.org" in text_of(answer)
    (link,) = [link for link in links_of(answer) if "/welcome/" in link]
    assert Client().get(link).status_code == 200
    token = link.rstrip("/").rpartition("/")[2]
    assert accept_invitation(token, name="Orla", password="seven-otters-by-lantern").email == "orla@example.org"


def test_what_came_with_a_mail_can_be_taken_whole(as_in_the_demo):
    paper = files.keep_bytes(PAPER, file_id=uuid4(), name="Beleg über Öl.pdf", media_type="application/pdf")
    send(attachments=[paper])
    answer = the_page()
    assert "Beleg über Öl.pdf" in text_of(answer)
    (link,) = [link for link in links_of(answer) if link.endswith("/0/0/")]
    taken = Client().get(link)
    assert sha256(taken.content) == sha256(PAPER)
    assert taken["Content-Disposition"].startswith("attachment")
    assert taken["X-Content-Type-Options"] == "nosniff"


def test_the_newest_stands_first(as_in_the_demo):
    for number in (1, 2, 3):
        send(key=f"k{number}", name=f"Number {number}")
    told = text_of(the_page())
    assert told.index("Dear Number 3") < told.index("Dear Number 2") < told.index("Dear Number 1")


def test_what_was_typed_is_text_on_the_page(as_in_the_demo):
    send(name=HOSTILE)
    page = Page(the_page().content.decode())
    assert not page.all("img", src="x")
    assert HOSTILE in "".join(page.texts)


def test_the_html_stands_alone_without_scripts_forms_or_anything_loaded(as_in_the_demo):
    send(name=HOSTILE)
    (link,) = [link for link in links_of(the_page()) if link.endswith("/0/")]
    answer = Client().get(link)
    policy = dict(part.strip().partition(" ")[::2] for part in answer["Content-Security-Policy"].split(";"))
    assert policy["default-src"] == policy["form-action"] == policy["frame-ancestors"] == "'none'"
    assert policy["sandbox"] == ""
    assert "script-src" not in policy
    assert not Page(answer.content.decode()).all("img")


def test_several_mails_of_one_file_are_told_apart(as_in_the_demo, settings):
    for number in (1, 2):
        send(key=f"k{number}", name=f"Number {number}")
    contents = [path.read_bytes() for path in sent_mail.files()]
    for path in sent_mail.files():
        path.unlink()
    (Path(settings.EMAIL_FILE_PATH) / "both.log").write_bytes(b"".join(contents))
    assert [found.number for found in sent_mail.mails_in(sent_mail.files()[0])] == [0, 1]


@pytest.mark.parametrize("name", ["nothing", "..", "secret_key"])
def test_no_other_file_is_ever_opened(as_in_the_demo, settings, name):
    folder = Path(settings.EMAIL_FILE_PATH)
    folder.mkdir()
    (folder.parent / "secret_key").write_text("a secret")
    (folder / "secret_key").write_text("a secret")
    assert sent_mail.find(name, 0) is None
    assert Client().get(f"/demo-mail/{name}/0/").status_code == 404


def test_an_attachment_that_is_not_there_is_not_found(as_in_the_demo):
    send()
    (link,) = [link for link in links_of(the_page()) if link.endswith("/0/")]
    assert Client().get(f"{link}0/").status_code == 404


def test_the_sign_in_page_and_the_footer_lead_there_in_the_demo(as_in_the_demo, settings):
    settings.DEMO = True
    answer = Client().get(reverse("account_login"))
    assert answer.content.decode().count('href="/demo-mail/"') == 2


def test_it_stands_nowhere_but_in_the_demo():
    assert not [name for name in all_routes() if name.startswith("demo:")]
    with pytest.raises(NoReverseMatch):
        reverse("demo:mail")
    assert Client().get("/demo-mail/").status_code == 404
    assert "demo-mail" not in Client().get(reverse("account_login")).content.decode()


@pytest.mark.processes
@pytest.mark.parametrize(("settings_of", "expected"), [("demo", "/demo-mail/"), ("local", "no such route")])
def test_the_settings_alone_decide_whether_it_is_there(tmp_path, settings_of, expected):
    code = (
        "from django.urls import reverse, NoReverseMatch\n"
        "try: print(reverse('demo:mail'))\n"
        "except NoReverseMatch: print('no such route')"
    )
    told = {"VAR_DIR": str(tmp_path), "DJANGO_SETTINGS_MODULE": f"intake.settings.{settings_of}"}
    shell = manage("shell", "--no-imports", "--command", code, **told)
    assert shell.stdout.strip() == expected, shell.stderr
