"""What listens to a practice: it follows what is played, hears the catches and marks drops.

A stretch of a practice that is played without a stop, and what is heard in it.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Protocol

from throwcount.caller.options.request import Request
from throwcount.caller.practice.controller import Controller, Playing
from throwcount.caller.reports.answers import drop_told, set_told
from throwcount.engine.takes.catches import Catch, expected_catches
from throwcount.engine.takes.drops import USUAL_LEAD, DropWatch
from throwcount.engine.takes.report import TakeReport, listen_report
from throwcount.engine.timing.timeline import Beat
from throwcount.sounds.echo.clocks import TakeClock
from throwcount.sounds.listening.microphone import DeckHeard, NewDeck, Overheard
from throwcount.sounds.listening.thuds import Thud
from throwcount.sounds.output.commands import ScheduledRun
from throwcount.sounds.output.deck import Sent
from throwcount.sounds.voices.voice import Voice

if TYPE_CHECKING:
    from throwcount.caller.practice.recorder import Tally

BEFORE: Final = 1.0
"""Seconds before a stretch from which on thuds are heard, for clocks that are told wrongly."""

AFTER: Final = 0.5
"""Seconds after its end until which its last catch may be heard."""


class HeardRun:
    """All times are in seconds of the deck's clock.

    `place` says where in the practice that is, in words; empty where it has one part. `dwell` is
    the share of the time that a hand holds an object. `lead` is the asynchrony that is usual, in
    seconds.

    Attributes
    ----------
    end
        When it was over, or was stopped; None while it goes on.
    watch
        Looks for drops in it.
    """

    def __init__(
        self,
        scheduled: ScheduledRun,
        place: str,
        voice: Voice,
        dwell: float,
        lead: float = USUAL_LEAD,
    ) -> None:
        self.place = place
        self.end: float | None = None
        self._scheduled: list[tuple[ScheduledRun, int | None]] = [(scheduled, None)]
        self._voice = voice
        self._dwell = dwell
        self._thuds: list[Thud] = []
        self.watch = DropWatch(self.catches(), lead)

    @property
    def scheduled(self) -> ScheduledRun:
        """What is played now."""
        return self._scheduled[-1][0]

    @property
    def start(self) -> float:
        """When it began."""
        return self._scheduled[0][0].start

    def change(self, scheduled: ScheduledRun, since: int) -> None:
        """Go over to another run, as at another tempo, from one of its beats on."""
        self._scheduled.append((scheduled, since))

    def beats(self) -> Iterator[Beat]:
        """Yield the beats as they were played, or will be as far as is known."""
        last = None
        for index, (scheduled, since) in enumerate(self._scheduled):
            begun = since if last is None else last + 1
            for beat in scheduled.timeline(self._voice, begun).beats():
                following = self._scheduled[index + 1 : index + 2]
                if following and beat.beat >= (following[0][1] or 0):
                    break
                time = scheduled.start + beat.time
                if self.end is not None and time > self.end:
                    return
                last = beat.beat
                yield beat._replace(time=time)

    def catches(self) -> Iterator[Catch]:
        """Yield the catches of all that was thrown, and fell due before the end."""
        for catch in expected_catches(self.beats(), self._dwell):
            if self.end is not None and catch.time > self.end:
                return
            yield catch

    def hear(self, thuds: list[Thud]) -> None:
        """Take in thuds, in order of time."""
        until = float("inf") if self.end is None else self.end + AFTER
        near = [thud for thud in thuds if self.start - BEFORE <= thud.time <= until]
        self._thuds += near
        self.watch.hear(near)

    def report(self, catches: Sequence[Catch]) -> TakeReport:
        """Return what was heard of all its `catches`, when it is over."""
        start = self.start - BEFORE
        thuds = [replace(thud, time=thud.time - start) for thud in self._thuds]
        due = [replace(catch, time=catch.time - start) for catch in catches]
        seconds = (self.end or self.start) + AFTER - start
        return listen_report(thuds, seconds, due, placed=True)


WITHOUT: Final = "The practice goes on without being listened to."
WHOLE: Final = "the routine"
PATIENCE: Final = 3.0
"""Seconds by which what is heard may be told later than it sounds; more, and it is given up."""


class MicrophoneControl(Protocol):
    """A microphone, as `throwcount.sounds.listening.microphone.Microphone` is one."""

    def overheard(self) -> Overheard:
        """Return the thuds that were heard since this was asked last."""

    def follow(self, told: Sent | DeckHeard | NewDeck) -> None:
        """Tell what the deck is sent, and how much of it is heard."""

    def fault(self) -> str:
        """Return a sentence that says why nothing is heard any more; empty if all is well."""

    def remarks(self) -> list[str]:
        """Return sentences about the take that have come up since this was asked last."""

    def close(self) -> None:
        """Stop listening."""


class Played(Protocol):
    """What plays, as `throwcount.sounds.output.player.LivePlayer` does."""

    rate: int
    """Sample rate."""
    on_command: Callable[[Sent], None] | None
    """Called with every command."""

    @property
    def anchor(self) -> tuple[float, float] | None:
        """A time of the deck's clock, and the moment at which it is heard."""

    def heard(self) -> float:
        """Return the time on the deck's clock that is heard now."""


