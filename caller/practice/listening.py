"""Listens to a practice: follows what is played, hears the catches, and marks drops."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from throwcount.caller.options.request import Request
from throwcount.caller.practice.situation import Playing, Practice
from throwcount.caller.reports.answers import drop_text, set_text
from throwcount.engine.takes.catches import Catch, expected_catches
from throwcount.engine.takes.drops import USUAL_LEAD, DropWatch
from throwcount.engine.takes.report import TakeReport, listen_report
from throwcount.engine.timing.timeline import Beat
from throwcount.sounds.echo.clocks import TakeClock
from throwcount.sounds.listening.microphone import DeckHeard, NewDeck
from throwcount.sounds.listening.thuds import Thud
from throwcount.sounds.output.commands import ScheduledRun
from throwcount.sounds.output.deck import Sent
from throwcount.sounds.voices.voice import Voice

if TYPE_CHECKING:
    from throwcount.caller.practice.recorder import Tally
    from throwcount.sounds.listening.microphone import Microphone
    from throwcount.sounds.output.player import LivePlayer

BEFORE: Final = 1.0
"""Seconds before a stretch from which thuds count, as a device may report a wrong delay."""

AFTER: Final = 0.5
"""Seconds after the end of a stretch in which its last catch may be heard."""


class HeardRun:
    """A stretch of a practice that is played without a stop, and what is heard in it.

    All times are in seconds of the deck's clock.

    Parameters
    ----------
    place
        Where in the practice it is, in words; empty where the practice has one set.
    dwell
        The dwell ratio.
    lead
        The usual asynchrony in seconds.

    Attributes
    ----------
    end
        When it ended or was stopped; None while it goes on.
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
        """The run that is played now."""
        return self._scheduled[-1][0]

    @property
    def start(self) -> float:
        """When the stretch began."""
        return self._scheduled[0][0].start

    def change(self, scheduled: ScheduledRun, since: int) -> None:
        """Go over to another run, such as one at another tempo, from its beat `since` on."""
        self._scheduled.append((scheduled, since))

    def beats(self) -> Iterator[Beat]:
        """Yield the beats as they were played, or will be as far as that is known."""
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
        """Yield the catches of all throws that were due before the end."""
        for catch in expected_catches(self.beats(), self._dwell):
            if self.end is not None and catch.time > self.end:
                return
            yield catch

    def hear(self, thuds: list[Thud]) -> None:
        """Take in thuds that were heard, in order of time."""
        until = float("inf") if self.end is None else self.end + AFTER
        near = [thud for thud in thuds if self.start - BEFORE <= thud.time <= until]
        self._thuds += near
        self.watch.hear(near)

    def report(self, catches: Sequence[Catch]) -> TakeReport:
        """Return what was heard of all `catches` of the stretch, when it is over."""
        start = self.start - BEFORE
        thuds = [replace(thud, time=thud.time - start) for thud in self._thuds]
        due = [replace(catch, time=catch.time - start) for catch in catches]
        seconds = (self.end or self.start) + AFTER - start
        return listen_report(thuds, seconds, due, placed=True)


WITHOUT: Final = "The practice goes on without being listened to."
WHOLE: Final = "the routine"
PATIENCE: Final = 3.0
"""Seconds after which a stretch is reported, even if the microphone lags."""


@dataclass(frozen=True, slots=True)
class SetHeard:
    """What was heard in a set, or in a stretch of it."""

    place: str
    """Which set it was, in words; empty where there is only one."""
    report: TakeReport
    """The report on what was heard."""
    expected: int
    """The number of catches of all throws."""

    @property
    def text(self) -> str:
        """The report in a sentence or two; empty where next to nothing was thrown."""
        return set_text(self.place, self.report, self.expected)


class LiveListener:
    """Listens to a practice.

    `player` is the one that plays; this takes its `on_command`. `clean_key` is the key that takes
    back a drop that was marked; empty where there is none.

    Attributes
    ----------
    sets
        What was heard so far, set by set.
    sent
        Every command that was sent to the deck since it last restarted.
    stretches
        All that was played since then.
    thuds
        All thuds that were heard; their times are moments of the computer's clock.
    begun, until
        The moment of the take's first frame, and the one up to which it has been listened to.
    rate
        The deck's sample rate in Hz.
    tally
        The marks of the practice; None before it has begun.
    fault
        A sentence that says why nothing is heard any more; empty if all is well.
    whole
        Whether the deck has never restarted, so that `sent` and `stretches` are complete.
    """

    def __init__(
        self,
        request: Request,
        player: "LivePlayer",
        microphone: "Microphone",
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

    def step(self, controller: Practice) -> str:
        """Listen, and return what there is to say, or an empty text. This is called often."""
        text = ""
        self._now = self._player.heard()
        self.tally = controller.tally
        self._note_clock()
        self._follow(controller)
        if self._anchor is not None and not self.fault:
            until = self._listen()
            text = self._mark(controller, until) or self._set_summary(until)
            self.fault = self._microphone.fault()
            if self.fault:
                text = f"{self.fault} {WITHOUT}"
        return " ".join([*self._microphone.remarks(), text]).strip()

    def note_restart(self) -> None:
        """Take note that the deck and its clock have restarted."""
        self._close()
        self._tell_all()
        self.whole, self._anchor = False, None
        self.sent, self.stretches = [], []
        self._clock = TakeClock(self._player.rate)
        self._microphone.follow(NewDeck())

    def finish(self) -> None:
        """Listen to what is left, and stop."""
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
        """The moment at which the deck's time 0 was heard, as far as is known now."""
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

    def _follow(self, controller: Practice) -> None:
        """Begin and end stretches as the practice goes."""
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
        """Take in new thuds; return the time on the deck's clock up to which all was heard."""
        heard = self._microphone.heard_thuds()
        self.begun, self.until = heard.begun, heard.until
        self.thuds += heard.thuds
        offset = self.offset
        thuds = [replace(thud, time=thud.time - offset) for thud in heard.thuds]
        for stretch in self._awaited():
            stretch.hear(thuds)
        return heard.until - offset

    def _awaited(self) -> list[HeardRun]:
        """Return the stretches that may be heard now, in order."""
        return [*self._closing, *([] if self._open is None else [self._open])]

    def _mark(self, controller: Practice, until: float) -> str:
        """Mark a drop in the last stretch, and return a sentence about it; empty without one."""
        awaited = self._awaited()
        if not awaited:
            return ""
        watch = awaited[-1].watch
        drop = watch.judge(until)
        self._lead = watch.lead
        if drop is None or not self._request.mark_drops:
            return ""
        controller.hear_drop(drop.time)
        return drop_text(drop, self._clean_key)

    def _set_summary(self, until: float) -> str:
        """Return what there is to say of a stretch that has been wholly heard, if there is one."""
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
            return ""  # The stretch was not heard to its end.
        catches = tuple(stretch.catches())
        heard = SetHeard(stretch.place, stretch.report(catches), len(catches))
        text = heard.text
        if text:
            self.sets.append(heard)
        return text
