"""The controller of a session file: its blocks one after the other, without a touch between them.

Each block has a controller of its own, for sets or attempts at one pattern.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import takewhile

from throwcount.caller.log.records import SetOfBlock
from throwcount.caller.options.request import Request
from throwcount.caller.pieces.piece import Piece
from throwcount.caller.practice.live import LiveSession
from throwcount.caller.practice.pattern_controller import BlockPlace, PatternController
from throwcount.caller.practice.recorder import Tally
from throwcount.caller.practice.sessions import led_pattern
from throwcount.caller.practice.situation import Ended, Situation
from throwcount.caller.session_file.reading import SessionFile
from throwcount.caller.terminal.controls import STOP, Control
from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.practice.goals import goal_catches


class SessionController:
    """Leads through the blocks of a session file; satisfies `Practice`.

    `requests` are those of `requests_of`, one a block. `reached` are the sets of a
    session before, if this one goes on from it.

    Attributes
    ----------
    controllers
        Those of the blocks so far; the last one leads now.
    """

    def __init__(
        self,
        file: SessionFile,
        requests: Sequence[tuple[Request, Pattern]],
        session: LiveSession,
        reached: Sequence[SetOfBlock] = (),
    ) -> None:
        self._file = file
        self._requests = requests
        self._session = session
        self._index, begun = place_reached(self._requests, reached)
        self.controllers: list[PatternController] = []
        self.piece = self._open(begun, rest=0.0)

    @property
    def situation(self) -> Situation:
        """What is going on."""
        return self._leading.situation

    @property
    def tally(self) -> Tally:
        """The marks of the whole session."""
        return self._leading.tally

    @property
    def answer(self) -> str:
        """A sentence about what was asked for last; see `Controller`."""
        return self._leading.answer

    @property
    def place(self) -> str:
        """Which block this is, and which set of it, in words."""
        return self._leading.place

    def begin(self) -> None:
        """Begin with the first block, or the one that was reached."""
        self._leading.begin()

    def step(self) -> None:
        """Go on to what is next if something has come to its end. This is called often."""
        self._leading.step()
        if isinstance(self.situation, Ended) and not self._leading.last:
            self._index += 1
            self.piece = self._open((), rest=self._file.blocks[self._index - 1].rest_after)
            self._leading.begin()

    def ask(self, control: Control) -> None:
        """Do what a key or pedal asks for; only the end is about the whole session."""
        if control is STOP:
            self._leading.last = True
        self._leading.ask(control)

    def pause(self) -> None:
        """Pause a set or a rest; do nothing at any other time."""
        self._leading.pause()

    def hear_drop(self, moment: float) -> None:
        """Take a drop that was heard; see `Controller`."""
        self._leading.hear_drop(moment)

    def stop(self) -> None:
        """End the session now."""
        self._leading.last = True
        self._leading.stop()

    def keep(self) -> None:
        """Record how far the set has come when the session cannot go on."""
        self._leading.keep()

    def start_over(self) -> None:
        """Begin the set or the rest again after the deck has restarted."""
        self._leading.start_over()

    @property
    def _leading(self) -> PatternController:
        return self.controllers[-1]

    def _open(self, begun: tuple[SetOfBlock, ...], rest: float) -> Piece:
        """Open the controller of the block that is next, and return its first piece."""
        blocks = self._file.blocks
        block, number = blocks[self._index], self._index + 1
        place = BlockPlace(
            number=number,
            blocks=len(blocks),
            name=block.name,
            rest=rest,
            opening=block.before,
            ending=self._file.end if number == len(blocks) else "",
            begun_sets=begun,
        )
        controller, piece = led_pattern(
            block.pattern, self._requests[self._index][0], self._session, place
        )
        if self.controllers:
            controller.tally, controller.speaking = self.tally, self._leading.speaking
            controller.answer = " ".join(filter(None, [controller.answer, *piece.warnings]))
        self.controllers.append(controller)
        return piece


def place_reached(
    blocks: Sequence[tuple[Request, Pattern]], reached: Sequence[SetOfBlock]
) -> tuple[int, tuple[SetOfBlock, ...]]:
    """Return the index of the block to go on with, and its sets that were begun.

    `reached` are the sets so far, in order. A session that was finished begins anew.
    """
    known = [each for each in reached if each.block <= len(blocks)]
    if not known:
        return 0, ()
    number = known[-1].block
    latest = list(takewhile(lambda each: each.block == number, reversed(known)))
    if _is_over(*blocks[number - 1], [each for each in latest if each.whole]):
        return number % len(blocks), ()
    return number - 1, tuple(reversed(latest))


def is_finished(blocks: Sequence[tuple[Request, Pattern]], reached: Sequence[SetOfBlock]) -> bool:
    """Return whether the sets that were reached are all that the blocks ask for."""
    last = any(each.block == len(blocks) for each in reached)
    return last and place_reached(blocks, reached) == (0, ())


def requests_of(file: SessionFile, request: Request) -> list[tuple[Request, Pattern]]:
    """Return the request of each block, with its pattern; `request` is over those of the file."""
    # What goes on is the session; a block goes on from the last tempo only if it says so.
    whole = replace(file.request(request), resume=False, typed=request.typed - {"resume"})
    return [(block.request(whole), block.pattern) for block in file.blocks]


def _is_over(request: Request, pattern: Pattern, done: Sequence[SetOfBlock]) -> bool:
    """Return whether the sets that are done are all that a block asks for."""
    if request.goal is not None and request.goal_times is not None:
        goal = goal_catches(request.goal, pattern.objects)
        if sum((each.catches or 0) >= goal for each in done) >= request.goal_times:
            return True
    if request.of_attempts and request.attempts is None:
        return any(each.finished for each in done)
    return request.total_sets is not None and len(done) >= request.total_sets
