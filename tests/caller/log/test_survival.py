"""What was kept outlives the process that kept it, and several may keep at once."""

import multiprocessing
import random
import time
from collections import Counter
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any, TypeAlias

import pytest
from practising import practise, write_marks
from waiting import LIMIT

from throwcount.caller.log.history import History

Told: TypeAlias = tuple[Any, ...]

ROUNDS = 8
AT_ONCE = 3
LONGEST_LIFE = 0.2
MARKS_OF_EACH = 60


@pytest.fixture(scope="module")
def starts() -> Any:  # noqa: ANN401 - a context of multiprocessing, whose kinds have no common name
    """How processes are started: from one that has loaded everything, where there is such a way."""
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["practising"])
    return context


def started(starts: Any, *arguments: object) -> tuple[BaseProcess, Connection]:  # noqa: ANN401
    listener, teller = starts.Pipe(duplex=False)
    path, *others = arguments
    process = starts.Process(target=practise, args=(path, teller, *others))
    process.start()
    teller.close()
    return process, listener


def started_writing(starts: Any, path: Path, marks: int) -> tuple[BaseProcess, Connection]:  # noqa: ANN401
    listener, teller = starts.Pipe(duplex=False)
    process = starts.Process(target=write_marks, args=(path, teller, marks))
    process.start()
    teller.close()
    return process, listener


def told(listener: Connection) -> list[Told]:
    """Return what a process told until its end."""
    heard = []
    try:
        while True:
            heard.append(listener.recv())
    except EOFError:
        # What was being told when the process was killed is not whole, and does not count.
        return heard


def kept(path: Path) -> set[Told]:
    """Return what the log has, in the words of the practising process."""
    things: set[Told] = set()
    with History.open(path) as history:
        for one in history.sets():
            things.add(("begun", one.number))
            things |= {("mark", one.number, each.mark, each.beat) for each in one.marks}
            if one.status == "finished":
                things.add(("ended", one.number, one.beats_thrown))
    return things


def test_kill_at_any_moment_loses_no_mark_given_and_no_set_ended(
    path: Path,
    starts: Any,  # noqa: ANN401 - as above
) -> None:
    chance = random.Random(20_260_331)
    acknowledged: list[Told] = []
    for turn in range(ROUNDS):
        alive = [started(starts, path, turn * AT_ONCE + index) for index in range(AT_ONCE)]
        assert all(listener.poll(LIMIT) for _, listener in alive)
        # From here on all of them are writing; each is killed at a moment of its own.
        for process, _ in alive:
            time.sleep(chance.uniform(0, LONGEST_LIFE / AT_ONCE))
            process.kill()
        for process, listener in alive:
            acknowledged += told(listener)
            process.join()
            assert process.exitcode not in {0, 1}, "it ended before it was killed"
    in_log = kept(path)
    assert set(acknowledged) <= in_log
    # A killed process may have kept one thing that it had no time to tell, and no more.
    assert len(in_log) <= len(acknowledged) + ROUNDS * AT_ONCE
    words = Counter(thing[0] for thing in acknowledged)
    assert min(words[word] for word in ("begun", "mark", "ended")) > ROUNDS


def test_several_processes_at_once(
    path: Path,
    starts: Any,  # noqa: ANN401 - as above
) -> None:
    sets = 30
    alive = [started(starts, path, seed, sets) for seed in range(3)]
    things = [thing for _, listener in alive for thing in told(listener)]
    for process, _ in alive:
        process.join()
        assert process.exitcode == 0
    assert set(things) == kept(path)
    with History.open(path) as history:
        assert [session.sets for session in history.sessions()] == [sets] * 3
        assert all(session.whole for session in history.sessions())


def test_six_practices_at_full_speed_lose_no_mark_and_none_gives_up(
    path: Path,
    starts: Any,  # noqa: ANN401 - as above
) -> None:
    alive = [started_writing(starts, path, MARKS_OF_EACH) for _ in range(6)]
    assert [told(listener) for _, listener in alive] == [[0]] * len(alive)
    for process, _ in alive:
        process.join()
        assert process.exitcode == 0
    with History.open(path) as history:
        marks = [[mark.beat for mark in one.marks] for one in history.sets()]
    assert marks == [list(range(MARKS_OF_EACH))] * len(alive)
