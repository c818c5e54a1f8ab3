"""Changes of timing: bridges between hands in turn and hands together.

Where the hands alternate, each hand throws on every second beat, and the other one on the beats
between; where they throw together, both throw on the same every second beat. At a change of timing
one hand goes over to the beats of the other. So it throws on two beats running, where two beats
usually lie between two throws of a hand. Either it *hurries*, and throws on both beats, the second
time a beat early. Or it *waits*: on the first of them it throws nothing and keeps what it has,
which is a throw of 1 to itself, and throws on the second, a beat late.

Every object has to land in a hand on a beat on which that hand throws. So a throw goes to a hand
and a beat, its value is the number of beats until then, and any value can go to either hand. An
``x`` says that it goes to the other hand, and without one it stays. Only of a throw made by one
hand alone, to a beat on which one hand throws alone, the value says it as usual: it crosses if odd.
So in ``3 4 3 (4,4)``, from hands in turn to hands together, the right hand's two 3s stay.

A bridge is a way through the states of both hands: the beats on which objects are due in each. It
has some turns in the timing that is left and then some in the one that is entered. With these
given, its throws have to fill certain landings: the places in which no object is due, on the way
and in the state at the end. As in `throwcount.engine.search.walks` there are as many throws as
landings, empty hands counted, and they can be matched if and only if the i-th throw can make the
i-th landing in order of time.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal, TypeAlias

from throwcount.engine.patterns.pattern import (
    HANDS,
    Hand,
    Kind,
    Throw,
    Throws,
    Turn,
    beats_per_turn,
)
from throwcount.engine.patterns.states import State

HowChanged: TypeAlias = Literal["wait", "hurry"]

HandBeat: TypeAlias = tuple[int, int]
"""A beat, and a hand: 0 for the left one, 1 for the right one."""

Assigned: TypeAlias = tuple[tuple[HandBeat, ...], ...]
"""Where the objects thrown by each acting hand land, in order of time; none for an empty hand."""


@dataclass(frozen=True, slots=True)
class TimingChange:
    """The second half of a bridge between two timings."""

    hand: Hand
    """The hand that waits or hurries."""
    how: HowChanged
    """Whether it throws a beat late or a beat early."""
    beat: int
    """The beat of the bridge on which it does; 0 or 1 where that is in the pattern entered."""
    start: int
    """The beat of the bridge from which on the hands throw as in the pattern entered."""
    turns: tuple[Turn, ...]
    """The throws from there on."""
    first: Hand | None
    """The hand that throws on beat `start`; None if both do."""

    @property
    def text(self) -> str:
        """Which hand does what, such as "left waits"."""
        return f"{self.hand} {'waits' if self.how == 'wait' else 'hurries'}"

    @property
    def beats(self) -> int:
        """The length of the whole bridge, in beats."""
        return self.start + len(self.turns) * (2 if self.first is None else 1)


@dataclass(frozen=True, slots=True)
class Grid:
    """The beats on which each hand throws during a bridge."""

    leaving: Kind
    """The timing that is left."""
    entering: Kind
    """The timing that is entered, which may be the same."""
    before: int
    """Turns in the timing that is left."""
    after: int
    """Turns in the one that is entered, if it is another."""
    first: int
    """The hand that begins where they alternate: on beat 0 if that is left, else on `start`."""

    @property
    def start(self) -> int:
        """The first beat of the timing that is entered; the end if it is the same."""
        if self.leaving == "async":
            return self.before
        return 2 * self.before if self.entering == "sync" else max(2 * self.before - 1, 0)

    @property
    def beats(self) -> int:
        """The length in beats."""
        return self.start + self.after * beats_per_turn(self.entering)

    def alone(self, beat: int) -> int:
        """Return the hand whose turn a beat is, where the hands alternate."""
        since = beat if self.leaving == "async" else beat - self.start
        return self.first ^ since % 2

    def in_pairs(self, beat: int, landing: int) -> bool:
        """Return whether both hands throw on the beat of a throw, or on that of its landing."""
        if self.leaving == "async":
            return self.entering == "sync" and landing >= self.start
        return self.entering == "sync" or beat < self.start

    @property
    def acting(self) -> list[HandBeat]:
        """The beats of the bridge with each hand that throws, in order of time."""
        acts: list[HandBeat] = []
        for timing, beats in (
            (self.leaving, range(self.start)),
            (self.entering, range(self.start, self.beats)),
        ):
            if timing == "async":
                acts += [(beat, self.alone(beat)) for beat in beats]
            else:
                acts += [(beat, hand) for beat in beats[::2] for hand in (0, 1)]
        return acts

    @property
    def shifted(self) -> HandBeat | None:
        """The hand that goes over to other beats, and the first of those on which it throws."""
        if self.leaving == self.entering:
            return None
        if self.leaving == "async":
            return self.start, self.alone(self.start - 1)
        if self.before:
            return self.start, self.first
        return 1, self.first ^ 1


def grids(leaving: Kind, entering: Kind, beats: int, first: int) -> Iterator[Grid]:
    """Yield every way to come from one timing to another in a number of beats.

    `first` is the hand of beat 0 where the hands alternate in the timing that is left.
    """
    step = beats_per_turn(leaving)
    if leaving == entering:
        if beats % step == 0:
            yield Grid(leaving, entering, beats // step, 0, first)
    elif leaving == "async":
        for before in range(beats, -1, -2):
            yield Grid(leaving, entering, before, (beats - before) // 2, first)
    else:
        for before in range((beats + 1) // 2, 0, -1):
            for hand in (0, 1):
                yield Grid(leaving, entering, before, beats - (2 * before - 1), hand)
        if not beats:
            yield from (Grid(leaving, entering, 0, 0, hand) for hand in (0, 1))


def landings(grid: Grid, leave: State, enter: State, capacity: int) -> Counter[HandBeat] | None:
    """Return how many objects have yet to land in each hand on each beat; None if that cannot be.

    `leave` is the state before the bridge and `enter` the one after it. Every acting hand throws
    `capacity` objects, if one takes an empty slot of a hand for an object that lands at once.
    """
    return left_to_land(grid, due_in(leave, 0, grid.first), enter, grid.acting, capacity)


def left_to_land(
    grid: Grid, due: Counter[HandBeat], enter: State, acting: Sequence[HandBeat], capacity: int
) -> Counter[HandBeat] | None:
    """Return the same for any objects that are due and any hands that act."""
    wanted = Counter(dict.fromkeys(acting, capacity))
    wanted.update(due_in(enter, grid.beats, grid.alone(grid.beats)))
    wanted.subtract(due)
    return None if min(wanted.values(), default=0) < 0 else +wanted


def due_in(state: State, start: int, first: int) -> Counter[HandBeat]:
    """Return the objects due in each hand on each beat, in a state on beat `start`.

    `first` is the hand of that beat if the hands alternate.
    """
    due: Counter[HandBeat] = Counter()
    for place, counts in enumerate(state):
        for turn, count in enumerate(counts):
            beat = start + turn * len(state)
            due[beat, place if len(state) > 1 else first ^ turn % 2] = count
    return +due


def can_fill(
    acting: Sequence[HandBeat], left: Counter[HandBeat], highest: int, capacity: int
) -> bool:
    """Return whether the acting hands can fill the landings left with throws up to `highest`."""
    throws = [beat for beat, _ in acting for _ in range(capacity)]
    ends = sorted(beat for beat, _ in left.elements())
    return len(throws) == len(ends) and all(
        0 <= end - beat <= highest for beat, end in zip(throws, ends, strict=True)
    )


def filled(
    acting: Sequence[HandBeat], left: Counter[HandBeat], highest: int, capacity: int
) -> Iterator[Assigned]:
    """Yield every way to fill the landings left, the nearest landings first."""
    if not can_fill(acting, left, highest, capacity):
        return
    if not acting:
        yield ()
        return
    here, rest = acting[0], acting[1:]
    objects = capacity - left[here]
    within = Counter({site: count for site, count in left.items() if site != here})
    near = sorted(site for site in within.elements() if here[0] < site[0] <= here[0] + highest)
    for chosen in dict.fromkeys(combinations(near, objects)):
        for others in filled(rest, within - Counter(chosen), highest, capacity):
            yield (chosen[::-1], *others)


def as_turns(
    grid: Grid, thrown: Mapping[HandBeat, Sequence[HandBeat]]
) -> tuple[tuple[Turn, ...], TimingChange | None]:
    """Return the throws up to the change of timing, and the change with those from it on.

    `thrown` says where the objects land that a hand throws on a beat; none of an empty hand.
    """
    by_beat: dict[int, list[Throws]] = {}
    for beat, hand in grid.acting:
        throws = tuple(
            Throw(end - beat, to != hand and grid.in_pairs(beat, end))
            for end, to in thrown.get((beat, hand), ())
        )
        by_beat.setdefault(beat, []).append(throws)
    turns = tuple(tuple(by_beat[beat]) for beat in sorted(by_beat))
    return turns[: grid.before], _change(grid, thrown, turns[grid.before :])


def _change(
    grid: Grid, thrown: Mapping[HandBeat, Sequence[HandBeat]], turns: tuple[Turn, ...]
) -> TimingChange | None:
    if grid.shifted is None:
        return None
    beat, hand = grid.shifted
    # Where the beat before lies in the pattern that is left, or entered, it is not in the bridge.
    within = (beat - 1, hand) in grid.acting
    waits = all(end == (beat, hand) for end in thrown.get((beat - 1, hand), ()))
    return TimingChange(
        hand=HANDS[hand],
        how="wait" if (waits if within else beat == 1) else "hurry",
        beat=beat,
        start=grid.start,
        turns=turns,
        first=None if grid.entering == "sync" else HANDS[grid.alone(grid.start)],
    )


def read_turns(grid: Grid, turns: Sequence[Turn]) -> dict[HandBeat, tuple[HandBeat, ...]]:
    """Return where the objects land that each hand throws: the inverse of `as_turns`.

    `turns` are all turns of the bridge.
    """
    thrown = {}
    hands = [throws for turn in turns for throws in turn]
    for (beat, hand), throws in zip(grid.acting, hands, strict=True):
        ends = []
        for throw in throws:
            end = beat + throw.value
            crosses = throw.crossed if grid.in_pairs(beat, end) else throw.value % 2 == 1
            ends.append((end, hand ^ crosses))
        thrown[beat, hand] = tuple(ends)
    return thrown
