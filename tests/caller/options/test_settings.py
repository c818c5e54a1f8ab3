"""The settings file: what it may hold, what is told of faults, and what options make of it."""

import os
import re
import tomllib
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from throwcount.caller.commands.heights import heights_command as heights
from throwcount.caller.commands.leadup import leadup_command as leadup
from throwcount.caller.commands.play import play_command as play
from throwcount.caller.commands.render import render_command as render
from throwcount.caller.commands.settings import starter_lines
from throwcount.caller.options.settings import SettingsError, read_settings
from throwcount.caller.options.settings_model import (
    FIELDS,
    LIVE_ONLY,
    checked,
    facts,
    option_defaults,
)
from throwcount.caller.terminal.controls import CONTROLS, key_map, keys_of

LARGEST = 4 * 1024 * 1024
"""Bytes: nobody writes so much, and it is read at once."""


TABLES = {"words": "word", "phrases": "phrase", "keys": "key"}
"""Settings whose option is named for one of them."""


def written(folder: Path, text: str | bytes) -> Path:
    place = folder / "settings.toml"
    place.write_bytes(text.encode() if isinstance(text, str) else text)
    return place


def faults_of(text: str) -> list[str]:
    return checked(tomllib.loads(text))[1]


def option(command: click.Command, name: str) -> click.Option | None:
    found = [param for param in command.params if param.name == name]
    return found[0] if found and isinstance(found[0], click.Option) else None


def option_of(setting: str) -> click.Option:
    """Return the option of a setting, on whichever command has it."""
    name = TABLES.get(setting, setting.replace("-", "_"))
    options = (option(command, name) for command in (play, render, heights))
    return next(found for found in options if found is not None)


WITH_OPTIONS = [name for name in FIELDS if name != "session"]  # which takes an argument's place


@pytest.mark.parametrize("setting", WITH_OPTIONS)
def test_every_setting_has_an_option(setting: str) -> None:
    named = option_of(setting)
    assert named.opts == [f"--{TABLES.get(setting, setting)}"]


WHOLE = (click.IntRange,)
NUMERIC = (click.IntRange, click.FloatRange)
NUMBERS = st.one_of(
    st.floats(), st.integers(-100_000, 300_000), st.sampled_from([0, 1, 8000, 192_000, -60, 12, 64])
)


@pytest.mark.parametrize(
    "setting",
    [
        name
        for name in WITH_OPTIONS
        if name not in TABLES and isinstance(option_of(name).type, NUMERIC)
    ],
)
@given(value=NUMBERS)
def test_numbers_are_taken_as_the_option_takes_them(setting: str, value: float) -> None:
    named = option_of(setting)
    try:
        named.type.convert(value, named, None)
        taken = not (isinstance(named.type, WHOLE) and isinstance(value, float))
    except (click.BadParameter, ValueError, OverflowError):
        taken = False
    settings, faults = checked({setting: value})
    assert (settings is not None) == taken, faults


@pytest.mark.parametrize("setting", [name for name in FIELDS if facts(FIELDS[name])["choices"]])
def test_choices_are_those_of_the_option(setting: str) -> None:
    choices = facts(FIELDS[setting])["choices"]
    named = option_of(setting)
    if isinstance(named.type, click.Choice):
        assert tuple(named.type.choices) == choices
    else:
        assert named.is_flag
        assert choices == ("true", "false")


@pytest.mark.parametrize("setting", [name for name in WITH_OPTIONS if name not in TABLES])
def test_the_usual_value_is_the_option_s_default(setting: str) -> None:
    usual, default = facts(FIELDS[setting])["usual"], option_of(setting).default
    if isinstance(default, bool):
        assert usual == str(default).lower()
    elif isinstance(default, float):
        assert usual in {f"{default:g}", "2/3"}
    elif isinstance(default, int | str) and default != "":
        assert usual == str(default)
    else:
        assert usual


