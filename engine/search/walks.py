"""Walks: the sequences of throws from one state to another in a given number of turns.

Take r turns from the state A to the state B. Every object that A has due later than that must be
due in B too. The throws then have to fill what is left: each empty place of the r turns on the
way (an object lands there, or a 0 stays there) and each place of B that A does not fill. There
are as many of these *landings* as throws, empty slots of the hands counted. Put both in order of
time. Throws can be matched to landings, none into the past and none farther than allowed, if and
only if the i-th throw can make the i-th landing, as a matching that crosses itself can be
uncrossed. So the shortest walk between two states follows from their objects without a search
through the states in between, and a search for the walks themselves meets no dead end. This is
the matching behind the count of sequences in Buhler, Eisenbud, Graham & Wright, Juggling drops
and descents, Amer. Math. Monthly 101 (1994) 507-519, with both ends given and a highest throw.

Every long search takes a `Watch`, which it calls with its progress.
"""

from collections.abc import Callable, Iterator
from typing import TypeAlias

from throwcount.engine.patterns.rows import HandLimits, Row
from throwcount.engine.patterns.states import State, due_at

Watch: TypeAlias = Callable[[float], None]
"""A function that a search calls now and then with the share that is done, 0 to 1."""


def unwatched(_share: float) -> None:
    """Watch nothing."""


def part(watch: Watch, start: float, size: float) -> Watch:
    """Return a watch for a part of a search that begins at the share `start` of the whole."""
    return lambda share: watch(start + size * share)


def can_lead(hands: HandLimits, start: State, end: State, turns: int) -> bool:
    """Return whether some walk of exactly `turns` turns leads from `start` to `end`.

    `hands` limits the throws, but its `without` is ignored. `start` and `end` have the same number
    of objects. `turns` is at least 0. Once every object of `start` is thrown, more turns add no
    possibility.
    """
    filled = turns * hands.slots
    earlier = 0
    for turn in range(turns + max(map(len, end))):
        landings = 0
        for due, wanted in zip(start, end, strict=True):
            room = due_at(wanted, turn - turns) if turn >= turns else hands.capacity
            room -= due_at(due, turn)
            if room < 0:
                return False
            landings += room
        if landings and earlier // hands.slots + hands.farthest < turn:
            return False
        earlier += landings
    return earlier == filled


def gentlest(hands: HandLimits, start: State, end: State, turns: int) -> HandLimits:
    """Return `hands` with the fewest objects at once, and then the lowest throws, that suffice.

    Parameters are as in `can_lead`, which holds for them.
    """
    for capacity in range(1, hands.capacity + 1):
        for highest in range(hands.highest + 1):
            gentler = HandLimits(hands.kind, highest, capacity)
            if can_lead(gentler, start, end, turns):
                return gentler
    return hands


def walks(hands: HandLimits, start: State, end: State, turns: int) -> Iterator[Row]:
    """Yield every walk of exactly `turns` turns from `start` to `end`, in rising order.

    Each has ``turns * hands.slots`` codes. `start` and `end` have the same number of objects.
    `turns` is at least 0.
    """
    if can_lead(hands, start, end, turns):
        yield from _WalkSearch(hands, start, end, turns).rows()


class _WalkSearch:
    """A depth-first search for walks; lists hold what is known at each position of the row."""

    def __init__(self, hands: HandLimits, start: State, end: State, turns: int) -> None:
        self.hands = hands
        self.length = turns * hands.slots
        self.span = turns + max(map(len, end))
        self.sites = self.span * hands.places
        self.layers = max(hands.capacity, *(count for due in end for count in due), 1)
        self.row = [0] * self.length
        # Codes not yet tried.
        self.open = [0] * self.length
        # Landings left: bit s of layer k is set if more than k objects have yet to land at s.
        self.room = [0] * (self.length + 1)
        self.room[0] = self.landings_left(start, end, turns)

    def landings_left(self, due: State, end: State, turns: int) -> int:
        """Return the landings left, as bits, if objects are due as in `due`, from turn 0 on."""
        left = 0
        for turn in range(self.span):
            for place, wanted in enumerate(end):
                room = due_at(wanted, turn - turns) if turn >= turns else self.hands.capacity
                for layer in range(room - due_at(due[place], turn)):
                    left |= 1 << self.sites * layer + turn * self.hands.places + place
        return left

    def rows(self) -> Iterator[Row]:
        """Yield the rows."""
        if not self.length:
            yield b""
            return
        self.open[0] = self.codes(0)
        position = 0
        while position >= 0:
            if not self.open[position]:
                position -= 1
            elif self.step(position):
                if position + 1 == self.length:
                    yield bytes(self.row)
                    continue
                position += 1
                self.open[position] = self.codes(position)

    def codes(self, position: int) -> int:
        """Return the codes that may stand at a position, as a bit set."""
        turn, slot = divmod(position, self.hands.slots)
        place, rank = divmod(slot, self.hands.capacity)
        first_layer = self.room[position] & (1 << self.sites) - 1
        codes = first_layer >> turn * self.hands.places & self.hands.allowed[place]
        return codes & (2 << self.row[position - 1]) - 1 if rank else codes

    def step(self, position: int) -> bool:
        """Take the smallest open code at a position; return whether the row can go on."""
        lowest = self.open[position] & -self.open[position]
        self.open[position] ^= lowest
        code = lowest.bit_length() - 1
        self.row[position] = code
        site = position // self.hands.slots * self.hands.places + code
        layer = 1 << site + self.sites * (self.layers - 1)
        while not self.room[position] & layer:
            layer >>= self.sites
        self.room[position + 1] = self.room[position] ^ layer
        return self.can_end(position + 1)

    def can_end(self, position: int) -> bool:
        """Return whether the throws from `position` on can make the landings that are left."""
        places, slots, farthest = self.hands.places, self.hands.slots, self.hands.farthest
        room = self.room[position]
        layers = [
            room >> self.sites * layer & (1 << self.sites) - 1 for layer in range(self.layers)
        ]
        earlier = 0
        for turn in range(position // slots, self.span):
            here = sum((layer >> turn * places & (1 << places) - 1).bit_count() for layer in layers)
            if here and (position + earlier) // slots + farthest < turn:
                return False
            earlier += here
        return earlier == self.length - position
