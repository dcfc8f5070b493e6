"""Judges the level of the voice, how far it stands above the background, the background itself and long silences."""

from audio_qc.finding import GOOD, LOOK_CLOSER, NOT_MEASURED, NOTE, PROBLEM, Finding
from audio_qc.measurement import Measurement
from audio_qc.profile import Profile
from audio_qc.rules.words import counted, places, seconds_text

METHOD = "ITU-T P.56, method B; 0 dBov is a full-scale square wave, so a full-scale sine reads -3.01."

VOICE_FAINT = (
    "The voice is so faint that the recorder's own hiss comes up with it: next time move the microphone to about a "
    "hand's length and turn the level up."
)
VOICE_QUIET = "The voice is rather quiet; next time move the microphone closer and turn the level up a little."
VOICE_FITTING = "The voice was recorded at a good level: keep it so."
VOICE_LOUD = "The voice is very loud on average, which leaves little room; next time turn the level down a little."


def judge_speech_level(measurement: Measurement, profile: Profile) -> tuple[Finding, ...]:
    """Far too quiet is a problem; a little off on either side looks closer."""
    facts = measurement.speech
    level = facts.active_speech_level_dbov
    if level is None or not facts.is_reliable:
        return (
            _level_finding(
                "speech-level-not-measured", NOT_MEASURED, measurement, profile, "The voice could not be told apart."
            ),
        )
    low, high = profile.speech_low.value, profile.speech_high.value
    if level < profile.speech_too_low.value:
        return (_level_finding("speech-faint", PROBLEM, measurement, profile, VOICE_FAINT),)
    if level < low:
        return (_level_finding("speech-quiet", LOOK_CLOSER, measurement, profile, VOICE_QUIET),)
    if level <= high:
        return (_level_finding("speech-level-good", GOOD, measurement, profile, VOICE_FITTING),)
    return (_level_finding("speech-loud", LOOK_CLOSER, measurement, profile, VOICE_LOUD),)


def _level_finding(code: str, standing: str, measurement: Measurement, profile: Profile, volunteer: str) -> Finding:
    facts = measurement.speech
    channels = ", ".join(
        "none" if one.level_dbov is None else f"{one.level_dbov:.1f} dBov, {one.activity_percent:.0f} % active"
        for one in facts.channels
    )
    return Finding(
        code=code,
        measure="speech_level",
        standing=standing,
        title="Level of the voice",
        value=None if standing == NOT_MEASURED else facts.active_speech_level_dbov,
        unit="dBov",
        limit=f"{profile.speech_low.value:g} to {profile.speech_high.value:g} dBov",
        source=profile.speech_low.reason,
        volunteer=volunteer,
        archivist=f"Active speech level by channel: {channels}. {METHOD}",
        reason=facts.reason,
    )


def judge_speech_to_noise(measurement: Measurement, profile: Profile) -> tuple[Finding, ...]:
    """Twenty decibels are good, thirty are praised; less looks closer and much less is a problem."""
    facts = measurement.speech
    distance = facts.speech_to_noise_dba
    if distance is None or facts.speech_to_noise_reason:
        code, standing, words = (
            "speech-to-noise-not-measured", NOT_MEASURED, "How far the voice stands above the background is not known."
        )  # fmt: skip
    else:
        code, standing, words = _distance_opinion(distance, profile)
    return (
        Finding(
            code=code,
            measure="speech_to_noise",
            standing=standing,
            title="Voice above background",
            value=None if standing == NOT_MEASURED else distance,
            unit="dB(A)",
            limit=f"{profile.speech_to_noise_good.value:g} dB or more",
            source=profile.speech_to_noise_good.reason,
            volunteer=words,
            archivist=_distance_words(measurement),
            reason=facts.speech_to_noise_reason,
        ),
    )


