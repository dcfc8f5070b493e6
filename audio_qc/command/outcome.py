"""What became of one file: its report, or the sentence why there is none."""

import sys
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from audio_qc.command.compiling import must_compile
from audio_qc.errors import AudioQCError
from audio_qc.finding import GOOD, LOOK_CLOSER, NOT_MEASURED, NOTE, PROBLEM, Finding
from audio_qc.measure import Report, report
from audio_qc.profile import Profile
from audio_qc.verdict import verdict
from audio_qc.version import __version__

Tell = Callable[[float | None], None]
UNEXPECTED = "This file met a mistake in the measuring program itself ({name}); please tell its makers."


WORST_FIRST = (PROBLEM, LOOK_CLOSER, NOTE, NOT_MEASURED, GOOD)


@dataclass(frozen=True)
class Outcome:
    """`error` is empty where there is a report."""

    file: str
    report: Report | None
    error: str = ""

    def verdict(self) -> tuple[str, str]:
        """Return standing and sentence; both empty where nothing was measured."""
        return verdict(self.report.findings) if self.report else ("", "")

    def findings(self) -> tuple[Finding, ...]:
        """Return the findings, the worst first; none where nothing was measured."""
        found = self.report.findings if self.report else ()
        return tuple(sorted(found, key=lambda finding: WORST_FIRST.index(finding.standing)))

    def exit_code(self) -> int:
        """Return 0, 1 or 2; of several files the highest counts."""
        if self.report is None:
            return 2
        return 0 if self.verdict()[0] in (GOOD, NOTE) else 1

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON object of one file, as report.schema.json describes it."""
        if self.report is None:
            return {"file": self.file, "error": self.error}
        standing, sentence = self.verdict()
        summary = {"standing": standing, "sentence": sentence}
        return {"audio_qc": __version__, "file": self.file, "verdict": summary, **self.report.to_dict()}


def measured(file: str, profile: Profile, tell: Tell) -> Outcome:
    """Measure one file; whatever goes wrong with it must not keep the others from being measured.

    `tell` gets the share done, None when code must be compiled first.
    """

    def told(share: float) -> None:
        # The first 0 comes when the file is open and the kernels are loaded, but not yet compiled.
        tell(None if share == 0.0 and must_compile() else share)

    try:
        return Outcome(file, report(file, profile, progress=told))
    except AudioQCError as error:
        return Outcome(file, None, str(error))
    except Exception as error:  # noqa: BLE001 - a mistake of ours: shown in full, and the next file goes on
        traceback.print_exc(file=sys.stderr)
        return Outcome(file, None, UNEXPECTED.format(name=type(error).__name__))
