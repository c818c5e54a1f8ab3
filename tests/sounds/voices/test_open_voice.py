"""From a name to a voice, and what is behind it."""

from pathlib import Path

import pytest
import soundfile as sf
from fake_engine import FakeEngine, cut, good, none, word

from throwcount.sounds.errors import VoiceError
from throwcount.sounds.voices.languages import phrasebook
from throwcount.sounds.voices.open_voice import (
    ENGLISH_ONLY,
    VoiceName,
    find_voice,
    open_voice,
    voice_names,
)
from throwcount.sounds.voices.recorded import built_in
from throwcount.sounds.voices.speech_child import Answer, Speak, SpeechRequest, Utterance
from throwcount.sounds.voices.stand_ins import FallbackVoice
from throwcount.sounds.voices.system_voice import NO_ENGINE_ELSEWHERE, SystemVoiceInfo

RATE = 48_000

VOICES = (
    SystemVoiceInfo("gmw/en", "English (Great Britain)", ("en-gb",)),
    SystemVoiceInfo("gmw/en-us", "English (America)", ("en-us",)),
    SystemVoiceInfo("gmw/de", "German", ("de",)),
    SystemVoiceInfo("gmw/lb", "Luxembourgish", ("lb",)),
    SystemVoiceInfo("gmw/german-2", "Swabian", ("de-x-swabian",)),
    SystemVoiceInfo("roa/fr", "French", ("fr-fr", "fr")),
    SystemVoiceInfo("roa/fr-be", "French", ("fr-be", "fr")),
)


def no_engine(_request: SpeechRequest, _seconds: float) -> Answer:
    return Answer(engine=None, default=None, voices=[], problems=["no library"])


@pytest.fixture(autouse=True)
def elsewhere(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.platform", "linux")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a folder with a recording of "five"."""
    words = tmp_path / "my words"
    words.mkdir()
    sf.write(words / "five.wav", word(Utterance(text="five", rate=200, path="")), 22050)
    return words


@pytest.mark.parametrize(
    ("name", "voice_id"),
    [
        ("gmw/de", "gmw/de"),
        ("GMW/DE", "gmw/de"),
        ("german", "gmw/de"),
        ("de", "gmw/de"),
        ("en_US", "gmw/en-us"),
        ("america", "gmw/en-us"),
        ("swab", "gmw/german-2"),
        ("roa/fr", "roa/fr"),
        ("fr-be", "roa/fr-be"),
        ("gmw/en", "gmw/en"),
    ],
)
def test_a_voice_goes_by_id_name_language_or_part_of_it(name: str, voice_id: str) -> None:
    assert find_voice(name, VOICES).id == voice_id


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("french", "2 voices go by 'french': French (roa/fr), French (roa/fr-be)."),
        ("fr", "2 voices go by 'fr': French (roa/fr), French (roa/fr-be)."),
        ("english", "2 voices go by 'english'"),
        ("en", "2 voices go by 'en': English (Great Britain)"),
        ("e", "7 voices go by 'e'"),
        ("e", "and 2 more"),
        ("gmw", "5 voices go by"),
        ("germain", "There is no voice or folder 'germain'. Close to it: German"),
        ("bilt-in", "Close to it: built-in"),
        ("qqqq", "Some that there are: built-in, built-in-2, system, English (Great Britain)"),
        ("qqqq", "and 4 more"),
    ],
)
def test_a_name_that_does_not_tell_a_voice_gets_a_sentence_that_helps(name: str, told: str) -> None:
    with pytest.raises(VoiceError) as refused:
        find_voice(name, VOICES)
    assert told in str(refused.value)


def test_the_second_built_in_voice_is_another_person() -> None:
    first, second = (
        open_voice(name, RATE, None, FakeEngine()) for name in ("built-in", "built-in-2")
    )
    for text in ("five", "next box", "tempo one hundred twenty"):
        assert first.clips(text)[0].frames != second.clips(text)[0].frames
    assert not second.borrowed


@pytest.mark.parametrize("name", [None, "built-in"])
def test_the_built_in_voice_needs_no_engine_for_its_words(name: str | None) -> None:
    engine = FakeEngine()
    voice = open_voice(name, RATE, None, engine)
    voice.prepare(["five", "zero"])
    assert voice.name == "built-in"
    assert voice.clips("five")[0].frames == built_in(RATE).clips("five")[0].frames
    assert engine.listings == 0
    assert engine.requests == []


def test_what_the_built_in_voice_lacks_is_said_by_the_system() -> None:
    engine = FakeEngine()
    voice = open_voice(None, RATE, None, engine)
    voice.prepare(["five", "xyzzy"])
    assert {text for text, _ in engine.asked()[0]} == {"xyzzy"}
    assert list(voice.borrowed) == ["xyzzy"]
    assert dict(voice.missing) == {}


