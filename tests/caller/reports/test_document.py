"""What is told of a take as JSON."""

import json
import math
from typing import Any

import pytest
from told_takes import told_take

from throwcount.caller.reports.document import listen_document
from throwcount.engine.takes.catches import Catch

TOP = set(
    "take against call notes seconds thuds known sureness remarks tempo readings pace steadiness "
    "hands positions fell_apart drops sounds strays verdict rests_on".split()
)


def stopping(catch: Catch) -> float | None:
    return None if catch.beat >= 60 else 0.0


@pytest.mark.parametrize("known", [True, False])
@pytest.mark.parametrize("heard", [True, False])
def test_every_take_has_the_same_fields(known: bool, heard: bool) -> None:
    late = stopping if heard else lambda _: None
    document = listen_document(told_take("744", 120, late, known=known))
    assert set(document) == TOP
    assert json.loads(json.dumps(document, allow_nan=False)) == document
    verdict = document["verdict"]
    assert verdict["tells"] == heard
    assert bool(verdict["heard"]) == bool(verdict["why"]) == (not heard)
    assert (document["rests_on"]["steadiness"] is not None) == heard


def test_a_drop_names_the_throw_before_it() -> None:
    document = listen_document(told_take("744", 120, stopping))
    (drop,) = document["drops"]
    assert drop["kind"] == "stopped"
    assert (
        abs(drop["catch"]["beat"] - 60) <= 5
    )  # the catches of what was thrown before it end there
    assert drop["catch"]["hand"] in {"right", "left"}
    assert math.isclose(drop["sureness"], 1.0, abs_tol=0.05)


def test_every_sound_is_there_with_how_late_it_was() -> None:
    document = listen_document(told_take("744", 120, stopping))
    sounds: list[dict[str, Any]] = document["sounds"]
    assert sum(len(sound["catches"]) for sound in sounds) == 120
    heard = [sound for sound in sounds if sound["late"] is not None]
    assert all(abs(sound["late"]) < 0.05 for sound in heard)
    assert len(heard) == document["steadiness"]["heard"]
    assert {"late", "late_uncertainty", "tempo", "asked"} <= set(document["pace"][0])
