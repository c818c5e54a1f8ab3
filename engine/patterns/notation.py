"""Siteswap notation: text to pattern, and what is wrong with a text that is not one.

    values          0 to 9, and a to z for 10 to 35, in either case
    alternating     531           one throw a beat, the hands in turn
    synchronous     (4,2x)        left and right at once, even values; x marks a crossing throw
                    (4,2x)*       * repeats the pairs with the hands swapped
    multiplex       [33]          several throws of one hand at once
                    ([44x],2)     the same in a pair

White space and single commas between throws are tolerated where they cannot mislead. The
notation is jugglers' common practice; see also Buhler, Eisenbud, Graham & Wright, Juggling drops
and descents, Amer. Math. Monthly 101 (1994) 507-519. Any text may come in, so messages show a
character only if it is printable on its own, and else give its code.
"""

import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, NamedTuple, TypeVar

from throwcount.engine.errors import MalformedError
from throwcount.engine.patterns.pattern import (
    VALUE_DIGITS,
    Kind,
    Pattern,
    Throw,
    Throws,
    Turn,
    written_turn,
)

NOTATION: Final = "0123456789abcdefghijklmnopqrstuvwxyz()[],* "
"""The characters of the notation, in lower case; a space stands for white space of any kind."""

DASHES: Final = "-\N{MINUS SIGN}\N{HYPHEN}\N{NON-BREAKING HYPHEN}\N{FIGURE DASH}\N{EN DASH}\
\N{EM DASH}\N{SMALL HYPHEN-MINUS}\N{FULLWIDTH HYPHEN-MINUS}"
FRACTION_MARKS: Final = "./\N{FRACTION SLASH}"

NEGATIVE: Final = (
    "A throw value cannot be negative, as nothing is thrown into the past, and a dash does not "
    "separate throws; an empty hand is written 0."
)
FRACTION: Final = (
    "A throw value is a whole number of beats from 0 to 35, so it has no fraction and no decimal "
    "point."
)


def is_space(char: str) -> bool:
    """Return whether `char` is white space that may stand in a pattern."""
    return char in " \t\r\n" or unicodedata.category(char) == "Zs"


def shown(char: str) -> str:
    """Return `char`, or in its place a character that any terminal shows on its own."""
    if is_space(char):
        return " "
    return char if _stands_alone(char) else "\N{REPLACEMENT CHARACTER}"


def columns(char: str) -> int:
    """Return how many terminal columns `char` takes: 1, or 2 if it is wide."""
    return 2 if unicodedata.east_asian_width(char) in "WF" else 1


def objection(char: str) -> str:
    """Return the sentence for a character that the notation does not have."""
    if char in DASHES:
        return NEGATIVE
    if char in FRACTION_MARKS or unicodedata.numeric(char, 0.0) % 1:
        return FRACTION
    plain = _plain_form(char)
    if plain is not None:
        return f"Write {_named(char)} as the plain {plain}."
    return (
        f"{_named(char)} means nothing in a pattern: throw values are 0 to 9, and a to z for 10 "
        "to 35."
    )


def _stands_alone(char: str) -> bool:
    return char.isprintable() and not unicodedata.category(char).startswith("M")


def _plain_form(char: str) -> str | None:
    """Return the character that `char` is a variant of, such as a 3 in another script."""
    digit = unicodedata.digit(char, None)
    if digit is not None:
        return str(digit)
    plain = unicodedata.normalize("NFKC", char).lower()
    return plain if len(plain) == 1 and plain in NOTATION else None


def _named(char: str) -> str:
    code = f"U+{ord(char):04X}"
    return f'"{char}" ({code})' if _stands_alone(char) else f"The character {code}"


LONGEST_TEXT: Final = 100_000
"""Characters in a text, at most."""

MARK_WIDTH: Final = 72
"""Approximate width of a marked text, in columns."""

