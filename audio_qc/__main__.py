"""`python -m audio_qc`: see `--help`, and audio_qc/command for what it does."""

import sys

from audio_qc.command import main

if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
