"""Lists on standard output, written while they are still being found.

Ctrl-C keeps what was found: the lines are there, and a JSON document is closed.
"""

import json
import signal
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from types import FrameType
from typing import Any

import click


def write_lines(lines: Iterable[str]) -> int:
    """Write texts, one a line, and return how many there are."""
    count = 0
    for line in lines:
        click.echo(line)
        count += 1
    return count


def write_json(items: Iterable[Any], name: str = "patterns", **before: object) -> None:
    """Write one JSON document with a list and its count.

    Parameters
    ----------
    name
        Of the list in the document.
    **before
        What comes first in the document.
    """
    _write(json.dumps(before)[:-1] + (", " if before else "") + f'"{name}": [')
    count = 0
    try:
        with _interrupts_held() as hold:
            for item in items:
                hold(True)
                _write((", " if count else "") + json.dumps(item))
                count += 1
                hold(False)
    except KeyboardInterrupt:
        _close(count)
        raise
    _close(count)


def write_count(count: int, as_json: bool) -> None:
    """Write only how many patterns there are; in JSON the list stays empty."""
    empty: Mapping[str, Any] = {"patterns": [], "count": count}
    click.echo(json.dumps(empty) if as_json else str(count))


def count_up(patterns: Iterable[object], as_json: bool) -> None:
    """Count patterns and write how many there are, or were so far when stopped by Ctrl-C."""
    count = 0
    try:
        for _ in patterns:
            count += 1
    except KeyboardInterrupt:
        write_count(count, as_json)
        raise
    write_count(count, as_json)


@contextmanager
def _interrupts_held() -> Iterator[Callable[[bool], None]]:
    """Give a function that holds Ctrl-C back, and lets it through again.

    Between the writing of an item and its count Ctrl-C would make the count wrong.
    """
    held = asked = False

    def interrupt(number: int, frame: FrameType | None) -> None:
        nonlocal asked
        asked = True
        if not held:
            signal.default_int_handler(number, frame)

    def hold(on: bool) -> None:
        nonlocal held
        held = on
        if asked and not on:
            raise KeyboardInterrupt

    if signal.getsignal(signal.SIGINT) is not signal.default_int_handler:
        yield hold  # it is ignored, as behind nohup
        return
    signal.signal(signal.SIGINT, interrupt)
    try:
        yield hold
    finally:
        signal.signal(signal.SIGINT, signal.default_int_handler)


def _write(text: str) -> None:
    sys.stdout.write(text)
    sys.stdout.flush()


def _close(count: int) -> None:
    _write(f'], "count": {count}}}\n')
