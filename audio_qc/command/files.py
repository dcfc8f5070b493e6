"""Finds the sound files that the command line names: files, folders, and wildcards that no shell has replaced."""

import glob
import os
from collections.abc import Iterator
from dataclasses import dataclass

# Of every kind that can be measured; a file that is named itself is measured whatever its ending.
ENDINGS = (
    ".wav", ".wave", ".bwf", ".rf64", ".bw64", ".w64", ".aif", ".aiff", ".aifc", ".au", ".snd", ".caf", ".flac",
    ".ogg", ".oga", ".opus", ".mp3", ".m4a", ".m4b", ".mp4", ".aac", ".3gp", ".3g2", ".amr", ".wma", ".webm", ".mka",
)  # fmt: skip


@dataclass(frozen=True)
class Named:
    """The files to measure, what was named in vain with the sentence why, and whether one single file was meant."""

    files: tuple[str, ...]
    refused: tuple[tuple[str, str], ...]
    single: bool


def named(arguments: list[str]) -> Named:
    """Return every file once, in the order of the command line, a folder's files by name."""
    files: dict[str, None] = {}
    refused = []
    for argument in arguments:
        found = list(_found(argument))
        if not found:
            refused.append((argument, _why_nothing(argument)))
        files.update(dict.fromkeys(found))
    return Named(tuple(files), tuple(refused), single=len(arguments) == 1 and list(files) == arguments)


def _found(argument: str) -> Iterator[str]:
    if os.path.isdir(argument):
        yield from _in_folder(argument)
    elif os.path.lexists(argument) or not glob.has_magic(argument):
        yield argument
    else:
        for path in sorted(glob.glob(argument, recursive=True)):
            yield from _in_folder(path) if os.path.isdir(path) else (path,)


def _in_folder(folder: str) -> Iterator[str]:
    """Hidden files are left out: they are notes that a system keeps beside the recordings, named alike."""
    for place, folders, names in os.walk(folder):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in sorted(names):
            if name.lower().endswith(ENDINGS) and not name.startswith("."):
                yield os.path.join(place, name)


def _why_nothing(argument: str) -> str:
    return "There is no sound file in this folder." if os.path.isdir(argument) else "No file has such a name."
