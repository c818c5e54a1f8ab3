"""A near miss: what somebody who mistyped a name is likely to have meant."""

from collections.abc import Iterable


def near(text: str, known: Iterable[str]) -> str:
    """Return a question about the likely meaning of `text`, or nothing where none is near.

    Capitals do not matter; the name is told as it is written.
    """
    from difflib import get_close_matches  # only where something was mistyped

    written: dict[str, str] = {}
    for name in known:
        written.setdefault(name.lower(), name)
    found = get_close_matches(text.lower(), written, n=1)
    return f" Did you mean {written[found[0]]!r}?" if found else ""
