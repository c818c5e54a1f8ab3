"""Music is decoded once, before it is heard: to the rate of the output, and measured on the way.

What is decoded lies in a temporary file, so that whoever plays it, in this process or the one
that plays live, finds any moment of it exactly and at once, and long music needs no more memory
than short.

Loudness and true peak of sound that comes piece by piece (ITU-R BS.1770).

Integrated loudness: K-weighted power of blocks of 400 ms, a new one every 100 ms; the mean over
those above -70 LKFS and then over those no more than 10 LU below that mean.
"""

import os
import stat
import tempfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, nullcontext, suppress
from itertools import pairwise
from pathlib import Path
from typing import IO, Final

import numpy as np
import numpy.typing as npt
import soundfile
import soxr

from throwcount.sounds.child_process import native_chatter_discarded
from throwcount.sounds.errors import MusicError
from throwcount.sounds.files.whole_files import system_errors_told
from throwcount.sounds.measures import OVERSAMPLING, k_response, level_of
from throwcount.sounds.mixing.music_bed import SAMPLE, Music
from throwcount.sounds.samples import CHANNELS, Samples

STEPS_A_SECOND: Final = 10
STEPS_A_BLOCK: Final = 4
"""A block of 400 ms overlaps the next by three quarters."""

ABSOLUTE_GATE: Final = -70.0
RELATIVE_GATE: Final = -10.0

TRANSFORM: Final = 1 << 16
"""Frames of the transforms that weight a segment and what rings into it; the quickest size."""

RINGING_SECONDS: Final = 0.15
"""How long the filters ring: the high pass has fallen by more than 250 dB after it."""


class Meter:
    """Measures stereo sound as it is handed over.

    `rate` is the sample rate in Hz.
    """

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._ringing = round(RINGING_SECONDS * rate)
        self._segment = TRANSFORM - self._ringing
        self._before: Samples = np.zeros((self._ringing, CHANNELS), dtype=np.float32)
        self._waiting: list[Samples] = []
        self._frames_waiting = 0
        self._position = 0
        self._energy = 0.0
        self._steps: list[float] = []
        self._between = soxr.ResampleStream(
            rate, OVERSAMPLING * rate, CHANNELS, dtype="float32", quality="HQ"
        )
        self._peak = 0.0

    def take(self, samples: Samples) -> None:
        """Take in the next frames, shape (frames, 2), all finite."""
        self._note_peak(samples)
        self._note_peak(self._between.resample_chunk(samples))
        while len(samples):
            room = self._segment - self._frames_waiting
            self._waiting.append(samples[:room])
            self._frames_waiting += len(self._waiting[-1])
            samples = samples[room:]
            if self._frames_waiting == self._segment:
                self._weigh()

    def finish(self) -> tuple[float, float]:
        """Return the integrated loudness in LKFS and the true peak, linear; no more can be taken.

        Sound that is shorter than a block counts as one.
        """
        nothing = np.zeros((0, CHANNELS), dtype=np.float32)
        self._note_peak(self._between.resample_chunk(nothing, last=True))
        self._weigh()
        if len(self._steps) < STEPS_A_BLOCK:
            frames = self._position or 1
            return level_of((sum(self._steps) + self._energy) / frames), self._peak
        return integrated(np.array(self._steps), self._rate), self._peak

    def _note_peak(self, samples: Samples) -> None:
        self._peak = max(self._peak, float(np.max(np.abs(samples), initial=0.0)))

    def _weigh(self) -> None:
        """Weight what waits, with what came before it still ringing in the filters."""
        samples = np.concatenate((self._before, *self._waiting))
        self._before = samples[len(samples) - self._ringing :]
        self._waiting, self._frames_waiting = [], 0
        channels = np.ascontiguousarray(samples.T, dtype=np.float64)
        spectrum = np.fft.rfft(channels, TRANSFORM) * k_response(TRANSFORM, self._rate)
        # What rings on at the end of the transform comes round to its beginning, and is left out.
        weighted = np.fft.irfft(spectrum, TRANSFORM)[:, self._ringing : len(samples)]
        self._add_steps((weighted**2).sum(axis=0))

    def _add_steps(self, power: npt.NDArray[np.float64]) -> None:
        """Sum the power of frames into steps of 100 ms; the last is as a rule begun only."""
        end = self._position + len(power)
        marks = [0]
        while (mark := self._end_of_step(len(self._steps) + len(marks))) <= end:
            marks.append(mark - self._position)
        sums = [float(power[first:last].sum()) for first, last in pairwise(marks)]
        if sums:
            sums[0] += self._energy
            self._energy = 0.0
        self._energy += float(power[marks[-1] :].sum())
        self._steps += sums
        self._position = end

    def _end_of_step(self, count: int) -> int:
        """Return the frame that the first `count` steps end before."""
        return round(count * self._rate / STEPS_A_SECOND)