EMPTY: Final = "There is no pattern here: write at least one throw, such as 3 or (4,4)."
AMBIGUOUS: Final = (
    "Standing apart, {text} may mean one throw of {text} or two throws: write {digit} for the one, "
    "or leave out the spaces and commas for the two."
)
CROSSING: Final = (
    "Standing apart, {text} looks like a throw that crosses, and those stand in pairs, as in "
    "(4,2x); for throws of {value} and 33, leave out the spaces and commas."
)
COMMA: Final = (
    "A comma stands between two throws, and here a throw is missing beside it; an empty hand is "
    "written 0."
)
OUTSIDE_PAIR: Final = (
    "Pairs and single throws cannot be mixed: in a synchronous pattern every throw stands in a "
    "pair, as in (4,2x)(4,4)."
)
STAR_AFTER_SINGLE: Final = (
    "A * repeats pairs with the hands swapped, so it has no place where the hands alternate."
)
ODD: Final = (
    "The values of a pair are even, as both hands throw on every second beat, and {value} is odd "
    "(ten is written a)."
)
ZERO_IN_MULTIPLEX: Final = "A multiplex throws several objects, and a 0 among them is none."
EMPTY_MULTIPLEX: Final = (
    "There is nothing between these brackets: a multiplex needs throws, as in [33], and an empty "
    "hand is written 0."
)
TWO_CHANGES: Final = (
    "The timing of a bridge changes once, from single throws to pairs or back, and here it changes "
    "again."
)
NO_THROW: Final = "A pair needs a throw for this hand; an empty hand is written 0."
ONE_HAND: Final = "A pair has two throws with a comma between them, left and right, as in (4,2x)."
THREE_HANDS: Final = "A pair has only two throws, left and right; several at once are ([44],2)."
SEVERAL: Final = (
    "One hand of a pair has one value, and several go into brackets, as in ([44],2); ten and "
    "more are written a, b and so on."
)
UNCLOSED: Final = {
    "(": "This ( is never closed: a pair ends with ), as in (4,2x).",
    "[": "This [ is never closed: a multiplex ends with ], as in [33].",
}
MISPLACED: Final = {
    "(": "A pair cannot stand inside other brackets.",
    "[": "Brackets cannot be nested: a multiplex holds only throws, as in [33].",
    ")": "This ) closes nothing, as no ( is open before it.",
    "]": "This ] closes nothing, as no [ is open before it.",
    "*": "A * stands once, at the very end, after the last pair.",
    "x": (
        "In a pair an x marks a crossing throw: it directly follows the value it belongs to, "
        "once, and never a 0."
    ),
}
VALUES: Final = {digit: value for value, digit in enumerate(VALUE_DIGITS)}
PAIR_VALUES: Final = {digit: value for digit, value in VALUES.items() if digit != "x"}
LETTERS: Final = {str(value): digit for digit, value in VALUES.items() if digit.isalpha()}
"""The letter for each number from 10 up."""

T = TypeVar("T")


class Token(NamedTuple):
    """A character of the notation, in lower case; `spaced` if white space precedes it."""

    char: str
    at: int
    spaced: bool


END: Final = Token("", -1, spaced=False)


def parse(text: str) -> Pattern:
    """Return the pattern written in `text`, whether or not it can be thrown.

    The text has at most `LONGEST_TEXT` characters.

    Raises
    ------
    MalformedError
        If the text is not in the notation, or could be read in two ways.
    """
    if len(text) > LONGEST_TEXT:
        raise MalformedError(
            f"This text has {len(text):,} characters, and a pattern may have {LONGEST_TEXT:,}.",
            (LONGEST_TEXT,),
        )
    tokens = _tokens(text)
    if not tokens:
        raise MalformedError(EMPTY, (0,) if text else ())
    reader = _PatternReader(tokens, pairs=any(token.char == "(" for token in tokens))
    return reader.synchronous() if reader.pairs else reader.alternating()


