"""What happens on each take of the bank: who throws what, how steadily, and what goes wrong.

The timing of a juggler is the two-level model of Wing & Kristofferson (Perception & Psychophysics
14 (1973) 5-12) with phase correction (Vorberg & Wing 1996; Repp, Psychon. Bull. Rev. 12 (2005)
969-992): the asynchrony of a catch is the last one, less a share of it, with an error of the
timekeeper, and the difference of two motor delays. So the intervals are negatively correlated.
Where it says so there is a slow part too, or a trend. All else (which throws are late and by how
much, reactions to a drop, bounces) is made up, from what one sees.
"""

from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from typing import Final, Literal

import numpy as np
import numpy.typing as npt
from recorded_sounds import KITS, RATE, PartName, Signal

from throwcount.caller.options.request import Request
from throwcount.caller.pieces.pattern import pattern_piece
from throwcount.caller.pieces.piece import Piece, called_voice
from throwcount.engine.patterns.rules import read
from throwcount.engine.takes.catches import MERGED, Catch, expected_catches
from throwcount.engine.timing.run import SayMode
from throwcount.sounds.voices.voice import CallingVoice

Bed = Literal["clean", "echo", "suppression", "babble", "music", "steps"]
Happening = Literal["steady", "planted", "stop", "lost", "drift", "clicks"]
FloorSound = Literal["floor", "step", "handling"]

BEDS: Final[tuple[Bed, ...]] = ("clean", "echo", "suppression", "babble", "music", "steps")
HAPPENINGS: Final[tuple[Happening, ...]] = ("steady", "planted", "stop", "lost", "drift")
SEEDS: Final[dict[PartName, int]] = {
    "first": 1_973,
    "second": 2_005,
    "third": 2_026,
    "fourth": 2_027,
}
ROUNDS: Final = 3
"""How often a part has each circumstance."""

TEMPOS: Final = {
    "3": (150, 200),
    "441": (160, 220),
    "531": (165, 225),
    "423": (160, 210),
    "51": (150, 190),
    "4": (170, 240),
    "(4,4)": (150, 200),
    "534": (180, 240),
    "744": (200, 260),
    "5": (210, 280),
    "97531": (230, 270),
}
"""Beats a minute, as these patterns are thrown (common practice)."""

OFTEN: Final = ("3", "3", "441", "531", "423", "51", "4", "(4,4)", "534", "744", "5")
UNEVEN: Final = ("441", "531", "423", "534", "744", "97531")
"""Patterns of which one throw can be late."""
MANY: Final = ("4", "534", "744", "5", "5")
"""Patterns that go on without one object."""

OWN_CLICKS: Final = 3
"""Takes with a call that drowns the catches, with it and as if on headphones."""

KINDS: Final[tuple[tuple[bool, Bed, Happening], ...]] = (
    *product((True, False), BEDS, HAPPENINGS),
    *((call, "clean", "clicks") for call in (True, False) for _ in range(OWN_CLICKS)),
)
"""The circumstances of each take: whether the call is on it, what else is heard, what happens."""

PLANTED: Final = (0.025, 0.035)
"""Seconds by which one throw of the cycle is late."""


@dataclass(frozen=True)
class Event:
    """A sound of somebody or something, in seconds of the call.

    Parameters
    ----------
    catch
        The index of its catch; None for anything else.
    """

    time: float
    level: float
    where: Literal["right", "left"] | FloorSound
    catch: int | None = None


@dataclass(frozen=True)
class Plan:
    """All that is known of a take before it sounds.

    Parameters
    ----------
    sd
        Of the asynchronies of all catches made until the drop, in seconds, about a straight line.
    trend
        Seconds by which the catches leave the straight line, or with the call the beat, a minute.
    wander
        Share of the sd that comes and goes slowly.
    pace
        How much longer the juggler's beats are than the call's, as a share.
    drop
        The index of the first catch that failed.
    """

    name: str
    part: PartName
    seed: int
    call: bool
    bed: Bed
    happening: Happening
    pattern: str
    bpm: float
    beats: int
    catches: tuple[Catch, ...]
    events: tuple[Event, ...]
    sd: float
    trend: float
    wander: float
    pace: float
    planted_beat: int | None
    planted: float
    drop: int | None
    delay: float
    ppm: float
    seconds: float
    say: SayMode
    kit: str

    def piece(self) -> Piece:
        """Return what was played."""
        return piece_of(self.pattern, self.bpm, self.beats, self.say)

    def take_time(self, seconds: float) -> float:
        """Return the take's time of a moment in the call's time."""
        return self.delay + seconds * (1 + self.ppm * 1e-6)


