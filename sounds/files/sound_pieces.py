"""Sound cut into pieces that a browser can decode one by one, each found by a pulse at its start.

A page plays such pieces joined sample by sample, so it matters neither how exactly a browser leaps
within a file nor how much of the coder's delay it takes away. Of one MP3 file, Chromium 156 began
up to 68 ms away from where it was told to, and Firefox 153 24 ms; a decoder that does not know the
coder's delay gives every sound 23 ms late. In each piece the pulse is as late as the sound, so the
page measures it.

A piece is: silence, the pulse, silence, `MARGIN` of the sound before it, the sound, and `MARGIN` of
the sound after it. In the margins a coder settles; the page leaves them out.
"""

import io
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import soundfile

from throwcount.sounds.errors import FileError
from throwcount.sounds.files.audio_files import BLOCK, as_int16
from throwcount.sounds.samples import CHANNELS, Samples, Source, at_rate, frame_at

PIECE_SECONDS: Final = 12.0
PULSE_SECONDS: Final = 0.03
"""Where the top of the pulse is: later than a decoder that cuts off too much begins."""

QUIET_SECONDS: Final = 0.1
"""Where the sound begins. Codecs are late by less than what lies between the pulse and this."""

MARGIN_SECONDS: Final = 0.05
"""More than two frames of MP3 at 48 kHz (ISO/IEC 11172-3: 1152 samples each)."""

PULSE_WIDTH: Final = 0.002
"""Seconds of the pulse, a raised cosine: its spectrum lies below 1 kHz, which every codec keeps."""

PULSE_PEAK: Final = 0.5
MP3_RATES: Final = frozenset({32_000, 44_100, 48_000})
"""Sample rates at which MP3 has the bit rate below."""

MP3_RATE: Final = 48_000
"""The rate to which sound of another rate is converted."""

MP3: Final[dict[str, Any]] = {
    "format": "MP3",
    "subtype": "MPEG_LAYER_III",
    "bitrate_mode": "CONSTANT",
    "compression_level": 0.85,
}
"""MP3 of 80 kbit/s, for which libsndfile wants a level between 0 and 1."""

FLAC: Final[dict[str, Any]] = {"format": "FLAC", "subtype": "PCM_16"}


@dataclass(frozen=True, slots=True)
class SoundPieces:
    """A whole sound, to be read once, piece by piece."""

    blocks: Iterable[Samples]
    """The sound, in blocks of any length."""
    rate: int
    """Its sample rate, in Hz."""
    frames: int
    """Its length."""
    compact: bool
    """Whether pieces are MP3, else they are FLAC of 16 bits."""

    @property
    def kind(self) -> str:
        """The media type of the pieces."""
        return "audio/mpeg" if self.compact else "audio/flac"

    @property
    def piece_frames(self) -> int:
        """How many frames of the sound each piece brings, but for the last."""
        return frame_at(PIECE_SECONDS, self.rate)

    @property
    def margin(self) -> int:
        """The frames before and after the sound of a piece that belong to its neighbours."""
        return frame_at(MARGIN_SECONDS, self.rate)

    @property
    def quiet(self) -> int:
        """The frames among which the pulse is to be looked for."""
        return frame_at(QUIET_SECONDS, self.rate)

    @property
    def lead(self) -> int:
        """Frames from the top of the pulse to the sound of the piece, behind the margin."""
        return self.quiet + self.margin - frame_at(PULSE_SECONDS, self.rate)

    def __iter__(self) -> Iterator[bytes]:
        """Yield each piece as a file.

        Raises
        ------
        FileError
            If the sound cannot be read.
        """
        head = _head(self.rate, self.quiet)
        waiting = np.zeros((self.margin, CHANNELS), np.float32)
        length = self.piece_frames + 2 * self.margin
        for block in self.blocks:
            waiting = np.concatenate((waiting, block))
            while len(waiting) > length:
                yield self._coded(np.concatenate((head, waiting[:length])))
                waiting = waiting[self.piece_frames :]
        end = np.zeros((self.margin, CHANNELS), np.float32)
        while len(waiting) > self.margin:
            yield self._coded(np.concatenate((head, waiting, end))[: len(head) + length])
            waiting = waiting[self.piece_frames :]

    def _coded(self, samples: Samples) -> bytes:
        file, coding = io.BytesIO(), MP3 if self.compact else FLAC
        with soundfile.SoundFile(file, "w", self.rate, CHANNELS, **coding) as out:
            out.write(samples if self.compact else as_int16(samples))
        return file.getvalue()


def sound_pieces(
    blocks: Iterable[Samples], rate: int, frames: int, *, compact: bool
) -> SoundPieces:
    """Return a sound of `frames` frames at `rate` Hz as pieces, compact or exact to the sample.

    A compact sound of a rate that MP3 has not is converted to another.
    """
    if not compact or rate in MP3_RATES:
        return SoundPieces(blocks, rate, frames, compact)
    converted = at_rate(blocks, rate, MP3_RATE, CHANNELS)
    return SoundPieces(converted, MP3_RATE, round(frames * MP3_RATE / rate), compact)


def blocks_of(source: Source) -> Iterator[Samples]:
    """Yield what a source hands out, to its end."""
    while len(block := source.read(BLOCK)):
        yield block


def file_blocks(path: Path) -> Iterator[Samples]:
    """Yield the sound of a stereo file.

    Raises
    ------
    FileError
        If it cannot be read.
    """
    try:
        yield from soundfile.blocks(str(path), BLOCK, dtype="float32", always_2d=True)
    except soundfile.LibsndfileError as error:
        reason = error.error_string.removeprefix("Error : ")
        raise FileError(f"The sound {path} cannot be read: {reason}") from error


def _head(rate: int, quiet: int) -> Samples:
    """Return the silence with the pulse in it, shape (quiet, 2)."""
    head = np.zeros((quiet, CHANNELS), np.float32)
    reach = frame_at(PULSE_WIDTH / 2, rate)
    swing = np.arange(-reach, reach + 1) / (reach + 1)
    top = frame_at(PULSE_SECONDS, rate)
    pulse = PULSE_PEAK / 2 * (1 + np.cos(np.pi * swing))
    head[top - reach : top + reach + 1] = pulse[:, np.newaxis]
    return head