@dataclass(frozen=True, slots=True)
class SetHeard:
    """What was heard in a set, or in what was played of it without a stop."""

    place: str
    """Which set it was, in words; empty where there is one."""
    report: TakeReport
    """What was heard."""
    expected: int
    """Catches of all that was thrown."""

    @property
    def told(self) -> str:
        """It in a sentence or two; empty where next to nothing was thrown."""
        return set_told(self.place, self.report, self.expected)


class LiveListener:
    """Listen to a practice.

    `player` is what plays; its `on_command` is taken. `clean_key` is the key that takes back a drop
    that was marked; empty where there is none.

    Attributes
    ----------
    sets
        What was heard so far, set by set.
    sent
        Every command that the deck was sent, since it began anew last.
    stretches
        What was played since then.
    thuds
        All that was heard; their times are moments of the computer's clock.
    begun, until
        The moment of the take's first frame, and that up to which all was heard.
    rate
        The deck's sample rate in Hz.
    tally
        The marks of the practice; None before it has begun.
    fault
        Why nothing is heard any more, in a sentence; empty if all is well.
    whole
        Whether the deck has never begun anew, so that `sent` and `stretches` are all there was.
    """

    def __init__(
        self,
        request: Request,
        player: Played,
        microphone: MicrophoneControl,
        voice: Voice,
        clean_key: str = "",
    ) -> None:
        self.sets: list[SetHeard] = []
        self.sent: list[Sent] = []
        self.stretches: list[HeardRun] = []
        self.thuds: list[Thud] = []
        self.begun = self.until = 0.0
        self.whole = True
        self.fault = ""
        self.tally: Tally | None = None
        self._player = player
        self._microphone = microphone
        self.rate = player.rate
        self._voice = voice
        self._request = request
        self._clean_key = clean_key
        self._clock = TakeClock(player.rate)
        self._anchor: tuple[float, float] | None = None
        self._closing: list[HeardRun] = []
        self._open: HeardRun | None = None
        self._lead = USUAL_LEAD
        self._now = 0.0
        player.on_command = self._note

    def step(self, controller: Controller) -> str:
        """Listen; to be called often. Return what there is to say about it, empty for nothing."""
        told = ""
        self._now = self._player.heard()
        self.tally = controller.tally
        self._note_clock()
        self._follow(controller)
        if self._anchor is not None and not self.fault:
            until = self._listen()
            told = self._mark(controller, until) or self._told(until)
            self.fault = self._microphone.fault()
            if self.fault:
                told = f"{self.fault} {WITHOUT}"
        return " ".join([*self._microphone.remarks(), told]).strip()

    def begin_anew(self) -> None:
        """Take note that the deck has begun anew, and its clock with it."""
        self._close()
        self._tell_all()
        self.whole, self._anchor = False, None
        self.sent, self.stretches = [], []
        self._clock = TakeClock(self._player.rate)
        self._microphone.follow(NewDeck())

    def finish(self) -> None:
        """Hear what is left, and stop listening."""
        self._close()
        self._microphone.close()
        if self._anchor is not None:
            self._listen()
        self._tell_all()
        self._player.on_command = None

    @property
    def call_is_heard(self) -> bool:
        """Whether the microphone may hear the call."""
        return not self._request.headphones

    @property
    def offset(self) -> float:
        """The moment at which the deck's time 0 was heard, by what is known now."""
        return self._clock.moment(0.0) + self._request.speaker_delay

    def _note(self, sent: Sent) -> None:
        self.sent.append(sent)
        self._microphone.follow(sent)

    def _note_clock(self) -> None:
        anchor = self._player.anchor
        if anchor is None or anchor == self._anchor:
            return
        self._anchor = anchor
        seconds, moment = anchor
        self._clock.note(round(seconds * self._player.rate), moment)
        self._microphone.follow(DeckHeard(seconds, moment + self._request.speaker_delay))

    def _follow(self, controller: Controller) -> None:
        """Begin and end stretches as they are played."""
        situation = controller.situation
        if not isinstance(situation, Playing):
            self._close()
            return
        scheduled, since = situation.scheduled, situation.since
        if self._open is None or (scheduled is not self._open.scheduled and since is None):
            self._close()
            place = controller.place if len(scheduled.run.throwing) == 1 else WHOLE
            self._open = HeardRun(scheduled, place, self._voice, self._request.dwell, self._lead)
            self.stretches.append(self._open)
        elif scheduled is not self._open.scheduled and since is not None:
            self._open.change(scheduled, since)

    def _close(self) -> None:
        if self._open is not None:
            ends = self._now
            whole = self._open.scheduled.end
            self._open.end = ends if whole is None else min(ends, whole)
            self._closing.append(self._open)
        self._open = None

    def _listen(self) -> float:
        """Hear what is new; return the time on the deck's clock up to which all was heard."""
        heard = self._microphone.overheard()
        self.begun, self.until = heard.begun, heard.until
        self.thuds += heard.thuds
        offset = self.offset
        thuds = [Thud(thud.time - offset, thud.level, thud.confidence) for thud in heard.thuds]
        for stretch in self._awaited():
            stretch.hear(thuds)
        return heard.until - offset

    def _awaited(self) -> list[HeardRun]:
        """Return the stretches of which something may be heard now, in order."""
        return [*self._closing, *([] if self._open is None else [self._open])]

    def _mark(self, controller: Controller, until: float) -> str:
        """Mark a drop in what was begun last; return that it was."""
        awaited = self._awaited()
        if not awaited:
            return ""
        watch = awaited[-1].watch
        drop = watch.judge(until)
        self._lead = watch.lead
        if drop is None or not self._request.mark_drops:
            return ""
        controller.hear_drop()
        return drop_told(drop, self._clean_key)

    def _told(self, until: float) -> str:
        """Tell of the stretch that is over and wholly heard, if there is one."""
        if not self._closing:
            return ""
        end = (self._closing[0].end or 0.0) + AFTER
        late = self._now > end + PATIENCE
        return self._tell(self._closing.pop(0)) if until >= end or late else ""

    def _tell_all(self) -> None:
        while self._closing:
            self._tell(self._closing.pop(0))

    def _tell(self, stretch: HeardRun) -> str:
        if self.fault and (stretch.end or 0.0) > self.until - self.offset:
            return ""  # It was not heard to its end.
        catches = tuple(stretch.catches())
        heard = SetHeard(stretch.place, stretch.report(catches), len(catches))
        told = heard.told
        if told:
            self.sets.append(heard)
        return told
