"""A call that was played from a file, such as `render` writes."""

from contextlib import nullcontext
from pathlib import Path
from typing import Final

import numpy as np
import soundfile

from sounds.errors import TakeError
from sounds.listening.call.played_call import PlayedCall
from sounds.listening.recordings.sndfile_decoder import ForwardFile
from sounds.listening.recordings.take import HIGHEST_RATE, LOWEST_RATE, check_readable, finite
from sounds.placing.mixer import CHANNELS
from sounds.playing.devices import native_chatter_discarded
from sounds.voices.clip import Samples

MOST_CHANNELS: Final = 2


class _FileSource:
    """Hands out the samples of a file on two channels, the same on both if there is one."""

    def __init__(self, path: Path) -> None:
        with native_chatter_discarded():
            self._file = ForwardFile(str(path))
        self._chatters = self._file.format == "MP3"

    def read(self, count: int) -> Samples:
        """Return the next `count` frames: fewer at its end or where it breaks off."""
        block = self._decoded(count)
        if not len(block):
            self._file.close()
        return np.ascontiguousarray(np.broadcast_to(finite(block), (len(block), CHANNELS)))

    def _decoded(self, count: int) -> Samples:
        try:
            with native_chatter_discarded() if self._chatters else nullcontext():
                decoded: Samples = self._file.read(count, dtype="float32", always_2d=True)
        except soundfile.LibsndfileError:
            return np.zeros((0, CHANNELS), dtype=np.float32)
        return decoded


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
    check_readable(path, "call")
    try:
        with native_chatter_discarded(), ForwardFile(str(path)) as file:
            channels, rate = file.channels, file.samplerate
    except (soundfile.LibsndfileError, TypeError) as error:  # TypeError: bare samples, by its name
        raise TakeError(
            f"The call {path} cannot be read: it is damaged, or no WAV, FLAC, OGG or MP3."
        ) from error
    if channels > MOST_CHANNELS:
        raise TakeError(f"The call {path} has {channels} channels; a call has one or two.")
    if not LOWEST_RATE <= rate <= HIGHEST_RATE:
        raise TakeError(
            f"The call {path} has {rate} samples a second; a call has {LOWEST_RATE} to "
            f"{HIGHEST_RATE}."
        )
    return PlayedCall(lambda: _FileSource(path), rate)