def piece_of(pattern: str, bpm: float, beats: int, say: SayMode = "values") -> Piece:
    """Return what `render` makes of a pattern."""
    request = Request(subject=pattern, tempo=bpm, beats=beats, say=say)
    return pattern_piece(read(pattern), request, _voice(), None)


@lru_cache(maxsize=1)
def _voice() -> CallingVoice:
    return called_voice(Request(), RATE)


def plans(part: PartName) -> list[Plan]:
    """Return the plans of the takes of a part, with each circumstance in each of its `ROUNDS`."""
    return [plan_of(part, number) for number in range(ROUNDS * len(KINDS))]


def plan_of(part: PartName, number: int) -> Plan:  # noqa: PLR0915 - one choice after another
    """Return the plan of one take, by its number."""
    rounds, kind = divmod(number, len(KINDS))
    call, bed, happening = KINDS[kind]
    random = np.random.default_rng((SEEDS[part], number))
    family = {"planted": UNEVEN, "lost": MANY}.get(happening, OFTEN)
    pattern = str(random.choice(family))
    bpm = float(random.integers(*TEMPOS[pattern]))
    period = read(pattern).period
    beats = max(round(float(random.uniform(30, 60)) * bpm / 60 / period), 1) * period
    catches = tuple(expected_catches(piece_of(pattern, bpm, beats).timeline))
    times = np.array([catch.time for catch in catches])

    sd = float(np.exp(random.uniform(np.log(0.006), np.log(0.030))))
    wander = 0.0
    trend = 0.0
    pace = 0.0
    if not call and happening in {"steady", "stop"} and random.random() < 0.5:
        pace = float(random.uniform(-0.02, 0.02))
    if happening == "drift":
        if random.random() < 0.5:
            wander = float(random.uniform(0.4, 0.7))
        else:
            trend = float(random.choice((-1, 1)) * random.uniform(0.06, 0.15))
    late = _asynchronies(len(catches), sd, wander, random)
    planted_beat, planted = None, 0.0
    if happening == "planted":
        planted_beat = _one_beat(catches, random)
        planted = float(random.uniform(*PLANTED))
        late += [planted if catch.cycle_beat == planted_beat else 0.0 for catch in catches]
    if happening != "planted":
        late += [float(random.normal(0, 0.002)) * (catch.hand == "right") for catch in catches]
    minutes = (times - times[0]) / 60
    if trend:
        whole = minutes[-1]
        late += trend * minutes if call else 4 * trend * minutes * (1 - minutes / whole)
    late += -float(random.uniform(0.0, 0.06)) + pace * (times - times[0])

    drop: int | None = None
    made = np.ones(len(catches), dtype=bool)
    events: list[Event] = []
    end = float(times[-1]) + 1.5
    if happening in {"stop", "lost"}:
        first = int(np.searchsorted(times, times[0] + 60 / bpm * 24))
        drop = int(random.integers(first, max(int(0.9 * len(catches)), first + 1)))
        end, fallen = _dropped(catches, times + late, drop, happening, made, random)
        events += fallen
    missed = random.random(len(catches)) < 0.03
    levels = random.uniform(-6, 6, len(catches))
    events += [
        Event(float(times[index] + late[index]), float(levels[index]), catches[index].hand, index)
        for index in np.flatnonzero(made & ~missed).tolist()
    ]
    start = float(random.uniform(1.0, 6.0)) if call else float(random.uniform(-1.0, 5.0))
    if random.random() < 0.5:
        events.append(Event(-start + float(random.uniform(0.2, 0.6)), 3.0, "handling"))
    if random.random() < 0.5:
        events.append(Event(end - float(random.uniform(0.1, 0.5)), 3.0, "handling"))
    before = np.arange(len(catches)) < (len(catches) if drop is None else drop)
    return Plan(
        name=f"{part}-{number:02}-{'call' if call else 'phones'}-{bed}-{happening}",
        part=part,
        seed=SEEDS[part] * 1_000 + number,
        call=call,
        bed=bed,
        happening=happening,
        pattern=pattern,
        bpm=bpm,
        beats=beats,
        catches=catches,
        events=tuple(sorted(events, key=lambda event: event.time)),
        sd=sd_about_a_line(times[before], late[before]),
        trend=trend,
        wander=wander,
        pace=pace,
        planted_beat=planted_beat,
        planted=planted,
        drop=drop,
        delay=start,
        ppm=float(random.uniform(-100, 100)),
        seconds=start + end,
        say="nothing" if happening == "clicks" and kind % 3 else "values",
        kit=list(KITS[part])[(kind + rounds) % len(KITS[part])],
    )


