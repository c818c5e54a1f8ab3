"""A render that is ended at any moment leaves nothing half, and nothing behind.

``THROWCOUNT_SIGNALS=100`` sends a hundred signals where eight are usual. At each, a routine with
music is rendered, with every file that can come beside the sound, over a former one.
"""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from random import Random

import numpy as np
import pytest
import soundfile
from waiting import LIMIT

SIGNALS = int(os.environ.get("THROWCOUNT_SIGNALS", "8"))
ENDINGS = ("SIGTERM", "SIGHUP", "SIGINT", "SIGKILL")
SEED = 531

ROUTINE = """
[music]
file = "noise.wav"
tempo = 200
first-beat = 0.5
[[part]]
pattern = "531"
cycles = 6
[[part]]
pattern = "3"
cycles = 4
"""
FORMER = "what was there before"
WHOLE_PAGE = b"a whole page"

OUTPUTS = ("out.flac", "out.json", "out.mid", "out.vtt", "out.html")


def render(folder: Path) -> "subprocess.Popen[bytes]":
    """Start a render in a folder, with a temporary folder beside it."""
    beside = "-o out.flac --events out.json --midi out.mid --captions out.vtt --page out.html"
    subject = [str(folder / "routine.toml"), *beside.split(), "--force"]
    return subprocess.Popen(
        [sys.executable, "-m", "throwcount.caller", "render", *subject],
        cwd=folder / "work",
        env=os.environ | {"TMPDIR": str(folder / "temporary"), "OMP_NUM_THREADS": "1"},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


@pytest.mark.skipif(os.name == "nt", reason="needs the signals of POSIX")
def test_a_render_ended_at_any_moment(tmp_path: Path) -> None:
    (tmp_path / "work").mkdir()
    (tmp_path / "temporary").mkdir()
    (tmp_path / "routine.toml").write_text(ROUTINE)
    noise = np.random.default_rng(SEED).uniform(-0.1, 0.1, (8 * 44_100, 2))
    soundfile.write(tmp_path / "noise.wav", noise, 44_100)
    began = time.monotonic()
    assert render(tmp_path).wait(LIMIT) == 0
    usual = time.monotonic() - began
    whole = contents(tmp_path)
    assert {name for name, _ in whole} == set(OUTPUTS)
    random, ended, left = Random(SEED), 0, set[Path]()
    for number in range(SIGNALS):
        for name in OUTPUTS:
            (tmp_path / "work" / name).write_text(FORMER)
        name = ENDINGS[number % len(ENDINGS)]
        began = time.monotonic()
        process = render(tmp_path)
        time.sleep(random.uniform(0.2, 1.0) * usual)
        process.send_signal(getattr(signal, name))
        status = process.wait(LIMIT)
        # A shell gives 130 for Ctrl-C, and so does the program once it has been loaded.
        assert status in {0, -getattr(signal, name), 130 if name == "SIGINT" else 0}
        ended += status != 0
        if status == 0:  # The signal came too late, as the machine has less to do now.
            usual = min(usual, 0.8 * (time.monotonic() - began))
        assert contents(tmp_path) <= whole | {(each, FORMER.encode()) for each in OUTPUTS}, name
        now = leftovers(tmp_path)
        assert now <= left or name == "SIGKILL", name
        left = now
    assert ended >= SIGNALS // 4, "most came too late"
    for path in left:  # as if a while had gone by
        os.utime(path, (time.time() - 60, time.time() - 60))
    assert render(tmp_path).wait(LIMIT) == 0
    assert leftovers(tmp_path) == set()
    assert contents(tmp_path) == whole


def contents(folder: Path) -> set[tuple[str, bytes]]:
    """Return the files that have a plain name, and what is in them.

    A page is only told to be whole: LAME does not give the same bytes for the same sound each time.
    """
    found = {(path.name, path.read_bytes()) for path in folder.glob("work/[!.]*")}
    return {(name, WHOLE_PAGE if is_page(content) else content) for name, content in found}


def is_page(content: bytes) -> bool:
    return content.startswith(b"<!doctype html>") and content.endswith(b"</html>\n")


def leftovers(folder: Path) -> set[Path]:
    """Return what has another name, and what is in the temporary folder."""
    return {*folder.glob("work/.*"), *folder.glob("temporary/*"), *folder.glob("temporary/.*")}
