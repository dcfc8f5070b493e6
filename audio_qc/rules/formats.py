"""Judges what kind of file it is, how it is built and what the recorder wrote into it."""

from audio_qc.facts.file import Format, StructureNote
from audio_qc.finding import GOOD, LOOK_CLOSER, NOT_MEASURED, NOTE, PROBLEM, Finding
from audio_qc.measurement import Measurement
from audio_qc.profile import Profile
from audio_qc.rules.words import counted

UNCODED = ("PCM_S8", "PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE")
LOSSLESS = (*UNCODED, "ALAC", "ALAC_16", "ALAC_20", "ALAC_24", "ALAC_32", "FLAC", "WMA_LOSSLESS")
WAV_KINDS = ("WAV", "WAVEX", "RF64")
CONTAINER_NAMES = {"WAVEX": "WAV", "RF64": "WAV (RF64)", "OGG": "Ogg"}
SUBTYPE_NAMES = {
    "PCM_S8": "PCM", "PCM_U8": "PCM", "PCM_16": "PCM", "PCM_24": "PCM", "PCM_32": "PCM", "FLOAT": "float",
    "DOUBLE": "float",
    "ULAW": "mu-law", "ALAW": "A-law", "VORBIS": "Vorbis", "OPUS": "Opus", "MPEG_LAYER_III": "MP3",
    "ALAC_16": "ALAC", "ALAC_20": "ALAC", "ALAC_24": "ALAC", "ALAC_32": "ALAC", "SPEEX": "Speex",
    "AMR_NB": "AMR narrow-band", "AMR_WB": "AMR wide-band", "WMA_LOSSLESS": "WMA lossless", "WMA_PRO": "WMA Pro",
}  # fmt: skip


def judge_format(measurement: Measurement, profile: Profile) -> tuple[Finding, ...]:
    """Uncompressed WAV at the preferred rate and word length is good; less is a note, coded sound looks closer."""
    facts = measurement.format
    code, standing, volunteer = _format_opinion(facts, profile)
    return (
        Finding(
            code=code,
            measure="format",
            standing=standing,
            title="File format",
            value=facts.sample_rate_hz / 1000,
            unit="kHz",
            limit=f"WAV, {profile.preferred_rate.value / 1000:g} kHz, {profile.preferred_bits.value:g} bits preferred",
            source=profile.preferred_rate.reason + " " + profile.accepted_rate.reason,
            volunteer=volunteer,
            archivist=f"{describe(facts)}, {facts.frames} frames, {facts.file_bytes} bytes.",
        ),
    )


def describe(facts: Format) -> str:
    """Return the format in one line: "WAV PCM, 48 kHz, 24 bits, 2 channels"."""
    container = CONTAINER_NAMES.get(facts.container, facts.container)
    coding = SUBTYPE_NAMES.get(facts.subtype, facts.subtype.replace("_", " "))
    bits = f", {facts.bits_per_sample} bits" if facts.bits_per_sample else ""
    kind = container if coding == container else f"{container} {coding}"
    return f"{kind}, {facts.sample_rate_hz / 1000:g} kHz{bits}, {counted(facts.channels, 'channel', 'channels')}"


def _format_opinion(facts: Format, profile: Profile) -> tuple[str, str, str]:
    bits = facts.bits_per_sample or 0
    if facts.subtype not in LOSSLESS:
        return (
            "format-compressed",
            LOOK_CLOSER,
            "This file is compressed and part of its sound is gone for good; next time set the recorder to WAV.",
        )
    if facts.sample_rate_hz < profile.accepted_rate.value or bits < profile.accepted_bits.value:
        return (
            "format-low",
            LOOK_CLOSER,
            "This file holds less detail than a voice deserves; next time set the recorder to WAV, 48 kHz and 24 bits.",
        )
    if facts.sample_rate_hz < profile.preferred_rate.value or bits < profile.preferred_bits.value:
        return (
            "format-accepted",
            NOTE,
            "This format is fine to keep; next time 48 kHz and 24 bits give a little more room for quiet voices.",
        )
    if facts.container not in WAV_KINDS:
        return (
            "format-not-wav",
            NOTE,
            "The sound is whole, in a file that is not WAV; next time set the recorder to WAV if it has the choice.",
        )
    return "format-preferred", GOOD, "The recorder was set just right: keep it so."


