"""Which thuds are only heard once more, from a wall.

An echo is weaker than its thud, and it follows as late after this thud as after the last one, to a
millisecond or so, since neither wall nor microphone moves much. Hands are never that regular:
what two of them catch shortly one after the other is some 10 ms earlier or later every time.
"""

from collections import deque
from typing import Final

LATEST: Final = 0.15
"""Seconds by which an echo follows its thud at the latest; the way of sound to a wall 25 m off."""

MUCH_WEAKER: Final = 15.0
"""In dB: what follows that much weaker is taken for an echo without more ado."""

WEAKER: Final = 3.0
"""In dB by which an echo is weaker at least."""

SAME_LAG: Final = 0.0015
"""Seconds by which the lags of one echo differ at the most."""

REMEMBERED_THUDS: Final = 24
"""How many thuds a lag is looked for after."""

OFTEN: Final = 0.3
LEAST_OFTEN: Final = 4
"""The share of these thuds, and their number, that a lag was found after when it is an echo's."""


class Echoes:
    """Is asked about every thud of a take, in order of time."""

    def __init__(self) -> None:
        self._lags: deque[list[float]] = deque(maxlen=REMEMBERED_THUDS)
        self._time = -LATEST
        self._level = 0.0

    def is_echo(self, time: float, level: float) -> bool:
        """Tell whether a thud is an echo of the last one that was none.

        `time` is in seconds, not before that of the thud asked about last. `level` is in dB.
        """
        lag, weaker = time - self._time, self._level - level
        if lag < LATEST and weaker >= WEAKER:
            known = self._is_known(lag)
            self._lags[-1].append(lag)
            if known or weaker >= MUCH_WEAKER:
                return True
        self._lags.append([])
        self._time, self._level = time, level
        return False

    def _is_known(self, lag: float) -> bool:
        """Tell whether many of the last thuds were followed by something after the same time."""
        same = sum(any(abs(lag - other) < SAME_LAG for other in lags) for lags in self._lags)
        return same >= max(LEAST_OFTEN, OFTEN * len(self._lags))
