"""Texts that other programs show on a line of their own."""

from typing import Final
from unicodedata import category

NOT_SHOWN: Final = frozenset({"Cc", "Cs", "Zl", "Zp"})
"""Unicode's categories of control characters, halves of a surrogate pair, and separators of lines
and paragraphs."""


def one_line(text: str) -> str:
    """Return `text` on one line: spaces stand for line ends and for what cannot be shown."""
    shown = (" " if category(character) in NOT_SHOWN else character for character in text)
    return " ".join("".join(shown).split())
