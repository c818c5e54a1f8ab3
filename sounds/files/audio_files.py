"""Writes sound to a file, block by block; the file is there when it is whole."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import soundfile

from throwcount.engine.scheduling.scheduler import Chapter
from throwcount.sounds.errors import FileError
from throwcount.sounds.files.chapters import marker_bytes, write_markers
from throwcount.sounds.files.whole_files import ROOM, whole_file
from throwcount.sounds.samples import CHANNELS, Samples, Source

FORMATS: Final = {
    ".wav": ("WAV", "PCM_16"),
    ".flac": ("FLAC", "PCM_16"),
    ".ogg": ("OGG", "VORBIS"),
    ".mp3": ("MP3", "MPEG_LAYER_III"),
}
"""Format and coding of each ending of a file name, as libsndfile names them."""

EXACT_ENDINGS: Final = frozenset({".wav", ".flac"})
"""Endings of the formats that keep every sample; the others may shift the sound in time."""

WAV_LIMIT: Final = 2**32
"""A WAV file counts its bytes in 32 bits; a longer one has to be RF64 (ITU-R BS.2088)."""

HEADER_BYTES: Final = 4096
"""More than the header of any WAV file written here, without its markers."""

BYTES_A_FRAME: Final = 2 * CHANNELS
BLOCK: Final = 16_384
"""Frames that are mixed at a time."""

BLOCKS_A_WRITE: Final = 4
"""Blocks that are written at a time, which saves system calls and takes little memory. Written in
one piece, a long OGG ends the process."""

SYSTEM_ERROR: Final = 2
"""libsndfile's code for an unspecified error of the system."""


def write_audio(  # noqa: PLR0913 - what is written, where, and five options
    path: Path,
    source: Source,
    rate: int,
    frames: int,
    *,
    overwrite: bool = False,
    on_frames: Callable[[int], None] | None = None,
    wav_limit: int = WAV_LIMIT,
    title: str = "",
    chapters: Sequence[Chapter] = (),
) -> None:
    """Write all of `source` to a stereo file of 16 bits, in the format of the file's ending.

    Parameters
    ----------
    path
        The file, with an ending of `FORMATS` in small or capital letters. A link is followed.
    source
        Read to its end.
    rate
        Sample rate, in Hz.
    frames
        How many frames `source` has.
    overwrite
        Whether an existing file is replaced.
    on_frames
        Called after each block with its number of frames.
    wav_limit
        Bytes from which on a WAV file is written as RF64.
    title, chapters
        Written into the file beside the sound, which they do not change; none if empty.

    Raises
    ------
    FileError
        If the file cannot be written, or exists already. Then nothing has changed.
    """
    form, coding = file_format(path, frames, wav_limit - marker_bytes(title, chapters, rate))
    with coding_errors_told(path), whole_file(path, overwrite=overwrite) as unfinished:
        written = _write(unfinished, source, rate, (form, coding), on_frames)
        write_markers(unfinished, form, title, chapters, rate)
        _check_whole(unfinished, path, written)


def file_format(path: Path, frames: int, wav_limit: int = WAV_LIMIT) -> tuple[str, str]:
    """Return the format and coding for the ending of `path`, as libsndfile names them.

    `frames` is how many frames the file will hold. A WAV file of more than `wav_limit` bytes is
    written as RF64.

    Raises
    ------
    FileError
        If the ending is none of `FORMATS`.
    """
    ending = path.suffix.lower()
    if ending not in FORMATS:
        named = f"the ending {path.suffix!r}" if path.suffix else "no ending"
        raise FileError(
            f"{path} has {named}, which stands for no sound format known here; "
            f"use one of {', '.join(FORMATS)}."
        )
    form, coding = FORMATS[ending]
    if form == "WAV" and frames * BYTES_A_FRAME + HEADER_BYTES > wav_limit:
        form = "RF64"
    return form, coding


def as_int16(samples: Samples, out: npt.NDArray[np.int16] | None = None) -> npt.NDArray[np.int16]:
    """Return samples in 16 bits, rounded to the nearest; 1.0 is 32768, clipped to 32767.

    They are put into `out` if it is given, which saves a copy.
    """
    scaled = samples * np.float32(32768)
    np.rint(scaled, out=scaled)
    np.clip(scaled, -32768, 32767, out=scaled)
    if out is None:
        return scaled.astype(np.int16)
    out[:] = scaled
    return out


def _write(
    path: Path,
    source: Source,
    rate: int,
    form: tuple[str, str],
    on_frames: Callable[[int], None] | None,
) -> int:
    """Write every block of `source` and return the number of frames."""
    written = 0
    name, coding = form
    # Lossy coders take float samples (and libsndfile 1.2 garbles 16 bits on their way to MP3).
    exact = coding == "PCM_16"
    with soundfile.SoundFile(str(path), "w", rate, CHANNELS, coding, format=name) as file:
        waiting = np.empty((BLOCKS_A_WRITE * BLOCK, CHANNELS), np.int16 if exact else np.float32)
        filled = 0
        while len(block := source.read(BLOCK)):
            place = waiting[filled : filled + len(block)]
            if exact:
                as_int16(block, place)
            else:
                place[:] = block
            filled += len(block)
            written += len(block)
            if on_frames is not None:
                on_frames(len(block))
            if filled + BLOCK > len(waiting):
                file.write(waiting[:filled])
                filled = 0
        file.write(waiting[:filled])
    return written


def _check_whole(unfinished: Path, path: Path, written: int) -> None:
    """Check that all was written; the last block may have failed silently in closing the file."""
    if written == 0:
        raise FileError(f"There is no sound to write to {path}.")
    if soundfile.info(str(unfinished)).frames != written:
        raise FileError(f"{path} could not be written whole. {ROOM}")


@contextmanager
def coding_errors_told(path: Path) -> Iterator[None]:
    """Turn errors of libsndfile into plain sentences about `path`."""
    try:
        yield
    except soundfile.LibsndfileError as error:
        reason = ROOM if error.code == SYSTEM_ERROR else error.error_string.removeprefix("Error : ")
        raise FileError(f"{path} cannot be written. {reason}") from error
