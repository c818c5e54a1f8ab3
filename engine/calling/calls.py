"""What is called on each beat.

Of a synchronous pair the left value is said on its beat and the right one on the odd beat after
it; once if both are the same.
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import takewhile
from typing import Final, TypeAlias

from engine.calling.fading import is_heard
from engine.calling.numbers import spoken
from engine.patterns.pattern import HIGHEST_VALUE, VALUE_DIGITS, Pattern, Throw, Throws
from engine.timing.objects import BeatTurn, Juggle, object_index
from engine.timing.run import Run, Wording

Called: TypeAlias = tuple[BeatTurn, str | None]
"""A beat, and what is said on it."""

STOP: Final = "stop"
SEVERAL: Final = {2: "double", 3: "triple"}
TALLY_STEP: Final = 10


def value_word(value: int, wording: Wording) -> str:
    """Return the word for a throw value."""
    if value in wording.own_words:
        return wording.own_words[value]
    if wording.letters and not VALUE_DIGITS[value].isdigit():
        return VALUE_DIGITS[value]
    return spoken(value)


def throws_words(throws: Throws, wording: Wording) -> str:
    """Return the words for what one hand throws at once.

    Several alike are "double three"; several that differ are their values in turn. A crossing is
    not said.
    """
    words = [value_word(throw.value, wording) for throw in throws or (Throw(0),)]
    if len(words) in SEVERAL and len(set(words)) == 1:
        return f"{SEVERAL[len(words)]} {words[0]}"
    return " ".join(words)


def calls(turns: Iterable[BeatTurn], run: Run) -> Iterator[Called]:
    """Yield each beat of a run without rests with its call, None where nothing is said.

    The last throw of the run is called "stop", and the last cycle of a part opens with what the
    part says for it, unless nothing is to be said at all. These two do not fade.
    """
    if run.say == "nothing":
        return ((turn, None) for turn in turns)
    return _with_stop(_faded(_CALLERS[run.say](turns, run), run))


def _faded(called: Iterable[Called], run: Run) -> Iterator[Called]:
    """Leave out the calls of the cycles in which the count has dropped out.

    The last cycle of a part opens with its own call all the same, if there are others before it.
    """
    for turn, call in called:
        part = turn.part
        cycle = turn.since // part.pattern.period
        last = part.beats is not None and turn.since == part.beats - part.pattern.period
        if part.last_cycle and last and turn.since > 0:
            yield turn, part.last_cycle
        else:
            yield turn, call if is_heard(cycle, run.fading.calls) else None


def _with_stop(called: Iterable[Called]) -> Iterator[Called]:
    """Say "stop" on the last beat with throws, and nothing after it."""
    waiting: list[Called] = []
    for turn, call in called:
        if turn.hands:
            yield from waiting
            waiting = []
        waiting.append((turn, call))
    for turn, _ in waiting:
        yield turn, STOP if turn.hands else None


def _values(turns: Iterable[BeatTurn], run: Run) -> Iterator[Called]:
    second = None
    known: dict[Throws, str] = {}
    for turn in turns:
        for hand in turn.hands:
            if hand.throws not in known:
                known[hand.throws] = throws_words(hand.throws, run.wording)
        words = [known[hand.throws] for hand in turn.hands]
        if not words:
            yield turn, second
            continue
        second = words[-1] if len(set(words)) > 1 else None
        yield turn, words[0]


def _position(turns: Iterable[BeatTurn], _run: Run) -> Iterator[Called]:
    for turn in turns:
        position = turn.since % turn.part.pattern.period + 1
        yield turn, spoken(position) if turn.hands else None


def _hands(turns: Iterable[BeatTurn], _run: Run) -> Iterator[Called]:
    for turn in turns:
        busy = [hand.hand for hand in turn.hands if hand.throws]
        yield turn, "both" if len(busy) > 1 else busy[0] if busy else None


def _objects(turns: Iterable[BeatTurn], run: Run) -> Iterator[Called]:
    for turn in turns:
        names = (name for hand in turn.hands for name in hand.objects)
        yield turn, " ".join(_object_word(name, run.wording) for name in names) or None


def _object_word(name: str, wording: Wording) -> str:
    index = object_index(name)
    return wording.object_names[index] if index < len(wording.object_names) else name


def _tally(turns: Iterable[BeatTurn], run: Run) -> Iterator[Called]:
    """Count catches: every tenth, and those that make a flash and a qualifying run."""
    objects = run.opening.pattern.objects
    milestones = {objects: "flash", 2 * objects: "qualified"}
    catches: int | None = None
    coming: Counter[int] = Counter()
    for turn in turns:
        if catches is None:
            catches, coming = _caught_before(turn.beat, run)
        coming.update(_catches(turn))
        numbers = range(catches + 1, catches + coming.pop(turn.beat, 0) + 1)
        catches += len(numbers)
        named = [milestones[number] for number in numbers if number in milestones]
        tens = [spoken(number) for number in numbers if number % TALLY_STEP == 0]
        said = named or tens
        yield turn, said[-1] if said else None


def _caught_before(beat: int, run: Run) -> tuple[int, Counter[int]]:
    """Return the catches before a beat, and on which beats those of earlier throws will come."""
    thrown = first = 0
    for part in run.throwing:
        beats = max(0, beat - first if part.beats is None else min(beat - first, part.beats))
        cycles, rest = divmod(beats, part.pattern.period)
        thrown += cycles * _thrown_to_be_caught(part.pattern, part.pattern.period)
        thrown += _thrown_to_be_caught(part.pattern, rest)
        first += part.beats or 0
    lately = takewhile(lambda turn: turn.beat < beat, Juggle(run, max(0, beat - HIGHEST_VALUE)))
    coming = Counter(catch for turn in lately for catch in _catches(turn) if catch >= beat)
    return thrown - coming.total(), coming


def _thrown_to_be_caught(pattern: Pattern, beats: int) -> int:
    """Return how many throws of the first `beats` beats of a pattern end in a catch."""
    step = pattern.beats_per_turn
    return sum(not throw.held for (turn, _), throw in pattern.throws() if turn * step < beats)


def _catches(turn: BeatTurn) -> Iterator[int]:
    """Yield the beat on or before which each throw of this beat is caught.

    A hand holds an object for more than one beat before it throws it again (dwell), so a throw
    of n is caught by the beat n - 1 later. An empty hand and a held 2 are no catches.
    """
    for hand in turn.hands:
        for throw in hand.throws:
            if not throw.held:
                yield turn.beat + throw.value - 1


_CALLERS: Final = {
    "values": _values,
    "position": _position,
    "hands": _hands,
    "objects": _objects,
    "tally": _tally,
}
