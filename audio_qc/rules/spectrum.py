"""Judges what the spectrum shows: mains hum, rumble and wind, and a band that ends too early."""

from audio_qc.facts.faults import Bandwidth, Hum, RumbleBurst
from audio_qc.finding import GOOD, LOOK_CLOSER, NOT_MEASURED, NOTE, Finding
from audio_qc.measurement import Measurement
from audio_qc.profile import Profile
from audio_qc.rules.formats import UNCODED
from audio_qc.rules.words import counted, places, seconds_text


def judge_hum(measurement: Measurement, profile: Profile) -> tuple[Finding, ...]:
    """Hum that stands out looks closer, or is a note where it lies too far below the voice to be heard."""
    facts = measurement.hum
    code, standing, words = _hum_opinion(measurement, profile)
    return (
        Finding(
            code=code,
            measure="hum",
            standing=standing,
            title="Mains hum",
            value=facts.prominence_db,
            unit="dB",
            limit=f"up to {profile.hum_prominence.value:g} dB over the neighbouring spectrum",
            source=f"{profile.hum_prominence.reason} {profile.hum_below_voice.reason}",
            volunteer=words,
            archivist=facts.reason or _hum_figures(facts),
            channel=facts.channel if facts.lines and measurement.format.channels > 1 else None,
            reason=facts.reason,
        ),
    )


def _hum_opinion(measurement: Measurement, profile: Profile) -> tuple[str, str, str]:
    facts = measurement.hum
    if facts.prominence_db is None:
        return "hum-not-measured", NOT_MEASURED, "Whether there is hum could not be measured."
    if not facts.lines or facts.prominence_db <= profile.hum_prominence.value:
        return "hum-none", GOOD, "No hum from the power supply stands out in the pauses."
    loudness, level = measurement.loudness.integrated_lufs, facts.a_weighted_level_dbfs
    if loudness is not None and level is not None and level < loudness - profile.hum_below_voice.value:
        return "hum-faint", NOTE, HUM_FAINT
    return "hum", LOOK_CLOSER, HUM


HUM_FAINT = "A very faint hum from the power supply is there; next time keep the cables away from power cables."
HUM = (
    "A hum from the power supply is heard in the pauses; next time run the recorder on batteries, or move it and its "
    "cables away from plugs, lamps and chargers."
)


def _hum_figures(facts: Hum) -> str:
    if not facts.lines:
        return f"No line at multiples of 50 or 60 Hz; at most {facts.prominence_db:.1f} dB over the spectrum beside it."
    lines = ", ".join(f"{line.frequency_hz:.1f} Hz ({line.prominence_db:.0f} dB)" for line in facts.lines)
    return (
        f"Lines of {facts.mains_hz} Hz mains, measured as {facts.measured_hz:.2f} Hz, within 3 Hz over as much of the "
        f"spectrum beside them: {lines}; together {facts.level_dbfs:.1f} dBFS, A-weighted "
        f"{facts.a_weighted_level_dbfs:.1f} dBFS."
    )


