"""Judges loudness, peaks, DC offset and digital silence."""

from audio_qc.facts.faults import Span
from audio_qc.finding import GOOD, LOOK_CLOSER, NOT_MEASURED, NOTE, PROBLEM, Finding
from audio_qc.measurement import Measurement
from audio_qc.profile import Profile
from audio_qc.rules.words import channel_name, clock, counted, listed, places, seconds_text

LOUDNESS_SOURCE = (
    "ITU-R BS.1770-5, EBU Tech 3341 and 3342; delivery targets are for finished programmes, so none is applied."
)


def judge_loudness(measurement: Measurement, profile: Profile) -> tuple[Finding, ...]:
    """Loudness describes a raw recording; no limit is held against it."""
    facts = measurement.loudness
    return (
        _loudness("loudness_integrated", "Overall loudness", facts.integrated_lufs, facts.integrated_reason),
        _loudness(
            "loudness_short_term_max", "Loudest three seconds", facts.max_short_term_lufs, facts.max_short_term_reason
        ),
        _loudness("loudness_momentary_max", "Loudest moment", facts.max_momentary_lufs, facts.max_momentary_reason),
        _loudness("loudness_range", "Loudness range", facts.loudness_range_lu, facts.loudness_range_reason, "LU"),
    )


def _loudness(measure: str, title: str, value: float | None, reason: str, unit: str = "LUFS") -> Finding:
    if value is None:
        return Finding(
            code="loudness-not-measured", measure=measure, standing=NOT_MEASURED, title=title, unit=unit,
            source=LOUDNESS_SOURCE, volunteer=f"{title} could not be measured.", archivist=reason, reason=reason,
        )  # fmt: skip
    return Finding(
        code="loudness-described",
        measure=measure,
        standing=GOOD,
        title=title,
        value=value,
        unit=unit,
        limit="described, not judged",
        source=LOUDNESS_SOURCE,
        volunteer=f"{title} is {value:.1f} {unit}, which describes the recording: nothing needs doing.",
        archivist=f"{title}: {value:.1f} {unit}, without correction for mono played on two loudspeakers.",
    )


def judge_true_peak(measurement: Measurement, profile: Profile) -> tuple[Finding, ...]:
    """Peaks between -12 and -6 are good; higher leaves no headroom, lower brings up the noise."""
    peak = measurement.true_peak
    if peak.true_peak_dbtp is None or peak.at_seconds is None:
        return (_peak("silent-recording", PROBLEM, measurement, profile, SILENT, peak.reason),)
    code, standing, words = _peak_opinion(peak.true_peak_dbtp, profile)
    sentence = words.format(at=clock(peak.at_seconds))
    return (_peak(code, standing, measurement, profile, sentence, ""),)


SILENT = (
    "Nothing was recorded, from beginning to end: next time check microphone, cable and switches with a short test."
)
VERY_QUIET = (
    "Hardly anything was recorded: check that the microphone is plugged in and chosen, and record a test first."
)
TOO_HIGH = (
    "The loudest sound, at {at}, leaves no room at all, so a laugh would have crackled; next time turn the level down."
)
HIGH = (
    "The loudest sound, at {at}, is a little high; next time turn the level down slightly so that a laugh still fits."
)
FITTING = "The loudest sound, at {at}, sits where it should: keep the recorder's level as it was."
LOW = "The loudest sound, at {at}, is a little low; next time turn the level up slightly or move the microphone closer."
TOO_LOW = "The recording is very quiet, so hiss rises with the voice; next time move closer and turn the level up."


def _peak_opinion(dbtp: float, profile: Profile) -> tuple[str, str, str]:
    if dbtp > profile.peak_too_high.value:
        return "peaks-too-high", LOOK_CLOSER, TOO_HIGH
    if dbtp > profile.peak_high.value:
        return "peaks-high", NOTE, HIGH
    if dbtp >= profile.peak_low.value:
        return "peaks-good", GOOD, FITTING
    if dbtp >= profile.peak_too_low.value:
        return "peaks-low", NOTE, LOW
    if dbtp >= profile.peak_inaudible.value:
        return "peaks-too-low", LOOK_CLOSER, TOO_LOW
    return "peaks-inaudible", PROBLEM, VERY_QUIET


