"""`python -m audio_qc FILE` prints the report of one file as JSON.

Exit codes: 0 good or notes only, 1 something to look at, 2 the file cannot be measured.
"""

import argparse
import json
import sys

from audio_qc import AudioQCError, __version__, report, verdict
from audio_qc.finding import GOOD, NOTE


def main(arguments: list[str] | None = None) -> int:
    """Measure the file named on the command line; return the exit code."""
    parser = argparse.ArgumentParser(prog="python -m audio_qc", description="Measure a spoken recording; print JSON.")
    parser.add_argument("file", help="the sound file; it is only read")
    parser.add_argument("--version", action="version", version=__version__)
    file = parser.parse_args(arguments).file
    try:
        result = report(file)
    except AudioQCError as error:
        sys.stderr.write(f"{error}\n")
        return 2
    standing, sentence = verdict(result.findings)
    summary = {"standing": standing, "sentence": sentence}
    json.dump({"verdict": summary, **result.to_dict()}, sys.stdout, ensure_ascii=False, allow_nan=False, indent=1)
    sys.stdout.write("\n")
    return 0 if standing in (GOOD, NOTE) else 1


if __name__ == "__main__":
    sys.exit(main())
