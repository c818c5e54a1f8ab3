"""What every voice can do, and two voices as one: one for the count, one for cue calls.

Texts identify what is said everywhere, from the timeline to the clips sent to another process.
The text of a cue call gets a mark in front, so that clips of the same words can be kept in two
voices. The mark is put on where a timeline becomes sound and taken off where a voice is asked; no
person ever sees it.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Final, Protocol, TypeAlias

from throwcount.engine.timing.timeline import Cue
from throwcount.sounds.samples import Clip

Finish: TypeAlias = Callable[[Clip], Clip]
"""Makes of a clip the one that is heard, for example in a loud room."""


def unchanged(clip: Clip) -> Clip:
    """Return a clip as it is."""
    return clip


class Voice(Protocol):
    """Says texts as clips, all at one sample rate."""

    @property
    def name(self) -> str:
        """The name that people see and type."""

    @property
    def rate(self) -> int:
        """Sample rate of every clip, in Hz."""

    def prepare(self, texts: Iterable[str]) -> None:
        """Get ready to say `texts`, all at once where that is quicker.

        Texts that this voice cannot say are ignored here; `clips` raises for them.
        """

    def clips(self, text: str) -> Sequence[Clip]:
        """Return `text` at every pace this voice has, the slowest (longest) first.

        Each clip is trimmed, levelled by `throwcount.sounds.measures.levelled`, and centred on its
        perceptual centre.

        Raises
        ------
        UnknownWordError
            If this voice has no way to say `text`.
        """


class CallingVoice(Voice, Protocol):
    """A voice that can say any text, and reports which texts it could not say itself."""

    @property
    def missing(self) -> Mapping[str, str]:
        """The texts asked for so far that a tone replaces, each with the reason as a sentence."""

    @property
    def borrowed(self) -> Mapping[str, str]:
        """The texts asked for so far that a stand-in says, each with the reason as a sentence."""

    @property
    def speakers(self) -> Mapping[str, str]:
        """The texts asked for so far, each with the name of the voice that says it."""

    @property
    def remarks(self) -> tuple[str, ...]:
        """What a person should know of this voice before it speaks, in sentences."""


def slowest_that_fits(clips: Sequence[Clip], seconds: float) -> Clip:
    """Return the slowest clip of at most `seconds`, else the quickest; `clips` go slowest first."""
    return next((clip for clip in clips if clip.seconds <= seconds), clips[-1])


def quickest_seconds(voice: Voice) -> Callable[[str], float]:
    """Return a function from a text to its seconds at the quickest pace of `voice`."""
    known: dict[str, float] = {}

    def seconds(text: str) -> float:
        if text not in known:
            known[text] = voice.clips(text)[-1].seconds
        return known[text]

    return seconds


def natural_seconds(voice: Voice) -> Callable[[str], float]:
    """Return a function from a text to its seconds at the natural, slowest pace of `voice`."""

    def seconds(text: str) -> float:
        voice.prepare([text])
        return voice.clips(text)[0].seconds

    return seconds


MARK: Final = "\x1e"
"""The record separator, a control character: no voice can say it, and nobody types it."""


def cue_line(text: str) -> str:
    """Return a text marked as a cue call."""
    return MARK + text


def is_cue_line(text: str) -> bool:
    """Return whether a text is marked as a cue call."""
    return text.startswith(MARK)


def without_mark(text: str) -> str:
    """Return a text without the mark of a cue call, if it has one."""
    return text.removeprefix(MARK)


def said_at(cue: Cue) -> str:
    """Return the text that a voice is asked for at a cue: marked where it announces a change."""
    return cue.text if cue.change is None else cue_line(cue.text)


class CueVoice:
    """Two voices as one, the second for cue calls; satisfies `CallingVoice`.

    `cues` says the marked texts and `calls` all others; both may be the same voice.

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
        self.rate = calls.rate
        self.remarks = tuple(dict.fromkeys((*calls.remarks, *cues.remarks)))

    @property
    def name(self) -> str:
        """The name of the voice that says the count."""
        return self._calls.name

    @property
    def missing(self) -> Mapping[str, str]:
        """The texts that a tone replaces, without marks, each with the reason."""
        return {**self._cues.missing, **self._calls.missing}

    @property
    def borrowed(self) -> Mapping[str, str]:
        """The texts that a stand-in says, without marks, each with the reason."""
        return {**self._cues.borrowed, **self._calls.borrowed}

    @property
    def speakers(self) -> Mapping[str, str]:
        """The texts asked for so far, cue calls marked, each with the name of its voice."""
        cues = {cue_line(text): name for text, name in self._cues.speakers.items()}
        return {**cues, **self._calls.speakers}

    def prepare(self, texts: Iterable[str]) -> None:
        """Prepare each voice for its own texts, all at once."""
        every = list(dict.fromkeys(texts))
        self._calls.prepare([text for text in every if not is_cue_line(text)])
        self._cues.prepare([without_mark(text) for text in every if is_cue_line(text)])

    def clips(self, text: str) -> Sequence[Clip]:
        """Return `text` at every pace of the voice that says it, the slowest first."""
        if is_cue_line(text):
            return self._cues.clips(without_mark(text))
        return self._calls.clips(text)


def call_paces(voice: Voice) -> Callable[[str], tuple[float, ...]]:
    """Return a function from a text to its seconds at each pace of `voice`, the slowest first."""

    def seconds(text: str) -> tuple[float, ...]:
        voice.prepare([text])
        return tuple(clip.seconds for clip in voice.clips(text))

    return seconds


def cue_paces(voice: Voice) -> Callable[[str], tuple[float, ...]]:
    """Return the same function for the text of a cue call, without its mark."""
    paces = call_paces(voice)
    return lambda text: paces(cue_line(text))
