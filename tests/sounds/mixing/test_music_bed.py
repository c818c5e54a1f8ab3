"""Music under a score: as it is, lower under words, never too loud, the same live as in a file."""

import tracemalloc
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from handmade import RATE, ClipVoice, ToneVoice, beats, timeline
from music_files import Samples, decoded, hum, tone
from scipy.signal import resample_poly

from throwcount.engine.timing.timeline import Beat, Cue, Timeline
from throwcount.sounds.mixing.clicks import click_clip
from throwcount.sounds.mixing.mixer import Mixer, Placement, linear
from throwcount.sounds.mixing.music_bed import CHUNK_SECONDS, Music, Track
from throwcount.sounds.mixing.score import Balance, mix, score
from throwcount.sounds.samples import Clip, frame_at

ENTRY_SECONDS = 0.5
"""Seconds: music that comes up so is not startling."""

EXIT_SECONDS = 1.0
"""Seconds: music that leaves so is heard to fade, not to break off."""

ATTACK = 0.15
"""Seconds: a fall before a word that is not heard as early."""

RELEASE = 0.6
"""Seconds: slow enough not to pump."""

USUAL_DUCK = 8.0
"""dB: words stand out, and the music's beat is still heard."""

TRUE_PEAK_CEILING = -1.0
"""dBTP (EBU R 128)."""


SEAM_TOLERANCE = 2e-7
"""Where two chunks fade over into one another their sum is rounded twice."""

NO_CLICKS = Balance(voice_level=-6.0, clicks="none")
"""With room for all the music: nothing is lowered."""

WORD_FRAMES = 9_600
LEVEL = np.full((10 * RATE, 1), 0.125, dtype=np.float32)
"""Music on which a change of gain shows as it is."""


@pytest.fixture
def level_music(tmp_path: Path) -> Music:
    return decoded(tmp_path / "level", LEVEL)


def nothing(seconds: float | None = None, cues: tuple[Cue, ...] = ()) -> Timeline:
    return Timeline(lambda: iter(()), cues, seconds, frozenset())


def mute(*texts: str) -> ClipVoice:
    """Return a voice whose words take time but are silent."""
    clip = Clip(np.zeros((WORD_FRAMES, 1), dtype=np.float32), RATE)
    return ClipVoice({text: [clip] for text in texts})


def whole(mixer: Mixer, count: int = 10_007) -> Samples:
    blocks = []
    while len(block := mixer.read(count)):
        blocks.append(block)
    return np.concatenate(blocks)


@pytest.mark.parametrize("seconds", [0.01, CHUNK_SECONDS, CHUNK_SECONDS + 0.01, 1.7])
@pytest.mark.parametrize("start", [0.0, 0.7, 1 / 3])
def test_alone_it_is_heard_as_it_is(tmp_path: Path, seconds: float, start: float) -> None:
    music = hum(seconds)
    heard = whole(
        mix(nothing(), None, RATE, NO_CLICKS, Track(decoded(tmp_path / "a", music), start))
    )
    first = round(start * RATE)
    assert len(heard) == first + len(music)
    assert not heard[:first].any()
    assert np.abs(heard[first:] - music).max() <= SEAM_TOLERANCE


@pytest.mark.parametrize("began", [0.1, CHUNK_SECONDS, 1.234])
def test_a_piece_may_open_in_the_middle_of_it(tmp_path: Path, began: float) -> None:
    music = hum(3.0)
    heard = whole(
        mix(nothing(), None, RATE, NO_CLICKS, Track(decoded(tmp_path / "a", music), -began))
    )
    expected = music[round(began * RATE) :]
    entry = round(ENTRY_SECONDS * RATE)
    assert len(heard) == len(expected)
    assert np.abs(heard[entry:] - expected[entry:]).max() <= SEAM_TOLERANCE
    assert np.all(np.abs(heard[:entry]) <= np.abs(expected[:entry]) + SEAM_TOLERANCE)
    assert np.abs(heard[:100]).max() < 1e-4


def test_it_fades_where_the_piece_ends_before_it(level_music: Music) -> None:
    heard = whole(mix(nothing(4.0), None, RATE, NO_CLICKS, Track(level_music)))[:, 0]
    leave = round(EXIT_SECONDS * RATE)
    assert len(heard) == 4 * RATE
    assert heard[:-leave] == pytest.approx(0.125, abs=SEAM_TOLERANCE)
    assert np.all(np.diff(heard[-leave:]) < SEAM_TOLERANCE)
    assert heard[-1] < 1e-6


