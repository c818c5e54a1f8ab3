"""The parts of a routine file as they are written, each with its place, and written out."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, TypeAlias

from caller.routine_file.faults import FileFault, checked
from caller.routine_file.model import KINDS, MOST_PARTS, PART, PARTS, PartKind, PartTable, is_line
from caller.toml_fields import as_written, printed
from engine.errors import MalformedError, PatternError
from engine.patterns.jugglable import read
from engine.patterns.notation import mark, parse
from engine.patterns.pattern import Pattern

DEEPEST: Final = 8
"""How deep parts may be nested."""

LONGEST_NAME: Final = 40
"""Characters of a part's name that tell its place."""

INDENT: Final = "  "

Numbers: TypeAlias = tuple[int, ...]
"""The place of a part among those of its level, from 1, after that of the repeat around it."""


@dataclass(frozen=True, slots=True)
class WrittenPart:
    """A part as it is written."""

    numbers: Numbers
    """Where it is."""
    given: frozenset[str]
    """The keys that it has, whatever their values."""
    table: PartTable
    """Its values, as far as they are right."""
    pattern: Pattern | None = None
    """What is thrown; None where that is wrong, or nothing is."""
    bridge: Pattern | None = None
    """The throws that lead into it; None where they are wrong, or left out."""
    parts: tuple["WrittenPart", ...] = ()
    """Those of a repeat."""

    @property
    def kinds(self) -> tuple[PartKind, ...]:
        """What it says to be; exactly one where it is right."""
        return tuple(kind for kind in KINDS if kind in self.given)

    @property
    def kind(self) -> PartKind | None:
        """What it is; None where it does not say, or says several."""
        return self.kinds[0] if len(self.kinds) == 1 else None

    @property
    def thrown(self) -> Pattern | None:
        """The pattern of a part that is one, as far as it is right."""
        return self.pattern if self.kind == "pattern" else None

    @property
    def number(self) -> str:
        """Where it is, such as "3", or "3.2" within a repeat."""
        return number_of(self.numbers)

    @property
    def place(self) -> str:
        """Where it is and what it is called, such as "Part 3.2, “the well”"."""
        return part_place(self.number, self.table.name)

    def fault(self, key: str, sentence: str, under: str = "") -> FileFault:
        """Return a fault of this part."""
        return FileFault(self.place, key, sentence, under)


def part_place(number: str, name: str | None = None) -> str:
    """Return where a part is and what it is called.

    `number` is its place among the parts of its level, from 1, after that of the repeat around it,
    such as "3.2". `name` is what it is called, if anything.
    """
    told = f"Part {number}"
    return f"{told}, “{printed(name[:LONGEST_NAME])}”" if name else told


def number_of(numbers: Numbers) -> str:
    """Return a place as it is written."""
    return ".".join(map(str, numbers))


def written_parts(given: object) -> tuple[tuple[WrittenPart, ...], list[FileFault]]:
    """Return the parts of a document, and what is wrong with their values one by one.

    `given` is what the document has for `PARTS`.
    """
    reader = _PartReader()
    return reader.parts(given, ()), reader.faults


def written_out(parts: Sequence[WrittenPart]) -> list[WrittenPart] | None:
    """Return the patterns and rests as they come, repeats written out; None if there are too many.

    A repeat without a right number counts as one.
    """
    return list(_walk(parts)) if _count(parts) <= MOST_PARTS else None


def every_part(parts: Sequence[WrittenPart]) -> Iterator[WrittenPart]:
    """Yield every part once, a repeat before those within it."""
    for part in parts:
        yield part
        yield from every_part(part.parts)


def _count(parts: Sequence[WrittenPart]) -> int:
    return sum(
        (part.table.repeat or 1) * (_count(part.parts) if part.parts else 1) for part in parts
    )


def _walk(parts: Sequence[WrittenPart]) -> Iterator[WrittenPart]:
    for part in parts:
        if part.kind == "repeat":
            for _ in range(part.table.repeat or 1):
                yield from _walk(part.parts)
        else:
            yield part


@dataclass(slots=True)
class _PartReader:
    """Reads the parts in order, and keeps what is wrong; each text is judged once."""

    faults: list[FileFault] = field(default_factory=list)
    read: dict[tuple[str, str], tuple[Pattern | None, str, str]] = field(default_factory=dict)
    number: int = 0

    def parts(self, given: object, around: Numbers) -> tuple[WrittenPart, ...]:
        where = part_place(number_of(around)) if around else ""
        if not isinstance(given, list):
            brackets = "[[part.part]]" if around else "[[part]]"
            told = f"part is a row of tables, each written {brackets} in double brackets."
            self.faults.append(FileFault(where, PARTS, told))
            return ()
        if len(around) == DEEPEST:
            told = f"parts are nested at most {DEEPEST} deep."
            self.faults.append(FileFault(where, PARTS, told))
            return ()
        found = (
            self.part(one, (*around, index)) for index, one in enumerate(given, 1) if self.room()
        )
        return tuple(part for part in found if part is not None)

    def room(self) -> bool:
        """Count one part more, and return whether there may be as many."""
        self.number += 1
        if self.number == MOST_PARTS + 1:
            self.faults.append(too_many())
        return self.number <= MOST_PARTS

    def part(self, given: object, numbers: Numbers) -> WrittenPart | None:
        if not isinstance(given, Mapping):
            told = "it is no table: every part is written under a [[part]] of its own."
            self.faults.append(FileFault(part_place(number_of(numbers)), PARTS, told))
            return None
        own = {key: value for key, value in given.items() if key != PARTS}
        table, faults = checked(
            PartTable, own, PART, part_place(number_of(numbers), _part_name(own))
        )
        self.faults += faults
        return WrittenPart(
            numbers,
            frozenset(given),
            table,
            self.pattern(table, numbers, "pattern"),
            self.pattern(table, numbers, "bridge"),
            self.parts(given[PARTS], numbers) if PARTS in given else (),
        )

    def pattern(self, table: PartTable, numbers: Numbers, key: str) -> Pattern | None:
        """Return what is thrown in a part, or on the way into it."""
        text = getattr(table, key)
        if text is None:
            return None
        if (key, text) not in self.read:
            self.read[key, text] = _judged(key, text)
        pattern, sentence, under = self.read[key, text]
        if sentence:
            self.faults.append(
                FileFault(part_place(number_of(numbers), table.name), key, sentence, under)
            )
        return pattern


def too_many() -> FileFault:
    """Return what is said of more parts than can be."""
    told = f"A routine has at most {MOST_PARTS:,} parts, with its repeats written out."
    return FileFault("", PARTS, told)


def _part_name(own: Mapping[str, Any]) -> str | None:
    name = own.get("name")
    return name if is_line(name) else None


def _judged(key: str, text: str) -> tuple[Pattern | None, str, str]:
    """Return the pattern in a text, or what is wrong with it, and what is shown under that."""
    try:
        return (parse if key == "bridge" else read)(text), "", ""
    except PatternError as error:
        malformed = isinstance(error, MalformedError)
        told = f"{key} {as_written(text)} cannot be {'read' if malformed else 'thrown'}. "
        drawn = mark(text, error.at).splitlines() if malformed and text else []
        return None, told + error.message, "\n".join(INDENT + line for line in drawn)
