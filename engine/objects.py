"""Which object each hand throws on each beat of a run.

Objects are named A, B, C ... in the order in which they are first thrown. Where several land in
one hand at once, those thrown earlier leave first: a convention, as the notation leaves it open.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count
from string import ascii_uppercase

from engine.errors import RunError
from engine.pattern import Hand, Throw, Throws, other_hand
from engine.run import Part, Run
from engine.states import state


@dataclass(frozen=True, slots=True)
class HandTurn:
    """What one hand does on a beat: its throws, and the objects thrown, in the same order."""

    hand: Hand
    throws: Throws
    objects: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BeatTurn:
    """One beat of a run's throws.

    Parameters
    ----------
    beat
        From zero over the whole run.
    part
        The part it belongs to.
    since
        Beats since that part began.
    hands
        The hands whose turn it is: one, or left and right; none on the odd beat of a pair.
    """

    beat: int
    part: Part
    since: int
    hands: tuple[HandTurn, ...]


@dataclass(frozen=True, slots=True)
class Landing:
    """An object on its way to its next throw, on beat `beat` by hand `hand`."""

    beat: int
    hand: Hand
    object: str
    held: bool


def object_name(index: int) -> str:
    """Return the name of an object from its index: A to Z, then AA, AB and so on."""
    name = ""
    index += 1
    while index:
        index, letter = divmod(index - 1, len(ascii_uppercase))
        name = ascii_uppercase[letter] + name
    return name


class Juggle:
    """A walk over the throws of a run; iterate it once.

    Raises
    ------
    RunError
        While walking, if a part does not take over the objects as the one before leaves them.
    """

    def __init__(self, run: Run) -> None:
        self._run = run
        self._due: dict[tuple[int, Hand], list[Landing]] = {}
        for site, landing in _first_objects(run):
            self._due.setdefault(site, []).append(landing)

    def __iter__(self) -> Iterator[BeatTurn]:
        beat = 0
        for part in self._run.parts:
            for since in count():
                if part.beats is not None and since >= part.beats:
                    break
                yield BeatTurn(beat, part, since, tuple(self._hand_turns(part, since, beat)))
                beat += 1

    def landings(self) -> tuple[Landing, ...]:
        """Return the objects due after the beats walked so far, in no particular order."""
        return tuple(landing for due in self._due.values() for landing in due)

    def _hand_turns(self, part: Part, since: int, beat: int) -> Iterator[HandTurn]:
        pattern = part.pattern
        turn, between = divmod(since, pattern.beats_per_turn)
        if between:
            return
        for place, throws in enumerate(pattern.turns[turn % len(pattern.turns)]):
            alternating = pattern.kind == "async"
            hand = pattern.hand(beat if alternating else 0, place, self._run.first)
            arrived = self._due.pop((beat, hand), [])
            if len(arrived) != len(throws):
                raise RunError(
                    f"Beat {beat} of {part.title} throws {len(throws)} from the {hand} hand, "
                    f"but {len(arrived)} are there: the part before leaves them elsewhere."
                )
            for throw, landing in zip(throws, arrived, strict=True):
                self._fly(beat, hand, throw, landing.object, alternating=alternating)
            yield HandTurn(hand, throws, tuple(landing.object for landing in arrived))

    def _fly(self, beat: int, hand: Hand, throw: Throw, name: str, *, alternating: bool) -> None:
        crosses = throw.value % 2 == 1 if alternating else throw.crossed
        landing = Landing(
            beat + throw.value,
            other_hand(hand) if crosses else hand,
            name,
            throw.held,
        )
        self._due.setdefault((landing.beat, landing.hand), []).append(landing)


def _first_objects(run: Run) -> Iterator[tuple[tuple[int, Hand], Landing]]:
    """Yield the site and the object of each first throw, in the order thrown."""
    pattern = run.parts[0].pattern
    names = map(object_name, count())
    places = state(pattern)
    for turn in range(max(map(len, places))):
        for place, due in enumerate(places):
            beat = turn * pattern.beats_per_turn
            hand = pattern.hand(turn, place, run.first)
            for _ in range(due[turn] if turn < len(due) else 0):
                yield (beat, hand), Landing(beat, hand, next(names), held=True)
