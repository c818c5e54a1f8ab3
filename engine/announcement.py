"""What is said before a run: the pattern, the tempo, and the hand that begins."""

from typing import Final

from engine.calls import throws_words
from engine.numbers import spoken
from engine.pattern import Hand, Pattern
from engine.run import Wording

LONGEST_READ_OUT: Final = 8
"""Turns of a pattern that are read out; of a longer one only its length is told."""


def announcement(pattern: Pattern, tempo: float, first: Hand, wording: Wording) -> str:
    """Return the words, such as "five three one tempo one hundred fifty right hand first"."""
    words = [_pattern_words(pattern, wording), f"tempo {spoken(round(tempo))}"]
    if pattern.kind == "async":
        words.append(f"{first} hand first")
    return " ".join(words)


def _pattern_words(pattern: Pattern, wording: Wording) -> str:
    if len(pattern.turns) > LONGEST_READ_OUT:
        return f"pattern {spoken(pattern.period)} beats"
    return " ".join(throws_words(throws, wording) for turn in pattern.turns for throws in turn)
