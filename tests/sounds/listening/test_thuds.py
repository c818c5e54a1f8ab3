"""Thuds that are found, on takes whose every thud is known."""

import tracemalloc
from collections.abc import Callable, Iterator
from functools import lru_cache
from statistics import mean, median, stdev

import numpy as np
import pytest
import soxr
from agreement import Agreement, agreement, errors
from takes import Objects, Room, Synthesised, in_room, steady_times, synthesise, thud

from throwcount.sounds.listening.thuds import (
    BEGINNING_FUTURE,
    BEGINNING_PAST,
    RISING,
    Thud,
    ThudFinder,
    find_thuds,
    thud_beginning,
)
from throwcount.sounds.samples import RATE, Mono

SEEDS = range(24)
TEMPI = (120, 140, 160, 180, 200, 220, 240, 260)
OBJECTS: tuple[Objects, ...] = ("beanbags", "balls", "clubs")
ANSWERS = (0.3, 0.5, 0.8, 1.2)
CATCHES = 40
BLOCK = 4096

WANTED = {20: 0.95, 10: 0.85}
"""Least precision and recall on every take, by how far thuds are above the noise, in dB."""


def found_in(samples: Mono, rate: int = RATE, block: int = BLOCK, least: float = 0.5) -> list[Thud]:
    blocks = (samples[start : start + block] for start in range(0, len(samples), block))
    return list(find_thuds(blocks, rate, least))


def times(thuds: list[Thud]) -> list[float]:
    return [thud.time for thud in thuds]


def take_of(room: Room, tempo: float = 200, catches: int = CATCHES, seed: int = 1) -> Synthesised:
    return synthesise(steady_times(tempo, catches, sd=0.01, seed=seed), room, seed=seed)


@lru_cache
def juggled(above_noise: int, seed: int) -> tuple[Synthesised, list[float]]:
    """Return a take with hum, voices and an echo, and the times that are found on it."""
    room = Room(
        above_noise=above_noise,
        objects=OBJECTS[seed % 3],
        reverberation=ANSWERS[seed % 4],
        noise="white" if seed % 5 == 4 else "pink",
        drift=100,
    )
    take = take_of(room, TEMPI[seed % 8], seed=seed)
    return take, times(found_in(take.samples))


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("above_noise", WANTED)
def test_thuds_are_found_among_noise_hum_voices_and_echoes(above_noise: int, seed: int) -> None:
    take, found = juggled(above_noise, seed)
    agreed = agreement(take.thuds, found)
    assert min(agreed.precision, agreed.recall) >= WANTED[above_noise], agreed


@pytest.mark.parametrize("above_noise", WANTED)
def test_their_beginnings_are_told_to_a_millisecond(above_noise: int) -> None:
    late: list[float] = []
    for seed in SEEDS:
        take, found = juggled(above_noise, seed)
        late += errors(take.thuds, found)
    assert abs(median(late)) < 0.001
    assert stdev(late) < 0.001
    assert mean(abs(each) > 0.003 for each in late) < 0.01


@lru_cache
def told_and_right() -> tuple[list[float], list[bool]]:
    """Return how sure thuds are, and whether they are thuds, in rooms where that is hard to say."""
    told, right = [], []
    for room in (Room(10), Room(5), Room(10, voices=10), Room(20, voices=20)):
        for seed in range(4):
            take = take_of(room, TEMPI[seed], seed=seed)
            for found in found_in(take.samples, least=0.02):
                told.append(found.confidence)
                right.append(min(abs(found.time - there) for there in take.thuds) < 0.02)
    return told, right


@pytest.mark.parametrize(("least", "most"), [(0.02, 0.3), (0.3, 0.7), (0.7, 0.95), (0.95, 1.0)])
def test_sureness_is_the_share_of_those_that_are_thuds(least: float, most: float) -> None:
    pairs = zip(*told_and_right(), strict=True)
    among = [(told, right) for told, right in pairs if least <= told <= most]
    assert len(among) >= 15
    assert mean(right for _, right in among) == pytest.approx(mean(t for t, _ in among), abs=0.2)


ROOMS = {
    "steady in a quiet room": (Room(40, hum=None, voices=None), 0.97),
    "without any noise or echo": (Room(120, hum=None, voices=None, reverberation=0), 0.97),
    "a hall that answers as loud": (Room(reverberation=1.8, direct=0), 0.95),
    "loud hum": (Room(hum=20), 0.95),
    "voices 10 dB over the noise": (Room(voices=10), 0.93),
    "voices as loud as the thuds": (Room(voices=20), 0.82),
    "hardly above the noise": (Room(5), 0.85),
    "thuds of very different level": (Room(level_range=24), 0.95),
}


