"""Serving the whole of a file or the one range that a player asks for: RFC 9110, section 14."""

import time
import urllib.request
from hashlib import sha256
from urllib.parse import parse_qs, urlsplit
from uuid import uuid4

import pytest

from intake.files import services, storage
from intake.web.ranges import serve, serve_from_outside

pytestmark = pytest.mark.django_db
CONTENT = bytes(range(256)) * 40  # 10240 bytes; RFC 9110 takes 10000 in its examples
SIZE = len(CONTENT)


@pytest.fixture
def file():
    return services.keep_bytes(CONTENT, file_id=uuid4(), name="Lindqvist – Teil 2.wav", media_type="audio/wav")


@pytest.fixture
def ask(file, rf):
    def answer(range_header: str | None = None, **headers):
        given = {} if range_header is None else {"range": range_header}
        return serve(rf.get("/", headers={**given, **headers}), file)

    return answer


def body(response) -> bytes:
    return b"".join(response.streaming_content)


def test_without_a_range_the_whole_is_sent(ask):
    response = ask()
    assert (response.status_code, body(response)) == (200, CONTENT)
    assert response["Content-Length"] == str(SIZE)
    assert response["Accept-Ranges"] == "bytes"
    assert "Content-Range" not in response


# The forms of RFC 9110, section 14.1.2: int-range (closed and open), suffix-range.
@pytest.mark.parametrize(
    ("asked", "first", "last"),
    [
        ("bytes=0-499", 0, 499),
        ("bytes=500-999", 500, 999),
        ("bytes=-500", SIZE - 500, SIZE - 1),
        ("bytes=9500-", 9500, SIZE - 1),
        ("bytes=0-0", 0, 0),
        ("bytes=-1", SIZE - 1, SIZE - 1),
        ("bytes=0-", 0, SIZE - 1),
        (f"bytes={SIZE - 1}-", SIZE - 1, SIZE - 1),
        # "if the value is greater than or equal to the current length ... interpreted as the remainder"
        (f"bytes=500-{SIZE + 500}", 500, SIZE - 1),
        # "If the selected representation is shorter ... the entire representation is used"
        (f"bytes=-{SIZE + 1}", 0, SIZE - 1),
        (f"bytes=0-{'9' * 18}", 0, SIZE - 1),
    ],
)
def test_a_range_is_answered_with_that_part(ask, asked, first, last):
    response = ask(asked)
    assert response.status_code == 206
    assert response["Content-Range"] == f"bytes {first}-{last}/{SIZE}"
    assert response["Content-Length"] == str(last - first + 1)
    assert body(response) == CONTENT[first : last + 1]


# Section 14.1.2 and 15.5.17: a range whose first position is at or past the end, or a suffix of length zero.
@pytest.mark.parametrize("asked", [f"bytes={SIZE}-", f"bytes={SIZE}-{SIZE + 5}", "bytes=-0", f"bytes={'9' * 18}-"])
def test_a_range_outside_the_file_cannot_be_satisfied(ask, asked):
    response = ask(asked)
    assert response.status_code == 416
    assert response["Content-Range"] == f"bytes */{SIZE}"


# Section 14.2: a server must ignore a Range with an invalid specifier, and may ignore one with a unit that it does not
# know; several ranges may be answered with the whole.
@pytest.mark.parametrize(
    "asked",
    [
        "",
        "bytes",
        "bytes=",
        "bytes=-",
        "bytes=abc",
        "bytes=5-2",
        "bytes=1.5-3",
        "bytes=--5",
        "bytes=+1-2",
        "bytes=٣-٤",
        "seconds=0-1",
        "bytes=0-1,5-6",
        f"bytes=0-{'9' * 30}",
        "0-499",
    ],
)
def test_a_range_that_is_not_understood_is_ignored(ask, asked):
    response = ask(asked)
    assert (response.status_code, body(response)) == (200, CONTENT)


# Section 13.1.5: strong comparison; a date, a weak tag or a list never matches, since none was given out.
@pytest.mark.parametrize(
    "condition", ['"something"', "W/{tag}", "{bare}", "{tag}, {tag}", "Sat, 14 Mar 2026 10:00:00 GMT"]
)
def test_a_range_on_condition_of_another_validator_is_ignored(ask, file, condition):
    given = condition.format(tag=f'"{file.sha256}"', bare=file.sha256)
    response = ask("bytes=0-1", **{"If-Range": given})
    assert (response.status_code, body(response)) == (200, CONTENT)


def test_a_player_goes_on_where_it_stopped_while_the_bytes_are_the_same(ask):
    tag = ask()["ETag"]
    response = ask("bytes=500-999", **{"If-Range": tag})
    assert (response.status_code, response["ETag"], body(response)) == (206, tag, CONTENT[500:1000])


