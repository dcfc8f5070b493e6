"""Names that files come with, however they are meant: kept readable, shown harmlessly, never part of a path."""

import re
import unicodedata
from uuid import uuid4

import pytest
from django.core import mail as outbox
from django.test import RequestFactory
from hypothesis import given
from hypothesis import strategies as st

from intake.files import services, storage
from intake.files.uploads import plain_name
from intake.jobs.models import Kind
from intake.mail import services as mail
from intake.portal.views.tus_headers import BadHeader, metadata_of
from intake.web.ranges import _range, serve
from intake.workflow import accept, submit, take_up
from tests.factories import (
    a_part_arriving,
    a_part_stored,
    a_started_interview,
    a_wav,
    answer_everything,
    run_jobs,
    sign_everybody,
)
from tests.pages import signed_in, text_of

MARKUP = "<img src=x onerror=alert(1)>\"'&.wav"
HOSTILE = [
    ("../../../etc/passwd", "passwd"),
    ("C:\\card\\TOLL0007.WAV", "TOLL0007.WAV"),
    (MARKUP, MARKUP),
    ("invoice\u202evaw.exe", "invoicevaw.exe"),  # U+202E turns what follows around
    ("a\u2066b\u2069.wav", "ab.wav"),
    ("line\u2028one.wav", "lineone.wav"),
    ("\ufeffTOLL.wav", "TOLL.wav"),
    ("bell\x07\x1b[31m.wav", "bell[31m.wav"),
    ("n" * 300 + ".wav", "n" * 251 + ".wav"),
    ("   ", "unnamed"),
    ("\u3000\u00a0", "unnamed"),
    ("\u200d\u200c", "unnamed"),
    ("...", "unnamed"),
    (".hidden", ".hidden"),
    ("CON", "CON"),  # a reserved name elsewhere; it is never a path of ours
    ("NUL.wav", "NUL.wav"),
    ("🎙️ Marit 👩‍👧.wav", "🎙️ Marit 👩‍👧.wav"),
    ("Bjo\u0308rn.wav", "Björn.wav"),  # NFD becomes NFC
    ("می‌خواهم.wav", "می‌خواهم.wav"),
    ("渡し船の記憶.wav", "渡し船の記憶.wav"),
    ("%2e%2e%2fx.wav", "%2e%2e%2fx.wav"),
    ("a;filename=b.wav", "a;filename=b.wav"),
    ("x\r\nSet-Cookie: a=b.wav", "xSet-Cookie: a=b.wav"),
]
NAMES = [kept for _, kept in HOSTILE]


@pytest.mark.parametrize(("sent", "kept"), HOSTILE, ids=range(len(HOSTILE)))
def test_a_name_is_kept_as_a_name_alone(sent, kept):
    assert plain_name(sent) == kept


@given(st.text(max_size=600))
def test_whatever_comes_a_plain_name_is_short_printable_and_no_path(name):
    plain = plain_name(name)
    assert 0 < len(plain) <= 255
    assert "/" not in plain
    assert plain not in {".", ".."}
    assert not any(unicodedata.category(sign) in {"Cc", "Cs", "Zl", "Zp"} for sign in plain)
    assert not set(plain) & set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u200e\u200f")
    assert plain_name(plain) == plain
    plain.encode()


@given(st.text(alphabet=st.characters(max_codepoint=0x2FF), max_size=200))
def test_a_metadata_header_is_read_or_refused_and_never_breaks(header):
    try:
        metadata = metadata_of(RequestFactory().post("/", headers={"Upload-Metadata": header}))
    except BadHeader:
        return
    assert all(isinstance(value, str) for value in metadata.values())


@given(
    st.one_of(st.text(max_size=60), st.from_regex(r"bytes=\d{0,25}-\d{0,25}", fullmatch=True)), st.integers(0, 2**40)
)
def test_a_range_is_inside_the_file_or_none(header, size):
    wanted = _range(header, size)
    if wanted is not None and wanted[0] < wanted[1]:
        assert 0 <= wanted[0] < wanted[1] <= size


