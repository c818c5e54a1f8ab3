"""Sound cut into pieces, decoded again by libsndfile and by FFmpeg, and joined as a page does."""

import io
import subprocess
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
import soundfile
from scipy.signal import resample_poly

from throwcount.sounds.errors import FileError
from throwcount.sounds.files.sound_pieces import SoundPieces, file_blocks, sound_pieces
from throwcount.sounds.samples import Samples

RATE = 48_000
ENCODER_DELAY = 1105
"""Frames that LAME's MP3 is late, with the decoder's 529, where nothing tells the decoder (LAME's
technical FAQ, from memory; and measured here)."""

Decode = Callable[[bytes], npt.NDArray[np.float64]]


def by_libsndfile(piece: bytes) -> npt.NDArray[np.float64]:
    return soundfile.read(io.BytesIO(piece), always_2d=True)[0][:, 0]


def without_the_delay_told(piece: bytes) -> npt.NDArray[np.float64]:
    """Decode MP3 without its first frame, which tells the delay, as a simple decoder does."""
    length = 144 * 80_000 // RATE
    start = piece.index(b"\xff\xfb")
    return by_libsndfile(piece[:start] + piece[start + length :])


def by_ffmpeg(piece: bytes) -> npt.NDArray[np.float64]:
    command = "ffmpeg -loglevel error -i - -f f32le -ac 2 -".split()
    done = subprocess.run(command, input=piece, capture_output=True, check=True)
    return np.frombuffer(done.stdout, "<f4").reshape(-1, 2)[:, 0].astype(float)


def joined(
    sound: SoundPieces, pieces: Iterable[bytes], decode: Decode = by_libsndfile
) -> npt.NDArray[np.float64]:
    """Join pieces as the page does: each begins so far behind the top of its pulse."""

    def inner() -> Iterator[npt.NDArray[np.float64]]:
        for piece in pieces:
            samples = decode(piece)
            first = int(np.argmax(samples[: sound.quiet])) + sound.lead
            yield samples[first : first + sound.piece_frames]

    return np.concatenate([*inner()])[: sound.frames]


def clicking(seconds: float, rate: int = RATE) -> tuple[Samples, list[int]]:
    """Return struck tones over a soft noise, and the frames on which they are struck."""
    rng = np.random.default_rng(7)
    mono = 0.003 * rng.standard_normal(round(seconds * rate))
    struck = [round(time * rate) for time in np.arange(0.4, seconds - 0.1, 0.27)]
    time = np.arange(round(0.03 * rate)) / rate
    for frame in struck:
        mono[frame : frame + len(time)] += (
            0.5 * np.sin(2 * np.pi * 1500 * time) * np.exp(-time / 0.006)
        )
    return np.repeat(mono[:, np.newaxis], 2, axis=1).astype(np.float32), struck


def in_blocks(samples: Samples, size: int = 10_007) -> Iterator[Samples]:
    for start in range(0, len(samples), size):
        yield samples[start : start + size]


def lags(sound: npt.NDArray[np.float64], samples: Samples, struck: list[int]) -> list[int]:
    """Return by how many frames each click is late, by cross-correlation with the original."""
    reach, length = 480, 1440
    return [
        int(
            np.argmax(
                np.correlate(
                    sound[frame - reach : frame + length + reach],
                    samples[frame : frame + length, 0],
                )
            )
        )
        - reach
        for frame in struck
    ]


@pytest.mark.parametrize("frames", [1, 95_999, 96_000, 96_001, 98_000, 192_001, 250_000])
def test_exact_pieces_give_back_every_sample(frames: int) -> None:
    rng = np.random.default_rng(frames)
    samples = (rng.integers(-32768, 32767, (frames, 2)) / 32768).astype(np.float32)
    sound = sound_pieces(in_blocks(samples), 8000, frames, compact=False)
    assert np.array_equal(joined(sound, sound), samples[:, 0])


@dataclass(frozen=True)
class Coded:
    """A sound with clicks, and its compact pieces."""

    samples: Samples
    struck: list[int]
    sound: SoundPieces
    pieces: list[bytes]


@pytest.fixture(scope="module")
def coded() -> Coded:
    samples, struck = clicking(13)
    sound = sound_pieces(in_blocks(samples), RATE, len(samples), compact=True)
    return Coded(samples, struck, sound, [*sound])


@pytest.mark.parametrize(
    ("decode", "delay"),
    [(by_libsndfile, 0), (without_the_delay_told, ENCODER_DELAY), (by_ffmpeg, 0)],
)
def test_clicks_of_compact_pieces_stay_in_place(coded: Coded, decode: Decode, delay: int) -> None:
    assert len(coded.pieces) == 2
    top = int(np.argmax(decode(coded.pieces[0])[: coded.sound.quiet]))
    assert top - 0.03 * RATE == pytest.approx(delay, abs=1)
    late = lags(joined(coded.sound, coded.pieces, decode), coded.samples, coded.struck)
    assert max(map(abs, late)) <= 1  # a frame is 0.02 ms


@pytest.mark.parametrize("rate", [8_000, 24_000, 44_100, 96_000])
def test_compact_sound_of_any_rate(rate: int) -> None:
    samples, struck = clicking(3, rate)
    sound = sound_pieces(in_blocks(samples), rate, len(samples), compact=True)
    assert sound.rate == (rate if rate == 44_100 else RATE)
    decoded = joined(sound, sound)
    assert len(decoded) == round(len(samples) * sound.rate / rate)
    if rate != sound.rate:
        decoded = resample_poly(decoded, rate, sound.rate)
    late = lags(decoded, samples, struck)
    assert max(map(abs, late)) <= max(1, rate / 1000)


def test_compact_pieces_are_small(coded: Coded) -> None:
    # Twelve minutes in Base64, with 300 kB of beats, are to stay under 12 MB.
    assert 60 * len(coded.pieces[0]) * 4 / 3 + 300_000 < 12_000_000


def test_a_file_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    with pytest.raises(FileError, match=r"none\.flac cannot be read"):
        next(file_blocks(tmp_path / "none.flac"))