def test_without_an_engine_a_tone_stands_in_and_the_reason_is_kept() -> None:
    voice = open_voice(None, RATE, None, no_engine)
    voice.prepare(["five", "xyzzy"])
    assert voice.clips("xyzzy")[0].seconds <= 0.15
    assert dict(voice.missing) == {"xyzzy": NO_ENGINE_ELSEWHERE}


@pytest.mark.parametrize("failing", [none, cut(good)])
def test_an_engine_that_fails_does_not_stop_the_beat(failing: object) -> None:
    engine = FakeEngine([failing, failing])
    voice = open_voice(None, RATE, None, engine)
    assert voice.clips("xyzzy")[0].seconds <= 0.15
    assert list(voice.missing) == ["xyzzy"]


@pytest.mark.parametrize(
    ("name", "called", "voice_id"),
    [
        ("system", "English (America)", "gmw/en-us"),
        ("German", "German", "gmw/de"),
        ("gmw/en", "English (Great Britain)", "gmw/en"),
    ],
)
def test_a_voice_of_the_system_speaks_first(name: str, called: str, voice_id: str) -> None:
    engine = FakeEngine()
    voice = open_voice(name, RATE, None, engine)
    voice.prepare(["five"])
    assert voice.name == called
    assert [request["voice"] for request, _ in engine.requests] == [voice_id]
    assert engine.listings == 1


def test_what_a_voice_of_the_system_cannot_say_is_said_by_the_built_in_one() -> None:
    voice = open_voice("system", RATE, None, FakeEngine([none, none]))
    assert voice.clips("five")[0].frames == built_in(RATE).clips("five")[0].frames
    assert list(voice.borrowed) == ["five"]


def test_a_folder_speaks_first_then_the_built_in_voice_then_the_system(folder: Path) -> None:
    engine = FakeEngine()
    voice = open_voice(str(folder), RATE, None, engine)
    voice.prepare(["five", "three", "xyzzy"])
    assert voice.name == "my words"
    assert sorted(voice.borrowed) == ["three", "xyzzy"]
    assert {text for text, _ in engine.asked()[0]} == {"xyzzy"}


def test_the_folder_where_one_is_has_a_name_too(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    assert open_voice(".", RATE, None, no_engine).name == "my words"


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("system", "no speech engine; installing the package espeak-ng"),
        ("anna", "There is no voice or folder 'anna'. This system has no speech engine"),
        ("./no/such/folder", "There is no voice or folder './no/such/folder'."),
    ],
)
def test_without_an_engine_a_voice_that_needs_it_is_refused(name: str, told: str) -> None:
    with pytest.raises(VoiceError, match=told):
        open_voice(name, RATE, None, no_engine)


def test_an_empty_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(VoiceError, match="no recorded words"):
        open_voice(str(tmp_path), RATE, None, no_engine)


def test_words_of_the_system_are_kept_from_run_to_run(tmp_path: Path) -> None:
    def opened(engine: FakeEngine) -> FallbackVoice:
        return open_voice("system", RATE, tmp_path / "words", engine)

    opened(FakeEngine()).clips("five")
    engine = FakeEngine([])
    assert len(opened(engine).clips("five")) == 4
    assert engine.requests == []


def test_the_list_of_voices_holds_names_that_open() -> None:
    names = voice_names(FakeEngine())
    assert names == [
        VoiceName("built-in", "built-in", ("en-us",), "Used unless told otherwise."),
        VoiceName(
            "built-in-2",
            "built-in",
            ("en-us",),
            "Another person, as for the cue-voice of a routine.",
        ),
        VoiceName("system", "system", ("en-us",), "The same as English (America)."),
        VoiceName("English (Great Britain)", "system", ("en-gb",), "gmw/en"),
        VoiceName("English (America)", "system", ("en-us",), "gmw/en-us"),
        VoiceName("German", "system", ("de",), "gmw/de"),
    ]
    for voice in names:
        assert open_voice(voice.name, RATE, None, FakeEngine()).rate == RATE


def test_a_system_without_voices_says_so_in_the_list() -> None:
    assert voice_names(no_engine)[2:] == [VoiceName("system", "system", (), NO_ENGINE_ELSEWHERE)]


GERMAN = phrasebook("de", {})
NO_VOICE = "The system has no voice that speaks eo."
STAYS = "The calls are in English."


def said_by(engine: FakeEngine) -> set[tuple[str | None, str]]:
    """Return each text that the engine was asked for, with the voice."""
    return {
        (request["voice"], utterance["text"])
        for request, _ in engine.requests
        for utterance in request["utterances"]
    }


