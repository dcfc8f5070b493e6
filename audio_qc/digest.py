"""The file's own SHA-256."""

import hashlib
import math
import os

import numpy as np

from audio_qc.source import Source

LARGEST_READ = 1_048_576  # bytes


class FileDigest:
    """SHA-256 of the file itself, worked on in step with the sound, while the bytes are still in memory."""

    def __init__(self, source: Source) -> None:
        self._source = source
        self._digest = hashlib.sha256()
        self._offset = 0

    def add(self, block: np.ndarray) -> None:
        """Hash as large a share of the file as the block is of the recording, or a megabyte if that is not known."""
        share = math.ceil(self._source.share_of(block.shape[1]) * self._source.file_bytes)
        self._read(self._offset + (share or LARGEST_READ))

    def result(self) -> str:
        """Hash what is left and return the digest in hexadecimal."""
        self._read(self._source.file_bytes)
        return self._digest.hexdigest()

    def _read(self, until: int) -> None:
        while wanted := max(0, min(LARGEST_READ, until - self._offset)):
            piece = os.pread(self._source.file.fileno(), wanted, self._offset)
            if not piece:
                return
            self._digest.update(piece)
            self._offset += len(piece)
