"""The parts of a routine file, as written and with repeats written out, and the rules for each."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Final

from throwcount.caller.options.settings_model import as_written, printed
from throwcount.caller.options.toml_file import KeyPath
from throwcount.caller.routine_file.model import (
    A_NAME,
    ALL_THROWS,
    HOW,
    KEYS_OF,
    KINDS,
    LENGTHS,
    MOST_PARTS,
    PART,
    PARTS,
    FileFault,
    PartKind,
    PartTable,
    checked,
    is_line,
)
from throwcount.caller.terminal.printing import in_words
from throwcount.engine.errors import MalformedError, MannerError, PatternError
from throwcount.engine.numbers import counted
from throwcount.engine.patterns.notation import mark, parse_bridge
from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.patterns.rules import read
from throwcount.engine.timing.manners import Manner, ThrowName, throw_name
from throwcount.engine.timing.timeline import COUNT_IN, RUN_OUT

DEEPEST: Final = 8
"""The most levels of parts within parts."""

LONGEST_NAME: Final = 40
"""Characters of a part's name that are shown with its place."""

INDENT: Final = "  "


@dataclass(frozen=True, slots=True)
class WrittenPart:
    """A part as it is written in the file."""

    number: str
    """Its place, such as "3" for the third part, or "3.2" for the second within it."""
    given: frozenset[str]
    """The keys that it has, whatever their values."""
    table: PartTable
    """Its values, as far as they are right."""
    pattern: Pattern | None = None
    """What is thrown; None if that is wrong or left out."""
    bridge: tuple[Pattern, ...] | None = None
    """The throws that lead into it, a row for each timing; None if they are wrong or left out."""
    parts: tuple["WrittenPart", ...] = ()
    """The parts within a repeat."""
    manners: tuple[Manner, ...] = ()
    """How single throws are made, as far as they are right."""

    @property
    def kinds(self) -> tuple[PartKind, ...]:
        """The kinds that its keys name; exactly one if it is right."""
        return tuple(kind for kind in KINDS if kind in self.given)

    @property
    def kind(self) -> PartKind | None:
        """Its kind; None if its keys name none or several."""
        return self.kinds[0] if len(self.kinds) == 1 else None

    @property
    def thrown(self) -> Pattern | None:
        """Its pattern if its kind is pattern, as far as it is right."""
        return self.pattern if self.kind == "pattern" else None

    @property
    def place(self) -> str:
        """Its place and name, such as "Part 3.2, “the well”"."""
        return part_place(self.number, self.table.name)

    def fault(self, key: str, sentence: str, under: str = "") -> FileFault:
        """Return a fault of this part."""
        return FileFault(self.place, key, sentence, under)


def part_place(number: str, name: str | None = None) -> str:
    """Return the place and the name of a part, as in `WrittenPart.place`."""
    text = f"Part {number}"
    return f"{text}, “{printed(name[:LONGEST_NAME])}”" if name else text


def part_path(number: str) -> KeyPath:
    """Return the keys that lead to the part with a number such as "3.2"."""
    return tuple(step for each in number.split(".") for step in (PARTS, int(each) - 1))


def written_parts(given: object) -> tuple[tuple[WrittenPart, ...], list[FileFault]]:
    """Return the parts that a document has under `PARTS`, and what is wrong with their values."""
    reader = _PartReader()
    return reader.parts(given, ""), reader.faults


