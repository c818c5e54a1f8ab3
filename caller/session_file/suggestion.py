"""Suggests a session from the log: easy throws, work on a few things, and an end that goes well.

The rules are common practice among coaches. One warms up with what is easy, works on two or three
things in blocks of less than ten minutes, as longer ones tire, and ends with something that goes
well. Work is first what is near its goal, and then what waited long. The whole takes 20 to 40
minutes.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from functools import cached_property
from typing import Final, Literal, TypeAlias

from throwcount.caller.log.history import History, LogChoice
from throwcount.caller.log.page import LogView
from throwcount.caller.log.records import BestRun, PatternRecord, local_day
from throwcount.caller.session_file.writing import WrittenBlock, session_text
from throwcount.engine.errors import EngineError
from throwcount.engine.hands.difficulty import difficulty
from throwcount.engine.numbers import counted
from throwcount.engine.patterns.flight import default_tempo
from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.patterns.rules import read
from throwcount.engine.practice.goals import Goal, goal_catches, goal_text, usual_goals
from throwcount.engine.timing.tempo import held_tempo

Role: TypeAlias = Literal["warm-up", "near its goal", "waited long", "work", "end"]

RECENT: Final = timedelta(weeks=4)
"""The last weeks: what went well, and how far runs came."""

NEAR: Final = 0.6
"""The share of its next goal that the best run of these weeks has where a pattern is near it."""

GOES_WELL: Final = 0.8
"""The share of marked sets that are clean where a pattern goes well, of `ENOUGH` sets or more."""

ENOUGH: Final = 3
MOST_NEAR: Final = 2
MOST_WORK: Final = 3
"""Blocks of work: those near a goal, and all."""

MOST_LOOKED_AT: Final = 500
"""Patterns of the log, the last practised first."""

EASY_MINUTES: Final = {1: 5.0, 2: 4.0, 3: 4.0}
WORK_MINUTES: Final = {1: 9.0, 2: 8.0, 3: 8.0}
"""Minutes of the first and the last block, and of each block of work, by how many work."""

EASY_SET: Final = 60.0
EASY_REST: Final = 20.0
REST_AFTER: Final = 60.0
REST: Final = 15.0
READY: Final = 12.0
"""Seconds: a set of easy throws and the rest after it, the rest after a block and after an attempt,
and what it takes to announce a set and to fill the hands."""

SHORTEST_ATTEMPT: Final = 3.0
LONGEST_ATTEMPT: Final = 90.0
"""Seconds: an attempt is taken to last as long as its goal, between these."""

TIMES: Final = 3
"""A goal is met when it came so often."""

STAIRCASE_SETS: Final = 12
STAIRCASE_SECONDS: Final = 20.0


@dataclass(frozen=True)
class PractisedPattern:
    """A pattern of the log that can be thrown."""

    pattern: Pattern
    """The pattern in its canonical form."""
    best_ever: BestRun | None
    """The best of its runs; None where no catches are known."""
    kept: PatternRecord
    """All of its sets."""
    recent: PatternRecord | None
    """Its sets of the last weeks; None without any."""

    @property
    def best(self) -> int:
        """The most catches of the last weeks, or else ever; 0 where none are known."""
        return (self.recent or self.kept).best_run or 0

    @property
    def next_goal(self) -> Goal | None:
        """The first of the usual goals that the best run does not meet; None beyond all."""
        goals = usual_goals(self.pattern.objects)
        return next((goal for goal in goals if self.catches(goal) > self.best), None)

    @property
    def nearness(self) -> float:
        """The share of the next goal that the best run of the last weeks has; 0 where none is."""
        goal = self.next_goal
        return self.best / self.catches(goal) if self.recent and goal is not None else 0.0

    @property
    def clean_share(self) -> float | None:
        """The share of the marked sets that are clean, lately or else ever; None where few are."""
        sets = self.recent or self.kept
        marked = sets.clean + sets.drops
        return sets.clean / marked if marked >= ENOUGH else None

    @property
    def goes_well(self) -> bool:
        """Whether all usual goals are met, or nearly all marked sets are clean."""
        return self.next_goal is None or (self.clean_share or 0) >= GOES_WELL

    @property
    def tempo(self) -> float | None:
        """The tempo last held clean, or of the best run, in range; None where none is known."""
        best = self.best_ever
        tempo = self.kept.last_tempo or (best.tempo if best else None)
        return None if not tempo else round(held_tempo(tempo))

    def seconds(self, goal: Goal) -> float:
        """Return how long a run of so many catches takes, in seconds."""
        tempo = self.tempo or default_tempo(self.pattern)
        cycles = self.catches(goal) / self.pattern.caught_in(self.pattern.period)
        return cycles * self.pattern.period * 60 / tempo

    @cached_property
    def difficulty(self) -> float:
        """How hard it is, where the plain pattern of N objects has the number N."""
        return difficulty(self.pattern).number

    def catches(self, goal: Goal) -> int:
        """Return the catches that meet a goal with this pattern."""
        return goal_catches(goal, self.pattern.objects)


@dataclass(frozen=True, slots=True)
class SuggestedBlock:
    """A block of a session, and why it is there."""

    role: Role
    """What it is there for."""
    why: str
    """What the log tells of it, in a sentence."""
    seconds: float
    """How long it takes, without the rest after it."""
    written: WrittenBlock
    """The block for the file."""


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A session; without blocks where the log has nothing to suggest."""

    props: str
    """What is juggled; empty if not given."""
    blocks: tuple[SuggestedBlock, ...]
    """The blocks in order."""

    @property
    def minutes(self) -> float:
        """How long it takes, in minutes, where nothing ends before its time."""
        rests = (block.written.rest_after or 0.0 for block in self.blocks)
        return (sum(block.seconds for block in self.blocks) + sum(rests)) / 60

    @property
    def text(self) -> str:
        """The session file."""
        told = (
            f"A session of about {self.minutes:.0f} minutes, as `throwcount log --suggest` wrote "
            "it. Change the patterns, the goals and the rests as you like."
        )
        return session_text("From the log", (block.written for block in self.blocks), told=told)


