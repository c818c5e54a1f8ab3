"""The bank's takes as sound: recorded impacts in rooms, with what else is heard, by way of a phone.

Rooms are shoe boxes by the image method (Allen & Berkley, J. Acoust. Soc. Am. 65 (1979) 943-950) of
pyroomacoustics. Noise suppression is the Wiener filter with decision-directed estimates (Ephraim &
Malah, IEEE Trans. ASSP 32 (1984) 1109-1121), over a slow minimum of the noise. Levels are in dB
over the catches, whose loudest 10 ms have a mean square of 1 within 6 dB either way.

``python tests/helpers/bank_takes.py first [TEXT]`` makes the takes of a part whose names hold TEXT,
without listening to them. Two processes can do so at once, as with ``call`` and ``phones``.
"""

import argparse
import json
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

import numpy as np
import soundfile
import soxr
from bank_plans import SEEDS, Plan, plans
from recorded_sounds import (
    CACHE,
    FLOORS,
    KITS,
    MUSIC,
    RATE,
    STEPS,
    VOICES,
    PartName,
    Signal,
    impacts,
    levelled,
    made_beside,
    music,
    steady_level,
    talk,
)
from scipy.signal import butter, fftconvolve, istft, sosfilt, stft

from throwcount.sounds.samples import Samples

PEAK: Final = 0.5
EDITION: Final = 4
"""To be raised when takes come out otherwise, so that those in the cache are made anew."""

ROOMS: Final[dict[PartName, tuple[tuple[tuple[float, float, float], float], ...]]] = {
    "first": (((4.2, 3.6, 2.5), 0.35), ((6.5, 5.0, 2.8), 0.5), ((12.0, 9.0, 4.5), 0.9)),
    "second": (((3.4, 4.8, 2.6), 0.4), ((8.0, 5.5, 3.1), 0.6), ((18.0, 11.0, 6.0), 1.2)),
    "third": (((4.6, 3.2, 2.4), 0.3), ((9.5, 7.0, 3.6), 0.7), ((15.0, 10.5, 5.2), 1.1)),
    "fourth": (((5.4, 4.0, 2.7), 0.4), ((7.2, 6.1, 3.3), 0.65), ((13.5, 9.5, 5.0), 1.0)),
}
"""Size in metres and reverberation time in seconds."""

PLACES: Final = {
    "right": (0.45, 0.55, 1.1),
    "left": (0.52, 0.55, 1.1),
    "floor": (0.5, 0.6, 0.05),
    "step": (0.62, 0.7, 0.05),
    "speaker": (0.2, 0.25, 1.0),
    "speaker 2": (0.75, 0.25, 1.0),
    "talker": (0.2, 0.8, 1.6),
    "talker 2": (0.8, 0.75, 1.5),
    "phone": (0.5, 0.35, 0.03),
}
"""Shares of the room's length and width, and metres above the floor."""

CALLED: Final = (-8.0, 2.0)
DROWNING: Final = (10.0, 16.0)
"""Level of the call: of its windows that are louder than nine in ten of those not silent."""

NOISE: Final = (-38.0, -26.0)
SPEECH: Final = (-26.0, -16.0)
MUSIC_LEVEL: Final = (-26.0, -17.0)
"""Mean square in the long run."""

LONGEST_DELAY: Final = round(0.15 * RATE)
"""Frames by which a codec delays a sound, at most."""

SLAP: Final = (0.045, 0.075)
"""Seconds from a sound to its slap echo."""

BEFORE_A_DROP: Final = 9
"""The last catches, whose usual lateness tells when the next was due."""


@dataclass(frozen=True)
class BankTake:
    """A take of the bank.

    Parameters
    ----------
    path
        The recording.
    moved
        Seconds by which the phone's codec delays it.
    """

    plan: Plan
    path: Path
    moved: float

    def made(self) -> dict[int, float]:
        """Return when each catch that is heard falls, in seconds of the take, by its index."""
        return {
            event.catch: self.plan.take_time(event.time) + self.moved
            for event in self.plan.events
            if event.catch is not None
        }

    def drop_time(self) -> float | None:
        """Return when the catch that failed was due, in seconds of the take."""
        if self.plan.drop is None:
            return None
        due = [catch.time for catch in self.plan.catches]
        heard = {event.catch: event.time for event in self.plan.events if event.catch is not None}
        before = sorted(index for index in heard if index < self.plan.drop)[-BEFORE_A_DROP:]
        late = float(np.median([heard[index] - due[index] for index in before]))
        return self.plan.take_time(due[self.plan.drop] + late) + self.moved


