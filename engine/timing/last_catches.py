"""How long the last catches take after a pattern has been left."""

import math

from engine.patterns.flight import DWELL_RATIO
from engine.patterns.pattern import Pattern


def catch_beats(pattern: Pattern, beats: int) -> int:
    """Return how many beats pass after so many beats of a pattern until all is caught.

    Where the hands throw together, the last of these beats is one on which they do.
    """
    step = pattern.beats_per_turn
    last = 0
    for (turn, _), throw in pattern.throws():
        # The last time that this throw is made.
        made = (beats - 1 - turn * step) // pattern.period * pattern.period + turn * step
        if made >= 0 and not throw.held:
            last = max(last, math.ceil(made + throw.value - 2 * DWELL_RATIO) + 1 - beats)
    return last | 1 if last and step > 1 else last
