"""Keeps a practice in the log, and counts its marks.

Where the log fails, the practice goes on.
"""

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Final, TypeVar

from throwcount.caller.log.database import LogError
from throwcount.caller.log.history import History
from throwcount.caller.log.records import Ending, LastHeld, Plan, SetOfBlock, Thrown
from throwcount.caller.log.session_writer import SessionWriter
from throwcount.caller.options.arguments import log_command
from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.practice.tempo_rules import Given, Mark, outcome, standing
from throwcount.sounds.errors import FileError

Written = TypeVar("Written")


@dataclass(frozen=True, slots=True)
class SessionFacts:
    """What is known of a session when it begins."""

    props: str = ""
    """What is juggled; empty if not told."""
    device: str = ""
    """The name of the sound output; empty for the default one."""
    file: str = ""
    """The whole path of the file that it follows; empty for a single pattern."""
    resume: bool = False
    """Whether it goes on from the last session that followed the file."""
    is_over: Callable[[Sequence[SetOfBlock]], bool] = lambda _sets: False
    """Whether such a session was finished, given its sets, so that there is none to go on from."""


class Recorder:
    """Records how a practice goes; this one keeps nothing, and only knows what was kept before.

    `history` is the log of before; None where none can be read.

    Attributes
    ----------
    reached
        The sets of the session that this one goes on from, in order.
    finished
        Whether the last session that followed the file was finished, and this one begins anew.
    """

    def __init__(self, history: History | None = None, facts: SessionFacts | None = None) -> None:
        self._history = history
        self._facts = facts or SessionFacts()
        self._resumes: int | None = None
        self.reached: Sequence[SetOfBlock] = ()
        self.finished = False
        if self._facts.resume:
            found = self._known(lambda history: history.sets_of_file(self._facts.file))
            self._resumes, self.reached = found or (None, ())
            self.finished = bool(self.reached) and self._facts.is_over(self.reached)
            if self.finished:
                self._resumes, self.reached = None, ()

    def last_held(self, pattern: Pattern, props: str) -> LastHeld | None:
        """Return the last clean set of a pattern with these props, or any if none are told."""
        return self._known(lambda history: history.last_held(pattern, props or None))

    def best_run(self, pattern: Pattern, props: str) -> int | None:
        """Return the most catches in a row in a pattern with these props; None without any."""
        return self._known(lambda history: history.best_run(pattern, props))

    def _known(self, read: Callable[[History], Written]) -> Written | None:
        """Return something of what was kept before; None where the log cannot be read."""
        if self._history is None:
            return None
        with suppress(LogError):
            return read(self._history)
        return None

    @property
    def waiting(self) -> int:
        """How many marks are not in the log yet."""
        return 0

    def retry(self) -> None:
        """Keep what could not be kept before."""

    def begin_set(self, plan: Plan) -> None:
        """Record that a set begins."""

    def first_throw(self) -> None:
        """Let marks be for the set that has begun last, as its first throw has come."""

    def mark(self, given: Given, beat: int | None) -> None:
        """Record a mark for the set that was thrown last.

        `beat` is the last beat thrown; None where the mark comes after the set.
        """

    def progress(self, thrown: Thrown) -> None:
        """Record how far the set has come."""

    def end_set(self, thrown: Thrown, status: Ending, unmarked: Mark | None) -> None:
        """Record that the set has ended; without a mark it counts as `unmarked`."""

    def close(self) -> None:
        """Record that the session has ended."""


class LogRecorder(Recorder):
    """Keeps everything at once in the practice log, as one session.

    `writer` writes it. `tell` is called with a sentence where something cannot be kept. The other
    parameters are those of `Recorder`.
    """

    def __init__(
        self,
        writer: SessionWriter,
        history: History | None,
        tell: Callable[[str], None],
        facts: SessionFacts | None = None,
    ) -> None:
        super().__init__(history, facts)
        self._writer = writer
        self._tell = tell
        self._set = self._thrown = -1
        about, resumes = self._facts, self._resumes if self.reached else None
        writer.begin_session(about.props, about.device, about.file, resumes)
        if writer.fault:
            tell(f"{writer.fault} What happens is kept as soon as it can be.")

    @property
    def waiting(self) -> int:
        """How many marks are not in the log yet."""
        return self._writer.waiting

    def close(self) -> None:
        """End the session; what cannot be kept is in a file of its own, which is told."""
        writer = self._writer
        try:
            writer.close(self._tell)
        except FileError as error:
            self._tell(f"{writer.fault} {error} This practice is lost.")
        finally:
            if writer.aside is not None:
                self._tell(
                    f"{writer.fault} This practice is in {writer.aside}; "
                    f"`{log_command(writer.path, 'take-in', writer.aside)}` keeps it later."
                )

    def begin_set(self, plan: Plan) -> None:
        """Begin a set in the log."""
        self._set = self._writer.begin_set(plan)

    def first_throw(self) -> None:
        """Keep marks for the set that has begun last from now on."""
        self._thrown = self._set

    def mark(self, given: Given, beat: int | None) -> None:
        """Keep a mark."""
        if self._thrown >= 0:
            self._writer.mark(self._thrown, given.mark, beat, given.source)

    def progress(self, thrown: Thrown) -> None:
        """Keep how far the set has come."""
        self._writer.progress(self._set, thrown)

    def end_set(self, thrown: Thrown, status: Ending, unmarked: Mark | None) -> None:
        """End the set in the log; it can be marked later."""
        self._writer.end_set(self._set, thrown, status, unmarked)

    def retry(self) -> None:
        """Keep what could not be kept before."""
        if self._writer.fault:
            self._writer.retry()


HEARD_DROP: Final = Given("drop", "microphone")


class Tally:
    """Counts the marks of a practice, without those that were taken back.

    Attributes
    ----------
    place
        The set that marks are for, in words; empty before anything is thrown.
    taken_back
        The number of drops that were taken back by the juggler.
    """

    def __init__(self) -> None:
        self.place = ""
        self._before: list[Given] = []
        self._of_set: list[Given] = []
        self.taken_back = 0

    @property
    def clean(self) -> int:
        """The number of clean marks."""
        return sum(each.mark == "clean" for each in self._all)

    @property
    def drops(self) -> int:
        """The number of drops, heard or marked."""
        return sum(each.mark == "drop" for each in self._all)

    @property
    def heard(self) -> int:
        """The number of drops that were heard."""
        return sum(each.heard for each in self._all)

    def begin_set(self, place: str) -> None:
        """Count the marks from now on to another set, at a place that is not empty."""
        self.place = place
        self._before += self._of_set
        self._of_set = []

    def take(self, given: Given) -> None:
        """Take a mark for the set that was thrown last."""
        marks = [*self._of_set, given]
        self._of_set = standing(marks)
        self.taken_back += len(marks) - len(self._of_set)

    def outcome(self, unmarked: Mark | None) -> Mark | None:
        """Return how the set counts that was thrown last; without a mark, `unmarked`."""
        return outcome([each.mark for each in self._of_set], unmarked)

    @property
    def _all(self) -> list[Given]:
        return [*self._before, *self._of_set]
