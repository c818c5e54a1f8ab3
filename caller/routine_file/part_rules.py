"""What the keys of one part ask of one another."""

from collections.abc import Iterator, Mapping
from typing import Final

from caller.console.terminal import in_words, shortened
from caller.routine_file.faults import FileFault
from caller.routine_file.model import KEYS_OF, LENGTHS, PART, PARTS, PartKind
from caller.routine_file.parts import WrittenPart
from engine.patterns.pattern import Kind as Throwing
from engine.timing.timeline import COUNT_IN, RUN_OUT

ITS_TEMPO: Final = ("tempo", "to", "curve")
OF_MUSIC: Final = ("throws", "bar")
CHANGE_KEYS: Final = ("pick-up", "put-down")

ELSEWHERE: Final[Mapping[tuple[PartKind, str], str]] = {
    ("pattern", PARTS): "[[part.part]] stands within a repeat.",
    ("rest", PARTS): "[[part.part]] stands within a repeat.",
    ("pattern", "count-in"): "it belongs to a rest, or at the top of the file.",
    ("rest", "cycles"): "a rest lasts so many beats or seconds.",
    ("rest", "pick-up"): "it belongs to the part that follows.",
    ("rest", "put-down"): "it belongs to the part that follows.",
}
"""Where a key belongs that has no place in a kind of part."""

TAKEN: Final = frozenset({COUNT_IN, RUN_OUT})
"""Names that beats have outside the parts."""

THROWING: Final[Mapping[Throwing, str]] = {
    "async": "the hands alternate",
    "sync": "both hands throw at once",
}


def part_rules(part: WrittenPart, *, with_music: bool) -> Iterator[FileFault]:
    """Yield what is wrong with a part beside its single values."""
    yield from _kind(part)
    yield from _name_taken(part)
    yield from _out_of_place(part)
    yield from _one_of(part, LENGTHS, "gives the length")
    yield from _one_of(part, CHANGE_KEYS, "changes the number of objects")
    yield from _tempo(part, with_music=with_music)
    yield from _cue(part)
    yield from _bridge(part)
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
    known = {*PART, PARTS}
    for key in sorted((part.given & known) - KEYS_OF[part.kind]):
        told = ELSEWHERE.get((part.kind, key), "")
        if not told and part.kind == "repeat":
            told = "it belongs to the parts within."
        elif not told:
            told = "it belongs to a pattern."
        yield part.fault(key, f"{key} has no place in a {part.kind}: {told}")


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
        yield part.fault("curve", "curve says how the tempo changes; say where to with to.")


def _cue(part: WrittenPart) -> Iterator[FileFault]:
    if not part.table.cue and part.table.cue is not None and "cue-ahead" in part.given:
        yield part.fault("cue-ahead", 'cue-ahead says when its cue comes, and cue = "" has none.')


def _bridge(part: WrittenPart) -> Iterator[FileFault]:
    pattern, bridge = part.pattern, part.bridge
    if pattern is not None and bridge is not None and pattern.kind != bridge.kind:
        yield part.fault(
            "bridge",
            f"bridge {shortened(bridge.text)} leads into {shortened(pattern.text)} and has to be "
            f"thrown as that is: in it {THROWING[pattern.kind]}.",
        )


def _count_in(part: WrittenPart) -> Iterator[FileFault]:
    counted, beats = part.table.count_in, part.table.beats
    if part.kind == "rest" and counted is not None and beats is not None and counted > beats:
        yield part.fault(
            "count-in", f"count-in {counted} does not fit into a rest of {beats} beats."
        )
