"""Wrong input of every kind, from kept seeds; `tests/helpers/fuzzing.py` tries it for an hour."""

from pathlib import Path

import pytest
from fuzzing import KINDS, TAKES, TITLE, run, sound_take, tried

ROUNDS = {"pattern": 500, "settings": 30, "routine": 5, "beats": 20, "take": 18, "markers": 3}
"""How many of each kind are tried here: less than a second of each."""


@pytest.mark.parametrize("kind", KINDS)
def test_wrong_input_is_told(kind: str, tmp_path: Path) -> None:
    for number in range(ROUNDS[kind]):
        tried(kind, number, tmp_path)


@pytest.mark.parametrize("name", TAKES)
def test_a_tag_that_is_not_utf_8(name: str, tmp_path: Path) -> None:
    place = tmp_path / name
    whole = sound_take(name)
    assert TITLE.encode() in whole
    place.write_bytes(whole.replace(TITLE.encode(), b"\xff\xfe" + TITLE.encode()[2:]))
    # The checksum of an Ogg page is wrong then, and the tag is in its header.
    run("listen", place, "--json", statuses=(3 if name.endswith("ogg") else 0,))


@pytest.mark.parametrize(("name", "coding"), [("take.mov", b"sowt"), ("take.wav", b"fmt ")])
def test_a_coding_that_nobody_knows(name: str, coding: bytes, tmp_path: Path) -> None:
    place = tmp_path / name
    at = sound_take(name).rindex(coding) + (8 if coding == b"fmt " else 0)
    whole = sound_take(name)
    place.write_bytes(whole[:at] + b"\x7f\x7f" + whole[at + 2 :])
    run("listen", place, "--json", statuses=(3,))