@pytest.mark.parametrize("name", ROOMS)
def test_thuds_are_found_in_other_rooms(name: str) -> None:
    room, least = ROOMS[name]
    assert least_of(agreement_on(take_of(room, seed=seed)) for seed in (1, 2)) >= least


@pytest.mark.parametrize("objects", OBJECTS)
def test_catches_200_ms_apart_are_found(objects: Objects) -> None:
    take = take_of(Room(objects=objects), tempo=300, catches=100)
    assert least_of([agreement_on(take)]) >= 0.97


SPOILT: dict[str, Callable[[Mono], Mono]] = {
    "clipped": lambda sound: np.clip(20 * sound, -1, 1),
    "with an offset": lambda sound: sound + np.float32(0.2),
    "hardly recorded at all, in 16 bits": lambda sound: np.round(327 * sound) / np.float32(32768),
    "gated": lambda sound: np.where(np.abs(sound) < 0.01, np.float32(0), sound),
    "by a telephone": lambda sound: soxr.resample(soxr.resample(sound, RATE, 8000), 8000, RATE),
}


@pytest.mark.parametrize("name", SPOILT)
def test_thuds_are_found_on_spoilt_takes(name: str) -> None:
    take = take_of(Room())
    found = times(found_in(SPOILT[name](take.samples)))
    assert least_of([agreement(take.thuds, found)]) >= 0.95


@pytest.mark.parametrize("rate", [16_000, 44_100, 48_000])
def test_other_rates_give_the_same_thuds(rate: int) -> None:
    take = take_of(Room())
    there = times(found_in(take.samples))
    found = times(found_in(soxr.resample(take.samples, RATE, rate), rate))
    assert least_of([agreement(there, found)]) >= 0.97
    assert max(abs(error) for error in errors(there, found)) < 0.002


@pytest.mark.parametrize(("metres", "weaker"), [(10, 18), (16, 18), (22, 18), (10, 12), (22, 12)])
def test_a_wall_does_not_double_them(metres: float, weaker: float) -> None:
    """A wall that is so much farther than the person: sound takes 2.9 ms a metre, both ways."""
    take = take_of(Room(above_noise=30, voices=None), catches=60)
    late = round(2 * metres / 343 * RATE)
    answered = take.samples.copy()
    answered[late:] += np.float32(10 ** (-weaker / 20)) * take.samples[:-late]
    agreed = agreement(take.thuds, times(found_in(answered)))
    assert agreed.precision >= 0.9
    assert agreed.recall >= 0.96


@pytest.mark.parametrize(
    ("apart", "count"), [(0.02, 1), (0.03, 1), (0.04, 1), (0.07, 2), (0.1, 2), (0.2, 2)]
)
@pytest.mark.parametrize("objects", OBJECTS)
def test_two_within_45_ms_are_one(objects: Objects, apart: float, count: int) -> None:
    found = found_in(thuds_at([1.5, 1.5 + apart], objects))
    assert len(found) == count
    assert min(abs(found[0].time - there) for there in (1.5, 1.5 + apart)) < 0.002


@pytest.mark.parametrize("time", [0.05, 0.5, 2.9, 2.985])
def test_the_first_and_the_last_are_found(time: float) -> None:
    assert times(found_in(thuds_at([time]))) == [pytest.approx(time, abs=0.002)]


@pytest.mark.parametrize("decibels", [10, 20, 30])
def test_the_level_is_over_the_background(decibels: float) -> None:
    """The background is measured in pauses, which are quieter than the mean of a noise."""
    chance = np.random.default_rng(3)
    gain = 10 ** (decibels / 20)
    sound = thuds_at([1.0, 1.5, 2.0]) * gain + chance.normal(0, 0.01, 3 * RATE)
    for found in found_in(sound.astype(np.float32)):
        assert found.level == pytest.approx(decibels, abs=3)


def noise_of(seconds: float) -> Mono:
    return np.random.default_rng(5).normal(0, 0.1, round(seconds * RATE)).astype(np.float32)


def tone_of(seconds: float) -> Mono:
    return np.sin(np.arange(round(seconds * RATE)) * 0.1).astype(np.float32)


NOTHING = {
    "no sample": noise_of(0),
    "one sample": np.ones(1, dtype=np.float32),
    "a hundred samples": noise_of(100 / RATE),
    "a tenth of a second": noise_of(0.1),
    "silence": np.zeros(5 * RATE, dtype=np.float32),
    "an offset": np.full(5 * RATE, 0.3, dtype=np.float32),
    "a tone": tone_of(5),
    "noise": noise_of(10),
    "noise that grows louder": noise_of(10) * np.linspace(0.01, 1, 10 * RATE, dtype=np.float32),
    "a tone that comes slowly": tone_of(5) * np.linspace(0, 1, 5 * RATE, dtype=np.float32),
}