def judge_rumble(measurement: Measurement, profile: Profile) -> tuple[Finding, ...]:
    """A few short bursts are a note; more of them, or long ones, look closer."""
    facts = measurement.rumble
    bursts = [burst for burst in facts.bursts if burst.over_voice_db > profile.rumble_to_voice.value]
    seconds = sum(burst.span.end_s - burst.span.start_s for burst in bursts)
    spans = tuple(burst.span for burst in bursts)
    if facts.reason:
        code, standing, words = "rumble-not-measured", NOT_MEASURED, "Whether there is rumble could not be measured."
    elif not bursts:
        code, standing, words = "rumble-none", GOOD, "No wind, thump or rumble stands out."
    elif seconds <= profile.rumble_time.value:
        code, standing = "rumble-thumps", NOTE
        words = (
            f"A thump or a puff of wind is heard {places(spans)}; next time put recorder and microphone on something "
            "soft and leave them untouched."
        )
    else:
        code, standing = "rumble", LOOK_CLOSER
        words = (
            f"Wind, traffic or handling rumbles under the voice {places(spans)}; next time use a foam wind shield, go "
            "indoors and put the recorder on something soft."
        )
    return (
        Finding(
            code=code,
            measure="rumble",
            standing=standing,
            title="Rumble and wind",
            value=max((burst.over_voice_db for burst in bursts), default=None),
            unit="dB",
            limit=f"up to {profile.rumble_to_voice.value:+g} dB relative to the voice",
            source=f"{profile.rumble_to_voice.reason} {profile.rumble_time.reason}",
            volunteer=words,
            archivist=facts.reason or _rumble_figures(bursts, seconds, facts.share_percent or 0.0),
            spans=spans,
            reason=facts.reason or ("" if bursts else "There is no burst to give a level of."),
        ),
    )


def _rumble_figures(bursts: list[RumbleBurst], seconds: float, share_percent: float) -> str:
    share = f"{share_percent:.2f} % of the energy below 900 Hz lies between 12 and 64 Hz in the worst channel"
    if not bursts:
        return f"No burst between 12 and 64 Hz comes near the voice; {share}."
    loudest = max(bursts, key=lambda burst: burst.over_voice_db)
    return (
        f"{counted(len(bursts), 'burst', 'bursts')} between 12 and 64 Hz, {seconds_text(seconds)} in all, the loudest "
        f"{loudest.level_dbfs:.1f} dBFS, {loudest.over_voice_db:+.1f} dB relative to the voice from 100 to 900 Hz, "
        f"with {loudest.share_percent:.0f} % of the energy there; {share}."
    )


def judge_bandwidth(measurement: Measurement, profile: Profile) -> tuple[Finding, ...]:
    """An edge well under half the sample rate looks closer; in a compressed file it says nothing new."""
    facts = measurement.bandwidth
    edge = facts.edge_hz
    if measurement.format.subtype not in UNCODED:
        code, standing, words = "band-of-compression", GOOD, "The file is a compressed one, which shapes its highs."
    elif facts.reason:
        code, standing, words = "band-not-measured", NOT_MEASURED, "Where the sound ends could not be measured."
    elif edge is None:
        code, standing, words = "band-full", GOOD, "The sound reaches as high as the file can hold, as it should."
    elif edge >= profile.audible_band.value:
        code, standing, words = "band-inaudibly-limited", NOTE, "The file holds all that can be heard: nothing is lost."
    else:
        code, standing, words = "band-limited", LOOK_CLOSER, BAND_LIMITED.format(khz=edge / 1000)
    return (
        Finding(
            code=code,
            measure="bandwidth",
            standing=standing,
            title="Bandwidth",
            value=None if edge is None else edge / 1000,
            unit="kHz",
            limit=f"no edge below {profile.audible_band.value / 1000:g} kHz",
            source=profile.audible_band.reason,
            volunteer=words,
            archivist=facts.reason or _band_figures(facts, measurement.format.sample_rate_hz),
            reason=facts.reason or ("" if edge is not None else "There is no edge to give a frequency of."),
        ),
    )


BAND_LIMITED = (
    "Above {khz:.1f} kHz everything is missing, as in sound that was once recorded at a lower rate or made smaller; "
    "next time send the file just as the recorder made it."
)


def _band_figures(facts: Bandwidth, rate_hz: int) -> str:
    half = f"half the sample rate is {rate_hz / 2000:g} kHz"
    if facts.edge_hz is None:
        return f"No steep edge in the spectrum of the loud moments; {half}."
    return (
        f"The spectrum of the loud moments falls by {facts.drop_db:.0f} dB at {facts.edge_hz / 1000:.1f} kHz and stays "
        f"down, while {half}: recorded at a lower rate, or made from compressed sound."
    )
