"""The engine's process from outside: everything that can become of it."""

import sys

import pytest

from throwcount.sounds.errors import VoiceError
from throwcount.sounds.voices.speech_child import Answer, SpeechRequest, VoiceEntry
from throwcount.sounds.voices.system_voice import (
    SpeechEngine,
    SystemVoiceInfo,
    find_engine,
    run_child,
)

LISTING = SpeechRequest(voice=None, utterances=())
ANSWER = """{"engine": "espeak", "default": null, "voices": [], "problems": []}"""


def python(code: str) -> list[str]:
    return [sys.executable, "-c", code]


@pytest.mark.parametrize(
    "code",
    [
        f"print('''{ANSWER}''')",
        f"print('junk'); print(); print('''{ANSWER}''')",
        f"import os; os.write(1, b'\\xff\\xfe\\n'); print('''{ANSWER}''')",
    ],
    ids=["alone", "after junk", "after bytes that are no text"],
)
def test_an_answer_is_the_last_line(code: str) -> None:
    answer = run_child(LISTING, 30.0, python(code))
    assert answer == {"engine": "espeak", "default": None, "voices": [], "problems": []}


def test_the_request_reaches_the_process() -> None:
    code = (
        "import json, sys; asked = json.load(sys.stdin); "
        f"print(json.dumps(json.loads('''{ANSWER}''') | dict(default=asked['voice'])))"
    )
    request = SpeechRequest(voice="Zoë", utterances=())
    assert run_child(request, 30.0, python(code))["default"] == "Zoë"


@pytest.mark.parametrize(
    ("code", "seconds", "told"),
    [
        ("import time; time.sleep(60)", 0.5, "did not finish within 0 seconds and was stopped"),
        ("import os; os._exit(9)", 30.0, "status 9"),
        ("import os; os.abort()", 30.0, "status -6"),
        ("", 30.0, "no answer"),
        ("print('Audio saved')", 30.0, "no answer"),
        ("print('{\"engine\": ')", 30.0, "no answer"),
        ("print('[1, 2]')", 30.0, "no answer"),
        ('print(\'{"engine": "espeak"}\')', 30.0, "no answer"),
        (f"print('''{ANSWER}'''); print('junk')", 30.0, "no answer"),
    ],
    ids=["hangs", "exits", "crashes", "silent", "junk", "cut", "a list", "half", "junk after"],
)
def test_what_becomes_of_a_process_is_told_in_a_sentence(
    code: str, seconds: float, told: str
) -> None:
    with pytest.raises(VoiceError, match=told):
        run_child(LISTING, seconds, python(code))


def test_a_process_that_cannot_be_started_is_told_in_a_sentence() -> None:
    with pytest.raises(VoiceError, match="cannot be started"):
        run_child(LISTING, 1.0, ["/no/such/interpreter"])


class Scripted:
    """Answers requests from a list, and counts them."""

    def __init__(self, *answers: Answer | VoiceError) -> None:
        self.answers = list(answers)

    def __call__(self, _request: SpeechRequest, _seconds: float) -> Answer:
        answer = self.answers.pop(0)
        if isinstance(answer, VoiceError):
            raise answer
        return answer


ANNA = VoiceEntry(id="a", name="Anna", languages=["en-us", "en"])
FOUND = Answer(engine="nsss", default="a", voices=[ANNA], problems=[])
NONE_FOUND = Answer(engine=None, default=None, voices=[], problems=["no library"])
FAILED = VoiceError("It failed.")


@pytest.mark.parametrize("answers", [[FOUND], [FAILED, FOUND]], ids=["at once", "second try"])
def test_the_engine_and_its_voices_are_found(answers: list[Answer | VoiceError]) -> None:
    engine = find_engine(Scripted(*answers))
    assert engine == SpeechEngine("nsss", "a", (SystemVoiceInfo("a", "Anna", ("en-us", "en")),))


