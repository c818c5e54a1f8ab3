"""MIDI files, read back by symusic and by a reader of our own, neither of which wrote them."""

import math
import tracemalloc
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate, islice, pairwise
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
import symusic
from acts import act, one_pattern
from hypothesis import given, settings
from hypothesis import strategies as st
from midi_events import (
    CUE_POINT,
    END,
    LYRIC,
    MARKER,
    SIGNATURE,
    TEMPO,
    TRACK_NAME,
    MidiTracks,
    read_midi,
)

from throwcount.caller.exports.midi import check_midi_name, tempos, write_midi
from throwcount.engine.timing.tempo import TempoMap, ramp, steady, steps
from throwcount.engine.timing.timeline import Beat, Timeline
from throwcount.sounds.errors import FileError
from throwcount.sounds.files.chapters import one_line

ON, OFF = 0x99, 0x89
"""Note on and note off, on channel 10."""

CONDUCTING, CLICKS, CALLS = range(3)


def exported(folder: Path, timeline: Timeline) -> Path:
    path = folder / "act.mid"
    write_midi(path, timeline, (), "title", overwrite=True)
    return path


def lead_in(file: MidiTracks, timeline: Timeline) -> int:
    """Return the tick of the first beat, which clicks."""
    first = next(iter(timeline))
    assert first.click is not None
    return file.of(CLICKS, ON)[0].tick


@pytest.mark.parametrize(
    ("tempo", "pattern"),
    [
        (steady(120), "531"),
        (steady(140), "531"),
        (steady(259.9), "(4,2x)*"),
        (steady(10), "3"),
        (steady(1000), "3"),
        (ramp(60, 260, 290, "linear-beats"), "744"),
        (ramp(260, 60, 290, "linear-time"), "744"),
        (ramp(120, 120.000001, 290, "ratio"), "744"),
        (ramp(60, 260, 290, "ratio") + steady(97, 5), "744"),
        (steps(100, 200, 7, 9), "531"),
    ],
)
def test_every_beat_is_within_a_tick_of_the_timeline(
    tmp_path: Path, tempo: TempoMap, pattern: str
) -> None:
    timeline = one_pattern(pattern, 300, tempo)
    path = exported(tmp_path, timeline)
    check_ticks(path, timeline)


def check_ticks(path: Path, timeline: Timeline) -> None:
    """Check the ticks that symusic reads, and the times that its tempos give them, exactly."""
    file = read_midi(path)
    score = symusic.Score(str(path))
    (clicks,) = (track for track in score.tracks if track.is_drum)
    assert score.ticks_per_quarter == file.ticks
    assert [(each.time, each.mspq) for each in score.tempos] == [
        (event.tick, int.from_bytes(event.data)) for event in file.of(CONDUCTING, TEMPO)
    ]
    ticks = sorted({note.time for note in clicks.notes})
    assert ticks == sorted({event.tick for event in file.of(CLICKS, ON)})
    first = lead_in(file, timeline)
    clicked = []
    for index, beat in enumerate(timeline):
        tick = first + index * file.ticks
        length = file.seconds(tick + 1) - file.seconds(tick)
        assert abs(float(file.seconds(tick)) - beat.time) < length
        assert abs(float(file.seconds(tick)) - beat.time) < 10.01e-6
        clicked += [tick] if beat.click else []
    assert ticks == clicked


def test_an_act_with_rests_and_pairs_keeps_its_beats(tmp_path: Path) -> None:
    timeline = act().timeline
    check_ticks(exported(tmp_path, timeline), timeline)


@pytest.mark.parametrize("ready", [0.0, 0.01, 0.3, 8.0, 61.7])
@pytest.mark.parametrize("tempo", [10, 137.3, 1000])
def test_the_time_before_the_first_beat_is_kept(tmp_path: Path, ready: float, tempo: float) -> None:
    timeline = one_pattern("3", 5, steady(tempo), ready)
    check_ticks(exported(tmp_path, timeline), timeline)


def test_an_act_may_begin_with_its_first_sample(tmp_path: Path) -> None:
    whole = act().timeline
    start = next(iter(whole)).time
    moved = Timeline(
        lambda: (beat._replace(time=beat.time - start) for beat in whole), seconds=60.0
    )
    path = exported(tmp_path, moved)
    assert lead_in(read_midi(path), moved) == 0
    check_ticks(path, moved)


def test_the_file_ends_with_the_sound(tmp_path: Path) -> None:
    timeline = act().timeline
    file = read_midi(exported(tmp_path, timeline))
    ends = [events[-1] for events in file.tracks]
    assert {event.kind for event in ends} == {END}
    assert [float(file.seconds(event.tick)) for event in ends] == pytest.approx(
        [timeline.seconds] * 3, abs=0.0005
    )


