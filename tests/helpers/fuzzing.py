"""Wrong input of every kind, made from kept seeds: each is read, or told in a sentence.

`python tests/helpers/fuzzing.py` tries every kind for an hour; `--seconds`, or `--count` for each
kind, sets another length, and names of kinds choose some. What fails is told with its kind and
number, and `KIND --first NUMBER --count 1` tries it again.
"""

import argparse
import contextlib
import json
import os
import re
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Iterator
from functools import cache
from itertools import count
from pathlib import Path
from random import Random
from types import FrameType
from unittest.mock import patch

import av
import numpy as np
import soundfile
from click.testing import CliRunner
from marked_files import KINDS as MARKED_KINDS
from marked_files import write_marked

from throwcount.caller.commands.settings import starter_lines
from throwcount.caller.commands.shared import wrong_pattern_page
from throwcount.caller.main import throwcount
from throwcount.caller.options.settings import SettingsError, read_settings
from throwcount.caller.reports.take import beats_in
from throwcount.caller.terminal.text import WrongInputError
from throwcount.engine.errors import EngineError, PatternError
from throwcount.engine.patterns.notation import mark
from throwcount.engine.patterns.rules import read
from throwcount.engine.scheduling.scheduler import Chapter, schedule
from throwcount.engine.takes.catches import expected_catches
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import steady
from throwcount.sounds.voices import recorded

EXAMPLES = Path(__file__).parents[2] / "examples"
PATTERNS = "3 531 744 97531 b97531 (4,2x)* (4x,2x) [33]33 ([44],2) 5-cascade box 51 0 2".split()
LETTERS = "0123456789abxyzABX[](),*- .\n\t\0é!/½\u0301\u200d\u202e\x1b\N{FULLWIDTH DIGIT FIVE}"
LONGEST = 60.0
"""Seconds after which one input counts as a hang."""

WORDS = [
    *("[[part]]\n", "[music]\n", "[[part.part]]\n", 'pattern = "531"\n', "cycles = 3\n"),
    *(
        "beats = 7\n",
        "rest = true\n",
        "repeat = 3\n",
        "tempo = 99\n",
        "to = 300\n",
        "pick-up = 1\n",
    ),
    *("put-down = 1\n", 'cue = "now"\n', 'bridge = "4 1"\n', "seconds = 9\n", 'first = "left"\n'),
    *('how = "low"\n', 'how = { "second 3" = "high", 5 = "turn", all = "low" }\n'),
    *('pattern = "(4,2x)*"\n', "ceiling = 2.6\n", "1e999", "nan", "-1", "[", "]", "{", "}", '"'),
    *("'''", "\\", "\0", "\u202e", "= ", "0x", "true", "1979-05-27", "99999999999999999999"),
]
"""Pieces of TOML that a routine or settings may have, and some that break it."""


def pattern(random: Random, _folder: Path) -> None:
    """Read a text, and follow the objects of a pattern that can be thrown."""
    text = (
        mangled_text(random, random.choice(PATTERNS), LETTERS)
        if random.random() < 0.5
        else "".join(random.choices(LETTERS, k=random.randrange(14)))
    )
    try:
        found = read(text)
    except PatternError as error:
        check_told(text, error)
        return
    assert read(found.text) == found, text
    if found.period < 40 and random.random() < 0.05:
        with contextlib.suppress(EngineError):  # a 0 alone is no run
            beats = sum(1 for _ in schedule(Run((Part(found, beats=8),), steady(200))))
            assert beats >= 8, text


def check_told(text: str, error: PatternError) -> None:
    """Check that a person is told in a sentence what is wrong, and where."""
    assert error.message[-1] in ".?"
    assert len(error.message.splitlines()) == 1
    if error.problem == "malformed":
        assert error.at == tuple(sorted(set(error.at)))
        assert all(0 <= place < len(text) for place in error.at)
        assert all(line.isprintable() for line in mark(text, error.at).split("\n"))
    assert wrong_pattern_page(text, error)


def settings(random: Random, folder: Path) -> None:
    """Read a settings file."""
    text = re.sub(r"(?m)^# ?(?=[\w\[].*[=\]])", "", "".join(starter_lines()))
    place = folder / "settings.toml"
    place.write_bytes(mangled(random, text.encode(), WORDS))
    with contextlib.suppress(SettingsError):
        assert read_settings(place, may_be_absent=False) is not None


