"""The system's speech engine and its voices, as seen from outside the process that runs them.

Texts are spoken to clips before they are needed, each at every pace, in a process of its own
(`speech_child`).
"""

import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final, cast

from throwcount.sounds.child_process import child_command, child_environment
from throwcount.sounds.errors import SoundError, UnknownWordError, VoiceError
from throwcount.sounds.samples import Clip
from throwcount.sounds.voices.speech_child import LONGEST_TEXT, Answer, Speak, SpeechRequest
from throwcount.sounds.voices.speech_clips import ClipCache, ClipKey, Spoken, Task, speak_to_clips
from throwcount.sounds.voices.voice import Finish, unchanged

CHILD: Final = child_command("throwcount.sounds.voices.speech_child")

LISTING_SECONDS: Final = 20.0
"""Time allowed to start an engine and list its voices; a tenth of a second is usual."""

ENGLISH: Final = "en"
USUAL_REGIONS: Final = {ENGLISH: "en-us"}
"""The region that a language without one stands for, unless it is named like the language, as in
``fr-fr``: for English, that of the built-in voice."""

ALSO_CALLED: Final = {
    "no": "nb", "nn": "nb", "zh": "cmn", "iw": "he", "in": "id", "ji": "yi", "tl": "fil",
}  # fmt: skip
"""Tags under which systems list a language too: macrolanguages and retired tags of the IANA
Language Subtag Registry (BCP 47). Nynorsk goes with Bokmål, whose voice is the nearest that most
systems have."""

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
    """The engine's id of it."""
    name: str
    """The name that people see and type."""
    languages: tuple[str, ...] = ()
    """Lower-case tags such as ``en-us``; may be empty."""

    def speaks(self, language: str) -> bool:
        """Return whether it speaks a language; ``en`` covers ``en-us``, ``no`` covers ``nb``."""
        wanted = _usual_tag(language)
        own = map(_usual_tag, self.languages)
        return any(tag == wanted or tag.startswith(f"{wanted}-") for tag in own)


def _usual_tag(tag: str) -> str:
    base, dash, region = tag.partition("-")
    return ALSO_CALLED.get(base, base) + dash + region


