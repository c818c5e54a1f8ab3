"""The clips that come with the program: all there, fit for their beats, equal, clean, clear."""

from functools import cache
from importlib import resources
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pyloudnorm
import pytest
import scipy.signal
import soundfile
from listener import Listener

from throwcount.engine.numbers import spoken
from throwcount.engine.scheduling.calls import SPELLING_ALPHABET
from throwcount.sounds.bank.make_bank import EASY, FIRST, NATURAL, SECOND, BankVoice
from throwcount.sounds.bank.words import CALLS, DIGITS, HANDS, MANNERS
from throwcount.sounds.measures import measured, true_peak, with_soft_edges, word_loudness
from throwcount.sounds.voices.recorded import BUILT_IN_VOICES, RecordedVoice, built_in

STORED_LEVEL = -18.0
WORD_LEVEL = -15.0
"""LKFS: so loud that words are plain, with room for clicks under the ceiling."""

STORED_PEAK = 10 ** (-1.0 / 20)
"""Linear: -1 dBTP, the highest true peak that EBU R 128 allows."""
WORD_PEAK = 10 ** (-2.0 / 20)
"""Linear: a little under the -1 dBTP that EBU R 128 allows."""

known_voice = cache(built_in)
"""Each voice reads its clips once for all tests."""


RATE = 48_000
BANK = Path(str(resources.files("throwcount.sounds.bank")))
FILES = sorted(path for path in BANK.rglob("*") if path.suffix in {".flac", ".ogg"})
VOICES = dict(zip(BUILT_IN_VOICES, (FIRST, SECOND), strict=True))
NATURAL_PACES = 2
QUICKEST_TEMPO = 260
MEGABYTES = 12
FOLDERS = (NATURAL, EASY, *(pace.name for pace in FIRST.paces))

LEVELS_APART = 3.0
"""dB between any two words of a pace, by a measure that did not level them. Words of half a second
are further apart than short ones, as it counts how long they last."""

LOSSY_LEVEL = 0.4
"""dB by which a lossy copy may be off; voices level what they read."""


@pytest.fixture(scope="module")
def voice() -> RecordedVoice:
    return known_voice(RATE)


@pytest.fixture(scope="module")
def clips() -> dict[Path, npt.NDArray[np.float32]]:
    return {path: soundfile.read(path, dtype="float32")[0] for path in FILES}


@pytest.mark.parametrize(
    "text",
    [
        *map(spoken, (*range(36), 60, 75, 100, 119, 150, 186, 240, 260, 1000)),
        *"abcdefghijklmnopqrstuvwxyz",
        *("right", "left", "both", "hold", "stop", "last one", "ready", "and", "go"),
        *("flash", "qualified", "double three", "triple five", "three four"),
        "five three one tempo one hundred fifty right hand first",
        "pattern twelve beats tempo 90 left hand first",
        *("rest thirty seconds", "two more", "drop", "clean", "pick up", "again from the top"),
        *("set complete", "well done"),
        *SPELLING_ALPHABET.values(),
        *("box", "split", "pirouette", "turn", "half", "high", "low", "pick up", "put down"),
        *("under the leg", "behind the back", "over the shoulder", "behind the neck"),
        *("every other right five", "last seven", "every tenth three", "clap"),
        *("left", "right", "together", "wait", "hurry", "take", "give"),
        "next box, half turn, split, tempo three hundred twenty-one",
    ],
)
def test_what_a_practice_needs_can_be_said(text: str) -> None:
    for name in VOICES:
        assert known_voice(RATE, name).clips(text)


@pytest.mark.parametrize(("name", "made"), VOICES.items())
def test_there_is_a_clip_of_every_text_and_no_other(name: str, made: BankVoice) -> None:
    voice = known_voice(RATE, name)
    assert voice.words == {*made.on_beats, *made.others}
    for text in made.on_beats:
        assert len(voice.clips(text)) == NATURAL_PACES + len(made.paces_of(text)), text


def test_clips_have_one_format_and_are_small() -> None:
    assert sum(path.stat().st_size for path in FILES) < MEGABYTES * 1e6
    for path in FILES:
        info = soundfile.info(path)
        subtype = "PCM_16" if path.stem in DIGITS | HANDS else "OPUS"
        assert (info.samplerate, info.channels, info.subtype) == (24_000, 1, subtype), path


@pytest.mark.parametrize("name", VOICES)
def test_each_pace_is_quicker_than_the_one_before(name: str) -> None:
    voice = known_voice(RATE, name)
    for text in VOICES[name].on_beats:
        lengths = np.array([clip.seconds for clip in voice.clips(text)])
        assert (lengths[1:] < lengths[:-1]).all(), text


@pytest.mark.parametrize("name", VOICES)
def test_digits_have_their_natural_length_at_ease(name: str) -> None:
    # At its own speed the model takes 423 to 577 ms for a digit.
    voice = known_voice(RATE, name)
    for pace in range(NATURAL_PACES):
        assert np.median([voice.clips(digit)[pace].seconds for digit in DIGITS]) >= 0.4


@pytest.mark.parametrize("name", VOICES)
def test_a_number_in_a_phrase_is_not_said_as_at_its_end(name: str) -> None:
    voice = known_voice(RATE, name)
    phrase = voice.clips("tempo one hundred eighty")[0]
    alone = [voice.clips(text)[0] for text in ("tempo", "one hundred", "eighty")]
    assert phrase.seconds < 0.9 * sum(clip.seconds for clip in alone)


