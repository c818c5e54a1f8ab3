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
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final, Literal, TypeAlias

from throwcount.engine.patterns.pattern import Hand, Kind, Throw, Throws, Turn
from throwcount.engine.patterns.states import State

HowChanged: TypeAlias = Literal["wait", "hurry"]

HandBeat: TypeAlias = tuple[int, int]
"""A beat, and a hand: 0 for the left one, 1 for the right one."""

Assigned: TypeAlias = tuple[tuple[HandBeat, ...], ...]
"""Where the objects thrown by each acting hand land, in order of time; none for an empty hand."""

HANDS: Final[tuple[Hand, Hand]] = ("left", "right")


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
    def beats(self) -> int:
        """The length of the whole bridge, in beats."""
        return self.start + len(self.turns) * (2 if self.first is None else 1)


@dataclass(frozen=True, slots=True)
class Switch:
    """The beats on which each hand throws during a bridge."""

    leaving: Kind
    """The timing that is left."""
    before: int
    """Turns in that timing; if the hands throw together and there are none, none follow either."""
    after: int
    """Turns in the timing that is entered."""
    first: int
    """The hand that begins where the hands alternate: on beat 0 if that is left, else on `start`"""

    @property
    def start(self) -> int:
        """The first beat of the timing that is entered."""
        return self.before if self.leaving == "async" else max(2 * self.before - 1, 0)

    @property
    def beats(self) -> int:
        """The length in beats."""
        return self.start + self.after * (2 if self.leaving == "async" else 1)

    def alone(self, beat: int) -> int:
        """Return the hand whose turn a beat is, where the hands alternate."""
        since = beat if self.leaving == "async" else beat - self.start
        return self.first ^ since % 2

    @property
    def acting(self) -> list[HandBeat]:
        """The beats of the bridge with each hand that throws, in order of time."""
        if self.leaving == "async":
            alone, pairs = range(self.start), range(self.start, self.beats, 2)
        else:
            alone, pairs = range(self.start, self.beats), range(0, 2 * self.before, 2)
        together = [(beat, hand) for beat in pairs for hand in (0, 1)]
        return sorted([*together, *((beat, self.alone(beat)) for beat in alone)])

    def in_pairs(self, beat: int, landing: int) -> bool:
        """Return whether both hands throw on the beat of a throw, or on that of its landing."""
        return landing >= self.start if self.leaving == "async" else beat < self.start

    @property
    def shifted(self) -> HandBeat:
        """The hand that goes over to other beats, and the first of those on which it throws."""
        if self.leaving == "async":
            return self.start, self.alone(self.start - 1)
        if self.before:
            return self.start, self.first
        return 1, self.first ^ 1


def switches(leaving: Kind, beats: int, first: int) -> Iterator[Switch]:
    """Yield every way to change from one timing to the other in a number of beats.

    `first` is the hand of beat 0 where the hands alternate in the timing that is left.
    """
    if leaving == "async":
        for before in range(beats, -1, -2):
            yield Switch(leaving, before, (beats - before) // 2, first)
        return
    if not beats:
        yield from (Switch(leaving, 0, 0, hand) for hand in (0, 1))
    for before in range((beats + 1) // 2, 0, -1):
        for hand in (0, 1):
            yield Switch(leaving, before, beats - (2 * before - 1), hand)


def landings(switch: Switch, leave: State, enter: State, capacity: int) -> Counter[HandBeat] | None:
    """Return how many objects have yet to land in each hand on each beat; None if that cannot be.

    `leave` is the state before the bridge and `enter` the one after it. Every acting hand throws
    `capacity` objects, if one takes an empty slot of a hand for an object that lands at once.
    """
    wanted = Counter(dict.fromkeys(switch.acting, capacity))
    wanted.update(_due(enter, switch.beats, switch.alone(switch.beats)))
    wanted.subtract(_due(leave, 0, switch.first))
    if min(wanted.values(), default=0) < 0:
        return None
    return +wanted


def _due(state: State, start: int, first: int) -> Counter[HandBeat]:
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


def as_turns(switch: Switch, assigned: Assigned) -> tuple[tuple[Turn, ...], TimingChange]:
    """Return the throws before the change, and the change with those from it on."""
    by_beat: dict[int, list[Throws]] = {}
    for (beat, hand), ends in zip(switch.acting, assigned, strict=True):
        throws = tuple(
            Throw(end - beat, to != hand and switch.in_pairs(beat, end)) for end, to in ends
        )
        by_beat.setdefault(beat, []).append(throws)
    beat, hand = switch.shifted
    before = dict(zip(switch.acting, assigned, strict=True)).get((beat - 1, hand))
    # None where the beat before lies in the pattern that is left, or entered.
    waits = beat == 1 if before is None else all(end == (beat, hand) for end in before)
    turns = [tuple(by_beat[beat]) for beat in sorted(by_beat)]
    return tuple(turns[: switch.before]), TimingChange(
        hand=HANDS[hand],
        how="wait" if waits else "hurry",
        beat=beat,
        start=switch.start,
        turns=tuple(turns[switch.before :]),
        first=None if switch.leaving == "async" else HANDS[switch.alone(switch.start)],
    )