def parse_bridge(text: str, leads_to: Kind) -> tuple[Pattern, ...]:
    """Return the throws of a bridge: one row, or two if its timing changes.

    Where the timing changes, single throws and pairs follow each other, as in ``3 4 3 (4,4)`` or
    ``(4,2x) 5 1``, unless there are none of the one or the other. Values of both may then be odd,
    and an x may stand after any of them. `leads_to` is the kind of the pattern that follows.

    Raises
    ------
    MalformedError
        As `parse`, and if the timing changes more than once.
    """
    rows = _rows(_tokens(text)) if len(text) <= LONGEST_TEXT else []
    if len(rows) > 2:  # noqa: PLR2004 - one row before the change and one after it
        raise MalformedError(TWO_CHANGES, (rows[2][0].at,))
    kinds: list[Kind] = ["sync" if row[0].char == "(" else "async" for row in rows]
    if kinds in ([], [leads_to]):
        return (parse(text),)
    readers = [
        _PatternReader(row, kind == "sync", True) for row, kind in zip(rows, kinds, strict=True)
    ]
    return tuple(each.synchronous() if each.pairs else each.alternating() for each in readers)


def _rows(tokens: list[Token]) -> list[list[Token]]:
    """Cut tokens where pairs follow single throws, or the other way round."""
    rows: list[list[Token]] = []
    within = pairs = False
    for token in tokens:
        opens = token.char == "("
        throws = not within and (opens or token.char == "[" or token.char in PAIR_VALUES)
        if not rows or (throws and opens != pairs):
            rows.append([])
            pairs = opens
        within = opens or (within and token.char != ")")
        rows[-1].append(token)
    return rows


