"""Measures the technical quality of spoken recordings and judges it against a target profile.

`report(path)` reads a file once and gives back facts (`Measurement`) and opinions (`Finding`);
`salvage(path, target)` makes a copy of a damaged recording with a true header, `describe(path, target, texts)` one with
the same samples that says what it is. Nothing here knows anything of web sites or databases. Importing it is quick:
compiled code is loaded when the first sound is measured.
"""

from audio_qc.described import Loudness, Texts, describe
from audio_qc.errors import AudioQCError, NotDescribed, NotSalvaged, ProfileError, Unreadable
from audio_qc.facts.faults import Span
from audio_qc.facts.sound import LoudnessCurve
from audio_qc.finding import Finding
from audio_qc.judge import judge
from audio_qc.measure import Report, measure, report
from audio_qc.measurement import Measurement
from audio_qc.picture import draw_picture
from audio_qc.profile import SPOKEN_INTERVIEW, Profile, load_profile
from audio_qc.salvage import Salvaged, salvage
from audio_qc.samples import samples_digest
from audio_qc.verdict import verdict
from audio_qc.version import __version__

__all__ = [
    "SPOKEN_INTERVIEW",
    "AudioQCError",
    "Finding",
    "Loudness",
    "LoudnessCurve",
    "Measurement",
    "NotDescribed",
    "NotSalvaged",
    "Profile",
    "ProfileError",
    "Report",
    "Salvaged",
    "Span",
    "Texts",
    "Unreadable",
    "__version__",
    "describe",
    "draw_picture",
    "judge",
    "load_profile",
    "measure",
    "report",
    "salvage",
    "samples_digest",
    "verdict",
]