@pytest.mark.parametrize(
    ("text", "fragment"),
    [
        ('sya = "values"', "'sya' is not a setting. Did you mean 'say'?"),
        ("count_in = 4", "Did you mean 'count-in'?"),
        ("zzzzzz = 4", "'zzzzzz' is not a setting."),
        ('say = "valeus"', "values, position, hands, objects, tally or nothing. Did you mean 'v"),
        ("say = 3", "say cannot be 3: it is values"),
        ('first = "both"', 'first cannot be "both": it is right or left.'),
        ("count-in = 65", "count-in cannot be 65: it is a whole number from 0 to 64."),
        ("count-in = 4.5", "count-in cannot be 4.5: it is a whole number"),
        ("count-in = true", "count-in cannot be true: it is a whole number"),
        ("voice-level = nan", "voice-level cannot be nan: it is a number from -60 to 12."),
        ("ready = inf", "ready cannot be inf"),
        ('ready = "8"', 'ready cannot be "8": it is a number from 0 to 3600.'),
        (
            'names = "plum,,slate"',
            'names cannot be "plum,,slate": it is a text in quotes, the names',
        ),
        ('unmarked = "cleen"', "clean, drop or nothing. Did you mean 'clean'?"),
        ('tune = "yes"', 'tune cannot be "yes": it is true or false.'),
        (f"count-in = 0x{'f' * 5000}", "count-in cannot be that: it is a whole number"),
        ('say = "\\u001b[2J\\u009b"', r'say cannot be "\u001b[2J\u009b": it is'),
        ("latency = 2024-01-01", "latency cannot be that: it is a number"),
        ("words = 3", "words cannot be 3: it is a table of texts."),
        ("[words]\n2 = 5", "2 in [words] has to be a text in quotes."),
        ('[words]\n22 = "x"', '22 = "x" in [words] gives no throw a word'),
        ('[words]\n2 = " "', '2 = " " in [words] gives no throw a word'),
        ('language = "german"', 'language cannot be "german": it is a language code in quotes'),
        ('language = ""', 'language cannot be "": it is a language code in quotes'),
        ("phrases = 3", "phrases cannot be 3: it is a table of texts."),
        ("[phrases]\nstop = 5", "stop in [phrases] has to be a text in quotes."),
        ('[phrases]\nstpo = "x"', "In [phrases]: 'stpo' is not a phrase: the phrases are stop, "),
        ('[phrases]\nlast_one = "x"', "Did you mean 'last-one'?"),
        ('[phrases]\nstop = " "', "In [phrases]: 'stop' has no words of its own."),
        ('[phrases]\nn-seconds = "s"', "In [phrases]: 'n-seconds' holds a number: write N where"),
        ('keys = "space"', 'keys cannot be "space": it is a table of keys.'),
        ("[keys]\npause = 3", "pause in [keys] has to be a key in quotes, or a list of them."),
        ("[keys]\npause = [3]", "pause in [keys] has to be a key in quotes, or a list of them."),
        ('[keys]\nstpo = "q"', "In [keys]: 'stpo' is not a control: the controls are pause"),
        ('[keys]\nstop = "k"\ndrop = ["k"]', "In [keys]: The key 'k' asks for both stop and drop"),
    ],
)
def test_faults_are_told_in_plain_sentences(text: str, fragment: str) -> None:
    faults = faults_of(text)
    assert len(faults) == 1, faults
    assert fragment in faults[0]
    assert "pydantic" not in faults[0]


def test_all_faults_are_told_at_once(tmp_path: Path) -> None:
    place = written(tmp_path, 'sya = 1\nfirst = "both"\n[words]\n22 = "x"\n[keys]\nstpo = "q"\n')
    with pytest.raises(SettingsError) as raised:
        read_settings(place, may_be_absent=True)
    lines = [fault.partition(": ")[0] for fault in raised.value.faults]
    assert lines == ["Line 2", "Line 1", "Line 4", "Line 6"]
    assert str(place) in raised.value.message
    assert raised.value.exit_code == 2


@pytest.mark.parametrize(
    ("text", "fragment"),
    [
        ("say = ", "It is not valid TOML"),
        ("say = 'values'\nsay = 'hands'", "It is not valid TOML"),
        (b"say = '\xff'", "It is not text in UTF-8."),
        ("lead = " + "9" * 5000, "It holds a number with more digits than can be read."),
        ("keys = " + "[" * 5000, "Its brackets are nested deeper than can be read."),
        (" " * (LARGEST + 1), "It is larger than"),
    ],
)
def test_files_that_are_not_toml(text: str | bytes, fragment: str, tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match=fragment):
        read_settings(written(tmp_path, text), may_be_absent=True)


def test_a_folder_in_the_place_of_the_file(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="It is a folder, not a file"):
        read_settings(tmp_path, may_be_absent=True)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    for place in (tmp_path / "none.toml", written(tmp_path, "") / "none.toml"):
        assert read_settings(place, may_be_absent=True) is None
        with pytest.raises(SettingsError, match="There is no such file"):
            read_settings(place, may_be_absent=False)


def test_a_mark_of_byte_order_is_no_fault(tmp_path: Path) -> None:
    settings = read_settings(written(tmp_path, b"\xef\xbb\xbfready = 3"), may_be_absent=True)
    assert settings is not None
    assert settings.ready == 3


