"""The process that talks to the system's speech engine, so that nothing else has to.

Speech engines print, hang, and end the process they run in. So they are only ever run here:
``python -m throwcount.sounds.voices.speech_child`` reads one request as JSON from standard input,
writes one answer as JSON to standard output, and is gone. Its parent sets a time limit and checks
every file.

SpeechRequest
    ``{"voice": ID or null, "utterances": [{"text": ..., "rate": WORDS_A_MINUTE, "path": ...}]}``;
    without utterances it only asks which voices there are. Utterances of one rate belong together.
Answer
    ``{"engine": NAME or null, "default": ID or null, "voices": [{"id", "name", "languages"}],
    "problems": [SENTENCE, ...]}``; no engine, or a voice that it has not, and nothing is said.
"""

import json
import os
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from itertools import groupby
from pathlib import Path
from typing import Any, Final, Protocol, TypeAlias, TypedDict

DRIVERS: Final = {"darwin": ("nsss", "espeak"), "win32": ("sapi5", "espeak")}
"""The drivers of pyttsx3 to try on each platform, in order; elsewhere only espeak."""

LONGEST_TEXT: Final = 900
"""In characters; espeak-ng can crash on texts of 1000."""

PROPERTY_SECONDS: Final = 0.02
"""What espeak needs to take in a property before it can be asked to speak."""

GROWTH_SECONDS: Final = 0.2
SETTLING_SECONDS: Final = 10.0
"""A file that has not grown for the first of these is whole; after the second, waiting is over."""

Sleep = Callable[[float], None]


class Utterance(TypedDict):
    """What to say, how fast, and the file to say it to."""

    text: str
    rate: int
    path: str


class SpeechRequest(TypedDict):
    """See the head of this file."""

    voice: str | None
    utterances: Sequence[Utterance]


class VoiceEntry(TypedDict):
    """A voice of the engine; languages are lower-case tags such as ``en-us``."""

    id: str
    name: str
    languages: list[str]


class Answer(TypedDict):
    """See the head of this file."""

    engine: str | None
    default: str | None
    voices: list[VoiceEntry]
    problems: list[str]


class Engine(Protocol):
    """What is used of pyttsx3's engine."""

    def connect(self, topic: str, cb: Callable[..., None]) -> object:
        """Call `cb` whenever `topic` happens."""

    def getProperty(self, name: str) -> Any:  # noqa: ANN401, N802 - as pyttsx3 has it
        """Return a property."""

    def setProperty(self, name: str, value: str | int) -> None:  # noqa: N802 - as pyttsx3 has it
        """Set a property, at once or when its turn in the queue comes."""

    def save_to_file(self, text: str, filename: str) -> None:
        """Queue a text."""

    def runAndWait(self) -> None:  # noqa: N802 - as pyttsx3 has it
        """Work through the queue."""


def open_engine(platform: str = sys.platform) -> tuple[str, Engine]:
    """Return the first driver that works here, by name, and its engine.

    Raises
    ------
    Exception
        Whatever the last driver raises.
    """
    import pyttsx3  # noqa: PLC0415 - only the child may load an engine

    *fallible, last = DRIVERS.get(platform, ("espeak",))
    for name in fallible:
        try:
            return name, pyttsx3.init(name)
        except Exception as error:  # noqa: BLE001 - a driver may raise anything; the next one is tried
            sys.stderr.write(f"{name}: {error}\n")
    return last, pyttsx3.init(last)


def answered(
    request: SpeechRequest, name: str, engine: Engine, sleep: Sleep = time.sleep
) -> Answer:
    """Say what is asked, and tell what the engine is and what went wrong."""
    problems: list[str] = []
    engine.connect("error", lambda exception, **_: problems.append(str(exception)))
    voices = _voices(engine, problems)
    answer = Answer(
        engine=name, default=engine.getProperty("voice"), voices=voices, problems=problems
    )
    voice, utterances = request["voice"], request["utterances"]
    known = {entry["id"] for entry in voices}
    if known and voice is not None and voice not in known:
        problems.append(f"The engine {name} has no voice {voice}.")
    elif utterances:
        speak = _speak_in_turn if name == "espeak" else _speak_from_queue
        speak(engine, voice, _sayable(utterances, problems), sleep)
    return answer