@pytest.mark.parametrize("seconds", [10.0, 12.0])
def test_it_ends_by_itself_where_it_ends_in_time(level_music: Music, seconds: float) -> None:
    heard = whole(mix(nothing(seconds), None, RATE, NO_CLICKS, Track(level_music)))
    assert heard[: 10 * RATE] == pytest.approx(0.125, abs=SEAM_TOLERANCE)
    assert not heard[10 * RATE :].any()


@pytest.mark.parametrize("duck", [0.0, USUAL_DUCK, 20.0])
def test_it_is_ducked_by_as_much_and_as_long_as_a_word_asks(
    level_music: Music, duck: float
) -> None:
    line = nothing(8.0, (Cue(3.0, "go"),))
    heard = whole(mix(line, mute("go"), RATE, NO_CLICKS, Track(level_music, duck=duck)))[:, 0]
    lower = 20 * np.log10(heard[: 6 * RATE] / 0.125)
    word = slice(3 * RATE, 3 * RATE + WORD_FRAMES)
    assert lower[word] == pytest.approx(-duck, abs=0.001)
    falls, rises = word.start - round(ATTACK * RATE), word.stop + round(RELEASE * RATE)
    assert lower[:falls] == pytest.approx(0.0, abs=0.001)
    assert lower[rises:] == pytest.approx(0.0, abs=0.001)
    # At most as steep as half a cosine: no step that could be heard as a click.
    assert np.abs(np.diff(lower)).max() <= duck * np.pi / 2 / (ATTACK * RATE) + 0.001


@pytest.mark.parametrize("bpm", [40, 60, 120, 240])
def test_under_a_count_on_every_beat_it_does_not_pump(level_music: Music, bpm: float) -> None:
    row = [beat._replace(click=None) for beat in beats(bpm, round(6 * bpm / 60))]
    line = Timeline(lambda: iter(row), (), 10.0, frozenset("135"))
    heard = whole(mix(line, mute(*"135"), RATE, NO_CLICKS, Track(level_music)))[:, 0]
    counted = heard[frame_at(row[0].time, RATE) : frame_at(row[-1].time, RATE)]
    assert counted == pytest.approx(0.125 * linear(-USUAL_DUCK), abs=SEAM_TOLERANCE)


@pytest.mark.parametrize("count", [1, 997, 48_000])
def test_samples_do_not_depend_on_the_blocks(tmp_path: Path, count: int) -> None:
    def piece() -> Mixer:
        return mix(timeline(lambda: beats(170, 3), 1.2), ToneVoice(), RATE, None, track)

    track = Track(decoded(tmp_path / "a", hum(1.0)), 0.1)
    assert np.array_equal(whole(piece(), count), whole(piece(), 2 * RATE))


def test_the_other_sounds_are_as_without_music(level_music: Music) -> None:
    line = timeline(lambda: beats(170, 20), 9.0)
    bare = whole(mix(line, ToneVoice(), RATE))
    silent = replace(level_music, path=level_music.path.with_name("silent"), loudness=-np.inf)
    silent.path.write_bytes(bytes(level_music.path.stat().st_size))
    with_it = whole(mix(line, ToneVoice(), RATE, None, Track(replace(silent, peak=0.0))))
    assert np.array_equal(bare, with_it)


def test_sounds_come_in_order_however_the_music_lies(level_music: Music) -> None:
    line = timeline(lambda: beats(190, 40), cues=(Cue(0.1, "0"), Cue(2.2, "1")))
    for start in (-3.0, 0.0, 2.0, 30.0):
        found = list(score(line, ToneVoice(), RATE, None, Track(level_music, start)))
        assert all(one.start <= other.start for one, other in pairwise(found))
        alone = list(score(line, ToneVoice(), RATE))
        assert len([place for place in found if place.spoken]) == 42
        assert len(found) > len(alone) + 20


def in_phase(peak: float, value: int) -> Clip:
    """Return a word that swings with a click, at its loudest where the click is."""
    row = next(beats(1200, 1, (value,)))
    assert row.click is not None
    samples = click_clip(row.click, RATE).samples
    return Clip(samples * np.float32(peak / np.abs(samples).max()), RATE)


