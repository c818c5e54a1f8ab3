"""The beats of a timeline, in step with what is heard."""

import math
from collections import deque
from itertools import islice
from typing import Final

from caller.display.glance import Glance, is_shown
from engine.timing.timeline import Beat, Timeline

REFRESH_SECONDS: Final = 0.03
"""The longest time between two looks at what is heard; a beat that is due is not slept through."""

SHORTEST_WAIT: Final = 0.002
"""Seconds; what is heard stands still where a device does, and must not be asked without a rest."""

AHEAD: Final = 24
"""Beats that are known before they are heard."""


class Follower:
    """Walks a timeline in step with the sound, and knows the beats that are heard and that come.

    `rate` is in frames a second. `ahead` is how many beats it knows beforehand; no others are kept.

    Attributes
    ----------
    beat
        The one that is heard; None before the first.
    """

    def __init__(self, timeline: Timeline, rate: int, ahead: int = AHEAD) -> None:
        self.beat: Beat | None = None
        self._seconds = timeline.seconds
        self._beats = iter(timeline)
        self._rate = rate
        self._coming = deque(islice(self._beats, ahead))
        self._shown: Beat | None = None

    def advance(self, frame: int) -> bool:
        """Go on to the last beat that is heard at `frame`; return whether that is a new one."""
        moved = False
        while self._coming and self._coming[0].time * self._rate <= frame:
            self.beat = self._coming.popleft()
            self._coming.extend(islice(self._beats, 1))
            if is_shown(self.beat):
                self._shown = self.beat
            moved = True
        return moved

    def seconds_to_next(self, frame: int) -> float:
        """Return how long after `frame` the next beat is heard; infinite where none comes."""
        return self._coming[0].time - frame / self._rate if self._coming else math.inf

    def glance(self, frame: int) -> Glance:
        """Return what there is to see at `frame`, to which `advance` has gone on."""
        left = None if self._seconds is None else self._seconds - frame / self._rate
        return Glance(
            beat=self._shown,
            coming=tuple(self._coming),
            seconds_to_throw=self._seconds_to_throw(frame),
            seconds_left=None if left is None else max(0, math.ceil(left)),
        )

    def _seconds_to_throw(self, frame: int) -> int | None:
        if self.beat is not None:
            return None
        first = next((beat.time for beat in self._coming if beat.cycle is not None), None)
        return None if first is None else max(0, math.ceil(first - frame / self._rate))
