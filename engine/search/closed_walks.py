"""Patterns by the block: closed walks through the states, as arrays.

A pattern leads from each of its states back to it. A prime pattern meets no state twice: it is a
cycle of the graph of states (Chung & Graham, Primitive juggling sequences, Amer. Math. Monthly 115
(2008) 185-194). A row is built slot by slot (`throwcount.engine.patterns.rows`), so a state is
known before each slot. It is an unsigned number: from the highest bit on, a bit for each slot to
come, set if an object is due in it. Of the slots of one hand in one turn, the first ones are used.

Each pattern is found once, from the largest of its states at which a turn begins, its *root*, along
walks through no larger ones (Tiernan, An efficient search algorithm to find the elementary circuits
of a graph, Comm. ACM 13 (1970) 722-726; cited from memory). To this end ground states count as
larger than all others. Of several rotations that begin at the root the largest is kept. A walk is
given up as soon as it cannot be back in time: with r slots to go, every object due in r slots or
later must be due in the root too. That is enough, as throws can fill the rest of any root, none of
them higher than the root itself asks for (`throwcount.engine.search.walks`).

The walks of a *block* have the same length and are extended together, by operations on arrays. In
a block they are in order: larger roots first, and of one root lower throws first. A block that
grows too large is dealt out to several, which are followed to the end one after another, so memory
is bounded. Each of them gets walks from all over the block: neighbours, which have much in common,
may all have met the states that lead back to their root.

Symmetric pairs are searched in two ways, as a pattern that equals some rotation of its own mirror
image equals one by no turn or by half of its turns. In the first case all its states are their own
mirror images; in the second its first half leads from a state to the mirror image of that state.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import reduce
from itertools import combinations, islice
from typing import Any, Final, Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from throwcount.engine.patterns.rows import HandLimits, RowQuery, chosen_rotation
from throwcount.engine.patterns.states import State, ground_states
from throwcount.engine.search.state_graph import states_of
from throwcount.engine.search.walks import Watch, part, unwatched

States: TypeAlias = NDArray[Any]
"""States as unsigned numbers, as wide as the highest throw needs."""

Codes: TypeAlias = NDArray[np.uint8]
"""Rows of codes."""

Values: TypeAlias = NDArray[np.uint64]
"""Sets of throw values, as bits."""

Mirror: TypeAlias = Literal["turn", "half"]
"""What a symmetric pattern repeats with the hands swapped: each turn at once, or its first half."""

WIDEST: Final = 64
"""Bits in a state, at most."""

MOST_BYTES: Final = 1 << 26
"""Room for the blocks of all lengths together, with all throws that lead on from them."""

MOST_WALKS: Final = 1 << 15
"""Walks in a block, at most; with many more, a block leaves the processor's cache."""


def fits_in_a_number(hands: HandLimits) -> bool:
    """Return whether the states of such hands have few enough bits."""
    return 0 < _slots_ahead(hands) <= WIDEST


def closed_walks(
    query: RowQuery,
    watch: Watch = unwatched,
    *,
    prime: bool = False,
    from_ground: bool = False,
    symmetric: bool = False,
) -> Iterator[bytes]:
    """Yield the chosen rotation of each pattern, of plain ones many rows without a gap between.

    No row repeats within itself. With `prime` no state recurs in it, with `from_ground` it passes
    a ground state, and with `symmetric` synchronous hands make the same throws in the same order.
    `watch` is called after every block with the share of the search that is done.
    """
    mirrors: tuple[Mirror | None, ...] = (None,)
    if symmetric:
        mirrors = ("turn",) if query.turns % 2 else ("turn", "half")
    for number, mirror in enumerate(mirrors):
        search = _ClosedWalkSearch(query, mirror, prime=prime)
        share = part(watch, number / len(mirrors), 1 / len(mirrors))
        for rows in search.rows(search.roots(from_ground=from_ground), share):
            if query.hands.plain:
                yield rows.tobytes()
                continue
            for row in rows:
                yield chosen_rotation(query.hands, query.objects, row.tobytes())