def written_out(parts: Sequence[WrittenPart]) -> list[WrittenPart] | None:
    """Return the patterns and rests in order, repeats written out; None if there are too many.

    A repeat whose number is wrong counts as one.
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
    """Reads the parts in order and collects their faults."""

    faults: list[FileFault] = field(default_factory=list)
    count: int = 0

    def parts(self, given: object, around: str) -> tuple[WrittenPart, ...]:
        """Return the parts within the one numbered `around`, which is empty at the top."""
        where = part_place(around) if around else ""
        if not isinstance(given, list):
            brackets = "[[part.part]]" if around else "[[part]]"
            text = f"part is a row of tables, each written {brackets} in double brackets."
            self.faults.append(FileFault(where, PARTS, text))
            return ()
        if around and around.count(".") + 1 == DEEPEST:
            text = f"parts are nested at most {DEEPEST} deep."
            self.faults.append(FileFault(where, PARTS, text))
            return ()
        before = f"{around}." if around else ""
        found = (
            self.part(one, f"{before}{index}") for index, one in enumerate(given, 1) if self.room()
        )
        return tuple(part for part in found if part is not None)

    def room(self) -> bool:
        """Count one more part, and return whether there may be that many."""
        self.count += 1
        if self.count == MOST_PARTS + 1:
            self.faults.append(too_many())
        return self.count <= MOST_PARTS

    def part(self, given: object, number: str) -> WrittenPart | None:
        if not isinstance(given, Mapping):
            text = "it is no table: every part is written under a [[part]] of its own."
            self.faults.append(FileFault(part_place(number), PARTS, text))
            return None
        own = {key: value for key, value in given.items() if key != PARTS}
        name = own.get("name")
        place = part_place(number, name if is_line(name) else None)
        table, faults = checked(PartTable, own, PART, place)
        self.faults += faults
        pattern = None if table.pattern is None else self.pattern(table.pattern, place)
        return WrittenPart(
            number,
            frozenset(given),
            table,
            pattern,
            None if table.bridge is None else self.bridge(table.bridge, pattern, place),
            self.parts(given[PARTS], number) if PARTS in given else (),
            tuple(self.manners(given.get(HOW), pattern, place)),
        )

    def manners(self, given: object, pattern: Pattern | None, place: str) -> Iterator[Manner]:
        """Yield how single throws of a pattern are made, from the table of a part."""
        named: dict[ThrowName, str] = {}  # without their words, as "1st 5" is the first one
        for key, how in given.items() if isinstance(given, Mapping) else ():
            fault = ""
            if not (is_line(how) and how.strip()):
                fault = f"how of {printed(key[:LONGEST_NAME])} has to be {A_NAME}."
            elif pattern is not None and key != ALL_THROWS:
                try:
                    throw = throw_name(key, pattern)
                except MannerError as error:
                    fault = f"how: {printed(str(error))}"
                else:
                    meant = replace(throw, text="", which="")
                    if meant in named:
                        fault = f"how: {printed(key)} names the same throws as {named[meant]}."
                    named[meant] = printed(key)
                    yield Manner(throw, how.strip())
            if fault:
                self.faults.append(FileFault(place, HOW, fault, entry=key))

    def pattern(self, text: str, place: str) -> Pattern | None:
        """Return the pattern in a text."""
        pattern, sentence, under = judged(text)
        if sentence:
            self.faults.append(FileFault(place, "pattern", sentence, under))
        return pattern

    def bridge(self, text: str, leads_to: Pattern | None, place: str) -> tuple[Pattern, ...] | None:
        """Return the throws in a text that lead to a pattern."""
        try:
            return parse_bridge(text, "async" if leads_to is None else leads_to.kind)
        except PatternError as error:
            self.faults.append(FileFault(place, "bridge", *_wrong("bridge", text, error)))
            return None


def too_many() -> FileFault:
    """Return the fault of having more parts than are allowed."""
    text = f"A routine has at most {MOST_PARTS:,} parts, with its repeats written out."
    return FileFault("", PARTS, text)


@lru_cache(MOST_PARTS)  # many parts may have the same pattern
def judged(text: str) -> tuple[Pattern | None, str, str]:
    """Return the pattern in a text, or a sentence on what is wrong and what is shown under it."""
    try:
        return read(text), "", ""
    except PatternError as error:
        return None, *_wrong("pattern", text, error)


def _wrong(key: str, text: str, error: PatternError) -> tuple[str, str]:
    """Return a sentence on what is wrong in a text, and what is shown under it."""
    malformed = isinstance(error, MalformedError)
    sentence = f"{key} {as_written(text)} cannot be {'read' if malformed else 'thrown'}. "
    drawn = mark(text, error.at).splitlines() if malformed and text else []
    return sentence + error.message, "\n".join(INDENT + line for line in drawn)


ITS_TEMPO: Final = ("tempo", "to", "curve")
OF_MUSIC: Final = ("throws", "bar")
CHANGE_KEYS: Final = ("pick-up", "put-down")

ELSEWHERE: Final[Mapping[tuple[PartKind, str], str]] = {
    ("pattern", PARTS): "[[part.part]] stands within a repeat.",
    ("rest", PARTS): "[[part.part]] stands within a repeat.",
    ("pattern", "count-in"): "it belongs to a rest, or at the top of the file.",
    ("rest", "cycles"): "a rest lasts a number of beats or seconds.",
    ("rest", "pick-up"): "it belongs to the part that follows.",
    ("rest", "put-down"): "it belongs to the part that follows.",
}
"""Where a key belongs that this kind of part cannot have."""

TAKEN: Final = frozenset({COUNT_IN, RUN_OUT})
"""Names of what is outside the parts."""


def part_rules(part: WrittenPart, *, with_music: bool) -> Iterator[FileFault]:
    """Yield what is wrong with a part apart from its single values."""
    yield from _kind(part)
    yield from _name_taken(part)
    yield from _out_of_place(part)
    yield from _one_of(part, LENGTHS, "gives the length")
    yield from _one_of(part, CHANGE_KEYS, "changes the number of objects")
    yield from _tempo(part, with_music=with_music)
    yield from _cue(part)
    yield from _count_in(part)
    if part.kind == "repeat" and not part.parts and PARTS not in part.given:
        yield part.fault(
            PARTS, "there is nothing to repeat: its parts stand under it, each in a [[part.part]]."
        )


def _kind(part: WrittenPart) -> Iterator[FileFault]:
    if not part.kinds:
        yield part.fault("", "it has to say one of pattern, rest and repeat.")
    elif len(part.kinds) > 1:
        yield part.fault("", f"{in_words(part.kinds)} stand together, and a part is one of them.")


def _name_taken(part: WrittenPart) -> Iterator[FileFault]:
    if part.table.name in TAKEN:
        yield part.fault("name", f"name cannot be “{part.table.name}”, which the beats use.")


def _out_of_place(part: WrittenPart) -> Iterator[FileFault]:
    if part.kind is None:
        return
    owner = "the parts within" if part.kind == "repeat" else "a pattern"
    for key in sorted((part.given & {*PART, PARTS}) - KEYS_OF[part.kind]):
        text = ELSEWHERE.get((part.kind, key), f"it belongs to {owner}.")
        yield part.fault(key, f"{key} has no place in a {part.kind}: {text}")


def _one_of(part: WrittenPart, keys: tuple[str, ...], purpose: str) -> Iterator[FileFault]:
    known = part.given if part.kind is None else part.given & KEYS_OF[part.kind]
    given = [key for key in keys if key in known]
    if len(given) > 1:
        yield part.fault(given[1], f"{in_words(given)}: each {purpose}; keep one of them.")


def _tempo(part: WrittenPart, *, with_music: bool) -> Iterator[FileFault]:
    if with_music:
        for key in ITS_TEMPO:
            if key in part.given and part.kind == "pattern":
                yield part.fault(
                    key,
                    f"{key} has no place with music, which gives the tempo; throws = "
                    '"2:1" asks for two throws on each of its beats.',
                )
        return
    for key in OF_MUSIC:
        if part.kind is not None and key in part.given & KEYS_OF[part.kind]:
            yield part.fault(key, f"{key} counts the music's beats, and there is no [music].")
    if "curve" in part.given and "to" not in part.given:
        yield part.fault("curve", "curve says how the tempo changes; say where it ends with to.")


def _cue(part: WrittenPart) -> Iterator[FileFault]:
    if not part.table.cue and part.table.cue is not None and "cue-ahead" in part.given:
        yield part.fault("cue-ahead", 'cue-ahead says when its cue comes, and cue = "" has none.')


def _count_in(part: WrittenPart) -> Iterator[FileFault]:
    count_in, beats = part.table.count_in, part.table.beats
    if part.kind == "rest" and count_in is not None and beats is not None and count_in > beats:
        length = counted(beats, "beat")
        yield part.fault("count-in", f"count-in {count_in} does not fit into a rest of {length}.")
