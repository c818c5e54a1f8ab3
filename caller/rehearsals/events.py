"""A timeline as JSON, beat by beat, so that other programs can follow it."""

import json
from collections.abc import Iterator
from typing import Any

from engine.timing.timeline import Beat, ByHand, Timeline


def event_lines(timeline: Timeline, rate: int) -> Iterator[str]:
    """Yield one JSON document in pieces, a beat a line, however long the timeline.

    The timeline is one that ends. `rate` is the frames a second of the audio that goes with it.
    """
    yield f'{{"sample_rate": {rate}, "seconds": {json.dumps(timeline.seconds)}, "beats": ['
    separator = "\n"
    for beat in timeline:
        yield separator + json.dumps(beat_document(beat))
        separator = ",\n"
    yield "\n]}\n"


def beat_document(beat: Beat) -> dict[str, Any]:
    """Return a beat as the JSON object that stands for it."""
    return {
        "beat": beat.beat,
        "time": beat.time,
        "tempo": beat.tempo,
        "part": beat.part,
        "cycle": beat.cycle,
        "cycle_beat": beat.cycle_beat,
        "throws": _by_hand(beat.throws),
        "objects": _by_hand(beat.objects),
        "click": None if beat.click is None else beat.click.hands,
        "accent": beat.click is not None and beat.click.accent,
        "call": beat.call,
        "call_time": beat.call_time,
    }


def _by_hand(names: ByHand) -> dict[str, list[str]]:
    return {"right": list(names.right), "left": list(names.left)}
