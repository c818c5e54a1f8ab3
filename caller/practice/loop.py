"""The practice loop: it connects controller, sound, screen and keys while a practice goes on."""

import math
import time
from collections import deque
from dataclasses import replace
from itertools import islice
from typing import Final

from throwcount.caller.options.request import Request
from throwcount.caller.pieces.piece import hands_text
from throwcount.caller.practice.live import LiveSession
from throwcount.caller.practice.situation import (
    Closing,
    Paused,
    Playing,
    Practice,
    Resting,
    is_resting,
)
from throwcount.caller.terminal.controls import RESUMED, Presses, legend
from throwcount.caller.terminal.glance import Glance
from throwcount.caller.terminal.printing import length_text, shortened
from throwcount.caller.terminal.screen import Display, Keys, display, reading_keys
from throwcount.engine.numbers import counted
from throwcount.engine.timing.run import Part, Places, Rest
from throwcount.engine.timing.timeline import Beat, Timeline, is_shown

REFRESH_SECONDS: Final = 0.03
"""The longest time between two looks at what is heard; it is shorter before a beat."""

SHORTEST_WAIT: Final = 0.002
"""The shortest time between two looks in seconds, as a device may stand still before a beat."""

AHEAD: Final = 24
"""How many beats are known before they are heard."""


class Follower:
    """Walks a timeline in step with the sound, and knows the beat that is heard and those to come.

    `rate` is the sample rate in Hz. `ahead` is how many beats are known beforehand; no others are
    kept.

    Attributes
    ----------
    beat
        The beat that is heard; None before the first.
    """

    def __init__(self, timeline: Timeline, rate: int, ahead: int = AHEAD) -> None:
        self.beat: Beat | None = None
        self._seconds = timeline.seconds
        self._beats = iter(timeline)
        self._rate = rate
        self._coming = deque(islice(self._beats, ahead))
        self._shown: Beat | None = None

    def advance(self, frame: int) -> bool:
        """Go on to the beat that is heard at `frame`; return whether it is a new one."""
        moved = False
        while self._coming and self._coming[0].time * self._rate <= frame:
            self.beat = self._coming.popleft()
            self._coming.extend(islice(self._beats, 1))
            if is_shown(self.beat):
                self._shown = self.beat
            moved = True
        return moved

    def seconds_to_next(self, frame: int) -> float:
        """Return the seconds from `frame` until the next beat is heard; infinite after the last."""
        return self._coming[0].time - frame / self._rate if self._coming else math.inf

    def glance(self, frame: int) -> Glance:
        """Return what there is to see at `frame`, after `advance` has gone on to it."""
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


REOPEN_SECONDS: Final = 10.0
"""How long a device that has gone is waited for; a sound server may be restarted."""

PRESS_TO_GO: Final = "press to go"
ALONE: Final = "A fault in throwcount: the practice goes on without being listened to."
BETWEEN_RETRIES: Final = 1.0
"""Seconds between two tries to keep what the log refused."""

NOW_KEPT: Final = "All marks are kept now."
DEVICE_BACK: Final = "The sound had stopped and is back: this set begins again."


