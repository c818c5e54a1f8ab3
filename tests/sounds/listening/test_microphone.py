"""A microphone as a process of its own: what it tells, and what becomes of it when it fails."""

import sys
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest
import soxr
from takes import Room, steady_times, synthesise
from waiting import wait_until

from throwcount.sounds.errors import DeviceError, FileError
from throwcount.sounds.listening.microphone import Microphone
from throwcount.sounds.listening.microphone_child import BLOCK, InputBlock, Listener
from throwcount.sounds.listening.take import TakeWish
from throwcount.sounds.listening.thuds import find_thuds
from throwcount.sounds.samples import RATE

START = 5000.0
SAME = 0.002
PROMPT = 0.5
"""Seconds until what was heard is told."""

PRETENDING = """
import sys, time
from pathlib import Path
from throwcount.sounds.listening.microphone import (
    Keeping, Kept, ListeningOpening, Lost, NotKept, Overheard,
)
from throwcount.sounds.listening.thuds import Thud
from throwcount.sounds.child_process import read_message, write_message
from throwcount.sounds.output.messages import Opened, Refused
out = sys.stdout.buffer
opening = read_message(sys.stdin.buffer)
assert isinstance(opening, ListeningOpening)
tell = lambda message: write_message(out, message)
"""
HEARS = """
tell(Opened(44100))
tell(Overheard((Thud(1.0, 20.0, 0.9),), 1.5, 0.5))
tell(Overheard((Thud(2.0, 10.0, 0.8),), 2.5, 0.6))
tell(NotKept("The disk is full."))
read_message(sys.stdin.buffer)
"""


def microphone(code: str, **more: object) -> Microphone:
    return Microphone("some", command=(sys.executable, "-c", PRETENDING + code), **more)


def test_what_is_heard_is_told_once() -> None:
    with closing(microphone(HEARS)) as ear:
        assert ear.rate == 44_100
        told: list[str] = []
        wait_until(lambda: told.extend(ear.remarks()) or told)
        heard = ear.overheard()
        assert [thud.time for thud in heard.thuds] == [1.0, 2.0]
        assert (heard.until, heard.begun) == (2.5, 0.6)
        assert ear.overheard().thuds == ()
        assert told == ["The disk is full."]
        assert ear.fault() == ""
    assert "ended" in ear.fault()


@pytest.mark.parametrize(
    ("code", "fragment"),
    [
        ("tell(Opened(8000)); tell(Lost('Unplugged.'))", "^Unplugged.$"),
        ("tell(Opened(8000))", "has ended"),
        ("tell(Opened(8000)); sys.stdout.buffer.write(b'nonsense')", "has ended"),
    ],
)
def test_a_microphone_that_is_lost(code: str, fragment: str) -> None:
    with closing(microphone(code)) as ear:
        wait_until(ear.fault)
        assert fragment.strip("^$") in ear.fault()


def test_a_process_that_hangs_is_noticed_and_ended() -> None:
    now = [0.0]
    ear = microphone("tell(Opened(8000)); read_message(sys.stdin.buffer)", clock=lambda: now[0])
    assert ear.fault() == ""
    now[0] = 15.1
    assert "does not answer" in ear.fault()
    ear.close()


@pytest.mark.parametrize(
    ("code", "kept", "left"),
    [
        ("", False, False),
        ("tell(Keeping(unfinished))", False, True),
        ("tell(Keeping(unfinished)); unfinished.unlink(); tell(Kept())", True, False),
        ("tell(Keeping(unfinished)); unfinished.unlink(); tell(NotKept('Full.'))", False, False),
    ],
)
def test_what_becomes_of_a_take(tmp_path: Path, code: str, *, kept: bool, left: bool) -> None:
    """A process that ends too soon leaves what it wrote, and that is told."""
    unfinished = tmp_path / ".half.part"
    unfinished.touch()
    begun = f"unfinished = Path({str(unfinished)!r}); tell(Opened(8000)); "
    with closing(microphone(begun + code)) as ear:
        wait_until(ear.fault)
    assert ear.kept == kept
    assert ear.left == (unfinished if left else None)


@pytest.mark.parametrize(
    ("code", "fragment"),
    [("tell(Refused('No such input.'))", "^No such input.$"), ("", "does not answer")],
)
def test_a_microphone_that_does_not_open(code: str, fragment: str) -> None:
    with pytest.raises(DeviceError, match=fragment):
        microphone(code)


def test_a_process_that_cannot_be_started() -> None:
    with pytest.raises(DeviceError, match="cannot be started"):
        Microphone(command=("/no/such/program",))


def test_a_take_that_cannot_be_kept_is_told_before_anything_is_heard(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="no such folder"):
        Microphone(take=TakeWish(tmp_path / "nowhere" / "take.wav"), command=("/no/program",))


def test_pieces_give_the_thuds_of_the_whole_take_in_good_time() -> None:
    """Pieces at another rate and with uneven moments, against the take in one."""
    take = synthesise(steady_times(180, 30), Room(), seed=3)
    whole = list(find_thuds(take.blocks(), RATE))
    samples = soxr.resample(take.samples, RATE, 48_000)
    listener, chance = Listener(48_000), np.random.default_rng(4)
    found = []
    for start in range(0, len(samples), BLOCK):
        moment = START + start / 48_000 + chance.normal(0, 0.001)
        told = listener.push(InputBlock(samples[start : start + BLOCK], moment))
        now = START + (start + BLOCK) / 48_000
        if told is not None:
            assert now - told.until < PROMPT
            found += told.thuds
    last = listener.finish()
    assert last is not None
    found += last.thuds
    assert len(found) == len(whole) > 25
    for thud, same in zip(found, whole, strict=True):
        assert thud.time - START == pytest.approx(same.time, abs=SAME)


def test_nothing_that_is_told_later_lies_before_what_was_decided() -> None:
    take = synthesise(steady_times(220, 60, sd=0.03), Room(above_noise=10), seed=5)
    listener = Listener(RATE)
    decided = 0.0
    for start in range(0, len(take.samples), BLOCK):
        told = listener.push(InputBlock(take.samples[start : start + BLOCK], start / RATE))
        if told is not None:
            assert all(thud.time > decided - SAME for thud in told.thuds)
            decided = told.until
    assert decided > take.catches[-1]


def test_an_input_that_never_gave_anything() -> None:
    assert Listener(48_000).finish() is None
