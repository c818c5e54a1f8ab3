"""Drops come to light while a set is thrown: soon, once, where they are, and hardly any by mistake.

Takes are simulated as in `test_drops`, and told bit by bit, as a microphone would: every tenth of a
second what was heard up to three tenths of a second ago.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random
from weakref import WeakSet

import pytest
from dropped_takes import WAYS as WAYS_TO_DROP
from thud_times import Dropped, Heard, Manner, Take, catches_of, take_of

from throwcount.engine.takes.catches import Catch
from throwcount.engine.takes.drops import Drop, DropWatch

POLL, DELAY = 0.1, 0.3
"""Seconds between two looks, and from a thud to when it is known."""

USUAL = {"missing": 0.03, "extra": 0.05, "ppm": 0.0}
PLAIN = (("3", 200), ("4", 180), ("5", 260), ("744", 220))


@dataclass(frozen=True)
class Told:
    """A drop, and when it was told, in seconds of the take."""

    at: float
    drop: Drop


def told(catches: Sequence[Catch], take: Take, watch: DropWatch | None = None) -> list[Told]:
    watch = watch or DropWatch(iter(catches))
    drops, waiting = [], list(take.thuds)
    for poll in range(int(take.seconds / POLL)):
        until = poll * POLL - DELAY
        known = [thud for thud in waiting if thud.time <= until]
        del waiting[: len(known)]
        watch.hear(known)
        if drop := watch.judge(until):
            drops.append(Told(poll * POLL, drop))
    return drops


@pytest.mark.parametrize(("text", "bpm"), [*PLAIN, ("531", 200), ("(4,4)", 180), ("51", 220)])
def test_nothing_is_told_of_a_steady_juggler(text: str, bpm: int) -> None:
    """For eighty seconds each; of five hours of such takes, measured once, not one gap was told."""
    catches = catches_of(text, bpm, 4 * bpm // 3)
    assert told(catches, take_of(catches, Random(text), Manner(sd=0.02, **USUAL))) == []


WAYS = [way for way in WAYS_TO_DROP if way != "unheard on the floor"]


@pytest.mark.parametrize("way", WAYS)
def test_a_drop_is_told_once_soon_and_where_it_is(way: str) -> None:
    """Within about two seconds from the last catch: at 180 a minute that is six sounds."""
    off, waited = [], []
    for text, bpm in PLAIN:
        for seed in range(2):
            random = Random(f"{way} {text} {seed}")
            catches = catches_of(text, bpm, 100)
            dropped = random.randrange(30, 50)
            manner = Manner(sd=random.uniform(0.005, 0.03), **USUAL)
            take = take_of(catches, random, manner, [WAYS_TO_DROP[way].at(dropped)])
            (found,) = told(catches, take)
            assert found.drop.kind == "stopped"
            assert found.drop.catch is not None
            off.append(abs(found.drop.catch.time - catches[dropped].time) * bpm / 60)
            waited.append(found.at - last_caught(take, found.at))
    assert sum(beats < 2.01 for beats in off) >= 7
    assert sorted(waited)[6] < 2.2
    assert max(waited) < 3.2


@pytest.mark.parametrize(("text", "bpm"), [("5", 260), ("7", 330), ("9", 400)])
def test_what_was_in_the_air_does_not_tell_that_it_goes_on(text: str, bpm: float) -> None:
    """Nearly all of it is caught after the drop; that once made one drop two."""
    for seed in range(6):
        random = Random(seed + 100)
        catches = catches_of(text, bpm, 100)
        manner = Manner(sd=0.012, missing=0.03, ppm=0.0)
        drop = Dropped(50, reaction=1.5 if seed % 2 else 0.5, others=0.95)
        assert len(told(catches, take_of(catches, random, manner, [drop]))) == 1


def last_caught(take: Take, before: float) -> float:
    thuds = zip(take.thuds, take.of, strict=True)
    return max(thud.time for thud, of in thuds if of and thud.time < before)


@pytest.mark.parametrize(("text", "bpm"), PLAIN)
def test_the_rest_goes_on_without_one_object(text: str, bpm: int) -> None:
    """Told once, although everything else goes on, after some rounds without it."""
    random = Random(text)
    catches = catches_of(text, bpm, 130)
    take = take_of(catches, random, Manner(sd=0.012, **USUAL), [Dropped(40, alone=True)])
    (found,) = told(catches, take)
    assert found.drop.kind == "one object"
    assert found.drop.catch is not None
    assert found.drop.catch.object == catches[40].object
    assert found.at - catches[40].time < 10


def test_going_on_is_seen_so_that_the_next_drop_is_told() -> None:
    catches = catches_of("3", 200, 200)
    drops = [Dropped(place, resumed=3.0) for place in (50, 100, 150)]
    found = told(catches, take_of(catches, Random(1), Manner(sd=0.012, **USUAL), drops))
    beats = [each.drop.catch.beat for each in found if each.drop.catch]
    assert beats == pytest.approx([50, 100, 150], abs=2)


@pytest.mark.parametrize("lead", [-0.15, -0.05, 0.1])
def test_the_lead_is_learned(lead: float) -> None:
    catches = catches_of("531", 200, 60)
    watch = DropWatch(catches)
    assert told(catches, take_of(catches, Random(2), Manner(lead=-lead, **USUAL)), watch) == []
    assert watch.lead == pytest.approx(lead, abs=0.025)


@pytest.mark.parametrize("slower", [0.03, -0.03])
def test_a_juggler_who_goes_at_another_pace_is_followed(slower: float) -> None:
    """Over a minute that leads two seconds away; the set ends as far from where it should."""
    catches = catches_of("5", 240, 240)
    random = Random(3)
    late = [slower * (catch.time - catches[0].time) + random.gauss(0, 0.012) for catch in catches]
    found = told(catches, take_of(catches, random, Manner(**USUAL), asynchronies=late))
    assert [each for each in found if each.at < catches[-1].time - 3] == []


def test_off_the_beat_is_not_dropped() -> None:
    """From the fiftieth catch on half-way between the beats: heard, though not where expected."""
    catches = catches_of("3", 200, 120)
    late = [0.15 if index > 50 else 0.0 for index in range(120)]
    take = take_of(catches, Random(4), Manner(**USUAL), asynchronies=late)
    assert told(catches, take) == []


@pytest.mark.parametrize(
    ("catches", "thuds"),
    [(0, 0), (0, 20), (60, 0), (60, 1), (60, 7)],
)
def test_little_tells_nothing(catches: int, thuds: int) -> None:
    expected = catches_of("3", 200, 60)
    take = take_of(expected, Random(5), Manner(missing=0.0, extra=0.0))
    assert told(expected[:catches], Take(take.thuds[:thuds], take.of[:thuds], 25.0)) == []


class Kept(Heard):
    """A thud of which it can be seen whether it is still kept."""

    __slots__ = ("__weakref__",)


def test_what_is_over_is_forgotten() -> None:
    """However long one waits before the first catch, in a set, or after the last."""
    watch = DropWatch(iter(catches_of("3", 200, 300)))
    alive: WeakSet[Kept] = WeakSet()
    most = 0
    for moment in range(2000):
        thud = Kept(moment * 0.1)
        alive.add(thud)
        watch.hear([thud])
        del thud
        if not moment % 50:
            watch.judge(moment * 0.1)
        most = max(most, len(alive))
    # A window of 96 catches at 200 a minute lasts 29 s, with ten thuds in each.
    assert most < 400