def test_a_second_failure_is_told() -> None:
    with pytest.raises(VoiceError, match="It failed"):
        find_engine(Scripted(FAILED, FAILED))


@pytest.mark.parametrize(
    ("platform", "told"), [("linux", "espeak-ng"), ("win32", "Windows"), ("darwin", "macOS")]
)
def test_no_engine_is_told_with_what_to_do(
    monkeypatch: pytest.MonkeyPatch, platform: str, told: str
) -> None:
    monkeypatch.setattr(sys, "platform", platform)
    with pytest.raises(VoiceError, match=told):
        find_engine(Scripted(NONE_FOUND))


@pytest.mark.parametrize(
    ("name", "default", "languages", "chosen"),
    [
        ("nsss", "v1", ["de-de", "en-gb", "en-us"], "v1"),
        ("nsss", "v0", ["de-de", "en-gb", "en-us"], "v2"),
        ("nsss", "v0", ["de-de", "en-gb"], "v1"),
        ("nsss", "v0", ["de-de", "en"], "v1"),
        ("sapi5", "v1", ["fr-fr", "de-de"], "v1"),
        ("sapi5", "v1", ["fr-fr", "enm"], "v1"),
        ("espeak", "v0", ["en-gb", "en-us"], "v1"),
        ("espeak", "v0", ["en-gb", "de"], "v0"),
        ("espeak", "gone", ["de"], None),
        ("espeak", None, [], None),
    ],
)
def test_english_is_spoken_by_a_voice_that_can(
    name: str, default: str | None, languages: list[str], chosen: str | None
) -> None:
    voices = tuple(
        SystemVoiceInfo(f"v{number}", "", (language,)) for number, language in enumerate(languages)
    )
    found = SpeechEngine(name, default, voices).english
    assert (found.id if found else None) == chosen


MANY = (
    "en-gb-scotland",
    "en-gb",
    "de",
    "fr-be",
    "fr-ch",
    "fr-fr",
    "es-419",
    "es",
    "pt-br",
    "pt",
    "en-us",
    "zh-cn",
    "nb",
)


@pytest.mark.parametrize(
    ("language", "chosen"),
    [
        ("de", "de"),
        ("de-at", "de"),
        ("fr", "fr-fr"),
        ("fr-ch", "fr-ch"),
        ("fr-ca", "fr-fr"),
        ("es", "es"),
        ("pt", "pt"),
        ("pt-br", "pt-br"),
        ("zh", "zh-cn"),
        ("en", "en-us"),
        ("en-gb", "en-gb"),
        ("en-au", "en-us"),
        ("en-gb-scotland", "en-gb-scotland"),
        ("no", "nb"),  # what systems list under another tag: IANA Language Subtag Registry
        ("nn", "nb"),
        ("nb-no", "nb"),
        ("cmn", "zh-cn"),
        ("ja", None),
        ("e", None),
    ],
)
def test_a_language_is_spoken_by_a_voice_that_can(language: str, chosen: str | None) -> None:
    voices = tuple(SystemVoiceInfo(tag, "", (tag,)) for tag in MANY)
    found = SpeechEngine("espeak", "en-gb", voices).speaking(language)
    assert (found.id if found else None) == chosen


@pytest.mark.parametrize(
    ("engine", "default", "language", "chosen"),
    [
        ("sapi5", "fr-ch", "fr", "fr-ch"),
        ("sapi5", "fr-ch", "fr-be", "fr-be"),
        ("sapi5", "fr-ch", "de", "de"),
        ("sapi5", None, "fr", "fr-fr"),
        ("espeak", "fr-ch", "fr", "fr-fr"),
    ],
)
def test_a_system_s_own_choice_of_voice_counts(
    engine: str, default: str | None, language: str, chosen: str
) -> None:
    voices = tuple(SystemVoiceInfo(tag, "", (tag,)) for tag in MANY)
    found = SpeechEngine(engine, default, voices).speaking(language)
    assert found is not None
    assert found.id == chosen
