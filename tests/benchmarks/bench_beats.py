"""How well the beats of music are found: ours against librosa's, on pieces with known beats.

Run it with ``python tests/benchmarks/bench_beats.py FOLDER [work|final]``; what is rendered is kept
in FOLDER, and `tests/helpers/beat_pieces.py` says which Debian packages the music comes from. It
prints for each piece the F-measure of the beats (mir_eval, 70 ms; Davies, Degara & Plumbley,
Evaluation methods for musical audio beat tracking algorithms, 2009, from memory), and the best with
half, double and off-beat; then how many are at least 0.9, how many are sure, and of these how many
are right.

The part `work` is what the tables of `sounds/music/tracking.py` and the limits of
`sounds/music/estimate.py` were set on; `final` was measured once they were. With ``--fit`` it
prints the tables, counted on `work`.
"""

import sys
import tempfile
import warnings
from collections.abc import Callable, Mapping
from pathlib import Path
from time import process_time
from typing import Final

import librosa
import mir_eval
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "helpers"))

from beat_pieces import RATE, KnownPiece, Sound, Times, pieces
from music_files import decoded

from throwcount.sounds.music import tracking
from throwcount.sounds.music.estimate import CONFIDENT, Estimate, alternatives_of, estimate
from throwcount.sounds.music.pulse import onsets_of

RIGHT: Final = 0.9
"""F-measure from which beats count as found."""

LIBROSA_RATE: Final = 22_050
SMOOTHING: Final = 0.02
"""Share of counts that is spread evenly."""


def f_measure(known: Times, found: Times) -> float:
    """Return the F-measure of beats from the sixth second on, as is usual."""
    rows = [mir_eval.beat.trim_beats(np.asarray(times, dtype=float)) for times in (known, found)]
    return float(mir_eval.beat.f_measure(*rows, f_measure_threshold=0.07)) if len(rows[1]) else 0.0


def ours(sound: Sound) -> Estimate:
    with tempfile.TemporaryDirectory() as folder:
        return estimate(decoded(Path(folder) / "music", sound, rate=RATE))


def others(sound: Sound) -> Mapping[str, Times]:
    """Return the beats of librosa's trackers: one tempo, one that changes, and local pulses."""
    strength = librosa.onset.onset_strength(
        y=librosa.resample(sound, orig_sr=RATE, target_sr=LIBROSA_RATE), sr=LIBROSA_RATE
    )

    def tracked(**tempo: object) -> Times:
        _, beats = librosa.beat.beat_track(
            onset_envelope=strength, sr=LIBROSA_RATE, units="time", trim=False, **tempo
        )
        return np.asarray(beats)

    moving = librosa.feature.tempo(onset_envelope=strength, sr=LIBROSA_RATE, aggregate=None)
    pulse = librosa.util.localmax(librosa.beat.plp(onset_envelope=strength, sr=LIBROSA_RATE))
    return {
        "one tempo": tracked(),
        "moving": tracked(bpm=moving),
        "pulses": librosa.frames_to_time(np.flatnonzero(pulse), sr=LIBROSA_RATE),
    }


class Scores:
    """The F-measures of one method."""

    def __init__(self) -> None:
        self.own: list[float] = []
        self.best: list[float] = []

    def add(self, known: Times, beats: Times) -> str:
        """Take in the beats of a piece; return what to print of them."""
        own = best = f_measure(known, beats)
        if len(beats) > 3:
            rows = alternatives_of(np.asarray(beats))
            best = max(own, *(f_measure(known, np.array(each.beats)) for each in rows))
        self.own.append(own)
        self.best.append(best)
        return f"{own:4.2f} {best:4.2f}"

    def __str__(self) -> str:
        right, counted = (sum(f >= RIGHT for f in row) for row in (self.own, self.best))
        return (
            f"mean {np.mean(self.own):.2f}, with alternatives {np.mean(self.best):.2f}; right "
            f"{right}, with alternatives {counted}, of {len(self.own)}"
        )


def compare(chosen: list[KnownPiece]) -> None:
    """Print the scores of each method on each piece, and of all."""
    scores: dict[str, Scores] = {}
    seconds: dict[str, float] = {}
    sure: list[bool] = []

    def timed(name: str, work: Callable[[Sound], object], sound: Sound) -> object:
        start = process_time()
        result = work(sound)
        seconds[name] = seconds.get(name, 0.0) + process_time() - start
        return result

    minutes = 0.0
    others(chosen[0].make()[0])  # librosa compiles parts of itself the first time
    for piece in chosen:
        sound, known = piece.make()
        minutes += len(sound) / RATE / 60
        found = timed("ours", ours, sound)
        assert isinstance(found, Estimate)
        rows = {"ours": np.array(found.beats)}
        compared = timed("librosa", others, sound)
        assert isinstance(compared, dict)
        told = [
            f"{name} {scores.setdefault(name, Scores()).add(known, beats)}"
            for name, beats in (rows | compared).items()
        ]
        sure.append(found.confidence >= CONFIDENT)
        mark = "sure" if sure[-1] else ""
        sys.stdout.write(f"{piece.source:9}{piece.name[:32]:33}{mark:5}{'  '.join(told)}\n")
    for name, score in scores.items():
        sys.stdout.write(f"{name:10}{score}\n")
    right = sum(is_sure and f >= RIGHT for is_sure, f in zip(sure, scores["ours"].own, strict=True))
    sys.stdout.write(f"sure {sum(sure)}, of these right {right}\n")
    for name, taken in seconds.items():
        sys.stdout.write(f"{name}: {taken / minutes:.2f} s of processor time a minute of music\n")


def fit(chosen: list[KnownPiece]) -> None:
    """Print the tables of `tracking`, each piece counting the same."""
    weights = np.bincount(tracking.PLACES) / tracking.PARTS
    counts = [np.zeros_like(tracking.TABLE), np.zeros_like(tracking.LOW_TABLE)]
    for piece in chosen:
        sound, beats = piece.make()
        with tempfile.TemporaryDirectory() as folder:
            frames = tracking.frames_of(onsets_of(decoded(Path(folder) / "m", sound, rate=RATE)))
        times = frames.start + frames.seconds * np.arange(len(frames.strength))
        numbers = np.interp(times, beats, np.arange(len(beats))) % 1.0
        places = np.array(tracking.PLACES)[
            np.rint(numbers * tracking.PARTS).astype(int) % tracking.PARTS
        ]
        for place in range(len(weights)):
            here = (times > beats[0]) & (times < beats[-1]) & (places == place)
            for total, row in zip(counts, (frames.strength, frames.low), strict=True):
                found = np.bincount(row[here], minlength=total.shape[1])
                total[place] += found / found.sum() / len(chosen)
    for total in counts:
        chances = (total + SMOOTHING / total.shape[1]) / (1.0 + SMOOTHING)
        table = np.log(chances / (weights @ chances))
        sys.stdout.write(f"{np.array2string(table, precision=2, separator=', ')}\n")


def main() -> None:
    """Measure and print."""
    warnings.simplefilter("ignore")
    folder, use = Path(sys.argv[1]), ([*sys.argv[2:], "work"])[0]
    folder.mkdir(parents=True, exist_ok=True)
    if use == "--fit":
        fit([piece for piece in pieces(folder) if piece.use == "work"])
    else:
        compare([piece for piece in pieces(folder) if piece.use == use])


if __name__ == "__main__":
    main()
