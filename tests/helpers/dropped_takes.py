"""Takes with one drop, in every way it is usually seen to happen (common practice)."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from random import Random
from typing import Final

from thud_times import Dropped, Manner, Take, catches_of, take_of

from throwcount.engine.takes.catches import Catch

PLAIN: Final = (("3", 200), ("4", 180), ("5", 260), ("744", 220))

WAYS: Final = {
    "all stops at once": Dropped(reaction=0.0, others=0.0),
    "within a beat or two": Dropped(),
    "the rest is collected": Dropped(reaction=0.5, others=0.95),
    "and goes on after a while": Dropped(resumed=4.0),
    "unheard on the floor": Dropped(floor=0.0),
}

BESIDE: Final = {
    "stopped late": Dropped(reaction=3.0, others=0.8, floor=0.4),
    "little is caught": Dropped(reaction=2.5, others=0.3, floor=0.9),
}
"""Ways that nobody who guesses is told of."""

CATCHES: Final = 100


@dataclass(frozen=True, slots=True)
class DroppedTake:
    """A take of which it is known what was dropped, and how."""

    catches: list[Catch]
    drop: Dropped
    take: Take

    @property
    def dropped(self) -> Catch:
        return self.catches[self.drop.catch]

    def beats_off(self, catch: Catch | None) -> float:
        """Return how many beats this catch is away from the one that was dropped."""
        if catch is None:
            return float("inf")
        return abs(catch.time - self.dropped.time) * self.dropped.tempo / 60


def dropped_take(
    way: str, pattern: tuple[str, float], seed: int, missing: float = 0.05, extra: float = 0.05
) -> DroppedTake:
    """Return a take in which a catch between the 40th and the 70th is dropped in this way."""
    text, bpm = pattern
    random = Random(f"{way} {text} {seed}")
    catches = catches_of(text, bpm, CATCHES)
    drop = (WAYS | BESIDE)[way].at(random.randrange(40, 70))
    manner = Manner(sd=random.uniform(0.005, 0.03), missing=missing, extra=extra)
    return DroppedTake(catches, drop, take_of(catches, random, manner, [drop]))


def dropped_takes(
    takes: int, missing: float = 0.05, extra: float = 0.05, ways: Iterable[str] = WAYS
) -> Iterator[tuple[str, DroppedTake]]:
    """Yield so many takes of each pattern in each way, with the way."""
    for way in ways:
        for pattern in PLAIN:
            for seed in range(takes):
                yield way, dropped_take(way, pattern, seed, missing, extra)