def test_clicks_tell_hands_and_openings_apart(tmp_path: Path) -> None:
    # General MIDI percussion: 75 claves, 76 high wood block, 77 low wood block, on channel 10.
    path = exported(tmp_path, one_pattern("531", 4, steady(240)))
    struck = [tuple(event.data) for event in read_midi(path).of(CLICKS, ON)]
    thrown = [(76, 127), (77, 90), (76, 90), (77, 127)]
    assert struck == [(75, 100)] * 4 + thrown + [(76, 50), (77, 50)] * 2
    (track,) = (track for track in symusic.Score(str(path)).tracks if track.is_drum)
    assert [(note.pitch, note.velocity) for note in track.notes] == struck
    assert {note.duration for note in track.notes} == {240}


def test_both_hands_strike_both_blocks(tmp_path: Path) -> None:
    file = read_midi(exported(tmp_path, one_pattern("(4,4)", 2, steady(240))))
    struck = [(event.tick, event.data[0]) for event in file.of(CLICKS, ON)]
    first = lead_in(file, one_pattern("(4,4)", 2, steady(240))) + 4 * 960
    assert struck[4:6] == [(first, 76), (first, 77)]
    assert len(file.of(CLICKS, OFF)) == len(struck)


def test_calls_are_lyrics_one_bar_a_line(tmp_path: Path) -> None:
    # RP-017: a space ends a word, a carriage return a line.
    path = exported(tmp_path, one_pattern("531", 7, steady(240)))
    file = read_midi(path)
    words = [event.text for event in file.of(CALLS, LYRIC)]
    assert words == ["five ", "three ", "one \r", "five ", "three ", "one \r", "stop \r"]
    ticks = [event.tick for event in file.of(CALLS, LYRIC)]
    assert ticks == [event.tick for event in file.of(CLICKS, ON)][4:11]
    (track,) = (track for track in symusic.Score(str(path)).tracks if track.lyrics)
    assert [lyric.text for lyric in track.lyrics] == words


def test_a_call_stands_where_it_is_heard(tmp_path: Path) -> None:
    beat = Beat(0, 0.5, 120, "531", 0, 0, call="five", call_time=0.75)
    path = exported(tmp_path, Timeline(lambda: iter([beat]), seconds=2.0))
    (lyric,) = read_midi(path).of(CALLS, LYRIC)
    assert read_midi(path).seconds(lyric.tick) == 0.75


def test_chapters_are_markers_and_cue_calls_cue_points(tmp_path: Path) -> None:
    shown = act()
    path = tmp_path / "act.mid"
    write_midi(path, shown.timeline, shown.chapters, shown.title, overwrite=False)
    file = read_midi(path)
    for kind, wanted in [
        (MARKER, [(chapter.start, chapter.title) for chapter in shown.chapters]),
        (CUE_POINT, [(cue.time, cue.text) for cue in shown.timeline.cues]),
    ]:
        found = file.of(CONDUCTING, kind)
        assert [event.text for event in found] == [text for _, text in wanted]
        for event, (time, _) in zip(found, wanted, strict=True):
            tick = file.seconds(event.tick + 1) - file.seconds(event.tick)
            assert abs(float(file.seconds(event.tick)) - time) <= tick / 2 + 20e-6
    assert [each.text for each in symusic.Score(str(path)).markers] == [
        chapter.title for chapter in shown.chapters
    ]
    # A part begins on the very tick of its first beat.
    starts = {chapter.start for chapter in shown.chapters[1:]}
    beats = (index for index, beat in enumerate(shown.timeline) if beat.time in starts)
    first = lead_in(file, shown.timeline)
    assert [event.tick for event in file.of(CONDUCTING, MARKER)][1:] == [
        first + 960 * index for index in beats
    ]


