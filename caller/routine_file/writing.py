"""A document as TOML text."""

import json
from collections.abc import Iterator, Mapping
from typing import Any

from caller.routine_file.model import PARTS


def toml_lines(document: Mapping[str, Any], around: str = "") -> Iterator[str]:
    """Yield the lines of a document.

    Parameters
    ----------
    document
        Texts without control characters, numbers, truths, lists of these, tables of them, and
        under `PARTS` a list of documents. Keys are plain words or digits.
    around
        What stands before the names of its tables, such as "part.".
    """
    tables = {key: value for key, value in document.items() if isinstance(value, Mapping)}
    for key, value in document.items():
        if key not in tables and key != PARTS:
            yield f"{key} = {_value(value)}\n"
    for key, table in tables.items():
        yield f"\n[{around}{key}]\n"
        yield from toml_lines(table, f"{around}{key}.")
    for part in document.get(PARTS, ()):
        yield f"\n[[{around}{PARTS}]]\n"
        yield from toml_lines(part, f"{around}{PARTS}.")


def _value(value: object) -> str:
    """Return a value; what JSON has is written so in TOML too."""
    return json.dumps(value, ensure_ascii=False)
