"""The system's speech engine, as seen from outside the child process that runs it."""

import json
import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeAlias, cast

from sounds.child_process import child_command, child_environment
from sounds.errors import VoiceError
from sounds.voices.speech_child import Answer, SpeechRequest

Speak: TypeAlias = Callable[[SpeechRequest, float], Answer]
"""Has a request answered within a number of seconds; raises VoiceError where that fails."""

CHILD: Final = child_command("sounds.voices.speech_child")

LISTING_SECONDS: Final = 20.0
"""Time to start an engine and have it list its voices; takes a tenth of a second as a rule."""

ENGLISH: Final = "en"
USUAL_REGIONS: Final = {ENGLISH: "en-us"}
"""The region that is meant where none is named, if it is not that of the language's own name, as in
``fr-fr``: for English, that of the built-in voice."""

NO_ENGINE: Final = {
    "darwin": "The voices of macOS cannot be reached; reinstalling pyttsx3 may help.",
    "win32": "The voices of Windows cannot be reached; reinstalling pyttsx3 may help.",
}
NO_ENGINE_ELSEWHERE: Final = (
    "This system has no speech engine; installing the package espeak-ng adds one."
)


@dataclass(frozen=True, slots=True)
class SystemVoiceInfo:
    """A voice of the system."""

    id: str
    """What the engine calls it."""
    name: str
    """What a person calls it."""
    languages: tuple[str, ...] = ()
    """Lower-case tags such as ``en-us``; may be empty."""

    def speaks(self, language: str) -> bool:
        """Tell whether this voice speaks `language` (``en`` covers ``en-us``)."""
        return any(tag == language or tag.startswith(f"{language}-") for tag in self.languages)


@dataclass(frozen=True, slots=True)
class SpeechEngine:
    """An engine and its voices."""

    name: str
    """The driver: ``espeak``, ``sapi5`` or ``nsss``."""
    default: str | None = None
    """Id of the voice it uses unless told otherwise."""
    voices: tuple[SystemVoiceInfo, ...] = ()
    """All of them; empty if the engine cannot tell."""

    def voice(self, voice_id: str | None) -> SystemVoiceInfo | None:
        """Return the voice of this id, None if there is none."""
        return next((voice for voice in self.voices if voice.id == voice_id), None)

    @property
    def english(self) -> SystemVoiceInfo | None:
        """The voice for English; where none speaks it, the default.

        None where the engine cannot tell.
        """
        return self.speaking(ENGLISH) or self.voice(self.default)

    def speaking(self, language: str) -> SystemVoiceInfo | None:
        """Return the voice for a language, None if there is none.

        The default if it speaks it, else the first that does: of the region named or the usual
        one, before those of others. The default of espeak is nobody's choice, so it only counts
        elsewhere.
        """
        default = self.voice(self.default)
        if default is not None and default.speaks(language) and self.name != "espeak":
            return default
        base = language.partition("-")[0]
        usual = USUAL_REGIONS.get(base, f"{base}-{base}")
        for tag in (usual, base) if language == base else (language, usual, base):
            found = [voice for voice in self.voices if voice.speaks(tag)]
            if found:
                return next((voice for voice in found if tag in voice.languages), found[0])
        return None


def run_child(request: SpeechRequest, seconds: float, command: Sequence[str] = CHILD) -> Answer:
    """Have a request answered by a process of its own.

    Parameters
    ----------
    request
        What `sounds.voices.speech_child` is asked.
    seconds
        After these the process is ended.

    Raises
    ------
    VoiceError
        If it cannot be started, does not end in time, fails, or gives no answer.
    """
    try:
        done = subprocess.run(  # noqa: S603 - our own module, and nothing of the user's in the command
            command,
            input=json.dumps(request).encode("ascii"),
            capture_output=True,
            timeout=seconds,
            check=False,
            env=child_environment(os.environ),
        )
    except subprocess.TimeoutExpired:
        raise VoiceError(
            f"The speech engine did not finish within {seconds:.0f} seconds and was stopped."
        ) from None
    except OSError as error:
        raise VoiceError(f"The speech engine cannot be started: {error}.") from error
    if done.returncode != 0:
        raise VoiceError(
            f"The speech engine failed with status {done.returncode}; reinstalling it may help."
        )
    return _parsed(done.stdout)


def find_engine(speak: Speak = run_child) -> SpeechEngine:
    """Return the system's speech engine and its voices.

    Raises
    ------
    VoiceError
        If the system has no speech engine, or it does not answer, twice.
    """
    request = SpeechRequest(voice=None, utterances=())
    try:
        answer = speak(request, LISTING_SECONDS)
    except VoiceError:
        answer = speak(request, LISTING_SECONDS)
    if answer["engine"] is None:
        raise VoiceError(NO_ENGINE.get(sys.platform, NO_ENGINE_ELSEWHERE))
    voices = tuple(
        SystemVoiceInfo(entry["id"], entry["name"], tuple(entry["languages"]))
        for entry in answer["voices"]
    )
    return SpeechEngine(answer["engine"], answer["default"], voices)


def _parsed(output: bytes) -> Answer:
    """Return the answer on the last line, whatever else was printed before it."""
    *_, last = output.splitlines() or [b""]
    try:
        answer: Any = json.loads(last)
    except ValueError:
        answer = None
    if not isinstance(answer, dict) or not answer.keys() >= Answer.__required_keys__:
        raise VoiceError("The speech engine gave no answer that can be read.")
    return cast("Answer", answer)
