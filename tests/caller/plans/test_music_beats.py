"""`throwcount plan --estimate` and `--tap`: lines for the music of a routine file."""

import json
import re
import tomllib
from contextlib import AbstractContextManager
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner, Result
from grooves import RATE as GROOVE_RATE
from grooves import breathing, played, rock

from throwcount.caller.main import throwcount
from throwcount.caller.plans.music_beats import (
    BeatsAsked,
    FoundBeats,
    beats_lines,
    tell_beats,
)

RATE = 22_050
TEMPO, FIRST = 112.0, 0.73
TWENTY_MS = 0.02


@pytest.fixture
def clicks(tmp_path: Path) -> Path:
    """Half a minute of clicks at a known tempo and offset."""
    samples = np.zeros(RATE * 30)
    burst = np.random.default_rng(1).normal(0, 0.5, 800) * np.exp(-np.arange(800) / 150)
    for beat in np.arange(FIRST, 29.5, 60 / TEMPO):
        at = round(beat * RATE)
        samples[at : at + len(burst)] += burst
    path = tmp_path / "clicks.wav"
    soundfile.write(path, samples, RATE)
    return path


def plan(*arguments: object) -> Result:
    return CliRunner().invoke(throwcount, ["plan", *map(str, arguments)])


def test_an_estimate_gives_lines_for_the_file(clicks: Path, tmp_path: Path) -> None:
    listed = tmp_path / "clicks.beats"
    told = plan(clicks, "--estimate", "--beats-file", listed, "--json")
    assert told.exit_code == 0, told.output
    document = json.loads(told.stdout)
    assert document["tempo"] == pytest.approx(TEMPO, abs=0.05)
    assert document["first_beat"] == pytest.approx(FIRST, abs=TWENTY_MS)
    assert 0.0 < document["confidence"] <= 1.0
    lines = [line for line in listed.read_text().splitlines() if not line.startswith("#")]
    assert float(lines[-1]) == pytest.approx(document["beats"][-1], abs=0.001)
    again = plan(clicks, "--estimate", "--beats-file", listed)
    assert again.exit_code == 3
    assert "already" in again.stderr


def test_the_music_of_a_routine_file_is_found(clicks: Path) -> None:
    """What is told is TOML as the standard library reads it, and named as the file names it."""
    folder = clicks.with_name('a "folder"')
    folder.mkdir()
    clicks.rename(folder / clicks.name)
    named = f"{folder.name}/{clicks.name}"
    routine = clicks.with_name("walk.toml")
    routine.write_text(f"[music]\nfile = {json.dumps(named)}\n")
    told = plan(routine, "--estimate")
    assert told.exit_code == 0, told.output
    music = tomllib.loads(told.stdout[told.stdout.index("[music]") :])["music"]
    assert music["file"] == named
    assert music["tempo"] == pytest.approx(TEMPO, abs=0.05)
    assert music["first-beat"] == pytest.approx(FIRST, abs=TWENTY_MS)
    # The estimate is never trusted silently, and knows nothing of bars.
    assert re.search(r"Confidence: (0\.\d\d|1\.00), of 1 at most", told.stdout)
    assert "bar 1 begins on the first one" in " ".join(told.stdout.split())


