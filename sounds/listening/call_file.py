"""A call that was played from a file, such as `render` writes."""

from pathlib import Path
from typing import Final

import numpy as np
import soundfile

from sounds.clip import Samples
from sounds.errors import TakeError
from sounds.listening.played_call import PlayedCall
from sounds.mixer import CHANNELS

MOST_CHANNELS: Final = 2


class _FileSource:
    """Hands out the samples of a file on two channels, the same on both if there is one."""

    def __init__(self, path: Path) -> None:
        self._file = soundfile.SoundFile(str(path))

    def read(self, count: int) -> Samples:
        """Return the next `count` frames: fewer at the end, none after it."""
        block = self._file.read(count, dtype="float32", always_2d=True)
        if not len(block):
            self._file.close()
        return np.ascontiguousarray(np.broadcast_to(block, (len(block), CHANNELS)))


def call_in_file(path: Path) -> PlayedCall:
    """Return the sound in a file as the call that was played.

    Parameters
    ----------
    path
        WAV or FLAC as `render` writes them; OGG and MP3 may be shifted in time.

    Raises
    ------
    TakeError
        If it cannot be read, or has more than two channels.
    """
    try:
        about = soundfile.info(str(path))
    except soundfile.LibsndfileError as error:
        raise TakeError(f"The call {path} cannot be read: {error.error_string}") from error
    if about.channels > MOST_CHANNELS:
        raise TakeError(f"The call {path} has {about.channels} channels; a call has one or two.")
    return PlayedCall(lambda: _FileSource(path), about.samplerate)
