"""What is said before a run: the pattern, the tempo, what the hands hold, and which one begins."""

from collections.abc import Mapping
from typing import Final

from engine.calling.calls import throws_words
from engine.calling.numbers import spoken
from engine.patterns.pattern import Hand, Pattern
from engine.timing.run import Wording

LONGEST_READ_OUT: Final = 8
"""Turns of a pattern that are read out; of a longer one only its length is told."""


def announcement(
    pattern: Pattern,
    tempo: float,
    first: Hand,
    wording: Wording,
    held: Mapping[Hand, int] | None = None,
) -> str:
    """Return the words, such as "five three one, tempo one hundred fifty, right hand first".

    `pattern`, `tempo`, `first` and `wording` are as in the run. `held` is how many objects each
    hand holds at the start; not said if None.
    """
    words = [pattern_words(pattern, wording), f"tempo {spoken(round(tempo))}"]
    if held is not None:
        words.append(f"right {spoken(held['right'])}, left {spoken(held['left'])}")
    if pattern.kind == "async":
        words.append(f"{first} hand first")
    return ", ".join(words)


def pattern_words(pattern: Pattern, wording: Wording) -> str:
    """Return a pattern read out, or only its length where it is long."""
    if len(pattern.turns) > LONGEST_READ_OUT:
        return f"pattern {spoken(pattern.period)} beats"
    return " ".join(throws_words(throws, wording) for turn in pattern.turns for throws in turn)
