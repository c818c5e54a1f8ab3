"""Routine files in which hands in turn and hands together follow each other without a stop.

That "wait" or "hurry" is called for one hand is common practice.
"""

import json
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st
from mido import MidiFile

from throwcount.caller.main import throwcount

Run = Callable[..., Result]

THREE = ["3", "(4x,2x)", "51", "531", "(4,2x)*", "441", "(2x,4x)", "423"]
FOUR = ["4", "(4,4)", "53", "(6x,2x)", "71", "(2x,6x)*", "552", "534", "(6x,2x)"]


def routine(parts: list[str], more: str = "") -> str:
    tables = [f'[[part]]\npattern = "{text}"\nbeats = 12\n' for text in parts]
    return f'title = "Changes"\ntempo = 200\nready = 1\ncount-in = 2\n{more}' + "".join(tables)


def events(folder: Path, text: str, *options: str) -> list[dict[str, Any]]:
    """Render a routine with its events, and return its beats."""
    place, told = folder / "changes.toml", folder / "changes.json"
    place.write_text(text, "utf-8")
    arguments = ["render", place, "-o", folder / "changes.wav", "--events", told, "--force"]
    flags = ["--no-announce", "--no-cues", "--rate", "8000", *options]
    result = CliRunner().invoke(throwcount, [*map(str, arguments), *flags])
    assert result.exit_code == 0, result.output
    beats: list[dict[str, Any]] = json.loads(told.read_text("utf-8"))["beats"]
    return beats


def check_landings(beats: list[dict[str, Any]]) -> None:
    """Check that every object is next thrown where and when its throw says, and none is lost.

    An x goes to the other hand; without it a throw stays, except from one beat of a single hand to
    another, where it crosses if it is odd. What a pattern throws before its bridge lands as usual.
    """
    other = {"right": "left", "left": "right"}
    pairs = {beat["beat"] for beat in beats if beat["throws"]["right"] and beat["throws"]["left"]}
    due: dict[tuple[int, str], list[str]] = {}
    thrown = [beat for beat in beats if beat["cycle"] is not None]
    for beat in thrown:
        for hand, opposite in other.items():
            names = beat["objects"][hand]
            came = due.pop((beat["beat"], hand), None)
            if beat["beat"] >= 12:
                assert (came or []) == names
            throws = [throw for throw in beat["throws"][hand] if throw != "0"]
            for throw, name in zip(throws, names, strict=True):
                lands = beat["beat"] + int(throw.rstrip("x"), 36)
                bridge = " to " in beat["part"]
                told = beat["beat"] in pairs or (bridge and lands in pairs)
                crosses = throw.endswith("x") if told else (lands - beat["beat"]) % 2 == 1
                due.setdefault((lands, opposite if crosses else hand), []).append(name)
    assert all(lands > thrown[-1]["beat"] for lands, _ in due)


@pytest.mark.parametrize("parts", [["3", "(4x,2x)", "51", "3"], ["4", "(4,4)", "53", "(6x,2x)"]])
def test_objects_land_where_they_are_next_thrown(tmp_path: Path, parts: list[str]) -> None:
    beats = events(tmp_path, routine(parts))
    check_landings(beats)
    calls = {beat["beat"]: beat["call"] for beat in beats}
    hurried = [beat for beat in beats if beat["hurried"]]
    assert len(hurried) == sum(
        one.startswith("(") != two.startswith("(") for one, two in pairwise(parts)
    )
    for beat in hurried:
        (hand,) = beat["hurried"]
        assert beat["throws"][hand]
        assert beat["click"] in {hand, "both"}
        # "hurry" on the beat before a hand throws early, "wait" on the one before it waits.
        assert calls[beat["beat"] - 1] == "hurry" or calls[beat["beat"] - 2] == "wait"


