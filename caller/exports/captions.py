"""A timeline as captions: WebVTT for browsers and video players, LRC for players of music."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Final, TypeAlias

from caller.exports.caption_texts import Caption, captions
from caller.exports.lrc import lrc
from caller.exports.webvtt import webvtt
from engine.routines.chapters import Chapter
from engine.timing.timeline import Timeline
from sounds.errors import FileError
from sounds.files.whole_file import write_text

Writer: TypeAlias = Callable[[Iterable[Caption], str], Iterator[str]]

FORMATS: Final[dict[str, Writer]] = {".vtt": webvtt, ".lrc": lrc}
"""What writes the captions of a file, by the ending of its name."""


def write_captions(
    path: Path, timeline: Timeline, chapters: Sequence[Chapter], title: str, *, overwrite: bool
) -> None:
    """Write the captions of a timeline, in the format of the file's ending, as UTF-8.

    Parameters
    ----------
    path
        Where to; the ending is one of `FORMATS`.
    timeline
        One that ends. It is walked once and not kept.
    chapters
        In order of time.
    title
        Of the whole.
    overwrite
        Whether a file that is there already is replaced.

    Raises
    ------
    FileError
        If the file cannot be written, or is there already. Then nothing has changed.
    """
    writer = captions_format(path)
    write_text(path, writer(captions(timeline, chapters, title), title), overwrite=overwrite)


def captions_format(path: Path) -> Writer:
    """Return what writes the captions of a file.

    Raises
    ------
    FileError
        If the file's ending is none of `FORMATS`.
    """
    writer = FORMATS.get(path.suffix.lower())
    if writer is None:
        raise FileError(
            f"{path} is no name for captions; let it end in .vtt for WebVTT or .lrc for LRC."
        )
    return writer