@pytest.mark.parametrize(
    ("name", "called"), [(None, "German"), ("system", "German"), ("gmw/de", "German")]
)
def test_a_language_is_spoken_by_a_system_voice_in_its_own_numerals(
    name: str | None, called: str
) -> None:
    engine = FakeEngine()
    voice = open_voice(name, RATE, None, engine, GERMAN)
    voice.prepare(["five", "stop", "Kaskade"])
    assert voice.name == called
    assert said_by(engine) == {("gmw/de", "5"), ("gmw/de", "stopp"), ("gmw/de", "Kaskade")}
    assert (voice.remarks, dict(voice.borrowed), dict(voice.missing)) == ((), {}, {})


@pytest.mark.parametrize("language", [None, "en", "en-us"])
def test_english_needs_no_engine(language: str | None) -> None:
    engine = FakeEngine()
    voice = open_voice(None, RATE, None, engine, phrasebook(language, {}))
    assert voice.clips("five")[0].frames == built_in(RATE).clips("five")[0].frames
    assert (voice.remarks, engine.listings, engine.requests) == ((), 0, [])


def test_english_of_another_region_is_a_system_voice_s() -> None:
    engine = FakeEngine()
    voice = open_voice(None, RATE, None, engine, phrasebook("en-GB", {}))
    voice.prepare(["five", "tempo ninety"])
    assert said_by(engine) == {("gmw/en", "five"), ("gmw/en", "tempo ninety")}


@pytest.mark.parametrize(
    ("name", "speak", "told"),
    [
        (None, FakeEngine(), f"{NO_VOICE} {STAYS}"),
        (None, no_engine, f"{NO_ENGINE_ELSEWHERE} {STAYS}"),
        ("system", FakeEngine(), f"{NO_VOICE} {STAYS}"),
        ("built-in", FakeEngine(), ENGLISH_ONLY),
        ("German", FakeEngine(), "The voice German speaks de, and is to call in eo."),
    ],
)
def test_where_nobody_speaks_the_language_a_sentence_says_so(
    name: str | None, speak: Speak, told: str
) -> None:
    voice = open_voice(name, RATE, None, speak, phrasebook("eo", {}))
    assert voice.remarks == (told,)
    voice.prepare(["five", "stop"])
    assert dict(voice.missing) == {}


@pytest.mark.parametrize("name", [None, "built-in"])
def test_the_built_in_voice_stays_where_nobody_speaks_the_language(name: str | None) -> None:
    voice = open_voice(name, RATE, None, no_engine, phrasebook("eo", {}))
    for text in ("five", "stop", "tempo one hundred fifty"):
        assert voice.clips(text)[0].frames == built_in(RATE).clips(text)[0].frames
    assert dict(voice.borrowed) == {}


def test_words_without_a_translation_are_said_in_english_and_told() -> None:
    engine = FakeEngine()
    voice = open_voice("gmw/de", RATE, None, engine, phrasebook("eo", {"rest": "paŭzo"}))
    voice.prepare(["five", "stop", "rest"])
    assert said_by(engine) == {("gmw/de", "5"), ("gmw/de", "paŭzo")}
    assert voice.clips("stop")[0].frames == built_in(RATE).clips("stop")[0].frames
    assert list(voice.borrowed) == ["stop"]
    assert "no translation of “stop” into eo" in voice.borrowed["stop"]


def test_a_folder_is_asked_in_english_and_what_it_lacks_is_said_in_the_language(
    folder: Path,
) -> None:
    engine = FakeEngine()
    voice = open_voice(str(folder), RATE, None, engine, GERMAN)
    voice.prepare(["five", "three"])
    assert said_by(engine) == {("gmw/de", "3")}
    assert list(voice.borrowed) == ["three"]
    lacking = open_voice(str(folder), RATE, None, FakeEngine(), phrasebook("eo", {}))
    assert lacking.remarks == (f"{NO_VOICE} What the recordings lack is said in English.",)


def test_own_phrases_are_said_in_english_too() -> None:
    engine = FakeEngine()
    voice = open_voice(
        None, RATE, None, engine, phrasebook(None, {"stop": "hold", "rest": "xyzzy"})
    )
    assert voice.clips("stop")[0].frames == built_in(RATE).clips("hold")[0].frames
    voice.prepare(["rest"])
    assert said_by(engine) == {("gmw/en-us", "xyzzy")}


def test_what_a_language_s_voice_fails_at_is_said_by_the_built_in_one() -> None:
    voice = open_voice(None, RATE, None, FakeEngine([none, none]), GERMAN)
    assert voice.clips("five")[0].frames == built_in(RATE).clips("five")[0].frames
    assert list(voice.borrowed) == ["five"]
