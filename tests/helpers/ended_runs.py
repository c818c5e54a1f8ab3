"""Runs of the program that are ended by a signal, and what must hold after each.

A signal comes at a moment, or at one of the calls by which a process changes files: strace counts
these, and sends the signal as the call begins. Calls from C count as well: libsndfile's, SQLite's.
Only the first thread of a process is followed, in which all but the writing to pipes is done.
The sound device is pretended, so these runs need none.
"""

import os
import re
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from keyed_practice import PROGRAM, KeyedPractice
from waiting import wait_until

from throwcount.caller.log.checking import check_log
from throwcount.caller.log.history import History
from throwcount.caller.log.log import PracticeLog
from throwcount.sounds.listening.take import open_take
from throwcount.sounds.samples import RATE

ENDINGS = ("SIGTERM", "SIGHUP", "SIGINT", "SIGKILL")
CALLS = (
    "write,pwrite64,writev,ftruncate,fsync,fdatasync,flock,link,linkat,mkdir,mkdirat,rename,"
    "renameat,renameat2,rmdir,unlink,unlinkat"
)
PRETEND = Path(__file__).parent / "pretend_device"
FORMER = b"what was there before"
WHOLE = b"whole"
WAV_HEADER = 44
NO_DEVICE = 3

TRACED_CHILD = """\
#!/bin/sh
case "$*" in *{child}*) exec {trace} '{python}' "$@" ;; esac
exec '{python}' "$@"
"""
WITH_TRACED_CHILD = (
    "import sys; sys.executable = sys.argv.pop(1); from throwcount.caller.main import run; run()"
)


def can_trace() -> bool:
    """Tell whether strace is here and may follow a process."""
    if shutil.which("strace") is None:
        return False
    tried = subprocess.run(("strace", "-qq", "true"), capture_output=True, check=False)
    return tried.returncode == 0


@dataclass(frozen=True, slots=True)
class Program:
    """Something that is run and ended."""

    arguments: str
    """What is typed after ``throwcount``; ``{given}`` is the folder of what it reads."""
    outputs: tuple[str, ...] = ()
    """The files that it writes where it runs."""
    keys: tuple[tuple[str, bytes, str], ...] = ()
    """What is waited for, the key that marks then, and what acknowledges the mark."""
    child: str = ""
    """The module whose process is ended at its calls; the main process if empty."""


@dataclass(frozen=True, slots=True)
class Ending:
    """How a run is ended."""

    signal: str
    """The name of the signal."""
    seconds: float = 0.0
    """When it comes, if not at a call."""
    call: str = ""
    """The call that it comes with, such as ``rename`` or ``write``; empty for none."""
    number: int = 0
    """Which of the calls of that name it is, from 1."""


