"""`make chaos`: four gigabytes over loopback, undisturbed and with the web server killed three times on the way.

What it shows: the digest of what was stored is the one of what was sent; how much memory the web server takes at most;
and how fast it receives, as a ratio to `cp` and `sha256sum` of the same file in the same run.
"""

import argparse
import hashlib
import http.client
import os
import queue
import subprocess
import sys
import tempfile
import threading
import time
from base64 import b64encode
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from random import Random
from statistics import median
from urllib.parse import urlsplit

from tests.clients.conftest import Door
from tests.site import LiveSite, running_site

MIB = 1024**2
PIECE_BYTES = 16 * MIB  # as our own page sends them
KILLS = 3
ROUNDS = 3
MOST_MEMORY_MB = 200
LEAST_RATIO = 0.9
PATIENCE_SECONDS = 60


@dataclass(frozen=True)
class Piece:
    offset: int
    content: bytes
    checksum: str


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--gigabytes", type=float, default=4.0)
    told = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="chaos-") as folder, running_site() as site:
        path = _recording(Path(folder) / "TOLL0001.WAV", round(told.gigabytes * 1e9))
        return _show(site, path)


def _show(site: LiveSite, path: Path) -> int:
    size = path.stat().st_size
    peers, uploads = [], []
    for _ in range(ROUNDS):
        sha256, seconds = _copied_and_hashed(path)
        peers.append(seconds)
        seconds, [plain] = _timed(site, path, _send)
        uploads.append(seconds)
    killed, [stored] = _timed(site, path, _send_and_kill)
    ratio = median(peers) / median(uploads)
    memory_mb = max(_peaks_mb)
    _say(f"{size / 1e9:.2f} GB in pieces of {PIECE_BYTES / MIB:.0f} MiB, each with its SHA-256")
    _say(f"cp and sha256sum, {ROUNDS} times in turn with uploads: {_seconds(peers)}")
    _say(f"uploads undisturbed: {_seconds(uploads)}; with {KILLS} kills and starts: {_seconds([killed])}")
    verdicts = {
        "stored with the SHA-256 of what was sent": plain["sha256"] == sha256,
        f"killed {KILLS} times, stored with the SHA-256 of what was sent": stored["sha256"] == sha256,
        "each piece was verified, both copies were read back": stored["proven"] and stored["safe"],
        f"web server's memory at most {memory_mb:.0f} MB (aim: under {MOST_MEMORY_MB} MB)": memory_mb < MOST_MEMORY_MB,
        f"received at {ratio:.2f}x the speed of cp and sha256sum (aim: {LEAST_RATIO}x)": ratio >= LEAST_RATIO,
    }
    for sentence, holds in verdicts.items():
        _say(f"{'yes' if holds else 'NO'}: {sentence}")
    return 0 if all(verdicts.values()) else 1


def _seconds(figures: list[float]) -> str:
    return ", ".join(f"{seconds:.1f} s" for seconds in figures)


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")


