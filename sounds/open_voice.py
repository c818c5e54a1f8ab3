"""From what a person calls a voice to the voice, with others behind it for words it lacks."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Final, Literal

from sounds.clip_cache import ClipCache
from sounds.errors import VoiceError
from sounds.fallback_voice import FallbackVoice
from sounds.recorded import RecordedVoice, built_in
from sounds.speech_engine import Speak, SpeechEngine, SystemVoiceInfo, find_engine, run_child
from sounds.system_voice import SystemVoice
from sounds.tone_voice import ToneVoice
from sounds.voice import Voice

BUILT_IN: Final = "built-in"
SYSTEM: Final = "system"

BUILT_IN_LANGUAGES: Final = ("en-us",)

FEW: Final = 5
"""How many names an error lists."""


@dataclass(frozen=True, slots=True)
class VoiceName:
    """A voice as it is listed.

    Parameters
    ----------
    name
        What `open_voice` takes.
    kind
        Whether it comes with the program or with the system.
    languages
        Lower-case tags such as ``en-us``; may be empty.
    note
        What else there is to know: the engine's own name for the voice, which `open_voice` takes
        too; or why the system has none.
    """

    name: str
    kind: Literal["built-in", "system"]
    languages: tuple[str, ...] = ()
    note: str = ""


def voice_names(speak: Speak = run_child) -> list[VoiceName]:
    """Return every voice that can be opened by name, the built-in one first.

    A system without voices has one entry that says why.
    """
    bank = VoiceName(BUILT_IN, "built-in", BUILT_IN_LANGUAGES, "Used unless told otherwise.")
    try:
        engine = find_engine(speak)
    except VoiceError as error:
        return [bank, VoiceName(SYSTEM, "system", note=str(error))]
    chosen = engine.english
    default = VoiceName(
        SYSTEM,
        "system",
        chosen.languages if chosen else (),
        f"The same as {chosen.name}." if chosen else "",
    )
    others = (VoiceName(voice.name, "system", voice.languages, voice.id) for voice in engine.voices)
    return [bank, default, *others]


def open_voice(
    name: str | None, rate: int, cache_folder: Path | None, speak: Speak = run_child
) -> FallbackVoice:
    """Return a voice.

    What it cannot say is said by the built-in voice, then by the system's voice, and last by a
    tone; `FallbackVoice.missing` tells for which texts.

    Parameters
    ----------
    name
        ``built-in``, ``system``, a folder of recorded words, or a voice of the system by its id,
        name, language, or a part of id or name that no other voice has; None for the built-in
        voice.
    rate
        Frames a second of every clip.
    cache_folder
        Where words of the system's voices are kept; None to keep none.
    speak
        How the speech engine's process is run.

    Raises
    ------
    VoiceError
        If there is no such voice, several go by that name, the system has none although one is
        asked for, or a folder holds no words.
    """
    cache = None if cache_folder is None else ClipCache(cache_folder)
    return FallbackVoice(_row(name, rate, cache, speak), ToneVoice(rate))


def find_voice(name: str, voices: Sequence[SystemVoiceInfo]) -> SystemVoiceInfo:
    """Return the voice of the system that a person means; capitals do not matter.

    Parameters
    ----------
    name
        An id, a name, a language (``fr`` stands for ``fr-be`` too), or a part of an id or name.
        An id counts before a name, a name before a language, and a part last.
    voices
        Those to choose from.

    Raises
    ------
    VoiceError
        If none is meant, or several.
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
            raise VoiceError(f"{len(found)} voices go by {name!r}: {several}.")
    raise VoiceError(f"There is no voice or folder {name!r}. {_near(name, voices)}")


def _row(name: str | None, rate: int, cache: ClipCache | None, speak: Speak) -> list[Voice]:
    """Return the voice of a name and those that stand in for it, in order."""
    if name is None or name == BUILT_IN:
        return [built_in(rate), SystemVoice(rate, None, cache, speak)]
    folder = Path(name).resolve()
    if name != SYSTEM and folder.is_dir():
        own = RecordedVoice(folder, rate)
        return [own, built_in(rate), SystemVoice(rate, None, cache, speak)]
    engine = _engine_for(name, speak)
    voice_id = None if name == SYSTEM else find_voice(name, engine.voices).id
    return [SystemVoice(rate, voice_id, cache, speak, engine), built_in(rate)]


def _engine_for(name: str, speak: Speak) -> SpeechEngine:
    """Return the engine to look for a voice in."""
    try:
        return find_engine(speak)
    except VoiceError as error:
        if name == SYSTEM:
            raise
        raise VoiceError(f"There is no voice or folder {name!r}. {error}") from error


def _near(name: str, voices: Sequence[SystemVoiceInfo]) -> str:
    """Return a sentence with the names most like `name`, or else with a few."""
    names = {
        called.casefold(): called
        for called in (BUILT_IN, SYSTEM, *(voice.name for voice in voices))
    }
    near = get_close_matches(name.casefold(), names, n=FEW, cutoff=0.5)
    if near:
        return f"Close to it: {_listed(names[called] for called in near)}."
    return f"Some that there are: {_listed(names.values())}."


def _listed(names: Iterable[str]) -> str:
    """Return the first few names in a row, and how many more there are."""
    every = list(names)
    more = f" and {len(every) - FEW} more" if len(every) > FEW else ""
    return ", ".join(every[:FEW]) + more
