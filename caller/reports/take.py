"""Listening to a take: its thuds are found, apart from the call, and held against the catches.

The catches can be those of a file of beats, which `render --events` wrote and is read here too.
"""

import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import chain, pairwise, takewhile
from pathlib import Path
from typing import Annotated, Final

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from throwcount.caller.terminal.printing import progress
from throwcount.caller.terminal.text import WrongInputError
from throwcount.engine.errors import MalformedError
from throwcount.engine.patterns.flight import DWELL_RATIO
from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.takes.catches import Catch, expected_catches, read_throw
from throwcount.engine.takes.hindrances import Hindrance
from throwcount.engine.takes.report import TakeReport, listen_report
from throwcount.engine.timing.timeline import Beat, ByHand, Click, ClickHands
from throwcount.sounds.echo.clocks import Clocks
from throwcount.sounds.echo.find_call import CallOnTake, Recording, find_call
from throwcount.sounds.echo.played_call import PlayedCall
from throwcount.sounds.echo.removal import without_call
from throwcount.sounds.errors import InputError
from throwcount.sounds.files.whole_files import read_input
from throwcount.sounds.listening.take import Overload, Take
from throwcount.sounds.listening.thuds import Thud, find_thuds
from throwcount.sounds.samples import RATE, Mono

BLOCK: Final = 4_800
"""Frames that are read at a time."""

READINGS: Final = 3
"""How often a take is read to find the call on it."""

LEAST_CONFIDENCE: Final = 0.03
"""The least confidence of a thud. What is doubtful weighs little, but soft catches are not lost."""

MOST_UNCAUGHT: Final = 5_000
"""Beats after which a pattern of which nothing was caught yet has nothing that is caught."""

CALL_CONFIDENCE: Final = 0.5
"""The least confidence with which a call counts as being on the take."""


@dataclass(frozen=True, slots=True)
class Expectation:
    """What a take is held against; None and empty where that is unknown."""

    title: str = ""
    """What it is, in a few words."""
    beats: Iterable[Beat] = ()
    """What was thrown, in order; walked once."""
    endless: bool = False
    """Whether the beats never end."""
    call: PlayedCall | None = None
    """What was played."""
    dwell: float = DWELL_RATIO
    """The share of the time that a hand holds an object."""
    pattern: Pattern | None = None
    """What was thrown, if it is a single pattern."""
    tempo: float | None = None
    """The tempo of that at first, in beats a minute."""
    props: str = ""
    """What was juggled."""
    notes: tuple[str, ...] = ()
    """What to tell a person about it, in sentences."""
    clocks: Clocks | None = None
    """Where the beats are on the take, for when the call is not found on it."""


@dataclass(frozen=True, slots=True)
class HeardTake:
    """A take that was listened to."""

    path: Path | None
    """Its file; None if none is kept."""
    asked: Expectation
    """What it was held against."""
    report: TakeReport
    """What it tells."""
    call: CallOnTake | None
    """Where the call is on it; None if none is known or found."""
    notes: tuple[str, ...]
    """What to tell a person about the recording, in sentences."""


ONLY_SOUNDS: Final = (
    "Only sounds are heard: a clap or a step near the beat counts as a catch, soft catches may be "
    "missed, and a recorder that levels its sound by itself misses more of them. How likely this "
    "is right was measured on made takes of recorded impacts, and on no person's juggling yet: the "
    "README says how to send yours."
)


def seconds_of(take: Take) -> float:
    """Return the seconds of a take, which is read through if its file does not tell."""
    if take.seconds is not None:
        return take.seconds
    return sum(len(block) for block in take.blocks(RATE)) / RATE


def listen(take: Take, path: Path, asked: Expectation) -> HeardTake:
    """Listen to an open take; raise `TakeError` if it cannot be read."""
    found = _found(take, asked.call)
    overload = Overload()
    thuds = _thuds(take, asked.call, found, overload)
    seconds = overload.frames / RATE
    placed = asked.clocks if found is None else found
    catches, beats = _expected(asked, seconds, placed)
    report = listen_report(
        thuds,
        seconds,
        catches,
        placed=placed is not None,
        beats=beats,
        certainty=found.confidence if found is not None and found.is_doubtful else 1.0,
    )
    hindrances = (*report.hindrances, *_hindrances(asked, found, overload))
    report = replace(report, hindrances=hindrances)
    return HeardTake(path, asked, report, found, tuple(_notes(take, overload)))


