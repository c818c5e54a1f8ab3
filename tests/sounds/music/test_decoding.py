"""Integrated loudness and true peak against the standards' own signals and another meter."""

import sys
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import scipy.signal
import soundfile
from fresh_python import printed_by
from music_files import RATE, Samples, hum, struck, tone, write
from ungated import ungated

from throwcount.sounds.errors import FileError, MusicError
from throwcount.sounds.mixing.music_bed import Music
from throwcount.sounds.music.decoding import Meter, decoded_music, frames_of

OUTPUT = 48_000


def samples_of(music: Music) -> Samples:
    return np.fromfile(music.path, "<f4").reshape(-1, 2)


@pytest.mark.parametrize(
    ("name", "subtype"),
    [("a.wav", "FLOAT"), ("a.wav", "PCM_24"), ("a.flac", "PCM_16"), ("a.flac", "PCM_24")],
)
@pytest.mark.parametrize("channels", [1, 2])
def test_at_the_rate_of_the_output_every_sample_stays_as_it_is(
    tmp_path: Path, name: str, subtype: str, channels: int
) -> None:
    music = hum(1.3)[:, :channels]
    path = write(tmp_path / name, music, OUTPUT, subtype)
    with decoded_music(path, OUTPUT) as decoded:
        assert np.array_equal(samples_of(decoded), np.broadcast_to(music, (len(music), 2)))
        assert decoded.frames == len(music)
        assert not decoded.warning


@pytest.mark.parametrize("name", ["a.wav", "a.flac", "a.ogg", "a.mp3"])
@pytest.mark.parametrize("rate", [22_050, 44_100, 48_000])
@pytest.mark.parametrize("channels", [1, 2])
def test_every_moment_stays_at_its_place(
    tmp_path: Path, name: str, rate: int, channels: int
) -> None:
    times = np.array([0.25, 0.7, 1.35, 1.9])
    sound = struck(times, 2.2, rate, hertz=3000.0)
    path = write(tmp_path / name, np.repeat(sound[:, np.newaxis], channels, axis=1), rate)
    expected = struck(times, 2.2, OUTPUT, hertz=3000.0)
    with decoded_music(path, OUTPUT) as music:
        found = samples_of(music)
    for time in times:
        first = round(time * OUTPUT) - 200
        for side in (0, 1):
            around = found[first : first + 2_000, side].astype(np.float64)
            likeness = np.correlate(around, expected[first + 100 : first + 1_900], "valid")
            assert abs(int(np.argmax(likeness)) - 100) <= 2  # frames, 0.04 ms
    assert abs(music.frames - round(2.2 * OUTPUT)) <= OUTPUT // 10


def test_loudness_is_that_of_what_is_heard(tmp_path: Path) -> None:
    path = write(tmp_path / "a.flac", hum(6)[:, 0], 44_100)
    with decoded_music(path, OUTPUT) as music:
        heard = samples_of(music).astype(np.float64)
    assert music.loudness == pytest.approx(
        pyloudnorm.Meter(OUTPUT).integrated_loudness(heard), abs=0.1
    )
    assert np.abs(heard).max() <= music.peak <= 1.3 * np.abs(heard).max()


def test_it_tells_how_far_it_has_come(tmp_path: Path) -> None:
    path = write(tmp_path / "a.wav", hum(3.0, 44_100), 44_100)
    told: list[int] = []
    with decoded_music(path, OUTPUT, on_frames=told.append) as music:
        assert sum(told) == music.frames == frames_of(path, OUTPUT) == 3 * OUTPUT
    assert len(told) > 1


def test_the_decoded_file_is_there_as_long_as_it_is_needed(tmp_path: Path) -> None:
    path, folder = write(tmp_path / "a.wav", hum(0.5), OUTPUT), tmp_path / "new" / "folder"
    with decoded_music(path, OUTPUT, folder=folder) as music:
        assert list(folder.iterdir()) == [music.path]
        assert music.path.stat().st_size == 8 * music.frames

    def interrupted(_frames: int) -> None:
        raise KeyboardInterrupt

    with (
        pytest.raises(KeyboardInterrupt),
        decoded_music(path, OUTPUT, folder=folder, on_frames=interrupted),
    ):
        pass
    assert not list(folder.iterdir())