@pytest.mark.parametrize(("voice_level", "click_level"), [(0, 0), (12, 12), (-12, 12)])
@pytest.mark.parametrize("music_level", [-12, 0, 12])
@pytest.mark.parametrize("duck", [0.0, USUAL_DUCK])
def test_the_worst_sum_of_all_stays_under_the_ceiling(
    tmp_path: Path, voice_level: float, click_level: float, music_level: float, duck: float
) -> None:
    spoken = list(beats(1200, 12, (5,), 0.3))
    alone = [beat._replace(time=beat.time + 1.5, call=None) for beat in spoken]
    click = click_clip(spoken[0].click or pytest.fail("no click"), RATE).samples
    sounds = np.zeros((3 * RATE, 2), dtype=np.float32)
    for beat in (*spoken, *alone):  # Music that swings with all of it.
        first = frame_at(beat.time, RATE)
        sounds[first : first + len(click)] += click / np.float32(np.abs(click).max())
    peak = np.abs(resample_poly(sounds.astype(float), 16, 1, axis=0)).max()
    track = Track(decoded(tmp_path / "a", sounds, peak=peak), level=music_level, duck=duck)
    line = Timeline(lambda: iter([*spoken, *alone]), (), 3.0, frozenset("5"))
    voice = ClipVoice({"5": [in_phase(0.7, 5)]})
    mixed = whole(mix(line, voice, RATE, Balance(voice_level, click_level), track))
    true_peak = 20 * np.log10(np.abs(resample_poly(mixed.astype(float), 16, 1, axis=0)).max())
    assert true_peak <= TRUE_PEAK_CEILING
    assert true_peak >= TRUE_PEAK_CEILING - 3.0


def test_levels_keep_their_distance_when_all_is_lowered(tmp_path: Path) -> None:
    loud = decoded(tmp_path / "loud", tone(500, -1, 1.0), peak=0.9)
    line = timeline(lambda: beats(120, 3))
    lowered = list(score(line, None, RATE, None, Track(loud, level=12.0)))
    music = next(place for place in lowered if len(place.samples) > 10_000)
    click = next(place for place in lowered if 0 < len(place.samples) < 10_000)
    assert float(click.gain) < 1.0
    assert float(music.gain) / float(click.gain) == pytest.approx(linear(12.0))


def test_where_no_word_is_to_be_heard_it_is_not_ducked(level_music: Music) -> None:
    line = nothing(8.0, (Cue(1.0, "go"), Cue(4.0, "go")))
    found = score(line, mute("go"), RATE, NO_CLICKS, Track(level_music))
    placements = [place.by_itself() for place in found if not place.spoken]
    heard = Mixer(placements).read(6 * RATE)
    assert heard == pytest.approx(0.125, abs=SEAM_TOLERANCE)


def test_music_at_another_rate_is_refused(level_music: Music) -> None:
    track = Track(replace(level_music, rate=44_100))
    with pytest.raises(ValueError, match="music is at 44100 Hz and the output at 48"):
        score(nothing(), None, RATE, None, track)


def test_long_music_under_an_endless_count_needs_no_more_memory(tmp_path: Path) -> None:
    path = tmp_path / "long"
    seconds = 3 * 3600
    with path.open("wb") as file:  # Takes no room on most disks, being all zeros.
        file.truncate(seconds * RATE * 8)
    track = Track(Music(path, RATE, seconds * RATE, 0.5, -20.0), -3600.0)

    def silent_after_the_first() -> Iterator[Beat]:
        for beat in beats(200, None):
            yield beat if beat.beat == 0 else Beat(beat.beat, beat.time, 200, "part")

    for make in (lambda: beats(200, None), silent_after_the_first):
        mixer = mix(timeline(make), ToneVoice(), RATE, None, track)
        mixer.read(RATE)
        tracemalloc.start()
        for _ in range(100):
            mixer.read(RATE)
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        assert peak < 6_000_000


def test_music_that_comes_late_does_not_keep_anyone_waiting(tmp_path: Path) -> None:
    track = Track(decoded(tmp_path / "a", hum(1.0)), 7200.0)
    found = score(timeline(lambda: beats(120, None)), ToneVoice(), RATE, None, track)
    tracemalloc.start()
    starts = [next(found).start for _ in range(20_000)]
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert starts == sorted(starts)
    assert peak < 3_000_000


def test_a_decoded_file_that_has_gone_is_no_silence(level_music: Music) -> None:
    level_music.path.unlink()
    with pytest.raises(FileNotFoundError):
        mix(nothing(), None, RATE, NO_CLICKS, Track(level_music)).read(10)


def test_placements_of_music_are_neither_words_nor_clicks(level_music: Music) -> None:
    found = list(score(nothing(3.0), None, RATE, NO_CLICKS, Track(level_music)))
    assert found
    assert all(not place.spoken and place.belongs == place.start for place in found)
    assert all(isinstance(place, Placement) for place in found)
