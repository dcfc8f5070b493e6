"""Several files at once, each in a process."""

import multiprocessing
from pathlib import Path

from audio_qc import SPOKEN_INTERVIEW
from audio_qc.command.crew import CRASHED, outcomes


def test_a_process_that_crashes_costs_its_own_file_only(good_file: Path) -> None:
    killed: list[int] = []

    def watch(number: int, share: float | None) -> None:
        # Told when the file is open; loading the compiled code still takes a good part of a second.
        if not killed:
            killed.append(number)
            multiprocessing.active_children()[0].kill()

    files = (str(good_file),) * 3
    became = list(outcomes(files, SPOKEN_INTERVIEW, 1, watch))
    assert killed == [0]
    assert [one.error for one in became] == [CRASHED, "", ""]


def test_outcomes_come_in_the_order_of_the_files_and_no_process_stays(good_file: Path, tmp_path: Path) -> None:
    quick = tmp_path / "letter.wav"
    quick.write_text("Dear all,\n")
    files = (str(good_file), str(quick), str(good_file), str(quick))
    shares: dict[int, float | None] = {}
    became = list(outcomes(files, SPOKEN_INTERVIEW, 2, shares.__setitem__))
    assert [one.file for one in became] == list(files)
    assert [one.report is None for one in became] == [False, True, False, True]
    assert shares == dict.fromkeys(range(4), 1.0)
    assert not multiprocessing.active_children()
