"""A folder of recordings as a voice: what it may hold, and how texts are said with it."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
import soundfile

from throwcount.sounds.errors import UnknownWordError, VoiceError
from throwcount.sounds.measures import perceptual_centre, word_loudness
from throwcount.sounds.voices.recorded import RecordedVoice

WORD_LEVEL = -15.0
"""LKFS: so loud that words are plain, with room for clicks under the ceiling."""

BETWEEN_PHRASES_SECONDS = 0.3
"""Seconds: a pause that is heard as a comma."""

BETWEEN_WORDS_SECONDS = 0.02
"""Seconds: words that follow so closely are still two."""


RATE = 48_000
LENGTH_TOLERANCE = 0.008
"""Seconds; trimming keeps 3 ms of silence on either side."""

CODEC_TOLERANCE = 0.02
"""Seconds; MP3 and OGG smear what stands beside silence."""

Record = Callable[..., Path]


def word(seconds: float, rate: int = RATE, hertz: float = 700) -> npt.NDArray[np.float32]:
    """Return a tone that swells and fades, with silence around it."""
    moments = np.arange(round(seconds * rate)) / rate
    shape = np.minimum(1, 20 * np.minimum(moments, seconds - moments)) + 0.02
    silence = np.zeros(rate // 5)
    tone = 0.3 * shape * np.sin(2 * np.pi * hertz * moments)
    return np.concatenate((silence, tone, silence)).astype(np.float32)


@pytest.fixture
def record(tmp_path: Path) -> Record:
    """`record(name, seconds)` writes a recording into the folder of a voice; return the folder."""

    def written(
        name: str, seconds: float = 0.3, *, rate: int = RATE, channels: int = 1, hertz: float = 700
    ) -> Path:
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        samples = np.repeat(word(seconds, rate, hertz)[:, np.newaxis], channels, axis=1)
        soundfile.write(path, samples, rate)
        return tmp_path

    return written


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("five.wav", "five"),
        ("5.wav", "five"),
        ("05.wav", "five"),
        ("FIVE.WAV", "five"),
        ("five.flac", "5"),
        ("Five.ogg", "FIVE"),
        ("five.mp3", "five"),
        ("last-one.wav", "last one"),
        ("Last_One.wav", "last-one"),
        ("last one.wav", " last  one "),
        ("21.wav", "twenty one"),
        ("21.wav", "21"),
        ("150.wav", "one hundred fifty"),
        ("fünf.wav", "Fünf"),
        ("slow/five.wav", "five"),
        ("a.b.wav", "a.b"),
    ],
)
def test_a_file_is_found_by_its_name(record: Record, name: str, text: str) -> None:
    voice = RecordedVoice(record(name), RATE)
    (clip,) = voice.clips(text)
    assert clip.seconds == pytest.approx(0.3, abs=CODEC_TOLERANCE)


@pytest.mark.parametrize("ending", ["wav", "flac", "ogg", "mp3"])
@pytest.mark.parametrize("rate", [16_000, 44_100, 48_000])
@pytest.mark.parametrize("channels", [1, 2])
def test_any_format_rate_and_channels(
    record: Record, ending: str, rate: int, channels: int
) -> None:
    voice = RecordedVoice(record(f"five.{ending}", rate=rate, channels=channels), RATE)
    (clip,) = voice.clips("five")
    assert (clip.rate, clip.samples.dtype, clip.samples.ndim) == (RATE, np.float32, 2)
    assert clip.seconds == pytest.approx(0.3, abs=CODEC_TOLERANCE)
    assert word_loudness(clip.samples, RATE) == pytest.approx(WORD_LEVEL, abs=0.1)
    assert clip.centre == pytest.approx(perceptual_centre(clip.samples, RATE), abs=RATE * 0.001)


def test_paces_come_from_everywhere_and_the_slowest_first(record: Record) -> None:
    for name, seconds in (("quick/5.wav", 0.2), ("five.wav", 0.4), ("calm/FIVE.flac", 0.6)):
        folder = record(name, seconds)
    clips = RecordedVoice(folder, RATE).clips("five")
    assert [clip.seconds for clip in clips] == pytest.approx([0.6, 0.4, 0.2], abs=LENGTH_TOLERANCE)


def test_a_voice_is_named_for_its_folder_unless_named(record: Record) -> None:
    folder = record("five.wav")
    assert RecordedVoice(folder, RATE).name == folder.name
    assert RecordedVoice(folder, RATE, "mine").name == "mine"
    assert RecordedVoice(folder, RATE).rate == RATE
    assert RecordedVoice(folder, RATE).words == {"five"}


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("double three", ["double", "three"]),
        ("150", ["one", "hundred", "fifty"]),
        ("one hundred fifty", ["one", "hundred", "fifty"]),
        ("three three last one", ["three", "three", "last one"]),
        ("last one double", ["last one", "double"]),
        ("one last one", ["one", "last one"]),
    ],
)
def test_a_text_is_said_as_the_longest_recordings_it_is_made_of(
    record: Record, text: str, parts: list[str]
) -> None:
    lengths = {"double": 0.3, "three": 0.35, "one": 0.2, "hundred": 0.4, "fifty": 0.38}
    lengths["last one"] = 0.5
    for name, seconds in lengths.items():
        folder = record(f"{name}.wav", seconds)
    voice = RecordedVoice(folder, RATE)
    (said,) = voice.clips(text)
    pieces = [voice.clips(part)[0] for part in parts]
    gaps = (len(parts) - 1) * round(BETWEEN_WORDS_SECONDS * RATE)
    assert said.frames == sum(piece.frames for piece in pieces) + gaps
    assert said.centre == pieces[0].centre
    assert (said.samples[-pieces[-1].frames :] == pieces[-1].samples).all()


def test_words_of_one_text_keep_pace_with_each_other(record: Record) -> None:
    for pace, seconds in (("calm", 0.5), ("even", 0.4), ("quick", 0.3)):
        record(f"{pace}/double.wav", seconds)
        if pace != "even":
            folder = record(f"{pace}/three.wav", seconds)
    voice = RecordedVoice(folder, RATE)
    gap = BETWEEN_WORDS_SECONDS
    assert [clip.seconds for clip in voice.clips("double three")] == pytest.approx(
        [0.5 + gap + 0.5, 0.4 + gap + 0.3, 0.3 + gap + 0.3], abs=2 * LENGTH_TOLERANCE
    )


def test_words_sound_as_recorded_for_their_place(record: Record) -> None:
    record("continued-calm/tempo.wav", 0.2)
    record("calm/tempo.wav", 0.5)
    record("quick/tempo.wav", 0.1)
    record("calm/five.wav", 0.4)
    voice = RecordedVoice(record("quick/five.wav", 0.15), RATE)
    gap = BETWEEN_WORDS_SECONDS
    found = [clip.seconds for clip in voice.clips("tempo five")]
    assert found == pytest.approx([0.2 + gap + 0.4, 0.1 + gap + 0.15], abs=2 * LENGTH_TOLERANCE)
    assert voice.words == {"tempo", "five"}


def test_a_number_recorded_whole_goes_on_with_the_quicker_paces_of_its_words(
    record: Record,
) -> None:
    for word in ("twenty", "one"):
        for pace, seconds in (("calm", 0.5), ("quick", 0.2)):
            record(f"{pace}/{word}.wav", seconds)
    voice = RecordedVoice(record("calm/twenty-one.wav", 0.7), RATE)
    found = [clip.seconds for clip in voice.clips("twenty one")]
    joined = 0.2 + BETWEEN_WORDS_SECONDS + 0.2
    assert found == pytest.approx([0.7, joined], abs=2 * LENGTH_TOLERANCE)


def test_a_comma_is_a_rest(record: Record) -> None:
    record("five.wav")
    voice = RecordedVoice(record("six.wav"), RATE)
    together, apart = voice.clips("five six")[0], voice.clips("five, six")[0]
    longer = BETWEEN_PHRASES_SECONDS - BETWEEN_WORDS_SECONDS
    assert apart.frames - together.frames == round(longer * RATE)
    assert apart.centre == together.centre


def test_the_same_text_gives_the_same_clips(record: Record) -> None:
    record("double.wav")
    voice = RecordedVoice(record("three.wav"), RATE)
    for text in ("three", "double three"):
        assert voice.clips(text)[0] is voice.clips(text)[0]


def test_only_what_is_asked_for_is_read(record: Record) -> None:
    folder = record("five.wav")
    (folder / "six.wav").write_bytes(b"no sound")
    voice = RecordedVoice(folder, RATE)
    voice.prepare(["five", "seven"])
    (folder / "five.wav").unlink()
    assert voice.clips("five")[0].frames > 0


@pytest.mark.parametrize("text", ["six", "five six", "six five", "105", "", "-", "9" * 30])
def test_a_text_with_no_recording_is_refused(record: Record, text: str) -> None:
    voice = RecordedVoice(record("five.wav"), RATE, "mine")
    with pytest.raises(UnknownWordError, match="The voice mine has no recording of"):
        voice.clips(text)
    voice.prepare([text])


def unreadable(path: Path) -> None:
    path.write_bytes(b"RIFF not really")


def empty(path: Path) -> None:
    path.write_bytes(b"")


def no_frames(path: Path) -> None:
    soundfile.write(path, np.zeros((0, 1)), RATE)


def silent(path: Path) -> None:
    soundfile.write(path, np.zeros(RATE), RATE)


def too_long(path: Path) -> None:
    soundfile.write(path, np.full(6 * RATE, 0.1), RATE)


def not_numbers(path: Path) -> None:
    soundfile.write(path, np.full(RATE, np.nan), RATE, subtype="FLOAT")


@pytest.mark.parametrize(
    ("spoil", "told"),
    [
        (unreadable, r"cannot be read: Format not recognised\.$"),
        (empty, r"cannot be read: Format not recognised\.$"),
        (no_frames, "is silent"),
        (silent, "is silent"),
        (too_long, "lasts 6.0 s; a word may last at most 5 s"),
        (not_numbers, "holds values that are not numbers"),
    ],
)
def test_a_bad_recording_is_named(record: Record, spoil: Callable[[Path], None], told: str) -> None:
    folder = record("five.wav")
    spoil(folder / "six.wav")
    voice = RecordedVoice(folder, RATE)
    voice.clips("five")
    with pytest.raises(VoiceError, match=told) as problem:
        voice.clips("six")
    assert str(folder / "six.wav") in str(problem.value)


def test_a_folder_without_recordings_is_refused(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("five")
    (tmp_path / ".hidden.wav").write_text("five")
    with pytest.raises(VoiceError, match="holds no recorded words"):
        RecordedVoice(tmp_path, RATE)


@pytest.mark.parametrize("name", ["nowhere", "file"])
def test_what_is_no_folder_is_refused(tmp_path: Path, name: str) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(VoiceError, match="cannot be opened"):
        RecordedVoice(tmp_path / name, RATE)
