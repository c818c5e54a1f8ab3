"""What the terminal can write: not every one knows every sign."""

import sys


def printable(text: str, *, errors: bool = False) -> str:
    """Return `text` with what the output cannot encode replaced by question marks.

    Parameters
    ----------
    text
        Any text.
    errors
        Whether it goes to standard error instead of standard output.
    """
    stream = sys.stderr if errors else sys.stdout
    encoding = getattr(stream, "encoding", None) or "utf-8"
    return text.encode(encoding, "replace").decode(encoding)


def can_print(text: str, *, errors: bool = False) -> bool:
    """Return whether the output can encode `text`; parameters as in `printable`."""
    return printable(text, errors=errors) == text