def suggest(history: History, choice: LogChoice, view: LogView) -> Suggestion:
    """Return a session from the sets of a choice, with the props practised last."""
    every = list(_practised(history, choice, view))
    if not every:
        return Suggestion("", ())
    props = every[0].kept.props
    known = [one for one in every if one.kept.props == props]
    return Suggestion(props, tuple(_blocks(known, view)))


def _practised(history: History, choice: LogChoice, view: LogView) -> Iterator[PractisedPattern]:
    """Yield the patterns that can be thrown and caught, the last practised first."""
    since = max(filter(None, [choice.since, view.now - RECENT]))
    lately = history.patterns(replace(choice, since=since), MOST_LOOKED_AT)
    recent = {(kept.pattern, kept.props): kept for kept in lately}
    runs = history.runs(view.today, choice, MOST_LOOKED_AT)
    best = {(run.pattern, run.props): run.best for run in runs}
    for kept in history.patterns(choice, MOST_LOOKED_AT):
        key = (kept.pattern, kept.props)
        try:
            pattern = read(kept.pattern)
        except EngineError:
            continue  # of another version, or damaged
        if pattern.caught_in(pattern.period):
            yield PractisedPattern(pattern, best.get(key), kept, recent.get(key))


def _blocks(known: list[PractisedPattern], view: LogView) -> Iterator[SuggestedBlock]:
    if not known:
        return
    well = [one for one in known if one.goes_well and one.recent]
    well = well or [one for one in known if one.goes_well]
    well.sort(key=lambda one: one.difficulty)
    easiest = well[0] if well else min(known, key=lambda one: one.difficulty)
    work = list(_work(known, easiest, view))
    worked = [one for _, one in work]
    others = [one for one in well if one not in (easiest, *worked)]
    easy, each = EASY_MINUTES[len(work)], WORK_MINUTES[len(work)]
    yield _easy_block("warm-up", easiest, easy, REST_AFTER)
    for role, one in work:
        yield _work_block(role, one, each, view)
    yield _easy_block("end", others[-1] if others else easiest, easy, 0.0)