@dataclass(frozen=True, slots=True)
class SpeechEngine:
    """An engine and its voices."""

    name: str
    """The driver: ``espeak``, ``sapi5`` or ``nsss``."""
    default: str | None = None
    """Id of the voice it uses by default."""
    voices: tuple[SystemVoiceInfo, ...] = ()
    """All of them; empty if the engine cannot list them."""

    def voice(self, voice_id: str | None) -> SystemVoiceInfo | None:
        """Return the voice of this id, or None."""
        return next((voice for voice in self.voices if voice.id == voice_id), None)

    @property
    def english(self) -> SystemVoiceInfo | None:
        """The voice for English; where none speaks it, the default; None if that is unknown."""
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
    """Return the answer of `speech_child` in a process that is ended after `seconds`.

    Raises
    ------
    VoiceError
        If the process cannot be started, does not end in time, fails, or gives no answer.
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
        If the system has no speech engine, or the engine fails to answer twice.
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
    """Return the answer, which is on the last line; the engine may have printed others before."""
    *_, last = output.splitlines() or [b""]
    try:
        answer: Any = json.loads(last)
    except ValueError:
        answer = None
    if not isinstance(answer, dict) or not answer.keys() >= Answer.__required_keys__:
        raise VoiceError("The speech engine gave no answer that can be read.")
    return cast("Answer", answer)


PACES: Final = {"espeak": (200, 260, 300, 450)}
"""Speech rates by engine, in words a minute. Digits by espeak-ng are hard to understand from 340 to
449 and clearer again at 450, where it changes its method."""

OTHER_PACES: Final = (200, 260, 320, 440)
"""For other engines: the rate that pyttsx3 starts with, and 1.3, 1.6 and 2.2 times it."""

SENTENCE_PACE: Final = 150
"""One more rate, for texts of `SENTENCE_WORDS` words or more: at 200, sentences with many short
words come to nearly six words a second."""

SENTENCE_WORDS: Final = 3


@dataclass(frozen=True, slots=True)
class _Failure:
    """Why a text has no clip; raised each time the text is asked for."""

    kind: Callable[[str], SoundError]
    sentence: str


class SystemVoice:
    """A voice of the system; satisfies `throwcount.sounds.voices.voice.Voice`.

    `rate` is the sample rate of every clip, in Hz. `voice_id` is the engine's id of a voice, None
    for the one that suits English best. `cache` keeps finished clips from one run to the next, None
    to keep none. `speak` runs the engine's process. `engine` saves asking for it, if it is known.
    `finish` makes of each clip the one that is heard.
    """

    def __init__(  # noqa: PLR0913 - who speaks, at which rate, and four ways to do it
        self,
        rate: int,
        voice_id: str | None = None,
        cache: ClipCache | None = None,
        speak: Speak = run_child,
        engine: SpeechEngine | None = None,
        *,
        finish: Finish = unchanged,
    ) -> None:
        self.rate = rate
        self._finish = finish
        self._voice_id = voice_id
        self._cache = cache
        self._speak = speak
        self._engine = engine
        self._clips: dict[str, tuple[Clip, ...]] = {}
        self._failures: dict[str, _Failure] = {}

    @property
    def name(self) -> str:
        """The name that people see and type."""
        known = None if self._engine is None else self._engine.voice(self._chosen(self._engine))
        return known.name if known else self._voice_id or "system"

    def prepare(self, texts: Iterable[str]) -> None:
        """Have the new ones of `texts` spoken at every pace, in one process.

        A text that cannot be spoken is not tried again; `clips` raises the reason.
        """
        new = [
            text
            for text in dict.fromkeys(texts)
            if not (text in self._clips or text in self._failures or self._refused(text))
        ]
        if not new:
            return
        try:
            self._engine = self._engine or find_engine(self._speak)
        except VoiceError as error:
            self._failures |= dict.fromkeys(new, _Failure(VoiceError, str(error)))
            return
        self._render(self._engine, new)

    def clips(self, text: str) -> Sequence[Clip]:
        """Return `text` at every pace, the slowest (longest) first.

        Raises
        ------
        UnknownWordError
            If the engine makes no sound of `text`, or it is too long.
        VoiceError
            If the system has no engine, or the engine failed twice.
        """
        self.prepare([text])
        if text in self._clips:
            return self._clips[text]
        failure = self._failures[text]
        raise failure.kind(failure.sentence)

    def _refused(self, text: str) -> bool:
        """Return whether no engine may be asked to say a text, and note why."""
        if len(text) > LONGEST_TEXT:
            sentence = (
                f"A text of {len(text)} characters cannot be said; the longest has {LONGEST_TEXT}."
            )
        elif not text.isprintable() or not any(letter.isalnum() for letter in text):
            sentence = f"{text!r} cannot be said."
        else:
            return False
        self._failures[text] = _Failure(UnknownWordError, sentence)
        return True

    def _chosen(self, engine: SpeechEngine) -> str | None:
        if self._voice_id is not None:
            return self._voice_id
        return engine.english.id if engine.english else engine.default

    def _render(self, engine: SpeechEngine, texts: Sequence[str]) -> None:
        """Fill `_clips` and `_failures` for `texts`, from the cache where it has them."""
        paces = PACES.get(engine.name, OTHER_PACES)
        voice = self._chosen(engine)
        sentences = [text for text in texts if len(text.split()) >= SENTENCE_WORDS]
        keys = {
            (text, pace): ClipKey(engine.name, voice or "", text, pace)
            for pace in (SENTENCE_PACE, *paces)
            for text in (sentences if pace == SENTENCE_PACE else texts)
        }
        cached: dict[Task, Clip] = {}
        if self._cache is not None:
            loaded = ((task, self._cache.load(key)) for task, key in keys.items())
            cached = {task: clip for task, clip in loaded if clip is not None}
        spoken = speak_to_clips([task for task in keys if task not in cached], voice, self._speak)
        if self._cache is not None:
            for task, clip in spoken.clips.items():
                self._cache.store(keys[task], clip)
        done = cached | spoken.clips
        for text in texts:
            clips = [
                self._finish(done[text, pace].at_rate(self.rate))
                for pace in (SENTENCE_PACE, *paces)
                if (text, pace) in done
            ]
            if clips:
                self._clips[text] = tuple(sorted(clips, key=lambda clip: -clip.frames))
            else:
                self._failures[text] = _failure(text, paces, spoken)


def _failure(text: str, paces: Sequence[int], spoken: Spoken) -> _Failure:
    """Return why there is no clip of `text`."""
    if all((text, pace) in spoken.silent for pace in paces):
        return _Failure(UnknownWordError, f"The system's voice makes no sound of {text!r}.")
    return _Failure(VoiceError, f"The system's voice could not say {text!r}. {spoken.problem}")
