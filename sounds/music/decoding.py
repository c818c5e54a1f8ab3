"""Music is decoded once, before it is heard: to the rate of the output, and measured on the way.

What is decoded lies in a temporary file, so that whoever plays it, in this process or the one
that plays live, finds any moment of it exactly and at once, and long music needs no more memory
than short.
"""

import os
import stat
import tempfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, nullcontext, suppress
from pathlib import Path
from typing import IO, Final

import numpy as np
import soundfile
import soxr

from sounds.errors import MusicError
from sounds.files.whole_file import system_errors_told
from sounds.music.measuring import Meter
from sounds.music.music import SAMPLE, Music
from sounds.placing.mixer import CHANNELS
from sounds.playing.devices import native_chatter_discarded
from sounds.voices.clip import Samples

KINDS: Final = "WAV, FLAC, OGG or MP3"
CHUNK: Final = 65_536
"""Frames decoded at a time."""

RUN_UP: Final = 16_384
"""Frames of an MP3 file that are decoded once more before each chunk. soundfile seeks after every
reading, and a frame of MP3 draws on bits of those before it, up to ten of them: without a run-up
the beginning of a chunk may be garbled."""

LOWEST_RATE: Final = 4_000
HIGHEST_RATE: Final = 1_000_000
"""Frames a second beyond which a file's header is not to be believed."""

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
        Frames a second of what it is decoded to, that of the output.
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