def _work(
    known: list[PractisedPattern], easiest: PractisedPattern, view: LogView
) -> Iterator[tuple[Role, PractisedPattern]]:
    """Yield what to work on, one to three patterns, with the reason for each."""
    left = [one for one in known if one is not easiest] or known
    near = sorted(left, key=lambda one: -one.nearness)[:MOST_NEAR]
    chosen: dict[str, Role] = {
        one.pattern.text: "near its goal" for one in near if one.nearness >= NEAR
    }
    waiting = [one for one in left if one.kept.last < view.lately_began]
    waiting.sort(key=lambda one: (one.kept.sets < ENOUGH, one.kept.last))
    for one in waiting[: MOST_WORK - len(chosen)]:
        chosen.setdefault(one.pattern.text, "waited long")
    rest = [one for one in left if one.pattern.text not in chosen]
    for one in sorted(rest, key=lambda one: one.goes_well)[: max(0, MOST_NEAR - len(chosen))]:
        chosen[one.pattern.text] = "work"
    named = {one.pattern.text: one for one in left}
    return ((role, named[text]) for text, role in chosen.items())


def _easy_block(
    role: Role, one: PractisedPattern, minutes: float, rest_after: float
) -> SuggestedBlock:
    sets = round(60 * minutes / (EASY_SET + EASY_REST))
    why = _why_easy(one)
    written = WrittenBlock(
        told=f"{role.capitalize()}. {why}",
        pattern=one.pattern.text,
        name=role,
        props=one.kept.props or None,
        tempo=one.tempo,
        sets=sets,
        seconds=EASY_SET,
        rest=EASY_REST,
        rest_after=rest_after or None,
    )
    return SuggestedBlock(role, why, sets * (READY + EASY_SET + EASY_REST) - EASY_REST, written)


def _work_block(role: Role, one: PractisedPattern, minutes: float, view: LogView) -> SuggestedBlock:
    goal = _goal(role, one)
    why = _why(role, one, goal, view)
    written = WrittenBlock(
        told=f"{role.capitalize()}. {why}",
        pattern=one.pattern.text,
        name=role,
        props=one.kept.props or None,
        tempo=one.tempo,
        rest=REST,
        rest_after=REST_AFTER,
    )
    if goal is None:
        sets, lasts = STAIRCASE_SETS, STAIRCASE_SECONDS
        written = replace(written, sets=sets, seconds=lasts, staircase=True, unmarked="clean")
    else:
        lasts = min(max(one.seconds(goal), SHORTEST_ATTEMPT), LONGEST_ATTEMPT)
        sets = round(60 * minutes / (READY + lasts + REST))
        written = replace(written, attempts=sets, goal=goal, goal_times=TIMES)
    return SuggestedBlock(role, why, sets * (READY + lasts + REST) - REST, written)


def _goal(role: Role, one: PractisedPattern) -> Goal | None:
    """Return the goal to work for; after a long wait, one that was met before."""
    if role != "waited long":
        return one.next_goal
    goals = usual_goals(one.pattern.objects)
    return next((goal for goal in reversed(goals) if one.catches(goal) <= one.best), goals[0])


def _why_easy(one: PractisedPattern) -> str:
    best = f"Best run: {counted(one.best_ever.catches, 'catch')}" if one.best_ever else ""
    share = one.clean_share or 0
    if share >= GOES_WELL:
        return f"{share:.0%} of the marked sets are clean."
    if one.goes_well:
        return f"{best}. Every goal is met."
    return f"{best or 'Nothing goes well yet'}. It is the easiest of what is in the log."


def _why(role: Role, one: PractisedPattern, goal: Goal | None, view: LogView) -> str:
    weeks = RECENT.days // 7
    if role == "near its goal" and goal is not None:
        return (
            f"{counted(one.best, 'catch')} in the last {weeks} weeks, {one.nearness:.0%} of "
            f"{goal_text(one.catches(goal))}."
        )
    if role == "waited long":
        days = (view.now - one.kept.last).days
        best = f"; best run {counted(one.best, 'catch')}" if one.best else ""
        ago = counted(days, "day")
        return f"Last practised on {local_day(one.kept.last)}, {ago} ago{best}."
    lately = f" of the last {weeks} weeks" if one.recent else ""
    best = f"Best run{lately}: {counted(one.best, 'catch')}"
    if goal is None:
        return f"{best}. Every goal is met, so it is the tempo that rises."
    return f"{best}. The next goal is {goal_text(one.catches(goal))}."
