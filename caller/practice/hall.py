"""The practice hall: the sound, the screen and the keys, while a practice leads itself."""

import math
import time
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final, Protocol

from caller.console.terminal import counted, length_told, shortened
from caller.display.glance import Glance
from caller.display.screen import Display, display
from caller.keys.names import RESUMED
from caller.keys.reading import Keys, reading_keys
from caller.playing.controls import Control, Presses, legend
from caller.playing.follow import REFRESH_SECONDS, SHORTEST_WAIT, Follower
from caller.practice.conductor import Conductor
from caller.practice.situation import Closing, Paused, Playing, Resting
from caller.rehearsals.telling import hands_told
from engine.timing.places import Places
from engine.timing.run import Part, Rest
from sounds.playing.live import LivePlayer
from sounds.voices.voice import CallingVoice

REOPEN_SECONDS: Final = 10.0
"""For how long a device that has gone is waited for, as for a sound server that is restarted."""


class Companion(Protocol):
    """Something that goes along with a practice, such as a microphone that listens to it."""

    def step(self, conductor: Conductor) -> str:
        """Do what is to be done now; return what there is to say, in a sentence, or nothing."""

    def begin_anew(self) -> None:
        """Take note that the player has begun anew, and its clock with it."""


ALONE: Final = "A fault in throwcount: the practice goes on without being listened to."
DEVICE_BACK: Final = "The sound had stopped and is back: this set begins again."


@dataclass(frozen=True, slots=True)
class Watching:
    """What is shown and pressed.

    Parameters
    ----------
    voice
        The one that calls; the screen counts as it does.
    keys
        What each key asks for.
    delay
        Seconds that pass between the device and the ear.
    notice
        What is to be known before the first key is pressed.
    """

    voice: CallingVoice
    keys: Mapping[str, Control]
    delay: float = 0.0
    notice: str = ""


class Hall:
    """A practice while it goes on.

    Parameters
    ----------
    player
        What plays.
    conductor
        Who leads, on the same player.
    watching
        What is shown and pressed.
    companion
        What goes along with it; None for nothing.

    Attributes
    ----------
    interrupted
        Whether Ctrl-C has ended it.
    """

    def __init__(
        self,
        player: LivePlayer,
        conductor: Conductor,
        watching: Watching,
        companion: Companion | None = None,
    ) -> None:
        self._companion = companion
        self._player = player
        self._conductor = conductor
        self._watching = watching
        self._followed: Playing | None = None
        self._places: Places | None = None
        self._follower: Follower | None = None
        self._notice = watching.notice
        self.interrupted = False

    def practise(self) -> None:
        """Lead through the practice until it is over or Ctrl-C ends it.

        Raises
        ------
        DeviceError
            If there is nothing to play on any more.
        """
        presses = Presses(self._watching.keys)
        with display() as screen, reading_keys(screen.hide) as keys:
            self._conductor.begin()
            try:
                self._loop(screen, keys, presses)
            except KeyboardInterrupt:
                self.interrupted = True
                self._conductor.stop()
            except BaseException:
                # Whatever has happened, what was thrown is kept.
                self._conductor.keep()
                raise

    def _loop(self, screen: Display, keys: Keys, presses: Presses) -> None:
        while not self._player.over:
            if self._player.fault():
                self._player.reopen(REOPEN_SECONDS)
                self._notice = DEVICE_BACK
                if self._companion is not None:
                    self._companion.begin_anew()
                self._conductor.start_over()
            self._conductor.step()
            self._accompany()
            wait = self._show(screen)
            for key in keys.read(wait):
                if key == RESUMED:  # The sound stood still as well, and objects did not.
                    self._conductor.pause()
                asked = presses.asked(key, time.monotonic())
                if asked is not None:
                    self._conductor.ask(asked)
                    self._notice = self._conductor.answer

    def _accompany(self) -> None:
        """Let what goes along do its part; whatever becomes of it, the practice goes on."""
        if self._companion is None:
            return
        try:
            told = self._companion.step(self._conductor)
        except Exception as error:  # noqa: BLE001 - hands are full, and a fault must not stop them
            self._companion = None
            told = f"{ALONE} {type(error).__name__}: {error}."
        self._notice = told or self._notice

    def _show(self, screen: Display) -> float:
        """Show what there is to see now; return how long that stays so, in seconds."""
        now = self._player.heard() - self._watching.delay
        glance, change = self._glance(now)
        conductor = self._conductor
        screen.show(
            replace(
                glance,
                place=conductor.place,
                clean=conductor.tally.clean,
                drops=conductor.tally.drops,
                notice=self._notice,
                legend=legend(self._watching.keys),
            )
        )
        return min(max(change, SHORTEST_WAIT), REFRESH_SECONDS)

    def _glance(self, now: float) -> tuple[Glance, float]:
        """Return what there is to see, and the seconds until the next beat."""
        match self._conductor.situation:
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
        passage, rate = playing.passage, self._watching.voice.rate
        if playing is not self._followed or self._follower is None:
            timeline = passage.timeline(self._watching.voice, playing.since)
            self._followed, self._follower = playing, Follower(timeline, rate)
            self._places = Places(passage.run)
        frame = round((now - passage.start) * rate)
        self._follower.advance(frame)
        glance = self._follower.glance(frame)
        if self._places is not None:
            glance = placed(glance, self._places)
        if playing.since is None or playing.since <= 0:
            opening = passage.run.opening
            first = opening.first or passage.run.first
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
