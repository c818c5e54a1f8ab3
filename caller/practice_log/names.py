"""Names that a person gives, in the one form that the log keeps."""

from typing import Final

LONGEST_NAME: Final = 60


def tidied(name: str) -> str:
    """Return a name in lower case, in one line, with what cannot be shown left out.

    `name` is any text whatever; what follows the first `LONGEST_NAME` characters is left out too.
    """
    shown = "".join(char if char.isprintable() else " " for char in name)
    return " ".join(shown.lower().split())[:LONGEST_NAME].rstrip()