def test_bars_are_cycles(tmp_path: Path) -> None:
    path = exported(tmp_path, one_pattern("531", 8, steady(240), ready=1.5))
    # Six beats until the count-in, as two and four; cycles of three, the last of two; the run-out.
    signatures = [(event.tick // 960, event.data[0]) for event in read_midi(path).of(0, SIGNATURE)]
    assert signatures == [(0, 2), (2, 4), (10, 3), (16, 2), (18, 3)]
    assert [
        (each.time // 960, each.numerator, each.denominator)
        for each in symusic.Score(str(path)).time_signatures
    ] == [(0, 2, 4), (2, 4, 4), (10, 3, 4), (16, 2, 4), (18, 3, 4)]


def test_a_cycle_that_is_not_called_has_no_lyrics(tmp_path: Path) -> None:
    silent = one_pattern("531", 3, steady(240))
    timeline = Timeline(lambda: (beat._replace(call=None) for beat in silent), seconds=5.0)
    assert read_midi(exported(tmp_path, timeline)).of(CALLS, LYRIC) == []


TEXTS = st.text(st.characters(), max_size=30)


@given(titles=st.tuples(*[TEXTS] * 5), cues=st.tuples(*[TEXTS] * 3), title=TEXTS)
@settings(max_examples=40)
def test_any_text_comes_back_on_one_line(
    titles: tuple[str, ...], cues: tuple[str, ...], title: str
) -> None:
    shown = act(titles, cues, title)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "act.mid"
        write_midi(path, shown.timeline, shown.chapters, title, overwrite=False)
        file = read_midi(path)
        assert len(symusic.Score(str(path)).tracks) == 2
    assert [event.text for event in file.of(CONDUCTING, TRACK_NAME)] == [one_line(title)]
    markers = [event.text for event in file.of(CONDUCTING, MARKER)]
    assert markers == [one_line(chapter.title) for chapter in shown.chapters]
    assert [event.text for event in file.of(CONDUCTING, CUE_POINT)][1:] == list(map(one_line, cues))


def test_memory_does_not_grow_with_what_is_played(tmp_path: Path) -> None:
    # As messages, these beats would take 1.6 MB; the file has 40 kB.
    timeline = one_pattern("531", 2000, steady(137.3))
    tracemalloc.start()
    try:
        exported(tmp_path, timeline)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 200_000


@pytest.mark.parametrize("name", ["act", "act.wav", "act.midi.txt", ".mid"])
def test_a_name_that_is_not_of_a_midi_file_is_told(tmp_path: Path, name: str) -> None:
    with pytest.raises(FileError, match=r"no name for a MIDI file; let it end in \.mid"):
        write_midi(tmp_path / name, act().timeline, (), "", overwrite=True)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["act.mid", "act.MID", "act.midi"])
def test_names_of_midi_files(name: str) -> None:
    check_midi_name(Path(name))


def test_a_file_is_replaced_only_if_asked(tmp_path: Path) -> None:
    path = tmp_path / "act.mid"
    path.write_bytes(b"mine")
    with pytest.raises(FileError, match="file of that name already"):
        write_midi(path, act().timeline, (), "", overwrite=False)
    assert path.read_bytes() == b"mine"
    write_midi(path, act().timeline, (), "", overwrite=True)
    assert path.read_bytes()[:4] == b"MThd"


def test_an_interruption_leaves_nothing_behind(tmp_path: Path) -> None:
    walks = accumulate(iter(int, 1), lambda count, _: count + 1)

    def beats() -> Iterator[Beat]:
        yield from islice(act().timeline, 50)
        if next(walks) == 2:
            raise KeyboardInterrupt

    timeline = replace(act().timeline, beats=beats)
    with pytest.raises(KeyboardInterrupt):
        write_midi(tmp_path / "act.mid", timeline, (), "", overwrite=False)
    assert list(tmp_path.iterdir()) == []


SLACK = 10.0
"""Microseconds: half a sample at 48 kHz is 10.4."""


def misses(times: list[float]) -> list[float]:
    """Return by how many microseconds each quarter note misses its time, added up exactly."""
    found = list(tempos(times))
    assert (found[0].quarter, found[0].start) == (0, 0)
    assert all(0 < tempo.length < 2**24 for tempo in found)  # FF 51 has three bytes
    assert all(before.quarter < after.quarter for before, after in pairwise(found))
    assert all(before.length != after.length for before, after in pairwise(found))
    missed, now = [], 0
    for quarter, time in enumerate(times):
        missed.append(abs(float(now - Fraction(time) * 1_000_000)))
        now += [tempo.length for tempo in found if tempo.quarter <= quarter][-1]
    return missed


@pytest.mark.parametrize("tempo", [120, 150, 140, 260, 137.3, 10, 1000, 60.00001])
def test_a_steady_tempo_takes_few_events(tempo: float) -> None:
    # Where a beat is not a whole number of microseconds, two lengths take turns, of which one is
    # too short by the fraction and the other too long by the rest of it; each may go on from one
    # end of the slack to the other.
    times = [60 * beat / tempo for beat in range(1000)]
    assert max(misses(times)) <= SLACK
    fraction = 60_000_000 / tempo % 1
    wanted = 1000 * fraction * (1 - fraction) / SLACK
    assert len(list(tempos(times))) <= wanted + 3


@given(st.lists(st.floats(0.06, 6.0), max_size=200))
def test_errors_never_add_up(gaps: list[float]) -> None:
    times = [math.fsum(gaps[:count]) for count in range(len(gaps) + 1)]
    assert max(misses(times)) <= SLACK + 1e-6
