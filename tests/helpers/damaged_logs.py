"""A practice log in which every row has a word of its own, and ways to damage its pages.

The words tell, without reading the layout of the file, in which pages a row stands.
"""

import random
import re
import sqlite3
from collections.abc import Callable, Iterable
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeAlias

from kept_takes import TAKE

from throwcount.caller.log.log import PracticeLog
from throwcount.caller.log.records import Plan, Thrown
from throwcount.engine.patterns.rules import read

PAGE = 4096
SETS = 150
"""Sets of the log that is damaged."""
TABLES = ("sessions", "sets", "marks", "takes")
PATTERNS = [read(text) for text in ("531", "315", "744", "(4,2x)*", "[33]33", "97531")]

WORD = re.compile(rb"word-[a-z]+-[0-9]{6}")

Rows: TypeAlias = dict[tuple[str, int], tuple[Any, ...]]


def make_log(path: Path, sets: int, seed: int = 0) -> None:
    """Practise as a program does, and give each row its word."""
    chance = random.Random(seed)
    now = 1_775_000_000.0
    with PracticeLog.open(path, lambda: now) as log:
        session = 0
        for index in range(sets):
            if index % 6 == 0:
                session = log.begin_session("clubs", f"word-session-{index:06}", "/home/me/w.toml")
            plan = Plan(chance.choice(PATTERNS), 150.0, 60, part=f"word-set-{index:06}")
            number = log.begin_set(session, plan)
            log.progress(number, Thrown(12, 4.8, 150.0, 10))
            for beat in range(chance.randrange(4)):
                log.mark(number, chance.choice(("clean", "drop")), beat)
            now += chance.randrange(20, 200)
            log.end_set(number, Thrown(60, 24.0, 155.0, 57))
            if index % 20 == 0:
                # Some reports are longer than a page.
                report = {"remarks": ["x" * chance.choice((10, 5000, 9000))]}
                log.keep_take(replace(TAKE, title=f"word-take-{index:06}", report=report))
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("UPDATE marks SET given_by = printf('word-mark-%06d', id)")
        connection.commit()


def rows_of(path: Path) -> Rows:
    """Return all rows, as SQLite reads them."""
    with closing(sqlite3.connect(path)) as connection:
        return {
            (table, row[0]): row
            for table in TABLES
            for row in connection.execute(f"SELECT * FROM {table}")
        }


def pages_of(path: Path, rows: Rows) -> dict[tuple[str, int], set[int]]:
    """Return the pages, from 0, in which the word of each row is found."""
    keys = {
        value: key
        for key, row in rows.items()
        for value in row
        if isinstance(value, str) and WORD.fullmatch(value.encode())
    }
    found: dict[tuple[str, int], set[int]] = {key: set() for key in rows}
    for word in WORD.finditer(path.read_bytes()):
        found[keys[word[0].decode()]].add(word.start() // PAGE)
    return found


def with_noise(content: bytes, places: Iterable[int], chance: random.Random, length: int) -> bytes:
    """Return content with random bytes at places."""
    damaged = bytearray(content)
    for place in places:
        damaged[place : place + length] = chance.randbytes(min(length, len(content) - place))
    return bytes(damaged)


def changed(path: Path, *statements: str) -> None:
    with closing(sqlite3.connect(path)) as connection:
        for statement in statements:
            connection.execute(statement)
        connection.commit()


def overwritten(start: int, length: int) -> Callable[[bytes], bytes]:
    return lambda content: with_noise(content, [start], random.Random(start), length)
