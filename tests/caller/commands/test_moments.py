"""What `render` writes beside the sound, and `plan` says, agree on when each part begins and what
is said when."""

import json
import tracemalloc
from itertools import groupby
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner
from midi_events import CUE_POINT, MARKER, MidiTracks, read_midi
from wavinfo import WavInfoReader

from throwcount.caller.exports.events import event_lines
from throwcount.caller.main import throwcount
from throwcount.engine.patterns.rules import read
from throwcount.engine.scheduling.scheduler import schedule
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import steady
from throwcount.sounds.voices.stand_ins import ToneVoice

RATE = 8000
NOTE_ON = 0x99

FRAMES = 2
"""By which a word may be longer at one sample rate than at another."""

# Names that come twice, a rest after pairs, a change of timing, bridges, pick-ups, ramps.
EVENING = """
title = "Evening"
tempo = 171
[[part]]
pattern = "531"
cycles = 6
to = 203
curve = "ratio"
last-one = true
[[part]]
pattern = "3"
cycles = 12
[[part]]
rest = true
seconds = 8.3
[[part]]
pattern = "(4x,2x)"
cycles = 5
[[part]]
pattern = "3"
cycles = 14
to = 190.7
[[part]]
pattern = "4"
cycles = 20
pick-up = 1
[[part]]
rest = true
beats = 23
[[part]]
pattern = "531"
cycles = 5
"""


class Evening(NamedTuple):
    """What was written, and what is planned."""

    events: dict[str, Any]
    midi: MidiTracks
    chapters: list[tuple[int, str]]
    """Frames and titles, as another reader finds them in the sound."""
    plan: dict[str, Any]


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Evening:
    folder = tmp_path_factory.mktemp("evening")
    routine, sound = folder / "evening.toml", folder / "evening.wav"
    routine.write_text(EVENING, "utf-8")
    beside = ("--events", folder / "evening.json", "--midi", folder / "evening.mid")
    run("render", routine, "-o", sound, *beside, "--rate", RATE, "--no-announce")
    cues = WavInfoReader(str(sound), info_encoding="utf-8").cues
    labels = {label.name: label.text for label in cues.labels}
    return Evening(
        json.loads((folder / "evening.json").read_text("utf-8")),
        read_midi(folder / "evening.mid"),
        [(point.sample_offset, labels[point.name]) for point in cues.cues],
        json.loads(run("plan", routine, "--no-announce", "--json")),
    )


def run(*arguments: object) -> str:
    result = CliRunner().invoke(throwcount, list(map(str, arguments)))
    assert result.exit_code == 0, result.output
    return result.stdout


def stretch(beat: dict[str, Any]) -> tuple[int | None, str]:
    """Return what a beat is in: its part, and what is thrown, if anything."""
    return beat["part_index"], "" if beat["cycle"] is None else beat["part"]


def test_parts_and_rests_begin_together_in_all_of_them(evening: Evening) -> None:
    beats = evening.events["beats"]
    firsts = [next(row) for _, row in groupby(enumerate(beats), lambda each: stretch(each[1]))]
    assert firsts[0][1]["part_index"] is firsts[-1][1]["part_index"] is None
    entries = evening.plan["entries"]
    assert [entry["kind"] for entry in entries].count("bridge") == 2
    begun = firsts[1:-1]  # without the count-in and the last catches
    assert [first["part_index"] + 1 for _, first in begun] == [each["number"] for each in entries]
    assert [first["time"] for _, first in begun] == [entry["time"] for entry in entries]
    frames = [round(first["time"] * RATE) for _, first in firsts[1:]]
    assert [frame for frame, _ in evening.chapters] == [0, *frames]
    assert [title for _, title in evening.chapters][1:-1] == [each["title"] for each in entries]
    count_in = evening.midi.of(1, NOTE_ON)[0].tick
    ticks = [count_in + evening.midi.ticks * index for index, _ in firsts[1:]]
    markers = evening.midi.of(0, MARKER)
    assert [marker.tick for marker in markers] == [0, *ticks]
    assert [marker.text for marker in markers] == [title for _, title in evening.chapters]


