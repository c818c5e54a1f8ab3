"""Patterns that pass the ground state: of the rotations that begin there, the largest.

Each time a row comes back to the ground state, a rotation begins there, which must not become
larger than the row itself: as soon as it would, the row is given up.
"""

from collections.abc import Iterator, Sequence

from engine.finding.walks import WalkSearch
from engine.finding.watch import Watch, part
from engine.patterns.rows import HandLimits, Row
from engine.patterns.states import State


def largest_ground_walks(
    hands: HandLimits, grounds: Sequence[State], turns: int, watch: Watch
) -> Iterator[Row]:
    """Yield the rows of `turns` turns from a ground state back to itself.

    Among them is the largest rotation from the ground state of every such pattern; others are
    largest only as far as can be told before their end.

    `grounds` are the ground states of the objects. `turns` is the length of the period, at least 1.
    `watch` is called every few thousand steps.
    """
    for number, ground in enumerate(grounds):
        watch_part = part(watch, number / len(grounds), 1 / len(grounds))
        yield from _LargestSearch(hands, ground, turns, grounds).rows(watch_part)


class _LargestSearch(WalkSearch):
    """A search that compares every return to the ground state with the beginning."""

    def __init__(
        self, hands: HandLimits, ground: State, turns: int, grounds: Sequence[State]
    ) -> None:
        super().__init__(hands, ground, ground, turns)
        # Returns after which the row is, so far, as at its beginning.
        self.equal: list[tuple[int, ...]] = [()] * (self.length + 1)
        # For each turn the sites from it on, and the landings left there in each ground state.
        self.ahead = [self._sites_from(turn) for turn in range(turns + 1)]
        self.at_ground = [
            {self.landings_left(_later(one, turn), ground, turns) & ahead for one in grounds}
            for turn, ahead in enumerate(self.ahead)
        ]

    def step(self, position: int) -> bool:
        """Take the smallest open code, unless a rotation becomes larger than the row."""
        if not super().step(position):
            return False
        code = self.row[position]
        beginnings = [(start, self.row[position - start]) for start in self.equal[position]]
        if any(code > beginning for _, beginning in beginnings):
            return False
        equal = [start for start, beginning in beginnings if code == beginning]
        turn, rest = divmod(position + 1, self.hands.lanes)
        if not rest and self.room[position + 1] & self.ahead[turn] in self.at_ground[turn]:
            equal.append(position + 1)
        self.equal[position + 1] = tuple(equal)
        return True

    def _sites_from(self, turn: int) -> int:
        layer = (1 << self.sites) - (1 << turn * self.hands.places)
        return sum(layer << self.sites * number for number in range(self.layers))


def _later(state: State, turns: int) -> State:
    return tuple((0,) * turns + due for due in state)
