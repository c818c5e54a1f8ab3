"""Captions as LRC, the usual format of lyrics beside a music file: a time and a text on each line.

It has no standard; its lines and tags are common practice. Times are in hundredths of a second.
"""

import re
from collections.abc import Iterable, Iterator
from typing import Final

from caller.exports.caption_texts import Caption
from sounds.files.one_line import one_line

TIME_TAG: Final = re.compile(r"\[(?=\d+:)")
"""What could be taken for the beginning of a time within a text."""

NO_BREAK_SPACE: Final = "\N{NO-BREAK SPACE}"
"""Put before a bracket that opens a text, such as that of ``[33]1``, so that it is no tag."""


def lrc(captions: Iterable[Caption], title: str) -> Iterator[str]:
    """Yield an LRC file in pieces.

    Parameters
    ----------
    captions
        In order of time; the lines of each stand side by side.
    title
        Of the whole.
    """
    named = one_line(title).replace("[", "(").replace("]", ")")
    yield f"[ti:{named}]\n"
    end = 0.0
    for caption in captions:
        lines = (" ".join(word.text for word in line.words) for line in caption.lines)
        yield f"[{_time(caption.start)}]{_plain(' | '.join(lines))}\n"
        end = caption.end
    yield f"[{_time(end)}]\n"


def _plain(text: str) -> str:
    """Return a text in which nothing is taken for a tag."""
    disarmed = TIME_TAG.sub("(", text)
    return NO_BREAK_SPACE + disarmed if disarmed.startswith("[") else disarmed


def _time(seconds: float) -> str:
    """Return a time in minutes, seconds and hundredths; there are no hours."""
    whole, hundredths = divmod(round(seconds * 100), 100)
    minutes, second = divmod(whole, 60)
    return f"{minutes:02}:{second:02}.{hundredths:02}"
