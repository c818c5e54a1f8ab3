"""The child process that runs the system's speech engine.

Speech engines print, hang, and end the process they run in, so they run only here:
``python -m throwcount.sounds.voices.speech_child`` reads one `SpeechRequest` as JSON from standard
input, writes one `Answer` as JSON to standard output, and ends. Its parent sets a time limit and
checks every file.
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
"""How long espeak takes to apply a property; it must not be asked to speak sooner."""

GROWTH_SECONDS: Final = 0.2
SETTLING_SECONDS: Final = 10.0
"""A file that has not grown for the first time is whole; after the second, waiting ends."""

Sleep = Callable[[float], None]


class Utterance(TypedDict):
    """A text to be spoken to a file."""

    text: str
    rate: int
    """Words a minute."""
    path: str


class SpeechRequest(TypedDict):
    """What is to be said; without utterances, only the voices are asked for."""

    voice: str | None
    """The engine's id of the voice; None for its default."""
    utterances: Sequence[Utterance]
    """Those of one rate stand together."""


class VoiceEntry(TypedDict):
    """A voice of the engine."""

    id: str
    name: str
    languages: list[str]
    """Lower-case tags such as ``en-us``."""


class Answer(TypedDict):
    """What the engine is. Without an engine, or the voice asked for, nothing is said."""

    engine: str | None
    """The driver's name; None where no engine works."""
    default: str | None
    """Id of the voice that it uses by default."""
    voices: list[VoiceEntry]
    problems: list[str]
    """What went wrong, in sentences."""


class Engine(Protocol):
    """The part of pyttsx3's engine that is used here."""

    def connect(self, topic: str, cb: Callable[..., None]) -> object:
        """Call `cb` whenever `topic` happens."""

    def getProperty(self, name: str) -> Any:  # noqa: ANN401, N802 - as pyttsx3 has it
        """Return a property."""

    def setProperty(self, name: str, value: str | int) -> None:  # noqa: N802 - as pyttsx3 has it
        """Set a property, at once or in turn with the queue."""

    def save_to_file(self, text: str, filename: str) -> None:
        """Queue a text."""

    def runAndWait(self) -> None:  # noqa: N802 - as pyttsx3 has it
        """Work through the queue."""


def open_engine(platform: str = sys.platform) -> tuple[str, Engine]:
    """Return the name of the first driver that works here, and its engine.

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
    """Say what is asked, and return what the engine is and what went wrong."""
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
    """Return a driver's name of a language as a tag such as ``en-us``."""
    text = raw.decode("utf-8", "ignore") if isinstance(raw, bytes) else str(raw)
    return "".join(filter(str.isprintable, text)).replace("_", "-").lower()


def _sayable(utterances: Sequence[Utterance], problems: list[str]) -> list[Utterance]:
    sayable = [each for each in utterances if len(each["text"]) <= LONGEST_TEXT]
    too_long = len(utterances) - len(sayable)
    problems += [f"A text has more than {LONGEST_TEXT} characters."] * too_long
    return sayable


def _speak_in_turn(
    engine: Engine, voice: str | None, utterances: Iterable[Utterance], sleep: Sleep
) -> None:
    """Speak one text a run, as espeak needs it: of several queued texts it says only the last.

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
    """Speak all texts in one run, as sapi5 and nsss need it; files may still grow after it."""
    if voice is not None:
        engine.setProperty("voice", voice)
    for rate, group in groupby(utterances, key=lambda utterance: utterance["rate"]):
        engine.setProperty("rate", rate)
        for utterance in group:
            engine.save_to_file(utterance["text"], utterance["path"])
    engine.runAndWait()
    _let_settle([Path(utterance["path"]) for utterance in utterances], sleep)


def _let_settle(paths: Sequence[Path], sleep: Sleep) -> None:
    """Wait until all files exist and none grows any more."""
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
    """Open the engine and return its answer; errors become problems in it."""
    name = None
    try:
        name, engine = opened()
        return answered(request, name, engine)
    except Exception as error:  # noqa: BLE001 - engines raise anything, and the parent wants to know
        return Answer(engine=name, default=None, voices=[], problems=[str(error)])


def main() -> None:
    """Answer one request and end the process, with all threads that the engine left running."""
    answers = os.dup(sys.stdout.fileno())
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # what engines print is no answer
    answer = answer_to(json.loads(sys.stdin.buffer.read()))
    with os.fdopen(answers, "wb") as stream:
        stream.write(b"\n" + json.dumps(answer).encode("ascii") + b"\n")
    os._exit(0)


if __name__ == "__main__":
    main()


Speak: TypeAlias = Callable[[SpeechRequest, float], Answer]
"""Returns the answer to a request within a number of seconds, or raises VoiceError."""
