"""A list of beats as a text file, one number of seconds a line, such as a routine file names."""

from collections.abc import Iterator, Sequence
from pathlib import Path

from sounds.files.whole_file import write_text

COMMENT = "#"


def beats_lines(beats: Sequence[float], title: str) -> Iterator[str]:
    """Yield the lines of a beats file.

    `beats` are in seconds of the music, in order. `title` is what the list is, in one line.
    """
    for line in (*title.splitlines(), f"{len(beats)} beats, in seconds of the music"):
        yield f"{COMMENT} {line}\n"
    for beat in beats:
        yield f"{beat:.4f}\n"


def write_beats(path: Path, beats: Sequence[float], title: str, *, overwrite: bool) -> None:
    """Write a list of beats; parameters as those of `beats_lines`.

    Raises
    ------
    FileError
        If the file cannot be written, or is there already.
    """
    write_text(path, beats_lines(beats, title), overwrite=overwrite)