def _slots_ahead(hands: HandLimits) -> int:
    """Return how many slots ahead of any slot an object can be due."""
    return (hands.farthest + 1) * hands.slots - 1 if hands.farthest else 0


class _Slot:
    """What may be thrown in one of the slots of a turn; tables have an entry for each slot ahead.

    Each table has one more entry at its end, for a slot in which nothing is thrown.
    """

    def __init__(self, hands: HandLimits, slot: int, bits: States) -> None:
        place, rank = divmod(slot, hands.capacity)
        later = np.arange(len(bits)) + slot + 1
        ahead = later // hands.slots
        values = ahead * hands.places
        reached = (ahead > 0) & (ahead <= hands.farthest) & ~np.isin(values, list(hands.without))
        self.is_first = rank == 0
        """Whether it is the first slot of its hand."""
        self.may_rest = not self.is_first or 0 not in hands.without
        """Whether nothing may be thrown."""
        self.landings = _joined(bits[reached])
        """Where an object can land."""
        self.firsts = _joined(bits[later % hands.capacity == 0])
        """Which slots ahead are the first of a hand."""
        codes = values + later % hands.slots // hands.capacity
        self.codes = np.append(codes, place).astype(np.uint8)
        """The code of each throw."""
        known = np.where(reached, values, WIDEST - 1)
        self.values = np.append(np.left_shift(1, known), int(self.is_first)).astype(np.uint64)
        """The value of each throw, as a bit; a 0 only where a hand throws nothing."""


