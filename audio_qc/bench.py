"""How fast this computer measures: `python -m audio_qc bench`.

Ratios are taken in one run, alternating, as medians, because a computer's speed changes from minute to minute: the
whole report of 20 minutes of 48 kHz/24-bit stereo against decoding alone and against ffmpeg's meter, memory over what
the imports take, and both again on four hours. Everything runs in a child process of its own, code compiled before.
"""

import argparse
import importlib
import json
import os
import pkgutil
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from rich.console import Console
from rich.progress import track
from rich.table import Table

from audio_qc import meters
from audio_qc.source import BLOCK_FRAMES

RATE_HZ = 48_000
PIECE_S = 10
SHORT_MINUTES, LONG_MINUTES = 20, 240
NOISE_RMS = 0.0008  # about -62 dBFS: a quiet room

# The figures to reach, and better ones to aim at.
DECODE_TARGET, DECODE_AIM = 3.0, 2.0
FFMPEG_TARGET, FFMPEG_AIM = 0.35, 0.25
MEMORY_TARGET_MB = 250.0
MEMORY_GROWTH_MB = 25.0  # what "the same at both lengths" allows: ten loudness figures a second, and chance
TIME_GROWTH = 1.15  # what "linear" allows of the time for each minute, for chance


# --- sound ---


