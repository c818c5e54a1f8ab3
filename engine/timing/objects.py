"""The objects of a run: which object each hand throws on each beat.

Objects are named A, B, C ... in the order in which they are first thrown. Where several land in
one hand at once, those thrown earlier leave first: a convention, as the notation leaves it open.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import count
from typing import TYPE_CHECKING, Final, NamedTuple, TypeAlias

from throwcount.engine.errors import RunError
from throwcount.engine.patterns.pattern import (
    HIGHEST_VALUE,
    Hand,
    Pattern,
    Throw,
    Throws,
    other_hand,
)
from throwcount.engine.patterns.states import due_at, state

if TYPE_CHECKING:
    from throwcount.engine.timing.run import Part


LETTERS: Final = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


class HandTurn(NamedTuple):
    """What one hand throws on a beat; the same each time that a pattern comes round."""

    hand: Hand
    throws: Throws


class Moved(NamedTuple):
    """An object that a hand takes up or puts down."""

    hand: Hand
    object: str
    up: bool


class BeatTurn(NamedTuple):
    """One beat of a run's throws."""

    beat: int
    """The beat, from zero over the whole run."""
    part: "Part"
    """The part it belongs to."""
    since: int
    """Beats since that part began."""
    hands: tuple[HandTurn, ...]
    """The hands whose turn it is: one, or left and right; none on the odd beat of a pair."""
    objects: tuple[tuple[str, ...], ...]
    """The objects that each of these hands throws, in the order of its throws."""
    moved: tuple[Moved, ...] = ()
    """The objects that are taken up or put down on this beat."""

    @property
    def throwing(self) -> tuple[HandTurn, ...]:
        """The hands whose turn it is, except one that waits."""
        if not self.part.kept:
            return self.hands
        turn = self.since // self.part.pattern.beats_per_turn
        return tuple(
            hand for place, hand in enumerate(self.hands) if (turn, place) not in self.part.kept
        )


class Landing(NamedTuple):
    """An object on its way to its next throw, on beat `beat` by hand `hand`."""

    beat: int
    hand: Hand
    object: str
    held: bool


InHands: TypeAlias = Mapping[Hand, tuple[str, ...]]
"""The objects that each hand holds."""


def object_name(index: int) -> str:
    """Return the name of the object with this index, from 0: A to Z, then AA, AB and so on."""
    name = ""
    index += 1
    while index:
        index, letter = divmod(index - 1, len(LETTERS))
        name = LETTERS[letter] + name
    return name


def object_index(name: str) -> int:
    """Return the index of the object with this name: the inverse of `object_name`."""
    index = 0
    for letter in name:
        index = index * len(LETTERS) + LETTERS.index(letter) + 1
    return index - 1