class PracticeLoop:
    """A practice while it goes on.

    `request` gives the keys, and how late the sound is at the ear. `controller` leads through the
    practice in the same session. `notice` is shown until a key is pressed.
    """

    def __init__(
        self, request: Request, session: LiveSession, controller: Practice, notice: str = ""
    ) -> None:
        self._request = request
        self._player = session.player
        self._voice = session.voice
        self._observer = session.observer
        self._recorder = session.recorder
        self._retried = 0.0
        self._controller = controller
        self._followed: Playing | None = None
        self._places: Places | None = None
        self._follower: Follower | None = None
        self._notice = notice

    def practise(self) -> None:
        """Lead through a practice that has begun, until it is over.

        Raises
        ------
        DeviceError
            If there is nothing to play on any more.
        KeyboardInterrupt
            If Ctrl-C ends it.
        """
        with display() as screen, reading_keys(screen.hide) as keys:
            self.lead(screen, keys)

    def lead(self, screen: Display, keys: Keys) -> None:
        """Do what `practise` does, with a screen and keys that are open already."""
        presses = Presses(self._request.keys)
        while not self._player.over:
            if self._player.fault():
                self._controller.keep()  # The clock of the sound still tells what was heard.
                self._player.reopen(REOPEN_SECONDS)
                self._notice = DEVICE_BACK
                if self._observer is not None:
                    self._observer.note_restart()
                self._controller.start_over()
            before = self._controller.answer
            self._controller.step()
            if self._controller.answer != before:
                self._notice = self._controller.answer
            self._retry()
            self._accompany()
            wait = self._show(screen)
            for key in keys.read(wait):
                if key == RESUMED:  # The sound stood still too, but the objects did not.
                    self._controller.pause()
                asked = presses.asked(key, time.monotonic())
                if asked is not None:
                    self._controller.ask(asked)
                    self._notice = self._controller.answer

    def _retry(self) -> None:
        """Let the recorder keep what it could not keep before, now and then."""
        if time.monotonic() - self._retried > BETWEEN_RETRIES:
            waiting, self._retried = self._recorder.waiting, time.monotonic()
            self._recorder.retry()
            if waiting and not self._recorder.waiting:
                self._notice = NOW_KEPT

    def _accompany(self) -> None:
        """Let the observer do its part; whatever becomes of it, the practice goes on."""
        if self._observer is None:
            return
        try:
            text = self._observer.step(self._controller)
        except Exception as error:  # noqa: BLE001 - a fault must not stop full hands
            self._observer = None
            text = f"{ALONE} {type(error).__name__}: {error}."
        self._notice = text or self._notice

    def _show(self, screen: Display) -> float:
        """Show what there is to see now; return the seconds until the next look."""
        now = self._player.heard() - self._request.speaker_delay
        glance, change = self._glance(now)
        controller = self._controller
        screen.show(
            replace(
                glance,
                place=controller.place,
                clean=controller.tally.clean,
                drops=controller.tally.drops,
                notice=self._notice,
                legend=legend(self._request.keys, resting=is_resting(controller.situation)),
            )
        )
        return min(max(change, SHORTEST_WAIT), REFRESH_SECONDS)

    def _glance(self, now: float) -> tuple[Glance, float]:
        """Return what there is to see, and the seconds until the next beat, or infinity."""
        match self._controller.situation:
            case Playing() as playing:
                return self._beats(playing, now)
            case Resting(until) if math.isinf(until):
                return Glance(large=PRESS_TO_GO), math.inf
            case Resting(until):
                left = max(0, math.ceil(until - now))
                return Glance(large=length_text(left), seconds_left=left), math.inf
            case Paused():
                return Glance(large="pause"), math.inf
            case Closing(_, last):
                return Glance(large="done" if last else ""), math.inf
        return Glance(), math.inf

    def _beats(self, playing: Playing, now: float) -> tuple[Glance, float]:
        scheduled, rate = playing.scheduled, self._voice.rate
        if playing is not self._followed or self._follower is None:
            timeline = scheduled.timeline(self._voice, playing.since)
            self._followed, self._follower = playing, Follower(timeline, rate)
            self._places = Places(scheduled.run)
        frame = round((now - scheduled.start) * rate)
        self._follower.advance(frame)
        glance = self._follower.glance(frame)
        if self._places is not None:
            glance = placed(glance, self._places)
        if playing.since is None or playing.since <= 0:
            opening = scheduled.run.opening
            first = opening.first or scheduled.run.first
            glance = replace(glance, hands=hands_text(opening.pattern, first))
        return glance, self._follower.seconds_to_next(frame)


def placed(glance: Glance, places: Places) -> Glance:
    """Return a glance with the length of its part, and with what comes after it."""
    beat = 0 if glance.beat is None else glance.beat.beat
    place = places.at(beat)
    part, following = place.part, places.after(place)
    cycles = None
    if isinstance(part, Part) and part.beats is not None:
        cycles = math.ceil(part.beats / part.pattern.period)
    resting = isinstance(part, Rest) and glance.beat is not None and glance.beat.part == part.title
    glance = replace(glance, cycles=cycles, large=part.title if resting else "")
    if following is None:
        return glance
    how = following.part.how if isinstance(following.part, Part) else ""
    named = ", ".join(filter(None, [shortened(following.part.title), how]))
    left = counted(following.first - max(beat, 0), "beat")
    return replace(glance, following=f"{named} in {left}")
