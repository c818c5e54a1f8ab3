"""Changes of timing by plain search, and bridges followed throw by throw; no engine code is used.

Written from the definition alone. Time goes by in beats. Where hands are in turn, one hand throws
on each beat; where they are together, both throw, and the next beat is free. Each hand throws what
is due in it, and nothing may come down in a hand on a beat on which it does not throw. At a change
of timing one hand hurries (throws again one beat after its throw) or waits (keeps what it has for
one beat, on which it would have thrown). The bridge is over when nothing is kept any longer.
"""

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from itertools import product

Due = frozenset[tuple[str, int]]
"""Hands and the beats from now on which an object comes down in them, one at a time."""

Node = tuple[str, Due]
"""What comes next, and what is due: "right" or "left" hand in turn, or "both" together."""

OTHER = {"right": "left", "left": "right"}


def in_turn(gaps: Sequence[int], hand: str) -> Due:
    """Return what is due, beat by beat, where `hand` is the first in turn."""
    hands = (hand, OTHER[hand])
    return frozenset((hands[beat % 2], beat) for beat, count in enumerate(gaps) if count)


def together(left: Sequence[int], right: Sequence[int]) -> Due:
    """Return what is due in both hands, pair by pair."""
    rows = {"left": left, "right": right}
    return frozenset((h, 2 * pair) for h, row in rows.items() for pair, n in enumerate(row) if n)


def thrown(due: Due, acting: Sequence[str], highest: int) -> Iterator[Due]:
    """Yield what may be due after these hands have thrown, still counted from the same beat."""
    if any(beat == 0 and hand not in acting for hand, beat in due):
        return
    up = frozenset(one for one in due if one[1] > 0)
    flights = [*product(OTHER, range(1, highest + 1))]
    if len(due) == len(up):
        yield up
    elif len(due) == len(up) + 1:
        yield from (up | {one} for one in flights if one not in up)
    else:
        for one, two in product(flights, repeat=2):
            if one != two and one not in up and two not in up:
                yield up | {one, two}


def later(due: Due, beats: int) -> Due | None:
    """Return what is due `beats` beats later; None if something has come down meanwhile."""
    if any(0 < beat < beats for _, beat in due):
        return None
    return frozenset((hand, beat - beats) for hand, beat in due)


def kept(due: Due, hand: str) -> Due | None:
    """Return what is due if a hand waits a beat; None if an object comes down in it just then."""
    if (hand, 0) not in due:
        return due
    return None if (hand, 1) in due else due - {(hand, 0)} | {(hand, 1)}


def in_turn_steps(node: Node, highest: int, *, changing: bool) -> Iterator[tuple[int, Node]]:
    """Yield how many beats on which next node is, where one hand throws next."""
    turn, due = node
    for after in thrown(due, [turn], highest):
        gone = later(after, 1)
        if gone is not None:
            yield 1, (OTHER[turn], gone)
    if not changing:
        return
    yield 0, ("both now", due)  # the other hand, which threw a beat ago, hurries
    waits = kept(due, turn)
    if waits is not None and not {("right", 0), ("left", 0)} & waits:
        gone = later(waits, 1)
        if gone is not None:
            yield 1, ("both now", gone)


def together_steps(node: Node, highest: int, *, changing: bool) -> Iterator[tuple[int, Node]]:
    """Yield how many beats on which next node is, where both hands throw next."""
    due = node[1]
    for after in thrown(due, ["right", "left"], highest):
        gone = later(after, 2)
        if gone is not None:
            yield 2, ("both", gone)
        soon = later(after, 1)
        if soon is not None and changing:  # either hand hurries
            yield 1, ("right now", soon)
            yield 1, ("left now", soon)
    for hand, other in OTHER.items() if changing else ():  # the other hand waits
        if (other, 0) not in due:
            yield 0, (f"{hand} now", due)
            continue
        # What it keeps, it keeps during the bridge, so this hand's throw is part of that too.
        waits = kept(due, other)
        for after in thrown(waits, [hand], highest) if waits is not None else ():
            gone = later(after, 1)
            if gone is not None:
                yield 1, (f"{other} now", gone)


def distances(start: Node, highest: int) -> Mapping[Node, int]:
    """Return the fewest beats from `start` to every state of the other timing that is reached."""
    found: dict[Node, int] = {}
    waiting = defaultdict(set)
    waiting[0].add((start, False))
    known: set[tuple[Node, bool]] = set()
    while any(waiting.values()):
        beats = min(beat for beat, nodes in waiting.items() if nodes)
        node, changed = waiting[beats].pop()
        if (node, changed) in known:
            continue
        known.add((node, changed))
        if changed:
            found.setdefault(node, beats)
        steps = together_steps if node[0] == "both" else in_turn_steps
        for more, (turn, due) in steps(node, highest, changing=not changed):
            if turn.endswith(" now"):
                waiting[beats + more].add(((turn[:-4], due), True))
            else:
                waiting[beats + more].add(((turn, due), changed))
    return found


def followed(
    rows: Sequence[Mapping[str, Sequence[str]]], due: Mapping[tuple[str, int], int], pairs_from: int
) -> dict[tuple[str, int], int]:
    """Return what is due after a bridge, counted from its end, when its throws are followed.

    Parameters
    ----------
    rows
        What each hand throws on each beat, in notation; ["0"] for an empty hand whose turn it is.
    due
        How many objects come down in which hand on which beat, before the bridge.
    pairs_from
        The first beat on which hands together follow hands in turn; past the end if it is the other
        way round.
    """
    left = defaultdict(int, due)
    for beat, row in enumerate(rows):
        acting = {hand: [one for one in row[hand] if one != "0"] for hand in OTHER if row[hand]}
        for hand in OTHER:
            here = left.pop((hand, beat), 0)
            assert here == len(acting.get(hand, [])), (beat, hand)
        for hand, throws in acting.items():
            for throw in throws:
                value = int(re.sub("x$", "", throw), 36)
                marked = len(acting) > 1 or beat + value >= pairs_from
                crosses = throw.endswith("x") if marked else value % 2 == 1
                left[OTHER[hand] if crosses else hand, beat + value] += 1
    return {(hand, beat - len(rows)): count for (hand, beat), count in left.items()}