@dataclass(slots=True)
class Field:
    """A folder in which a program is run and ended again and again."""

    program: Program
    given: Path
    folder: Path
    whole: set[tuple[str, bytes]] = field(default_factory=set)
    """The outputs of a run that nothing ended."""
    left: set[Path] = field(default_factory=set)
    """What runs that were killed have left."""
    marks: int = 0
    """How many marks the log has."""
    open_sets: int = 0
    """How many sets of the log have no end."""
    ended: int = 0
    """How many runs had not come to their end when the signal came."""

    def __post_init__(self) -> None:
        for name in ("work", "temporary", "log"):
            (self.folder / name).mkdir(parents=True)
        self._prepare()

    def calls(self) -> list[tuple[str, int]]:
        """Run to the end; return each call with its number, and keep what is whole."""
        trace = self.folder / "trace"
        assert self._run(("strace", "-qq", "-o", str(trace), f"--trace={CALLS}")) == 0
        self.whole = self._contents()
        assert {name for name, _ in self.whole} == set(self.program.outputs)
        assert self._leftovers() == set()
        names = re.findall(r"^[a-z0-9]+", trace.read_text(errors="replace"), re.MULTILINE)
        return [(name, names[: index + 1].count(name)) for index, name in enumerate(names)]

    def end(self, ending: Ending) -> None:
        """End a run; raise `AssertionError` if something is lost, half, or left."""
        self._prepare()
        number = int(getattr(signal, ending.signal))
        inject = f"--inject={ending.call}:signal={ending.signal}:when={ending.number}"
        trace = ("strace", "-qq", "-o", os.devnull, f"--trace={ending.call}", inject)
        status = self._run(trace if ending.call else (), ending)
        # A shell gives 128 and the number, and so does the program once it has been loaded.
        refused = NO_DEVICE if self.program.child else 0  # where that dies before it has begun
        assert status in {0, -number, 128 + number, refused}, f"status {status}"
        self.ended += status != 0
        former = {(name, FORMER) for name in self.program.outputs}
        killed = ending.signal == "SIGKILL"
        # The main process has ended; others may still be ending.
        with suppress(AssertionError):
            wait_until(lambda: killed or self._leftovers() <= self.left, limit=10)
        before, self.left = self.left, self._leftovers()
        assert killed or self.left <= before, f"left {self.left - before}"
        self._check_take(ending)
        wrong = {name for name, _ in self._contents() - self.whole - former}
        assert not wrong, f"half: {wrong}"

    def sweep(self) -> None:
        """Check that a run that nothing ends deletes what killed ones have left."""
        for _ in range(2):  # What another process was still ending is swept by the second run.
            if left := self._leftovers():
                for path in left:  # as if a while had gone by
                    os.utime(path, (time.time() - 60, time.time() - 60))
                assert self._run(()) == 0
                assert self._contents() == self.whole
        assert self._leftovers() == set()

    def _prepare(self) -> None:
        """Put former outputs there; a log is there already only where marks are given."""
        for name in self.program.outputs:
            (self.folder / "work" / name).write_bytes(FORMER)
        log = self.folder / "log" / "log.sqlite"
        if self.program.keys:
            PracticeLog.open(log).close()
        else:
            log.unlink(missing_ok=True)

    def _run(self, trace: Sequence[str], ending: Ending | None = None) -> int:
        program, arguments = (*trace, *PROGRAM), self.program.arguments.format(given=self.given)
        if self.program.child:
            script = self.folder / "python"
            told = {"child": self.program.child, "trace": " ".join(trace), "python": sys.executable}
            script.write_text(TRACED_CHILD.format(**told))
            script.chmod(0o755)
            program = (sys.executable, "-c", WITH_TRACED_CHILD, str(script))
        environment = os.environ | {
            "TMPDIR": str(self.folder / "temporary"),
            "OMP_NUM_THREADS": "1",
            "PYTHONPATH": str(PRETEND),
            "THROWCOUNT_LOG": str(self.folder / "log" / "log.sqlite"),
        }
        practice = KeyedPractice(environment, arguments, program, self.folder / "work")
        if ending and ending.seconds:
            send = (practice.send, (getattr(signal, ending.signal),))
            threading.Timer(ending.seconds, *send).start()
        pressed = 0
        try:
            for before, key, _ in self.program.keys:
                wait_until(lambda text=before: practice.shows(text) or practice.has_ended())
                practice.press(key)
                pressed += 1
            status = practice.end()
        finally:
            practice.close()
        acknowledged = sum(practice.shows(told) for *_, told in self.program.keys)
        killed = ending is not None and ending.signal == "SIGKILL"
        self._check_log(acknowledged, pressed, killed=killed)
        return status

    def _check_log(self, acknowledged: int, pressed: int, *, killed: bool) -> None:
        log = self.folder / "log" / "log.sqlite"
        assert check_log(log).whole, "the log is damaged"
        with History.open(log) as history:
            sets = list(history.sets())
        marks = sum(len(each.marks) for each in sets)
        open_before, self.open_sets = self.open_sets, sum(each.ended is None for each in sets)
        assert killed or self.open_sets <= open_before, "a set was left open"
        before, self.marks = self.marks, marks
        assert before + acknowledged <= marks <= before + pressed, (
            f"{marks - before} marks in the log, {acknowledged} told and {pressed} given"
        )
        assert not list(log.parent.glob("*.json")), "put aside"

    def _check_take(self, ending: Ending) -> None:
        """Check that a take that could not be finished can be listened to, and delete it."""
        work = self.folder / "work"
        if not ending.call:  # The process that listens finishes it in a moment.
            wait_until(lambda: not list(work.glob("take-*")))
        for path in work.glob("take-*"):
            if path.stat().st_size > WAV_HEADER:
                with open_take(path) as take:
                    assert sum(map(len, take.blocks(RATE))) > 0
            path.unlink()

    def _contents(self) -> set[tuple[str, bytes]]:
        """Return the files that have a plain name, and what is in them."""
        found = (self.folder / "work").glob("[!.]*")
        return {(path.name, _told(path.suffix, path.read_bytes())) for path in found}

    def _leftovers(self) -> set[Path]:
        """Return what has another name, is in the temporary folder, or is beside the log."""
        everywhere = {*self.folder.glob("temporary/*"), *self.folder.glob("log/*")}
        return {*everywhere, *self.folder.glob("*/.*")} - {self.folder / "log" / "log.sqlite"}


def _told(kind: str, content: bytes) -> bytes:
    """Return what is in a file, or that it is whole where no two are the same.

    LAME does not give the same bytes for the same sound each time, and no take is like another.
    """
    is_whole = {
        ".html": content.startswith(b"<!doctype html>") and content.endswith(b"</html>\n"),
        ".svg": content.endswith(b"</svg>\n"),
        ".wav": content[4:8] == (len(content) - 8).to_bytes(4, "little"),
    }
    return WHOLE if is_whole.get(kind) else content
