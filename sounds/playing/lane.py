"""One run on its way through a deck: what sounds of it, and what is still to come."""

import math
import threading
from collections import deque
from collections.abc import Iterator

from sounds.placing.mixer import Placement, Sounding
from sounds.voices.clip import Samples


class MixLayer:
    """The sounds of a run at their frames on a deck's clock.

    Parameters
    ----------
    placements
        In order of start, in frames from the beginning of the run. Taken as they are needed,
        or somewhat ahead, see `look_ahead`.
    offset
        The frame of the deck's clock on which the run begins.
    frames
        Length of the run; None to end with its last sound.
    since
        Of moments before this frame of the run nothing is heard.
    """

    def __init__(
        self,
        placements: Iterator[Placement],
        offset: int,
        frames: int | None = None,
        since: int | None = None,
    ) -> None:
        self._placements = placements
        self._offset = offset
        self._frames = frames
        self._since = since
        self._coming: deque[Placement] = deque()
        self._known = -math.inf
        self._lock = threading.Lock()
        self._dropped = False
        self._until: float = math.inf
        self._words_stop: float = math.inf
        self._sounding: list[Sounding] = []

    def look_ahead(self, frame: int) -> None:
        """Work out everything that starts before a frame of the deck's clock.

        What a long pattern takes to work out is so done in good time, in a thread of its own.
        """
        while self._known < frame - self._offset and not self._dropped:
            with self._lock:
                self._know_one_more()

    def first_word(self) -> int | None:
        """Return where the first word starts of those worked out, on the deck's clock."""
        starts = (each.start + self._offset for each in self._coming if each.spoken)
        return next(starts, None)

    def over(self, position: int) -> bool:
        """Tell whether nothing of it is left from a frame of the deck's clock on."""
        if self._frames is not None and position - self._offset >= self._frames:
            return True
        nothing_comes = self._known == math.inf and not self._coming
        return not self._sounding and (self._dropped or nothing_comes)

    def add_to(self, block: Samples, position: int, *, speaking: bool) -> None:
        """Add what sounds in `block`, which begins at `position` of the deck's clock.

        What ought to have started before `position` and has not is left out: a sound is heard
        from its start or not at all.
        """
        position -= self._offset
        if self._frames is not None:
            block = block[: max(self._frames - position, 0)]
        self._start_sounds(position, position + len(block), speaking=speaking)
        for sounding in self._sounding:
            sounding.add_to(block, position)
        self._sounding = [each for each in self._sounding if each.end > position + len(block)]

    def fade_out(self, position: int, frames: int) -> None:
        """Fade over so many frames from `position` on, and drop what is coming."""
        for sounding in self._sounding:
            sounding.cut(position - self._offset, frames)
        self._dropped = True

    def hush(self, position: int, frames: int) -> None:
        """Fade the words that sound, over so many frames from `position` on."""
        for sounding in self._sounding:
            if sounding.placement.spoken:
                sounding.cut(position - self._offset, frames)

    def give_way(self, moment: int, word: int | None, position: int, fade: int) -> None:
        """Leave what belongs to `moment` or later to another layer, from `position` on.

        `moment` is a frame of the deck's clock, like `position`. `word` says where the first word
        of the other layer starts, by when the words of this one fade. `fade` is the length of any
        fading, in frames.
        """
        self._until = min(self._until, moment - self._offset)
        if word is not None:
            self._words_stop = min(self._words_stop, word - self._offset)
        for sounding in self._sounding:
            if sounding.placement.belongs >= self._until:
                sounding.cut(position - self._offset, fade)
            else:
                self._make_room(sounding, position - self._offset)

    def _make_room(self, sounding: Sounding, position: int) -> None:
        """Let a word fade before the first word of the layer that takes over."""
        stop, placement = self._words_stop, sounding.placement
        if placement.spoken and sounding.end > stop:
            sounding.cut(max(int(stop) - placement.fade, position), placement.fade)

    def _start_sounds(self, position: int, before: int, *, speaking: bool) -> None:
        while not self._dropped:
            if self._coming and self._coming[0].start < before:
                placement = self._coming.popleft()
                if placement.start >= position and self._is_heard(placement, speaking=speaking):
                    sounding = Sounding(placement if speaking else placement.by_itself())
                    self._make_room(sounding, position)
                    self._sounding.append(sounding)
            elif self._known < before:
                with self._lock:
                    self._know_one_more()
            else:
                return

    def _know_one_more(self) -> None:
        following = next(self._placements, None)
        if following is not None and (self._since is None or following.belongs >= self._since):
            self._coming.append(following)
        # Only now, as another thread takes what is known to be there.
        self._known = math.inf if following is None else following.start

    def _is_heard(self, placement: Placement, *, speaking: bool) -> bool:
        if placement.spoken and not (speaking and placement.start < self._words_stop):
            return False
        return placement.belongs < self._until