def mark(text: str, at: tuple[int, ...], width: int = MARK_WIDTH) -> str:
    """Return `text` as one line, and below it a line with a ``^`` under each position in `at`.

    Characters that a terminal cannot show on their own are replaced. `at` holds zero-based
    positions; without any, there is no second line. `width` is how many characters to show of a
    longer text, around the first position.
    """
    first = min(at, default=0)
    start = max(0, min(first - width // 2, len(text) - width))
    window = [shown(char) for char in text[start : start + width]]
    before = "…" if start else ""
    after = "…" if start + width < len(text) else ""
    line = before + "".join(window) + after
    if not at:
        return line
    carets = "".join(
        ("^" if start + index in at else " ") * columns(char) for index, char in enumerate(window)
    )
    return f"{line}\n{' ' * len(before)}{carets}".rstrip()


def _tokens(text: str) -> list[Token]:
    tokens = []
    spaced = False
    for at, char in enumerate(text):
        # Only ASCII is lowered: some capitals of other scripts have plain small letters.
        small = char.lower() if char.isascii() else char
        if is_space(char):
            spaced = True
        elif small in NOTATION:
            tokens.append(Token(small, at, spaced))
            spaced = False
        else:
            raise MalformedError(objection(char), (at,))
    return tokens


@dataclass
class _PatternReader:
    """A recursive-descent parser: one method for each element of the notation."""

    tokens: list[Token]
    pairs: bool
    mixed: bool = False
    """Whether it is a part of a bridge between two timings."""
    index: int = 0

    def alternating(self) -> Pattern:
        return Pattern.of("async", tuple((throws,) for throws in self.items(self.hand, ends="")))

    def synchronous(self) -> Pattern:
        turns = tuple(self.items(self.pair, ends="*"))
        text = "".join(written_turn("sync", turn) for turn in turns)
        if self.next is END:
            return Pattern(text, "sync", turns)
        star = self.take()
        if not turns or self.next is not END:
            raise _misplaced(star)
        return Pattern(text + "*", "sync", turns + tuple(turn[::-1] for turn in turns))

    @property
    def next(self) -> Token:
        return self.tokens[self.index] if self.index < len(self.tokens) else END

    def take(self) -> Token:
        self.index += 1
        return self.tokens[self.index - 1]

    def items(self, item: Callable[[], T], ends: str) -> list[T]:
        """Read items, separated by space, a comma or nothing, up to one of `ends`."""
        found: list[T] = []
        groups: list[list[Token]] = [[]]
        while self.next is not END and self.next.char not in ends:
            if self.next.char == ",":
                comma = self.take()
                if not groups[-1] or self.next is END or self.next.char in ends:
                    raise MalformedError(COMMA, (comma.at,))
                groups.append([])
                continue
            if self.next.spaced and groups[-1]:
                groups.append([])
            start = self.index
            found.append(item())
            groups[-1].extend(self.tokens[start : self.index])
        if len(groups) > 1:
            _check_groups(groups, pairs=self.pairs or self.mixed)
        return found

    def pair(self) -> Turn:
        opening = self.take()
        if opening.char in PAIR_VALUES or opening.char == "[":
            raise MalformedError(OUTSIDE_PAIR, (opening.at,))
        if opening.char != "(":
            raise _misplaced(opening)
        left = self.hand(opening)
        self.separator(",", ONE_HAND, opening)
        right = self.hand(opening)
        self.separator(")", THREE_HANDS, opening)
        return left, right

    def separator(self, wanted: str, other: str, opening: Token) -> None:
        """Take the comma or bracket after a hand of a pair; `other` is the error at the other."""
        if self.next is END:
            raise _unclosed(opening)
        token = self.take()
        if token.char == wanted:
            return
        if token.char in ",)":
            raise MalformedError(other, (token.at,))
        if token.char in PAIR_VALUES or token.char == "[":
            raise MalformedError(SEVERAL, (token.at,))
        raise _misplaced(token)

    def hand(self, opening: Token = END) -> Throws:
        """Read what one hand throws; `opening` is the bracket of its pair."""
        if self.next is END:
            raise _unclosed(opening)
        token = self.take()
        if token.char == "[":
            return self.multiplex(token)
        if self.pairs and token.char in ",)":
            raise MalformedError(NO_THROW, (token.at,))
        return _thrown(self.throw(token))

    def multiplex(self, opening: Token) -> Throws:
        first = self.index
        throws = tuple(self.items(lambda: self.throw(self.take()), ends="])"))
        if self.next.char != "]":
            raise _unclosed(opening)
        closing = self.take()
        if not throws:
            raise MalformedError(EMPTY_MULTIPLEX, (opening.at, closing.at))
        if len(throws) == 1:
            return _thrown(*throws)
        zeros = tuple(token.at for token in self.tokens[first : self.index] if token.char == "0")
        if zeros:
            raise MalformedError(ZERO_IN_MULTIPLEX, zeros)
        return throws

    def throw(self, token: Token) -> Throw:
        """Return the throw that begins with `token`, and take its x."""
        values = PAIR_VALUES if self.pairs or self.mixed else VALUES
        if token.char == "*" and not self.pairs:
            raise MalformedError(STAR_AFTER_SINGLE, (token.at,))
        if token.char not in values:
            raise _misplaced(token)
        value = values[token.char]
        if not (self.pairs or self.mixed):
            return Throw(value)
        if value % 2 and not self.mixed:
            raise MalformedError(ODD.format(value=value), (token.at,))
        crossed = self.next.char == "x" and not self.next.spaced and value > 0
        if crossed:
            self.take()
        return Throw(value, crossed)


def _check_groups(groups: list[list[Token]], *, pairs: bool) -> None:
    """Refuse a group that may be meant as one throw: of 10 or more or, outside pairs, crossing."""
    for group in groups:
        text = "".join(token.char for token in group)
        sentence = ""
        if text in LETTERS:
            sentence = AMBIGUOUS.format(text=text, digit=LETTERS[text])
        elif not pairs and len(text) == len("2x") and text[1] == "x" and text[0] in PAIR_VALUES:
            sentence = CROSSING.format(text=text, value=VALUES[text[0]])
        if sentence:
            raise MalformedError(sentence, tuple(token.at for token in group))


def _thrown(throw: Throw) -> Throws:
    return (throw,) if throw.value else ()


def _unclosed(opening: Token) -> MalformedError:
    return MalformedError(UNCLOSED[opening.char], (opening.at,))


def _misplaced(token: Token) -> MalformedError:
    return MalformedError(MISPLACED[token.char], (token.at,))
