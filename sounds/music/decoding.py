"""Music decoded to a file at the rate of the output, and measured on the way (ITU-R BS.1770).

Music is decoded once, before it is heard, to a temporary file. So the mixer, in this process or in
the one that plays live, finds any time of it exactly and at once, and long music needs no more
memory than short. Where it is to be slower or faster, it is stretched on the way.

Integrated loudness is the mean K-weighted power of blocks of 400 ms, one every 100 ms: of those
above -70 LKFS, and then of those no more than 10 LU below the mean of these.
"""

from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack, contextmanager, nullcontext
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import soundfile
import soxr

from throwcount.sounds.child_process import native_chatter_discarded
from throwcount.sounds.errors import MusicError
from throwcount.sounds.files.decoders import (
    HEADERLESS,
    HIGHEST_RATE,
    LOWEST_RATE,
    check_readable,
)
from throwcount.sounds.files.whole_files import plain_system_errors, temporary_file
from throwcount.sounds.measures import OVERSAMPLING, k_response, level_of
from throwcount.sounds.mixing.music_bed import SAMPLE, Music
from throwcount.sounds.music.stretching import stretched
from throwcount.sounds.samples import CHANNELS, Samples, at_rate

STEPS_A_SECOND: Final = 10
STEPS_A_BLOCK: Final = 4
"""A block of 400 ms overlaps the next by three quarters."""

ABSOLUTE_GATE: Final = -70.0
RELATIVE_GATE: Final = -10.0

TRANSFORM: Final = 1 << 16
"""Frames of the transforms that filter a segment by overlap-save; the quickest size."""

RINGING_SECONDS: Final = 0.15
"""How long the filters ring: after it the high pass has fallen by more than 250 dB."""


