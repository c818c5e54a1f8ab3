"""How a TOML file is read, and what is said of one that cannot be."""

from pathlib import Path
from typing import Any, Final

LARGEST: Final = 4 * 1024 * 1024
"""Bytes of a file, at most: many times what a person writes."""


class TomlFileError(Exception):
    """A file that cannot be read as TOML; its text is one plain sentence."""


def read_toml(place: Path) -> dict[str, Any]:
    """Return the document in a file.

    Raises
    ------
    TomlFileError
        If it is no file, too large, not in UTF-8 or not in TOML; the text says on which line.
    FileNotFoundError, NotADirectoryError
        If there is no such file.
    """
    import tomllib  # only where there is a file

    try:
        return tomllib.loads(_text(place))
    except (FileNotFoundError, NotADirectoryError):
        raise
    except OSError as error:
        raise TomlFileError(f"The system refused: {error.strerror or error}.") from error
    except UnicodeDecodeError as error:
        raise TomlFileError("It is not text in UTF-8.") from error
    except tomllib.TOMLDecodeError as error:
        raise TomlFileError(f"It is not written as TOML has it: {error}.") from error
    except ValueError as error:
        raise TomlFileError("It holds a number with more digits than can be read.") from error
    except RecursionError as error:
        raise TomlFileError("Its brackets are nested deeper than can be read.") from error


def _text(place: Path) -> str:
    with place.open("rb") as file:
        content = file.read(LARGEST + 1)
    if len(content) > LARGEST:
        raise TomlFileError(f"It is larger than {LARGEST:,} bytes.")
    return content.decode("utf-8-sig")