@pytest.mark.parametrize("name", NOTHING)
def test_nothing_is_found_where_nothing_is(name: str) -> None:
    assert found_in(NOTHING[name]) == []


def test_people_who_talk_are_seldom_taken_for_thuds() -> None:
    take = synthesise([], Room(above_noise=20, voices=10), seed=3, seconds=60)
    assert len(found_in(take.samples)) <= 12


@pytest.mark.parametrize("block", [1_000, 24_000, 1_000_000])
def test_they_do_not_depend_on_where_blocks_end(block: int) -> None:
    take = take_of(Room(), catches=30)
    assert found_in(take.samples, block=block) == found_in(take.samples, block=777)


def test_each_is_told_within_half_a_second() -> None:
    take, block = take_of(Room(), catches=40), 240
    finder = ThudFinder(RATE)
    for start in range(0, len(take.samples), block):
        heard = (start + block) / RATE
        for found in finder.push(take.samples[start : start + block]):
            assert heard - found.time < (0.5 if found.time > 1 else 1.2)


def test_memory_does_not_grow_with_the_take() -> None:
    def blocks(count: int) -> Iterator[Mono]:
        sound = thuds_at([0.5, 1.0, 1.5, 2.0, 2.5])
        return (sound + noise_of(3) / 100 for _ in range(count))

    def peak(count: int) -> int:
        tracemalloc.start()
        found = sum(1 for _ in find_thuds(blocks(count), RATE))
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        assert found == 5 * count
        return most

    peak(2)
    assert peak(24) < 1.05 * peak(6)


def thuds_at(there: list[float], objects: Objects = "beanbags") -> Mono:
    """Return three seconds with a little noise and thuds, their loudest 10 ms at 0.01 rms."""
    chance = np.random.default_rng(4)
    dry = np.zeros(3 * RATE)
    for time in there:
        sound = thud(objects, RATE, chance)
        part = dry[round(time * RATE) :][: len(sound)]
        part += sound[: len(part)]
    answered = in_room(dry, RATE, Room(reverberation=0.3), chance)
    return (0.01 * answered + chance.normal(0, 1e-4, len(dry))).astype(np.float32)


def agreement_on(take: Synthesised) -> Agreement:
    return agreement(take.thuds, times(found_in(take.samples)))


def least_of(agreed: Iterator[Agreement] | list[Agreement]) -> float:
    return min(min(each.precision, each.recall) for each in agreed)


SHARE = 0.3
"""Of the peak: a thud passes it less than a millisecond after its first sound."""


FLOOR = np.ones(2)
EVEN = np.array([0.5, 0.5])


def taken(amplitudes: dict[int, float], last: float) -> np.ndarray:
    """Return powers around a moment, whose amplitude over the background is `amplitudes`.

    Moments are counted from that of most evidence; the `last` amplitude stays.
    """
    after = np.arange(-BEGINNING_PAST, BEGINNING_FUTURE)
    amplitude = np.array([amplitudes.get(place, 0.0) for place in after])
    amplitude[after > max(amplitudes)] = last
    return np.tile(((1 + amplitude) ** 2)[:, np.newaxis], 2)


@pytest.mark.parametrize("place", [-10, -3, 0, 4])
def test_a_jump_is_where_its_share_is_passed(place: int) -> None:
    found = thud_beginning(taken({place: 10.0}, 10.0), FLOOR, EVEN)
    assert found == pytest.approx(place - 1 + SHARE)


def test_a_rise_is_passed_between_moments() -> None:
    found = thud_beginning(taken({0: 2.0, 1: 4.0, 2: 10.0}, 10.0), FLOOR, EVEN)
    assert found == pytest.approx(0 + (10 * SHARE - 2) / 2)


def test_what_was_before_the_rise_does_not_matter() -> None:
    found = thud_beginning(taken({-9: 9.0, 0: 10.0}, 1.0), FLOOR, EVEN)
    assert found == pytest.approx(-1 + SHARE)


def test_bands_without_weight_do_not_matter() -> None:
    powers = taken({0: 10.0}, 10.0)
    powers[BEGINNING_PAST - 8 :, 1] = 1e6
    found = thud_beginning(powers, FLOOR, np.array([1.0, 0.0]))
    assert found == pytest.approx(-1 + SHARE)


def test_what_never_was_below_begins_as_early_as_is_looked_for() -> None:
    powers = taken({-BEGINNING_PAST: 0.0}, 0.0)
    powers[BEGINNING_PAST + RISING[0] :] = 9.0
    assert thud_beginning(powers, FLOOR, EVEN) == RISING[0]
