"""The deck through a long day of practice: every click on its frame, and no memory kept."""

import gc
import sys
from array import array
from fractions import Fraction

import numpy as np

from throwcount.engine.patterns.rules import read
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import steady
from throwcount.sounds.mixing.score import Balance
from throwcount.sounds.output.commands import Play, ScheduledRun, Silence, SpeakUp
from throwcount.sounds.output.deck import Deck
from throwcount.sounds.voices.stand_ins import ClipBank

CLICKS_ALONE = Balance(tune=False)
HOURS = 8
SLOW_RATE = 8_000


def test_eight_hours_with_everything_that_happens_in_them() -> None:
    """Every click on its frame, and no more in memory at the end than after the first hour."""
    practice = Practice()
    memory = []
    for hour in range(HOURS):
        for minute in range(0, 60, 5):
            practice.five_minutes(nudged_to=140 + 13 * (minute % 7) + hour)
        gc.collect()  # what waits to be collected is not kept
        memory.append(sys.getallocatedblocks())
    assert len(practice.expected) > HOURS * 3600 * 2
    # The beats since the last pause are heard and not yet expected.
    assert 0 <= len(practice.found) - len(practice.expected) < 5
    found = np.array(practice.found[: len(practice.expected)])
    assert np.abs(found - practice.expected).max() <= ROUNDED_TWICE
    assert max(memory[1:]) - memory[0] < A_FEW_BLOCKS, memory


ROUNDED_TWICE = 1
"""Frames: where a passage begins is rounded to a frame, and each of its beats in it."""

A_FEW_BLOCKS = 2_000
"""Of Python's memory; what is expected and found, kept by the test, is in arrays."""


class Practice:
    """One endless run on a deck at a low rate, and where its clicks must be, by adding up."""

    def __init__(self) -> None:
        self.deck = Deck(ClipBank(SLOW_RATE))
        run = Run((Part(read("3"), None),), steady(173), ready=0.0, count_in=0)
        self.scheduled = ScheduledRun(run, 0.5, CLICKS_ALONE)
        self.deck.obey(SpeakUp(on=False))
        self.deck.obey(Play(self.scheduled))
        self.expected: array[int] = array("q")
        self.found: array[int] = array("q")
        self._beat = 0
        self._time = Fraction(0.5) + Fraction(0.25)  # the shortest lead-in
        self._period = Fraction(60, 173)
        self._silent = SLOW_RATE

    def five_minutes(self, nudged_to: int) -> None:
        """Nudge the tempo, play, pause, and go on."""
        start = self.deck.position
        nudge = self.scheduled.at_tempo(nudged_to, start / SLOW_RATE)
        assert nudge is not None
        self.deck.obey(nudge)
        self._expect_before(beat=nudge.pivot)
        self._period = Fraction(60, nudged_to)
        self.scheduled = nudge.scheduled
        self._listen(start + 294 * SLOW_RATE)
        self._expect_before(moment=Fraction(self.deck.position, SLOW_RATE))
        self.deck.obey(Silence())
        self._listen(start + 299 * SLOW_RATE)
        moment = self.deck.position / SLOW_RATE + 0.25
        resumed = self.scheduled.resumed(self._beat, moment)
        self._time = Fraction(moment)
        self.scheduled = resumed.scheduled
        self.deck.obey(resumed)
        self._listen(start + 300 * SLOW_RATE)

    def _expect_before(self, *, beat: int | None = None, moment: Fraction | None = None) -> None:
        while self._beat < beat if beat is not None else moment and self._time < moment:
            self.expected.append(round(self._time * SLOW_RATE))
            self._time += self._period
            self._beat += 1

    def _listen(self, until: int) -> None:
        while self.deck.position < until:
            start = self.deck.position
            block = self.deck.read(min(5 * SLOW_RATE, until - start))
            sounding = np.flatnonzero(block.any(axis=1))
            if not len(sounding):
                self._silent += len(block)
                continue
            gaps = np.diff(sounding, prepend=-1 - self._silent)
            self.found.extend((start + sounding[gaps > SLOW_RATE // 100]).tolist())
            self._silent = len(block) - 1 - int(sounding[-1])
