"""Files that are no recordings, are there already, do not fit, or go away: what the person at the screen reads."""

import re
from pathlib import Path

import av
import numpy as np
import pytest
import soundfile
from playwright.sync_api import Locator, Page, Route, expect

from tests.factories import a_wav
from tests.journeys.begun import at_their_interview
from tests.journeys.story import PATIENCE_MS, Story, choose

pytestmark = [pytest.mark.browser, pytest.mark.processes]
JPEG = b"\xff\xd8\xff\xe0\0\x10JFIF" + bytes(3000)
LOOKS_LIKE = {
    "IMG_0007.JPG": (JPEG, "a photograph"),
    "REC_0007.WAV": (JPEG, "a photograph"),
    "release.pdf": (b"%PDF-1.7\n" + bytes(300), "a document"),
    "all.zip": (b"PK\x03\x04" + bytes(300), "a packed folder or a document (ZIP)"),
    "notes.wav": ("Marit erzählt von der Fähre.\n".encode() * 40, "a text"),
}


def in_hand(page: Page, name: str) -> Locator:
    return page.locator("[data-upload-list] li", has_text=name)


def part(page: Page, name: str) -> Locator:
    return page.locator("#parts li", has_text=name)


def travelling(page: Page) -> list[str]:
    """The methods of requests that make or fill an upload, from now on."""
    told: list[str] = []
    page.on("request", lambda request: told.append(request.method) if "/uploads/" in request.url else None)
    return told


def written(folder: Path, name: str, content: bytes) -> Path:
    path = folder / name
    path.write_bytes(content)
    return path


HEADERS = {
    "wav.wav": ({"format": "WAV", "subtype": "PCM_24"}, "WAV, 48 kHz, 24 bit, stereo, 0:03."),
    "large.wav": ({"format": "RF64", "subtype": "PCM_24"}, "WAV, 48 kHz, 24 bit, stereo, 0:03."),
    "flac.flac": ({"format": "FLAC", "subtype": "PCM_16"}, "FLAC, 48 kHz, 16 bit, stereo, 0:03."),
    "ogg.ogg": ({"format": "OGG"}, "An Ogg file, compressed."),
}


def test_the_header_of_a_recording_is_read_before_a_byte_travels(
    story: Story, tmp_path: Path, console_errors: list[str]
) -> None:
    """Written by libsndfile, read by the browser alone: nothing is sent while the library cannot be reached."""
    page = at_their_interview(story)
    page.route("**/uploads/", lambda route: route.abort())
    sound = np.random.default_rng(1).normal(0, 0.1, (3 * 48_000, 2))
    for name, (how, _) in HEADERS.items():
        soundfile.write(tmp_path / name, sound, 48_000, **how)
    choose(page, *(tmp_path / name for name in HEADERS))
    for name, (_, told) in HEADERS.items():
        expect(in_hand(page, name)).to_contain_text(told)
        expect(in_hand(page, name)).to_contain_text("Sending it takes less than a minute at 5 Mbit/s.")
    console_errors.clear()  # the browser notes that nothing was sent


def test_an_mp3_is_asked_about_and_may_be_sent_all_the_same(story: Story, tmp_path: Path) -> None:
    page = at_their_interview(story)
    sent = travelling(page)
    with av.open(str(tmp_path / "talk.mp3"), "w", format="mp3") as container:
        stream = container.add_stream("libmp3lame", rate=44_100, bit_rate=64_000, layout="mono")
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 441_000), dtype=np.float32), format="fltp", layout="mono")
        frame.sample_rate = 44_100
        container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    choose(page, tmp_path / "talk.mp3")
    expect(in_hand(page, "talk.mp3")).to_contain_text("This is an MP3 at 64 kbit/s: was the recorder set to WAV?")
    expect(in_hand(page, "talk.mp3")).to_contain_text("MP3, 44.1 kHz, 64 kbit/s, mono, 0:10.")
    assert sent == []
    in_hand(page, "talk.mp3").get_by_role("button", name="Send it anyway talk.mp3").click()
    expect(part(page, "talk.mp3")).to_be_visible(timeout=PATIENCE_MS)


def test_what_is_surely_no_recording_is_asked_about_before_a_byte_travels(story: Story, tmp_path: Path) -> None:
    page = at_their_interview(story)
    sent = travelling(page)
    choose(page, *(written(tmp_path, name, content) for name, (content, _) in LOOKS_LIKE.items()))
    for name, (_, looks_like) in LOOKS_LIKE.items():
        expect(in_hand(page, name)).to_contain_text(f"This looks like {looks_like}, not like a recording.")
    in_hand(page, "IMG_0007.JPG").get_by_role("button", name="Leave it out IMG_0007.JPG").click()
    expect(in_hand(page, "IMG_0007.JPG")).to_have_count(0)
    expect(page.locator("#upload-files")).to_be_focused()
    assert sent == []
    in_hand(page, "REC_0007.WAV").get_by_role("button", name="Send it anyway REC_0007.WAV").click()
    row = part(page, "REC_0007.WAV")
    expect(row.get_by_text("This file could not be read as sound.")).to_be_visible(timeout=PATIENCE_MS)
    expect(row.get_by_text("take it out and choose the recording instead")).to_be_visible()


