"""The practice hall: the sound, the screen and the keys, while a practice leads itself."""

import math
import time
from dataclasses import replace
from typing import Final

from caller.console.terminal import counted, length_told, shortened
from caller.display.glance import Glance
from caller.display.screen import Display, display
from caller.keys.names import RESUMED
from caller.keys.reading import Keys, reading_keys
from caller.options.request import Request
from caller.playing.controls import Presses, legend
from caller.playing.follow import REFRESH_SECONDS, SHORTEST_WAIT, Follower
from caller.practice.conductor import Controller
from caller.practice.session import LiveSession
from caller.practice.situation import Closing, Paused, Playing, Resting
from caller.rehearsals.telling import hands_told
from engine.timing.places import Places
from engine.timing.run import Part, Rest

REOPEN_SECONDS: Final = 10.0
"""For how long a device that has gone is waited for, as for a sound server that is restarted."""


ALONE: Final = "A fault in throwcount: the practice goes on without being listened to."
DEVICE_BACK: Final = "The sound had stopped and is back: this set begins again."


class PracticeLoop:
    """A practice while it goes on.

    Parameters
    ----------
    request
        What the person asked for: the keys, and how late the sound is at the ear.
    session
        Its equipment.
    controller
        Who leads, in the same session.
    notice
        What is to be known before the first key is pressed.

    Attributes
    ----------
    interrupted
        Whether Ctrl-C has ended it.
    """

    def __init__(
        self, request: Request, session: LiveSession, controller: Controller, notice: str = ""
    ) -> None:
        self._request = request
        self._player = session.player
        self._voice = session.voice
        self._observer = session.observer
        self._controller = controller
        self._followed: Playing | None = None
        self._places: Places | None = None
        self._follower: Follower | None = None
        self._notice = notice
        self.interrupted = False

    def practise(self) -> None:
        """Lead through the practice until it is over or Ctrl-C ends it.

        Raises
        ------
        DeviceError
            If there is nothing to play on any more.
        """
        with display() as screen, reading_keys(screen.hide) as keys:
            self.lead(screen, keys)

    def lead(self, screen: Display, keys: Keys) -> None:
        """Do what `practise` does, with a screen and keys that are there already."""
        self._controller.begin()
        try:
            self._loop(screen, keys)
        except KeyboardInterrupt:
            self.interrupted = True
            self._controller.stop()
        except BaseException:
            # Whatever has happened, what was thrown is kept.
            self._controller.keep()
            raise

    def _loop(self, screen: Display, keys: Keys) -> None:
        presses = Presses(self._request.keys)
        while not self._player.over:
            if self._player.fault():
                self._player.reopen(REOPEN_SECONDS)
                self._notice = DEVICE_BACK
                if self._observer is not None:
                    self._observer.begin_anew()
                self._controller.start_over()
            self._controller.step()
            self._accompany()
            wait = self._show(screen)
            for key in keys.read(wait):
                if key == RESUMED:  # The sound stood still as well, and objects did not.
                    self._controller.pause()
                asked = presses.asked(key, time.monotonic())
                if asked is not None:
                    self._controller.ask(asked)
                    self._notice = self._controller.answer

    def _accompany(self) -> None:
        """Let what goes along do its part; whatever becomes of it, the practice goes on."""
        if self._observer is None:
            return
        try:
            told = self._observer.step(self._controller)
        except Exception as error:  # noqa: BLE001 - hands are full, and a fault must not stop them
            self._observer = None
            told = f"{ALONE} {type(error).__name__}: {error}."
        self._notice = told or self._notice

    def _show(self, screen: Display) -> float:
        """Show what there is to see now; return how long that stays so, in seconds."""
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
                legend=legend(self._request.keys),
            )
        )
        return min(max(change, SHORTEST_WAIT), REFRESH_SECONDS)

    def _glance(self, now: float) -> tuple[Glance, float]:
        """Return what there is to see, and the seconds until the next beat."""
        match self._controller.situation:
            case Playing() as playing:
                return self._beats(playing, now)
            case Resting(until):
                left = max(0, math.ceil(until - now))
                return Glance(large=length_told(left), seconds_left=left), math.inf
            case Paused():
                return Glance(large="pause"), math.inf
            case Closing():
                return Glance(large="done"), math.inf
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
            glance = replace(glance, hands=hands_told(opening.pattern, first))
        return glance, self._follower.seconds_to_next(frame)


def placed(glance: Glance, places: Places) -> Glance:
    """Return a glance with how long its part goes on, and what comes after it."""
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
