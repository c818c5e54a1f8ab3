"""A deck whose clock the test moves, and a diary of what a recorder is given."""

from dataclasses import replace

from throwcount.caller.log.records import Ending, Plan, Thrown
from throwcount.caller.practice.recorder import Recorder
from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.practice.tempo_rules import Given, Mark
from throwcount.sounds.output.commands import Command, Play, ScheduledRun

SOON = 0.25


class Deck:
    """Keeps what it is sent, and a clock that the test moves."""

    def __init__(self) -> None:
        self.now = 0.0
        self.sent: list[Command] = []

    def send(self, command: Command) -> None:
        self.sent.append(command)

    def begin(self, scheduled: ScheduledRun) -> ScheduledRun:
        begun = replace(scheduled, start=self.soon())
        self.send(Play(begun))
        return begun

    def soon(self) -> float:
        return self.now + SOON

    def played(self) -> float:
        return self.now

    def heard(self) -> float:
        return self.now


class Diary(Recorder):
    """Keeps what it is told, a line each."""

    def __init__(self) -> None:
        super().__init__()
        self.lines: list[str] = []
        self.thrown: list[Thrown] = []
        self.ended: list[Thrown] = []
        self.marks: list[tuple[int, Mark]] = []
        self.begun = self.marked = 0
        self.best: int | None = None

    def begin_set(self, plan: Plan) -> None:
        self.begun += 1
        self.lines.append(f"set at {plan.tempo:g}")

    def first_throw(self) -> None:
        self.marked = self.begun

    def mark(self, given: Given, beat: int | None) -> None:
        self.marks.append((self.marked, given.mark))
        self.lines.append(f"{given.mark}{' heard' if given.heard else ''} on {beat}")

    def best_run(self, _pattern: Pattern, _props: str) -> int | None:
        return self.best

    def progress(self, thrown: Thrown) -> None:
        self.thrown.append(thrown)

    def end_set(self, thrown: Thrown, status: Ending, unmarked: Mark | None) -> None:
        self.unmarked = unmarked
        self.ended.append(thrown)
        self.thrown.append(thrown)
        self.lines.append(f"{status} after {thrown.beats}")
