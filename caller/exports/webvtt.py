"""Captions as WebVTT (W3C Candidate Recommendation, 2019).

A time within a caption parts the throws that were from those to come, which a browser shows dimmer:
so they light up one by one, at any tempo. Chapters stand as comments. There is no style block, as
some players show nothing of a file that has one.
"""

from collections.abc import Iterable, Iterator
from html import escape
from typing import Final

from caller.exports.caption_texts import Caption, CaptionLine, CaptionWord
from engine.routines.chapters import Chapter
from sounds.files.clock_time import clock_time, milliseconds
from sounds.files.one_line import one_line

ARROW: Final = "-->"
"""What stands between two times; it may stand in no comment."""


def webvtt(captions: Iterable[Caption], title: str) -> Iterator[str]:
    """Yield a WebVTT file in pieces.

    Parameters
    ----------
    captions
        In order of time.
    title
        Of the whole.
    """
    yield f"WEBVTT\n\nNOTE {_comment(title)}\n"
    for caption in captions:
        yield from map(_chapter, caption.chapters)
        # One that is over within the same millisecond cannot be written.
        if milliseconds(caption.start) < milliseconds(caption.end):
            yield _cue(caption)


def _chapter(chapter: Chapter) -> str:
    return f"\nNOTE {clock_time(chapter.start)} {_comment(chapter.title)}\n"


def _comment(text: str) -> str:
    return one_line(text).replace(ARROW, "→")


def _cue(caption: Caption) -> str:
    lines = "\n".join(_cue_line(line, caption) for line in caption.lines)
    return f"\n{clock_time(caption.start)} {ARROW} {clock_time(caption.end)}\n{lines}\n"


def _cue_line(line: CaptionLine, caption: Caption) -> str:
    text = " ".join(_word(word, caption) for word in line.words)
    return f"<b>{text}</b>" if line.said else text


def _word(word: CaptionWord, caption: Caption) -> str:
    """Return a word, after the time when it is the current one; not at the beginning or the end."""
    text = escape(word.text, quote=False)
    if word.time is None or not _within(word.time, caption):
        return text
    return f"<{clock_time(word.time)}><c>{text}</c>"


def _within(time: float, caption: Caption) -> bool:
    return milliseconds(caption.start) < milliseconds(time) < milliseconds(caption.end)
