"""A session file practised from one command with one key, through a real terminal.

`THROWCOUNT_KILLS` says how often one is killed; 3 if it is not set.
"""

import os
import random
import re
import signal
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from keyed_practice import PEDAL, KeyedPractice
from sound_server import SoundServer

from throwcount.caller.log.history import History

KILLS = int(os.environ.get("THROWCOUNT_KILLS", "3"))
ENDINGS = (signal.SIGKILL, signal.SIGKILL, signal.SIGTERM, signal.SIGHUP, signal.SIGINT)
ALMOST_MUTE = (
    "--ready 0.2 --no-announce --count-in 1 --say nothing --no-speak-rests --one-pedal --tempo 240"
)
TEXT = """
title = "Evening"
end = "done"
rest = 1
rest-after = 1
unmarked = "clean"

[[block]]
pattern = "3"
name = "warm-up"
cycles = 4

[[block]]
pattern = "531"
sets = 2
cycles = 2
staircase = true
clean-sets = 1

[[block]]
pattern = "441"
sets = 2
cycles = 2
staircase = true
clean-sets = 1

[[block]]
pattern = "3"
attempts = 2
rest = 30

[[block]]
pattern = "3"
cycles = 4
"""


@pytest.fixture
def practise(sound_server: SoundServer, tmp_path: Path) -> Iterator[Callable[..., KeyedPractice]]:
    """Return a function that begins the session with further options."""
    pytest.importorskip("pty", reason="this system has no terminals of this kind")
    (tmp_path / "evening.toml").write_text(TEXT, "utf-8")
    started: list[KeyedPractice] = []

    def start(options: str = "") -> KeyedPractice:
        log = f"--log {tmp_path / 'log.sqlite'}"
        arguments = f"play {tmp_path / 'evening.toml'} {ALMOST_MUTE} {options} {log}"
        started.append(KeyedPractice(sound_server.environment, arguments))
        return started[-1]

    yield start
    for practice in started:
        practice.close()


def test_a_session_with_one_key(practise: Callable[..., KeyedPractice], tmp_path: Path) -> None:
    practice = practise()
    practice.wait_for("block 3 of 5, set 2 of 2; 441: cycle 1")
    practice.press(PEDAL)  # a drop
    practice.wait_for("block 4 of 5, attempt 1 of 2; 3: cycle 5,")
    practice.press(PEDAL)
    practice.wait_for("drops 2")
    time.sleep(0.8)  # in real time: a foot is not as quick as a held key repeats
    practice.press(PEDAL)  # go on, and not after the half minute
    practice.wait_for("block 4 of 5, attempt 2 of 2; 3: cycle 9,")
    practice.press(PEDAL)
    assert practice.end() == 0, practice.shown
    with History.open(tmp_path / "log.sqlite") as history:
        sets = sorted(history.sets(), key=lambda each: each.number)
    assert [(each.written, each.tempo_start > 240, each.outcome) for each in sets] == [
        ("3", False, "clean"), ("531", False, "clean"), ("531", True, "clean"),
        ("441", False, "clean"), ("441", True, "drop"), ("3", False, "drop"),
        ("3", False, "drop"), ("3", False, "clean"),
    ]  # fmt: skip
    told = "".join(practice.shown)
    assert re.search(r"3: [0-9]+ throws in 2 attempts. Catches: [0-9]+, [0-9]+. Best: ", told)


def test_a_session_that_is_killed_goes_on_where_it_was(
    practise: Callable[..., KeyedPractice], tmp_path: Path
) -> None:
    """Every mark that was told on the screen is kept, and no block comes twice."""
    randomness = random.Random(7)
    given, blocks = 0, []
    for kill in range(KILLS):
        practice = practise("--resume" if kill else "")
        practice.wait_for(": cycle 1")
        (place,) = re.findall(r"block ([1-5]) of 5", "".join(practice.shown))[:1]
        if place == "1" and kill and blocks[-1] == "5":
            blocks = []  # the session had come to its end
        blocks.append(place)
        if randomness.random() < 0.6:
            practice.press(PEDAL)
            practice.wait_for("drops 1")
            given += 1
        time.sleep(randomness.uniform(0, 6))  # it is ended at any moment whatever
        practice.send(randomness.choice(ENDINGS))
        practice.end()
        with History.open(tmp_path / "log.sqlite") as history:
            assert sum(len(each.marks) for each in history.sets()) == given
        assert blocks == sorted(blocks)
