"""Text that the terminal can show, guesses at mistyped names, and the errors of the command line.

Each error is one plain sentence or two, and has one exit status.
"""

import os
import shutil
import sys
from collections.abc import Iterable, Mapping
from contextlib import suppress
from typing import IO, Any, Final

import click

USUAL_SIZE: Final = os.terminal_size((80, 24))


CONTROLS: Final = {
    code: f"\\x{code:02x}" for code in (*range(0x20), *range(0x7F, 0xA0)) if chr(code) not in "\t\n"
}
"""What a terminal obeys instead of showing it, from C0 and C1 (ISO 6429)."""

ORDERS: Final = {
    code: f"\\u{code:04x}" for code in (*range(0x202A, 0x202F), *range(0x2066, 0x206A))
}
"""What changes the order of the characters around it (Unicode Standard Annex 9, section 2)."""

VISIBLE: Final = CONTROLS | ORDERS


def visible(text: str) -> str:
    """Return `text` as it is to be seen: with codes for what would drive the terminal."""
    return text.translate(VISIBLE)


def printable(text: str, *, errors: bool = False) -> str:
    """Return `text` made `visible`, with question marks for what standard output cannot encode.

    `errors` tells whether it goes to standard error instead.
    """
    return encodable(visible(text), errors=errors)


def encodable(text: str, *, errors: bool = False) -> str:
    """Return `text` with question marks for what cannot be encoded; as in `printable`."""
    stream = sys.stderr if errors else sys.stdout
    encoding = getattr(stream, "encoding", None) or "utf-8"
    return text.encode(encoding, "replace").decode(encoding)


def can_print(text: str, *, errors: bool = False) -> bool:
    """Return whether the output can encode `text`; parameters as in `printable`."""
    return printable(text, errors=errors) == text


def folded(text: str, *, errors: bool = False) -> str:
    """Return `text` in lines that the terminal does not cut within a word.

    Where the output is not a terminal, lines stay whole for whatever reads them. Parameters are as
    in `printable`.
    """
    stream = sys.stderr if errors else sys.stdout
    if stream is None or not stream.isatty():
        return text
    from textwrap import TextWrapper  # not needed for tables

    wrapper = TextWrapper(terminal_size().columns, break_long_words=False, break_on_hyphens=False)
    return "\n".join(
        line if len(line) <= wrapper.width else wrapper.fill(line) for line in text.splitlines()
    )


def terminal_size() -> os.terminal_size:
    """Return the columns and lines of the terminal, even where the output is piped to a pager."""
    return shutil.get_terminal_size(fallback=_size_beside())


def _size_beside() -> os.terminal_size:
    """Return the size of the terminal of the other streams, or else the usual size."""
    for stream in (sys.__stderr__, sys.__stdin__):
        with suppress(OSError, ValueError):
            size = None if stream is None else os.get_terminal_size(stream.fileno())
            if size is not None and size.columns > 0:  # some terminals do not know their size
                return size
    return USUAL_SIZE


TRACEBACK_VARIABLE: Final = "THROWCOUNT_TRACEBACK"
"""An environment variable that makes a fault of the program itself show its traceback."""


AS_JSON: Final = "throwcount.as_json"
"""The key in a context's `meta` that tells whether one JSON document is to be printed."""


class PlainError(click.ClickException):
    """An error that is shown as it stands, without a label before it.

    `document` is what is told where one JSON document is asked for; None for the message alone.
    """

    def __init__(self, message: str, document: Mapping[str, Any] | None = None) -> None:
        super().__init__(message)
        self._document = document

    @property
    def document(self) -> Mapping[str, Any]:
        """What went wrong, as the one JSON document."""
        return {"message": self.message} if self._document is None else self._document

    def show(self, file: IO[Any] | None = None) -> None:
        """Write the text to standard error, or to `file`, without cutting words on a terminal."""
        if self.message:
            text = folded(printable(self.message, errors=True), errors=True)
            click.echo(text, file=file, err=True)


class WrongInputError(PlainError):
    """The input was understood, and is wrong."""

    exit_code = 1


class WrongCommandError(PlainError):
    """The command line is wrong."""

    exit_code = 2


class OutsideError(PlainError):
    """Something outside failed, such as a sound device or a full disk."""

    exit_code = 3


class InterruptedByPersonError(PlainError):
    """The person stopped the command with Ctrl-C; shells use this status for that signal."""

    exit_code = 130


FEWEST_CHARACTERS: Final = 3
"""Characters of a text that a name may hold to be taken for it, at least."""


def near(text: str, known: Iterable[str]) -> str:
    """Return a question that names the one of `known` nearest to `text`; empty if none is near.

    If none is spelt nearly so, it is the first that holds the text. Capitals do not matter.
    """
    from difflib import get_close_matches  # only where something was mistyped

    written: dict[str, str] = {}
    for name in known:
        written.setdefault(name.lower(), name)
    found = get_close_matches(text.lower(), written, n=1)
    if len(text) >= FEWEST_CHARACTERS:
        found += [name for name in written if text.lower() in name]
    return f" Did you mean {written[found[0]]!r}?" if found else ""


ASK_FIRST: Final = "To record other people, ask them first; where you are, the law may demand it."
