"""What every voice can do, wherever its words come from."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Protocol

from sounds.voices.clip import Clip


class Voice(Protocol):
    """A bank of words. Made for one rate; every clip it hands out is at that rate."""

    @property
    def name(self) -> str:
        """What a person calls this voice."""

    @property
    def rate(self) -> int:
        """Frames a second of every clip."""

    def prepare(self, texts: Iterable[str]) -> None:
        """Get ready to say all of `texts`, at once where that is quicker.

        Texts that this voice cannot say are left to `clips`.
        """

    def clips(self, text: str) -> Sequence[Clip]:
        """Return `text` said at every pace this voice has, the slowest (longest) first.

        Each clip is trimmed, levelled to `sounds.voices.loudness.WORD_LEVEL` and has its perceptual
        centre found.

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
