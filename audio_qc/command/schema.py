"""`python -m audio_qc schema`: the JSON Schema of what `--json` prints."""

import argparse
import json
import sys

from audio_qc.schema import schema


def main(arguments: list[str]) -> int:
    """Print the schema."""
    parser = argparse.ArgumentParser(
        prog="python -m audio_qc schema", description="Prints the JSON Schema (2020-12) of what --json prints."
    )
    parser.parse_args(arguments)
    sys.stdout.write(json.dumps(schema(), indent=1, ensure_ascii=False) + "\n")
    return 0
