"""The trade's names of patterns: cascade, fountain, shower, half-shower and box.

A name stands for certain throws once the number of objects is known (common practice):

    cascade      n             odd n from 3: every throw crosses
    fountain     n             even n from 4: no throw crosses, each hand keeps its own
    shower       (2n-1) 1      from 2: one hand throws high, the other hands across
    half-shower  a b           from 4: as a cascade, but one hand throws higher than the other; a
                               and b are the nearest odd values with a mean of n
    box          (4,2x)(2x,4)  3

Several of them are also thrown with both hands at once; those forms are told by their name, and
meant only where they are written in notation.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from throwcount.engine.errors import MalformedError, PatternError
from throwcount.engine.numbers import SMALL, spoken
from throwcount.engine.patterns.notation import parse
from throwcount.engine.patterns.pattern import HIGHEST_VALUE, Pattern, Throw
from throwcount.engine.patterns.rows import canonical
from throwcount.engine.patterns.states import true_period

NAMED_TEXT: Final = re.compile(
    r"(?:([0-9]{1,3})[\s-]*(?:(?:ball|club|ring|object)[\s-]+)?)?([a-z][a-z\s-]*)", re.IGNORECASE
)
"""A number of objects, which may be missing, and a word or two."""

OF_OBJECTS: Final = frozenset(
    "of with a the ball balls club clubs ring rings object objects".split()
)
"""Words that stand between a number and a name."""

LONGEST_NAME: Final = 40
"""Characters of such a text, at most."""

LIKENESS: Final = 0.8
"""How like a name a text has to be for a question whether that is meant, from 0 to 1."""


@dataclass(frozen=True, slots=True)
class TradeName:
    """A name, and the throws that it stands for."""

    name: str
    usual: int
    """The number of objects where none is told."""
    throws: Callable[[int], str]
    """The pattern for a number of objects, in notation; raises `PatternError` where there is none.
    """


def _cascade(objects: int) -> str:
    throws = _written(objects, "cascade", 3, objects)
    if objects % 2 == 0:
        raise MalformedError(
            "A cascade has an odd number of objects, as all of its throws cross: "
            f"{spoken(objects)} make a fountain. Did you mean {objects} fountain?"
        )
    return throws


def _fountain(objects: int) -> str:
    if objects % 2 and 1 < objects <= HIGHEST_VALUE:
        raise MalformedError(
            "A fountain has an even number of objects, as none of its throws crosses: "
            f"{spoken(objects)} make a cascade. Did you mean {objects} cascade?"
        )
    return _written(objects, "fountain", 4, objects)


def _shower(objects: int) -> str:
    return _written(objects, "shower", 2, 2 * objects - 1, 1)


def _half_shower(objects: int) -> str:
    if objects == 3:  # noqa: PLR2004 - the one number without
        raise MalformedError(
            "The half-shower of three has the values of the cascade, 3, with the throws of one "
            "hand passing over those of the other; 51 is the shower."
        )
    step = 1 if objects % 2 == 0 else 2
    return _written(objects, "half-shower", 4, objects + step, objects - step)


def _box(objects: int) -> str:
    if objects != 3:  # noqa: PLR2004 - the one number with a box
        raise MalformedError(
            f"The box is a pattern of three objects, (4,2x)(2x,4), and not of {spoken(objects)}."
        )
    return "(4,2x)(2x,4)"


def _written(objects: int, name: str, least: int, *values: int) -> str:
    """Return throws in notation; raise `MalformedError` if objects are too few or values too high.

    `least` is the smallest number of objects that has this name.
    """
    if objects < least:
        raise MalformedError(f"A {name} takes at least {spoken(least)} objects, not {objects}.")
    if max(values) > HIGHEST_VALUE:
        raise MalformedError(
            f"A {name} of {objects} takes a throw of {max(values)}, and the highest value is "
            f"{HIGHEST_VALUE}."
        )
    return "".join(str(Throw(value)) for value in values)


NAMES: Final = {
    name.name: name
    for name in (
        TradeName("cascade", 3, _cascade),
        TradeName("fountain", 4, _fountain),
        TradeName("shower", 3, _shower),
        TradeName("half-shower", 4, _half_shower),
        TradeName("box", 3, _box),
    )
}


def pattern_named(text: str) -> Pattern | None:
    """Return the pattern that a text such as "5 cascade", "3-shower" or "box" names, if any.

    Raises
    ------
    MalformedError
        If there is no such pattern of so many objects, or the name is mistyped.
    """
    number, _, word = name_in(text).rpartition(" ")
    if word:
        name = NAMES[word]
        return parse(name.throws(int(number) if number else name.usual))
    meant = _meant(text) if len(text) <= LONGEST_NAME else ""
    if name_in(meant):  # which has no number as long as 5982
        pattern_named(meant)
        written = " ".join(text.split())
        raise MalformedError(f"There is no pattern called {written}. Did you mean {meant}?")
    return None


def name_in(text: str) -> str:
    """Return the name in a text that names a pattern, such as "5 cascade" or "box"; else nothing.

    The number of objects, if there is one, comes first, and one space after it.
    """
    match = NAMED_TEXT.fullmatch(text.strip()) if len(text) <= LONGEST_NAME else None
    word = "-".join(re.split(r"[\s-]+", match[2].lower())) if match else ""
    return f"{match[1] or ''} {word}".strip() if match and word in NAMES else ""


def _meant(text: str) -> str:
    """Return the number and the name that a text may mean, in any order; empty if none is likely.

    A word that has no place in a name means something else: a reverse cascade is no cascade.
    """
    from difflib import get_close_matches  # noqa: PLC0415 - only where something was mistyped

    numbers: list[int] = []
    words: list[str] = []
    for word in re.findall(r"[0-9]+|[a-z]+", text.lower()):
        if word.isdigit() or word in SMALL:
            numbers.append(int(word) if word.isdigit() else SMALL.index(word))
        elif word not in OF_OBJECTS:
            words.append(word)
    near = get_close_matches("-".join(words), NAMES, n=1, cutoff=LIKENESS)
    if not near or len(numbers) > 1:
        return ""
    return f"{numbers[0]} {near[0]}" if numbers else near[0]


LONGEST_NAMED: Final = 4
"""Beats that repeat in a pattern with a name, at most."""


def name_of(pattern: Pattern) -> str:
    """Return the name of a pattern that can be thrown, such as "5 cascade"; empty without one.

    Rotations, mirror images and repetitions have the same name.
    """
    objects = pattern.objects
    if true_period(pattern) > LONGEST_NAMED or pattern.multiplex or not objects:
        return ""
    known = canonical(pattern)
    for name in NAMES.values():
        try:
            throws = name.throws(objects)
        except PatternError:
            continue
        if canonical(parse(throws)).turns == known.turns:
            return f"{objects} {name.name}"
    return _other_form(known)


def _other_form(pattern: Pattern) -> str:
    """Return the name of a wider half-shower, or of what is thrown with both hands at once."""
    throws = [throw for _, throw in pattern.throws()]
    if len(throws) != 2:  # noqa: PLR2004 - each hand has one throw of its own
        return ""
    (high, low), objects = throws, pattern.objects
    if pattern.kind == "async":
        half = high.value > low.value > 1 and high.value % 2
        return f"{objects} half-shower" if half else ""
    together = ", both hands at once"
    if not high.crossed and not low.crossed and high == low and objects > 2:  # noqa: PLR2004 - held
        return f"{objects} fountain{together}"
    if high.crossed and low.crossed and high.value > low.value:
        name = "shower" if low.value == 2 else "half-shower"  # noqa: PLR2004 - handed across
        return f"{objects} {name}{together}"
    return ""