@dataclass(frozen=True, slots=True)
class _Counted:
    """A take that calls `done` with the frames that have been read."""

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
        return list(find_thuds(blocks, RATE, LEAST_CONFIDENCE))


def _frames(take: Take, readings: int = 1) -> int | None:
    """Return how many frames are read; None if the file does not tell."""
    return None if take.seconds is None else round(take.seconds * RATE) * readings


def _expected(
    asked: Expectation, seconds: float, clocks: Clocks | None
) -> tuple[tuple[Catch, ...], tuple[float, ...]]:
    """Return the expected catches that fit in the take, and the times of the clicks until then.

    Both are on the take's clock if that is known. Raise `WrongInputError` if nothing that goes on
    without an end is ever caught.
    """
    clicks: list[float] = []
    first: Catch | None = None

    def noted() -> Iterator[Beat]:
        for number, beat in enumerate(asked.beats):
            if asked.endless and first is None and number > MOST_UNCAUGHT:
                return
            if beat.click is not None:
                clicks.append(beat.time)
            yield beat

    catches = expected_catches(noted(), asked.dwell)
    if asked.endless:
        first = next(catches, None)
        if first is None:
            raise WrongInputError(f"{asked.title}: nothing leaves a hand, so there is no catch.")
        last = first.time + seconds if clocks is None else clocks.call_time(seconds)
        catches = chain([first], takewhile(lambda catch: catch.time <= last, catches))
    if clocks is None:
        return tuple(catches), tuple(clicks)
    placed = tuple(replace(catch, time=clocks.take_time(catch.time)) for catch in catches)
    return placed, tuple(map(clocks.take_time, clicks))


SUPPRESSED: Final = (
    "The recorder seems to have taken out noise, as phones do in a mode for voices, and soft "
    "catches with it. Record in its plain mode or one for music."
)

NOT_FOUND: Final = (
    "The call was looked for and is not on the take, or hardly: it was heard on headphones, or a "
    "different call was played."
)

CALL_DOUBTFUL: Final = (
    "The call fits the take equally well at another place, such as a cycle later, so beats may be "
    "numbered wrongly. Record from before the announcement on."
)


def _hindrances(
    asked: Expectation, found: CallOnTake | None, overload: Overload
) -> Iterator[Hindrance]:
    """Yield what is wrong with a recording for what it was to tell."""
    if overload.is_suppressed:
        yield Hindrance("suppression", SUPPRESSED)
    if asked.call is not None and found is None and not overload.is_silent:
        yield Hindrance("call not found", NOT_FOUND)
    if found is not None and found.is_doubtful:
        yield Hindrance("call doubtful", CALL_DOUBTFUL)


def _notes(take: Take, overload: Overload) -> Iterator[str]:
    """Yield what to tell a person about the recording."""
    if take.warning is not None:
        yield take.warning
    if overload.is_silent:
        yield "The take is silent from end to end: was the microphone muted, or access denied?"
    elif overload.is_clipped:
        yield (
            f"In {overload.clipped_seconds:,} of {overload.frames / RATE:,.0f} s the take is as "
            "loud as it can be (clipped): record from further away, or turn the recording level "
            "down."
        )


MOST_TOLD: Final = 3
"""How many faults of a file are told."""

NO_OBJECT: Final = "Input should be an object, in braces"
NO_BEATS: Final = "is no file of beats, such as `throwcount render --events` writes"

LARGEST_EVENTS: Final = 64 * 1024 * 1024
"""Bytes of a file of beats, at most: more than eight hours of quick throws."""

LONGEST: Final = 1e6
"""Seconds: more than eleven days, and more than anybody records."""

