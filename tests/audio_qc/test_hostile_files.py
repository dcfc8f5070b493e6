"""Whatever bytes a stranger sends: a report or a refusal in a sentence, in bounded time and memory.

`AUDIO_QC_HOSTILE_FILES=60000 pytest tests/audio_qc/test_hostile_files.py` looks at more of them.
"""

import os
import random
import signal
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.audio_qc.hostile import Reader, damaged, whole_files

EXAMPLES = int(os.environ.get("AUDIO_QC_HOSTILE_FILES", "800"))
MOST_CPU_S = 2.0
MOST_MEMORY_MB = 300  # over what the process has once it has measured a good file of every kind
WHOLE = whole_files()
OTHERS = list(WHOLE.values())


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("hostile")


class Looking:
    """A reader that has measured every whole file, so that what it costs to load and compile is not counted."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.reader, self.at_first_mb = folder, Reader(), 0.0
        self.warm_up()

    def warm_up(self) -> None:
        for name, content in WHOLE.items():
            path = self.folder / name
            path.write_bytes(content)
            answer = self.reader.read(path)
            assert answer.outcome == "measured", (name, answer)
            self.at_first_mb = answer.peak_mb

    def must_end_well(self, content: bytes, told: str) -> None:
        path = self.folder / "hostile"
        path.write_bytes(content)
        answer = self.reader.read(path)
        well = answer.outcome in ("measured", "salvaged") or (
            answer.outcome.startswith("refused: ") and answer.outcome.endswith(".")
        )
        if well and answer.cpu_s <= MOST_CPU_S and answer.peak_mb <= self.at_first_mb + MOST_MEMORY_MB:
            return
        kept = self.folder / f"found-{abs(hash(content))}"
        kept.write_bytes(content)
        self.reader.close()
        self.warm_up()
        raise AssertionError(f"{told}, kept as {kept}: {answer}, at first {self.at_first_mb:.0f} MB")


@pytest.fixture(scope="module")
def looking(folder: Path) -> Iterator[Looking]:
    looking = Looking(folder)
    yield looking
    looking.reader.close()


@settings(
    max_examples=EXAMPLES,
    deadline=None,
    database=None,
    suppress_health_check=[HealthCheck.too_slow],
    report_multiple_bugs=True,
)
@given(kind=st.sampled_from(sorted(WHOLE)), seed=st.integers(0, 2**64))
def test_a_damaged_file_of_any_kind_ends_in_a_report_or_a_refusal(looking: Looking, kind: str, seed: int) -> None:
    looking.must_end_well(damaged(WHOLE[kind], OTHERS, random.Random(seed)), f"{kind} {seed}")


BEGINNINGS = [content[:size] for content in OTHERS for size in (4, 12, 16, 44, 200)]


@settings(max_examples=EXAMPLES // 4, deadline=None, database=None)
@given(beginning=st.sampled_from(BEGINNINGS), rest=st.binary(max_size=3_000))
def test_random_bytes_behind_any_beginning_end_in_a_report_or_a_refusal(
    looking: Looking, beginning: bytes, rest: bytes
) -> None:
    looking.must_end_well(beginning + rest, "random bytes")


def test_a_crash_and_a_hang_would_be_noticed_and_the_next_file_read_all_the_same(folder: Path) -> None:
    path = folder / "whole.wav"
    path.write_bytes(WHOLE["wav"])
    for sign, outcomes in ((signal.SIGSEGV, ("died", "died before this file")), (signal.SIGSTOP, ("hung",))):
        reader = Reader(answer_within_s=30)
        assert reader.read(path).outcome == "measured"
        assert reader.process is not None
        reader.process.send_signal(sign)
        reader.answer_within_s = 1
        assert reader.read(path).outcome in outcomes
        reader.answer_within_s = 30
        answer = reader.read(path)
        assert answer.outcome == "measured"
        assert answer.peak_mb > 50
        reader.close()
