"""A take is listened to: its thuds are found, beside the call, and held against the catches."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import takewhile
from pathlib import Path
from typing import Final

from caller.console.progress import progress
from engine.catching.expected import Catch, expected_catches
from engine.catching.report import TakeReport, listen_report
from engine.patterns.flight import DWELL_RATIO
from engine.patterns.pattern import Pattern
from engine.timing.timeline import Beat
from sounds.listening.call.clocks import Clocks
from sounds.listening.call.own_call import CallOnTake, Recording, find_call, without_call
from sounds.listening.call.played_call import PlayedCall
from sounds.listening.onsets.thuds import Thud, find_thuds
from sounds.listening.rate import RATE, Mono
from sounds.listening.recordings.overload import Overload
from sounds.listening.recordings.take import Take

BLOCK: Final = 4_800
"""Frames that are listened to at a time."""

READINGS: Final = 3
"""How often a take is read when the call is looked for."""

CALL_CONFIDENCE: Final = 0.5
"""From how sure on a call counts as being on the take."""


@dataclass(frozen=True, slots=True)
class Expectation:
    """What a take is held against."""

    title: str = ""
    """What that is, in a few words; empty where nothing is known."""
    beats: Iterable[Beat] = ()
    """What was thrown, in order; none where that is not known. Gone through once."""
    endless: bool = False
    """Whether the beats go on for as long as they are asked for."""
    call: PlayedCall | None = None
    """What the speakers were given; None where that is not known."""
    dwell: float = DWELL_RATIO
    """The share of the time that a hand holds an object."""
    pattern: Pattern | None = None
    """What was thrown, where it is a single pattern."""
    tempo: float | None = None
    """How fast that was thrown at first, in beats a minute."""
    props: str = ""
    """What was juggled; empty where it is not told."""
    notes: tuple[str, ...] = ()
    """What is to be known of it, in sentences."""
    clocks: Clocks | None = None
    """Where the beats are on the take where the call is not found on it; None where nothing else
    tells that."""


@dataclass(frozen=True, slots=True)
class HeardTake:
    """A take that was listened to."""

    path: Path | None
    """Its file; None where there is none that is kept."""
    asked: Expectation
    """What it was held against."""
    report: TakeReport
    """What it tells."""
    call: CallOnTake | None
    """Where the call is on it; None where none is known or found."""
    notes: tuple[str, ...]
    """What is to be known of the recording, in sentences."""


def seconds_of(take: Take) -> float:
    """Return how long a take is; it is read through where its file does not tell."""
    if take.seconds is not None:
        return take.seconds
    return sum(len(block) for block in take.blocks(RATE)) / RATE


def listen(take: Take, path: Path, asked: Expectation) -> HeardTake:
    """Listen to a take.

    The take is open.

    Raises
    ------
    TakeError
        If it cannot be read.
    """
    found = _found(take, asked.call)
    overload = Overload()
    thuds = _thuds(take, asked.call, found, overload)
    seconds = overload.frames / RATE
    placed = asked.clocks if found is None else found
    catches = _catches(asked, seconds, placed)
    report = listen_report(thuds, seconds, catches, placed=placed is not None)
    return HeardTake(path, asked, report, found, tuple(_notes(take, asked, found, overload)))


@dataclass(frozen=True, slots=True)
class _Counted:
    """A take that tells how far it has been read."""

    take: Take
    done: Callable[[int], None]

    def blocks(self, size: int) -> Iterator[Mono]:
        for block in self.take.blocks(size):
            yield block
            self.done(len(block))


def _found(take: Take, call: PlayedCall | None) -> CallOnTake | None:
    if call is None:
        return None
    with progress("Looking for the call", _frames(take, READINGS)) as done:
        counted: Recording = _Counted(take, done)
        found = find_call(counted, call)
    return found if found is not None and found.confidence >= CALL_CONFIDENCE else None


def _thuds(
    take: Take, call: PlayedCall | None, found: CallOnTake | None, overload: Overload
) -> list[Thud]:
    with progress("Listening", _frames(take)) as done:
        blocks = overload.watched(_Counted(take, done).blocks(BLOCK))
        if call is not None and found is not None:
            blocks = without_call(blocks, call, found)
        return list(find_thuds(blocks, RATE))


def _frames(take: Take, readings: int = 1) -> int | None:
    """Return how many frames are read; None where the file does not tell."""
    return None if take.seconds is None else round(take.seconds * RATE) * readings


def _catches(asked: Expectation, seconds: float, clocks: Clocks | None) -> tuple[Catch, ...]:
    """Return the expected catches, on the take's clock if that is known."""
    catches: Iterable[Catch] = expected_catches(asked.beats, asked.dwell)
    if asked.endless:
        catches = _as_long_as(catches, seconds, clocks)
    if clocks is None:
        return tuple(catches)
    return tuple(replace(catch, time=clocks.take_time(catch.time)) for catch in catches)


def _as_long_as(catches: Iterable[Catch], seconds: float, clocks: Clocks | None) -> Iterator[Catch]:
    """Yield catches that never end, as far as the take can hold them."""
    waiting = iter(catches)
    first = next(waiting, None)
    if first is None:
        return
    last = first.time + seconds if clocks is None else clocks.call_time(seconds)
    yield first
    yield from takewhile(lambda catch: catch.time <= last, waiting)


def _notes(
    take: Take, asked: Expectation, found: CallOnTake | None, overload: Overload
) -> Iterator[str]:
    """Yield what is to be known of the recording."""
    if take.warning is not None:
        yield take.warning
    if overload.silent:
        yield "The take is silent from end to end: was the microphone muted, or closed to it?"
    elif overload.told:
        yield (
            f"In {overload.seconds:,} of {overload.frames / RATE:,.0f} s the take is as loud as it "
            "can be (clipped): record from further away, or turn the recording level down."
        )
    if asked.call is not None and found is None and not overload.silent:
        yield (
            "The call was looked for and is not on the take, or hardly: it was heard on "
            "headphones, or another call was played than this."
        )
    if found is not None and found.confidence <= CALL_CONFIDENCE:
        yield (
            "The call fits the take as well at another place, such as a cycle later, so that beats "
            "may be numbered wrongly."
        )
