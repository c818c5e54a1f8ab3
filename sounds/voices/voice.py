"""What every voice can do, wherever its words come from.

Cue calls in a voice of their own.

What is said is a text everywhere, from the timeline to the clips that another process is taught.
A cue call is told from a call of the count by a mark in front of its text, so that the same words
can be in store in two voices. The mark is put on where a timeline becomes sound, and taken off
where a voice is asked; nobody ever sees it.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Final, Protocol

from throwcount.engine.timing.timeline import Cue
from throwcount.sounds.samples import Clip


class Voice(Protocol):
    """A bank of words. Made for one rate; every clip it hands out is at that rate."""

    @property
    def name(self) -> str:
        """What a person calls this voice."""

    @property
    def rate(self) -> int:
        """Sample rate of every clip, in Hz."""

    def prepare(self, texts: Iterable[str]) -> None:
        """Get ready to say all of `texts`, at once where that is quicker.

        Texts that this voice cannot say are left to `clips`.
        """

    def clips(self, text: str) -> Sequence[Clip]:
        """Return `text` said at every pace this voice has, the slowest (longest) first.

        Each clip is trimmed, levelled to `throwcount.sounds.measures.WORD_LEVEL` and has its
        perceptual centre found.

        Raises
        ------
        UnknownWordError
            If this voice has no way to say `text`.
        """


class CallingVoice(Voice, Protocol):
    """A voice that always has something to say, and can tell a person where it had to improvise."""

    @property
    def missing(self) -> Mapping[str, str]:
        """The texts asked for so far that a tone stands in for, each with a sentence why."""

    @property
    def borrowed(self) -> Mapping[str, str]:
        """The texts asked for so far that a stand-in says, each with a sentence why."""

    @property
    def remarks(self) -> tuple[str, ...]:
        """What there is to know of this voice before anything is said, in sentences."""


def slowest_that_fits(clips: Sequence[Clip], seconds: float) -> Clip:
    """Return the slowest of `clips` (slowest first) no longer than `seconds`, else the quickest."""
    return next((clip for clip in clips if clip.seconds <= seconds), clips[-1])


def quickest_seconds(voice: Voice) -> Callable[[str], float]:
    """Return a function that tells how long a text takes at the quickest pace of `voice`."""
    known: dict[str, float] = {}

    def seconds(text: str) -> float:
        if text not in known:
            known[text] = voice.clips(text)[-1].seconds
        return known[text]

    return seconds


def natural_seconds(voice: Voice) -> Callable[[str], float]:
    """Return a function that tells how long a text takes at the natural, slowest pace."""

    def seconds(text: str) -> float:
        voice.prepare([text])
        return voice.clips(text)[0].seconds

    return seconds


MARK: Final = "\x1e"
"""A control character, the record separator: no voice can say it, and nobody types it."""


def cue_line(text: str) -> str:
    """Return a text marked as that of a cue call."""
    return MARK + text


def is_cue_line(text: str) -> bool:
    """Tell whether a text is marked as that of a cue call."""
    return text.startswith(MARK)


def said_at(cue: Cue) -> str:
    """Return what a voice is asked to say for a cue: marked where it announces a change."""
    return cue.text if cue.change is None else cue_line(cue.text)


class CueVoice:
    """Two voices as one, the second for cue calls; satisfies `CallingVoice`.

    `calls` says whatever is not marked. `cues` says what is marked, which may well be the same
    voice.

    Raises
    ------
    ValueError
        If the rates differ.
    """

    def __init__(self, calls: CallingVoice, cues: CallingVoice) -> None:
        if calls.rate != cues.rate:
            raise ValueError(
                f"The calls are at {calls.rate} Hz and the cue calls at {cues.rate}; "
                "both are made for one rate."
            )
        self._calls = calls
        self._cues = cues

    @property
    def name(self) -> str:
        """What a person calls the voice of the count."""
        return self._calls.name

    @property
    def rate(self) -> int:
        """Sample rate of every clip, in Hz."""
        return self._calls.rate

    @property
    def missing(self) -> Mapping[str, str]:
        """The texts that have to do with a tone, with the reason; marks are taken off."""
        return {**self._cues.missing, **self._calls.missing}

    @property
    def borrowed(self) -> Mapping[str, str]:
        """The texts that a stand-in says, with the reason; marks are taken off."""
        return {**self._cues.borrowed, **self._calls.borrowed}

    @property
    def remarks(self) -> tuple[str, ...]:
        """What there is to know of both voices, each sentence once."""
        return tuple(dict.fromkeys((*self._calls.remarks, *self._cues.remarks)))

    def prepare(self, texts: Iterable[str]) -> None:
        """Have each voice get ready for its own texts, all at once."""
        every = list(dict.fromkeys(texts))
        self._calls.prepare([text for text in every if not is_cue_line(text)])
        self._cues.prepare([text.removeprefix(MARK) for text in every if is_cue_line(text)])

    def clips(self, text: str) -> Sequence[Clip]:
        """Return `text` at every pace of the voice that says it, the slowest first."""
        if is_cue_line(text):
            return self._cues.clips(text.removeprefix(MARK))
        return self._calls.clips(text)


def cue_paces(voice: CallingVoice) -> Callable[[str], tuple[float, ...]]:
    """Return a function that tells how many seconds a cue call takes at each pace of `voice`.

    It takes the text as it is in a routine, without a mark; the slowest pace comes first.
    """

    def seconds(text: str) -> tuple[float, ...]:
        voice.prepare([cue_line(text)])
        return tuple(clip.seconds for clip in voice.clips(cue_line(text)))

    return seconds
