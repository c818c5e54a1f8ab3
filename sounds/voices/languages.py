"""The program's English, put into the words that a voice of another language is asked to say.

A text is split at its commas, and each clause into the longest stock phrases, numbers and own words
it is made of. A clause that holds anything else is somebody's own text and is left as it is.

The translations in `translations.csv` are what jugglers and music teachers commonly say, written
from memory; a person's own phrases replace them. Numbers need no translation: a voice reads digits
in its own language.
"""

import csv
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from typing import Final

from throwcount.engine.numbers import read_number
from throwcount.engine.scheduling.calls import (
    IN_ENGLISH,
    NEXT,
    NUMBER,
    SLOT,
    SPELLING_ALPHABET,
    STOCK_PHRASES,
)
from throwcount.sounds.errors import UnknownWordError

ENGLISH: Final = "en"

WORDS: Final = sorted((name.split("-") for name in STOCK_PHRASES), key=len, reverse=True)
"""The words of each stock phrase; those of most words come first."""

SPELLED: Final = frozenset(" ".join(SPELLING_ALPHABET.values()).split())
"""The words of the spelling alphabet, which are the same in every language."""


@cache
def translations() -> Mapping[str, Mapping[str, str]]:
    """Return what is said for each of `STOCK_PHRASES`, by language tag without a region.

    ``no`` and ``nn`` are the same as ``nb``. No native speaker has read these words yet.
    """
    table = resources.files("throwcount.sounds.voices").joinpath("translations.csv")
    (_, *languages), *rows = csv.reader(table.read_text("utf-8").splitlines())
    by_language = zip(languages, *(row[1:] for row in rows), strict=True)
    names = [name for name, *_ in rows]
    tables = {language: dict(zip(names, said, strict=True)) for language, *said in by_language}
    return {**tables, "no": tables["nb"], "nn": tables["nb"]}


@dataclass(frozen=True, slots=True)
class PhrasePart:
    """A stock phrase, a number or one of the juggler's own words."""

    words: int
    """How many English words it takes up."""
    text: str
    """How a number or an own word is said; of a stock phrase, the number in it."""
    phrase: str = ""
    """The name of a stock phrase; empty for anything else."""


@dataclass(frozen=True, slots=True)
class Phrasebook:
    """How the program speaks a language; plain English by default."""

    language: str = ENGLISH
    """A lower-case tag, such as ``de`` or ``pt-br``."""
    phrases: Mapping[str, str] = field(default_factory=lambda: IN_ENGLISH)
    """What is said for each of `STOCK_PHRASES`, by name; "N" stands for the number in it."""
    own: frozenset[str] = frozenset()
    """The juggler's own words, which are said as they are."""

    @property
    def in_english(self) -> bool:
        """Whether it is English, of whatever region."""
        return without_region(self.language) == ENGLISH

    @property
    def changes_nothing(self) -> bool:
        """Whether every text is said as it is."""
        return self.in_english and self.phrases == IN_ENGLISH

    def said(self, text: str) -> str:
        """Return what a voice of the language is asked to say for an English `text`.

        Raises
        ------
        UnknownWordError
            If the language has no words for one of the stock phrases in it.
        """
        return ", ".join(self._clause(clause.split()) for clause in text.split(","))

    def _clause(self, words: Sequence[str]) -> str:
        """Return how the words between two commas are said."""
        parts = self._parts(words)
        if parts is not None:
            return " ".join(map(self._part, parts))
        if words[0] == NEXT:
            return f"{self._part(PhrasePart(1, '', NEXT))} {self._clause(words[1:])}"
        return " ".join(words)

    def _parts(self, words: Sequence[str]) -> list[PhrasePart] | None:
        """Split words into known parts, each as long as possible; None if some are unknown."""
        parts = []
        while words:
            phrases = (self._stock_phrase(phrase, words) for phrase in WORDS)
            part = self._own_word(words) or next(filter(None, phrases), None) or self._number(words)
            if part is None:
                return None
            parts.append(part)
            words = words[part.words :]
        return parts

    def _own_word(self, words: Sequence[str]) -> PhrasePart | None:
        """Return the longest of the juggler's own words that `words` begin with."""
        openings = (" ".join(words[:length]) for length in range(len(words), 0, -1))
        longest = next((opening for opening in openings if opening in self.own), None)
        return None if longest is None else PhrasePart(len(longest.split()), longest)

    def _stock_phrase(self, phrase: Sequence[str], words: Sequence[str]) -> PhrasePart | None:
        """Return a stock phrase if `words` begin with it."""
        used, number = 0, ""
        for word in phrase:
            found = self._number(words[used:]) if word == SLOT else None
            if found is not None:
                used, number = used + found.words, found.text
            elif word != SLOT and words[used : used + 1] == [word]:
                used += 1
            else:
                return None
        return PhrasePart(used, number, "-".join(phrase))

    def _number(self, words: Sequence[str]) -> PhrasePart | None:
        """Return the number, letter or word of the spelling alphabet that `words` begin with."""
        number, used = read_number(words)
        if used:
            return PhrasePart(used, " ".join(words[:used]) if self.in_english else str(number))
        if words and (len(words[0]) == 1 or words[0] in SPELLED):
            return PhrasePart(1, words[0])
        return None

    def _part(self, part: PhrasePart) -> str:
        if not part.phrase:
            return part.text
        if part.phrase not in self.phrases:
            raise UnknownWordError(
                f"There is no translation of “{IN_ENGLISH[part.phrase]}” into {self.language}; you "
                "can give a phrase of your own for it."
            )
        words = self.phrases[part.phrase].split()
        return " ".join(part.text if word == NUMBER else word for word in words)


PLAIN_ENGLISH: Final = Phrasebook()


def phrasebook(
    language: str | None, phrases: Mapping[str, str], own: Iterable[str] = ()
) -> Phrasebook:
    """Return how the program speaks a language.

    `language` is a tag such as ``de`` or ``pt_BR``; None for English. `phrases` are a person's own
    and replace those of the language. `own` holds the juggler's own words for values and objects.
    """
    tag = (language or ENGLISH).lower().replace("_", "-")
    base = without_region(tag)
    table = IN_ENGLISH if base == ENGLISH else translations().get(base, {})
    return Phrasebook(tag, {**table, **phrases}, frozenset(own))


def without_region(language: str) -> str:
    """Return the language of a tag: ``pt`` of ``pt-br``."""
    return language.partition("-")[0]
