"""Music on the deck: what is rendered, and no click whatever is asked for in the middle of it."""

import pickle
from pathlib import Path

import numpy as np
import pytest
from handmade import RATE, tone
from music_files import Samples, decoded, hum

from throwcount.engine.patterns.rules import read
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import steady
from throwcount.sounds.mixing.music_bed import Music, Track
from throwcount.sounds.mixing.score import Balance, mix
from throwcount.sounds.output.commands import Command, Play, ScheduledRun, Silence, SpeakUp
from throwcount.sounds.output.deck import Deck
from throwcount.sounds.samples import Clip, frame_at
from throwcount.sounds.voices.stand_ins import ClipBank

CHUNK_SECONDS = 0.25
"""Seconds: music is sent in pieces as short as that."""

SEAM_SECONDS = 0.02
"""Seconds in which one piece fades into the next."""

FADE = 0.005
"""Seconds: as short as a fade can be that does not click."""


BLOCK = 256
LEVEL = 0.125
NO_CLICKS = Balance(voice_level=-6.0, clicks="none")
"""With room for all the music: nothing is lowered."""
SEAM_TOLERANCE = 2e-7
NEXT_CHUNK = CHUNK_SECONDS + SEAM_SECONDS

STEEPEST = LEVEL * np.pi / 2 / (FADE * RATE)
"""The most that a level of `LEVEL` changes from one sample to the next in a fade of a deck."""


@pytest.fixture
def level_music(tmp_path: Path) -> Music:
    samples = np.full((20 * RATE, 1), LEVEL, dtype=np.float32)
    return decoded(tmp_path / "level", samples)


def mute_bank() -> ClipBank:
    """Return a voice whose words take time but are silent."""
    word = Clip(np.zeros((9_600, 1), dtype=np.float32), RATE)
    texts = ("one", "three", "five", "stop", "ready")
    return ClipBank(RATE, {text: [word] for text in texts})


def speaking_bank() -> ClipBank:
    words = {"one": 9_000, "three": 10_000, "five": 11_000, "stop": 12_000}
    return ClipBank(RATE, {text: [tone(frames)] for text, frames in words.items()})


def passage_of(music: Music, start: float = 0.0, **more: object) -> ScheduledRun:
    run = Run((Part(read("531"), 30),), steady(200), ready=2.0, count_in=0, **more)
    return ScheduledRun(run, 0.5, NO_CLICKS, track=Track(music, start))


def heard(
    bank: ClipBank, seconds: float, commands: list[tuple[float, Command]], block: int = BLOCK
) -> Samples:
    """Return what a deck lets hear that is given commands at their times."""
    deck, blocks, waiting = Deck(bank), [], list(commands)
    while deck.position < seconds * RATE:
        while waiting and waiting[0][0] * RATE <= deck.position:
            deck.obey(pickle.loads(pickle.dumps(waiting.pop(0)[1])))
        blocks.append(deck.read(block))
    return np.concatenate(blocks)


@pytest.mark.parametrize("block", [64, 256, 1_000])
@pytest.mark.parametrize("start", [-2.5, 0.0, 3.1])
def test_a_passage_left_alone_is_what_is_rendered(tmp_path: Path, start: float, block: int) -> None:
    bank = speaking_bank()
    scheduled = passage_of(decoded(tmp_path / "a", hum(9.0)), start)
    timeline = scheduled.timeline(bank)
    assert timeline.seconds is not None
    frames = frame_at(timeline.seconds, RATE)
    rendered = mix(timeline, bank, RATE, NO_CLICKS, scheduled.track).read(frames)
    live = heard(bank, timeline.seconds + 1.0, [(0.0, Play(scheduled))], block)
    begins = frame_at(scheduled.start, RATE)
    assert np.array_equal(live[begins : begins + frames], rendered)
    assert rendered.any()


@pytest.mark.parametrize("later", np.linspace(0.0, CHUNK_SECONDS, 11))
def test_silence_is_a_fade_wherever_it_falls(level_music: Music, later: float) -> None:
    scheduled = passage_of(level_music, say="nothing")
    moment = 3.0 + later
    found = heard(mute_bank(), 5.0, [(0.0, Play(scheduled)), (moment, Silence())])[:, 0]
    silenced = -(-frame_at(moment, RATE) // BLOCK) * BLOCK
    assert found[RATE : silenced - 1] == pytest.approx(LEVEL, abs=SEAM_TOLERANCE)
    assert not found[silenced + round(FADE * RATE) :].any()
    assert np.abs(np.diff(found[RATE:])).max() <= STEEPEST * 1.01


@pytest.mark.parametrize("later", [0.0, 0.13, 0.2])
def test_without_words_it_rises_and_with_them_it_falls_and_never_jumps(
    level_music: Music, later: float
) -> None:
    off, on = 5.0 + later, 8.0 + later
    commands = [(0.0, Play(passage_of(level_music))), (off, SpeakUp(False)), (on, SpeakUp(True))]
    found = heard(mute_bank(), 10.0, commands)[:, 0]
    ducked = found[4 * RATE]
    assert ducked == pytest.approx(LEVEL * 10 ** (-8 / 20), rel=1e-5)
    assert found[4 * RATE : round(off * RATE)] == pytest.approx(ducked, abs=SEAM_TOLERANCE)
    up = found[round((off + NEXT_CHUNK + 0.01) * RATE) : round(on * RATE)]
    assert up == pytest.approx(LEVEL, abs=SEAM_TOLERANCE)
    down = found[round((on + NEXT_CHUNK + 0.01) * RATE) : 10 * RATE]
    assert down == pytest.approx(ducked, abs=SEAM_TOLERANCE)
    assert np.abs(np.diff(found[RATE:])).max() <= STEEPEST


@pytest.mark.parametrize("tempo", [120, 190, 260])
@pytest.mark.parametrize("now", [4.0, 4.1, 5.77])
def test_it_goes_on_as_it_is_when_the_tempo_changes(
    tmp_path: Path, tempo: float, now: float
) -> None:
    music = hum(16.0)
    scheduled = passage_of(decoded(tmp_path / "a", music), 0.25, say="nothing")
    change = scheduled.at_tempo(tempo, now)
    assert change is not None
    found = heard(mute_bank(), 8.0, [(0.0, Play(scheduled)), (now, change)])
    begins = frame_at(0.5, RATE) + frame_at(0.25, RATE)
    expected = music[: 8 * RATE - begins]
    assert np.abs(found[begins : 8 * RATE] - expected).max() <= SEAM_TOLERANCE


@pytest.mark.parametrize("start", [-1.5, 0.25])
def test_it_resumes_at_its_place(tmp_path: Path, start: float) -> None:
    music = hum(16.0)
    scheduled = passage_of(decoded(tmp_path / "a", music), start, say="nothing")
    beat, moment = 12, 9.0
    commands = [(0.0, Play(scheduled)), (6.0, Silence()), (7.0, scheduled.resumed(beat, moment))]
    found = heard(mute_bank(), 11.0, commands)
    assert not found[frame_at(6.1, RATE) : frame_at(moment - 0.01, RATE)].any()
    place = scheduled.time_at(beat) - scheduled.start - start
    again = frame_at(moment + NEXT_CHUNK, RATE)
    since = frame_at(place + NEXT_CHUNK, RATE)
    expected = music[since : since + 11 * RATE - again]
    assert np.abs(found[again : 11 * RATE] - expected).max() <= SEAM_TOLERANCE