def bank(part: PartName, only: str = "") -> Iterator[BankTake]:
    """Yield the takes of a part whose names hold `only`, made where they are not in the cache."""
    for plan in plans(part):
        if only in plan.name:
            yield _cached(plan)


def _cached(plan: Plan) -> BankTake:
    path = CACHE / f"takes-{EDITION}" / f"{plan.name}.flac"
    truth = path.with_suffix(".json")
    if not truth.exists():
        samples, moved = sounding(plan)
        with made_beside(path) as beside:
            soundfile.write(beside, samples, RATE, "PCM_16")
        with made_beside(truth) as beside:
            beside.write_text(json.dumps(_told(plan, moved), indent=1))
    return BankTake(plan, path, json.loads(truth.read_text())["moved"])


def _told(plan: Plan, moved: float) -> dict[str, Any]:
    """Return what is known of a take, without each of its sounds."""
    known = {
        name: value for name, value in asdict(plan).items() if name not in {"catches", "events"}
    }
    return {**known, "moved": moved}


def sounding(plan: Plan) -> tuple[Signal, float]:
    """Return the recording of a take at `RATE`, and by how much the phone delays it."""
    random = np.random.default_rng(plan.seed)
    length = round(plan.seconds * RATE)
    room = int(random.integers(len(ROOMS[plan.part])))
    dry = {place: np.zeros(length) for place in PLACES if place != "phone"}
    _add_events(plan, dry, random)
    if plan.call or plan.happening == "clicks":
        _add_call(plan, dry, random)
    _add_bed(plan, dry, random)
    answers = room_answers(plan.part, room)
    sound = np.zeros(length)
    for place, samples in dry.items():
        if samples.any():
            sound += fftconvolve(samples, answers[place])[:length]
    if plan.bed == "echo":
        sound = _slap(sound, random)
    sound += 10 ** (random.uniform(*NOISE) / 20) * _pink(length, random)
    return _recorded(plan, sound, random)


def _add_events(plan: Plan, dry: dict[str, Signal], random: np.random.Generator) -> None:
    """Add the catches, each another blend of two of a few sounds, and what falls or steps.

    No two are alike, or it would be too easy to tell a catch by its sound.
    """
    kit = impacts(KITS[plan.part][plan.kit], float(random.uniform(0.025, 0.08)))
    kept = random.permutation(len(kit))[: int(random.integers(3, 7))]
    floor, step = impacts(FLOORS[plan.part]), impacts(STEPS[plan.part])
    dull = float(random.uniform(2_500, 9_000))
    for event in plan.events:
        if event.catch is not None:
            one, other = (kit[place] for place in random.choice(kept, 2))
            blend, duller = float(random.random()), dull * float(np.exp(random.normal(0, 0.35)))
            low = butter(1, min(duller, 11_000), fs=RATE, output="sos")
            sound = levelled(sosfilt(low, blend * one + (1 - blend) * other))
        else:
            of = step if event.where == "step" else floor
            sound = of[int(random.integers(len(of)))]
        place = "floor" if event.where == "handling" else event.where
        _put(dry[place], plan.take_time(event.time), event.level, sound)


def _put(onto: Signal, time: float, level: float, sound: Signal) -> None:
    start = round(time * RATE)
    if 0 <= start < len(onto):
        part = onto[start : start + len(sound)]
        part += 10 ** (level / 20) * sound[: len(part)]


@lru_cache(maxsize=4)
def call_of(plan: Plan) -> Samples:
    """Return what the speakers were given."""
    piece = plan.piece()
    assert piece.timeline.seconds is not None
    return piece.sound().read(round(piece.timeline.seconds * RATE))