def _peak(code: str, standing: str, measurement: Measurement, profile: Profile, words: str, reason: str) -> Finding:
    peak = measurement.true_peak
    channels = [
        f"{channel_name(n, measurement.format.channels)} {'silent' if level is None else f'{level:.2f} dBTP'}"
        for n, level in enumerate(peak.channels_dbtp)
    ]
    highest = peak.true_peak_dbtp
    loudest = peak.channels_dbtp.index(highest) if highest is not None and len(peak.channels_dbtp) > 1 else None
    return Finding(
        code=code,
        measure="true_peak",
        standing=standing,
        title="Highest peak",
        value=highest,
        unit="dBTP",
        limit=f"{profile.peak_low.value:g} to {profile.peak_high.value:g} dBFS",
        source=profile.peak_low.reason,
        volunteer=words,
        archivist=f"True peak, ITU-R BS.1770-5 Annex 2, {peak.oversampling} times oversampled: {', '.join(channels)}.",
        channel=loudest,
        reason=reason,
    )


def judge_dc_offset(measurement: Measurement, profile: Profile) -> tuple[Finding, ...]:
    """The channel whose mean is farthest from zero stands for all."""
    offsets = [level.dc_offset_percent for level in measurement.levels.channels]
    worst = max(range(len(offsets)), key=lambda n: abs(offsets[n]))
    size = abs(offsets[worst])
    if size > profile.dc_look_closer.value:
        code, standing = "dc-offset-large", LOOK_CLOSER
    elif size > profile.dc_note.value:
        code, standing = "dc-offset", NOTE
    else:
        code, standing = "dc-offset-none", GOOD
    words = "The recorder adds a steady offset to the sound, a sign of a fault: tell the library which kit it was."
    return (
        Finding(
            code=code,
            measure="dc_offset",
            standing=standing,
            title="DC offset",
            value=offsets[worst],
            unit="% of full scale",
            limit=f"within ±{profile.dc_note.value:g} %",
            source=profile.dc_note.reason,
            volunteer="The sound rests at zero, as it should." if standing == GOOD else words,
            archivist="Mean of each channel in % of full scale: "
            + ", ".join(f"{offset:+.3f}" for offset in offsets)
            + ".",
            channel=worst if len(offsets) > 1 else None,
        ),
    )


def judge_digital_silence(measurement: Measurement, profile: Profile) -> tuple[Finding, ...]:
    """Exact zeros are made by a machine: short ones are a note, longer ones look closer; what silent channels
    and dropouts say is not said again."""
    facts = measurement.digital_silence
    spans = tuple(span for span in facts.spans if not _told_elsewhere(span, measurement))
    longest = max((span.end_s - span.start_s for span in spans), default=0.0)
    if not spans:
        code, standing, words = "digital-silence-none", GOOD, "The sound is never cut off."
    else:
        code, standing = "digital-silence", LOOK_CLOSER if longest >= profile.silence_look_closer.value else NOTE
        words = (
            f"The sound is switched off completely {places(spans)}, for up to {seconds_text(longest)}: "
            "listen there to hear whether words are missing, and leave mute and noise gate off next time."
        )
    count = facts.count if len(spans) == len(facts.spans) else len(spans)
    return (
        Finding(
            code=code,
            measure="digital_silence",
            standing=standing,
            title="Digital silence",
            value=longest,
            unit="s",
            limit=f"none of {facts.at_least_s:g} s or longer",
            source=profile.silence_look_closer.reason,
            volunteer=words,
            archivist=f"{counted(count, 'run', 'runs')} of exact zeros of {facts.at_least_s:g} s or longer, all "
            "channels counted." + listed(spans, count, facts.spans_merged_s),
            spans=spans,
        ),
    )


def _told_elsewhere(span: Span, measurement: Measurement) -> bool:
    """A dead channel, and a gap inside sound, have findings of their own."""
    return measurement.levels.channels[span.channel or 0].peak_dbfs is None or any(
        gap.channel == span.channel and gap.start_frame <= span.start_frame and span.end_frame <= gap.end_frame
        for gap in measurement.dropouts.spans
    )
