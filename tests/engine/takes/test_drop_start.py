"""Which catch failed first, in rows of sounds that are made by hand.

Every catch that was heard came on time, and hands throw as usual: one object after the other.
"""

import tracemalloc
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from throwcount.engine.takes.catches import Catch, Thuds
from throwcount.engine.takes.drop_start import earliest, end_of_fall
from throwcount.engine.takes.drops import Drop, find_drops
from throwcount.engine.takes.expected_onsets import ExpectedOnset, TakeStatistics

SPREAD = 0.010


def row(heard: str, value: int = 3, gap: float = 0.3, *, known: bool = True) -> list[ExpectedOnset]:
    """Return the catches of a cascade: + for heard, - for missing."""
    return [
        ExpectedOnset(
            index * gap,
            0.98 if sign == "+" else 0.0,
            (catch_of(index, value, gap),) if known else (),
        )
        for index, sign in enumerate(heard)
    ]


def catch_of(index: int, value: int, gap: float) -> Catch:
    """Return the catch that falls due as number `index`, its object named by a letter."""
    hand = "right" if index % 2 else "left"
    name = chr(ord("A") + index % value)
    thrown = index - value + 1
    return Catch(index * gap, thrown, hand, 0, value, "main", 60 / gap, str(value), name)  # type: ignore[arg-type]


def drops_in(
    expected: Sequence[ExpectedOnset],
    extra: Sequence[float] = (),
    rate: float = 1.0,
    *,
    ended: bool = True,
) -> list[Drop]:
    times = np.array(sorted([due.time for due in expected if due.heard] + list(extra)))
    thuds = Thuds(times, np.ones(len(times)))
    background = TakeStatistics(thuds, SPREAD, extra_rate=0.05, extra_confidence=0.05, rate=rate)
    return list(find_drops(expected, background, ended=ended))


def without(heard: str, first: int, value: int = 3) -> str:
    """Return a row in which an object is missing from its catch `first` on."""
    return "".join(
        "-" if index >= first and (index - first) % value == 0 else sign
        for index, sign in enumerate(heard)
    )


@pytest.mark.parametrize("known", [True, False])
@pytest.mark.parametrize("gap", [0.23, 0.3, 0.34, 0.5])
def test_where_all_stops_it_began_with_the_first_that_is_missing(known: bool, gap: float) -> None:
    (drop,) = drops_in(row("+" * 60 + "-" * 20, 3, gap, known=known))
    assert drop.time == pytest.approx(60 * gap)
    assert drop.within_beat > 0.95
    assert (drop.catch is not None) == known


def test_what_is_caught_after_it_is_seen_through() -> None:
    """A is missing for good, and B and C are caught once more: with a thud on the floor, A fell."""
    expected = row("+" * 60 + "-++" + "-" * 20)
    (drop,) = drops_in(expected, extra=[60 * 0.3 + 0.25])
    assert drop.catch == expected[60].catches[0]
    assert drop.within_beat > 0.9


def test_a_miss_whose_object_is_caught_again_is_none() -> None:
    """A goes unheard once and is caught a round later, before all stops."""
    expected = row("+" * 60 + "-++" + "+++" + "-" * 20)
    (drop,) = drops_in(expected)
    assert drop.catch == expected[66].catches[0]


@pytest.mark.parametrize("heard", ["--+", "-+-+", "--+-+"])
def test_bounces_that_fall_on_the_beat_are_no_catches(heard: str) -> None:
    """The object comes down a quarter of a second after its catch, and jumps."""
    expected = row("+" * 60 + heard + "-" * 20)
    (drop,) = drops_in(expected, extra=[60 * 0.3 + late for late in (0.25, 0.47, 0.7, 0.78)])
    assert drop.time == pytest.approx(60 * 0.3, abs=0.31)


def test_steps_that_fall_on_the_beat_are_no_going_on() -> None:
    """Somebody walks about until the end, with every other step on a beat."""
    expected = row("+" * 60 + "---" + "+-" * 8)
    (drop,) = drops_in(expected, extra=[64 * 0.3 + 0.6 * step + 0.12 for step in range(8)])
    assert drop.catch == expected[60].catches[0]
    assert drop.resumed is None