def routine(random: Random, folder: Path) -> None:
    """Plan a routine file."""
    given = random.choice(sorted(EXAMPLES.glob("*.toml"))).read_bytes()
    if random.random() < 0.5:
        given = "".join(random.choices(WORDS[:19], k=random.randrange(1, 14))).encode()
    place = folder / "routine.toml"
    place.write_bytes(mangled(random, given, WORDS))
    with patch.object(recorded, "_clip", RECORDED):
        run("plan", place, "--json", statuses=(0, 1, 2, 3))


RECORDED = cache(recorded._clip)  # noqa: SLF001 - most of a plan's time goes by reading these


def beats(random: Random, folder: Path) -> None:
    """Read a file of beats, and expect its catches."""
    place = folder / "beats.json"
    given = events() if random.random() < 0.7 else json.dumps(any_json(random, 3)).encode()
    place.write_bytes(mangled(random, given, ['"', "null", "1e999", "-0", "[", "{}", "\\ud800"]))
    with contextlib.suppress(WrongInputError):
        assert list(expected_catches(beats_in(place), 2 / 3)) is not None


def take(random: Random, folder: Path) -> None:
    """Listen to a take that was damaged."""
    name = random.choice(TAKES)
    words = ["\0\0\0\0", "ÿÿÿÿ", "data", "trak", "OggS"]
    content = mangled(random, sound_take(name), words)
    if random.random() < 0.2:
        content = content[: random.choice((0, 4, 16))] + random.randbytes(200)
    place = folder / name
    place.write_bytes(content)
    run("listen", place, "--json", statuses=(0, 3))


def markers(random: Random, folder: Path) -> None:
    """Write a title and chapters into a sound file, whose sound stays as it is."""
    kind = random.choice(MARKED_KINDS)
    titles = ["".join(chr(random.choice(POINTS)) for _ in range(random.randrange(9))) for _ in "ab"]
    chapters = [Chapter(0.0, 0.5, titles[1])] * random.choice((0, 1, 3, 300))
    plain = soundfile.read(write_marked(folder, kind, "", []))[0]
    marked = soundfile.read(write_marked(folder, kind, titles[0], chapters))[0]
    assert np.array_equal(plain, marked), titles


POINTS = [*range(0xD800), *[0, 7, 10, 27, 0x202E, 0x2066] * 500, *range(0xE000, 0x10FFFF, 97)]

Kind = Callable[[Random, Path], None]
KINDS: dict[str, Kind] = {
    each.__name__: each for each in (pattern, settings, routine, beats, take, markers)
}


def tried(kind: str, number: int, folder: Path) -> None:
    """Try one input; raise whatever is wrong with how it is taken."""
    with limited(LONGEST):
        KINDS[kind](Random(f"{kind} {number}"), folder)


@contextlib.contextmanager
def limited(seconds: float) -> Iterator[None]:
    """Raise `TimeoutError` in what takes longer, where the system can."""

    def late(_number: int, _frame: FrameType | None) -> None:
        raise TimeoutError(f"it takes longer than {seconds:g} s")

    if not hasattr(signal, "setitimer"):
        yield
        return
    before = signal.signal(signal.SIGALRM, late)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


def run(*arguments: object, statuses: tuple[int, ...]) -> None:
    """Run a command, which has to end with one of these statuses, and in sentences."""
    result = CliRunner().invoke(throwcount, [*map(str, arguments)])
    assert result.exit_code in statuses, result.output
    assert "a fault in throwcount" not in result.output, result.output
    if result.exception is not None:
        assert isinstance(result.exception, SystemExit), result.exception


def mangled_text(random: Random, text: str, letters: str) -> str:
    """Return a text with a few letters changed."""
    changed = list(text)
    for _ in range(random.choice((0, 1, 1, 2, 5))):
        at = random.randrange(len(changed) + 1)
        changed[at : at + random.randrange(3)] = random.choices(letters, k=random.randrange(3))
    return "".join(changed)