def test_values_that_are_no_numbers_become_silence(tmp_path: Path) -> None:
    music = hum(0.5)
    music[100:110] = np.nan
    music[200] = np.inf
    with decoded_music(write(tmp_path / "a.wav", music, OUTPUT, "FLOAT"), OUTPUT) as decoded:
        found = samples_of(decoded)
    assert not found[100:110].any()
    assert not found[200].any()
    assert np.array_equal(found[300:], music[300:])


def test_what_swings_over_full_scale_is_kept(tmp_path: Path) -> None:
    path = write(tmp_path / "a.wav", 6 * hum(0.5), OUTPUT, "FLOAT")
    with decoded_music(path, OUTPUT) as music:
        assert np.array_equal(samples_of(music), 6 * hum(0.5))
        assert music.peak >= 1.5


@pytest.mark.parametrize("name", ["a.flac", "a.mp3"])
def test_music_that_breaks_off_is_told(tmp_path: Path, name: str) -> None:
    path = write(tmp_path / name, hum(8.0), OUTPUT)
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    with decoded_music(path, OUTPUT) as music:
        assert 2.0 < music.seconds < 6.0
        assert f"breaks off after {music.seconds:.1f} of 8.0 s" in music.warning


@pytest.mark.parametrize("rate", [16_000, 44_100])
def test_mp3_is_whole_wherever_pieces_meet(tmp_path: Path, rate: int) -> None:
    # Silence and bursts in turn make the coder save up bits, which later frames draw on.
    times = np.arange(0.1, 12.0, 0.53)
    path = write(tmp_path / "a.mp3", struck(times, 12.2, rate, hertz=3000.0), rate)
    at_once, _ = soundfile.read(path, dtype="float32")
    with decoded_music(path, rate) as music:
        assert samples_of(music)[:, 0] == pytest.approx(at_once, abs=1e-5)


def no_sound(folder: Path) -> Path:
    return write(folder / "a.wav", np.zeros((0, 2), np.float32), OUTPUT)


def no_music(folder: Path) -> Path:
    (folder / "a.mp3").write_text("Not music at all. " * 100)
    return folder / "a.mp3"


def bare_samples(folder: Path) -> Path:
    (folder / "a.raw").write_bytes(bytes(1000))
    return folder / "a.raw"


def surround(folder: Path) -> Path:
    return write(folder / "a.wav", np.zeros((1000, 6), np.float32), OUTPUT)


def far_too_fast(folder: Path) -> Path:
    return write(folder / "a.wav", np.zeros((1000, 2), np.float32), 2_000_000)


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (lambda folder: folder / "none.mp3", "there is no such file"),
        (lambda folder: folder, "it is a folder"),
        (no_sound, "holds no sound"),
        (no_music, "damaged, or it is not a WAV, FLAC, OGG or MP3 file"),
        (bare_samples, "damaged, or it is not a WAV, FLAC, OGG or MP3 file"),
        (surround, "has 6 channels; it can have one or two"),
        (far_too_fast, "says it has 2000000 samples a second"),
    ],
    ids=["missing", "folder", "empty", "text", "raw", "surround", "rate"],
)
def test_what_cannot_be_music_is_told(tmp_path: Path, make: object, told: str) -> None:
    assert callable(make)
    path, folder = make(tmp_path), tmp_path / "decoded"
    with pytest.raises(MusicError, match=told), decoded_music(path, OUTPUT, folder=folder):
        pass
    assert not folder.exists() or not list(folder.iterdir())


def test_a_place_where_nothing_can_be_put_is_told(tmp_path: Path) -> None:
    path = write(tmp_path / "a.wav", hum(0.5), OUTPUT)
    with (
        pytest.raises(FileError, match="is a file, not a folder"),
        decoded_music(path, OUTPUT, folder=path / "folder"),
    ):
        pass


