from pathlib import Path

import pytest
from marked_files import RATE, write_marked
from wavinfo import WavInfoReader

from engine.routines.chapters import Chapter
from sounds.markers.riff import LARGEST, marker_chunks

DAY = LARGEST / RATE
"""Seconds to the last frame that a cue point can name: 24.9 hours at 48 kHz."""


@pytest.mark.parametrize("kind", ["wav", "rf64"])
def test_every_label_has_the_length_of_its_chapter(tmp_path: Path, kind: str) -> None:
    chapters = [Chapter(0, 0.25, "531"), Chapter(0.25, 0.26, "a bridge"), Chapter(0.26, 0.5, "51")]
    cues = WavInfoReader(str(write_marked(tmp_path, kind, "", chapters))).cues
    assert [point.position for point in cues.cues] == [0, 12_000, 12_480]
    assert [each.length for each in cues.ranges] == [12_000, 480, 11_520]
    assert {(each.purpose, each.codepage) for each in cues.ranges} == {("rgn ", 65_001)}
    assert [each.name for each in cues.ranges] == [point.name for point in cues.cues] == [1, 2, 3]


def test_what_begins_beyond_the_last_frame_that_has_a_number_is_left_out() -> None:
    last = Chapter(DAY, DAY + 10, "last")
    beyond = Chapter(DAY + 1, DAY + 10, "beyond")
    assert b"last\0" in marker_chunks("", [last], RATE)
    assert marker_chunks("", [last, beyond], RATE) == marker_chunks("", [last], RATE)
    assert marker_chunks("", [beyond], RATE) == b""
    whole = Chapter(0, 2 * DAY, "whole")
    assert LARGEST.to_bytes(4, "little") in marker_chunks("", [whole], RATE)
