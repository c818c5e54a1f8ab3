"""A TOML file read, with the line and column of each of its keys and tables, for what is told.

The document is what `tomllib` makes of it. That tells no positions, so the text of a document that
it has read is gone through once more, and each key and table header is noted where it stands.
"""

import re
from bisect import bisect
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, Final, NamedTuple, TypeAlias

LARGEST: Final = 4 * 1024 * 1024
"""Bytes of a file, at most: many times what a person writes."""

KeyPath: TypeAlias = tuple[str | int, ...]
"""The keys that lead to a value, with the index of each table in a row of tables, from zero."""

DEEPEST: Final = 32
"""Keys of a path that is noted, at most."""


class TomlFileError(Exception):
    """A file that cannot be read as TOML; its text is one plain sentence."""


class TextPosition(NamedTuple):
    """A place in a text; both are counted from one."""

    line: int
    column: int


@dataclass(frozen=True)
class TomlFile:
    """A file that was read."""

    values: dict[str, Any]
    """The document."""
    text: str
    """What was read, with a plain line feed at the end of each line."""

    def position(self, path: KeyPath) -> TextPosition | None:
        """Return where a key or table stands, or else the nearest one around it that is noted."""
        for length in range(min(len(path), DEEPEST), 0, -1):
            found = self._positions.get(path[:length])
            if found is not None:
                return found
        return None

    @cached_property
    def _positions(self) -> dict[KeyPath, TextPosition]:
        lines = [0, *(found.end() for found in re.finditer("\n", self.text))]
        positions: dict[KeyPath, TextPosition] = {}
        for path, offset in _written_keys(self.text):
            line = bisect(lines, offset)
            here = TextPosition(line, offset - lines[line - 1] + 1)
            for length in range(1, min(len(path), DEEPEST) + 1):
                positions.setdefault(path[:length], here)
        return positions


def read_toml(place: Path) -> TomlFile:
    """Return what a file holds.

    Raises
    ------
    TomlFileError
        If it is not a file, too large, not in UTF-8 or not in TOML; the text says on which line.
    FileNotFoundError, NotADirectoryError
        If there is no such file.
    """
    import tomllib  # only where there is a file

    from throwcount.sounds.errors import InputError
    from throwcount.sounds.files.whole_files import read_input  # likewise

    try:
        text = read_input(place, LARGEST).decode("utf-8-sig").replace("\r\n", "\n")
        return TomlFile(tomllib.loads(text), text)
    except (FileNotFoundError, NotADirectoryError):
        raise
    except InputError as error:
        raise TomlFileError(str(error)) from error
    except OSError as error:
        raise TomlFileError(f"The system refused: {error.strerror or error}.") from error
    except UnicodeDecodeError as error:
        raise TomlFileError("It is not text in UTF-8.") from error
    except tomllib.TOMLDecodeError as error:
        raise TomlFileError(f"It is not valid TOML: {error}.") from error
    except ValueError as error:
        raise TomlFileError("It holds a number with more digits than can be read.") from error
    except RecursionError as error:
        raise TomlFileError("Its brackets are nested deeper than can be read.") from error


def located(position: TextPosition | None, sentence: str) -> str:
    """Return a sentence with its line before it, and the column where that is not the first."""
    if position is None:
        return sentence
    column = f", column {position.column}" if position.column > 1 else ""
    return f"Line {position.line}{column}: {sentence}"


_KEY: Final = r"""(?:[A-Za-z0-9_-]+|"(?:[^"\\\n]|\\.)*"|'[^'\n]*')"""
_KEYS: Final = re.compile(rf"{_KEY}(?:[ \t]*\.[ \t]*{_KEY})*")
_HEADER: Final = re.compile(r"\[(\[?)[ \t]*")
_BETWEEN: Final = re.compile(r"(?:[ \t\n]|#[^\n]*)*")
_TOKEN: Final = re.compile(
    r'''"""(?:\\.|[^\\])*?""""{0,2}|\'\'\'.*?\'\'\''{0,2}|"(?:[^"\\\n]|\\.)*"|'[^'\n]*\''''
    r"""|\#[^\n]*|(?P<opens>[\[{])|(?P<closes>[\]}])|(?P<ends>\n)|[^"'\#\[\]{}\n]+""",
    re.DOTALL,
)
"""What a value is made of, as far as it matters where the value ends."""


def _written_keys(text: str) -> Iterator[tuple[KeyPath, int]]:
    """Yield the path of each table header and each key in valid TOML, and where it begins."""
    rows: dict[KeyPath, int] = {}
    table: KeyPath = ()
    here = _end(_BETWEEN, text, 0)
    while here < len(text):
        header = _HEADER.match(text, here)
        keys = _KEYS.match(text, header.end() if header else here)
        if keys is None:
            return
        named = _names(keys[0])[:DEEPEST]
        if header is None:
            if len(table) < DEEPEST:
                yield table + named, here
        else:
            table = _in_rows(named[:-1], rows) + named[-1:]
            if header[1]:
                rows[table] = rows.get(table, -1) + 1
                table += (rows[table],)
            yield table, here
        here = _end(_BETWEEN, text, _line_end(text, keys.end()))


def _names(keys: str) -> KeyPath:
    """Return the names in dotted keys, such as ``a."b c"``."""
    import tomllib

    if "." not in keys and keys[0] not in "\"'":
        return (keys,)
    names, inner = [], tomllib.loads(f"{keys} = 0")
    while isinstance(inner, dict):
        ((name, inner),) = inner.items()
        names.append(name)
    return tuple(names)


def _in_rows(names: KeyPath, rows: dict[KeyPath, int]) -> KeyPath:
    """Return the path to a table, in the last table of each row of tables on the way."""
    path: KeyPath = ()
    for name in names:
        path += (name,)
        if path in rows:
            path += (rows[path],)
    return path


def _line_end(text: str, here: int) -> int:
    """Return where the value or header ends that goes on from `here`."""
    depth = 0
    for token in _TOKEN.finditer(text, here):
        if token["opens"]:
            depth += 1
        elif token["closes"]:
            depth -= 1
        elif token["ends"] and depth <= 0:
            return token.end()
    return len(text)


def _end(pattern: re.Pattern[str], text: str, here: int) -> int:
    found = pattern.match(text, here)
    return found.end() if found else here
