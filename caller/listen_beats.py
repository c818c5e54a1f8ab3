"""The beats in a file that `render --events` wrote, to hold a take against."""

import json
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Final

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from caller.errors import WrongInputError
from engine.errors import MalformedError
from engine.notation import parse
from engine.timeline import Beat, ByHand

MOST_TOLD: Final = 3
"""Faults that are told."""


class _ByHand(BaseModel):
    right: tuple[str, ...] = ()
    left: tuple[str, ...] = ()


class _Beat(BaseModel):
    beat: int
    time: Annotated[float, Field(ge=0)]
    tempo: Annotated[float, Field(gt=0)]
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
        events = _Events.model_validate(json.loads(path.read_text("utf-8")))
    except OSError as error:
        raise WrongInputError(f"{path} cannot be read: {error.strerror}.") from error
    except ValidationError as error:
        raise WrongInputError("\n".join(_told(path, error))) from error
    except ValueError as error:
        raise WrongInputError(f"{path} is no JSON: {error}.") from error
    beats = [_beat(each) for each in events.beats]
    _check(path, beats)
    return beats


def _told(path: Path, error: ValidationError) -> Iterator[str]:
    yield f"{path} is no file of beats, such as `throwcount render --events` writes."
    for fault in error.errors(include_url=False)[:MOST_TOLD]:
        place = ".".join(map(str, fault["loc"])) or "the whole"
        yield f"{place}: {fault['msg']}."


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
            raise WrongInputError(f"{path}: beat {after.beat} is out of order.")
    for beat in beats:
        for throw in (*beat.throws.right, *beat.throws.left):
            try:
                parse(f"({throw},0)" if throw.endswith("x") else throw)
            except MalformedError as error:
                raise WrongInputError(
                    f"{path}: “{throw}” on beat {beat.beat} is no throw."
                ) from error
