"""The beats in a file that `render --events` wrote, to hold a take against."""

import json
from collections.abc import Iterator
from contextlib import AbstractContextManager
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Any, Final

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from caller.console.terminal import told_in_json
from caller.errors import WrongInputError
from engine.catching.expected import read_throw
from engine.errors import MalformedError
from engine.timing.timeline import Beat, ByHand

MOST_TOLD: Final = 3
"""Faults that are told."""

NO_OBJECT: Final = "Input should be an object, in braces"
NO_BEATS: Final = "is no file of beats, such as `throwcount render --events` writes"

LONGEST: Final = 1e6
"""Seconds: eleven days, more than anybody records."""

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
    throws: _ByHand = _ByHand()
    objects: _ByHand = _ByHand()


class _Events(BaseModel):
    """What of the file is needed; what it has besides is left alone."""

    model_config = ConfigDict(allow_inf_nan=False)

    beats: Annotated[list[_Beat], Field(min_length=1)]


def beats_in(path: Path) -> list[Beat]:
    """Return the beats in a file, in order.

    Raises
    ------
    WrongInputError
        If there is no such file, or it is none that `render --events` writes.
    """
    try:
        events = _Events.model_validate(json.loads(path.read_bytes()))
    except OSError as error:
        raise WrongInputError(f"{path} cannot be read: {error.strerror or error}.") from error
    except ValidationError as error:
        raise WrongInputError("\n".join(_told(path, error))) from error
    except (ValueError, RecursionError) as error:
        raise WrongInputError(f"{path} {NO_BEATS}: it is not written as JSON has it.") from error
    beats = [_beat(each) for each in events.beats]
    _check(path, beats)
    return beats


def wrong_beats_told(path: Path, as_json: bool) -> AbstractContextManager[None]:
    """Show what is wrong with a file of beats as the one JSON document; see `told_in_json`."""

    def document(error: WrongInputError) -> dict[str, Any]:
        return {"file": str(path), "valid": False, "message": error.message}

    return told_in_json(WrongInputError, document, as_json=as_json)


def _told(path: Path, error: ValidationError) -> Iterator[str]:
    yield f"{path} {NO_BEATS}."
    faults = error.errors(include_url=False, include_context=False, include_input=False)
    for fault in faults[:MOST_TOLD]:
        told = NO_OBJECT if fault["type"] == "model_type" else fault["msg"]
        yield f"{_place(fault['loc'])}: {told}."
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
        throws=ByHand(each.throws.right, each.throws.left),
        objects=ByHand(each.objects.right, each.objects.left),
    )


def _check(path: Path, beats: list[Beat]) -> None:
    """Refuse beats that cannot be followed.

    Raises
    ------
    WrongInputError
        If a throw is none, or the beats are not in order.
    """
    for before, after in pairwise(beats):
        if after.beat != before.beat + 1 or after.time <= before.time:
            raise WrongInputError(
                f"{path} {NO_BEATS}: beat {after.beat} at {after.time:g} s comes after beat "
                f"{before.beat} at {before.time:g} s."
            )
    for beat in beats:
        for throw in (*beat.throws.right, *beat.throws.left):
            try:
                read_throw(throw)
            except MalformedError as error:
                raise WrongInputError(f"{path}, beat {beat.beat}: {error.message}") from error
