"""The entry point: the command ``throwcount``, which loads each of its commands when it is run."""

import gc
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from typing import Any

import click

from throwcount.caller.commands import HELP_OPTIONS, SUMMARIES
from throwcount.caller.terminal.text import (
    AS_JSON,
    TRACEBACK_VARIABLE,
    InterruptedByPersonError,
    OutsideError,
    PlainError,
    WrongCommandError,
    WrongInputError,
    visible,
)

GARBAGE_OBJECTS = 50_000
"""New objects after which garbage is looked for: loading makes many of them, and no garbage."""

EPILOG = """\
\b
Examples:
  throwcount check 531
  throwcount play 531 --tempo 160
  throwcount render 744 -o 744.wav

\b
To complete commands and options with the Tab key, add one line:
  bash, to ~/.bashrc  eval "$(_THROWCOUNT_COMPLETE=bash_source throwcount)"
  zsh, to ~/.zshrc    eval "$(_THROWCOUNT_COMPLETE=zsh_source throwcount)"
  fish, in ~/.config/fish/completions/throwcount.fish
                      _THROWCOUNT_COMPLETE=fish_source throwcount | source
"""


class LazyGroup(click.Group):
    """A group that knows its commands by name and summary, and imports a command to run it."""

    def list_commands(self, _ctx: click.Context) -> list[str]:
        """Return the names of the commands in the order of the table."""
        return list(self.commands)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Return the name of a command, the command itself, and the remaining arguments."""
        name, stub, rest = super().resolve_command(ctx, args)
        if stub is None:
            return name, stub, rest
        command: click.Command = getattr(
            import_module(f"throwcount.caller.commands.{name}"), f"{name}_command"
        )
        return name, command, rest

    def make_context(
        self,
        info_name: str | None,
        args: list[str],
        parent: click.Context | None = None,
        **extra: Any,  # noqa: ANN401 - as in click
    ) -> click.Context:
        """Read the arguments up to the name of the command; errors as those of `invoke`."""
        with plain_errors():
            return super().make_context(info_name, args, parent, **extra)

    def invoke(self, ctx: click.Context) -> object:
        """Run the command; whatever goes wrong becomes a plain sentence and an exit status."""
        from throwcount.sounds.files.whole_files import files_of_one_command

        with _told_in_json(ctx), plain_errors(), files_of_one_command():
            return super().invoke(ctx)


def _show_version(ctx: click.Context, _param: click.Parameter, asked: bool) -> None:
    if not asked or ctx.resilient_parsing:
        return
    from importlib.metadata import PackageNotFoundError, version  # slow, and only needed here

    try:
        click.echo(f"throwcount {version('throwcount')}")
    except PackageNotFoundError as error:
        raise OutsideError(
            "The version is known once throwcount is installed; this copy runs from its sources."
        ) from error
    ctx.exit()


@click.group(
    cls=LazyGroup,
    commands={name: click.Command(name, help=text) for name, text in SUMMARIES.items()},
    context_settings=HELP_OPTIONS,
    epilog=EPILOG,
)
@click.option(
    "--version",
    is_flag=True,
    expose_value=False,
    is_eager=True,
    callback=_show_version,
    help="Show the version and exit.",
)
def throwcount() -> None:
    """Hear a juggling pattern: clicks and spoken throws, exactly on the beat.

    A PATTERN is a row of throw values, such as 531 or 744. Pairs thrown together stand in
    brackets, (4,2x)*, and several objects from one hand in square ones, [33]33. Quote both.
    """


def run() -> None:
    """Run ``throwcount`` on the arguments of this process; never returns."""
    gc.set_threshold(GARBAGE_OBJECTS)
    throwcount(prog_name="throwcount")


@contextmanager
def plain_errors() -> Iterator[None]:
    """Turn whatever is raised inside into an error that click shows, with an exit status."""
    try:
        yield
    except click.ClickException as error:
        vars(error)["message"] = visible(error.message)
        raise
    except (click.exceptions.Exit, click.Abort):
        raise
    except KeyboardInterrupt:
        raise InterruptedByPersonError("") from None
    except BrokenPipeError:
        # The reader, such as `head`, has seen enough: nothing went wrong.
        _discard_output()
        raise click.exceptions.Exit(0) from None
    except Exception as error:
        _discard_output()
        raise _plain(error) from error


@contextmanager
def _told_in_json(ctx: click.Context) -> Iterator[None]:
    """Show what went wrong as the one JSON document, where that is asked for.

    What is wrong with the command line stays a sentence, and so does an output that is full.
    """
    try:
        yield
    except (WrongInputError, OutsideError) as error:
        cause = error.__cause__
        unwritable = isinstance(cause, OSError) and cause.filename is None
        if unwritable or not ctx.meta.get(AS_JSON):
            raise
        from throwcount.caller.terminal.printing import show_json

        with plain_errors():
            show_json(error.document)
        raise click.exceptions.Exit(error.exit_code) from error


def _plain(error: Exception) -> PlainError:
    from throwcount.engine.errors import EngineError
    from throwcount.sounds.errors import ClashError, SoundError

    if isinstance(error, ClashError):
        return WrongCommandError(str(error))
    if isinstance(error, EngineError):
        return WrongInputError(str(error))
    if isinstance(error, SoundError):
        return OutsideError(str(error))
    if isinstance(error, OSError):
        place = f" ({error.filename})" if error.filename else ""
        return OutsideError(f"The system refused: {error.strerror or error}{place}.")
    if TRACEBACK_VARIABLE in os.environ:
        raise error
    return OutsideError(
        f"This is a fault in throwcount, not in what you typed: {type(error).__name__}: {error}. "
        f"With {TRACEBACK_VARIABLE}=1 set it shows where."
    )


def _discard_output() -> None:
    """Discard what cannot be written, or Python would fail on it again when it exits."""
    if sys.stdout is None:
        return
    try:
        sys.stdout.flush()
    except OSError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