@dataclass(frozen=True, slots=True)
class _Block:
    """Walks of the same length."""

    length: int
    """States in each walk; a whole one ends in its root again, for which there is no room."""
    walks: States
    """The states of each walk, the root first, in a row with room for one before each slot."""
    missing: Values
    """The throw values that each walk still has to make; empty if none are asked for."""
    repeats: NDArray[np.intp]
    """After how many slots the row repeats itself so far; 0 if it has become smaller, up to the
    next time that it is in its root. Empty in a search for prime patterns."""
    share: float
    """The share of the search that these walks are."""

    def parts(self, most: int) -> Iterator["_Block"]:
        """Yield blocks of at most so many walks, each from all over this block, the first last."""
        number = -(-len(self.walks) // most)
        for first in reversed(range(number)):
            walks = np.ascontiguousarray(self.walks[first::number])
            missing, repeats = self.missing[first::number], self.repeats[first::number]
            yield _Block(self.length, walks, missing, repeats, self.share / number)


class _ClosedWalkSearch:
    """A search for patterns of one period."""

    def __init__(self, query: RowQuery, mirror: Mirror | None, *, prime: bool) -> None:
        self.query, self.hands, self.mirror, self.prime = query, query.hands, mirror, prime
        self.slots, self.ahead = query.hands.slots, _slots_ahead(query.hands)
        self.length = query.turns * self.slots // (2 if mirror == "half" else 1)
        self.size = max(8, 1 << (self.ahead - 1).bit_length())
        self.dtype = np.dtype(f"u{self.size // 8}")
        # The bit of each slot ahead.
        self.bits = np.array([1 << place for place in reversed(range(self.size))], self.dtype)
        self.turn = [_Slot(self.hands, slot, self.bits) for slot in range(self.slots)]
        grounds = ground_states(self.hands.kind, query.objects)
        self.grounds = [one for one in grounds if max(map(len, one)) <= self.hands.farthest]
        # Walks are compared eight states at a time.
        eight = 8 * self.slots
        self.width = -(-self.length // eight) * eight
        each = self.width * self.dtype.itemsize * max(self.ahead - query.objects + 1, 1)
        room = MOST_BYTES // (each * self.length)
        self.most = min(max(room, 32), MOST_WALKS)

    def between(self, first: int, end: int) -> States:
        """Return the bits of the slots ahead from `first` up to `end` as one number."""
        return _joined(self.bits[first : min(end, self.ahead)])

    def number(self, state: State) -> int:
        """Return a state before a turn as a number."""
        return sum(
            int(self.bits[turn * self.slots + place * self.hands.capacity + rank])
            for place, due in enumerate(state)
            for turn, count in enumerate(due)
            for rank in range(count)
        )

    def mirrored(self, states: States) -> States:
        """Return states before a turn with the hands swapped."""
        size = self.hands.capacity
        left = _joined(self.bits[np.arange(self.size) // size % 2 == 0])
        return (states & left) >> size | (states & ~left) << size

    def ranked(self, states: States) -> States:
        """Return states as numbers of which those of ground states are the largest."""
        if self.hands.plain:
            return states
        ranks = states.copy()
        for place, ground in enumerate(self.grounds):
            ranks[states == self.number(ground)] = ~self.dtype.type(place)
        return ranks

    def targets(self, roots: States) -> States:
        """Return the states at which walks from the roots end."""
        return self.mirrored(roots) if self.mirror == "half" else roots

    def on_the_way(self, targets: States, left: int) -> States:
        """Return the slots in which an object may be due with so many slots to go."""
        due: States = self.between(0, left) | targets >> min(left, self.ahead)
        return due

    def following(self, states: States) -> States:
        """Return what is due one slot later, before anything is thrown."""
        due: States = states << 1 & self.between(0, self.ahead)
        return due

    def roots(self, *, from_ground: bool) -> Iterator[States]:
        """Yield blocks of all states, or of the ground states, that can be roots."""
        hands, objects = self.hands, self.query.objects
        if from_ground or not hands.plain:
            states = self.grounds if from_ground else states_of(hands, objects)
            numbers: Iterable[int] = map(self.number, states)
        else:
            places = combinations(range(hands.highest), objects)
            numbers = (sum(1 << self.size - 1 - place for place in one) for one in places)
        while some := list(islice(numbers, MOST_WALKS)):
            roots = np.array(some, self.dtype)
            roots = roots[np.argsort(self.ranked(roots))[::-1]]
            possible = roots & ~self.on_the_way(self.targets(roots), self.length) == 0
            possible &= self.may_pass(roots, self.ranked(roots))
            if self.mirror == "half" and self.prime:
                possible &= self.mirrored(roots) != roots
            yield roots[possible]

    def rows(self, roots: Iterator[States], watch: Watch) -> Iterator[Codes]:
        """Yield the rows of all patterns that have one of these roots."""
        begun = done = 0.0
        for some in roots:
            # The first roots have by far the most patterns.
            share = (1 - begun) / 2
            begun += share
            waiting = list(self.beginning(some, share).parts(self.most))
            while waiting:
                block = waiting.pop()
                if block.length <= self.length:
                    waiting += self.extended(block).parts(self.most)
                elif len(found := self.closed(block)):
                    yield found
                done = max(done, begun - sum(one.share for one in waiting))
                watch(done)

    def beginning(self, roots: States, share: float) -> _Block:
        """Return the walks that have not left their roots."""
        walks = np.zeros((len(roots), self.width), self.dtype)
        walks[:, 0] = roots
        wanted = sum(1 << one for one in self.query.containing)
        missing = np.full(len(roots) if wanted else 0, wanted, np.uint64)
        return _Block(1, walks, missing, np.zeros(0 if self.prime else len(roots), np.intp), share)

    def extended(self, block: _Block) -> _Block:
        """Return the walks longer by each throw that is possible."""
        length, left = block.length, self.length - block.length
        slot = self.turn[(length - 1) % self.slots]
        due, coming, landings = self.choices(block, slot, left)
        # Where no object is due, the first bit stands for nothing, which leaves what is coming.
        landings = np.where(due, landings, self.bits[0] if slot.may_rest else 0)
        coming = np.where(due, coming, coming ^ self.bits[0])

        if left:
            big_endian = landings.astype(self.dtype.newbyteorder(">"))
            chosen = np.flatnonzero(np.unpackbits(big_endian.view(np.uint8)).view(bool))
            parents = np.repeat(np.arange(len(landings)), np.bitwise_count(landings))
            ahead = chosen & self.size - 1
        else:  # one throw at most leads to the root
            parents = np.flatnonzero(landings)
            ahead = self.slots_to(landings.take(parents))
        states = coming.take(parents) ^ self.bits.take(ahead)
        at_turn = left > 0 and length % self.slots == 0
        if at_turn:
            roots = self.ranked(block.walks[:, 0]).take(parents)
            kept = np.flatnonzero(self.may_pass(states, roots))
            parents, ahead, states = parents.take(kept), ahead.take(kept), states.take(kept)
        walks = block.walks.take(parents, axis=0)
        if self.query.containing or not self.prime:
            ahead = np.where(due.take(parents), ahead, -1)
        missing, repeats, allowed = block.missing, block.repeats, np.ones(len(states), bool)
        if not self.prime:
            repeats = repeats.take(parents)
            allowed = self.compare(walks, states, length, ahead, repeats)
        elif at_turn:
            allowed = self.unmet(walks, states, length)
        if self.query.containing:
            missing = missing.take(parents) & ~slot.values.take(ahead)
            allowed &= self.can_contain(walks[:, 0], states, missing, left)
        if left:
            walks[:, length] = states
        walks = walks.compress(allowed, axis=0)
        missing = missing.compress(allowed) if self.query.containing else missing
        repeats = repeats if self.prime else repeats.compress(allowed)
        return _Block(length + 1, walks, missing, repeats, block.share)

    def compare(
        self,
        walks: States,
        states: States,
        length: int,
        ahead: NDArray[np.intp],
        repeats: NDArray[np.intp],
    ) -> NDArray[np.bool_]:
        """Return where no rotation from the root is larger so far, and bring `repeats` up to date.

        As in Duval, Factorizing words over an ordered alphabet, J. Algorithms 4 (1983) 363-381,
        each throw is compared with the one before by the length of the part that repeats. Here a
        part ends in the root.
        """
        rows = np.arange(len(walks))
        earlier = length - 1 - np.where(repeats, repeats, length - 1)
        before, after = walks[rows, earlier], walks[rows, earlier + 1]
        other = self.slots_to(after ^ self.following(before))
        tied = repeats > 0
        allowed = ~tied | (ahead <= other)
        repeats[tied & (ahead < other)] = 0
        if length % self.slots == 0:
            repeats[(repeats == 0) & (states == walks[:, 0])] = length
        if length == self.length and self.mirror != "half":
            allowed &= repeats == length
        return allowed

    def slots_to(self, landings: States) -> NDArray[np.int8]:
        """Return how many slots ahead the only bit of a state is; -1 if it has none."""
        # Below a bit are those of the slots after it; from nothing, all bits come out.
        below: NDArray[np.int8] = np.bitwise_count(landings - 1).astype(np.int8)
        return self.size - 1 - below

    def choices(self, block: _Block, slot: _Slot, left: int) -> tuple[States, States, States]:
        """Return whether an object is due, what is coming, and where the object can land."""
        targets, last = self.targets(block.walks[:, 0]), block.walks[:, block.length - 1]
        coming = self.following(last)
        landings: States = ~coming & slot.landings & self.on_the_way(targets, left)
        if self.hands.capacity > 1:
            # The first slot of a hand that is free; and no throw goes farther than one before it.
            landings = landings & (coming >> 1 | slot.firsts)
            if not slot.is_first:
                before = last ^ self.following(block.walks[:, block.length - 2])
                nearer = ~((before << 1) - 1) | before & ~slot.firsts
                landings = landings & nearer
        return last & self.bits[0] != 0, coming, landings

    def may_pass(self, states: States, roots: States) -> NDArray[np.bool_]:
        """Return where a walk may pass through a state before a turn, by the rank of its root."""
        possible = self.ranked(states) <= roots
        if self.mirror == "turn":
            possible &= self.mirrored(states) == states
        if self.mirror == "half":
            possible &= self.ranked(self.mirrored(states)) <= roots
        return possible

    def unmet(self, walks: States, states: States, length: int) -> NDArray[np.bool_]:
        """Return where a walk of this length has not been in a state before a turn."""
        eight = 8 * self.slots
        earlier = walks[:, : -(-length // eight) * eight : self.slots]
        met = (earlier == states[:, None]).view(np.uint64)
        if self.mirror == "half":
            mirrored = self.mirrored(states)
            met |= (earlier == mirrored[:, None]).view(np.uint64) | (states == mirrored)[:, None]
        unmet: NDArray[np.bool_] = reduce(np.bitwise_or, met.T) == 0
        return unmet

    def can_contain(
        self, roots: States, states: States, missing: Values, left: int
    ) -> NDArray[np.bool_]:
        """Return where so many slots back to the root may be enough for every missing value.

        An object can land in a slot before the root in which none is due, or in a slot of the root
        that nothing else fills. Which slot of a turn it is thrown from is left open.
        """
        possible = np.bitwise_count(missing) <= left
        targets = self.targets(roots)
        unfilled = targets & ~(states << min(left, self.ahead))
        for value in self.query.containing if left <= self.ahead else ():
            end = (value // self.hands.places + 1) * self.slots - 1
            first = max(end - 2 * (self.slots - 1), 0)
            before = ~states & self.between(first, left)
            later = unfilled & self.between(max(first - left, 0), end)
            possible &= (missing >> value & 1 == 0) | (before | later != 0)
        return possible

    def closed(self, block: _Block) -> Codes:
        """Return the rows of whole walks that are the largest of the rotations from their root."""
        walks = block.walks[:, : self.length]
        after = np.hstack((walks[:, 1:], self.targets(walks[:, :1])))
        landings = after ^ self.following(walks)
        ahead = self.slots_to(landings)
        codes = np.empty(ahead.shape, np.uint8)
        for slot, thrown in enumerate(self.turn):
            codes[:, slot :: self.slots] = thrown.codes.take(ahead[:, slot :: self.slots])
        states = walks[:, :: self.slots]
        if self.mirror == "half":
            codes = np.hstack((codes, self.mirrored_codes(codes)))
            states = np.hstack((states, self.mirrored(states)))
        if self.mirror == "half" and not self.prime:
            larger = np.ones(len(codes), bool)
            for which, rotated in self.rotations(codes, states[:, 1:] == states[:, :1]):
                larger[which] &= _as_text(codes[which]) > _as_text(rotated)
            codes, states = codes[larger], states[larger]
        return self.chosen(codes, states) if self.hands.plain else codes

    def mirrored_codes(self, codes: Codes) -> Codes:
        """Return rows of synchronous turns with the hands swapped."""
        swapped = codes.reshape(len(codes), -1, 2, self.hands.capacity)[:, :, ::-1] ^ 1
        return np.sort(swapped, axis=-1)[..., ::-1].reshape(codes.shape)

    def rotations(
        self, codes: Codes, starts: NDArray[np.bool_]
    ) -> Iterator[tuple[NDArray[np.intp], Codes]]:
        """Yield indices of rows, with these rows from one of their turns after the first on.

        `starts` says for each row and turn whether such a rotation is wanted.
        """
        for turn, wanted in enumerate(starts.T, 1):
            which = np.flatnonzero(wanted)
            if len(which):
                yield which, np.roll(codes.take(which, axis=0), -turn * self.slots, axis=1)

    def chosen(self, codes: Codes, states: States) -> Codes:
        """Return of each plain row the largest rotation that begins as near to the ground state."""
        unfilled = ~states[:, :1]
        for shift in (1, 2, 4, 8, 16, 32):
            unfilled |= unfilled >> shift
        largest = codes.copy()
        # A state has as many objects due without a gap as the root if it is as large without them.
        for which, rotated in self.rotations(codes, states[:, 1:] >= ~unfilled):
            larger = _as_text(rotated) > _as_text(largest[which])
            largest[which[larger]] = rotated[larger]
        return largest


def _joined(bits: States) -> States:
    """Return the one number that has all these bits."""
    number: States = np.bitwise_or.reduce(bits, initial=bits.dtype.type(0))
    return number


def _as_text(rows: Codes) -> NDArray[np.bytes_]:
    """Return rows as strings of bytes, which numpy puts in order."""
    return np.ascontiguousarray(rows).view(f"S{rows.shape[1]}")[:, 0]
