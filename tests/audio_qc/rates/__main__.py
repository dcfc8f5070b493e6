"""Prints the tables: `python -m tests.audio_qc.rates [topic ...]`."""

import sys
from importlib import import_module

TOPICS = ("hum", "rumble", "lossy", "clipping", "dropouts", "polarity", "padding")


def main(topics: list[str]) -> None:
    """Print the tables of the named topics, of all when none is named."""
    for topic in topics or TOPICS:
        for text in import_module(f"tests.audio_qc.rates.{topic}").tables():
            print(text)  # noqa: T201


main(sys.argv[1:])
