"""`throwcount render`, as a person and as a script would use it."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pyloudnorm
import pytest
import soundfile
from click.testing import CliRunner, Result
from scipy.signal import resample_poly

from throwcount.caller.main import throwcount

KEYS = set("beat time tempo part part_index cycle_beat throws objects click call call_time".split())


def render(*arguments: object) -> Result:
    return CliRunner().invoke(throwcount, ["render", *map(str, arguments)])


def events_of(folder: Path, *arguments: object) -> dict[str, Any]:
    events = folder / "events.json"
    result = render(*arguments, "-o", folder / "out.wav", "--events", events, "--force")
    assert result.exit_code == 0, result.output
    return json.loads(events.read_text("utf-8"))


def test_events_follow_the_contract(tmp_path: Path) -> None:
    document = events_of(tmp_path, "531", "--tempo", 180, "--cycles", 4)
    assert set(document) == {"sample_rate", "seconds", "beats", "said"}
    assert document["sample_rate"] == 48_000
    assert all(set(beat) >= KEYS for beat in document["beats"])
    info = soundfile.info(str(tmp_path / "out.wav"))
    assert info.frames == round(document["seconds"] * 48_000)
    assert info.channels == 2


def test_beats_of_a_pattern(tmp_path: Path) -> None:
    beats = events_of(tmp_path, "531", "--tempo", 180, "--cycles", 2)["beats"]
    assert [beat["beat"] for beat in beats] == list(range(-4, 8))
    assert [beat["part"] for beat in beats] == ["count-in"] * 4 + ["531"] * 6 + ["run-out"] * 2
    assert [beat["call"] for beat in beats[4:]] == [
        "five", "three", "one", "five", "three", "stop", None, None,
    ]  # fmt: skip
    assert beats[4]["throws"] == {"right": ["5"], "left": []}
    assert beats[5]["objects"] == {"right": [], "left": ["B"]}
    assert [beat["cycle_beat"] for beat in beats[4:10]] == [0, 1, 2, 0, 1, 2]
    assert all(beat["call_time"] == (beat["time"] if beat["call"] else None) for beat in beats)
    times = [beat["time"] for beat in beats]
    assert times == pytest.approx([times[0] + 60 / 180 * index for index in range(12)])


def test_synchronous_events(tmp_path: Path) -> None:
    beats = events_of(tmp_path, "(4,2x)*", "--tempo", 160, "--cycles", 1)["beats"][4:8]
    assert [beat["throws"] for beat in beats] == [
        {"right": ["2x"], "left": ["4"]},
        {"right": [], "left": []},
        {"right": ["4"], "left": ["2x"]},
        {"right": [], "left": []},
    ]
    assert [beat["click"] for beat in beats] == ["both", None, "both", None]
    assert [beat["call"] for beat in beats] == ["four", "two", "stop", None]


@pytest.mark.parametrize("ending", ["wav", "flac", "ogg", "mp3", "WAV"])
def test_every_kind_of_file(ending: str, tmp_path: Path) -> None:
    result = render("531", "--cycles", 2, "-o", tmp_path / f"out.{ending}")
    assert result.exit_code == 0
    assert ("can shift sound in time" in result.output) == (ending in {"ogg", "mp3"})
    assert soundfile.info(str(tmp_path / f"out.{ending}")).duration > 5


def test_sixteen_cycles_unless_told_otherwise(tmp_path: Path) -> None:
    beats = events_of(tmp_path, "531")["beats"]
    assert len([beat for beat in beats if beat["part"] == "531"]) == 48


@pytest.mark.parametrize(
    ("arguments", "highest", "fragments"),
    [
        ("531", (5, 230), []),
        ("531 --tempo 60", (5, 60), ["The 5 rises 16.48 m", "141 beats a minute would do"]),
        ("531 --tempo 240 --to 60 --beats 24", (5, 60), ["at 60 beats a minute"]),
        ("531 --tempo 200 --to 60 --curve steps --cycles 8", (5, 195), []),  # as far as it comes
        ("531 --tempo 300 --to 400 --cycles 8", (5, 300), ["At 400 beats a minute", "360"]),
        ("531 --tempo 200 --ceiling 2", (5, 200), ["the ceiling is at 2 m", "244"]),
        ("531 --ceiling 2", (5, 245), []),
        ("531 --ceiling 2 --hands 0.8", (5, 230), []),
        ("40 --tempo 500", (4, 500), ["At 500 beats a minute"]),
        ("1", None, []),
    ],
)
def test_what_is_wrong_with_a_tempo(
    tmp_path: Path, arguments: str, highest: tuple[int, float] | None, fragments: list[str]
) -> None:
    given = (*arguments.split(), "-o", tmp_path / "out.wav", "--force", "--rate", 8000)
    if "--cycles" not in given and "--beats" not in given:
        given = (*given, "--cycles", 1)
    result = render(*given)
    told = " ".join(result.stderr.split())
    assert told.count("Warning:") == bool(fragments)
    document = json.loads(render(*given, "--json").stdout)
    # h = g F^2 / 8, with a flight of n - 4/3 beats (Shannon's theorem, dwell ratio 2/3).
    metres = highest and 9.80665 / 8 * ((highest[0] - 4 / 3) * 60 / highest[1]) ** 2
    assert document["highest_m"] == (metres and pytest.approx(metres, rel=1e-9))
    assert len(document["warnings"]) == bool(fragments)
    for fragment in fragments:
        assert fragment in told
        assert fragment in document["warnings"][0]


def test_a_given_tempo_is_kept_whatever_is_wrong_with_it(tmp_path: Path) -> None:
    usual = events_of(tmp_path, "531", "--tempo", 60, "--cycles", 2)
    assert events_of(tmp_path, "531", "--tempo", 60, "--cycles", 2, "--ceiling", 2) == usual


def test_the_settings_give_the_room_too(tmp_path: Path) -> None:
    settings = tmp_path / "mine.toml"
    settings.write_text("ceiling = 2.2\nhands = 1.2\n", "utf-8")
    given = ("531", "--settings", settings, "-o", tmp_path / "out.wav", "--rate", 8000, "--force")
    assert json.loads(render(*given, "--json").stdout)["tempo"] == 245
    assert json.loads(render(*given, "--json", "--ceiling", 3).stdout)["tempo"] == 230
    assert render(*given, "--ceiling", 1).exit_code == 1
    refused = render(*given, "--ceiling", 1, "--json")
    assert "no room above hands at 1.2 m" in json.loads(refused.stdout)["message"]


def test_a_routine_is_warned_of_as_in_its_plan(tmp_path: Path) -> None:
    walk = tmp_path / "walk.toml"
    walk.write_text(
        'ceiling = 2.6\nready = 1\n[[part]]\npattern = "3"\ncycles = 4\ntempo = 100\n'
        'to = 400\n[[part]]\nname = "the well"\npattern = "531"\ncycles = 2\ntempo = 170\n',
        "utf-8",
    )
    given = (walk, "-o", tmp_path / "out.wav", "--rate", 8000, "--force")
    told = " ".join(render(*given).stderr.split())
    document = json.loads(render(*given, "--json").stdout)
    planned = json.loads(CliRunner().invoke(throwcount, ["plan", str(walk), "--json"]).stdout)
    assert document["warnings"] == planned["warnings"]
    assert document["highest_m"] == planned["highest_m"] == pytest.approx(2.053, abs=5e-4)
    assert [entry["highest_m"] for entry in planned["entries"]] == pytest.approx(
        [1.2258, 2.053], abs=5e-4
    )
    for fragment in ("Part 1: At 400 beats", "Part 2: The 5 rises 2.05 m", "193 beats"):
        assert fragment in told
    slower = json.loads(render(*given, "--percent", 50, "--json").stdout)
    assert slower["highest_m"] == pytest.approx(4 * 2.053, abs=2e-3)
    assert "Part 1: The 3" in slower["warnings"][0]


def test_a_room_lower_than_the_hands_is_a_fault_of_the_routine(tmp_path: Path) -> None:
    walk = tmp_path / "walk.toml"
    walk.write_text('[[part]]\npattern = "3"\ncycles = 4\n', "utf-8")
    refused = render(walk, "-o", tmp_path / "out.wav", "--ceiling", 0.9, "--json")
    assert refused.exit_code == 1
    assert "no room above hands" in json.loads(refused.stdout)["message"]


def test_the_default_tempo_is_explained(tmp_path: Path) -> None:
    assert "230 beats a minute" in render("531", "-o", tmp_path / "out.wav").output
    assert "Tempo" not in render("531", "--tempo", 99, "-o", tmp_path / "other.wav").output


def test_nothing_is_overwritten_without_force(tmp_path: Path) -> None:
    for name in ("out.wav", "events.json"):
        place = tmp_path / name
        place.write_text("mine")
        other = tmp_path / "other.wav"
        target = ["-o", place] if name == "out.wav" else ["-o", other, "--events", place]
        result = render("531", *target)
        assert result.exit_code == 3
        assert "already" in result.output
        assert place.read_text() == "mine"
        assert not other.exists()
        assert render("531", *target, "--force").exit_code == 0
        assert place.read_bytes()[:4] != b"mine"


def test_a_pattern_given_by_its_name_keeps_it(tmp_path: Path) -> None:
    told = render("5-ball cascade", "--cycles", 2, "-o", tmp_path / "out.wav", "--json")
    document = json.loads(told.stdout)
    assert (document["title"], document["pattern"]) == ("5 cascade", "5")


def test_json_is_one_document(tmp_path: Path) -> None:
    result = render("531", "--tempo", 200, "-o", tmp_path / "out.wav", "--json")
    document = json.loads(result.stdout)
    info = soundfile.info(str(tmp_path / "out.wav"))
    assert info.frames == round(document["seconds"] * 48_000)
    assert (document["tempo"], document["to"], document["beats"]) == (200, 200, 48)
    wrong = render("543", "-o", tmp_path / "none.wav", "--json")
    assert wrong.exit_code == 1
    assert json.loads(wrong.stdout)["valid"] is False


@pytest.mark.parametrize("pattern", ["531", "(4,2x)*", "b1"])
def test_a_loud_room_has_a_sound_of_its_own(pattern: str, tmp_path: Path) -> None:
    """As long and as loud as the usual one, with the same calls, and under the same ceiling."""
    events, sounds = [], []
    for options in ([], ["--hall"]):
        events.append(events_of(tmp_path, pattern, "--cycles", 4, *options))
        sounds.append(soundfile.read(str(tmp_path / "out.wav"))[0])
    usual, loud = sounds
    words = [[each["text"] for each in document.pop("said")] for document in events]
    assert words[0] == words[1]
    assert events[0] == events[1]
    assert usual.shape == loud.shape
    assert not np.array_equal(usual, loud)
    meter = pyloudnorm.Meter(48_000)
    assert -0.5 < meter.integrated_loudness(loud) - meter.integrated_loudness(usual) < 4
    assert np.abs(resample_poly(loud, 8, 1, axis=0)).max() <= 10 ** (-1 / 20)


@pytest.mark.parametrize(
    ("arguments", "status", "fragment"),
    [
        (["543"], 1, "meet"),
        (["53"], 0, ""),
        (["hello (("], 1, "pattern"),
        (["531", "--tempo", "0"], 2, "--tempo"),
        (["531", "--tempo", "nan"], 2, "nan"),
        (["531", "--tempo", "fast"], 2, "'fast' is not a valid number."),
        (["531", "--lead", "1.5"], 2, "'1.5' is not a valid whole number."),
        (["531", "--cycles", "3", "--beats", "9"], 2, "length"),
        (["531", "--say", "nonsense"], 2, "--say"),
        (["531", "--word", "hold"], 2, "2=hold"),
        (["531", "--voice", "no such voice"], 2, "no such voice"),
        (["531", "--output", "mine.wav"], 2, "-o mine.wav"),
        (["531", "--output", "Headphones"], 2, "--output Headphones"),
        (["531", "--output", "Headphones"], 2, "`throwcount play --output`"),
        (["531", "--output", "Headphones"], 2, "-o FILE"),
        (["531", "--latency", "0.1"], 2, "--latency"),
        (["531", "--rate", "7"], 2, "--rate"),
        (["531", "--names", "plum,,slate"], 2, "comma"),
        (["531", "--lead", "9"], 2, "--lead"),
        (["531", "--to", "300", "--curve", "steps", "--step", "1e-9"], 2, "--step"),
    ],
)
def test_statuses(arguments: list[str], status: int, fragment: str, tmp_path: Path) -> None:
    result = render(*arguments, "--cycles" if "--beats" not in arguments else "--count-in", 1,
                    "-o", tmp_path / "out.wav")  # fmt: skip
    assert result.exit_code == status, result.output
    assert fragment in result.output
    assert (tmp_path / "out.wav").exists() == (status == 0)


@pytest.mark.parametrize(
    ("place", "fragment"),
    [("none/out.wav", "no such folder"), ("folder.wav", "folder")],
)
def test_places_that_cannot_be_written(place: str, fragment: str, tmp_path: Path) -> None:
    (tmp_path / "folder.wav").mkdir()
    result = render("531", "-o", tmp_path / place)
    assert result.exit_code == 3
    assert fragment in result.output


@pytest.mark.parametrize(
    ("file", "events", "fragment"),
    [
        ("out", "beats.json", "no ending"),
        ("out.xyz", "beats.json", "'.xyz'"),
        ("out.wav", "out.wav", "each needs its own"),
        ("out.wav", "folder/../out.wav", "each needs its own"),
    ],
)
def test_files_that_cannot_be_meant(file: str, events: str, fragment: str, tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    result = render("531", "-o", tmp_path / file, "--events", tmp_path / events, "--force")
    assert result.exit_code == 2
    assert fragment in " ".join(result.output.split())
    assert [path.name for path in tmp_path.iterdir()] == ["folder"]


def test_own_words_and_other_calls(tmp_path: Path) -> None:
    def calls(*arguments: object) -> list[str | None]:
        cycles = 2 if arguments[0] != "3" else 9 if "--milestones" in arguments else 3
        beats = events_of(tmp_path, *arguments, "--tempo", 90, "--cycles", cycles)["beats"]
        return [beat["call"] for beat in beats if beat["part"] not in {"count-in", "run-out"}]

    assert calls("42", "--word", "2=hold") == ["four", "hold", "four", "stop"]
    assert calls("42", "--say", "hands", "--first", "left") == ["left", "right", "left", "stop"]
    objects = ("--say", "objects", "--names", "plum, slate")
    assert calls("3", *objects, "--lead", 1) == ["slate", None, "stop"]
    assert calls("51", "--fade", 1) == ["five", "one", None, "stop"]
    assert calls("b1", "--letters") == ["b", "one", "b", "stop"]
    assert calls("b1", "--letters", "plain") == ["b", "one", "b", "stop"]
    assert calls("b1", "--letters", "spelled") == ["bravo", "one", "bravo", "stop"]
    assert calls("42", "--say", "nothing") == [None, None, None, "stop"]
    assert calls("42", "--say", "nothing", "--no-stop-word") == [None] * 4
    flashed = [None, None, None, None, "flash", None, None, "qualified", "stop"]
    assert calls("3", "--say", "nothing", "--milestones") == flashed


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ("--to 200 --cycles 10", "goes from 240 to 200 beats a minute."),
        ("--to 200 --cycles 10 --curve ratio", "goes from 240 to 200 beats a minute."),
        ("--to 230 --cycles 10 --curve steps", "goes from 240 to 230 beats a minute."),
        (
            "--to 200 --cycles 10 --curve steps",
            "goes from 240 to 200 beats a minute, and comes as far as 230 in this length.",
        ),
    ],
)
def test_a_change_of_tempo_is_told_as_far_as_it_comes(
    options: str, told: str, tmp_path: Path
) -> None:
    result = render("531", "--tempo", 240, *options.split(), "-o", tmp_path / "out.wav")
    assert f"The tempo {told}\n" in result.stdout


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ("b1 --letters", True),
        ("b1 --letters spelled", False),
        ("b1", False),
        ("531 --letters", False),
        ("b1 --letters --say hands", False),
    ],
)
def test_letters_that_sound_alike_are_told(options: str, told: bool, tmp_path: Path) -> None:
    result = render(*options.split(), "--cycles", 2, "-o", tmp_path / "out.wav")
    assert ("--letters spelled calls b “bravo”." in result.stdout) == told


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ("", None),
        ("--voice-level -6 --click-level -6", None),
        ("--click-level 12 --say nothing --no-announce", "the clicks +0.1 instead of +12"),
        ("--voice-level 12 --click-level 12", "the voice gets +0.1 dB instead of +12"),
    ],
)
def test_levels_that_the_ceiling_does_not_allow_are_told(
    options: str, told: str | None, tmp_path: Path
) -> None:
    result = render("531", *options.split(), "-o", tmp_path / "a.wav", "--cycles", 1)
    assert result.exit_code == 0
    text = " ".join(result.output.split())
    assert ("the sound would pass -1 dBTP" in text) == (told is not None)
    assert told is None or told in text


@pytest.mark.parametrize("ending", ["wav", "mp3"])
def test_the_page_is_compact_unless_it_is_to_be_exact(ending: str, tmp_path: Path) -> None:
    sizes = {}
    for kind in ("compact", "exact"):
        page = tmp_path / f"{kind}.html"
        options = () if kind == "compact" else ("--page-sound", kind)
        file = tmp_path / f"{kind}.{ending}"
        result = render("531", "--cycles", 4, "-o", file, "--page", page, *options, "--json")
        assert result.exit_code == 0, result.output
        document = json.loads(result.stdout)
        assert document["page"] == str(page)
        assert set(document) & {"page_sound", "page-sound"} == set()
        sizes[kind] = page.stat().st_size
    assert sizes["compact"] < 0.6 * sizes["exact"]


@pytest.mark.parametrize(
    ("options", "fragment"),
    [("--page-sound small --page p.html", "'small' is not"), ("--page-sound exact", "--page FILE")],
)
def test_a_sound_of_no_page(options: str, fragment: str, tmp_path: Path) -> None:
    result = render("531", "-o", tmp_path / "a.wav", *options.split())
    assert result.exit_code == 2
    assert fragment in " ".join(result.output.split())
