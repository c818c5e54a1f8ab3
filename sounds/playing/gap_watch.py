"""Counting the times when a device ran out of sound.

PortAudio does not tell all of them. So the frames handed out are compared with the time gone by:
a device that has had to wait for sound falls behind for good. It also falls behind for a moment
whenever a request comes late, which costs nothing as long as its store of sound lasts; so what
counts is how far behind it is at best within each second. The clocks of devices differ from the
computer's by up to a few parts in ten thousand, which is far below what is taken for a gap. The
first second is no measure: a sound server may take in more then than it keeps afterwards.
"""

from typing import Final

WINDOW: Final = 1.0
"""Seconds over which the best is taken."""

MISSED: Final = 0.01
"""Seconds further behind than in the second before that are a gap."""


class GapWatch:
    """Counts gaps from what is known at each request of the device.

    `rate` is in frames a second.
    """

    def __init__(self, rate: int) -> None:
        self.gaps = 0
        self._rate = rate
        self._since: float | None = None
        self._told = [False, False]  # within the second before, and within this one
        self._settling = True
        self._before: float | None = None
        self._best: float | None = None

    def note(self, position: int, moment: float, *, told: bool) -> None:
        """Take note of a request.

        `position` is how many frames were handed out before it. `moment` is when it came, in
        seconds. `told` says whether the device has said that it ran out of sound.
        """
        behind = moment - position / self._rate
        if self._since is None or moment - self._since > WINDOW:
            self._close_window(moment)
        self._best = behind if self._best is None else min(self._best, behind)
        if told:
            self.gaps += 1
            self._told[1] = True

    def _close_window(self, moment: float) -> None:
        if self._before is not None and self._best is not None:
            missed = self._best - self._before > MISSED
            self.gaps += missed and not any(self._told)
        before = None if self._settling else self._best
        self._settling = self._best is None
        self._since, self._before, self._best = moment, before, None
        self._told = [self._told[1], False]