def pieces(minutes: int) -> Iterator[np.ndarray]:
    """Yield speech-like stereo of ten seconds each, shape (frames, 2), the same on every computer and every time."""
    wave = _voice_wave()
    for number in range(minutes * 60 // PIECE_S):
        yield _piece(wave, np.random.default_rng(number))


def _voice_wave() -> np.ndarray:
    """Return one period of a buzz whose harmonics fall off as a voice's do."""
    phase = np.arange(4096) / 4096
    return sum((np.sin(2 * np.pi * h * phase) / h**1.3 for h in range(1, 25)), np.zeros(4096))


def _piece(wave: np.ndarray, chance: np.random.Generator) -> np.ndarray:
    frames = PIECE_S * RATE_HZ
    t = np.arange(frames) / RATE_HZ
    pitch_hz = chance.uniform(90, 220)
    turns = pitch_hz * t + 1.5 * np.sin(2 * np.pi * 0.4 * t)
    voice = wave[(turns * len(wave)).astype(np.int64) % len(wave)]
    said = 0.32 * voice * np.interp(t, *_phrases(chance))
    near, far = chance.uniform(0.8, 1.0), chance.uniform(0.45, 0.7)
    sound = chance.standard_normal((frames, 2)) * NOISE_RMS
    sound[:, 0] += near * said
    sound[:, 1] += far * np.roll(said, 40)  # the other microphone is 28 cm farther away
    return sound


def _phrases(chance: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Return times and levels of syllables, four a second and none as loud as the last, with pauses between phrases."""
    seconds = np.arange(0.0, PIECE_S + 0.125, 0.125)
    syllables = np.where(np.arange(len(seconds)) % 2, chance.uniform(0.3, 1.0, len(seconds)), 0.05)
    talking = np.repeat(chance.random(len(seconds) // 6 + 1) < 0.75, 6)[: len(seconds)]
    talking[[0, -1]] = False  # the pieces follow each other without a click
    return seconds, syllables * talking


def write_sound(path: Path, minutes: int, console: Console) -> None:
    """Write the recording piece by piece, with progress where there is a terminal."""
    count = minutes * 60 // PIECE_S
    with soundfile.SoundFile(path, "w", RATE_HZ, 2, subtype="PCM_24") as file:
        shown = track(
            pieces(minutes), f"Making {minutes} minutes of sound", count, console=console, transient=True,
            disable=not console.is_terminal,
        )  # fmt: skip
        for piece in shown:
            file.write(piece)


# --- what is measured, each in a child process ---


@dataclass(frozen=True)
class Taken:
    """What one child took: time on the clock, of all processors together, and memory over the imports."""

    seconds: float
    processor_s: float
    memory_mb: float


def decode(path: Path) -> None:
    """Read every sample as soundfile gives it, and do nothing with it."""
    with soundfile.SoundFile(path) as file:
        while len(file.read(BLOCK_FRAMES, dtype="float64", always_2d=True)):
            pass


def whole_report(path: Path) -> None:
    """Measure and judge, and make the data that is stored."""
    from audio_qc import report  # noqa: PLC0415 - the children that only decode must not load it

    report(path).to_dict()


CHILDREN: dict[str, Callable[[Path], None]] = {"decode": decode, "report": whole_report}


def child(kind: str, path: Path, warm: Path) -> dict[str, float]:
    """Do one thing once, after a short recording has loaded the compiled code; runs in a process of its own."""
    if kind == "report":
        for module in pkgutil.iter_modules(meters.__path__):
            importlib.import_module(f"{meters.__name__}.{module.name}")  # with numba and scipy
    imports_mb = _peak_mb()
    CHILDREN[kind](warm)
    began, processor_began = time.perf_counter(), time.process_time()
    CHILDREN[kind](path)
    return {
        "seconds": time.perf_counter() - began,
        "processor_s": time.process_time() - processor_began,
        "memory_mb": _peak_mb() - imports_mb,
    }


def _peak_mb() -> float:
    """Return the most memory that this process has ever held; Linux counts in KiB, macOS in bytes."""
    unit = 1 if sys.platform == "darwin" else 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / 1e6


def taken(kind: str, path: Path, warm: Path) -> Taken:
    """Run one child and return what it took."""
    command = [sys.executable, "-m", "audio_qc.bench", "--child", kind, str(path), str(warm)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)  # noqa: S603 - this module itself
    return Taken(**json.loads(done.stdout))


def ffmpeg_seconds(path: Path) -> float | None:
    """Return how long ffmpeg takes for loudness and true peak alone, None where there is no ffmpeg."""
    program = shutil.which("ffmpeg")
    if program is None:
        return None
    command = [
        program,
        "-nostdin",
        "-loglevel",
        "error",
        "-i",
        str(path),
        "-af",
        "ebur128=peak=true",
        "-f",
        "null",
        "-",
    ]
    began = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True)  # noqa: S603 - a fixed command on a file of ours
    return time.perf_counter() - began


# --- the table ---


@dataclass(frozen=True)
class Row:
    """One line of the result; `met` is None where there is nothing to reach."""

    title: str
    value: str
    target: str = ""
    met: bool | None = None


def at_most(title: str, value: float, unit: str, target: float, aim: float | None = None) -> Row:
    """Hold a figure against its target."""
    said = f"at most {target:g}{unit}" + (f", aim {aim:g}{unit}" if aim is not None else "")
    return Row(title, f"{value:.2f}{unit}" if unit == " x" else f"{value:.0f}{unit}", said, value <= target)


def short_rows(path: Path, warm: Path, rounds: int, console: Console) -> tuple[list[Row], Taken]:
    """Time report, decoding and ffmpeg in turn, as often as `rounds` says."""
    decodes, reports, ffmpegs = [], [], []
    for number in range(rounds):
        with console.status(f"Round {number + 1} of {rounds}"):
            decodes.append(taken("decode", path, warm).seconds)
            reports.append(taken("report", path, warm))
            ffmpegs.append(ffmpeg_seconds(path))
    whole = statistics.median(one.seconds for one in reports)
    processor = statistics.median(one.processor_s for one in reports)
    memory_mb = max(one.memory_mb for one in reports)
    rows = [
        Row("soundfile decodes alone", f"{statistics.median(decodes):.2f} s"),
        Row("the whole report", f"{whole:.2f} s"),
        Row("its processor time", f"{processor:.2f} s"),
        at_most("report to decoding", whole / statistics.median(decodes), " x", DECODE_TARGET, DECODE_AIM),
    ]
    timed = [one for one in ffmpegs if one is not None]
    if timed:
        rows.append(Row("ffmpeg ebur128=peak=true", f"{statistics.median(timed):.2f} s"))
        rows.append(at_most("report to ffmpeg", whole / statistics.median(timed), " x", FFMPEG_TARGET, FFMPEG_AIM))
    else:
        rows.append(Row("ffmpeg ebur128=peak=true", "not on this computer"))
    rows.append(at_most("memory over the imports", memory_mb, " MB", MEMORY_TARGET_MB))
    return rows, Taken(whole, processor, memory_mb)


def long_rows(path: Path, warm: Path, short: Taken, console: Console) -> list[Row]:
    """Measure the long recording once and compare."""
    with console.status(f"Measuring {LONG_MINUTES // 60} hours"):
        long = taken("report", path, warm)
    # Of the processors' time, because other work on the computer stretches a longer run in its own way.
    growth = (long.processor_s / LONG_MINUTES) / (short.processor_s / SHORT_MINUTES)
    return [
        Row(f"the whole report, {LONG_MINUTES // 60} hours", f"{long.seconds:.1f} s"),
        at_most("processor time a minute, to that at 20", growth, " x", TIME_GROWTH),
        at_most(f"memory, {LONG_MINUTES // 60} hours", long.memory_mb, " MB", MEMORY_TARGET_MB),
        at_most("memory more than at 20", long.memory_mb - short.memory_mb, " MB", MEMORY_GROWTH_MB),
    ]


def shown(rows: list[Row], title: str) -> Table:
    """Return the table to print; its last two columns only where there is something to reach."""
    table = Table("", "here", title=title, title_justify="left")
    table.columns[1].justify = "right"
    if any(row.target for row in rows):
        table.add_column("target")
        table.add_column("")
    for row in rows:
        cells = (row.title, row.value, row.target, {None: "", True: "met", False: "missed"}[row.met])
        table.add_row(*cells[: len(table.columns)])
    return table


# --- what each meter costs ---


def meter_rows(path: Path) -> list[Row]:
    """Return the processor time of each meter over one recording, one after the other, without decoding."""
    from audio_qc.measure import Meters  # noqa: PLC0415 - loads numba

    spent: dict[str, float] = {}
    for _ in range(2):  # the first time loads the compiled code
        spent = _spent(Meters(RATE_HZ, 2, "PCM_24"), path)
    total = sum(spent.values())
    rows = [Row(name, f"{seconds:.3f} s") for name, seconds in sorted(spent.items(), key=lambda one: -one[1])]
    return [*rows, Row("all", f"{total:.3f} s")]


def _spent(every: Any, path: Path) -> dict[str, float]:
    named = {name: meter for name, meter in vars(every).items() if hasattr(meter, "add")}
    spent = dict.fromkeys(named, 0.0)
    for block in soundfile.blocks(path, BLOCK_FRAMES, dtype="float64", always_2d=True):
        planar = np.ascontiguousarray(block.T)
        for name, meter in named.items():
            began = time.process_time()
            meter.add(planar)
            spent[name] += time.process_time() - began
    began = time.process_time()
    every.results()
    return {**spent, "results": time.process_time() - began}


# --- the command ---


def main(arguments: list[str]) -> int:
    """Make the sound, measure, print the table; 0 if every target is met, else 1."""
    parser = argparse.ArgumentParser(
        prog="python -m audio_qc bench", description="Says how fast this computer measures."
    )
    parser.add_argument("--short", action="store_true", help="leave the four-hour recording out (4.2 GB for a while)")
    parser.add_argument("--meters", action="store_true", help="only what each meter costs")
    parser.add_argument("--rounds", type=int, default=3, metavar="N", help="how often each is timed; 3 unless given")
    parser.add_argument("--child", nargs=3, help=argparse.SUPPRESS)
    options = parser.parse_args(arguments)
    if options.child:
        kind, path, warm = options.child
        sys.stdout.write(json.dumps(child(kind, Path(path), Path(warm))))
        return 0
    with tempfile.TemporaryDirectory(prefix="audio_qc-bench-") as folder:
        return _run(Path(folder), options)


def _busy() -> str:
    """Return a warning where other work takes the cores that the lanes of a report share."""
    load = os.getloadavg()[0]
    return (
        f"The computer is busy with other work (load {load:.1f}): the ratios come out too high." if load > 1.0 else ""
    )


def _run(folder: Path, options: argparse.Namespace) -> int:
    console, waiting = Console(), Console(stderr=True)
    busy = _busy()
    warm, short = folder / "warm.wav", folder / "short.wav"
    soundfile.write(warm, next(pieces(1)), RATE_HZ, "PCM_24")
    write_sound(short, SHORT_MINUTES, waiting)
    if options.meters:
        console.print(shown(meter_rows(short), f"Processor time of each meter, {SHORT_MINUTES} minutes of stereo"))
        return 0
    taken("report", warm, warm)  # compiles, where that has not been done
    rows, first = short_rows(short, warm, max(1, options.rounds), waiting)
    if not options.short:
        long = folder / "long.wav"
        write_sound(long, LONG_MINUTES, waiting)
        rows += long_rows(long, warm, first, waiting)
    console.print(shown(rows, f"{SHORT_MINUTES} minutes, 48 kHz, 24 bits, stereo"))
    if busy:
        console.print(busy)
    return 1 if any(row.met is False for row in rows) else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
