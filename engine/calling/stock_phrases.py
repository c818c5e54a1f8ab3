"""All that the program says of itself besides numbers, in one list.

It is made in English, in `calls`, `announcement`, `cue_texts` and where practices are led; from
here it can be put in other languages. A phrase goes by its words with dashes between; in the name,
`n` stands for any number.
"""

from collections.abc import Mapping
from typing import Final

SLOT: Final = "n"
"""Stands for a number in the name of a phrase."""

NUMBER: Final = "N"
"""Stands for the number in what is said for the phrase."""

NEXT: Final = "next"
"""Opens the cue call of a pattern, so that its values are not taken for the count. The one phrase
that words of any kind may follow, such as "next the long way round"."""

STOCK_PHRASES: Final[Mapping[str, str]] = {
    "stop": "on the last throw",
    "last-one": "where the last cycle begins",
    "both": "for both hands",
    "right": "for the right hand, and before what it holds",
    "left": "for the left hand, and before what it holds",
    "double": "before the value of two objects from one hand",
    "triple": "before the value of three objects from one hand",
    "flash": "when every object has been caught once",
    "qualified": "when every object has been caught twice",
    "tempo-n": "the tempo, announced or reached",
    "right-hand-first": "the hand that begins",
    "left-hand-first": "the hand that begins",
    "pattern-n-beats": "a pattern that is too long to be read out",
    "rest": "where a rest begins",
    "n-seconds": "what is left of a rest",
    NEXT: "before the name or the values of what comes next",
    "pick-up-n": "objects that come in",
    "n-down": "objects that are put down",
}
"""Each phrase, and when it is said."""

IN_ENGLISH: Final[Mapping[str, str]] = {
    name: " ".join(NUMBER if word == SLOT else word for word in name.split("-"))
    for name in STOCK_PHRASES
}
"""What is said for each phrase as it is made."""