def _voices(engine: Engine, problems: list[str]) -> list[VoiceEntry]:
    try:
        return [
            VoiceEntry(
                id=voice.id,
                name=str(voice.name).strip(),
                languages=[_language(language) for language in voice.languages if language],
            )
            for voice in engine.getProperty("voices")
        ]
    except Exception as error:  # noqa: BLE001 - one odd voice must not silence the others
        problems.append(f"The engine cannot list its voices: {error}")
        return []


def _language(raw: str | bytes) -> str:
    """Return a tag such as ``en-us`` of whatever a driver calls a language."""
    text = raw.decode("utf-8", "ignore") if isinstance(raw, bytes) else str(raw)
    return "".join(letter for letter in text if letter.isprintable()).replace("_", "-").lower()


def _sayable(utterances: Iterable[Utterance], problems: list[str]) -> list[Utterance]:
    sayable = []
    for utterance in utterances:
        if len(utterance["text"]) <= LONGEST_TEXT:
            sayable.append(utterance)
        else:
            problems.append(f"A text has more than {LONGEST_TEXT} characters.")
    return sayable


def _speak_in_turn(
    engine: Engine, voice: str | None, utterances: Iterable[Utterance], sleep: Sleep
) -> None:
    """Speak as espeak needs it: only the last of several queued texts would be said.

    Its first run does not wait for anything, so it gets nothing to say; a later run with nothing
    to say would never end.
    """
    engine.runAndWait()
    if voice is not None:
        engine.setProperty("voice", voice)
        sleep(PROPERTY_SECONDS)
    for rate, group in groupby(utterances, key=lambda utterance: utterance["rate"]):
        engine.setProperty("rate", rate)
        sleep(PROPERTY_SECONDS)
        for utterance in group:
            engine.save_to_file(utterance["text"], utterance["path"])
            engine.runAndWait()


def _speak_from_queue(
    engine: Engine, voice: str | None, utterances: Sequence[Utterance], sleep: Sleep
) -> None:
    """Speak as sapi5 and nsss need it: one run, after which files may still be growing."""
    if voice is not None:
        engine.setProperty("voice", voice)
    for rate, group in groupby(utterances, key=lambda utterance: utterance["rate"]):
        engine.setProperty("rate", rate)
        for utterance in group:
            engine.save_to_file(utterance["text"], utterance["path"])
    engine.runAndWait()
    _let_settle([Path(utterance["path"]) for utterance in utterances], sleep)


def _let_settle(paths: Sequence[Path], sleep: Sleep) -> None:
    """Wait until all files are there and none grows any more."""
    before: list[int] = []
    for _ in range(round(SETTLING_SECONDS / GROWTH_SECONDS)):
        sizes = [path.stat().st_size if path.exists() else 0 for path in paths]
        if sizes == before and all(sizes):
            return
        before = sizes
        sleep(GROWTH_SECONDS)


def answer_to(
    request: SpeechRequest, opened: Callable[[], tuple[str, Engine]] = open_engine
) -> Answer:
    """Open the engine and return its answer, whatever happens."""
    name = None
    try:
        name, engine = opened()
        return answered(request, name, engine)
    except Exception as error:  # noqa: BLE001 - engines raise anything, and the parent wants to know
        return Answer(engine=name, default=None, voices=[], problems=[str(error)])


def main() -> None:
    """Answer one request and end the process, whatever the engine has left running in it."""
    answers = os.dup(sys.stdout.fileno())
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # what engines print is no answer
    answer = answer_to(json.loads(sys.stdin.buffer.read()))
    with os.fdopen(answers, "wb") as stream:
        stream.write(b"\n" + json.dumps(answer).encode("ascii") + b"\n")
    os._exit(0)


if __name__ == "__main__":
    main()


Speak: TypeAlias = Callable[[SpeechRequest, float], Answer]
"""Has a request answered within a number of seconds; raises VoiceError where that fails."""