def _add_call(plan: Plan, dry: dict[str, Signal], random: np.random.Generator) -> None:
    """Add what small speakers make of the call, on the recorder's clock."""
    sides = call_of(plan)
    faster = 1 + plan.ppm * 1e-6
    sides = soxr.resample(sides.astype(np.float64), RATE, RATE * faster, quality="VHQ")
    own = plan.happening == "clicks"
    level = random.uniform(*(DROWNING if own else CALLED))
    hop = RATE // 100
    windows = np.mean(sides[: len(sides) // hop * hop].sum(axis=1).reshape(-1, hop) ** 2, axis=1)
    loud = np.quantile(windows[windows > windows.max() * 1e-6], 0.9)
    sides *= 10 ** (level / 20) / np.sqrt(loud)
    lowest = 700.0 if own else float(random.uniform(120, 350))
    small = butter(2, (lowest, 11_000), "bandpass", fs=RATE, output="sos")
    start = round(plan.delay * RATE)
    for place, side in zip(("speaker", "speaker 2"), sides.T, strict=True):
        heard = sosfilt(small, side)
        most = (0.3 if own else 1.5) * float(np.abs(heard).max())
        heard = np.tanh(heard / most) * most
        if own:
            heard = _jumping(heard, random)
        target = dry[place]
        first = max(-start, 0)
        part = target[max(start, 0) : max(start, 0) + len(heard) - first]
        part += heard[first : first + len(part)]


def _jumping(sound: Signal, random: np.random.Generator) -> Signal:
    """Return a sound as a wireless speaker plays it that loses and regains some milliseconds."""
    pieces, start, sign = [], 0, 1
    while start < len(sound):
        end = start + round(random.uniform(2, 5) * RATE)
        pieces.append(sound[start:end])
        jump = round(random.uniform(0.002, 0.005) * RATE)
        if sign > 0:
            pieces.append(np.zeros(jump))
        elif len(pieces[-1]) > jump:
            pieces[-1] = pieces[-1][:-jump]
        start, sign = end, -sign
    return np.concatenate(pieces)


def _add_bed(plan: Plan, dry: dict[str, Signal], random: np.random.Generator) -> None:
    """Add people who talk, music, or somebody who walks about."""
    if plan.bed == "babble":
        for place in ("talker", "talker 2", "talker"):
            level = 10 ** (random.uniform(*SPEECH) / 20)
            dry[place] += (
                level * talk(VOICES[plan.part], plan.seconds + 1, random)[: len(dry[place])]
            )
    elif plan.bed == "music":
        level = 10 ** (random.uniform(*MUSIC_LEVEL) / 20)
        dry["talker 2"] += (
            level * music(MUSIC[plan.part], plan.seconds + 1, random)[: len(dry["talker 2"])]
        )
    elif plan.bed == "steps":
        time, step = float(random.uniform(0, 1)), impacts(STEPS[plan.part])
        walking, gap = True, float(random.uniform(0.48, 0.65))
        while time < plan.seconds:
            if walking:
                sound = step[int(random.integers(len(step)))]
                _put(dry["step"], time, float(random.uniform(-14, -4)), sound)
            time += gap + float(random.normal(0, 0.03))
            if random.random() < 0.08:
                walking = not walking


def _slap(sound: Signal, random: np.random.Generator) -> Signal:
    """Return a sound with the echo from one bare wall, nearly as loud as itself."""
    late = round(random.uniform(*SLAP) * RATE)
    dull = butter(1, 6_000, fs=RATE, output="sos")
    echo = 10 ** (random.uniform(-7, -2) / 20) * sosfilt(dull, sound)
    sound = sound.copy()
    sound[late:] += echo[:-late]
    return sound


def _pink(length: int, random: np.random.Generator) -> Signal:
    spectrum = np.fft.rfft(random.normal(size=length))
    spectrum /= np.sqrt(np.maximum(np.fft.rfftfreq(length, 1 / RATE), 40.0))
    return steady_level(np.fft.irfft(spectrum, length))


def room_answers(part: PartName, room: int) -> dict[str, Signal]:
    """Return the room's answer at the phone from each place, the direct sound of a hand at 1."""
    path = CACHE / "rooms" / f"{part}-{room}.npz"
    if not path.exists():
        import pyroomacoustics as pra  # noqa: PLC0415 - only where a room is made

        size, seconds = ROOMS[part][room]
        absorption, order = pra.inverse_sabine(seconds, size)
        box = pra.ShoeBox(
            size, fs=RATE, materials=pra.Material(absorption), max_order=min(order, 17)
        )
        placed = {
            name: [along * size[0], across * size[1], height]
            for name, (along, across, height) in PLACES.items()
        }
        box.add_microphone(placed.pop("phone"))
        for place in placed.values():
            box.add_source(place)
        box.compute_rir()
        found = dict(zip(placed, box.rir[0], strict=True))
        loudest = float(np.abs(found["right"]).max())
        with made_beside(path) as beside:
            np.savez(beside, **{name: answer / loudest for name, answer in found.items()})
    with np.load(path) as kept:
        # What comes before the direct sound of the nearest hand is cut away.
        first = max(int(np.argmax(np.abs(kept["right"]) > 0.2)) - 40, 0)
        return {name: kept[name][first:].astype(np.float64) for name in kept.files}


def _recorded(plan: Plan, sound: Signal, random: np.random.Generator) -> tuple[Signal, float]:
    """Return what a phone keeps of a sound, and by how much it delays it, in seconds."""
    sound = plain = sound / (np.abs(sound).max() / PEAK)
    if plan.bed == "suppression":
        sound = _suppressed(sound, float(random.uniform(14, 24)))
        if random.random() < 0.5:
            sound = _by_ffmpeg(
                sound, "ogg", ("-c:a", "libopus", "-b:a", "20k", "-application", "voip")
            )
        else:
            sound = _by_ffmpeg(sound, "ogg", ("-c:a", "libspeex", "-ar", "16000", "-b:a", "20k"))
    else:
        if random.random() < 0.4:
            sound = _levelling(sound, float(random.uniform(0.2, 1.0)))
        kind = int(random.integers(3))
        if kind == 1:
            sound = _by_ffmpeg(sound, "m4a", ("-c:a", "aac", "-b:a", "48k"))
        elif kind == 2:
            sound = _by_ffmpeg(sound, "ogg", ("-c:a", "libopus", "-b:a", "32k"))
    return sound, _later(sound, plain)


def _later(sound: Signal, plain: Signal) -> float:
    """Return how much later a sound is than what it was made of, in seconds, by correlation."""
    size = 1 << (len(plain) + LONGEST_DELAY).bit_length()
    product = np.fft.irfft(np.fft.rfft(sound, size) * np.conj(np.fft.rfft(plain, size)), size)
    near = np.concatenate((product[-LONGEST_DELAY:], product[: LONGEST_DELAY + 1]))
    return (int(np.argmax(near)) - LONGEST_DELAY) / RATE


def _suppressed(sound: Signal, most: float) -> Signal:
    """Return a sound with its noise suppressed by at most so many dB, as in a call."""
    own = 16_000
    sound = np.asarray(soxr.resample(sound, RATE, own))
    _, _, spectra = stft(sound, own, nperseg=320, noverlap=160)
    powers = np.abs(spectra) ** 2
    noise = powers[:, :25].mean(axis=1) + 1e-12
    kept = np.zeros(len(noise))
    gains = np.empty_like(powers)
    least = 10 ** (-most / 20)
    for frame in range(powers.shape[1]):
        now = powers[:, frame]
        rising = now > noise
        noise = noise * np.where(rising, 1.01, 0.9) + np.where(rising, 0.0, 0.1) * now
        over = now / noise
        prior = 0.98 * kept / noise + 0.02 * np.maximum(over - 1, 0)
        gain = np.maximum(prior / (1 + prior), least)
        kept = gain**2 * now
        gains[:, frame] = gain
    _, clean = istft(spectra * gains, own, nperseg=320, noverlap=160)
    return np.asarray(soxr.resample(clean[: len(sound)], own, RATE))


def _levelling(sound: Signal, release: float) -> Signal:
    """Return a sound at a steady level: turned down at once, and up in `release` seconds."""
    hop = RATE // 100
    squares = np.mean(np.resize(sound, -(-len(sound) // hop) * hop).reshape(-1, hop) ** 2, axis=1)
    gain, gains = 1.0, []
    for level in np.sqrt(squares):
        wanted = min(0.2 / max(float(level), 1e-4), 8.0)
        gain += (wanted - gain) * (0.7 if wanted < gain else 0.01 / release)
        gains.append(gain)
    smooth = np.interp(np.arange(len(sound)), np.arange(len(gains)) * hop, gains)
    louder = sound * smooth
    return np.asarray(np.tanh(louder / max(float(np.abs(louder).max()), 1e-9)) * PEAK)


def _by_ffmpeg(sound: Signal, ending: str, options: tuple[str, ...]) -> Signal:
    """Return a sound that was coded and decoded."""
    raw = ("-f", "f32le", "-ac", "1", "-ar", str(RATE))
    quiet = ("ffmpeg", "-v", "error", "-y")
    with TemporaryDirectory() as folder:
        path = f"{folder}/coded.{ending}"
        subprocess.run(
            [*quiet, *raw, "-i", "-", *options, path],
            check=True,
            input=sound.astype("<f4").tobytes(),
        )
        decoded = subprocess.run(
            [*quiet, "-i", path, *raw, "-"], check=True, capture_output=True
        ).stdout
    heard = np.frombuffer(decoded, dtype="<f4").astype(np.float64)
    return (
        np.resize(heard, len(sound))
        if len(heard) >= len(sound)
        else np.pad(heard, (0, len(sound) - len(heard)))
    )


def main() -> None:
    """Make the takes of a part."""
    parser = argparse.ArgumentParser(description="Make takes of the bank.")
    parser.add_argument("part", choices=SEEDS)
    parser.add_argument("only", nargs="?", default="", help="only takes whose names hold this")
    options = parser.parse_args()
    for take in bank(options.part, options.only):
        sys.stdout.write(f"{take.path}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
