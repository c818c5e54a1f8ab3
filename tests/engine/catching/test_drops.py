"""Drops are found where they are, and rows of mere misses are not taken for any.

What happens at a drop is simulated as it is usually seen (common practice): throws go on for a
beat or two, some of what is in the air is caught, the object thuds on the floor, and after some
seconds the pattern goes on or not; or the rest goes on without the object.
"""

from collections.abc import Iterator, Sequence
from random import Random

import numpy as np
import pytest
from thud_times import Dropped, Manner, Take, catches_of, take_of

from engine.catching.alignment import align
from engine.catching.drops import Drop, find_drops
from engine.catching.dues import Due, dues_of
from engine.catching.expected import Catch
from engine.catching.heard import thuds_of

PLAIN = (("3", 200), ("4", 180), ("5", 260), ("744", 220))


def drops_of(catches: Sequence[Catch], take: Take) -> tuple[Drop, ...]:
    aligned = align(catches, thuds_of(take.thuds), take.seconds, placed=True)
    assert aligned is not None
    return find_drops(dues_of(aligned), aligned.strays, aligned.mixture.strays)


def beats_off(catches: Sequence[Catch], dropped: int, found: Sequence[Drop]) -> float:
    """Return how many beats the nearest drop that was found is away from the one there was."""
    true = catches[dropped]
    return min(
        (abs(drop.catch.time - true.time) * true.tempo / 60 for drop in found if drop.catch),
        default=float("inf"),
    )


@pytest.mark.parametrize("missing", [0.05, 0.15])
@pytest.mark.parametrize(("text", "bpm"), [*PLAIN, ("531", 200), ("(4,4)", 180)])
def test_mere_misses_are_no_drop(text: str, bpm: float, missing: float) -> None:
    for seed in range(2):
        random = Random(seed)
        catches = catches_of(text, bpm, 400)
        manner = Manner(sd=random.uniform(0.005, 0.04), missing=missing, extra=missing)
        assert drops_of(catches, take_of(catches, random, manner)) == ()


WAYS = {
    "all stops at once": {"reaction": 0.0, "others": 0.0},
    "within a beat or two": {},
    "the rest is collected": {"reaction": 0.5, "others": 0.95},
    "and goes on after a while": {"resumed": 4.0},
    "unheard on the floor": {"floor": 0.0},
}


def dropped_takes(
    way: str, takes: int, missing: float, extra: float
) -> Iterator[tuple[list[Catch], int, tuple[Drop, ...]]]:
    """Yield catches, which of them is dropped, and the drops that are found."""
    for text, bpm in PLAIN:
        for seed in range(takes):
            random = Random(f"{way} {text} {seed}")
            catches = catches_of(text, bpm, 100)
            dropped = random.randrange(40, 70)
            drop = Dropped(dropped, **WAYS[way])  # type: ignore[arg-type]
            manner = Manner(sd=random.uniform(0.005, 0.03), missing=missing, extra=extra)
            take = take_of(catches, random, manner, [drop])
            yield catches, dropped, drops_of(catches, take)


@pytest.mark.parametrize("way", WAYS)
def test_on_the_very_beat_where_nothing_else_is_missing(way: str) -> None:
    for catches, dropped, (drop,) in dropped_takes(way, 3, missing=0.0, extra=0.0):
        assert drop.catch == catches[dropped]
        assert drop.kind == "stopped"
        assert (drop.resumed is not None) == ("resumed" in WAYS[way])
        assert drop.sureness > 0.9


def test_found_within_one_beat() -> None:
    """With 5 % missing and 5 % stray every drop is found, and about nine in ten within a beat.

    The others lie a few beats off, where a catch that went unheard shortly before the drop looks
    just like its beginning, or a stray sound fills the place of the catch that failed.
    """
    off, number = [], []
    for way in WAYS:
        for catches, dropped, found in dropped_takes(way, 7, missing=0.05, extra=0.05):
            off.append(beats_off(catches, dropped, found))
            number.append(len(found))
    assert all(number)
    assert sum(beats < 1.01 for beats in off) >= 0.85 * len(off)
    assert sum(beats < 0.01 for beats in off) >= 0.75 * len(off)
    assert max(off) < 9
    assert number.count(1) >= 0.95 * len(number)


