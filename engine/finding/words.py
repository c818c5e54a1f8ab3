"""Words whose letters, taken as throw values from a to z, can be juggled."""

import re
from collections.abc import Iterable, Iterator
from typing import Final

from engine.errors import PatternError
from engine.patterns.jugglable import read
from engine.patterns.pattern import Pattern

WORD: Final = re.compile(r"[^\W\d_]+(?:['\u2019][^\W\d_]+)*")
"""Letters of any script, with apostrophes between them."""

APOSTROPHES: Final = str.maketrans("", "", "'\u2019")


def jugglable_words(lines: Iterable[str]) -> Iterator[Pattern]:
    """Yield the words that can be juggled, each once, in the order in which they come.

    A word is taken without its apostrophes and in lower case; one with a letter other than a to z
    is passed over. What is kept in memory is the words that were found.

    `lines` may be any text, in parts that cut no word.
    """
    found: set[str] = set()
    for line in lines:
        for match in WORD.finditer(line):
            word = match.group().translate(APOSTROPHES)
            pattern = _juggled(word.lower()) if word.isascii() else None
            if pattern is not None and pattern.text not in found:
                found.add(pattern.text)
                yield pattern


def _juggled(word: str) -> Pattern | None:
    try:
        return read(word)
    except PatternError:
        return None
