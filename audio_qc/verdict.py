"""Sums up findings in one standing and one sentence."""

from collections.abc import Iterable

from audio_qc.finding import GOOD, LOOK_CLOSER, NOTE, PROBLEM, Finding

ORDER = (PROBLEM, LOOK_CLOSER, NOTE)
OPENINGS = {
    PROBLEM: "Needs attention",
    LOOK_CLOSER: "Worth a closer listen",
    NOTE: "Clear recording",
    GOOD: "Clear recording, nothing to mend",
}
PHRASES = {
    "clipped": "{count} short clipped {moments}",
    "clipped-badly": "{count} clipped {moments}",
    "flat-tops": "a few loud moments squashed",
    "flat-tops-badly": "loud moments squashed throughout",
    "dropout": "sound missing in {count} {places}",
    "silent-recording": "nothing was recorded",
    "peaks-inaudible": "hardly anything was recorded",
    "peaks-too-high": "peaks too high",
    "peaks-high": "peaks a little high",
    "peaks-low": "peaks a little low",
    "peaks-too-low": "very quiet",
    "speech-faint": "a faint voice",
    "speech-quiet": "a quiet voice",
    "speech-loud": "a very loud voice",
    "background-near": "background close to the voice",
    "background-loud": "background nearly as loud as the voice",
    "long-silence": "a long silence",
    "hum": "mains hum",
    "hum-faint": "a faint mains hum",
    "rumble": "wind or rumble",
    "rumble-thumps": "a thump or a puff of wind",
    "band-limited": "the highest sounds are missing",
    "channel-dead": "a channel without sound",
    "channel-lost": "a channel that fell silent",
    "channels-unbalanced": "channels of unequal level",
    "channel-inverted": "one channel upside down",
    "channels-identical": "both channels the same",
    "digital-silence": "sound switched off in places",
    "dc-offset": "a small DC offset",
    "dc-offset-large": "a large DC offset",
    "format-compressed": "a compressed file",
    "format-low": "a file of low resolution",
    "bits-padded": "fewer bits of sound than the file has room for",
    "truncated": "the end of the file is missing",
    "damaged": "part of the file is damaged",
    "size-not-set": "the recorder did not finish the file",
    "format-changes": "the recording changes its kind on the way",
    "no-riff-id": "the file's first bytes are damaged",
    "fmt-wrong": "a damaged description of the sound",
    "junk-before-sound": "stray bytes before the sound",
    "size-too-small": "the recorder did not finish the file",
    "no-ds64": "the file's length is not written in it",
    "unusable-samples": "damaged moments in the file",
}
MOST_PHRASES = 3


def verdict(findings: Iterable[Finding]) -> tuple[str, str]:
    """Return the worst standing and a sentence that names the worst findings first, at most three.

    Notes without a phrase (a format that is fine to keep, bytes after the sound) do not make the headline.
    """
    findings = tuple(findings)
    standing = next((one for one in ORDER if any(finding.standing == one for finding in findings)), GOOD)
    phrases = [_phrase(finding) for one in ORDER for finding in findings if finding.standing == one]
    named = list(dict.fromkeys(phrase for phrase in phrases if phrase))
    more = len(named) - MOST_PHRASES
    told = ", ".join(named[:MOST_PHRASES]) + (f" and {more} more" if more > 0 else "")
    return standing, f"{OPENINGS[standing]}: {told}." if told else f"{OPENINGS[standing]}."


def _phrase(finding: Finding) -> str:
    count = int(finding.value or 0)
    plural = "" if count == 1 else "s"
    return PHRASES.get(finding.code, "").format(count=count, moments=f"moment{plural}", places=f"place{plural}")