def test_taps_go_by_what_is_heard_through_the_headphones_of_the_settings(
    clicks: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[float] = []
    outputs: list[str] = []

    class Silent(AbstractContextManager[None]):
        rate = RATE

        def __exit__(self, *_: object) -> None:
            pass

    def tapped(_music: object, _player: object, delay: float) -> list[float]:
        asked.append(delay)
        return [FIRST - 0.05 + number * 60 / TEMPO for number in range(30)]

    def opened(output: str, _rate: object) -> Silent:
        outputs.append(output)
        return Silent()

    monkeypatch.setattr("throwcount.sounds.output.player.LivePlayer", opened)
    monkeypatch.setattr("throwcount.caller.plans.tapping.tap", tapped)
    settings = clicks.with_name("settings.toml")
    settings.write_text('output = "Headphones"\n')
    told = plan(clicks, "--tap", "--speaker-delay", "180", "--json", "--settings", settings)
    assert told.exit_code == 0, told.output
    assert asked == [0.18]
    assert outputs == ["Headphones"]
    document = json.loads(told.stdout)
    assert document["tempo"] == pytest.approx(TEMPO, abs=0.05)
    assert document["first_beat"] == pytest.approx(FIRST, abs=TWENTY_MS)
    assert document["confidence"] is None


def test_two_taps_settle_which_beats_are_meant(
    clicks: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The times are typed, or tapped on a key; a pair that fits nothing is told."""
    between = FIRST + 10.5 * 60 / TEMPO
    told = plan(clicks, "--estimate", "--two-taps", between - 0.03, between + 60 / TEMPO, "--json")
    assert told.exit_code == 0, told.output
    document = json.loads(told.stdout)
    assert document["first_beat"] == pytest.approx(FIRST + 30 / TEMPO, abs=TWENTY_MS)
    named = {each["name"]: each for each in document["alternatives"]}
    assert named["half"]["tempo"] == pytest.approx(TEMPO / 2, abs=0.05)
    assert named["double"]["tempo"] == pytest.approx(TEMPO * 2, abs=0.1)
    assert len(document["beat_confidence"]) == len(document["beats"])
    told = plan(clicks, "--estimate", "--two-taps", 10.0, 10.4)
    assert told.exit_code == 1
    assert "150.0 beats a minute" in " ".join(told.stderr.split())
    told = plan(clicks, "--estimate", "--two-taps", 200, 200.4)
    assert told.exit_code == 1
    seconds = soundfile.info(clicks).duration
    limit = f"Two taps at 200.00 s and 200.40 s: {clicks.name} ends at {seconds:.2f} s."
    assert limit in " ".join(told.stderr.split())

    class Silent(AbstractContextManager[None]):
        rate = RATE

        def __exit__(self, *_: object) -> None:
            pass

    pair = [FIRST + 8 * 60 / TEMPO, FIRST + 10 * 60 / TEMPO]
    monkeypatch.setattr("throwcount.sounds.output.player.LivePlayer", lambda *_: Silent())
    monkeypatch.setattr("throwcount.caller.plans.tapping.tap", lambda *_: pair)
    told = plan(clicks, "--tap", "--json")
    assert told.exit_code == 0, told.output
    assert json.loads(told.stdout)["tempo"] == pytest.approx(TEMPO / 2, abs=0.05)


def test_the_count_follows_a_tempo_that_moves(tmp_path: Path) -> None:
    """The events of a routine on the listed beats are at the beats that the music was made of."""
    beats = breathing(104, 0.04, 0.5, 20.0)
    soundfile.write(tmp_path / "tune.flac", played(rock(beats), 20.0), GROOVE_RATE)
    told = plan(tmp_path / "tune.flac", "--estimate", "--beats-file", tmp_path / "tune.txt")
    assert told.exit_code == 0, told.output
    routine = tmp_path / "walk.toml"
    parts = 'ready = 0\ncount-in = 0\n\n[[part]]\npattern = "3"\nbeats = 24\n\n'
    routine.write_text(parts + told.stdout[told.stdout.index("[music]") :])
    target, events = tmp_path / "walk.wav", tmp_path / "walk.json"
    made = ["render", str(routine), "-o", str(target), "--events", str(events)]
    done = CliRunner().invoke(throwcount, made)
    assert done.exit_code == 0, done.output
    throws = np.array([row["time"] for row in json.loads(events.read_text())["beats"]])[:24]
    assert np.diff(throws) == pytest.approx(np.diff(beats[:24]), abs=TWENTY_MS)


def test_an_audition_is_as_long_as_the_music(clicks: Path, tmp_path: Path) -> None:
    heard = tmp_path / "heard.wav"
    told = plan(clicks, "--estimate", "--audition", heard, "--json")
    assert told.exit_code == 0, told.output
    assert json.loads(told.stdout)["audition"] == str(heard)
    assert soundfile.info(heard).duration == pytest.approx(30.0, abs=1e-4)
    again = plan(clicks, "--estimate", "--audition", heard)
    assert again.exit_code == 3
    assert "already" in again.stderr


def test_a_list_of_beats_is_named_as_the_routine_file_sees_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    beats = FoundBeats(tmp_path / "tune.wav", "tune.wav", None, (0.25, 0.75, 1.5), None, ())
    for listed, named in [
        (tmp_path / "beats" / "tune.txt", "beats/tune.txt"),
        (tmp_path.parent / "tune.txt", (tmp_path.parent / "tune.txt").resolve().as_posix()),
    ]:
        listed.parent.mkdir(exist_ok=True)
        listed.write_text("an older list, which --force lets go")
        asked = BeatsAsked(tap=True, beats_file=listed)
        tell_beats(beats, tmp_path / "walk.toml", asked, as_json=False)
        assert tomllib.loads(capsys.readouterr().out)["music"]["beats"] == named
        assert listed.read_text().splitlines()[-1] == "1.5000"


@pytest.mark.parametrize(
    ("arguments", "status", "fragment"),
    [
        (["none.wav", "--estimate"], 3, "none.wav"),
        (["none.wav", "--tap"], 3, "none.wav"),
        (["none.toml", "--estimate"], 1, "none.toml"),
        (["x.wav", "--estimate", "--tap"], 2, "keep one"),
        (["x.wav", "--beats-file", "y"], 2, "--tap or --estimate"),
        (["x.wav", "--tap", "--new"], 2, "no plan"),
        (["x.wav", "--audition", "y.ogg"], 2, "--tap or --estimate"),
        (["x.wav", "--estimate", "--audition", "y.txt"], 2, "no sound format"),
        (["x.wav", "--tap", "--two-taps", "1", "2"], 2, "goes with --estimate"),
        (["x.wav", "--estimate", "--two-taps", "2", "1"], 2, "the earlier one first"),
        (["x.wav", "--estimate", "--two-taps", "nan", "1"], 2, "the earlier one first"),
        (["x.wav", "--estimate", "--two-taps", "1"], 2, "2 arguments"),
    ],
)
def test_what_cannot_be_meant(
    arguments: list[str],
    status: int,
    fragment: str,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> None:
    monkeypatch.chdir(tmp_path)
    told = plan(*arguments)
    assert told.exit_code == status
    assert fragment in told.stderr


def test_silence_has_no_beats(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "still.wav", np.zeros(RATE * 5), RATE)
    told = plan(tmp_path / "still.wav", "--estimate")
    assert told.exit_code == 1
    assert "Traceback" not in told.output


def test_tapping_needs_something_to_play_on(clicks: Path) -> None:
    told = plan(clicks, "--tap", "--output", "no such device")
    assert told.exit_code in {2, 3}  # 3 on a machine without PortAudio
    assert "Traceback" not in told.output


def test_a_beats_file_is_text_that_says_what_it_is() -> None:
    assert "".join(beats_lines([0.5, 1.00004, 61.25], "song.flac")) == (
        "# song.flac\n# 3 beats, in seconds of the music\n0.5000\n1.0000\n61.2500\n"
    )


def test_no_title_gets_out_of_its_comment() -> None:
    lines = list(beats_lines([1.0], "one\n2.0\r3.0"))
    assert [line for line in lines if not line.startswith("#")] == ["1.0000\n"]
