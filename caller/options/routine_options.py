"""A routine's own wishes and the command line become one: what is typed wins over the file."""

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import click

from caller.options.arguments import is_typed
from caller.options.shared_options import Options

if TYPE_CHECKING:
    from caller.routine_file.reading import RoutineFile

NOT_OF_A_ROUTINE: Final = ("tempo", "to", "curve", "step", "every", "cycles", "beats", "seconds")
"""Options that a routine file answers for each of its parts."""


def refuse_without_routine(options: Options) -> None:
    """Refuse what only a routine has.

    Raises
    ------
    click.UsageError
        If a part or a share of the tempo was named for a single pattern.
    """
    for option, given in (("--from", options.begin), ("--percent", options.percent)):
        if given is not None:
            raise click.UsageError(f"{option} is for a routine file; this is a single pattern.")


def with_wishes(options: Options, file: "RoutineFile") -> Options:
    """Return the options with what the file wishes where the command line says nothing.

    Parameters
    ----------
    options
        As they came from the command line and the settings.
    file
        The routine.

    Raises
    ------
    click.UsageError
        If something was typed that the file alone can say.
    """
    ctx = click.get_current_context()  # which knows what was typed
    typed = {name for name in ctx.params if is_typed(ctx, name)}
    for name in NOT_OF_A_ROUTINE:
        if name in typed:
            raise click.UsageError(
                f"--{name} is for a single pattern; {file.path} gives the tempo and the length of "
                "each part. Use --percent to rehearse it slower or faster."
            )
    wishes = {name: value for name, value in _wishes(file).items() if name not in typed}
    return replace(options, **wishes)


def _wishes(file: "RoutineFile") -> Mapping[str, Any]:
    """Return what the file says, by the names of the options."""
    found = {
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
    }
    return {name: value for name, value in found.items() if value is not None}
