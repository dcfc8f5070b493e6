"""Working copies: what can be decoded of a telephone's or a video's sound, as a FLAC that every program opens.

A lossy original gets no better by it; its samples only become easier to work with, and are lost no more.
"""

from contextlib import suppress
from pathlib import Path

import numpy as np
import soundfile

from intake.outputs.listening import NO_SOUND, ListeningCopyFailed, Progress, Sound, sounds_of

MEDIA_TYPE = "audio/flac"
# The containers, as audio_qc names them, that sound programs have always opened.
USUAL = frozenset({"WAV", "WAVEX", "RF64", "W64", "AIFF", "AU", "CAF", "FLAC", "MP3"})
MOST_CHANNELS = 8  # RFC 9639, section 9.1.3


def decode(source: Path, target: Path, *, progress: Progress) -> None:
    """Write the sound of `source` to `target`: 24 bit, its own rate and channels, in bounded memory.

    `progress` is told the seconds read. ListeningCopyFailed where there is no sound that can be read.
    """
    for sound in sounds_of(source):
        # Torn in the middle: start again with the other reader.
        with suppress(soundfile.LibsndfileError):
            _write(sound, target, progress)
            return
    raise ListeningCopyFailed(NO_SOUND)


def _write(sound: Sound, target: Path, progress: Progress) -> None:
    if sound.channels > MOST_CHANNELS:
        raise ListeningCopyFailed(f"This file has {sound.channels} channels, more than a FLAC can hold.")
    frames = 0
    with soundfile.SoundFile(target, "w", sound.rate, sound.channels, subtype="PCM_24", format="FLAC") as file:
        for block in sound.blocks:
            file.write(np.clip(np.nan_to_num(block, nan=0.0), -1.0, 1.0))
            frames += len(block)
            progress(frames / sound.rate)
