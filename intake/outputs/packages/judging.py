"""Whether a folder is a valid bag: the `bagit` library's judgement, and what it lets pass (RFC 8493)."""

import codecs
import logging
import os
import re
from dataclasses import dataclass
from pathlib import Path

import bagit

# It would tell of every file that it reads; what it finds is told by the judgement.
logging.getLogger(bagit.__name__).setLevel(logging.CRITICAL)

DECLARED = re.compile(rb"BagIt-Version: (\d+)\.(\d+)\r?\n(?:Tag-File-Character-Encoding: *([!-~]+))?")
FIRST = (1, 0)  # from this version on the rules are RFC 8493's
MANIFEST = re.compile(r"manifest-([a-z0-9]+)\.txt", re.IGNORECASE)
LINE = re.compile(r"\*?(?P<digest>[0-9A-Fa-f]+)\s+\*?(?P<path>.+)")
FEW = 20


@dataclass(frozen=True)
class Judgement:
    """What was found, in sentences. Only `faults` make a bag invalid; `remarks` are worth knowing."""

    faults: tuple[str, ...]
    remarks: tuple[str, ...]

    @property
    def is_valid(self) -> bool:
        return not self.faults


def judge(folder: Path) -> Judgement:
    """Read every byte that the bag's manifests name, and hold all of it against the standard.

    What could lead a reader out of the folder is refused before the library looks at it.
    """
    remarks = ["Some of its files are to be fetched from elsewhere."] if (folder / "fetch.txt").is_file() else []
    faults = _declaration_faults(folder)
    if not faults:
        faults = _link_faults(folder) + _path_faults(folder)
    if not faults:
        faults = _manifest_faults(folder) + _library_faults(folder)
    return Judgement(tuple(faults), tuple(remarks))


def _declaration_faults(folder: Path) -> list[str]:
    try:
        declared = (folder / "bagit.txt").read_bytes()
    except OSError:
        return ["There is no bagit.txt, so this is not a bag."]
    version = DECLARED.match(declared)
    if version is None:
        return ["bagit.txt does not begin with its version as the standard writes it."]
    if (int(version[1]), int(version[2])) > FIRST:
        return [f"It declares version {int(version[1])}.{int(version[2])} of BagIt, which is not known here."]
    return []


def _link_faults(folder: Path) -> list[str]:
    return [
        f"“{path.relative_to(folder)}” is a link, and may lead out of the bag."
        for base, folders, names in os.walk(folder)
        for path in (Path(base) / name for name in [*folders, *names])
        if path.is_symlink()
    ]


def _path_faults(folder: Path) -> list[str]:
    """Paths that lead, or could lead on some computer, out of the bag (section 5.1)."""
    named = {path for manifest in _manifests(folder, "") + _manifests(folder, "tag") for path in _paths(manifest)}
    return [f"“{path}” leads out of the bag." for path in sorted(named) if _leads_out(path)]


def _leads_out(path: str) -> bool:
    steps = re.split(r"[/\\]", path)
    return ".." in steps or steps[0] == "" or steps[0].startswith("~") or re.match(r"[A-Za-z]:", path) is not None


def _manifest_faults(folder: Path) -> list[str]:
    """The library takes a file as told of if one manifest has it, and asks nothing of the manifests of tag files."""
    faults = []
    manifests = _manifests(folder, "")
    listed = {manifest.name: set(_paths(manifest)) for manifest in manifests}
    everything = set().union(*listed.values())
    if _declared(folder)[0] >= FIRST:
        for name, paths in listed.items():
            faults += [f"{name} does not list “{path}”, which another manifest lists." for path in everything - paths]
    for tags in _manifests(folder, "tag"):
        missing = {manifest.name for manifest in manifests} - set(_paths(tags))
        faults += [f"{tags.name} does not list {name}." for name in sorted(missing)]
    return faults[:FEW]


def _library_faults(folder: Path) -> list[str]:
    try:
        bagit.Bag(str(folder)).validate()
    except bagit.BagValidationError as error:
        return [str(detail) for detail in error.details][:FEW] or [str(error)]
    except (bagit.BagError, OSError, UnicodeError, LookupError, ValueError) as error:
        return [str(error)]
    return []


def _declared(folder: Path) -> tuple[tuple[int, int], str]:
    """The version, and the encoding of the other tag files; UTF-8 where none is named that we know."""
    declared = DECLARED.match((folder / "bagit.txt").read_bytes())
    assert declared is not None, "looked at before"
    try:
        encoding = codecs.lookup((declared[3] or b"utf-8").decode("ascii")).name
    except LookupError:
        encoding = "utf-8"
    return (int(declared[1]), int(declared[2])), "utf-8-sig" if encoding == "utf-8" else encoding


def _manifests(folder: Path, kind: str) -> list[Path]:
    """Payload manifests for kind "", those of tag files for "tag"."""
    return sorted(
        path
        for path in folder.iterdir()
        if path.name.lower().startswith(f"{kind}manifest-") and MANIFEST.fullmatch(path.name[len(kind) :])
    )


def _paths(manifest: Path) -> list[str]:
    _, encoding = _declared(manifest.parent)
    lines = manifest.read_bytes().decode(encoding, errors="replace").splitlines()
    found = [line["path"] for line in map(LINE.fullmatch, lines) if line]
    return [path.removeprefix("./") for path in found]