def _distance_opinion(distance: float, profile: Profile) -> tuple[str, str, str]:
    if distance >= profile.speech_to_noise_praised.value:
        return "voice-very-clear", GOOD, "The voice stands wonderfully clear of the background: a well chosen room."
    if distance >= profile.speech_to_noise_good.value:
        return "voice-clear", GOOD, "The voice stands clear of the background."
    if distance >= profile.speech_to_noise_problem.value:
        return (
            "background-near",
            LOOK_CLOSER,
            "The background comes close to the voice; next time move the microphone closer or choose a quieter room.",
        )
    return (
        "background-loud",
        PROBLEM,
        "The background nearly covers the voice, which tires listeners and hides words; next time close windows, "
        "switch machines off and move the microphone closer.",
    )


def _distance_words(measurement: Measurement) -> str:
    facts = measurement.speech
    if facts.speech_to_noise_db is None or facts.speech_to_noise_dba is None or facts.speech_to_noise_reason:
        return facts.speech_to_noise_reason
    doubt = "" if facts.is_reliable else f" Doubtful: {facts.reason}"
    return (
        f"Active speech level less level in the pauses: {facts.speech_to_noise_dba:.1f} dB with both A-weighted, "
        f"{facts.speech_to_noise_db:.1f} dB unweighted.{doubt}"
    )


def judge_noise_floor(measurement: Measurement, profile: Profile) -> tuple[Finding, ...]:
    """The level in the pauses is described, not judged: what matters is how far the voice stands above it."""
    facts = measurement.noise
    known = facts.noise_floor_dbfs is not None
    return (
        Finding(
            code="noise-described" if known else "noise-not-measured",
            measure="noise_floor",
            standing=GOOD if known else NOT_MEASURED,
            title="Background noise",
            value=facts.noise_floor_dbfs,
            unit="dBFS",
            limit="described, not judged",
            source="RMS of the pauses; a full-scale sine reads -3.01 dBFS, 3.01 dB less than by AES17. A: IEC 61672-1.",
            volunteer="The background in the pauses was measured: nothing needs doing."
            if known
            else "The background noise could not be measured.",
            archivist=_noise_words(measurement),
            reason=facts.reason,
        ),
    )


def _noise_words(measurement: Measurement) -> str:
    facts = measurement.noise
    if facts.noise_floor_dbfs is None:
        return facts.reason
    weighted = "" if facts.noise_floor_dba is None else f", {facts.noise_floor_dba:.1f} dBFS A-weighted"
    return (
        f"Mean level in the pauses of the noisiest channel, without digital silence and DC: "
        f"{facts.noise_floor_dbfs:.1f} dBFS{weighted}."
    )


def judge_long_silence(measurement: Measurement, profile: Profile) -> tuple[Finding, ...]:
    """A recorder left running is worth knowing: the stretch can be skipped, or the part ended there."""
    facts = measurement.long_silence
    found = tuple(span for span in facts.spans if span.end_s - span.start_s >= profile.long_silence.value)
    if facts.reason:
        code, standing, words = "long-silence-not-measured", NOT_MEASURED, "Long silences could not be looked for."
    elif found:
        code, standing = "long-silence", NOTE
        words = (
            f"Nobody speaks for up to {seconds_text(facts.longest_s)}, {places(found)}: if the recorder was left "
            "running in a break, tell the library, so that listeners can skip it."
        )
    else:
        code, standing, words = "long-silence-none", GOOD, "There is no long silence."
    return (
        Finding(
            code=code,
            measure="long_silence",
            standing=standing,
            title="Long silence",
            value=facts.longest_s if not facts.reason else None,
            unit="s",
            limit=f"none of {profile.long_silence.value:g} s or longer",
            source=profile.long_silence.reason,
            volunteer=words,
            archivist=facts.reason
            or f"{counted(facts.count, 'stretch', 'stretches')} of {facts.at_least_s:g} s or longer within 6 dB of the "
            "quietest tenth of the recording, in every channel.",
            spans=found,
            reason=facts.reason,
        ),
    )