ANY_TOML = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["2", "pause", "x", ""]), inner, max_size=3)
    ),
    max_leaves=6,
)


@given(st.dictionaries(st.sampled_from([*FIELDS, "other"]), ANY_TOML, max_size=4))
def test_whatever_is_in_the_file_is_settings_or_told(document: dict[str, Any]) -> None:
    settings, faults = checked(document)
    assert (settings is None) == bool(faults)
    assert all(re.search(r"[.?]$", fault) for fault in faults)


def test_the_new_file_sets_nothing_and_explains_all(tmp_path: Path) -> None:
    text = "".join(starter_lines())
    settings = read_settings(written(tmp_path, text), may_be_absent=False)
    assert settings is not None
    assert option_defaults(settings, "play") == {}
    uncommented = re.sub(r"(?m)^# (\S+ = )", r"\1", text)
    full = read_settings(written(tmp_path, uncommented), may_be_absent=False)
    assert full is not None
    assert all(value is not None for _, value in full)
    keys = key_map(full.keys)
    assert all(keys_of(control, keys) == control.keys for control in CONTROLS)


def chosen(command: click.Command, arguments: list[str]) -> dict[str, Any]:
    """Return what a command's options become, without running it."""
    return command.make_context(command.name, arguments).params


@pytest.fixture
def mine(tmp_path: Path) -> str:
    return str(
        written(
            tmp_path,
            """
            say = "hands"
            first = "left"
            ready = 12
            count-in = 8
            tune = false
            hall = true
            output = "Headphones"
            ceiling = 2.6
            speaker-delay = 150
            [words]
            2 = "hold"
            0 = "empty"
            [keys]
            pause = ["k", "f5"]
            stop = []
            """,
        )
    )


def test_settings_are_the_defaults_of_play(mine: str) -> None:
    params = chosen(play, ["531", "--settings", mine])
    assert (params["say"], params["first"], params["ready"]) == ("hands", "left", 12.0)
    assert (params["count_in"], params["tune"], params["output"]) == (8, False, "Headphones")
    assert params["hall"]
    assert params["speaker_delay"] == 150
    assert params["word"] == {"2": "hold", "0": "empty"}
    assert [params["key"][key].name for key in ("k", "f5")] == ["pause", "pause"]
    assert "space" not in params["key"]
    assert "q" not in params["key"]


def test_options_win_over_settings(mine: str) -> None:
    line = "531 --say tally --first right --ready 0 --count-in 0 --tune --no-hall --output Other "
    line += "--word 2=stay --key stop=q --key pause=space"
    params = chosen(play, [*line.split(), "--settings", mine])
    assert (params["say"], params["first"], params["ready"]) == ("tally", "right", 0.0)
    assert (params["count_in"], params["tune"], params["output"]) == (0, True, "Other")
    assert not params["hall"]
    assert params["word"] == {"2": "stay", "0": "empty"}
    assert params["key"]["q"].name == "stop"
    assert params["key"]["space"].name == "pause"
    assert "k" not in params["key"]


def test_what_is_for_practising_is_not_for_files(mine: str) -> None:
    params = chosen(render, ["531", "-o", "x.wav", "--settings", mine])
    assert (params["say"], params["word"]["2"]) == ("hands", "hold")
    assert all(params[name] is None for name in LIVE_ONLY)
    for command in (heights, leadup):
        assert chosen(command, ["531", "--settings", mine])["ceiling"] == 2.6


def test_the_environment_can_name_the_file(mine: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("THROWCOUNT_SETTINGS", mine)
    assert chosen(play, ["531"])["say"] == "hands"
    monkeypatch.setenv("THROWCOUNT_SETTINGS", mine + "x")
    with pytest.raises(SettingsError, match="There is no such file"):
        chosen(play, ["531"])


def test_the_usual_place_is_the_system_s(
    mine: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    if os.name != "posix" or os.uname().sysname == "Darwin":
        pytest.skip("XDG's folders are those of Linux and its kin")
    monkeypatch.delenv("THROWCOUNT_SETTINGS")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))  # XDG Base Directory Specification
    assert chosen(play, ["531"])["say"] == "values"
    (tmp_path / "throwcount").mkdir()
    Path(mine).rename(tmp_path / "throwcount" / "settings.toml")
    assert chosen(play, ["531"])["say"] == "hands"


def test_help_and_completion_do_without_the_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("THROWCOUNT_SETTINGS", str(written(tmp_path, "broken")))
    assert CliRunner().invoke(play, ["--help"]).exit_code == 0
    context = play.make_context("play", ["531"], resilient_parsing=True)
    assert context.params["say"] == "values"
