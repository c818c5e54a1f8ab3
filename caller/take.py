"""A take is listened to: its thuds are found, beside the call, and held against the catches."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from caller.progress import progress
from engine.catching.expected import Catch, expected_catches
from engine.catching.report import TakeReport, listen_report
from engine.timeline import Beat
from sounds.listening.own_call import CallOnTake, find_call, without_call
from sounds.listening.played_call import PlayedCall
from sounds.listening.rate import RATE, Mono
from sounds.listening.take import Take, open_take
from sounds.listening.thuds import Thud, find_thuds

BLOCK: Final = 4_800
"""Frames that are listened to at a time."""

SURE_OF_CALL: Final = 0.5
"""From how sure on a call counts as being on the take."""

UNKNOWN_SECONDS: Final = 60.0
"""What a bar goes by where the file does not tell its length."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What a take is held against.

    Parameters
    ----------
    beats
        What was thrown; none where that is not known.
    call
        What the speakers were given; None where that is not known.
    dwell
        The share of its cycle in which a hand holds an object.
    """

    beats: Sequence[Beat] = ()
    call: PlayedCall | None = None
    dwell: float | None = None

    def catches(self) -> tuple[Catch, ...]:
        """Return the catches that are expected, on the call's clock."""
        if self.dwell is None:
            return tuple(expected_catches(self.beats))
        return tuple(expected_catches(self.beats, self.dwell))


@dataclass(frozen=True, slots=True)
class HeardTake:
    """A take that was listened to.

    Parameters
    ----------
    path
        Its file.
    report
        What it tells.
    call
        Where the call is on it; None where none is known or found.
    looked_for
        Whether a call was looked for.
    warning
        What is damaged, in a sentence; empty for nothing.
    """

    path: Path
    report: TakeReport
    call: CallOnTake | None
    looked_for: bool
    warning: str


def listen(path: Path, asked: Asked) -> HeardTake:
    """Listen to a take.

    Raises
    ------
    TakeError
        If it cannot be read.
    """
    with open_take(path) as take:
        found = _found(take, asked.call)
        thuds, seconds = _thuds(take, asked.call, found)
        warning = take.warning or ""
    catches = asked.catches()
    if found is not None:
        catches = tuple(replace(each, time=found.take_time(each.time)) for each in catches)
    report = listen_report(thuds, seconds, catches, placed=found is not None)
    return HeardTake(path, report, found, asked.call is not None, warning)


def _found(take: Take, call: PlayedCall | None) -> CallOnTake | None:
    if call is None:
        return None
    with progress("Looking for the call", 1):
        found = find_call(take, call)
    return found if found is not None and found.sureness >= SURE_OF_CALL else None


def _thuds(
    take: Take, call: PlayedCall | None, found: CallOnTake | None
) -> tuple[list[Thud], float]:
    """Return the thuds of a take, and its length in seconds."""
    read = 0
    length = round((take.seconds or UNKNOWN_SECONDS) * RATE)

    def counted(done: Callable[[int], None]) -> Iterator[Mono]:
        nonlocal read
        for block in take.blocks(BLOCK):
            read += len(block)
            done(len(block))
            yield block

    with progress("Listening", length) as done:
        blocks = counted(done)
        if call is not None and found is not None:
            blocks = without_call(blocks, call, found)
        thuds = list(find_thuds(blocks, RATE))
    return thuds, read / RATE