def sd_about_a_line(times: Signal, late: Signal) -> float:
    """Return the standard deviation about the straight line through all."""
    return float(np.std(late - np.polyval(np.polyfit(times, late, 1), times)))


def _asynchronies(
    count: int, sd: float, wander: float, random: np.random.Generator
) -> npt.NDArray[np.float64]:
    """Return asynchronies of a juggler with this sd, of which a share is slow."""
    correcting = float(random.uniform(0.25, 0.7))
    motor = float(random.uniform(0.4, 0.9))
    delays = motor * random.normal(size=count + 1)
    keeper = random.normal(size=count)
    late = np.zeros(count)
    for index in range(1, count):
        own = late[index - 1] * (1 - correcting) + keeper[index]
        late[index] = own + delays[index] - delays[index - 1]
    quick = (late - late.mean()) / late.std()
    slow = np.zeros(count)
    steps = random.normal(size=count)
    for index in range(1, count):
        slow[index] = 0.97 * slow[index - 1] + steps[index]
    slow = (slow - slow.mean()) / slow.std()
    return np.asarray(sd * (np.sqrt(1 - wander**2) * quick + wander * slow))


def _one_beat(catches: tuple[Catch, ...], random: np.random.Generator) -> int:
    """Return a beat of the cycle whose catches are heard alone, even where they are late."""
    alone: set[int] = set()
    together: set[int] = set()
    for index, catch in enumerate(catches[1:-1], start=1):
        if catch.cycle_beat is not None:
            gap = min(
                catch.time - catches[index - 1].time,
                catches[index + 1].time - catch.time - PLANTED[1],
            )
            (alone if gap > 1.5 * MERGED else together).add(catch.cycle_beat)
    return int(random.choice(sorted(alone - together)))


def _dropped(  # noqa: PLR0913, PLR0917 - what falls, when, and what becomes of the rest
    catches: tuple[Catch, ...],
    times: Signal,
    drop: int,
    happening: Happening,
    made: npt.NDArray[np.bool_],
    random: np.random.Generator,
) -> tuple[float, list[Event]]:
    """Let an object fall; return when the take ends, and what is heard of it on the floor."""
    beat = 60 / catches[drop].tempo
    lost = catches[drop]
    made[drop] = False
    fallen = _falls(float(times[drop]), random)
    stopped = lost.time + float(random.uniform(1.0, 2.5)) * beat
    others: set[str] = set()
    for index in range(drop + 1, len(catches)):
        catch = catches[index]
        if catch.object == lost.object or catch.object in others:
            made[index] = False
        elif happening == "stop":
            thrown = catch.time - (catch.value - 4 / 3) * beat
            made[index] = thrown < stopped
            if made[index] and random.random() < 0.3:
                made[index] = False
                others.add(catch.object)
                fallen += _falls(float(times[index]), random)
    if happening == "lost":
        return float(times[-1]) + 1.5, fallen
    end = float(times[drop]) + float(random.uniform(3, 9))
    steps = float(times[drop]) + float(random.uniform(1.0, 1.8))
    while steps < end - 0.4 and random.random() < 0.85:
        fallen.append(Event(steps, float(random.uniform(-10, -2)), "step"))
        steps += float(random.uniform(0.45, 0.7))
    return end, fallen


def _falls(due: float, random: np.random.Generator) -> list[Event]:
    """Return an object's hit on the floor and its bounces, each lower and sooner than the last."""
    time = due + float(random.uniform(0.18, 0.45))
    level = float(random.uniform(0, 6))
    gap = float(random.uniform(0.12, 0.4))
    events = [Event(time, level, "floor")]
    for _ in range(int(random.integers(0, 5))):
        time, level, gap = time + gap, level - float(random.uniform(3, 6)), gap * 0.65
        events.append(Event(time, level, "floor"))
    return events