def integrated(steps: npt.NDArray[np.float64], rate: int) -> float:
    """Return the integrated loudness, in LKFS; -inf where all is below the absolute gate.

    `steps` are the energies (sum of the K-weighted power over channels and frames) of every 100 ms,
    at least `STEPS_A_BLOCK` of them. `rate` is the sample rate in Hz.
    """
    power = np.convolve(steps, np.ones(STEPS_A_BLOCK), "valid")
    power /= STEPS_A_BLOCK * rate / STEPS_A_SECOND
    power = power[power > power_of(ABSOLUTE_GATE)]
    if not len(power):
        return -np.inf
    power = power[power > power_of(level_of(float(power.mean())) + RELATIVE_GATE)]
    return level_of(float(power.mean()))


def power_of(level: float) -> float:
    """Return the K-weighted power that a level in LKFS stands for; see `level_of`."""
    return float(10 ** ((level - level_of(1.0)) / 10))


KINDS: Final = "WAV, FLAC, OGG or MP3"
CHUNK: Final = 65_536
"""Frames decoded at a time."""

RUN_UP: Final = 16_384
"""Frames of an MP3 file that are decoded once more before each chunk. soundfile seeks after every
reading, and a frame of MP3 draws on bits of those before it, up to ten of them: without a run-up
the beginning of a chunk may be garbled."""

LOWEST_RATE: Final = 4_000
HIGHEST_RATE: Final = 1_000_000
"""Sample rate in Hz beyond which a file's header is not to be believed."""

MISSING_SECONDS: Final = 0.5
"""Music that is shorter than its header says by no more than this counts as whole."""

HEADERLESS: Final = ".raw"
"""The ending by which soundfile takes a file for bare samples, of which nothing is known."""

PREFIX: Final = "throwcount-music-"


@contextmanager
def decoded_music(
    path: Path,
    rate: int,
    *,
    folder: Path | None = None,
    on_frames: Callable[[int], None] | None = None,
) -> Iterator[Music]:
    """Decode and measure music, and keep it for as long as the context lasts.

    Parameters
    ----------
    path
        WAV, FLAC, OGG, MP3 or another format of libsndfile, mono or stereo, at any rate.
    rate
        Sample rate in Hz of what it is decoded to, that of the output.
    folder
        Where the decoded file lies meanwhile, 8 bytes a frame (23 MB a minute at 48 kHz); the
        system's folder for temporary files if None.
    on_frames
        Called after each piece with the number of decoded frames in it; `frames_of` tells how
        many there will be.

    Yields
    ------
    Music
        To be heard while the context lasts.

    Raises
    ------
    MusicError
        If there is no such file, or no sound in it, or it has more than two channels.
    FileError
        If there is no room for the decoded file.
    """
    with ExitStack() as cleaning:
        source = cleaning.enter_context(_open(path))
        _check_channels(source, path)
        place = _new_file(folder)
        cleaning.callback(_remove, place)
        music = _decode(source, path, place, rate, on_frames)
        source.close()
        yield music


def frames_of(path: Path, rate: int) -> int:
    """Return how many frames music will have at `rate`, as its header tells it, near enough.

    Raises
    ------
    MusicError
        If it cannot be read.
    """
    with _open(path) as source:
        return round(int(source.frames) / int(source.samplerate) * rate)


