"""Reading a session file: its faults, or the blocks to practise and what is asked of each."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any, Final

from throwcount.caller.options.arguments import NOT_COUNTED, own_word
from throwcount.caller.options.request import Request
from throwcount.caller.options.toml_file import (
    LARGEST,
    KeyPath,
    TomlFile,
    TomlFileError,
    read_toml,
)
from throwcount.caller.routine_file.model import (
    BLOCKS,
    PARTS,
    PHRASES,
    WORDS,
    FaultyFileError,
    FileFault,
    checked,
    is_line,
    phrase_faults,
    with_positions,
    word_faults,
)
from throwcount.caller.routine_file.parts import judged
from throwcount.caller.session_file.model import (
    BLOCK,
    MOST_BLOCKS,
    TOP,
    BlockTable,
    EitherTable,
    SessionTable,
    unknown_key,
)
from throwcount.caller.session_file.rules import CheckedBlock, block_place, block_rules, top_rules
from throwcount.engine.patterns.pattern import Pattern
from throwcount.sounds.errors import InputError
from throwcount.sounds.files.whole_files import read_input

REST_AFTER: Final = 30.0
"""Seconds of rest after a block, where the file does not say."""

NO_SUCH_FILE: Final = (
    "There is no such file; `throwcount plan --new-session FILE` writes one to begin with."
)

TOLD: Final = frozenset({"title", "end", "pattern", "name", "before", "rest-after"})
"""Keys that are no options of `play`."""

HEADER: Final = re.compile(r"^[ \t]*\[\[?[ \t]*block[ \t]*\]", re.MULTILINE)
"""The header of a block, in a text that is no TOML."""

LENGTHS: Final = frozenset({"cycles", "beats", "seconds"})
OF_SETS: Final = frozenset({"sets", "staircase", "clean_sets", "raise_by", "back"})
OF_ATTEMPTS: Final = frozenset({"attempts", "goal", "goal_times"})
CLIMB: Final = frozenset({"raise_by", "back"})
STAIRCASE: Final = frozenset({"staircase", "clean_sets"})
DISPLACED: Final[Mapping[str, frozenset[str]]] = {
    **dict.fromkeys(LENGTHS, LENGTHS),
    "attempts": OF_SETS,
    "sets": OF_ATTEMPTS,
    "staircase": OF_ATTEMPTS | CLIMB,
    **dict.fromkeys(CLIMB, STAIRCASE),
}
"""The options that an option on the command line keeps a block from setting, besides itself."""


class SessionFileError(FaultyFileError):
    """A session file cannot be used."""

    kind = "session"


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A pattern, and how it is practised."""

    pattern: Pattern
    """What is thrown."""
    title: str
    """The name of the block, or else the pattern as it is written."""
    name: str
    """The name of the block; empty if it has none."""
    before: str
    """What is said before the block; empty for nothing."""
    rest_after: float
    """Seconds of rest after it, before the next block."""
    options: Mapping[str, object]
    """Fields of `Request` that the block sets, or the top of the file for it."""

    def request(self, request: Request) -> Request:
        """Return the block's own request; options that were typed win over the file."""
        return _filled(replace(request, subject=self.pattern.text), self.options)


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionFile:
    """What a session file holds."""

    path: Path
    """The file that was read."""
    title: str
    """What the session is called."""
    blocks: tuple[Block, ...]
    """The blocks in order, at least one."""
    end: str
    """What is said at the end; empty for nothing."""
    options: Mapping[str, object]
    """Fields of `Request` that the top of the file sets for all blocks."""

    def request(self, request: Request) -> Request:
        """Return a request with what holds for all blocks; options that were typed win."""
        return _filled(request, self.options)


def _filled(request: Request, options: Mapping[str, object]) -> Request:
    kept = request.typed.union(*(DISPLACED.get(name, ()) for name in request.typed))
    chosen: dict[str, Any] = {name: value for name, value in options.items() if name not in kept}
    return replace(request, **chosen)


def is_session_file(path: Path) -> bool:
    """Return whether a file has a [[block]] and no [[part]], even one that has faults."""
    if not path.is_file():  # what can be read only once is left for whoever reads all of it
        return False
    try:
        values = read_toml(path).values
    except TomlFileError:
        return _looks_like_one(path)
    except OSError:  # It is gone meanwhile.
        return False
    return BLOCKS in values and PARTS not in values


def _looks_like_one(path: Path) -> bool:
    try:
        return HEADER.search(read_input(path, LARGEST).decode("utf-8", "replace")) is not None
    except (OSError, InputError):
        return False


