"""The engine's process, with engines that set each trap of the real ones."""

import json
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from waiting import LIMIT

from throwcount.sounds.voices.speech_child import (
    PROPERTY_SECONDS,
    SpeechRequest,
    Utterance,
    answer_to,
    answered,
)

LONGEST_TEXT = 900
"""Characters: espeak-ng can crash on 1000."""


TRIED = [("five", 200), ("three", 200), ("five", 300), ("one", 450)]


@dataclass
class VoiceOfEngine:
    id: str
    name: str = "Some Voice"
    languages: list[str | bytes | None] = field(default_factory=list)


@dataclass
class Clock:
    now: float = 0.0

    def sleep(self, seconds: float) -> None:
        self.now += seconds


class TrickyEngine:
    """What the fakes of all engines share: properties, voices, and the error event."""

    def __init__(self, clock: Clock, *voices: VoiceOfEngine) -> None:
        self.clock = clock
        self.voices = list(voices)
        self.properties: dict[str, str | int | None] = {"voice": None, "rate": 0}
        self.on_error: Callable[..., None] = print

    def connect(self, topic: str, cb: Callable[..., None]) -> None:
        assert topic == "error"
        self.on_error = cb

    def getProperty(self, name: str) -> object:  # noqa: N802 - as pyttsx3 has it
        return self.voices if name == "voices" else self.properties[name]

    def said(self, text: str) -> str:
        return f"{text} {self.properties['rate']} {self.properties['voice']}"


class Espeak(TrickyEngine):
    """Says only the text queued last; its first run says nothing; an empty later run hangs."""

    runs = 0
    property_set = -1.0
    queued: tuple[str, str] | None = None

    def setProperty(self, name: str, value: str | int) -> None:  # noqa: N802 - as pyttsx3 has it
        self.properties[name] = value
        self.property_set = self.clock.now

    def save_to_file(self, text: str, filename: str) -> None:
        if round(self.clock.now - self.property_set, 6) >= PROPERTY_SECONDS:
            self.queued = (text, filename)

    def runAndWait(self) -> None:  # noqa: N802 - as pyttsx3 has it
        self.runs += 1
        if self.runs == 1:
            self.queued = None
            return
        assert self.queued is not None, "an empty run never ends"
        text, filename = self.queued
        Path(filename).write_text(self.said(text), "utf-8")
        self.queued = None