def _decode(
    source: soundfile.SoundFile,
    path: Path,
    place: Path,
    rate: int,
    on_frames: Callable[[int], None] | None,
) -> Music:
    """Write the decoded samples to `place`, and return what is known of them."""
    meter = Meter(rate)
    frames = 0
    with system_errors_told(place), place.open("wb") as file:
        for samples in _at_rate(_stereo(source), source.samplerate, rate):
            meter.take(samples)
            _write(file, samples)
            frames += len(samples)
            if on_frames is not None:
                on_frames(len(samples))
    if not frames:
        raise MusicError(f"The music {path} holds no sound.")
    loudness, peak = meter.finish()
    warning = _damage(path, source.frames / source.samplerate, frames / rate)
    return Music(place, rate, frames, peak, loudness, warning)


def _stereo(source: soundfile.SoundFile) -> Iterator[Samples]:
    """Yield what can be decoded on two channels, the same on both if there is one."""
    compressed = source.format == "MP3"
    # libmpg123 reports damaged frames on standard error, while it decodes.
    quiet = native_chatter_discarded if compressed else nullcontext
    position = 0
    while True:
        run_up = min(RUN_UP, position) if compressed else 0
        with quiet():
            try:
                source.seek(position - run_up)
                samples: Samples = source.read(run_up + CHUNK, dtype="float32", always_2d=True)
            except soundfile.LibsndfileError:
                return
        samples = samples[run_up:]
        if not len(samples):
            return
        position += len(samples)
        both = np.broadcast_to(samples, (len(samples), CHANNELS))
        yield np.nan_to_num(both, nan=0.0, posinf=0.0, neginf=0.0)


def _at_rate(chunks: Iterator[Samples], rate: int, wanted: int) -> Iterator[Samples]:
    if rate == wanted:
        yield from chunks
        return
    resampler = soxr.ResampleStream(rate, wanted, CHANNELS, dtype="float32", quality="VHQ")
    for chunk in chunks:
        yield resampler.resample_chunk(chunk)
    yield resampler.resample_chunk(np.zeros((0, CHANNELS), dtype=np.float32), last=True)


def _write(file: IO[bytes], samples: Samples) -> None:
    file.write(np.ascontiguousarray(samples, dtype=SAMPLE).data)


def _damage(path: Path, told: float, seconds: float) -> str:
    if told - seconds <= MISSING_SECONDS:
        return ""
    return (
        f"The music {path} breaks off after {seconds:.1f} of {told:.1f} s: it is damaged, or was "
        f"not copied whole."
    )


def _open(path: Path) -> soundfile.SoundFile:
    _check_readable(path)
    unknown = MusicError(
        f"The music {path} cannot be read: it is damaged, or it is no {KINDS} file."
    )
    if path.suffix.lower() == HEADERLESS:
        raise unknown
    try:
        with native_chatter_discarded():
            source = soundfile.SoundFile(str(path))
    except soundfile.LibsndfileError as error:
        raise unknown from error
    if not LOWEST_RATE <= source.samplerate <= HIGHEST_RATE:
        rate = source.samplerate
        source.close()
        raise MusicError(f"The music {path} says it has {rate} samples a second: it is damaged.")
    return source


def _check_readable(path: Path) -> None:
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            raise MusicError(f"The music {path} cannot be read: it is a folder or a device.")
        with path.open("rb"):
            pass
    except FileNotFoundError as error:
        raise MusicError(f"The music {path} cannot be read: there is no such file.") from error
    except OSError as error:
        raise MusicError(
            f"The music {path} cannot be read. The system says: {error.strerror or error}."
        ) from error


def _check_channels(source: soundfile.SoundFile, path: Path) -> None:
    if source.channels > CHANNELS:
        raise MusicError(
            f"The music {path} has {source.channels} channels; it can have one or two. Mix it "
            f"down to stereo first."
        )


def _new_file(folder: Path | None) -> Path:
    place = Path(tempfile.gettempdir() if folder is None else folder)
    with system_errors_told(place):
        place.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(".f32", PREFIX, place)
    os.close(handle)
    return Path(name)


def _remove(place: Path) -> None:
    with suppress(OSError):  # On Windows it stays while another process still has it open.
        place.unlink()
