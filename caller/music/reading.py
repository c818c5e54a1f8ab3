"""Music read from a file, with a bar that shows how far it is."""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from caller.console.progress import progress
from sounds.music.decoding import decoded_music, frames_of
from sounds.music.music import Music


@contextmanager
def read_music(path: Path, rate: int) -> Iterator[Music]:
    """Decode music, and keep it while the context lasts.

    `rate` is the frames a second of the output.

    Raises
    ------
    MusicError
        If it cannot be read.
    """
    with ExitStack() as keeping:
        with progress(f"Reading {path.name}", frames_of(path, rate)) as done:
            music = keeping.enter_context(decoded_music(path, rate, on_frames=done))
        yield music
