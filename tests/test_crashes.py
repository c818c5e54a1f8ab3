"""Programs that are ended at any moment lose nothing, and leave nothing half and nothing behind.

``THROWCOUNT_SIGNALS=100`` sends each a hundred signals at random moments where one is usual, and
``THROWCOUNT_CALLS=1`` two of them at every call that changes a file, where two calls are usual.
"""

import os
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from itertools import chain, cycle
from pathlib import Path
from random import Random

import numpy as np
import pytest
import soundfile
from ended_runs import ENDINGS, Ending, Field, Program, can_trace
from keyed_practice import CLEAN, DROP
from takes import Room, steady_times, synthesise

SIGNALS = int(os.environ.get("THROWCOUNT_SIGNALS", "1"))
CALLS = 2
EVERY_CALL = "THROWCOUNT_CALLS" in os.environ
AT_ONCE = 3
SEED = 531

ROUTINE = """
[music]
file = "noise.wav"
tempo = 200
first-beat = 0.5
[[part]]
pattern = "531"
cycles = 2
[[part]]
pattern = "3"
cycles = 2
"""
QUICK = "--tempo 400 --ready 0.1 --no-announce --count-in 1 --say nothing --no-speak-rests"
PROGRAMS = {
    "render": Program(
        "render {given}/routine.toml -o out.wav --events out.json --midi out.mid "
        "--captions out.vtt --page out.html --force",
        ("out.wav", "out.json", "out.mid", "out.vtt", "out.html"),
    ),
    "listen": Program(
        "listen {given}/heard.wav --pattern 3 --tempo 240 --headphones --picture out.svg --force "
        "--keep",
        ("out.svg",),
    ),
    "play": Program(
        f"play 3 {QUICK} --sets 2 --rest 0.1 --cycles 8 --on-drop go-on",
        keys=(
            (": cycle 2", DROP, "drops 1"),
            ("drops 1", CLEAN, "clean 1"),
            ("set 2 of 2; 3: cycle 2", DROP, "drops 2"),
        ),
    ),
    "listen --live": Program(
        f"listen --live 3 {QUICK} --cycles 8 --on-drop go-on",
        keys=((": cycle 2", DROP, "drops 1"),),
    ),
    "its microphone": Program(
        f"listen --live 3 {QUICK} --cycles 2 --take take.wav --force",
        ("take.wav",),
        child="microphone_child",
    ),
}


@pytest.mark.skipif(os.name == "nt", reason="needs the signals of POSIX")
@pytest.mark.parametrize("name", PROGRAMS)
def test_a_program_that_is_ended(
    name: str, tmp_path: Path, require: Callable[[object, str], None]
) -> None:
    require(can_trace(), "no strace on this machine, or it may not follow processes")
    (tmp_path / "routine.toml").write_text(ROUTINE)
    noise = np.random.default_rng(SEED).uniform(-0.1, 0.1, (5 * 44_100, 2))
    soundfile.write(tmp_path / "noise.wav", noise, 44_100)
    take = synthesise(steady_times(240, 6), Room(), seed=SEED)
    soundfile.write(tmp_path / "heard.wav", take.samples, take.rate)
    first = Field(PROGRAMS[name], tmp_path, tmp_path / "first")
    began = time.monotonic()
    calls = first.calls()
    usual = time.monotonic() - began
    random = Random(SEED)
    others = cycle(ENDINGS[:-1])
    endings = [Ending(each, 0.0, *call) for call in calls for each in (next(others), ENDINGS[-1])]
    if not EVERY_CALL:
        endings = random.sample(endings, CALLS)
    at_random = (random.uniform(0.2, 0.9) * usual for _ in range(SIGNALS))
    endings += [Ending(random.choice(ENDINGS), seconds) for seconds in at_random]
    random.shuffle(endings)
    fields = [
        Field(PROGRAMS[name], tmp_path, tmp_path / str(index), first.whole)
        for index in range(AT_ONCE)
    ]
    with ThreadPoolExecutor(AT_ONCE) as pool:
        faults = chain.from_iterable(
            pool.map(tried, fields, (endings[index::AT_ONCE] for index in range(AT_ONCE)))
        )
    ended = sum(each.ended for each in fields)
    print(f"{name}: {len(calls)} calls, {len(endings)} signals, {ended} of them in time")  # noqa: T201 - with -rP
    assert list(faults) == []


def tried(field: Field, endings: list[Ending]) -> list[str]:
    """End runs in a folder; return what was wrong after them."""
    faults = []
    for ending in endings:
        try:
            field.end(ending)
        except AssertionError as error:
            faults.append(f"{ending}: {error}")
    field.sweep()
    return faults
