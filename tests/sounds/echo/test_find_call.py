"""The call's own sound: where it is on a take, and the take without it."""

from dataclasses import replace

import numpy as np
import pytest
from agreement import agreement
from called_takes import Circumstances
from hard_takes import as_by_telephone, as_mp3, distorted
from heard_takes import heard_take, times_in, usual_take
from takes import Room

from throwcount.sounds.samples import Mono

SEEDS = range(402, 405)
ABOVE_NOISE = (20, 10)
"""How far thuds are above the noise, in dB."""

WITHIN_SECONDS = 0.001
WITHIN_DRIFT = 5.0
WITHIN_DRIFT_OF_20_SECONDS = 10.0
"""In parts in a million; 10 of them are a fifth of a millisecond in 20 s."""


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("above_noise", ABOVE_NOISE)
def test_it_is_found_to_a_millisecond(above_noise: int, seed: int) -> None:
    heard = usual_take(seed, above_noise)
    room, found = heard.take.room, heard.found
    assert found.delay == pytest.approx(room.delay, abs=WITHIN_SECONDS)
    assert found.drift == pytest.approx(room.drift, abs=WITHIN_DRIFT)
    assert found.confidence > 0.8


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("above_noise", ABOVE_NOISE)
def test_little_of_it_is_left_and_the_rest_stays(above_noise: int, seed: int) -> None:
    heard = usual_take(seed, above_noise)
    quiet, called = heard.take.quiet.samples, heard.take.called.samples
    assert len(heard.cleared) == len(called)
    assert power(heard.cleared - quiet) < 0.1 * power(called - quiet)


def far(room: Room) -> Room:
    return replace(room, call_level=-12.0, delay=-4.321, drift=-200.0)


def near(room: Room) -> Room:
    return replace(room, call_level=12.0, drift=200.0)


HARD = {
    "recorded from afar as MP3, begun late": Circumstances(far, phone=as_mp3),
    "recorded with a low sample rate": Circumstances(phone=as_by_telephone),
    "recorded beside the loudspeaker": Circumstances(near),
    "catches on the clicks of a loudspeaker that distorts": Circumstances(
        dwell=0.5, speakers=distorted
    ),
}


@pytest.mark.parametrize("name", HARD)
def test_it_is_found_and_thuds_beside_it_on_hard_takes(name: str) -> None:
    heard = heard_take(501, 20, circumstances=HARD[name])
    take, found = heard.take, heard.found
    assert found.delay == pytest.approx(take.room.delay, abs=WITHIN_SECONDS)
    assert found.drift == pytest.approx(take.room.drift, abs=WITHIN_DRIFT_OF_20_SECONDS)
    agreed = agreement(take.called.thuds, times_in(heard.cleared))
    assert min(agreed.precision, agreed.recall) >= 0.95, agreed


@pytest.mark.parametrize(
    ("circumstances", "least"),
    [(Circumstances(near), 29.0), (Circumstances(speakers=distorted), 16.0)],
)
def test_little_is_left_where_it_is_loud_or_distorted(
    circumstances: Circumstances, least: float
) -> None:
    """By how many dB it is turned down at the least."""
    heard = heard_take(404, 20, circumstances=circumstances)
    quiet, called = heard.take.quiet.samples, heard.take.called.samples
    assert power(called - quiet) > 10 ** (least / 10) * power(heard.cleared - quiet)


def power(samples: Mono) -> float:
    return float(np.mean(samples.astype(np.float64) ** 2))