@pytest.mark.django_db
@pytest.mark.parametrize("name", NAMES, ids=range(len(NAMES)))
def test_where_a_file_lies_is_never_its_name(name):
    file = services.keep_bytes(b"x", file_id=uuid4(), name=name, media_type="audio/wav")
    assert re.fullmatch(r"[0-9a-f]{2}/[0-9a-f-]{36}(\.[a-z0-9]{1,8})?", file.key)
    assert storage.open_copy("replica", file.key).read() == b"x"


@pytest.mark.django_db
@pytest.mark.parametrize("name", NAMES, ids=range(len(NAMES)))
def test_a_download_carries_the_name_in_one_harmless_header(name):
    """RFC 6266, with RFC 8187 for what is beyond ASCII."""
    file = services.keep_bytes(b"x", file_id=uuid4(), name=name, media_type="audio/wav")
    header = serve(RequestFactory().get("/"), file, download=True)["Content-Disposition"]
    assert header.isascii()
    assert "\r" not in header
    assert "\n" not in header
    assert re.fullmatch(r"""attachment; filename(\*=utf-8''[\w%!#$&+.^`|~'()*-]+|="([^"\\]|\\.)*")""", header)


@pytest.mark.django_db
def test_pages_show_a_name_and_make_nothing_of_it(volunteer, archivist):
    interview = a_started_interview(volunteer, narrator=MARKUP, place=MARKUP, summary=MARKUP)
    part = a_part_stored(interview, name=MARKUP)
    a_part_arriving(interview, b"0123456789", name=MARKUP)
    run_jobs(Kind.MEASURE_PART)
    for who, address in (
        (volunteer, f"/interviews/{interview.pk}/"),
        (volunteer, f"/interviews/{interview.pk}/edit/"),
        (volunteer, f"/parts/{part.pk}/"),
        (volunteer, "/interviews/"),
        (archivist, f"/desk/interviews/{interview.pk}/"),
    ):
        page = signed_in(who).get(address).content.decode()
        assert "<img src=x" not in page, address
        assert "&lt;img src=x" in page, address


@pytest.mark.django_db
def test_a_letter_about_it_has_one_line_of_subject(volunteer):
    interview = a_started_interview(volunteer, narrator="Marit\r\nBcc: all@example.org")
    mail.write(
        key="x",
        to="marit@example.org",
        template="sent_back",
        context={"interview": interview, "message": MARKUP, "actor": volunteer, "url": "https://example.org"},
    )
    run_jobs(Kind.SEND_MESSAGE)
    (letter,) = outbox.outbox
    assert "\n" not in letter.subject
    assert letter.message()["Bcc"] is None
    assert MARKUP in letter.body  # plain text: nothing is made of it there


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["渡し船の記憶 🎙️.wav", MARKUP, "n" * 251 + ".wav"])
def test_a_receipt_is_made_of_any_name(volunteer, archivist, name):
    interview = a_started_interview(volunteer, narrator=name[:200], place=name[:200])
    a_part_stored(interview, a_wav(), name=name)
    run_jobs(Kind.MEASURE_PART)
    sign_everybody(interview)
    submit(interview.pk, actor=volunteer)
    take_up(interview.pk, actor=archivist)
    answer_everything(interview, archivist)
    accept(interview.pk, actor=archivist)
    run_jobs()
    paper = signed_in(volunteer).get(f"/interviews/{interview.pk}/receipt/")
    assert b"".join(paper.streaming_content).startswith(b"%PDF-")


@pytest.mark.django_db
def test_a_name_of_only_spaces_says_that_it_is_none(volunteer):
    interview = a_started_interview(volunteer)
    a_part_arriving(interview, b"0123456789", name="   ")
    assert "Part 1: unnamed" in text_of(signed_in(volunteer).get(f"/interviews/{interview.pk}/"))
