"""The controller of a routine: from part to part, back or on to another, once or several times.

Each part is a set of its own in the log, so that every mark belongs to a part.
"""

from typing import Final

from throwcount.caller.log.records import Ending, Plan, Thrown
from throwcount.caller.pieces.routine import RoutineSource
from throwcount.caller.practice.controller import Controller
from throwcount.caller.practice.live import LiveSession
from throwcount.caller.practice.situation import Playing, Resting
from throwcount.engine.timing.run import Part, PartPlace, Places, Run
from throwcount.sounds.mixing.music_bed import Music
from throwcount.sounds.output.commands import ScheduledRun

MUSIC_KEEPS_TIME: Final = "The tempo is that of the music."


class RoutineController(Controller):
    """Leads through a routine; its sets are the parts in which something is thrown.

    `music` is decoded; None for a routine without music.
    """

    def __init__(
        self, source: RoutineSource, session: LiveSession, music: Music | None = None
    ) -> None:
        self._times = source.request.sets or 1
        super().__init__(source.request, session, source.balance, rests=self._times > 1)
        self._source = source
        self._voice = session.voice
        self._music = music
        self._begin = source.begin or source.laid.parts[0].number
        self._time = 0
        self._factor = 1.0
        self._numbers: tuple[int, ...] = ()
        self._places: Places | None = None
        self._open: PartPlace | None = None

    @property
    def place(self) -> str:
        """Which part this is, or which one comes next, in words."""
        text = f"part {self._number()} of {len(self._source.laid.parts)}"
        times = self._times
        return text if times == 1 else f"{text}, time {self._time + 1} of {times}"

    def begin(self) -> None:
        """Begin with the part that was asked for."""
        self._play_from(self._begin, again=False)

    def step(self) -> None:
        """Go on to what is next if something has come to its end. This is called often."""
        heard = self._deck.heard()
        match self.situation:
            case Playing(scheduled) if scheduled.end is not None and heard >= scheduled.end:
                self._close_set("finished")
                self._finish()
            case Playing(scheduled):
                self._follow(scheduled)
            case Resting(until) if heard >= until:
                self.begin()

    def again(self) -> None:
        """Begin the part again."""
        self._begin_at(self._number())

    def skip(self) -> None:
        """Go on to the next part, or end after the last one."""
        later = [number for number in self._source.throwing if number > self._number()]
        if isinstance(self.situation, Resting):
            later = [self._begin]
        if later:
            self._begin_at(later[0])
        else:
            self._interrupt()
            self._finish()

    def back(self) -> None:
        """Go back to the part before."""
        earlier = [number for number in self._source.throwing if number < self._number()]
        self._begin_at(earlier[-1] if earlier else self._source.throwing[0])

    def nudge(self, change: float) -> None:
        """Change the tempo of this part and, by the same factor, of all later ones.

        Where music gives the tempo, it stays.
        """
        if self._music is not None:
            self.answer = MUSIC_KEEPS_TIME
            return
        scheduled = self._scheduled()
        if scheduled is None:
            return
        before = self._next_tempo(scheduled)
        tempo = self._nudged(scheduled.run, self._next_beat(scheduled), before, change)
        self._factor *= tempo / before
        if isinstance(self.situation, Playing):
            self._change_tempo(scheduled, tempo)

    def _begin_at(self, number: int) -> None:
        self._interrupt()
        self._play_from(number, again=True)

    def _play_from(self, number: int, *, again: bool) -> None:
        piece = self._source.piece(
            self._voice, self._music, number=number, share=self._factor, again=again
        )
        self._numbers, self._places, self._open = piece.part_numbers, Places(piece.run), None
        self._play(piece.run, piece.track)

    def _follow(self, scheduled: ScheduledRun) -> None:
        """Open and close parts as they are heard, and record how far one has come."""
        beat = self._beat_heard(scheduled)
        if beat < 0 or self._places is None:
            return
        place = self._places.at(beat)
        if self._open is not None and place.index != self._open.index:
            self._close_set("finished")
        part = place.part
        if self._open is None and isinstance(part, Part) and not part.leads:
            self._open_set(scheduled.run, part, place)
        else:
            self._note_progress()

    def _note_throws(self) -> None:
        if isinstance(self.situation, Playing):
            self._follow(self.situation.scheduled)

    def _open_set(self, run: Run, part: Part, place: PartPlace) -> None:
        tempo = run.tempo.tempo_at(place.first)
        self._recorder.begin_set(Plan(part.pattern, tempo, part.beats, part.first or run.first))
        self._open = place
        self._first_throw()

    def _close_set(self, status: Ending) -> None:
        place, thrown = self._open, self._thrown()
        self._open = None
        if place is not None and isinstance(place.part, Part) and thrown is not None:
            self._end_set(place.part.pattern, thrown, status)

    def _thrown(self, until: float | None = None) -> Thrown | None:
        place, scheduled = self._open, self._scheduled()
        if place is None or scheduled is None:
            return None
        if not isinstance(place.part, Part):
            return None
        return self._thrown_from(
            scheduled, place.part.pattern, place.first, place.part.beats, until
        )

    def _finish(self) -> None:
        """Rest before the next time through, or end after the last."""
        if self._time + 1 < self._times:
            self._time += 1
            self._rest(self._rest_seconds())
        else:
            self._end()

    def _rest_seconds(self) -> float:
        return self._request.rest_seconds

    def _go_on(self, _scheduled: ScheduledRun, _beat: int) -> None:
        """Begin the part again that was cut short: nobody begins in mid-air."""
        self.again()

    def _number(self) -> int:
        """Return the number of the part that is heard, or of the next one."""
        scheduled = self._scheduled()
        if scheduled is None or self._places is None:
            return self._begin
        return self._numbers[self._places.at(self._beat_heard(scheduled)).index]