def test_the_tag_is_the_digest_of_the_bytes(ask):
    """Section 8.8.3: a quoted string without the W/ of a weak one."""
    tag = f'"{sha256(CONTENT).hexdigest()}"'
    assert ask()["ETag"] == ask("bytes=0-1")["ETag"] == ask(f"bytes={SIZE}-")["ETag"] == tag


def test_head_gives_the_headers_of_the_whole_and_no_bytes(ask, file, rf):
    """Section 9.3.2; section 14.2: a Range counts with GET alone."""
    response = serve(rf.head("/", headers={"range": "bytes=0-1"}), file)
    assert (response.status_code, response.content) == (200, b"")
    whole = ask()
    for name in ("Content-Length", "Content-Type", "Content-Disposition", "Accept-Ranges", "ETag"):
        assert response[name] == whole[name]


def test_a_file_longer_than_one_block_is_sent_whole(rf):
    content = bytes(700_000)
    long = services.keep_bytes(content, file_id=uuid4(), name="long.wav", media_type="audio/wav")
    assert body(serve(rf.get("/"), long)) == content
    assert len(body(serve(rf.get("/", headers={"range": "bytes=1-600000"}), long))) == 600_000


def test_a_file_is_never_taken_for_a_page(ask):
    response = ask()
    assert response["X-Content-Type-Options"] == "nosniff"
    assert response["Content-Type"] == "audio/wav"
    assert response["Cache-Control"] == "private, no-store"


def test_a_file_keeps_its_name(file, rf):
    """RFC 6266: attachment to be kept, inline to be played; RFC 8187 for letters beyond ASCII."""
    request = rf.get("/")
    assert serve(request, file, download=True)["Content-Disposition"].startswith(
        "attachment; filename*=utf-8''Lindqvist"
    )
    assert serve(request, file)["Content-Disposition"].startswith("inline; ")


# Sent by others


def test_the_server_in_front_is_told_where_the_file_is(file, ask, settings):
    settings.FRONT_FILES = "/stored/"
    response = ask("bytes=0-9")
    assert response["X-Accel-Redirect"] == f"/stored/{file.key}"
    assert response["Content-Type"] == "audio/wav"
    assert "Lindqvist" in response["Content-Disposition"]
    assert response.content == b""


def test_a_file_whose_primary_copy_is_gone_is_sent_from_the_other_store(file, ask, settings):
    settings.FRONT_FILES = "/stored/"
    storage.remove("primary", file.key)
    response = ask()
    assert "X-Accel-Redirect" not in response
    assert body(response) == CONTENT


def test_what_strangers_hand_in_is_always_sent_by_ourselves(file, rf, settings):
    settings.FRONT_FILES = "/stored/"
    response = serve_from_outside(rf.get("/"), file)
    assert "sandbox" in response["Content-Security-Policy"]
    assert body(response) == CONTENT


def test_an_object_store_sends_it_by_a_link_with_ranges(object_stores, file, ask, settings):
    """Against a real S3-compatible server."""
    settings.SIGNED_LINK_SECONDS = 60
    response = ask("bytes=0-9")
    assert response.status_code == 302
    assert response["Cache-Control"] == "private, no-store"
    asked = urllib.request.Request(response["Location"], headers={"Range": "bytes=500-999"})
    with urllib.request.urlopen(asked) as answer:
        assert (answer.status, answer.read()) == (206, CONTENT[500:1000])
        assert "Lindqvist" in answer.headers["Content-Disposition"]
        assert answer.headers["Content-Type"] == "audio/wav"
    assert 50 < link_seconds(response["Location"]) <= 60


def link_seconds(link: str) -> float:
    """How long an S3 link opens its object, by its moment of expiry or its span (signature versions 2, 4).

    The server of the tests knows no accounts, so it opens expired links too.
    """
    told = parse_qs(urlsplit(link).query)
    return float(told["X-Amz-Expires"][0]) if "X-Amz-Expires" in told else float(told["Expires"][0]) - time.time()


def test_where_the_object_store_does_not_answer_the_other_store_gives_it(file, ask, settings, tmp_path):
    settings.SIGNED_LINK_SECONDS = 60
    gone = {"bucket_name": "gone", "endpoint_url": "http://127.0.0.1:9", "access_key": "any", "secret_key": "any"}
    primary = {"BACKEND": "storages.backends.s3.S3Storage", "OPTIONS": gone}
    settings.STORAGES = {**settings.STORAGES, "primary": primary}
    response = ask()
    assert (response.status_code, body(response)) == (200, CONTENT)


def test_head_is_answered_here(object_stores, file, rf, settings):
    settings.SIGNED_LINK_SECONDS = 60
    response = serve(rf.head("/"), file)
    assert (response.status_code, response["Content-Length"]) == (200, str(SIZE))
