"""A voice of the system, spoken to clips beforehand by the speech engine's own process."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from sounds.errors import SoundError, UnknownWordError, VoiceError
from sounds.voices.clip import Clip
from sounds.voices.clip_cache import ClipCache, ClipKey
from sounds.voices.speech_child import LONGEST_TEXT
from sounds.voices.speech_engine import Speak, SpeechEngine, find_engine, run_child
from sounds.voices.speech_files import Spoken, Task, speak_to_clips

PACES: Final = {"espeak": (200, 260, 300, 450)}
"""Speech rates of each engine, in its words a minute. With espeak-ng, digits are hard to
understand between 340 and 449 and clearer again at 450, where it changes its method."""

OTHER_PACES: Final = (200, 260, 320, 440)
"""Other engines: the rate that pyttsx3 starts them with, and 1.3, 1.6 and 2.2 times it."""


@dataclass(frozen=True, slots=True)
class _Failure:
    """Why a text has no clip, ready to be raised as often as it is asked for."""

    kind: Callable[[str], SoundError]
    sentence: str


class SystemVoice:
    """A voice of the system; satisfies `sounds.voices.voice.Voice`.

    Parameters
    ----------
    rate
        Frames a second of every clip.
    voice_id
        The engine's own name for a voice; None for the one that speaks English best.
    cache
        Where finished clips are kept from one run to the next; None to keep none.
    speak
        How the engine's process is run.
    engine
        The engine and its voices where they are known already; else they are asked for when the
        first text comes.
    """

    def __init__(
        self,
        rate: int,
        voice_id: str | None = None,
        cache: ClipCache | None = None,
        speak: Speak = run_child,
        engine: SpeechEngine | None = None,
    ) -> None:
        self._rate = rate
        self._voice_id = voice_id
        self._cache = cache
        self._speak = speak
        self._engine = engine
        self._clips: dict[str, tuple[Clip, ...]] = {}
        self._failures: dict[str, _Failure] = {}

    @property
    def name(self) -> str:
        """What a person calls this voice."""
        known = None if self._engine is None else self._engine.voice(self._chosen(self._engine))
        return known.name if known else self._voice_id or "system"

    @property
    def rate(self) -> int:
        """Frames a second of every clip."""
        return self._rate

    def prepare(self, texts: Iterable[str]) -> None:
        """Have every text of `texts` that is new spoken at every pace, in one process.

        Texts that cannot be spoken are left to `clips`; nothing is tried again for them.
        """
        fresh = [text for text in dict.fromkeys(texts) if not self._settled(text)]
        new = [text for text in fresh if not self._refused(text)]
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
            If the system has no engine, or it failed, twice.
        """
        self.prepare([text])
        if text in self._clips:
            return self._clips[text]
        failure = self._failures[text]
        raise failure.kind(failure.sentence)

    def _settled(self, text: str) -> bool:
        return text in self._clips or text in self._failures

    def _refused(self, text: str) -> bool:
        """Note a text that no engine can be asked to say."""
        if len(text) > LONGEST_TEXT:
            sentence = f"A text of {len(text)} characters cannot be said; {LONGEST_TEXT} can."
        elif not text.isprintable() or not any(letter.isalnum() for letter in text):
            sentence = f"{text!r} is nothing that can be said."
        else:
            return False
        self._failures[text] = _Failure(UnknownWordError, sentence)
        return True

    def _chosen(self, engine: SpeechEngine) -> str | None:
        if self._voice_id is not None:
            return self._voice_id
        return engine.english.id if engine.english else engine.default

    def _render(self, engine: SpeechEngine, texts: Sequence[str]) -> None:
        """Fill `_clips` and `_failures` for `texts`, from the cache as far as it goes."""
        paces = PACES.get(engine.name, OTHER_PACES)
        voice = self._chosen(engine)
        keys = {
            (text, pace): ClipKey(engine.name, voice or "", text, pace)
            for pace in paces
            for text in texts
        }
        cached = self._from_cache(keys)
        spoken = speak_to_clips([task for task in keys if task not in cached], voice, self._speak)
        if self._cache is not None:
            for task, clip in spoken.clips.items():
                self._cache.store(keys[task], clip)
        done = cached | spoken.clips
        for text in texts:
            clips = [done[text, pace].at_rate(self._rate) for pace in paces if (text, pace) in done]
            if clips:
                self._clips[text] = tuple(sorted(clips, key=lambda clip: -clip.frames))
            else:
                self._failures[text] = _failure(text, paces, spoken)

    def _from_cache(self, keys: dict[Task, ClipKey]) -> dict[Task, Clip]:
        if self._cache is None:
            return {}
        loaded = ((task, self._cache.load(key)) for task, key in keys.items())
        return {task: clip for task, clip in loaded if clip is not None}


def _failure(text: str, paces: Sequence[int], spoken: Spoken) -> _Failure:
    """Return why no clip of `text` came."""
    if all((text, pace) in spoken.silent for pace in paces):
        return _Failure(UnknownWordError, f"The system's voice makes no sound of {text!r}.")
    return _Failure(VoiceError, f"The system's voice could not say {text!r}. {spoken.problem}")