@pytest.mark.skipif(sys.platform == "win32", reason="no limit on the size of files")
def test_a_full_disk_is_told_and_leaves_nothing(tmp_path: Path) -> None:
    # A limit on the size of files acts as a full disk does: a write is cut short and then fails.
    path, folder = write(tmp_path / "a.flac", hum(1.0), OUTPUT), tmp_path / "decoded"
    code = f"""
import resource, signal
from pathlib import Path
from throwcount.sounds.errors import FileError
from throwcount.sounds.music.decoding import decoded_music
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))
try:
    with decoded_music(Path({str(path)!r}), {OUTPUT}, folder=Path({str(folder)!r})):
        pass
except FileError as error:
    print(error)
"""
    told = printed_by(code)
    assert told.startswith(str(folder))
    assert "cannot be written. The disk is full" in told
    assert not list(folder.iterdir())


METER_TOLERANCE = 0.1
"""dB; what meters may differ by (EBU Tech 3341)."""


def measured(
    samples: np.ndarray, rate: int = RATE, pieces: tuple[int, ...] = (16_384,)
) -> tuple[float, float]:
    meter = Meter(rate)
    first = turn = 0
    while first < len(samples):
        count = pieces[turn % len(pieces)]
        meter.take(samples[first : first + count])
        first, turn = first + count, turn + 1
    return meter.finish()


@pytest.mark.parametrize(
    "levels",
    [
        # EBU Tech 3341 (levels and lengths from memory): each reads -23.0 +- 0.1 LUFS.
        [(-23, 20)],
        [(-36, 10), (-23, 60), (-36, 10)],
        [(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)],
        [(-26, 20), (-20, 20.1), (-26, 20)],
    ],
    ids=["steady", "relative gate", "both gates", "no gate"],
)
def test_the_signals_of_the_standard_read_minus_23(levels: list[tuple[float, float]]) -> None:
    samples = np.concatenate([tone(1000, level, seconds) for level, seconds in levels])
    assert measured(samples)[0] == pytest.approx(-23.0, abs=METER_TOLERANCE)


@pytest.mark.parametrize("rate", [11_025, 44_100, 48_000, 96_000])
def test_music_that_swells_reads_as_on_another_meter(rate: int) -> None:
    seconds = 12.3
    noise = hum(seconds, rate)
    swelling = np.abs(np.sin(np.linspace(0, 7, len(noise)))) ** 6
    music = (noise * swelling[:, np.newaxis]).astype(np.float32)
    meter = pyloudnorm.Meter(rate, filter_class="DeMan")
    expected = meter.integrated_loudness(music.astype(np.float64))
    assert expected > ungated(music, rate) + 1.0  # The gates make a difference.
    assert measured(music, rate)[0] == pytest.approx(expected, abs=METER_TOLERANCE)


def test_it_does_not_matter_how_it_comes() -> None:
    music = hum(9.0)
    at_once = measured(music, pieces=(len(music),))
    for pieces in ((1_000,), (16_384, 3), (300_000, 1, 77)):
        assert measured(music, pieces=pieces) == pytest.approx(at_once, rel=1e-9)


@pytest.mark.parametrize("seconds", [0.01, 0.25, 0.399])
def test_what_is_shorter_than_a_block_is_measured_as_one(seconds: float) -> None:
    music = hum(seconds)
    assert measured(music)[0] == pytest.approx(ungated(music, RATE), abs=1e-6)


@pytest.mark.parametrize("level", [-75, -200])
def test_what_is_below_the_absolute_gate_has_no_loudness(level: float) -> None:
    assert measured(tone(1000, level, 3))[0] == -np.inf


def test_a_peak_between_the_samples_is_seen_wherever_pieces_meet() -> None:
    # ITU-R BS.1770, annex 2: a quarter of the rate at 45 degrees peaks 3 dB above its samples.
    frames = np.arange(RATE)
    swing = np.hanning(RATE) * np.sin(np.pi / 2 * frames + np.pi / 4)
    samples = np.repeat(swing[:, np.newaxis], 2, axis=1).astype(np.float32)
    assert measured(samples, pieces=(RATE // 2,))[1] == pytest.approx(1.0, abs=0.01)


def test_true_peak_is_that_of_another_resampler() -> None:
    samples = scipy.signal.lfilter([0.3], [1, -0.7], hum(3), axis=0).astype(np.float32)
    expected = np.abs(scipy.signal.resample_poly(samples.astype(np.float64), 16, 1, axis=0)).max()
    assert 20 * np.log10(measured(samples)[1] / expected) == pytest.approx(0, abs=0.3)