def test_a_drop_begins_after_the_stop_before_it() -> None:
    for known in (True, False):
        for value, again in ((3, 6), (3, 7), (7, 6), (7, 8)):
            heard = "+" * 60 + "-" * 12 + "+" * again + "-" * 30
            first, second = drops_in(row(heard, value, 0.15 if value == 7 else 0.3, known=known))
            assert first.resumed is not None
            assert second.time >= first.resumed


def test_an_object_is_not_lost_before_a_stop_after_which_it_is_heard() -> None:
    expected = row(without("+" * 60 + "-" * 16 + "+" * 120, first=84))
    stopped, lost = drops_in(expected)
    assert (stopped.kind, lost.kind) == ("stopped", "one object")
    assert lost.catch == expected[84].catches[0]


@pytest.mark.parametrize(("again", "ended", "told"), [(0, True, 1), (30, True, 0), (0, False, 0)])
def test_an_object_on_the_floor_stays_there(again: int, ended: bool, told: int) -> None:
    """The same few misses are a drop at the end of a take, not before, nor while it goes on."""
    expected = row(without("+" * 36, first=27) + "+" * again)
    assert len(drops_in(expected, ended=ended)) == told


@pytest.mark.parametrize("rate", [0.9, 1.0, 1.1])
def test_a_take_at_another_pace_has_beats_of_another_length(rate: float) -> None:
    """The pattern was asked for at 200 a minute; the juggler went at a pace of their own."""
    expected = [replace(due, time=due.time * rate) for due in row("+" * 60 + "-+" + "-" * 20)]
    (drop,) = drops_in(expected, rate=rate)
    (usual,) = drops_in(row("+" * 60 + "-+" + "-" * 20))
    assert drop.catch == usual.catch
    assert drop.within_beat == pytest.approx(usual.within_beat, abs=0.05)


def test_one_that_fell_may_hide_among_pairs() -> None:
    """Of two that are caught together one may have failed unheard, so that nothing is sure."""
    pairs = [
        replace(due, catches=(*due.catches, replace(due.catches[0], object=f"{index % 3}")))
        for index, due in enumerate(row("+" * 60 + "-" * 20))
    ]
    (drop,) = drops_in(pairs)
    assert drop.time == pytest.approx(60 * 0.3, abs=4 * 0.3)
    assert drop.within_beat < 0.8


def test_a_catch_may_lack_its_throw_in_notation_and_its_object() -> None:
    """As where a timeline tells no more than times and values."""
    bare = [
        replace(due, catches=(replace(due.catches[0], throw="", object=""),))
        for due in row("+" * 60 + "-" * 20)
    ]
    (drop,) = drops_in(bare)
    assert drop.time == pytest.approx(60 * 0.3)


def test_rounds_far_apart_take_no_memory() -> None:
    """An object that is alone at times only is looked for where it is lost, not everywhere."""
    peaks = []
    for pairs in (500, 2000):
        expected = row("+" * 60 + "+" * pairs + "+" * 3 + "-++" * 12)
        expected = [
            replace(due, catches=due.catches * 2) if 60 <= index < 60 + pairs else due
            for index, due in enumerate(expected)
        ]
        tracemalloc.start()
        drops_in(expected)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < 6 * peaks[0]


@pytest.mark.parametrize(
    ("value", "gap", "first"),
    [(3, 0.25, 53), (5, 0.25, 51), (9, 0.2, 47)],
)
def test_how_far_back_it_may_have_begun(value: int, gap: float, first: int) -> None:
    """As far as the flight of the highest throw and some beats of going on: value + 4 beats."""
    expected = row("+" * 80, value, gap)
    assert earliest(expected, 60) == first
    assert earliest(expected, 60, least=58) == 58
    assert earliest(expected, 0) == 0


@pytest.mark.parametrize(
    ("index", "end", "last"),
    [(0, None, 4), (0, 2, 2), (4, None, 5)],
)
def test_how_long_something_falls(index: int, end: int | None, last: int) -> None:
    """Within 0.8 s it lies: sounds 0.3 s apart until one is later than that, or they end."""
    assert end_of_fall(row("+" * 5), index, end) == last
