"""A practice as plain data: the set that is repeated, the rests, and how the tempo moves."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

from engine.calling.announcement import announcement
from engine.calling.numbers import spoken
from engine.patterns.orbits import start
from engine.patterns.pattern import other_hand
from engine.practising.marks import Mark
from engine.practising.practice import TempoRule
from engine.timing.run import Run
from engine.timing.tempo import TempoMap

LAST_CYCLE: Final = "last one"
REST: Final = "rest"
TIMES_LEFT: Final = (60, 30, 10)
"""Seconds before the end of a rest at which the time left is said."""

SHORTEST_TOLD: Final = 5
"""Seconds that a rest has to last yet for its time left to be said, beyond that time."""


@dataclass(frozen=True, slots=True)
class PracticePlan:
    """A practice.

    Parameters
    ----------
    run
        The set that is repeated; its tempo, announcement and time to get ready are filled in.
    tempos
        Gives the tempo map of a set from the tempo that it begins at.
    rule
        How fast the first set is, and how the tempo moves from set to set.
    sets
        Sets a round; None without end.
    rounds
        Rounds of sets, at least 1.
    rest, round_rest
        Seconds between two sets, and between two rounds.
    ready
        Seconds for filling the hands before the first set, and before one that is begun again.
    unmarked
        How a set counts that got no mark.
    announce
        Whether each set is announced.
    """

    run: Run
    tempos: Callable[[float], TempoMap]
    rule: TempoRule
    sets: int | None = 1
    rounds: int = 1
    rest: float = 20.0
    round_rest: float = 60.0
    ready: float = 8.0
    unmarked: Mark | None = None
    announce: bool = True

    @property
    def total(self) -> int | None:
        """All sets of all rounds; None without end."""
        return None if self.sets is None else self.sets * self.rounds

    def place(self, number: int) -> str:
        """Return which set this is, from zero, in words; nothing where there is only one."""
        if self.total == 1:
            return ""
        if self.sets is None:
            return f"set {number + 1}"
        round_number, in_round = divmod(number, self.sets)
        told = f"set {in_round + 1} of {self.sets}"
        return told if self.rounds == 1 else f"{told}, round {round_number + 1} of {self.rounds}"

    def rest_before(self, number: int) -> float:
        """Return the seconds of rest before a set, from zero, that is not the first."""
        opens_round = self.sets is not None and number % self.sets == 0
        return self.round_rest if opens_round else self.rest


def set_run(plan: PracticePlan, tempo: float, ready: float, seconds: Callable[[str], float]) -> Run:
    """Return the run of one set; where there is only one, it is what `render` writes.

    Parameters
    ----------
    plan
        The practice.
    tempo
        Of its first throw, in beats a minute.
    ready
        Seconds for filling the hands, before the announcement.
    seconds
        How long a text takes to say.
    """
    run = plan.run
    text = _announcement(plan, tempo)
    several = plan.total != 1 and run.closing.beats is not None
    return replace(
        run,
        parts=(replace(run.closing, last_cycle=LAST_CYCLE if several else ""),),
        tempo=plan.tempos(tempo),
        ready=ready,
        announcement=text,
        announcement_seconds=seconds(text) if text else 0.0,
    )


def remainder(run: Run, beat: int, ready: float) -> Run:
    """Return what is left of a set from `beat` on, the opening of a cycle, with a new count-in.

    Parameters
    ----------
    run
        The whole set.
    beat
        From its first throw; 0 or more.
    ready
        Seconds for filling the hands.
    """
    (part,) = run.throwing
    left = None if part.beats is None else part.beats - beat
    return replace(
        run,
        parts=(replace(part, beats=left),),
        tempo=run.tempo.since(beat),
        first=run.first if beat % 2 == 0 else other_hand(run.first),
        ready=ready,
        announcement="",
        announcement_seconds=0.0,
        prelude=(),
    )


def _announcement(plan: PracticePlan, tempo: float) -> str:
    run = plan.run
    if not plan.announce or run.say == "nothing":
        return ""
    pattern = run.opening.pattern
    held = None if plan.total == 1 else start(pattern, run.first)
    return announcement(pattern, tempo, run.first, run.wording, held)


def rest_calls(seconds: float) -> list[tuple[float, str]]:
    """Return what is said in a rest, each with its seconds from the beginning."""
    left = [
        (seconds - each, f"{spoken(each)} seconds")
        for each in TIMES_LEFT
        if seconds >= each + SHORTEST_TOLD
    ]
    return [(0.0, REST), *left]
