"""Which of a pattern's rotations stands for all of them.

It is the one that begins in the state nearest to the ground state, as it takes the fewest throws
to get into; and of several the one whose throws, compared from the first on, are largest.
"""

from engine.patterns.ground import turns_from_ground
from engine.patterns.rows import HandLimits, Row
from engine.patterns.states import states


def chosen_rotation(hands: HandLimits, objects: int, row: Row) -> Row:
    """Return the rotation from the state nearest to the ground state; of several the largest.

    `hands` are those whose codes the row has. `row` is one repetition of a pattern.
    """
    ways = _turns_from_ground(hands, objects, row)
    shortest = min(ways)
    starts = [turn * hands.lanes for turn, way in enumerate(ways) if way == shortest]
    return max([row[start:] + row[:start] for start in starts])


def _turns_from_ground(hands: HandLimits, objects: int, row: Row) -> list[int]:
    """Return how far from the ground state each rotation of a row begins."""
    if not hands.plain:
        return [turns_from_ground(one, objects) for one in states(hands.pattern(row))]
    # The first landing of the throws to come is the first beat on which no object is due yet.
    length = len(row)
    landings = [beat + value for beat, value in enumerate(row)]
    earliest = min(landings) + length
    ways = [0] * length
    for beat in range(length - 1, -1, -1):
        earliest = min(earliest, landings[beat])
        ways[beat] = objects - (earliest - beat)
    return ways