def test_a_recording_of_a_kind_nobody_knows_goes_without_a_question(story: Story, tmp_path: Path) -> None:
    page = at_their_interview(story)
    choose(page, written(tmp_path, "0001.ODD", b"ODD\x01\x02\x03" + bytes(range(256)) * 8))
    expect(in_hand(page, "0001.ODD").get_by_text("It has arrived.")).to_be_visible(timeout=PATIENCE_MS)


def test_the_same_file_again_is_asked_about_and_named_if_it_is_sent(story: Story, tmp_path: Path) -> None:
    page = at_their_interview(story)
    path = written(tmp_path, "TOLL0001.WAV", a_wav())
    choose(page, path)
    expect(in_hand(page, "TOLL0001.WAV").get_by_text("It has arrived.")).to_be_visible(timeout=PATIENCE_MS)
    page.reload()
    choose(page, path)
    row = in_hand(page, "TOLL0001.WAV")
    expect(row).to_contain_text("This file is in this interview already: part 1 has the same name and size.")
    row.get_by_role("button", name="Leave it out").click()
    expect(row).to_have_count(0)
    choose(page, path)
    row.get_by_role("button", name="Send it anyway").click()
    same = page.locator("#parts").get_by_text("The same recording as part 1.")
    expect(same).to_be_visible(timeout=3 * PATIENCE_MS)  # both are stored by then, behind other tests' work


def test_files_that_do_not_fit_together_are_refused_together_before_a_byte_travels(
    story: Story, tmp_path: Path
) -> None:
    page = at_their_interview(story)
    answer = {"room_bytes": 1_500_000, "own_bytes_left": None, "recordings": [], "unfinished": []}
    page.route("**/before-upload/", lambda route: _fulfil(route, answer))
    sent = travelling(page)
    files = [written(tmp_path, f"TOLL000{number}.WAV", b"RIFF" + bytes(1_000_000)) for number in (1, 2)]
    choose(page, *files)
    problem = page.get_by_role("alert")
    expect(problem).to_contain_text(
        "Together these files have 2.0 MB, and the library's disk has room for 1.5 MB just now."
    )
    expect(problem).to_contain_text("Nothing is lost and nothing has been sent")
    answer["room_bytes"], answer["own_bytes_left"] = 10**12, 1_500_000
    choose(page, *files)
    expect(problem).to_contain_text("you may hand in 1.5 MB more before the library has accepted some of it")
    assert sent == []
    choose(page, files[0])
    expect(problem).to_be_hidden()
    expect(in_hand(page, "TOLL0001.WAV").get_by_text("It has arrived.")).to_be_visible(timeout=PATIENCE_MS)


def test_a_file_taken_away_while_it_travels_is_told_and_goes_on_when_it_is_back(
    story: Story, tmp_path: Path, console_errors: list[str]
) -> None:
    """As when a card is pulled out: the browser cannot read on (NotReadableError or NotFoundError)."""
    page = at_their_interview(story)
    content = b"RIFF" + bytes(range(256)) * 160_000  # 41 MB: three pieces
    path = written(tmp_path, "LONG.WAV", content)
    taken_away: list[Path] = []

    def after_the_first_piece(route: Route) -> None:
        if route.request.method == "PATCH" and not taken_away:
            taken_away.append(path.rename(tmp_path / "elsewhere"))
        route.continue_()

    page.route("**/uploads/*/*/", after_the_first_piece)
    choose(page, path)
    row = in_hand(page, "LONG.WAV")
    expect(row).to_contain_text("The file can no longer be read. Please check that the card or disk is still connected")
    held = int(re.search(r'"offset": (\d+)', page.request.get(page.url).text()).group(1))
    offsets: list[int] = []
    page.on("request", lambda request: offsets.append(_offset(request)) if request.method == "PATCH" else None)
    taken_away[0].rename(path)
    choose(page, path)
    expect(row.get_by_text("It has arrived.")).to_be_visible(timeout=PATIENCE_MS)
    assert offsets[0] == held
    expect(page.locator("#parts li")).to_have_count(1)
    console_errors.clear()


def test_a_folder_is_not_taken_for_a_recording(story: Story, tmp_path: Path) -> None:
    page = at_their_interview(story)
    folder = tmp_path / "FOLDER01"
    folder.mkdir()
    sent = travelling(page)
    zone = page.locator("[data-upload-drop]").first
    zone.scroll_into_view_if_needed()
    box = zone.bounding_box()
    assert box is not None
    browser = page.context.new_cdp_session(page)
    for kind in ("dragEnter", "dragOver", "drop"):
        browser.send(
            "Input.dispatchDragEvent",
            {
                "type": kind,
                "x": box["x"] + 20,
                "y": box["y"] + 20,
                "data": {"items": [], "files": [str(folder)], "dragOperationsMask": 1},
            },
        )
    expect(in_hand(page, "FOLDER01")).to_contain_text(
        "This is a folder. Please open it and choose the recordings in it."
    )
    assert sent == []


def _fulfil(route: Route, answer: dict) -> None:
    route.fulfill(json=answer)


def _offset(request) -> int:
    return int(request.headers["upload-offset"])