MOST_BEATS: Final = 1_000_000_000
TEMPOS: Final = (1.0, 10_000.0)
"""Beats a minute, with room for any share of any tempo."""


class _ByHand(BaseModel):
    right: tuple[str, ...] = ()
    left: tuple[str, ...] = ()


class _Beat(BaseModel):
    beat: Annotated[int, Field(ge=-MOST_BEATS, le=MOST_BEATS)]
    time: Annotated[float, Field(ge=0, le=LONGEST)]
    tempo: Annotated[float, Field(ge=TEMPOS[0], le=TEMPOS[1])]
    part: str
    cycle: int | None = None
    cycle_beat: int | None = None
    click: ClickHands | None = None
    throws: _ByHand = _ByHand()
    objects: _ByHand = _ByHand()


class _Events(BaseModel):
    """The part of the file that is needed; the rest is ignored."""

    model_config = ConfigDict(allow_inf_nan=False)

    beats: Annotated[list[_Beat], Field(min_length=1)]


class WrongBeatsError(WrongInputError):
    """A file of beats cannot be used."""

    def __init__(self, path: Path, message: str) -> None:
        super().__init__(message, {"file": str(path), "valid": False, "message": message})


def beats_in(path: Path) -> list[Beat]:
    """Return the beats in a file, in order.

    Raises
    ------
    WrongBeatsError
        If the file cannot be read, or is not one that `render --events` writes.
    """
    try:
        events = _Events.model_validate(json.loads(read_input(path, LARGEST_EVENTS)))
    except InputError as error:
        raise WrongBeatsError(path, f"{path} cannot be read. {error}") from error
    except OSError as error:
        raise WrongBeatsError(path, f"{path} cannot be read: {error.strerror or error}.") from error
    except ValidationError as error:
        raise WrongBeatsError(path, "\n".join(_fault_texts(path, error))) from error
    except (ValueError, RecursionError) as error:
        raise WrongBeatsError(path, f"{path} {NO_BEATS}: it is not valid JSON.") from error
    beats = [_beat(each) for each in events.beats]
    _check(path, beats)
    return beats


def _fault_texts(path: Path, error: ValidationError) -> Iterator[str]:
    yield f"{path} {NO_BEATS}."
    faults = error.errors(include_url=False, include_context=False, include_input=False)
    for fault in faults[:MOST_TOLD]:
        text = NO_OBJECT if fault["type"] == "model_type" else fault["msg"]
        yield f"{_place(fault['loc'])}: {text}."
    if len(faults) > MOST_TOLD:
        yield f"And {len(faults) - MOST_TOLD:,} more of the kind."


def _place(loc: tuple[int | str, ...]) -> str:
    """Return where a fault is, such as "Entry 3 of its beats, time"."""
    if len(loc) > 1 and isinstance(loc[1], int):
        within = ", ".join(map(str, loc[2:]))
        return f"Entry {loc[1] + 1:,} of its beats" + (f", {within}" if within else "")
    return ", ".join(map(str, loc)) or "The whole"


def _beat(each: _Beat) -> Beat:
    return Beat(
        each.beat,
        each.time,
        each.tempo,
        each.part,
        cycle=each.cycle,
        cycle_beat=each.cycle_beat,
        click=None if each.click is None else Click("throw", each.click),
        throws=ByHand(each.throws.right, each.throws.left),
        objects=ByHand(each.objects.right, each.objects.left),
    )


def _check(path: Path, beats: list[Beat]) -> None:
    """Raise `WrongBeatsError` if the beats are not in order, or a throw cannot be read."""
    for before, after in pairwise(beats):
        if after.beat != before.beat + 1 or after.time <= before.time:
            raise WrongBeatsError(
                path,
                f"{path} {NO_BEATS}: beat {after.beat} at {after.time:g} s comes after beat "
                f"{before.beat} at {before.time:g} s.",
            )
    for beat in beats:
        for throw in (*beat.throws.right, *beat.throws.left):
            try:
                read_throw(throw)
            except MalformedError as error:
                raise WrongBeatsError(path, f"{path}, beat {beat.beat}: {error.message}") from error
