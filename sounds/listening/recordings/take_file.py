"""A take that is being recorded: the file is there when it is whole."""

from contextlib import ExitStack
from typing import Final

import soundfile

from sounds.errors import FileError
from sounds.files.audio_file import (
    HEADER_BYTES,
    WAV_LIMIT,
    as_int16,
    coding_errors_told,
    file_format,
)
from sounds.files.whole_file import check_free, whole_file
from sounds.listening.microphones.microphone_messages import TakeWish
from sounds.listening.rate import Mono

BYTES_A_FRAME: Final = 2


def check_take(wish: TakeWish) -> None:
    """Tell before anything is heard that a take cannot be kept there.

    Raises
    ------
    FileError
        If the ending stands for no format, or the file cannot be put there.
    """
    file_format(wish.path, 0)
    check_free(wish.path, overwrite=wish.overwrite)


class TakeFile:
    """A file of one channel and 16 bits that is being written.

    `wish` says where to write. `rate` is in frames a second. `wav_limit` is how many bytes a WAV
    file can hold.

    Attributes
    ----------
    unfinished
        What is written to until the file is put in its place.

    Raises
    ------
    FileError
        If it cannot be written, as by every method. Then nothing has changed.
    """

    def __init__(self, wish: TakeWish, rate: int, wav_limit: int = WAV_LIMIT) -> None:
        form, coding = file_format(wish.path, 0)
        self._path = wish.path
        self._exact = coding == "PCM_16"
        self._room = (wav_limit - HEADER_BYTES) // BYTES_A_FRAME if form == "WAV" else None
        with ExitStack() as stack:
            stack.enter_context(coding_errors_told(wish.path))
            self.unfinished = stack.enter_context(whole_file(wish.path, overwrite=wish.overwrite))
            self._file = stack.enter_context(
                soundfile.SoundFile(str(self.unfinished), "w", rate, 1, coding, format=form)
            )
            self._stack = stack.pop_all()

    def write(self, samples: Mono) -> None:
        """Write the next samples. After an error there is no file, and nothing more to do."""
        if self._room is not None and len(samples) > self._room:
            self.close()
            raise FileError(
                f"{self._path} ends here: a WAV file cannot be longer. FLAC files can be."
            )
        with ExitStack() as stack:
            stack.push(self._stack)
            self._file.write(as_int16(samples) if self._exact else samples)
            stack.pop_all()
        if self._room is not None:
            self._room -= len(samples)

    def close(self) -> None:
        """Put the file in its place."""
        self._stack.close()
