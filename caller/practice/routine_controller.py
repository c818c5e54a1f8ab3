"""The controller of a routine: from part to part, back or on to another, once or several times.

Each part is a set of its own in the log, so that every mark belongs to a part.

A routine, or some parts of it, may be repeated until it was clean several times in a row. A time is
clean if it came to its end without a drop in any part, and is marked as clean or counts so without
a mark. One that does not count leaves the row as it is.
"""

import math
from typing import Final

from throwcount.caller.log.records import Ending, Plan, Thrown
from throwcount.caller.pieces.routine import RoutineSource
from throwcount.caller.practice.controller import Controller
from throwcount.caller.practice.live import LiveSession
from throwcount.caller.practice.situation import Paused, Playing, Resting, is_resting
from throwcount.engine.practice.tempo_rules import Given, outcome, standing
from throwcount.engine.timing.run import Part, PartPlace, Places, Run
from throwcount.sounds.files.whole_files import undisturbed
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
        request = source.request
        self._until_clean = request.until_clean
        self._times = request.sets or (1 if self._until_clean is None else math.inf)
        usual = "go-on" if self._until_clean is None else "stop"
        self._stops = (request.on_drop or usual) == "stop"
        rests = self._times > 1 or self._stops
        super().__init__(request, session, source.balance, rests=rests)
        self._source = source
        self._voice = session.voice
        self._music = music
        self._begin = self._next = source.begin or source.laid.parts[0].number
        self._time = 0
        self._factor = 1.0
        self._numbers: tuple[int, ...] = ()
        self._places: Places | None = None
        self._open: PartPlace | None = None
        self._opened, self._begun = self._begin, False
        # The time that was thrown last, and how many before it were clean in a row.
        self._before = 0
        self._given: list[Given] = []
        self._whole = False

    @property
    def place(self) -> str:
        """Which part this is, or which one comes next, in words."""
        text = f"part {self._number()} of {len(self._source.laid.parts)}"
        if self._times == 1:
            return text
        text += f", time {self._time + 1}"
        return text if self._times == math.inf else f"{text} of {self._times}"

    @property
    def clean_row(self) -> int:
        """How many times in a row were clean, up to the one that was thrown last."""
        marks = [each.mark for each in standing(self._given)]
        counts = outcome(marks, self._request.unmarked if self._whole else None)
        if counts == "drop":
            return 0
        return self._before + (self._whole and counts == "clean")

    @property
    def progress(self) -> str:
        """How many times in a row were clean of those asked for; empty if none are."""
        if self._until_clean is None:
            return ""
        return f"{self.clean_row} of {self._until_clean} clean in a row."

    def begin(self) -> None:
        """Begin with the part that was asked for, perhaps at a press."""
        if self._request.wait and self._places is None:
            self._rest(0.0)
            return
        self._play_from(self._next, again=self._next != self._begin)

    def step(self) -> None:
        """Go on to what is next if something has come to its end. This is called often."""
        heard = self._deck.heard()
        match self.situation:
            case Playing(scheduled) if scheduled.end is not None and heard >= scheduled.end:
                self._close_set("finished")
                self._whole = True
                self._finish()
            case Playing(scheduled):
                self._follow(scheduled)
            case Resting(until) if self._waits(until):
                pass
            case Paused(None) if heard >= self._go_at:
                self._go()
            case Resting() if self._is_enough:
                self._end()
            case Resting():
                self.begin()

    def again(self) -> None:
        """Begin the part again; where a row of clean times is asked for, the whole time."""
        self._begin_at(self._number() if self._until_clean is None else self._begin)

    def skip(self) -> None:
        """Go on to the next part, or end after the last one; from a rest, go on at once.

        Where a row of clean times is asked for, the time is over and does not count.
        """
        if is_resting(self.situation):
            if self._is_enough:
                self._end()
            elif self._places is None:
                self._interrupt()
                self._play_from(self._next, again=False)
            else:
                self._begin_at(self._next)
            return
        later = [number for number in self._source.throwing if number > self._number()]
        if later and self._until_clean is None:
            self._begin_at(later[0])
        else:
            self._interrupt()
            self._finish()

    def back(self) -> None:
        """Go back to the part before; where a row of clean times is asked for, begin anew."""
        earlier = [number for number in self._source.throwing if number < self._number()]
        if self._until_clean is not None:
            earlier = [self._begin]
        self._begin_at(earlier[-1] if earlier else self._source.throwing[0])

    def keep(self) -> None:
        """Record how far the part has come, and begin with it if the sound comes back."""
        if self._until_clean is None and self._scheduled() is not None:
            self._next = self._number()
        super().keep()

    def _begin_anew(self) -> None:
        self._begin_at(self._next)

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
        self._begun = False
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
        number, tempo = self._numbers[place.index], run.tempo.tempo_at(place.first)
        titles = {each.number: each.part.title for each in self._source.laid.parts}
        after = titles[number - 1] if number > self._numbers[0] else ""
        first = part.first or run.first
        plan = Plan(part.pattern, tempo, part.beats, first, part=titles[number], after_part=after)
        with undisturbed():
            self._recorder.begin_set(plan)
            self._open, self._opened = place, number
        if not self._begun:
            self._before, self._given, self._whole = self.clean_row, [], False
            self._begun = True
        self._first_throw()

    def _close_set(self, status: Ending) -> None:
        place, thrown = self._open, self._thrown()
        self._open = None
        if place is not None and isinstance(place.part, Part) and thrown is not None:
            self._end_set(place.part.pattern, thrown, status, self._request.unmarked)

    def _thrown(self, until: float | None = None) -> Thrown | None:
        place, scheduled = self._open, self._scheduled()
        if place is None or scheduled is None or not isinstance(place.part, Part):
            return None
        return self._thrown_from(
            scheduled, place.part.pattern, place.first, place.part.beats, until
        )

    def _mark(self, given: Given, until: float) -> None:
        super()._mark(given, until)
        if self._given:
            self.answer = f"{self.answer} {self.progress}".rstrip()
        if isinstance(self.situation, Resting) and self._is_enough:
            self._end()

    def _take(self, given: Given) -> None:
        super()._take(given)
        self._given.append(given)

    def _is_ended_by(self, given: Given) -> bool:
        playing = isinstance(self.situation, Playing) and self._begun
        return playing and self._stops and given.mark == "drop"

    def _end_run(self, until: float) -> None:  # noqa: ARG002 - the drop has its catches
        self._close_set("stopped")
        self._finish(self._opened)

    @property
    def _is_enough(self) -> bool:
        """Whether as many times in a row were clean as is asked for."""
        return self._until_clean is not None and self.clean_row >= self._until_clean

    def _finish(self, dropped_in: int | None = None) -> None:
        """Rest before the next time through, or end after the last.

        After a drop in a part, begin with that part, unless a row of clean times is asked for.
        """
        self._next = self._begin
        if dropped_in is not None and self._until_clean is None:
            self._next = dropped_in
        elif self._time + 1 == self._times or (self._given and self._is_enough):
            self._end()
            return
        else:
            self._time += 1
        if dropped_in is None:
            self.answer = self.progress or self.answer
        self._rest(self._rest_seconds())

    def _rest_seconds(self) -> float:
        return self._request.rest_seconds

    def _go_on(self, _scheduled: ScheduledRun, _beat: int) -> None:
        """Begin the part again that was cut short: nobody begins in mid-air."""
        self.again()

    def _number(self) -> int:
        """Return the number of the part that is heard, or of the next one."""
        scheduled = self._scheduled()
        if scheduled is None or self._places is None:
            return self._next
        return self._numbers[self._places.at(self._beat_heard(scheduled)).index]