def read_session(path: Path) -> SessionFile:
    """Return the session in a file.

    Raises
    ------
    SessionFileError
        If anything is wrong with it; the error has all of it.
    """
    try:
        file = read_toml(path)
    except (FileNotFoundError, NotADirectoryError):
        raise SessionFileError(path, [FileFault("", "", NO_SUCH_FILE)]) from None
    except TomlFileError as error:
        raise SessionFileError(path, [FileFault("", "", str(error))]) from error
    top, blocks, faults = check_session(file)
    if faults:
        raise SessionFileError(path, faults)
    return _session(path, top, blocks)


def check_session(
    file: TomlFile,
) -> tuple[SessionTable, list[CheckedBlock], list[FileFault]]:
    """Return the top and the blocks of a document as far as they are right, and every fault."""
    given = file.values
    own = {key: value for key, value in given.items() if key != BLOCKS}
    top, faults = checked(SessionTable, own, TOP, "", partial(unknown_key, known=TOP))
    faults += word_faults(given.get(WORDS))
    faults += phrase_faults(given.get(PHRASES))
    faults += top_rules(top)
    blocks: list[CheckedBlock] = []
    tables: dict[str, KeyPath] = {"": ()}
    for number, row in enumerate(_rows(given.get(BLOCKS, []), faults), 1):
        if not isinstance(row, Mapping):
            text = "it is no table: every block is written under a [[block]] of its own."
            faults.append(FileFault(block_place(number), "", text))
            tables[block_place(number)] = (BLOCKS, number - 1)
            continue
        block = _block(row, number, faults)
        tables[block.place] = (BLOCKS, number - 1)
        faults += block_rules(block)
        blocks.append(block)
    return top, blocks, with_positions(faults, file, tables)


def _rows(given: object, faults: list[FileFault]) -> list[object]:
    """Return what stands under `BLOCKS`, as far as it is a list of the right length."""
    if not isinstance(given, list):
        text = "block is a row of tables, each written [[block]] in double brackets."
        faults.append(FileFault("", BLOCKS, text))
        return []
    if not given:
        text = 'There is nothing to practise: write a [[block]] with pattern = "3".'
        faults.append(FileFault("", BLOCKS, text))
    if len(given) > MOST_BLOCKS:
        faults.append(FileFault("", BLOCKS, f"A session has at most {MOST_BLOCKS:,} blocks."))
    return given[:MOST_BLOCKS]


def _block(row: Mapping[str, Any], number: int, faults: list[FileFault]) -> CheckedBlock:
    name = row.get("name")
    place = block_place(number, name if is_line(name) else None)
    table, wrong = checked(BlockTable, row, BLOCK, place, partial(unknown_key, known=BLOCK))
    faults += wrong
    pattern = None
    if table.pattern is not None:
        pattern, sentence, under = judged(table.pattern)
        if sentence:
            faults.append(FileFault(place, "pattern", sentence, under))
    present = frozenset(key for key, value in row.items() if value is not False)
    return CheckedBlock(number, present, table, pattern)


def _session(path: Path, top: SessionTable, blocks: list[CheckedBlock]) -> SessionFile:
    """Return the session in a document without faults."""
    shared = dict(_options(top, path.parent))
    usual_rest = REST_AFTER if top.rest_after is None else top.rest_after
    return SessionFile(
        path=path,
        title=top.title or path.stem,
        blocks=tuple(
            Block(
                pattern=block.pattern,
                title=block.table.name or block.table.pattern or "",
                name=block.table.name or "",
                before=block.table.before or "",
                rest_after=usual_rest if block.table.rest_after is None else block.table.rest_after,
                options=shared | dict(_options(block.table, path.parent)),
            )
            for block in blocks
            if block.pattern is not None
        ),
        end=top.end or "",
        options=shared,
    )


def _options(table: EitherTable, folder: Path) -> Iterator[tuple[str, object]]:
    """Yield the fields of `Request` that a table sets, as `Request` has them."""
    for name, value in table:
        if value is None or value == {} or name.replace("_", "-") in TOLD:
            continue
        match name, value:
            case "unmarked", _:
                yield name, None if value == NOT_COUNTED else value
            case "voice", str() if (folder / value).is_dir():
                yield name, str(folder / value)
            case "names", str():
                yield name, tuple(each.strip() for each in value.split(","))
            case "words", dict():
                words = (own_word(f"{throw}={word}") for throw, word in value.items())
                yield "word", dict(filter(None, words))
            case "phrases", dict():
                yield "phrase", {key.lower(): text.strip() for key, text in value.items()}
            case _:
                yield name, value