class Juggle:
    """A walk over the throws of parts without rests; it can be iterated once.

    `first` is the hand of beat 0. `start` is the first beat of the walk, from 0. A late start takes
    no longer than an early one: each repetition of a pattern permutes the objects in the same way,
    so most are skipped.

    `held` is what the hands hold before the walk, after a rest. An object is thrown by the hand
    that holds it, as far as possible; surplus objects are put down. `named` is how many objects
    have a name already.

    Raises
    ------
    RunError
        While walking, if a part does not take over the objects as the one before leaves them.
    """

    def __init__(
        self,
        parts: "Sequence[Part]",
        first: Hand,
        start: int = 0,
        held: InHands | None = None,
        named: int = 0,
    ) -> None:
        self._parts = parts
        self._first = first
        self._start = start
        self._due: dict[tuple[int, Hand], list[Landing]] = {}
        self._taken_up: dict[tuple[int, Hand], list[str]] = {}
        self.named = named
        for beat, hand, name in _shared_out(
            list(_first_places(parts[0].pattern, first)), held or {}
        ):
            self._expect(Landing(beat, hand, name or self._new_name(), held=True))

    def __iter__(self) -> Iterator[BeatTurn]:
        first = begun = 0
        hand = self._first
        for part in self._parts:
            if part.first is not None:
                begun, hand = first, part.first
            self._take_up(part, first, first - begun, hand)
            hands = _hands(part.pattern, first - begun, hand)
            skipped = self._skip(part, first, hands)
            for since in count(skipped) if part.beats is None else range(skipped, part.beats):
                beat, acting = first + since, hands[since % len(hands)]
                moved = tuple(self._moved(part, since, beat, acting))
                objects = self._thrown(part, since, beat, acting)
                if beat >= self._start:
                    yield BeatTurn(beat, part, since, acting, objects, moved)
            first += part.beats or 0

    def _skip(self, part: "Part", first: int, hands: Sequence[tuple[HandTurn, ...]]) -> int:
        """Skip whole repetitions before the start; return how many beats of the part that is."""
        ahead = self._start - first
        before = ahead if part.beats is None else min(ahead, part.beats)
        # Long enough for everything in the air at its start to land.
        block = len(hands) * -(-(HIGHEST_VALUE + 1) // len(hands))
        blocks = before // block
        if blocks < 2:  # noqa: PLR2004 - the first one is walked
            return 0
        names = [landing.object for landing in self._in_place()]
        for since in range(block):
            self._thrown(part, since, first + since, hands[since % len(hands)])
        landings = self._in_place()
        came_from = [names.index(landing.object) for landing in landings]
        self._due = {}
        for place, landing in enumerate(landings):
            name = names[_led_back(came_from, place, blocks)]
            beat = landing.beat + (blocks - 1) * block
            self._expect(landing._replace(beat=beat, object=name))
        return blocks * block

    def _in_place(self) -> list[Landing]:
        """Return the objects that are due, in the order in which they will be thrown."""
        return [landing for site in sorted(self._due) for landing in self._due[site]]

    def _expect(self, landing: Landing) -> None:
        self._due.setdefault((landing.beat, landing.hand), []).append(landing)

    def _new_name(self) -> str:
        self.named += 1
        return object_name(self.named - 1)

    def _take_up(self, part: "Part", first: int, later: int, begins: Hand) -> None:
        """Expect the objects that the hands take up during a part, which begins on beat `first`.

        `begins` is the hand `later` beats before, if the hands alternate.
        """
        for turn, place in part.taken_up:
            beat = turn * part.pattern.beats_per_turn
            hand = part.pattern.hand(later + beat, place, begins)
            name = self._new_name()
            self._taken_up.setdefault((first + beat, hand), []).append(name)
            self._expect(Landing(first + beat, hand, name, held=True))

    def _moved(
        self, part: "Part", since: int, beat: int, hands: tuple[HandTurn, ...]
    ) -> Iterator[Moved]:
        """Yield the objects that hands take up or put down on a beat, before it is thrown."""
        if not (self._taken_up or part.put_down):
            return
        for place, (hand, _) in enumerate(hands):
            site = since // part.pattern.beats_per_turn, place
            there = [landing.object for landing in self._due.get((beat, hand), [])]
            for name in self._taken_up.pop((beat, hand), []):
                yield Moved(hand, name, up=True)
            for name in there[: part.put_down.count(site)]:
                yield Moved(hand, name, up=False)

    def in_hands(self) -> InHands:
        """Return what each hand holds once all that has been thrown so far is caught."""
        caught = self._in_place()
        return {
            hand: tuple(landing.object for landing in caught if landing.hand == hand)
            for hand in ("right", "left")
        }

    def landings(self) -> tuple[Landing, ...]:
        """Return the objects due after the beats walked so far, in no particular order."""
        return tuple(landing for due in self._due.values() for landing in due)

    def _thrown(
        self, part: "Part", since: int, beat: int, hands: tuple[HandTurn, ...]
    ) -> tuple[tuple[str, ...], ...]:
        """Have each hand throw what it has; return the objects."""
        objects = []
        for place, (hand, throws) in enumerate(hands):
            arrived = self._due.pop((beat, hand), [])
            if part.put_down:
                turn = since // part.pattern.beats_per_turn
                del arrived[: part.put_down.count((turn, place))]
            if len(arrived) != len(throws):
                raise RunError(
                    f"Beat {beat} of {part.title} throws {len(throws)} from the {hand} hand, "
                    f"which has {len(arrived)}: the part before leaves them elsewhere."
                )
            kept = (since // part.pattern.beats_per_turn, place) in part.kept
            for throw, landing in zip(throws, arrived, strict=True):
                to = other_hand(hand) if _crosses(part, since, throw) else hand
                held = kept or throw.held
                self._expect(Landing(beat + throw.value, to, landing.object, held))
            objects.append(tuple([landing.object for landing in arrived]))
        return tuple(objects)


def _crosses(part: "Part", since: int, throw: Throw) -> bool:
    """Return whether a throw goes to the other hand, made `since` beats after a part began."""
    in_pairs = part.pattern.kind == "sync" or (
        part.into_pairs and part.beats is not None and since + throw.value >= part.beats
    )
    return throw.crossed if in_pairs else throw.value % 2 == 1


def _hands(pattern: Pattern, first: int, hand: Hand) -> list[tuple[HandTurn, ...]]:
    """Return which hands throw what on each beat of a part, up to where all of it comes again.

    `first` is the beat on which the part begins, and `hand` the hand of beat 0, which the other
    one follows in turn.
    """
    rows = []
    for since in range(2 * pattern.period):
        turn, between = divmod(since, pattern.beats_per_turn)
        places = () if between else pattern.turns[turn % len(pattern.turns)]
        row: tuple[HandTurn, ...] = ()
        for place, throws in enumerate(places):
            row += (HandTurn(pattern.hand(first + since, place, hand), throws),)
        rows.append(row)
    return rows


def _led_back(came_from: Sequence[int], place: int, times: int) -> int:
    """Return the place, `times` steps back, of the object that is now in `place`."""
    circle = [place]
    while came_from[circle[-1]] != place:
        circle.append(came_from[circle[-1]])
    return circle[times % len(circle)]


def _first_places(pattern: Pattern, first: Hand) -> Iterator[tuple[int, Hand]]:
    """Yield the beat and the hand of each first throw, in the order thrown."""
    places = state(pattern)
    for turn in range(max(map(len, places))):
        for place, due in enumerate(places):
            beat = turn * pattern.beats_per_turn
            hand = pattern.hand(turn, place, first)
            for _ in range(due_at(due, turn)):
                yield beat, hand


def _shared_out(
    places: Sequence[tuple[int, Hand]], held: InHands
) -> Iterator[tuple[int, Hand, str | None]]:
    """Yield each first throw with an object from its own hand, else from the other, or None.

    Only surplus objects of one hand are handed to the other; None stands for a new object.
    """
    own = {hand: list(names) for hand, names in held.items()}
    wanted = Counter(hand for _, hand in places)
    spare = [name for hand, names in own.items() for name in names[wanted[hand] :]]
    for beat, hand in places:
        names = own.get(hand) or spare
        yield beat, hand, names.pop(0) if names else None
