"""A routine's own wishes and the command line become one: what is typed wins over the file."""

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import click

from caller.options.request import Request

if TYPE_CHECKING:
    from caller.routine_file.reading import RoutineFile

NOT_OF_A_ROUTINE: Final = ("tempo", "to", "curve", "step", "every", "cycles", "beats", "seconds")
"""Options that a routine file answers for each of its parts."""


def refuse_without_routine(request: Request) -> None:
    """Refuse what only a routine has.

    Raises
    ------
    click.UsageError
        If a part or a share of the tempo was named for a single pattern.
    """
    for option, given in (("--from", request.begin), ("--percent", request.percent)):
        if given is not None:
            raise click.UsageError(f"{option} is for a routine file; this is a single pattern.")


def refuse_with_routine(request: Request) -> None:
    """Refuse what moves the tempo of a pattern from set to set.

    Raises
    ------
    click.UsageError
        If there is something of the kind.
    """
    moved = {"--raise": request.raise_by, "--staircase": request.staircase}
    moved |= {"--resume": request.resume, "--rounds": request.rounds > 1}
    for option, given in moved.items():
        if given:
            raise click.UsageError(
                f"{option} is for a single pattern; a routine is slowed down or sped up with "
                "--percent, and repeated with --sets."
            )


def filled_from(request: Request, file: "RoutineFile") -> Request:
    """Return a request with what a routine file wishes, where the person typed nothing.

    Raises
    ------
    click.UsageError
        If something was typed that the file alone can say.
    """
    for name in NOT_OF_A_ROUTINE:
        if name in request.typed:
            raise click.UsageError(
                f"--{name} is for a single pattern; {file.path} gives the tempo and the length of "
                "each part. Use --percent to rehearse it slower or faster."
            )
    wishes = {
        "say": file.say,
        "word": file.words or None,
        "names": file.names or None,
        "voice": file.voice,
        "language": file.language,
        "phrase": file.phrases or None,
        "clicks": file.clicks,
        "voice_level": file.voice_level,
        "click_level": file.click_level,
        "first": file.first,
        "count_in": file.count_in,
        "ready": file.routine.ready,
        "ceiling": file.ceiling,
        "hands": file.hands,
        "dwell": file.dwell,
    }
    wished: dict[str, Any] = {
        name: value
        for name, value in wishes.items()
        if value is not None and name not in request.typed
    }
    return replace(request, **wished, props=request.props or file.props or "")