def _recording(path: Path, size: int) -> Path:
    """Bytes that no disk can store in less room: a block of noise, turned a little further each time."""
    noise = Random(7).randbytes(PIECE_BYTES + 8192)
    with path.open("wb") as file:
        for number in range(-(-size // PIECE_BYTES)):
            start = number % 8192
            file.write(noise[start : start + min(PIECE_BYTES, size - number * PIECE_BYTES)])
    return path


def _copied_and_hashed(path: Path) -> tuple[str, float]:
    copy = path.with_suffix(".copy")
    began = time.monotonic()
    subprocess.run(["cp", path, copy], check=True)
    said = subprocess.run(["sha256sum", copy], check=True, capture_output=True, text=True).stdout
    seconds = time.monotonic() - began
    copy.unlink()
    return said.split()[0], seconds


def _timed(
    site: LiveSite, path: Path, work: Callable[[LiveSite, "_Sender"], None]
) -> tuple[float, list[dict[str, object]]]:
    """Seconds until all of it has been received; then what is stored, once that has come to its end."""
    door = Door(site)
    sender = _Sender(door, path)
    began = time.monotonic()
    work(site, sender)
    seconds = time.monotonic() - began
    _note_memory(site)
    return seconds, door.stored()


def _send(site: LiveSite, sender: "_Sender") -> None:
    sender.send()


def _send_and_kill(site: LiveSite, sender: "_Sender") -> None:
    """The sender goes on by itself whenever the server is there again. Each kill falls into the middle of a piece."""
    sending = threading.Thread(target=sender.send)
    sending.start()
    for number in range(1, KILLS + 1):
        while sender.sent < sender.size * number / (KILLS + 1):
            time.sleep(0.01)
        _note_memory(site)
        site.kill_web()
        site.start_web()
    sending.join()


_peaks_mb: list[float] = []


def _note_memory(site: LiveSite) -> None:
    """The most resident memory that any process of the web server has had, in MB (proc(5), VmHWM)."""
    for folder in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):  # it has ended since it was listed
            if os.getpgid(int(folder.name)) == site.web_group:
                told = dict(line.split(":", 1) for line in (folder / "status").read_text().splitlines())
                _peaks_mb.append(int(told["VmHWM"].removesuffix("kB")) * 1024 / 1e6)


class _Sender:
    """Sends as a browser does: the next piece is read and hashed while one is on its way."""

    def __init__(self, door: Door, path: Path) -> None:
        self.path, self.size, self.sent = path, path.stat().st_size, 0
        self._host = urlsplit(door.url).netloc
        self._address = self._begin(urlsplit(door.url).path)

    def send(self) -> None:
        while self.sent < self.size:
            try:
                self._send_from(self._offset())
            except (OSError, http.client.HTTPException):
                time.sleep(0.2)

    def _begin(self, path: str) -> str:
        described = ",".join(
            f"{key} {b64encode(value.encode()).decode()}"
            for key, value in {"filename": self.path.name, "filetype": "audio/wav"}.items()
        )
        answer = self._ask("POST", path, {"Upload-Length": str(self.size), "Upload-Metadata": described})
        assert answer.status == 201, answer.status
        return answer.headers["Location"]

    def _offset(self) -> int:
        answer = self._ask("HEAD", self._address, {})
        assert answer.status == 200, answer.status
        return int(answer.headers["Upload-Offset"])

    def _ask(self, method: str, address: str, headers: dict[str, str]) -> http.client.HTTPResponse:
        connection = http.client.HTTPConnection(self._host, timeout=PATIENCE_SECONDS)
        connection.request(method, address, headers={"Tus-Resumable": "1.0.0", **headers})
        answer = connection.getresponse()
        answer.read()
        connection.close()
        return answer

    def _send_from(self, offset: int) -> None:
        connection = http.client.HTTPConnection(self._host, timeout=PATIENCE_SECONDS)
        for piece in self._pieces(offset):
            connection.request(
                "PATCH",
                self._address,
                piece.content,
                {
                    "Tus-Resumable": "1.0.0",
                    "Content-Type": "application/offset+octet-stream",
                    "Upload-Offset": str(piece.offset),
                    "Upload-Checksum": f"sha256 {piece.checksum}",
                },
            )
            answer = connection.getresponse()
            answer.read()
            assert answer.status == 204, answer.status
            self.sent = int(answer.headers["Upload-Offset"])
        connection.close()

    def _pieces(self, offset: int) -> Iterator[Piece]:
        ready: queue.Queue[Piece | None] = queue.Queue(maxsize=1)
        reading = threading.Thread(target=self._read, args=(offset, ready), daemon=True)
        reading.start()
        while piece := ready.get():
            yield piece

    def _read(self, offset: int, ready: "queue.Queue[Piece | None]") -> None:
        with self.path.open("rb") as file:
            file.seek(offset)
            while content := file.read(PIECE_BYTES):
                checksum = b64encode(hashlib.sha256(content).digest()).decode()
                ready.put(Piece(offset, content, checksum))
                offset += len(content)
        ready.put(None)


if __name__ == "__main__":
    sys.exit(main())