@settings(max_examples=12, deadline=None)
@given(
    st.sampled_from([THREE, FOUR]).flatmap(
        lambda texts: st.lists(st.sampled_from(texts), min_size=2, max_size=5)
    ),
    st.sampled_from(["values", "tally", "hands", "objects", "position", "nothing"]),
    st.sampled_from(["right", "left"]),
)
def test_any_order_of_timings(
    tmp_path_factory: pytest.TempPathFactory, parts: list[str], say: str, first: str
) -> None:
    folder = tmp_path_factory.mktemp("any")
    check_landings(events(folder, routine(parts, f'first = "{first}"\n'), "--say", say))


def test_a_bridge_written_by_hand(run: Run, tmp_path: Path) -> None:
    beats = events(
        tmp_path,
        '[[part]]\npattern = "3"\nbeats = 12\n'
        '[[part]]\npattern = "(4x,2x)"\nbeats = 12\nbridge = "2x 3x"\n'
        '[[part]]\npattern = "3"\nbeats = 12\nbridge = "(3,1x)"\nshifted = "left"\n',
    )
    check_landings(beats)
    told = {beat["beat"]: (beat["throws"], beat["hurried"]) for beat in beats}
    assert told[12] == ({"right": ["2x"], "left": []}, [])
    assert told[13] == ({"right": [], "left": ["3x"]}, [])
    assert told[14] == ({"right": ["2x"], "left": ["4x"]}, ["left"])
    assert told[26] == ({"right": ["1x"], "left": ["3"]}, [])
    assert told[27] == ({"right": [], "left": ["3"]}, ["left"])
    document = json.loads(run("plan", tmp_path / "changes.toml", "--json").stdout)
    bridges = [entry for entry in document["entries"] if entry["kind"] == "bridge"]
    assert [(each["throws"], each["how"], each["beats"]) for each in bridges] == [
        ("2x 3x", "left hurries", 2),
        ("(3,1x)", "left hurries", 1),
    ]
    assert [chapter["kind"] for chapter in document["chapters"]].count("bridge") == 2
    assert "bridge 2x 3x, left" in run("plan", tmp_path / "changes.toml").stdout


def test_pick_ups_and_put_downs_are_told(tmp_path: Path) -> None:
    parts = [("3", ""), ("4", "pick-up = 1"), ("(4,4)", ""), ("(2,2)", "put-down = 2")]
    tables = [f'[[part]]\npattern = "{text}"\nbeats = 12\n{more}\n' for text, more in parts]
    moved = [
        (each["beat"], key, hand, names)
        for each in events(tmp_path, "tempo = 200\n" + "".join(tables))
        for key in ("pick_up", "put_down")
        for hand, names in each[key].items()
        if names
    ]
    # The left hand takes one up on the last beat of "4 5 5 2"; two go a second, so 4 beats, apart.
    assert moved[0] == (15, "pick_up", "left", ["D"])
    assert [key for _, key, _, _ in moved[1:]] == ["put_down", "put_down"]
    assert moved[2][0] - moved[1][0] >= 4
    gone = {name for _, _, _, names in moved[1:] for name in names}
    assert len(gone) == 2
    last = [each for each in events(tmp_path, "tempo = 200\n" + "".join(tables)) if each["cycle"]]
    assert not gone & {name for names in last[-1]["objects"].values() for name in names}


def test_all_that_is_written_beside_the_sound(run: Run, tmp_path: Path) -> None:
    place = tmp_path / "changes.toml"
    place.write_text(
        routine(["3", "(4x,2x)"])
        + "[[part]]\nrest = true\nbeats = 12\n"
        + '[[part]]\npattern = "4"\nbeats = 12\n[[part]]\npattern = "(4,4)"\nbeats = 12\n'
    )
    files = {each: tmp_path / f"changes.{each}" for each in ("flac", "vtt", "mid", "html")}
    result = run(
        "render",
        place,
        "-o",
        files["flac"],
        "--captions",
        files["vtt"],
        "--midi",
        files["mid"],
        "--page",
        files["html"],
    )
    assert result.exit_code == 0, result.output
    lyrics = [
        message.text.strip()
        for track in MidiFile(files["mid"]).tracks
        for message in track
        if message.type == "lyrics"
    ]
    assert {"wait", "hurry"} <= set(lyrics)
    assert "3 to (4x,2x)" in files["vtt"].read_text("utf-8")