class Meter:
    """Measures stereo sound as it comes; `rate` is the sample rate in Hz."""

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
        """Measure the next frames, shape (frames, 2), all finite."""
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
        """Return the integrated loudness in LKFS and the true peak, linear; the end of the sound.

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
        """Filter the waiting segment, with the sound before it still ringing in the filters."""
        samples = np.concatenate((self._before, *self._waiting))
        self._before = samples[len(samples) - self._ringing :]
        self._waiting, self._frames_waiting = [], 0
        channels = np.ascontiguousarray(samples.T, dtype=np.float64)
        spectrum = np.fft.rfft(channels, TRANSFORM) * k_response(TRANSFORM, self._rate)
        # The transform is circular: what rings on at its end comes at its beginning; left out.
        weighted = np.fft.irfft(spectrum, TRANSFORM)[:, self._ringing : len(samples)]
        self._add_steps((weighted**2).sum(axis=0))

    def _add_steps(self, power: npt.NDArray[np.float64]) -> None:
        """Sum the power of frames into steps of 100 ms; the last is usually incomplete."""
        end = self._position + len(power)
        marks = [0]
        while (mark := round((len(self._steps) + len(marks)) * self._rate / STEPS_A_SECOND)) <= end:
            marks.append(mark - self._position)
        sums = [float(power[first:last].sum()) for first, last in pairwise(marks)]
        if sums:
            sums[0] += self._energy
            self._energy = 0.0
        self._energy += float(power[marks[-1] :].sum())
        self._steps += sums
        self._position = end


def integrated(steps: npt.NDArray[np.float64], rate: int) -> float:
    """Return the integrated loudness in LKFS; -inf if all is below the absolute gate.

    `steps` are the energies (K-weighted power, summed over channels and frames) of every 100 ms, at
    least `STEPS_A_BLOCK` of them. `rate` is the sample rate in Hz.
    """
    power = np.convolve(steps, np.ones(STEPS_A_BLOCK), "valid")
    power /= STEPS_A_BLOCK * rate / STEPS_A_SECOND
    power = power[power > power_of(ABSOLUTE_GATE)]
    if not len(power):
        return -np.inf
    power = power[power > power_of(level_of(float(power.mean())) + RELATIVE_GATE)]
    return level_of(float(power.mean()))


def power_of(level: float) -> float:
    """Return the K-weighted power of a level in LKFS, the inverse of `level_of`."""
    return float(10 ** ((level - level_of(1.0)) / 10))


KINDS: Final = "WAV, FLAC, OGG or MP3"
CHUNK: Final = 65_536
"""Frames decoded at a time."""

RUN_UP: Final = 16_384
"""Frames of an MP3 file that are decoded again before each chunk. soundfile seeks after every read,
and a frame of MP3 draws on bits of up to ten frames before it, so without a run-up the beginning of
a chunk may be garbled. Seeking also keeps the time right where an OGG file is damaged."""

MISSING_SECONDS: Final = 0.5
"""Music that is no more than this shorter than its header says counts as whole."""


@contextmanager
def decoded_music(
    path: Path,
    rate: int,
    *,
    share: float = 1.0,
    folder: Path | None = None,
    on_frames: Callable[[int], None] | None = None,
) -> Iterator[Music]:
    """Decode and measure music, and keep it for as long as the context lasts.

    Parameters
    ----------
    path
        WAV, FLAC, OGG, MP3 or another format of libsndfile, mono or stereo, at any rate.
    rate
        Sample rate of the output, in Hz.
    share
        Of its own tempo, at which it is to be heard, at its own pitch; within `STRETCHES`.
    folder
        Where the decoded file lies meanwhile, 8 bytes a frame (23 MB a minute at 48 kHz); the
        system's folder for temporary files if None.
    on_frames
        Called after each block with its number of frames; their sum is `frames_of`, over `share`.

    Raises
    ------
    MusicError
        If there is no such file or no sound in it, it has more than two channels, or what stretches
        it is not installed.
    FileError
        If there is no room for the decoded file.
    """
    with ExitStack() as cleaning:
        source = cleaning.enter_context(_open(path))
        if source.channels > CHANNELS:
            raise MusicError(
                f"The music {path} has {source.channels} channels; it can have one or two. Mix it "
                f"down to stereo first."
            )
        with plain_system_errors(folder or Path("temporary files")):
            place = cleaning.enter_context(temporary_file(folder))
        sound = at_rate(_stereo(source), source.samplerate, rate, CHANNELS, "VHQ")
        if share != 1.0:
            sound = stretched(sound, rate, share)
        music = _decode(sound, path, place, rate, on_frames)
        length = int(source.frames) / int(source.samplerate)
        source.close()
        yield replace(music, warning=_damage(path, length, share * music.seconds))


def frames_of(path: Path, rate: int) -> int:
    """Return how many frames music will have at `rate`, about, by its header.

    Raises
    ------
    MusicError
        If it cannot be read.
    """
    with _open(path) as source:
        return round(int(source.frames) / int(source.samplerate) * rate)


def _decode(
    sound: Iterable[Samples],
    path: Path,
    place: Path,
    rate: int,
    on_frames: Callable[[int], None] | None,
) -> Music:
    """Write the samples of `path` to `place`, and return them as music."""
    meter = Meter(rate)
    frames = 0
    with plain_system_errors(place), place.open("wb") as file:
        for samples in sound:
            meter.take(samples)
            file.write(np.ascontiguousarray(samples, dtype=SAMPLE).data)
            frames += len(samples)
            if on_frames is not None:
                on_frames(len(samples))
    if not frames:
        raise MusicError(f"The music {path} holds no sound.")
    loudness, peak = meter.finish()
    return Music(place, rate, frames, peak, loudness)


def _stereo(source: soundfile.SoundFile) -> Iterator[Samples]:
    """Yield what can be decoded on two channels, which are the same if there is one."""
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


def _damage(path: Path, length: float, seconds: float) -> str:
    if length - seconds <= MISSING_SECONDS:
        return ""
    return (
        f"The music {path} breaks off after {seconds:.1f} of {length:.1f} s: it is damaged, or was "
        f"not copied whole."
    )


def _open(path: Path) -> soundfile.SoundFile:
    check_readable(path, "music", MusicError)
    unknown = MusicError(
        f"The music {path} cannot be read: it is damaged, or it is not a {KINDS} file."
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
