"""Keys that come faster than fingers are text pasted into a terminal that does not say so."""

from collections import deque
from typing import Final

BURST_SECONDS: Final = 0.05
MOST_AT_ONCE: Final = 4
"""So many keys within `BURST_SECONDS` are still taken for a person's."""

FEW_KINDS: Final = 2
"""So many different ones among them too: one may be held down, and repeat, before the other."""

QUIET_SECONDS: Final = 0.2
"""After a burst, keys count again once nothing has come for so long."""


class PasteGuard:
    """Lets keys through, but not a burst."""

    def __init__(self) -> None:
        self._recent: deque[tuple[float, str]] = deque(maxlen=MOST_AT_ONCE + 1)
        self._blocked = False

    def let_through(self, keys: list[str], moment: float) -> list[str]:
        """Return `keys`, read at `moment` in seconds, or none if no person was so quick."""
        if keys and self._blocked and moment - self._recent[-1][0] > QUIET_SECONDS:
            self._blocked = False
        for key in keys:
            self._recent.append((moment, key))
            self._blocked = self._blocked or self._is_burst(moment)
        return [] if self._blocked else keys

    def _is_burst(self, moment: float) -> bool:
        return (
            len(self._recent) > MOST_AT_ONCE
            and moment - self._recent[0][0] <= BURST_SECONDS
            and len({key for _, key in self._recent}) > FEW_KINDS
        )