def test_cues_are_said_when_they_are_planned(evening: Evening) -> None:
    planned = [entry["cue"] for entry in evening.plan["entries"] if entry["cue"] is not None]
    said = [each for each in evening.events["said"] if each["kind"] == "cue"]
    assert [each["text"] for each in said] == [cue["text"] for cue in planned]
    assert len(said) == 7
    for each, cue, mark in zip(said, planned, evening.midi.of(0, CUE_POINT), strict=True):
        assert each["time"] * RATE == round(cue["time"] * RATE)
        assert each["seconds"] == pytest.approx(cue["seconds"], abs=FRAMES / RATE)
        assert len(each["text"].split()) / each["seconds"] <= 4.5
        assert mark.text == each["text"]
        tick = evening.midi.seconds(mark.tick + 1) - evening.midi.seconds(mark.tick)
        assert abs(float(evening.midi.seconds(mark.tick)) - cue["time"]) <= tick / 2 + 20e-6


def test_each_kind_is_told_apart(tmp_path: Path) -> None:
    events = tmp_path / "x.json"
    asked = ("--beats", 30, "--milestones", "--tempo", 150, "--events", events, "--rate", RATE)
    run("render", "531", "-o", tmp_path / "x.wav", *asked)
    document = json.loads(events.read_text("utf-8"))
    said = [(each["kind"], each["text"]) for each in document["said"]]
    words = "five three one, tempo one hundred fifty, right hand first"
    assert said == [
        ("announcement", words),
        ("milestone", "flash"),
        ("milestone", "qualified"),
        ("stop", "stop"),
    ]
    calls = {beat["call"]: beat["time"] for beat in document["beats"] if beat["call"]}
    for each in document["said"][1:]:  # a word's centre falls on its beat
        assert each["time"] < calls[each["text"]] < each["time"] + each["seconds"]


def test_hand_changes_and_last_cycles_are_kinds_too(evening: Evening) -> None:
    said = [(each["kind"], each["text"]) for each in evening.events["said"]]
    assert [text for kind, text in said if kind == "last cycle"] == ["last one"]
    assert {text for kind, text in said if kind == "hand change"} <= {"wait", "hurry"}
    assert [text for kind, text in said if kind == "stop"] == ["stop"] * 3
    assert len([kind for kind, _ in said if kind == "hand change"]) == 1


def test_what_is_said_is_heard_then_and_only_then(tmp_path: Path) -> None:
    routine, events = tmp_path / "evening.toml", tmp_path / "evening.json"
    routine.write_text(EVENING, "utf-8")
    asked = ("--say", "nothing", "--clicks", "none", "--events", events, "--rate", RATE)
    run("render", routine, "-o", tmp_path / "evening.wav", *asked)
    sound, _ = soundfile.read(tmp_path / "evening.wav")
    sound = np.abs(sound).max(axis=1)
    said = json.loads(events.read_text("utf-8"))["said"]
    assert said[0]["kind"] == "announcement"
    for each in said:
        start = round(each["time"] * RATE)
        heard = sound[start : start + round(each["seconds"] * RATE)]
        assert heard.max() > 0.1
        assert np.flatnonzero(heard > 0.01)[0] < 0.05 * RATE
        heard[:] = 0
    assert not sound.any()


def test_the_events_of_a_long_piece_are_not_kept() -> None:
    timeline = schedule(Run((Part(read("531"), 3000),), steady(200), milestones=True))
    lines = event_lines(timeline, ToneVoice(RATE), lambda _: 0)
    tracemalloc.start()
    try:
        written = sum(map(len, lines))
        assert tracemalloc.get_traced_memory()[1] < written / 2
    finally:
        tracemalloc.stop()