class OneRunEngine(TrickyEngine):
    """Runs once in a process, properties in their turn; its files are written behind its back."""

    def __init__(self, clock: Clock, *voices: VoiceOfEngine, seconds_a_file: float = 0.0) -> None:
        super().__init__(clock, *voices)
        self.queue: list[Callable[[], None]] = []
        self.unwritten: list[tuple[float, str, str]] = []
        self.seconds_a_file = seconds_a_file
        self.ran = False

    def setProperty(self, name: str, value: str | int) -> None:  # noqa: N802 - as pyttsx3 has it
        self.queue.append(lambda: self.properties.update({name: value}))

    def save_to_file(self, text: str, filename: str) -> None:
        self.queue.append(lambda: self.write_later(text, filename))

    def write_later(self, text: str, filename: str) -> None:
        ready = self.clock.now + self.seconds_a_file * (1 + len(self.unwritten))
        self.unwritten.append((ready, filename, self.said(text)))

    def runAndWait(self) -> None:  # noqa: N802 - as pyttsx3 has it
        assert not self.ran, "a second run never ends"
        self.ran = True
        for step in self.queue:
            step()
        self.write_what_is_ready()

    def write_what_is_ready(self) -> None:
        for ready, filename, content in self.unwritten:
            if self.clock.now >= ready:
                Path(filename).write_text(content, "utf-8")
            elif self.clock.now >= ready - self.seconds_a_file:
                Path(filename).write_text(content[: len(content) // 2], "utf-8")

    def sleep(self, seconds: float) -> None:
        self.clock.sleep(seconds)
        self.write_what_is_ready()


def request_for(folder: Path, voice: str | None = None, *tasks: tuple[str, int]) -> SpeechRequest:
    utterances = [
        Utterance(text=text, rate=rate, path=str(folder / f"{number}"))
        for number, (text, rate) in enumerate(tasks)
    ]
    return SpeechRequest(voice=voice, utterances=utterances)


def contents(request: SpeechRequest) -> Iterator[str]:
    return (Path(utterance["path"]).read_text("utf-8") for utterance in request["utterances"])


def test_espeak_says_every_text_at_its_rate(tmp_path: Path) -> None:
    clock = Clock()
    engine = Espeak(clock, VoiceOfEngine("anna"))
    request = request_for(tmp_path, "anna", *TRIED)
    answer = answered(request, "espeak", engine, clock.sleep)
    assert answer["problems"] == []
    assert list(contents(request)) == [f"{text} {rate} anna" for text, rate in TRIED]


@pytest.mark.parametrize("name", ["sapi5", "nsss"])
@pytest.mark.parametrize("seconds_a_file", [0.0, 0.07, 0.15])
def test_other_engines_are_waited_for(tmp_path: Path, name: str, seconds_a_file: float) -> None:
    engine = OneRunEngine(Clock(), VoiceOfEngine("anna"), seconds_a_file=seconds_a_file)
    request = request_for(tmp_path, "anna", *TRIED)
    answered(request, name, engine, engine.sleep)
    assert list(contents(request)) == [f"{text} {rate} anna" for text, rate in TRIED]


def test_waiting_for_a_file_that_never_comes_ends(tmp_path: Path) -> None:
    class Lost(OneRunEngine):
        def write_what_is_ready(self) -> None:
            pass

    engine = Lost(Clock())
    answered(request_for(tmp_path, None, ("one", 200)), "nsss", engine, engine.sleep)
    assert engine.clock.now == pytest.approx(10.0)


@pytest.mark.parametrize("name", ["espeak", "sapi5"])
def test_asking_for_voices_says_nothing(tmp_path: Path, name: str) -> None:
    engine = OneRunEngine(
        Clock(),
        VoiceOfEngine("a", "Anna ", ["en_US"]),
        VoiceOfEngine("b", "Bert", [b"\x05de", None]),
        VoiceOfEngine("c", "Cleo"),
    )
    engine.properties["voice"] = "b"
    answer = answered(request_for(tmp_path), name, engine, engine.sleep)
    assert answer == {
        "engine": name,
        "default": "b",
        "voices": [
            {"id": "a", "name": "Anna", "languages": ["en-us"]},
            {"id": "b", "name": "Bert", "languages": ["de"]},
            {"id": "c", "name": "Cleo", "languages": []},
        ],
        "problems": [],
    }
    assert not engine.ran


def test_a_voice_that_is_not_there_is_told_and_no_other_speaks(tmp_path: Path) -> None:
    engine = OneRunEngine(Clock(), VoiceOfEngine("anna"))
    answer = answered(request_for(tmp_path, "bert", *TRIED), "sapi5", engine, engine.sleep)
    assert answer["problems"] == ["The engine sapi5 has no voice bert."]
    assert not engine.ran


def test_an_engine_that_cannot_list_its_voices_still_speaks(tmp_path: Path) -> None:
    class Mute(OneRunEngine):
        def getProperty(self, name: str) -> object:  # noqa: N802 - as pyttsx3 has it
            if name == "voices":
                raise ValueError("invalid literal for int(): '409;9'")
            return super().getProperty(name)

    engine = Mute(Clock())
    request = request_for(tmp_path, "anna", *TRIED)
    answer = answered(request, "sapi5", engine, engine.sleep)
    assert "409;9" in answer["problems"][0]
    assert next(contents(request)) == "five 200 anna"


def test_too_long_a_text_is_left_out_and_the_others_are_said(tmp_path: Path) -> None:
    clock = Clock()
    tasks = [("x" * (LONGEST_TEXT + 1), 200), ("y" * LONGEST_TEXT, 200)]
    request = request_for(tmp_path, None, *tasks)
    answer = answered(request, "espeak", Espeak(clock), clock.sleep)
    assert str(LONGEST_TEXT) in answer["problems"][0]
    assert [path.name for path in tmp_path.iterdir()] == ["1"]


def test_the_error_event_is_heard(tmp_path: Path) -> None:
    class Failing(Espeak):
        def runAndWait(self) -> None:  # noqa: N802 - as pyttsx3 has it
            self.on_error(name=None, exception=RuntimeError("no room"))

    clock = Clock()
    answer = answered(request_for(tmp_path), "espeak", Failing(clock), clock.sleep)
    assert answer["problems"] == []
    request = request_for(tmp_path, None, ("one", 200))
    assert "no room" in answered(request, "espeak", Failing(clock), clock.sleep)["problems"]


def no_engine() -> tuple[str, TrickyEngine]:
    raise RuntimeError("no library")


class Breaking(Espeak):
    def runAndWait(self) -> None:  # noqa: N802 - as pyttsx3 has it
        raise OSError("broken")


@pytest.mark.parametrize(
    ("opened", "engine", "problem"),
    [
        (no_engine, None, "no library"),
        (lambda: ("espeak", Breaking(Clock())), "espeak", "broken"),
    ],
)
def test_whatever_an_engine_raises_is_told(
    tmp_path: Path,
    opened: Callable[[], tuple[str, Espeak]],
    engine: str | None,
    problem: str,
) -> None:
    answer = answer_to(request_for(tmp_path, None, ("one", 200)), opened)
    assert (answer["engine"], answer["problems"]) == (engine, [problem])


NOISY_ENGINE = """
import ctypes, os, sys

class Engine:
    def connect(self, topic, cb): pass
    def getProperty(self, name):
        print("printed", flush=True); os.write(1, b"written"); os.system("echo shouted")
        return [] if name == "voices" else None

def init(name): return Engine()
"""


def test_what_an_engine_prints_is_kept_out_of_the_answer(tmp_path: Path) -> None:
    (tmp_path / "pyttsx3.py").write_text(NOISY_ENGINE)
    root = Path(__file__).parents[3]
    done = subprocess.run(
        [sys.executable, "-m", "throwcount.sounds.voices.speech_child"],
        input=json.dumps(SpeechRequest(voice=None, utterances=[])).encode(),
        capture_output=True,
        check=True,
        cwd=root,
        env={"PYTHONPATH": str(tmp_path)},
        timeout=LIMIT,
    )
    assert json.loads(done.stdout)["problems"] == []
    for noise in (b"printed", b"written", b"shouted"):
        assert noise in done.stderr
