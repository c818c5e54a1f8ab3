"""Opens a voice by name, with stand-ins for what it cannot say, translating where needed."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Final, Literal

from throwcount.sounds.errors import UnknownVoiceError, UnknownWordError, VoiceError
from throwcount.sounds.samples import Clip
from throwcount.sounds.voices.languages import ENGLISH, PLAIN_ENGLISH, Phrasebook, without_region
from throwcount.sounds.voices.recorded import BUILT_IN_VOICES, RecordedVoice, built_in
from throwcount.sounds.voices.speech_child import Speak
from throwcount.sounds.voices.speech_clips import ClipCache
from throwcount.sounds.voices.stand_ins import FallbackVoice, ToneVoice
from throwcount.sounds.voices.system_voice import (
    SpeechEngine,
    SystemVoice,
    SystemVoiceInfo,
    find_engine,
    run_child,
)
from throwcount.sounds.voices.voice import Finish, Voice, unchanged


class TranslatedVoice:
    """A voice asked in its own language; satisfies `throwcount.sounds.voices.voice.Voice`.

    `phrasebook` translates each text for `voice`, which speaks that language. All else stays in
    English: the timeline, the files written from it, and the screen.
    """

    def __init__(self, voice: Voice, phrasebook: Phrasebook) -> None:
        self._voice = voice
        self._phrasebook = phrasebook
        self.rate = voice.rate

    @property
    def name(self) -> str:
        """The name that people see and type."""
        return self._voice.name

    def prepare(self, texts: Iterable[str]) -> None:
        """Prepare the voice for those of `texts` that can be translated."""
        translated = []
        for text in texts:
            with suppress(UnknownWordError):  # `clips` raises it again
                translated.append(self._phrasebook.said(text))
        self._voice.prepare(translated)

    def clips(self, text: str) -> Sequence[Clip]:
        """Return an English `text` in the voice's language, the slowest pace first.

        Raises
        ------
        UnknownWordError
            If there is no translation, or the voice cannot say it.
        VoiceError
            If the voice fails.
        """
        return self._voice.clips(self._phrasebook.said(text))


BUILT_IN: Final = "built-in"
SYSTEM: Final = "system"

BUILT_IN_LANGUAGES: Final = ("en-us",)
ENGLISH_ONLY: Final = "The built-in voice speaks no other language: the calls are in English."

NOTES: Final = ("Used unless told otherwise.", "Another person, as for the cue-voice of a routine.")
"""What is listed of each built-in voice."""

FEW: Final = 5
"""How many names an error message lists."""


@dataclass(frozen=True, slots=True)
class VoiceName:
    """A voice as it is listed."""

    name: str
    """What `open_voice` takes."""
    kind: Literal["built-in", "system"]
    """Whether it comes with the program or with the system."""
    languages: tuple[str, ...] = ()
    """Lower-case tags such as ``en-us``; may be empty."""
    note: str = ""
    """A remark, the engine's own id of the voice, which `open_voice` takes too, or the reason why
    the system has no voice."""


def voice_names(speak: Speak = run_child) -> list[VoiceName]:
    """Return every voice that can be opened by name, the built-in ones first.

    A system without voices gets one entry with the reason.
    """
    bank = [
        VoiceName(name, "built-in", BUILT_IN_LANGUAGES, note)
        for name, note in zip(BUILT_IN_VOICES, NOTES, strict=True)
    ]
    try:
        engine = find_engine(speak)
    except VoiceError as error:
        return [*bank, VoiceName(SYSTEM, "system", note=str(error))]
    chosen = engine.english
    default = VoiceName(
        SYSTEM,
        "system",
        chosen.languages if chosen else (),
        f"The same as {chosen.name}." if chosen else "",
    )
    others = (VoiceName(voice.name, "system", voice.languages, voice.id) for voice in engine.voices)
    return [*bank, default, *others]


def open_voice(  # noqa: PLR0913 - who speaks, at which rate, and four ways to do it
    name: str | None,
    rate: int,
    cache_folder: Path | None,
    speak: Speak = run_child,
    phrasebook: Phrasebook = PLAIN_ENGLISH,
    *,
    finish: Finish = unchanged,
) -> FallbackVoice:
    """Return a voice that is asked for texts in English, whatever language it speaks.

    What it cannot say is said by the built-in voice, then by the system's voice, and last by a
    tone; `FallbackVoice.missing` has the texts of the tones. Where no voice speaks the language of
    the phrasebook, the calls stay in English, and `FallbackVoice.remarks` says so.

    Parameters
    ----------
    name
        ``built-in``, ``built-in-2``, ``system``, a folder of recorded words, or a voice of the
        system by its id, name, language, or a part of id or name that no other voice has; None for
        the built-in voice, or a system voice for the phrasebook's language.
    rate
        Sample rate of every clip, in Hz.
    cache_folder
        Where words of the system's voices are kept; None to keep none.
    speak
        Runs the speech engine's process.
    phrasebook
        The language, and how the program speaks it. The files of a folder are named in English
        whatever language they hold; only what the folder lacks is translated.
    finish
        Makes of each clip, levelled and centred, the one that is heard; tones stay as they are.

    Raises
    ------
    VoiceError
        If there is no such voice, or several match (both `UnknownVoiceError`), the system has none
        although one is asked for, or a folder holds no words.
    """
    row = _Opener(rate, cache_folder, speak, phrasebook, finish).row(name)
    return FallbackVoice((row.first,), ToneVoice(rate), row.remarks, row.stand_ins)


def find_voice(name: str, voices: Sequence[SystemVoiceInfo]) -> SystemVoiceInfo:
    """Return the system voice that a person means by `name`, in capitals or not.

    Matches are looked for in this order: an id, a name, a language (``fr`` matches ``fr-be`` too),
    and a part of an id or name.

    Raises
    ------
    UnknownVoiceError
        If no voice matches, or several do.
    """
    wanted = name.casefold()
    language = wanted.replace("_", "-")
    ways: tuple[Callable[[SystemVoiceInfo], bool], ...] = (
        lambda voice: voice.id.casefold() == wanted,
        lambda voice: voice.name.casefold() == wanted,
        lambda voice: language in voice.languages,
        lambda voice: voice.speaks(language),
        lambda voice: wanted in voice.id.casefold() or wanted in voice.name.casefold(),
    )
    for meant in ways:
        found = [voice for voice in voices if meant(voice)]
        if len(found) == 1:
            return found[0]
        if found:
            several = _listed(f"{voice.name} ({voice.id})" for voice in found)
            raise UnknownVoiceError(f"{len(found)} voices go by {name!r}: {several}.")
    raise UnknownVoiceError(f"There is no voice or folder {name!r}. {_near(name, voices)}")


@dataclass(frozen=True, slots=True)
class _Row:
    """A voice, functions that open its stand-ins in order, and remarks for the person."""

    first: Voice
    stand_ins: tuple[Callable[[], Voice], ...]
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Opener:
    """Opens voices; the fields are parameters of `open_voice`."""

    rate: int
    cache_folder: Path | None
    speak: Speak
    phrasebook: Phrasebook
    finish: Finish

    def row(self, name: str | None) -> _Row:
        """Return the voice of a name, with its stand-ins."""
        if name is None:
            return self._unnamed("The calls are in English.")
        if name in BUILT_IN_VOICES:
            return self._english(*(() if self._built_in_speaks() else (ENGLISH_ONLY,)), name=name)
        folder = Path(name).resolve()
        if name != SYSTEM and folder.is_dir():
            behind = self._unnamed("What the recordings lack is said in English.")
            stand_ins = (lambda: behind.first, *behind.stand_ins)
            return _Row(
                RecordedVoice(folder, self.rate, finish=self.finish), stand_ins, behind.remarks
            )
        engine = _engine_for(name, self.speak)
        if name == SYSTEM:
            return self._of_system(engine)
        info = find_voice(name, engine.voices)
        first = self._translated(self._system(info.id, engine))
        return _Row(first, (self._built_in,), tuple(self._doubts(info)))

    def _unnamed(self, otherwise: str) -> _Row:
        """Return a voice for the language, else an English one with `otherwise` as a remark."""
        if self._built_in_speaks():
            return self._english()
        try:
            engine = find_engine(self.speak)
        except VoiceError as error:
            return self._english(f"{error} {otherwise}")
        info = engine.speaking(self.phrasebook.language)
        if info is None:
            return self._english(f"{self._nobody()} {otherwise}")
        return _Row(self._translated(self._system(info.id, engine)), (self._built_in,))

    def _of_system(self, engine: SpeechEngine) -> _Row:
        """Return the system voice for the language, else its English one."""
        info = None if self._built_in_speaks() else engine.speaking(self.phrasebook.language)
        if info is not None:
            return _Row(self._translated(self._system(info.id, engine)), (self._built_in,))
        remarks = (
            () if self._built_in_speaks() else (f"{self._nobody()} The calls are in English.",)
        )
        return _Row(self._in_english(self._system(None, engine)), (self._built_in,), remarks)

    def _built_in_speaks(self) -> bool:
        return self.phrasebook.language in (ENGLISH, *BUILT_IN_LANGUAGES)

    def _nobody(self) -> str:
        return f"The system has no voice that speaks {self.phrasebook.language}."

    def _doubts(self, info: SystemVoiceInfo) -> Iterator[str]:
        """Yield a warning if the voice that was named does not speak the language asked for."""
        language = self.phrasebook.language
        if not self._built_in_speaks() and not info.speaks(without_region(language)):
            tags = ", ".join(info.languages) or "nobody knows what"
            yield f"The voice {info.name} speaks {tags}, and is to call in {language}."

    def _english(self, *remarks: str, name: str = BUILT_IN) -> _Row:
        """Return a built-in voice, with the system's English voice as its stand-in."""
        return _Row(self._built_in(name), (lambda: self._in_english(self._system(None)),), remarks)

    def _built_in(self, name: str = BUILT_IN) -> Voice:
        return self._in_english(built_in(self.rate, name, self.finish))

    def _system(self, voice_id: str | None, engine: SpeechEngine | None = None) -> Voice:
        cache = None if self.cache_folder is None else ClipCache(self.cache_folder)
        return SystemVoice(self.rate, voice_id, cache, self.speak, engine, finish=self.finish)

    def _in_english(self, voice: Voice) -> Voice:
        return self._translated(voice) if self.phrasebook.in_english else voice

    def _translated(self, voice: Voice) -> Voice:
        plain = self.phrasebook.changes_nothing
        return voice if plain else TranslatedVoice(voice, self.phrasebook)


def _engine_for(name: str, speak: Speak) -> SpeechEngine:
    """Return the engine that may have a voice of this name."""
    try:
        return find_engine(speak)
    except VoiceError as error:
        if name == SYSTEM:
            raise
        raise UnknownVoiceError(f"There is no voice or folder {name!r}. {error}") from error


def _near(name: str, voices: Sequence[SystemVoiceInfo]) -> str:
    """Return a sentence with the names most like `name`, else with the first few."""
    names = {
        called.casefold(): called
        for called in (*BUILT_IN_VOICES, SYSTEM, *(voice.name for voice in voices))
    }
    near = get_close_matches(name.casefold(), names, n=FEW, cutoff=0.5)
    if near:
        return f"Close to it: {_listed(names[called] for called in near)}."
    return f"Some that there are: {_listed(names.values())}."


def _listed(names: Iterable[str]) -> str:
    """Return the first few names, and how many more there are."""
    every = list(names)
    more = f" and {len(every) - FEW} more" if len(every) > FEW else ""
    return ", ".join(every[:FEW]) + more
