"""How well digits are understood in a loud room, with `--hall` and without.

    python tests/benchmarks/bench_hall.py [FOLDER]

It needs the extra `bank-test`, and `espeak-ng` unless a folder with a sound file of speech for each
talker is named. Prints the share of digits, called on every beat of the final mix, that each of two
recognisers understands in quiet and in babble.

Babble is made: the sum of talkers, each with the same power and from another place in the text. It
is 5 dB softer than the words of the usual voice: the power of the words alone while one sounds, the
mean of both sides, against that of the babble. With `--hall` the babble is the same; its words are
as loud by BS.1770, and what they have in power is printed.
"""

import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

sys.path.insert(0, str(Path(__file__).parent.parent / "helpers"))

import numpy as np
import numpy.typing as npt
import soundfile
import soxr
from called_digits import DIGITS, Called, called, digits_on_beats, mixed, shuffled_digits
from listener import Listener
from second_listener import SecondListener

from throwcount.sounds.mixing.score import Balance
from throwcount.sounds.voices.loud_room import for_loud_room
from throwcount.sounds.voices.open_voice import open_voice
from throwcount.sounds.voices.voice import Voice

RATE = 48_000
TEMPOS = (160, 220)
EACH = 10
SOFTER = 10 ** (-5 / 20)
BABBLES = (101, 102, 103)
"""Starting points of chance. Neither these nor the talkers were heard while `--hall` was made."""

TALKERS = tuple(
    f"{accent}+{variant}"
    for accent, variants in (
        ("en-us", ("m8", "Alex", "Andrea", "antonio", "david", "iven", "linda", "paul")),
        ("en-gb-x-rp", ("anika", "boris", "caleb", "edward", "Mario", "robert", "steph", "victor")),
    )
    for variant in variants
)
TEXT = Path(__file__).parents[2] / "README.md"

Signal = npt.NDArray[np.float32]


def say(line: str) -> None:
    """Print a line at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def spoken_by_engine(folder: Path) -> None:
    """Let each of `TALKERS` read on from another place in the README."""
    prose = [line for line in TEXT.read_text("utf-8").splitlines() if line[:1].isalpha()]
    for number, talker in enumerate(TALKERS):
        first = number * len(prose) // len(TALKERS)
        text = " ".join((prose + prose)[first : first + 12])
        file = folder / f"{number:02}.wav"
        pace = str(150 + 4 * number)
        subprocess.run(("espeak-ng", "-v", talker, "-s", pace, "-w", file, text), check=True)


def streams(folder: Path) -> list[Signal]:
    """Return what each talker says, at `RATE` and with the same power."""
    found = []
    for file in sorted(folder.iterdir()):
        sound, rate = soundfile.read(file, dtype="float32", always_2d=True)
        speech = soxr.resample(sound.mean(axis=1), rate, RATE)
        found.append(speech / power(speech) ** 0.5)
    return found


def power(signal: Signal) -> np.float64:
    """Return the mean square."""
    return np.mean(signal.astype(np.float64) ** 2)


def babble(talkers: Iterable[Signal], frames: int, seed: int) -> Signal:
    """Return the sum of all talkers, each begun anywhere and repeated, with a power of 1."""
    chance = np.random.default_rng(seed)
    total = sum(np.resize(np.roll(each, -chance.integers(len(each))), frames) for each in talkers)
    return np.asarray(total / power(total) ** 0.5, dtype=np.float32)


def scene(voice: Voice, tempo: int, seed: int, *, hall: bool) -> tuple[Signal, float, list[Called]]:
    """Return digits on every beat in mono, the power of the words, and the place of each word."""
    timeline = digits_on_beats(tempo, shuffled_digits(EACH, seed))
    heard, words = (
        mixed(timeline, voice, Balance(clicks=clicks, loud_room=hall)).mean(axis=1)  # type: ignore[arg-type]
        for clicks in ("both", "none")
    )
    calls = list(called(timeline, voice))
    sounding = np.zeros(len(words), dtype=bool)
    for call in calls:
        sounding[call.start : call.end] = True
    return heard, float(power(words[sounding])), calls


def understood(listener: Any, heard: Signal, calls: list[Called]) -> float:  # noqa: ANN401 - either
    """Return the share of calls that a recogniser understands."""
    cuts = ((call.cut_for_listener(heard, RATE), call.digit) for call in calls)
    return float(np.mean([listener.understood(cut, RATE) == digit for cut, digit in cuts]))


def judge(talkers: list[Signal]) -> None:
    """Print all figures."""
    usual = open_voice(None, RATE, None)
    voices: tuple[tuple[str, Voice], ...] = (
        ("usual", usual),
        ("--hall", open_voice(None, RATE, None, finish=for_loud_room)),
    )
    listeners = (SecondListener(DIGITS), Listener(DIGITS))
    say("beats/min  voice   power dB  in babble: Whisper Sphinx  in quiet: Whisper Sphinx")
    for tempo in TEMPOS:
        for name, voice in voices:
            rows = []
            for seed in BABBLES:
                _, level, _ = scene(usual, tempo, seed, hall=False)
                heard, own, calls = scene(voice, tempo, seed, hall=name == "--hall")
                noise = babble(talkers, len(heard), seed) * np.float32(level**0.5 * SOFTER)
                rows.append([understood(each, heard + noise, calls) for each in listeners])
            shares = [
                *np.mean(rows, axis=0),
                *(understood(each, heard, calls) for each in listeners),
            ]
            say(
                f"{tempo:9}  {name:6}  {10 * np.log10(own / level):+8.1f}  "
                f"{shares[0]:18.3f} {shares[1]:6.3f}  {shares[2]:17.3f} {shares[3]:6.3f}"
            )


def main() -> None:
    """Judge in the babble of a folder's talkers, or of the engine's."""
    if len(sys.argv) > 1:
        judge(streams(Path(sys.argv[1])))
        return
    with TemporaryDirectory() as folder:
        spoken_by_engine(Path(folder))
        judge(streams(Path(folder)))


if __name__ == "__main__":
    main()