def judge_resolution(measurement: Measurement, profile: Profile) -> tuple[Finding, ...]:
    """Low bits that are never used were padded: the sound has no more detail than the bits that are."""
    used, bits = measurement.resolution.used_bits, measurement.format.bits_per_sample or 0
    if used is None:
        return (_resolution("resolution-not-measured", NOT_MEASURED, None, UNKNOWN, measurement, profile),)
    if used >= min(bits, profile.preferred_bits.value):
        return (_resolution("bits-used", GOOD, used, "The samples use all the bits they have.", measurement, profile),)
    standing = LOOK_CLOSER if used < profile.accepted_bits.value else NOTE
    words = (
        f"This file has room for {bits} bits and its sound only fills {used}; nothing is lost, and next time a "
        "recorder set to 24 bits gives quiet voices more room."
    )
    return (_resolution("bits-padded", standing, used, words, measurement, profile),)


UNKNOWN = "How finely the samples are stepped could not be told."


def _resolution(
    code: str, standing: str, used: int | None, words: str, measurement: Measurement, profile: Profile
) -> Finding:
    reason = measurement.resolution.reason
    return Finding(
        code=code,
        measure="resolution",
        standing=standing,
        title="True resolution",
        value=None if used is None else float(used),
        unit="bits",
        limit=f"every bit of the word, up to {profile.preferred_bits.value:g}",
        source=profile.preferred_bits.reason,
        volunteer=words,
        archivist=reason or f"{used} of {measurement.format.bits_per_sample} bits are used.",
        reason=reason,
    )


STRUCTURE = {
    "truncated": (
        PROBLEM,
        "The end of this file is missing: what arrived was measured, so please copy it from the recorder again.",
    ),
    "damaged": (
        PROBLEM,
        "Part of this file is damaged and cannot be played: please copy it from the recorder again.",
    ),
    "size-not-set": (
        LOOK_CLOSER,
        "The recorder never finished this file, as when a battery dies: the sound is there, so listen to its end.",
    ),
    "format-changes": (
        PROBLEM,
        "This recording changes its kind on the way, and only its first stretch was measured: please ask us for help.",
    ),
    "size-too-small": (
        LOOK_CLOSER,
        "The recorder did not finish this file, as when a battery dies: the sound is there, so listen to its end.",
    ),
    "size-wrapped": (
        NOTE,
        "This recording is longer than its file can tell; all of it was measured, next time let the recorder split it.",
    ),
    "no-riff-id": (
        LOOK_CLOSER,
        "The first bytes of this file are damaged, and the sound was found: please copy it from the recorder again.",
    ),
    "fmt-wrong": (
        LOOK_CLOSER,
        "This file's description of its sound is damaged: listen to some of it, and copy it from the recorder again.",
    ),
    "junk-before-sound": (
        LOOK_CLOSER,
        "Stray bytes stand before the sound in this file: listen to its beginning, and copy it from the recorder anew.",
    ),
    "no-pad-byte": (NOTE, "The recorder left out a byte that players may look for; the sound is whole."),
    "no-ds64": (
        LOOK_CLOSER,
        "The file lacks a note of its own length, which very long recordings need: listen to its end.",
    ),
    "unusable-samples": (
        LOOK_CLOSER,
        "Some moments of this file are damaged and were taken as silence: please copy it from the recorder again.",
    ),
    "trailing-bytes": (NOTE, "Something that is not sound follows the recording in the file; nothing needs doing."),
}


def judge_structure(measurement: Measurement, profile: Profile) -> tuple[Finding, ...]:
    """One finding for each structure note, one good one when there is none."""
    if not measurement.structure:
        return (
            Finding(
                code="structure-whole",
                measure="structure",
                standing=GOOD,
                title="File structure",
                volunteer="The file is whole from beginning to end.",
                archivist="Sizes in the header agree with the file; every sample could be read.",
            ),
        )
    return tuple(_structure_finding(note, salvageable=measurement.salvageable) for note in measurement.structure)


def _structure_finding(note: StructureNote, *, salvageable: bool) -> Finding:
    standing, volunteer = STRUCTURE[note.code]
    remedy = " A salvaged copy with a true header can be made." if salvageable and standing != NOTE else ""
    return Finding(
        code=note.code,
        measure="structure",
        standing=standing,
        title="File structure",
        limit="a whole file",
        source="RIFF and EBU Tech 3306 for the sizes in the header.",
        volunteer=volunteer,
        archivist=note.detail + remedy,
    )


def judge_marks(measurement: Measurement, profile: Profile) -> tuple[Finding, ...]:
    """Marks are told, never judged."""
    count = len(measurement.marks)
    labelled = sum(1 for mark in measurement.marks if mark.label)
    said = counted(count, "mark", "marks") if count else "no marks"
    return (
        Finding(
            code="marks-found" if count else "marks-none",
            measure="marks",
            standing=GOOD,
            title="Recorder's marks",
            value=float(count),
            unit="marks",
            volunteer=f"The recorder left {said} in the file" + (": they are on the sound strip." if count else "."),
            archivist=f"Cue points inside the sound: {count}, of which {labelled} with a label.",
        ),
    )
