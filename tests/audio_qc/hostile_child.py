"""The process that reads hostile files: names on its standard input, one JSON line for each on its standard output.

Decoders are C code: what crashes or hangs must be a process of its own, and its memory must be its own to be measured.
"""

import json
import os
import resource
import sys
import time
from pathlib import Path

from audio_qc import AudioQCError, report, salvage

ADDRESS_SPACE_BYTES = 3_000_000_000  # numba and the decoders map about a third of it; spares the machine, not the limit


def main() -> None:
    answers = os.fdopen(os.dup(1), "w")
    os.dup2(2, 1)  # whatever the libraries print goes elsewhere
    resource.setrlimit(resource.RLIMIT_AS, (ADDRESS_SPACE_BYTES, ADDRESS_SPACE_BYTES))
    for line in sys.stdin:
        answers.write(json.dumps(looked_at(Path(line.rstrip("\n")))) + "\n")
        answers.flush()


def looked_at(path: Path) -> dict[str, object]:
    """Measure the file and, where that is promised, salvage it; tell what came of it and what it cost."""
    began = time.process_time()
    outcome = _outcome(path)
    seconds = time.process_time() - began
    peak_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return {"outcome": outcome, "cpu_s": seconds, "peak_mb": peak_kb / 1000}


def _outcome(path: Path) -> str:
    copy = path.with_name("salvaged.wav")
    try:
        result = report(path)
        json.dumps(result.to_dict(), allow_nan=False)
        if result.measurement.salvageable:
            salvage(path, copy)
            return "salvaged"
    except AudioQCError as refused:
        return f"refused: {refused}"
    except BaseException as error:  # noqa: BLE001 - this is what the test looks for
        return f"crashed: {type(error).__name__}: {error}"
    finally:
        copy.unlink(missing_ok=True)
    return "measured"


if __name__ == "__main__":
    main()