@pytest.mark.parametrize("text", DIGITS | HANDS)
def test_what_each_beat_may_call_fits_a_beat_at_260(voice: RecordedVoice, text: str) -> None:
    assert voice.clips(text)[-1].seconds < 60 / QUICKEST_TEMPO


def test_at_the_quickest_pace_no_digit_runs_into_another(voice: RecordedVoice) -> None:
    quickest = [voice.clips(digit)[-1] for digit in DIGITS]
    before = max(clip.centre for clip in quickest)
    after = max(clip.frames - clip.centre for clip in quickest)
    assert (before + after) / RATE < 60 / QUICKEST_TEMPO


def loudness_when_repeated(samples: npt.NDArray[np.float32], rate: int) -> float:
    """Return the loudness of a word said for 4 s on end, as ITU-R BS.1770 has it."""
    on_end = np.tile(samples.astype(np.float64), 1 + 4 * rate // len(samples))
    return float(pyloudnorm.Meter(rate).integrated_loudness(on_end))


@pytest.mark.parametrize("pace", FOLDERS)
def test_digits_and_hands_are_equally_loud_by_another_measure(
    clips: dict[Path, npt.NDArray[np.float32]], pace: str
) -> None:
    folder = BANK / "clips" / pace
    levels = [
        loudness_when_repeated(clips[folder / f"{word}.flac"], 24_000) for word in DIGITS | HANDS
    ]
    assert np.ptp(levels) <= LEVELS_APART


def test_clips_are_shipped_levelled(clips: dict[Path, npt.NDArray[np.float32]]) -> None:
    for path, samples in clips.items():
        level = word_loudness(samples, 24_000)
        between = np.abs(scipy.signal.resample_poly(samples.astype(np.float64), 4, 1)).max()
        assert between <= STORED_PEAK * (1.02 if path.suffix == ".flac" else 1.1), path
        if between < STORED_PEAK * 0.98:
            off = 0.05 if path.suffix == ".flac" else LOSSY_LEVEL
            assert level == pytest.approx(STORED_LEVEL, abs=off), path


@pytest.mark.parametrize("name", VOICES)
def test_clips_begin_and_end_without_a_click(name: str) -> None:
    voice = known_voice(24_000, name)
    for text in voice.words:
        for clip in voice.clips(text):
            samples = clip.samples
            peak = np.abs(samples).max()
            edges = np.abs(np.concatenate((samples[:10], samples[-10:])))
            assert edges.max() < 0.02 * peak, text
            assert abs(samples.mean()) < 0.01 * peak, text


@pytest.mark.parametrize("name", VOICES)
def test_voices_read_words_at_one_level(name: str) -> None:
    voice = known_voice(RATE, name)
    for text in VOICES[name].on_beats:
        for clip in voice.clips(text):
            level = word_loudness(clip.samples, RATE)
            # "up" is over so soon that its peak does not let it become as loud as the others.
            assert level == pytest.approx(WORD_LEVEL, abs=2.0 if text == "up" else 0.5), text
            # They are limited at their own rate; another one finds a little more between samples.
            assert true_peak(clip.samples, RATE) <= WORD_PEAK * 1.03, text


@pytest.mark.parametrize("name", VOICES)
def test_every_digit_is_understood_alone(name: str) -> None:
    listener, voice = Listener(DIGITS), known_voice(RATE, name)
    for pace in range(len(voice.clips("one"))):
        wrong = {
            word
            for word in DIGITS
            if listener.understood(voice.clips(word)[pace].samples, RATE) != word
        }
        assert not wrong, pace


def test_calls_are_told_apart_at_an_easy_pace(voice: RecordedVoice) -> None:
    # Letters rhyme and tens sound like teens, to people too; calls must not.
    words = [*DIGITS, *HANDS, *CALLS, *MANNERS]
    listener = Listener(words)
    heard = {word: listener.understood(voice.clips(word)[1].samples, RATE) for word in words}
    assert heard == {word: word for word in words}


def test_the_makers_of_the_voice_are_credited() -> None:
    notice = (BANK / "NOTICE").read_text("utf-8")
    for named in ("Kokoro-82M", "hexgrad", "Apache License", "kokoro-onnx", "MIT License"):
        assert named in notice


MEASURED_AGAIN = 300
"""Of more than two thousand clips, as it takes long to bring a word to its level."""


def test_what_is_kept_of_each_clip_is_what_it_measures() -> None:
    kept = (BANK / "measures.csv").read_text("utf-8").splitlines()
    assert kept[0] == "clip,gain,centre"
    rows = [row.split(",") for row in kept[1:]]
    assert [path for path, *_ in rows] == sorted(
        path.relative_to(BANK).as_posix() for path in FILES
    )
    for path, gain, centre in rows[:: len(rows) // MEASURED_AGAIN]:
        samples, rate = soundfile.read(BANK / path, dtype="float32", always_2d=True)
        measured_gain, measured_centre = measured(with_soft_edges(samples, rate), rate)
        # Decoders of Opus may differ in the last bits.
        assert float(gain) == pytest.approx(measured_gain, rel=1e-4 if path.endswith("c") else 1e-3)
        assert int(centre) == pytest.approx(measured_centre, abs=0 if path.endswith("c") else 24)
