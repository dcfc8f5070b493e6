"""The pattern by which copies are named."""

import pytest

from intake.errors import Refused
from intake.library import services as libraries
from intake.library.naming import DEFAULT_PATTERN, faults_of, named
from intake.outputs.names import LONGEST, safe_name

KNOWN = {"date": "2026-03-14", "narrator": "Marit-Oskarsen", "part": "part-1", "place": "Toll-house"}


def test_the_pattern_to_begin_with_can_be_used():
    assert faults_of(DEFAULT_PATTERN) == []
    assert named(DEFAULT_PATTERN, KNOWN) == "2026-03-14_Marit-Oskarsen_part-1"


@pytest.mark.parametrize(
    ("pattern", "fault"),
    [
        ("{date}", "needs {part} once"),
        ("{part}{part}", "needs {part} once"),
        ("{part}_{password}", "“{password}” is not known here"),
        ("{part.__class__}", "is not known here"),
        ("{part!r}", "Nothing stands beside"),
        ("{part:>9999999}", "Nothing stands beside"),
        ("{part", "Every { needs its }"),
        ("a/{part}", "Use plain letters"),
        ("Ø{part}", "Use plain letters"),
    ],
)
def test_a_pattern_that_cannot_be_used_is_told_in_a_sentence(pattern, fault):
    assert any(fault in sentence for sentence in faults_of(pattern))


def test_what_is_not_known_leaves_no_gap():
    assert named("{accession}_{date}-_{part}", {"date": "2026", "part": "part-2"}) == "2026-part-2"


def test_the_coordinator_chooses_it(coordinator):
    libraries.number_by("OH-{sequence:03d}", copy_names="{accession}_{part}", actor=coordinator)
    assert libraries.current().copy_name_pattern == "{accession}_{part}"
    with pytest.raises(Refused, match="is not known here"):
        libraries.number_by("OH-{sequence:03d}", copy_names="{part}{year}", actor=coordinator)


# Names that every file system takes


@pytest.mark.parametrize(
    ("name", "safe"),
    [
        ("TOLL0007.WAV", "TOLL0007.WAV"),
        ("Bjørn Åse Sørlie.wav", "Bjorn-Ase-Sorlie.wav"),
        ("Łódź – Straße.flac", "Lodz-Strasse.flac"),
        ("Анна.mp3", "Anna.mp3"),
        ("../../etc/passwd", "etc-passwd"),
        ('a:b*c?d"e<f>g|h.wav', "a-b-c-d-e-f-g-h.wav"),
        (".hidden", "hidden"),
        ("ends with a dot.", "ends-with-a-dot"),
        ("Interview.14 March", "Interview.14-March"),
        ("CON.wav", "_CON.wav"),
        ("lpt1", "_lpt1"),
        ("\u202egnp.wav", "gnp.wav"),
        ("", "file"),
    ],
)
def test_a_name_is_made_plain(name, safe):
    """Reserved signs and names: Microsoft's "Naming Files, Paths, and Namespaces"; POSIX's portable file names."""
    assert safe_name(name) == safe


def test_a_name_is_never_too_long_and_keeps_its_ending():
    assert safe_name("x" * 300 + ".wav").endswith("x.wav")
    assert len(safe_name("x" * 300 + ".wav")) == LONGEST
