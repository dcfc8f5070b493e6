"""What can go wrong before anything is measured, each with one plain sentence fit for a volunteer.

AudioQCError
|-- ProfileError          a target profile that cannot be used
|-- NotSalvaged           no salvaged copy was made: nothing to mend, nothing to save, or no place for it
|-- NotDescribed          no described copy was made: a kind of file that takes no texts, or a damaged header
|-- StoredDataError       a stored measurement or finding of another shape than this version writes
`-- Unreadable            the file cannot be measured
    |-- EmptyFile         no bytes at all
    |-- NotAudio          the bytes are no sound file
    |-- UnsupportedFormat a sound file of a kind that is not measured here
    |-- BrokenHeader      a sound file whose beginning makes no sense
    `-- NoSound           a sound file with a header and nothing after it
"""


class AudioQCError(Exception):
    """Base of every expected refusal; `str(error)` is the sentence to show."""


class ProfileError(AudioQCError):
    """A target profile is missing, incomplete or has limits nobody knows."""


class StoredDataError(AudioQCError):
    """Stored data does not have the shape that this version writes."""


class NotSalvaged(AudioQCError):
    """No salvaged copy was made; the sentence says why, and nothing was left behind."""


class NotDescribed(AudioQCError):
    """No described copy was made; the sentence says why."""


class Unreadable(AudioQCError):
    """The file cannot be measured; the sentence says why."""


class EmptyFile(Unreadable):
    """The file has no bytes."""


class NotAudio(Unreadable):
    """The bytes do not begin like any sound file."""


class UnsupportedFormat(Unreadable):
    """A real sound file, of a kind that is not measured."""


class BrokenHeader(Unreadable):
    """The beginning of the file is damaged beyond reading."""


class NoSound(Unreadable):
    """The header is whole and no sample follows it."""
