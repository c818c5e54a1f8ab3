"""Calls in another language: what the voice is asked for, and what is told and written."""

import json
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest
from click.testing import Result
from fake_engine import FakeEngine
from handmade import RATE

from throwcount.caller.options.request import Request
from throwcount.caller.pieces import piece as called_voice_module
from throwcount.caller.pieces.piece import called_voice
from throwcount.sounds.voices.open_voice import open_voice
from throwcount.sounds.voices.voice import cue_line

Run = Callable[..., Result]


@pytest.fixture
def engine(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> FakeEngine:
    """Put an engine with two English voices and a German one in the place of the system's."""
    fake = FakeEngine()
    opened = partial(open_voice, speak=fake)
    monkeypatch.setattr(called_voice_module, "open_voice", opened)
    monkeypatch.setattr("platformdirs.user_cache_path", lambda _name: tmp_path / "cache")
    return fake


def asked(engine: FakeEngine) -> dict[str | None, set[str]]:
    """Return the texts that the engine was asked for, by voice."""
    texts: dict[str | None, set[str]] = {}
    for request, _ in engine.requests:
        said = {utterance["text"] for utterance in request["utterances"]}
        texts.setdefault(request["voice"], set()).update(said)
    return texts


ANNOUNCED = "5 3 1, Tempo 160, rechte Hand zuerst"


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ([], {"5", "3", "1", "stopp", ANNOUNCED}),
        (["--say", "hands", "--no-announce"], {"rechts", "links", "stopp"}),
        (["--say", "hands", "--no-announce", "--phrase", "right=r"], {"r", "links", "stopp"}),
        (["--word", "5=hopp", "--no-announce"], {"hopp", "3", "1", "stopp"}),
        (["--word", "5=rest", "--no-announce"], {"rest", "3", "1", "stopp"}),
        (["--say", "objects", "--names", "flash,slate", "--no-announce"],
         {"flash", "slate", "C", "stopp"}),
    ],
)  # fmt: skip
def test_the_voice_speaks_the_language_and_the_files_english(
    run: Run, engine: FakeEngine, tmp_path: Path, more: list[str], said: set[str]
) -> None:
    events = tmp_path / "e.json"
    result = run(
        *("render", "531", "-o", tmp_path / "x.wav", "--events", events, "--cycles", 3),
        *("--tempo", 160, "--language", "de", *more),
    )
    assert (result.exit_code, result.stderr) == (0, "")
    assert asked(engine) == {"gmw/de": said}
    assert "oice" not in result.stdout.partition(".wav:")[2]
    calls = {beat["call"] for beat in json.loads(events.read_text())["beats"]} - {None}
    assert calls <= {*"five three one stop right left hopp rest flash slate C".split()}


def test_settings_hold_a_language_and_phrases(run: Run, engine: FakeEngine, tmp_path: Path) -> None:
    mine = tmp_path / "mine.toml"
    mine.write_text('language = "de"\nannounce = false\n[phrases]\nstop = "halt"\n', "utf-8")
    result = run(
        *("render", "3", "-o", tmp_path / "x.wav", "--cycles", 4, "--settings", mine),
    )
    assert result.exit_code == 0, result.stderr
    assert asked(engine) == {"gmw/de": {"3", "halt"}}


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (["--language", "eo"], "The system has no voice that speaks eo. The calls are in English."),
        (["--language", "eo", "--voice", "gmw/de"], "translation of “stop” into eo"),
        (
            ["--language", "de", "--voice", "built-in"],
            "The built-in voice speaks no other language",
        ),
    ],
)
def test_what_is_not_in_the_language_is_told_in_a_sentence(
    run: Run, engine: FakeEngine, tmp_path: Path, more: list[str], told: str
) -> None:
    result = run("render", "3", "-o", tmp_path / "x.wav", "--no-announce", *more)
    assert result.exit_code == 0
    assert told in " ".join(result.stdout.split())
    assert engine.requests == [] or asked(engine) == {"gmw/de": {"3"}}


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (["--language", "german"], "'german' is not a language code, such as de, fr or pt-br."),
        (["--language", ""], "'' is not a language code"),
        (["--phrase", "stopp=x"], "'stopp' is not a phrase: the phrases are stop, last-one"),
        (["--phrase", "stopp=x"], "Did you mean 'stop'?"),
        (["--phrase", "stop"], "'stop' has no words of its own."),
        (["--phrase", "tempo-n=schnell"], "'tempo-n' holds a number: write N where it is said"),
    ],
)
def test_what_cannot_be_meant_is_refused(
    run: Run, tmp_path: Path, more: list[str], told: str
) -> None:
    result = run("render", "3", "-o", tmp_path / "x.wav", *more)
    assert result.exit_code == 2
    assert told in " ".join(result.stderr.split())


def test_cue_calls_may_have_a_voice_of_their_own_in_the_same_language(engine: FakeEngine) -> None:
    options = Request(language="de", word={"2": "halten"})
    voice = called_voice(options, RATE, "gmw/en")
    voice.prepare(["five", cue_line("next halten one"), cue_line("Kaskade")])
    assert asked(engine) == {"gmw/de": {"5"}, "gmw/en": {"gleich halten 1", "Kaskade"}}
    assert voice.remarks == (
        "The voice English (Great Britain) speaks en-gb, and is to call in de.",
    )


def test_without_one_the_same_voice_says_them(engine: FakeEngine) -> None:
    voice = called_voice(Request(), RATE)
    assert voice.clips("five") is voice.clips(cue_line("five"))
    voice.prepare([cue_line("xyzzy")])
    assert asked(engine) == {"gmw/en-us": {"xyzzy"}}
    assert list(voice.borrowed) == ["xyzzy"]