def mangled(random: Random, content: bytes, words: list[str]) -> bytes:
    """Return bytes with a few of them changed, lost, doubled, or replaced by words."""
    changed = bytearray(content)
    for _ in range(random.choice((0, 1, 1, 2, 3, 8, 30))):
        at = random.randrange(len(changed) + 1)
        if random.random() < 0.5:  # where headers are, or at the end, as in MP4
            at = random.choice((1, -1)) * random.randrange(1500) % (len(changed) + 1)
        size = random.choice((1, 1, 2, 4, 30, 1000))
        match random.randrange(6):
            case 0:
                changed[at : at + 1] = random.randbytes(1)
            case 1:
                del changed[at : at + size]
            case 2:
                changed[at:at] = changed[at : at + size]
            case 3:
                changed[at : at + random.choice((0, 4))] = random.choice(words).encode(
                    "latin-1", "replace"
                )
            case 4:
                changed[at : at + size] = random.randbytes(min(size, len(changed) - at))
            case 5 if random.random() < 0.2:
                del changed[at:]
    return bytes(changed)


def any_json(random: Random, depth: int) -> object:
    """Return anything that JSON can hold, with the keys of a file of beats."""
    scalars = [None, True, -1, 0, 1e300, "", "5", "right", "531", 10**30, 0.5]
    if not depth or random.random() < 0.3:
        return random.choice(scalars)
    inner = [any_json(random, depth - 1) for _ in range(random.randrange(4))]
    keys = ["beats", "beat", "time", "tempo", "part", "throws", "right", "left", "objects", "x"]
    return inner if random.random() < 0.4 else {random.choice(keys): each for each in inner}


@cache
def events() -> bytes:
    """Return a file of beats, as render writes it."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "events.json"
        sound = place.with_suffix(".flac")
        run("render", "531", "--cycles", 2, "-o", sound, "--events", place, statuses=(0,))
        return place.read_bytes()


TAKES = ("take.wav", "take.flac", "take.ogg", "take.mp3", "take.m4a", "take.mov")
TITLE = "Juggling in the hall"


@cache
def sound_take(name: str) -> bytes:
    """Return four seconds with a click every third of a second, and a title."""
    rate = 44_100
    sound = 0.003 * np.random.default_rng(5).standard_normal(4 * rate)
    for at in range(rate // 2, 3 * rate, rate // 3):
        sound[at : at + 300] += 0.5 * np.sin(np.arange(300) / 4)
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / name
        if place.suffix in {".m4a", ".mov"}:
            _write_phone_take(place, sound, rate)
        else:
            with soundfile.SoundFile(place, "w", rate, 1) as file:
                file.title = TITLE
                file.write(sound)
        return place.read_bytes()


def _write_phone_take(
    place: Path, sound: "np.ndarray[tuple[int], np.dtype[np.float64]]", rate: int
) -> None:
    coding = "aac" if place.suffix == ".m4a" else "pcm_s16le"
    with av.open(str(place), "w", format="mp4" if coding == "aac" else "mov") as file:
        file.metadata["title"] = TITLE
        stream = file.add_stream(coding, rate=rate, layout="mono")
        samples = (32767 * np.clip(sound, -1, 1)).astype(np.int16)[None]
        for start in range(0, samples.shape[1], 1024):
            frame = av.AudioFrame.from_ndarray(samples[:, start : start + 1024], "s16", "mono")
            frame.sample_rate, frame.pts = rate, start
            file.mux(stream.encode(frame))
        file.mux(stream.encode(None))


def main() -> None:
    """Try what is asked for on the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("kinds", nargs="*", default=list(KINDS))
    parser.add_argument("--seconds", type=float, default=3600.0)
    parser.add_argument("--count", type=int)
    parser.add_argument("--first", type=int, default=0)
    asked = parser.parse_args()
    failed = 0
    for kind in asked.kinds:
        began, done = time.monotonic(), 0
        with tempfile.TemporaryDirectory() as folder:
            os.environ["THROWCOUNT_SETTINGS"] = str(Path(folder) / "none.toml")
            Path(folder, "none.toml").touch()
            for number in count(asked.first):
                late = time.monotonic() - began > asked.seconds / len(asked.kinds)
                if done == asked.count if asked.count is not None else late:
                    break
                done += 1
                try:
                    tried(kind, number, Path(folder))
                except Exception:  # noqa: BLE001 - whatever it is, it is told
                    failed += 1
                    sys.stdout.write(f"{kind} {number}:\n{traceback.format_exc()}\n")
                    sys.stdout.flush()
        took = time.monotonic() - began
        sys.stdout.write(f"{kind}: {done:,} in {took:.0f} s, {failed} failed so far\n")
        sys.stdout.flush()
    sys.exit(bool(failed))


if __name__ == "__main__":
    main()
