"""Necklaces: every way to fill a period with throws, one row of each set of rotations.

A row of codes (`throwcount.engine.patterns.rows`) can be thrown if each place of each turn
receives as many throws as it makes, empty ones included. The number of objects is then the number
of times that throws pass the end of the period. Of the rotations of a row only the largest is
made. Rows strictly larger than all their rotations are Lyndon words in the reversed order; whether
a row may begin one is known by comparing each turn with the turn a period earlier, as in Duval,
Factorizing words over an ordered alphabet, J. Algorithms 4 (1983) 363-381.
"""

from collections.abc import Iterator, Sequence
from typing import Final

from throwcount.engine.patterns.rows import Row, RowQuery
from throwcount.engine.search.walks import Watch, unwatched

STEPS_BETWEEN_CALLS: Final = 4096


def necklaces(query: RowQuery, watch: Watch = unwatched) -> Iterator[Row]:
    """Yield the largest rotation of every row that does not repeat within itself.

    They come in rising order. `watch` is called every few thousand steps.
    """
    search = _Search(query)
    steps = 0
    position = 0
    while position >= 0:
        if not search.open[position]:
            position -= 1
            continue
        steps += 1
        if steps % STEPS_BETWEEN_CALLS == 0:
            watch(_share_done(search.open, search.width, position))
        position = search.step(position)
        if position == search.length:
            yield bytes(search.row)
            position -= 1


def _share_done(open_choices: Sequence[int], widths: Sequence[int], position: int) -> float:
    """Return the share of a depth-first search that is done, all choices at a position alike.

    `open_choices` are the choices not yet tried at each position, as bits, and `widths` how many
    there were.
    """
    done = 0.0
    for here in range(position, -1, -1):
        tried = widths[here] - open_choices[here].bit_count()
        done = (max(tried - 1, 0) + done) / max(widths[here], 1)
    return done


class _Search:
    """A depth-first search, one code at a time; lists hold what is known at each position."""

    def __init__(self, query: RowQuery) -> None:
        self.hands, self.turns = query.hands, query.turns
        hands, objects, turns = query.hands, query.objects, query.turns
        self.slots = hands.slots
        self.length = turns * self.slots
        self.sites = turns * hands.places
        self.every = (1 << self.sites) - 1
        self.row = [0] * self.length
        # Codes not yet tried, and how many there were.
        self.open = [0] * self.length
        self.width = [1] * self.length
        # Room for landings: bit s of layer k is set if more than k objects can land at site s.
        self.room = [0] * (self.length + 1)
        self.room[0] = (1 << self.sites * hands.capacity) - 1
        # How many times the throws to come must pass the end of the period.
        self.passes = [objects] * (self.length + 1)
        # How many turns all throws to come go ahead together, and distances still to be thrown.
        self.distance = [objects * turns] * (self.length + 1)
        missing = sum(1 << value // hands.places for value in query.containing)
        self.missing = [missing] * (self.length + 1)
        # The period so far, in turns, and whether this turn equals the one a period earlier so far.
        self.period = [1] * (self.length + 1)
        self.tied = [False] * (self.length + 1)
        layers = sum(1 << self.sites * layer for layer in range(hands.capacity))
        self.before = [((1 << turn * hands.places) - 1) * layers for turn in range(turns)]
        self.copies = sum(1 << self.sites * copy for copy in range(hands.farthest // turns + 1))
        self.open[0] = self.codes(0)
        self.width[0] = max(self.open[0].bit_count(), 1)

    def codes(self, position: int) -> int:
        """Return the codes that may stand at a position, as a bit set."""
        turn, slot = divmod(position, self.slots)
        place, rank = divmod(slot, self.hands.capacity)
        # A throw may pass the end of the period no more often than is needed.
        farthest = self.turns * (self.passes[position] + 1) - turn
        allowed = self.hands.allowed[place] | (1 << place if rank else 0)
        codes = self.landings(position, turn) * self.copies & allowed
        codes &= (1 << farthest * self.hands.places) - 1
        if rank:
            codes &= (2 << self.row[position - 1]) - 1
        if self.tied[position]:
            codes &= (2 << self.row[position - self.period[position] * self.slots]) - 1
        return codes

    def step(self, position: int) -> int:
        """Take the smallest open code at a position; return where to go on from."""
        lowest = self.open[position] & -self.open[position]
        self.open[position] ^= lowest
        code = lowest.bit_length() - 1
        self.row[position] = code
        turn, slot = divmod(position, self.slots)
        ahead, place = divmod(code, self.hands.places)
        ends, landing = divmod(turn + ahead, self.turns)
        room = self.room[position]
        layer = 1 << landing * self.hands.places + place + self.sites * (self.hands.capacity - 1)
        while not room & layer:
            layer >>= self.sites
        room ^= layer
        passes = self.passes[position] - ends
        after = position + 1
        self.distance[after] = self.distance[position] - ahead
        # Of a hand, only the first code can be a 0, as others mean that it throws no more.
        thrown = 1 << ahead if ahead or position % self.hands.capacity == 0 else 0
        self.missing[after] = self.missing[position] & ~thrown
        self.room[after], self.passes[after] = room, passes
        self.compare(position, code, turn, slot)
        if after == self.length:
            whole = passes == 0 and not self.missing[after] and self.period[after] == self.turns
            return after if whole else position
        if not (self.can_go_on(after, room, passes) and self.can_contain(after)):
            return position
        self.open[after] = codes = self.codes(after)
        self.width[after] = codes.bit_count() or 1
        return after

    def compare(self, position: int, code: int, turn: int, slot: int) -> None:
        """Update the period of the row so far."""
        after = position + 1
        period, tied = self.period[position], self.tied[position]
        if turn == 0:
            period, tied = 1, False
        elif tied:
            tied = code == self.row[position - period * self.slots]
        if slot == self.slots - 1:
            if turn and not tied:
                period = turn + 1
            tied = True
        self.period[after], self.tied[after] = period, tied

    def can_go_on(self, position: int, room: int, passes: int) -> bool:
        """Return whether the throws to come can pass the end of the period `passes` times."""
        turn = position // self.slots
        if (room & self.before[turn]).bit_count() > passes:
            return False
        least, more = divmod(self.farthest(), self.turns)
        return room.bit_count() * least + (room & self.before[more]).bit_count() >= passes

    def can_contain(self, position: int) -> bool:
        """Return whether what is missing can be thrown from `position` on, as far as is known."""
        missing = self.missing[position]
        if not missing:
            return True
        turn, slots = position // self.slots, self.length - position
        farthest = self.farthest()
        aheads = [ahead for ahead in range(missing.bit_length()) if missing >> ahead & 1]
        least, others = sum(aheads), slots - len(aheads)
        if others < 0 or aheads[-1] > farthest:
            return False
        if not least <= self.distance[position] <= least + others * farthest:
            return False
        landings = self.landings(position, turn)
        landings |= landings << self.sites
        here = (1 << (self.turns - turn) * self.hands.places) - 1
        shifts = [ahead % self.turns * self.hands.places for ahead in aheads]
        return all(landings >> shift & here for shift in shifts)

    def landings(self, position: int, turn: int) -> int:
        """Return the sites from a turn on, for one period, at which something can land."""
        room = self.room[position] & self.every
        shift = turn * self.hands.places
        return (room >> shift | room << self.sites - shift) & self.every

    def farthest(self) -> int:
        """Return how far ahead a throw can land, if the row so far is the beginning of one."""
        # With one slot a turn, no throw goes farther than the first, as the row is the largest.
        return self.row[0] if self.slots == 1 else self.hands.farthest
