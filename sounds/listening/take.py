"""Takes in files: read in blocks whatever their format and length, checked for overload, written.

What is read is mono float32 of shape (frames,), the channels averaged, at `RATE`; nominal values
are in [-1, 1]. libsndfile reads what it knows, PyAV, if installed, what phones and cameras record.
A take that is being recorded gets its name when the file is whole; until then, and where it
cannot be finished, it has another plain name.
"""

from collections.abc import Generator, Iterable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import soundfile

from throwcount.sounds.errors import FileError, TakeError
from throwcount.sounds.files.audio_files import (
    HEADER_BYTES,
    WAV_LIMIT,
    as_int16,
    file_format,
    plain_coding_errors,
)
from throwcount.sounds.files.decoders import (
    DAMAGED,
    HIGHEST_RATE,
    LOWEST_RATE,
    Decoder,
    PhoneDecoder,
    SndfileDecoder,
    UnknownFormatError,
    check_readable,
    regrouped,
    resampled,
)
from throwcount.sounds.files.whole_files import check_free, whole_file
from throwcount.sounds.samples import RATE, Mono

MISSING_SECONDS: Final = 0.5
"""A take that is no more than this shorter than its header says counts as whole."""


class Take:
    """A recording that can be read from its beginning any number of times.

    `decoder` reads it. `readings` closes every unfinished reading at the end.
    """

    def __init__(self, decoder: Decoder, readings: ExitStack) -> None:
        self._decoder = decoder
        self._readings = readings
        self.warning: str | None = None
        """What the last complete reading found damaged, as a sentence."""
        self.seconds = decoder.seconds
        """Length by the file's header; None if that has none."""

    def blocks(self, size: int) -> Iterator[Mono]:
        """Yield the take from its beginning, in blocks of `size` frames, at least 1.

        All values are finite; the last block may be shorter, never empty. A file that breaks off
        ends there, and `warning` says so.

        Raises
        ------
        TakeError
            If the file holds no sound, or has gone since the take was opened.
        """
        reading = self._read(size)
        self._readings.callback(reading.close)
        return reading

    def _read(self, size: int) -> Generator[Mono, None, None]:
        self.warning = None
        path, frames = self._decoder.path, 0
        try:
            for block in regrouped(resampled(self._decoder.chunks(), self._decoder.rate), size):
                frames += len(block)
                yield block
        except UnknownFormatError as error:
            raise TakeError(f"The take {path} has gone or changed since it was opened.") from error
        if not frames:
            raise TakeError(f"The take {path} holds no sound.")
        self.warning = self._damage(frames / RATE)

    def _damage(self, seconds: float) -> str | None:
        path, length, lost = self._decoder.path, self._decoder.seconds, self._decoder.lost_seconds
        if length is not None and length - seconds > MISSING_SECONDS:
            return (
                f"The take {path} breaks off after {seconds:.1f} of {length:.1f} s; only what "
                f"comes before was listened to."
            )
        if lost > MISSING_SECONDS:
            return f"{lost:.1f} s of the take {path} are damaged and count as silence."
        return None


@contextmanager
def open_take(path: Path) -> Iterator[Take]:
    """Open a recording, to be read while the context lasts.

    `path` is WAV, FLAC, OGG, MP3 or another format of libsndfile; with PyAV also what phones and
    cameras record, such as M4A, MP4, MOV, 3GP and WebM, of which the first sound track is taken.

    Raises
    ------
    TakeError
        If there is no such file, it holds no sound, it is damaged from the beginning, or it needs
        PyAV, which is not installed.
    """
    decoder = _decoder(path)
    if not decoder.rate:
        raise TakeError(DAMAGED.format(path=path))
    if not LOWEST_RATE <= decoder.rate <= HIGHEST_RATE:
        raise TakeError(
            f"The take {path} has {decoder.rate} samples a second; catches are found in takes "
            f"with {LOWEST_RATE} to {HIGHEST_RATE}."
        )
    with ExitStack() as readings:
        yield Take(decoder, readings)


def _decoder(path: Path) -> Decoder:
    check_readable(path)
    try:
        return SndfileDecoder(path)
    except UnknownFormatError:
        return PhoneDecoder(path)


FULL: Final = 0.97
"""Least value that is full scale; resampling and lossy formats leave ripples on clipped sound."""

IN_A_ROW: Final = 3
"""So many frames in a row at full scale are clipped; fewer are a peak."""

SHARE: Final = 0.1
FEWEST: Final = 3
"""A person is told if at least this share of a take's seconds, and this many, are clipped."""

SILENT: Final = 1e-5
"""Peak below which a take is silent: a third of the smallest step of 16 bits."""


FRAME: Final = RATE // 50
"""Frames of a short piece, 20 ms, whose level and treble are measured."""

VOICE_HERTZ: Final = (300, 7_000)
TREBLE_HERTZ: Final = 8_500
"""Where voices are, and from where on a phone keeps nothing in a mode for voices (wideband
telephony ends at 7 kHz, ITU-T G.722)."""

