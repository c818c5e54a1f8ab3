"""A speech engine that fails in every way it can, in place of the child process of the real one."""

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import soundfile as sf

from throwcount.sounds.errors import VoiceError
from throwcount.sounds.voices.speech_child import Answer, SpeechRequest, Utterance, VoiceEntry

RATE = 22050
VOICES = [
    VoiceEntry(id="gmw/en", name="English (Great Britain)", languages=["en-gb"]),
    VoiceEntry(id="gmw/en-us", name="English (America)", languages=["en-us"]),
    VoiceEntry(id="gmw/de", name="German", languages=["de"]),
]

Making = Callable[[Utterance], None]


def word(utterance: Utterance) -> np.ndarray:
    """Return a buzz between silences, the shorter the quicker the pace."""
    frames = RATE * 60 // utterance["rate"]
    buzz = 0.1 * np.sign(np.sin(2 * np.pi * 150 * np.arange(frames) / RATE))
    return np.concatenate([np.zeros(1000), buzz * np.hanning(frames), np.zeros(5000)])


def good(utterance: Utterance) -> None:
    sf.write(utterance["path"], word(utterance), RATE, format="WAV")


def in_aiff(utterance: Utterance) -> None:
    sf.write(utterance["path"], word(utterance), RATE, format="AIFF")


def none(utterance: Utterance) -> None:
    pass


def silent(utterance: Utterance) -> None:
    sf.write(utterance["path"], np.zeros(5000), RATE)


def empty(utterance: Utterance) -> None:
    sf.write(utterance["path"], np.zeros(0), RATE)


def no_bytes(utterance: Utterance) -> None:
    Path(utterance["path"]).touch()


def no_sound(utterance: Utterance) -> None:
    Path(utterance["path"]).write_text("Audio saved")


def cut(making: Making) -> Making:
    def cut_making(utterance: Utterance) -> None:
        making(utterance)
        path = Path(utterance["path"])
        path.write_bytes(path.read_bytes()[:-1000])

    return cut_making


@dataclass
class FakeEngine:
    """Answers as the engine's process does; `attempts` are how each one in turn makes files."""

    attempts: list[Making | VoiceError] = field(default_factory=lambda: [good] * 9)
    name: str | None = "espeak"
    problems: list[str] = field(default_factory=list)
    requests: list[tuple[SpeechRequest, float]] = field(default_factory=list)
    listings: int = 0

    def __call__(self, request: SpeechRequest, seconds: float) -> Answer:
        answer = Answer(engine=self.name, default="gmw/en", voices=VOICES, problems=self.problems)
        if not request["utterances"]:
            self.listings += 1
            return answer
        self.requests.append((request, seconds))
        making = self.attempts[len(self.requests) - 1]
        if isinstance(making, VoiceError):
            raise making
        for utterance in request["utterances"]:
            making(utterance)
        return answer

    def asked(self) -> list[list[tuple[str, int]]]:
        return [
            [(utterance["text"], utterance["rate"]) for utterance in request["utterances"]]
            for request, _ in self.requests
        ]


TIME_OUT = VoiceError("The speech engine did not finish.")