@pytest.mark.parametrize(("text", "bpm"), PLAIN)
def test_the_rest_goes_on_without_one_object(text: str, bpm: float) -> None:
    """Of the right object every time; the round in which it fell may be one out."""
    for seed in range(6):
        random = Random(seed)
        catches = catches_of(text, bpm, 160)
        dropped = random.randrange(40, 60)
        take = take_of(catches, random, Manner(sd=0.012), [Dropped(dropped, alone=True)])
        (drop,) = drops_of(catches, take)
        assert drop.kind == "one object"
        assert drop.catch is not None
        assert drop.catch.object == catches[dropped].object
        rounds = abs(drop.catch.beat - catches[dropped].beat)
        assert rounds <= 2 * catches[dropped].value + 7


def test_when_it_goes_on() -> None:
    catches = catches_of("3", 200, 160)
    manner = Manner(sd=0.01, missing=0.0, extra=0.0, ppm=0.0)
    take = take_of(catches, Random(1), manner, [Dropped(60, others=0.0, reaction=0.0, resumed=5.0)])
    (drop,) = drops_of(catches, take)
    assert drop.time == pytest.approx(catches[60].time - manner.lead, abs=0.02)
    assert drop.resumed is not None
    # The first throw after five seconds is caught a flight later.
    assert 5.0 <= drop.resumed - drop.time <= 6.2
    assert drop.missing == pytest.approx((drop.resumed - drop.time) / 0.3, abs=1)


def test_several_drops() -> None:
    catches = catches_of("3", 200, 300)
    drops = [Dropped(place, resumed=4.0) for place in (60, 140, 230)]
    take = take_of(catches, Random(3), Manner(sd=0.012, missing=0.02), drops)
    found = drops_of(catches, take)
    assert [drop.catch.beat for drop in found if drop.catch] == pytest.approx([60, 140, 230], abs=2)


def dues(heard: str, gap: float = 0.3) -> list[Due]:
    """Return sounds in a row: + for heard, - for missing."""
    return [Due(index * gap, 0.98 if sign == "+" else 0.0) for index, sign in enumerate(heard)]


@pytest.mark.parametrize(
    ("heard", "first"),
    [
        ("+" * 100, []),
        ("+" * 50 + "-" + "+" * 50, []),
        ("+" * 50 + "---" + "+" * 50, []),
        # Silence to the end, and with catches after it.
        ("+" * 50 + "-" * 20, [50]),
        ("+" * 50 + "-" * 12 + "+" * 30, [50]),
        ("+" * 40 + "-" * 12 + "+" * 40 + "-" * 12 + "+" * 20, [40, 92]),
        # Nothing before the first catch is missing: the juggler began late.
        ("-" * 20 + "+" * 50, []),
        ("", []),
        ("-----", []),
    ],
)
def test_rows_without_a_pattern(heard: str, first: list[int]) -> None:
    found = find_drops(dues(heard))
    assert [round(drop.time / 0.3) for drop in found] == first
    assert all(drop.catch is None for drop in found)


def test_nobody_picks_up_an_object_within_a_second() -> None:
    heard = "+" * 60 + "-" * 5 + "+" * 60
    assert find_drops(dues(heard, gap=0.2)) == ()
    assert len(find_drops(dues(heard, gap=0.4))) == 1


def test_a_longer_silence_is_surer() -> None:
    sureness = [find_drops(dues("+" * 60 + "-" * count))[0].sureness for count in (3, 6, 9, 15)]
    assert sureness == sorted(sureness)
    assert sureness[0] < 0.8
    assert sureness[-1] > 0.999


@pytest.mark.parametrize("count", [3, 4, 5, 6])
def test_of_rows_told_as_so_sure_that_share_are_drops(count: int) -> None:
    """Against rows drawn at random, in which misses come in bursts (Gilbert, BSTJ 39 (1960) 1253).

    One catch in 300 is dropped; one in 50 is missed, and each miss is followed by another with a
    chance of 0.3. What is told is the share of drops among rows at least so long.
    """
    random = np.random.default_rng(1)
    catches = 20_000_000
    dropped = random.binomial(catches, 1 / 300)
    lengths = random.geometric(1 - 0.3, random.binomial(catches, 1 / 50))
    share = dropped / (dropped + (lengths >= count).sum())
    (found,) = find_drops(dues("+" * 60 + "-" * count))
    assert found.sureness == pytest.approx(share, abs=0.02)


def test_a_thud_on_the_floor_speaks_for_the_catch_before_it() -> None:
    """One catch is missing two before the end: with a thud after it, the drop is there."""
    row = dues("+" * 60 + "-" + "+" * 2 + "-" * 12)
    without = find_drops(row, [63 * 0.3 + 0.3])
    (with_floor,) = find_drops(row, [60 * 0.3 + 0.35])
    assert round(with_floor.time / 0.3) == 60
    assert round(without[0].time / 0.3) == 63