DULL: Final = -37.5
DULL_AND_DEEP: Final = -82.5
"""In dB: the treble over the rest in quiet pieces, which counts down to the first, and the sum of
this and of quiet pieces over loud ones, below which noise seems to have been suppressed. It was so
on 89 of 90 made takes of recorded impacts with suppressed noise, and on none of 162 others."""

LEAST_PIECES: Final = 250
"""Pieces, at least, to tell: 5 s."""

TINY: Final = 1e-9
"""A quiet piece that is no digital silence has more power than this."""


class Overload:
    """Checks a take for clipping, silence and suppressed noise while it is read."""

    def __init__(self) -> None:
        self.frames = 0
        """How many frames were read."""
        self._peak = 0.0
        self._seconds: set[int] = set()
        self._levels: list[Mono] = []
        self._window = np.hanning(FRAME).astype(np.float32)
        hertz = np.fft.rfftfreq(FRAME, 1 / RATE)
        self._voice = (hertz >= VOICE_HERTZ[0]) & (hertz < VOICE_HERTZ[1])
        self._treble = hertz >= TREBLE_HERTZ

    @property
    def clipped_seconds(self) -> int:
        """In how many of its seconds the take is clipped."""
        return len(self._seconds)

    @property
    def is_clipped(self) -> bool:
        """Whether the take is clipped often enough to tell a person."""
        return self.clipped_seconds >= max(FEWEST, SHARE * self.frames / RATE)

    @property
    def is_silent(self) -> bool:
        """Whether nothing is on the take."""
        return self._peak < SILENT

    @property
    def is_suppressed(self) -> bool:
        """Whether noise seems to be suppressed, as phones do in a mode for voices."""
        if sum(map(len, self._levels)) < LEAST_PIECES:
            return False
        voice, treble = np.concatenate(self._levels).T
        quiet, some, loud = np.quantile(voice, (0.02, 0.25, 0.99))
        dull = max(np.quantile(treble, 0.25), some * 10 ** (DULL / 10))
        both = dull * quiet < some * loud * 10 ** (DULL_AND_DEEP / 10)
        return bool(both and quiet > TINY)

    def watched(self, blocks: Iterable[Mono]) -> Iterator[Mono]:
        """Yield the blocks of a take unchanged."""
        for block in blocks:
            self._watch(block)
            yield block

    def _watch(self, block: Mono) -> None:
        level = np.abs(block)
        self._peak = max(self._peak, float(level.max(initial=0.0)))
        full = level >= FULL
        if full.any():
            together = np.logical_and.reduce(
                [full[offset : len(full) - IN_A_ROW + 1 + offset] for offset in range(IN_A_ROW)]
            )
            places = (self.frames + np.flatnonzero(together)) // RATE
            self._seconds.update(places.tolist())
        self.frames += len(block)
        pieces = block[: len(block) // FRAME * FRAME].reshape(-1, FRAME) * self._window
        powers = np.abs(np.fft.rfft(pieces, axis=1)) ** 2
        kept = (powers[:, self._voice].sum(axis=1), powers[:, self._treble].sum(axis=1))
        self._levels.append(np.stack(kept, axis=1).astype(np.float32))


BYTES_A_FRAME: Final = 2


@dataclass(frozen=True, slots=True)
class TakeDestination:
    """A file that is to keep all that the microphone hears."""

    path: Path
    """Where it is to be; its ending gives the format."""
    overwrite: bool = False
    """Whether an existing file is replaced."""
    temporary: bool = False
    """Whether it is only for the process that asked for it, and is deleted if that has gone."""


def check_take(destination: TakeDestination) -> None:
    """Check, before anything is heard, that a take can be kept there.

    Raises
    ------
    FileError
        If the ending stands for no format, or the file cannot be put there.
    """
    file_format(destination.path, 0)
    check_free(destination.path, overwrite=destination.overwrite)


class TakeFile:
    """A file of one channel and 16 bits that is being written.

    `rate` is the sample rate in Hz. A WAV file holds at most `wav_limit` bytes.

    Raises
    ------
    FileError
        If the file cannot be written, as by every method. What was written of one that is not
        temporary stays where it is.
    """

    def __init__(self, destination: TakeDestination, rate: int, wav_limit: int = WAV_LIMIT) -> None:
        form, coding = file_format(destination.path, 0)
        self._path, self._temporary = destination.path, destination.temporary
        self._exact = coding == "PCM_16"
        self._room = (wav_limit - HEADER_BYTES) // BYTES_A_FRAME if form == "WAV" else None
        with ExitStack() as stack:
            stack.enter_context(plain_coding_errors(destination.path))
            self.unfinished = stack.enter_context(
                whole_file(
                    destination.path,
                    overwrite=destination.overwrite,
                    lasting=not destination.temporary,
                )
            )
            """Where the file is until it is whole."""
            self._file = stack.enter_context(
                soundfile.SoundFile(str(self.unfinished), "w", rate, 1, coding, format=form)
            )
            self._stack = stack.pop_all()

    def write(self, samples: Mono) -> None:
        """Write the next samples. After an error this is closed."""
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
        """Finish the file and give it its name."""
        self._stack.close()

    def forget(self) -> None:
        """Delete a finished file that is of no use any more, if it is only a temporary one."""
        if self._temporary:
            self._path.unlink(missing_ok=True)
