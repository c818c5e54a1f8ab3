"""What can go wrong on the command line: one plain sentence and one exit status each."""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import IO, Any, Final

import click

from caller.console.printable import folded, printable

TRACEBACK_VARIABLE: Final = "THROWCOUNT_TRACEBACK"
"""Set in the environment, it lets a fault of the program itself show where it happened."""


class PlainError(click.ClickException):
    """An error whose text stands alone, without a label before it."""

    def show(self, file: IO[Any] | None = None) -> None:
        """Write the text on standard error, or on `file`, without cutting words on a terminal."""
        if self.message:
            text = folded(printable(self.message, errors=True), errors=True)
            click.echo(text, file=file, err=True)


class WrongInputError(PlainError):
    """The input was understood and is wrong."""

    exit_code = 1


class OutsideError(PlainError):
    """Something outside failed: no sound device, a full disk."""

    exit_code = 3


class InterruptedByPersonError(PlainError):
    """The person stopped the command (Ctrl-C); the status is the shells' for that signal."""

    exit_code = 130


@contextmanager
def told_plainly() -> Iterator[None]:
    """Turn whatever is raised inside into an error that click shows and exits with."""
    try:
        yield
    except (click.ClickException, click.exceptions.Exit, click.Abort):
        raise
    except KeyboardInterrupt:
        raise InterruptedByPersonError("") from None
    except BrokenPipeError:
        # The reader (such as `head`) has seen enough: nothing went wrong.
        _discard_output()
        raise click.exceptions.Exit(0) from None
    except Exception as error:
        _discard_output()
        raise _plain(error) from error


def _plain(error: Exception) -> PlainError:
    from engine.errors import EngineError  # `--help` does without the engine
    from sounds.errors import SoundError  # nor does it need sound

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
    """Send what cannot be written nowhere, or Python would fail on it again on its way out."""
    if sys.stdout is None:
        return
    try:
        sys.stdout.flush()
    except OSError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
