"""Letting the count drop out and come back, cycle by cycle.

After each cycle with the count come some without it: one, then two, and so on up to the longest
stretch, then fewer again, so that the juggler carries the time alone for longer and longer. That
help should fade as skill grows is reasonable, not proven for pacing (see the README).
"""

from functools import lru_cache


def is_heard(cycle: int, longest: int) -> bool:
    """Return whether the count is heard in a cycle.

    Cycles count from zero. `longest` counts cycles of the longest silent stretch; 0 for a count
    that never fades.
    """
    if longest == 0:
        return True
    row = _row(longest)
    return row[cycle % len(row)]


@lru_cache
def _row(longest: int) -> tuple[bool, ...]:
    """Return which cycles are heard, until the stretches begin anew."""
    stretches = [*range(1, longest + 1), *range(longest - 1, 1, -1)]
    return tuple(heard for silent in stretches for heard in (True, *[False] * silent))
