"""The call's own sound on a take: where it is, and the take without it.

What the speakers were given is known sample for sample. On the take it is late by a delay, runs at
the pace of another clock, and sounds as the speakers, the room and the microphone let it sound.
`find_call` tells the delay and the clock; `without_call` learns what the room makes of it, takes
that out, and turns down what is left of it.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Protocol

from sounds.listening.call.clock_line import candidates
from sounds.listening.call.clocks import Clocks
from sounds.listening.call.pieces import Template, call_spans, cut_templates
from sounds.listening.call.played_call import PlayedCall
from sounds.listening.call.removal import removed
from sounds.listening.call.rivals import COMPARED_BLOCK, disambiguate
from sounds.listening.call.sightings import STEP, matches
from sounds.listening.call.survey import background_spectrum
from sounds.listening.rate import RATE, Mono

DOUBTFUL: Final = 0.5
"""Confidence at the most where the call fits the take as well at another place."""


class Recording(Protocol):
    """What can be read from its beginning again and again, such as a `Take`."""

    def blocks(self, size: int) -> Iterator[Mono]:
        """Yield all of it at `RATE`, in blocks of `size` frames; the last may be shorter."""


@dataclass(frozen=True, slots=True)
class CallOnTake(Clocks):
    """Where a call is on a take."""

    confidence: float
    """How likely it is there, 0 to 1; no more than 0.5 where it fits as well at another place, such
    as a cycle later."""


def find_call(take: Recording, call: PlayedCall) -> CallOnTake | None:
    """Find on a take what the speakers played while it was recorded.

    The take and the call are read three times. Either may begin first, and end first.

    Returns
    -------
    CallOnTake | None
        Delay (to a fraction of a millisecond) and drift (to a few parts in a million where take
        and call have half a minute in common, up to 250 either way); None if the call is not
        heard on the take.
    """
    about = background_spectrum(take.blocks(STEP))
    if about.spectrum is None:
        return None
    pieces = list(cut_templates(call, call_spans(call, about.seconds)))
    if not pieces:
        return None
    places = matches(take.blocks(STEP), pieces, about)
    possible = candidates(places, about.seconds)
    if not possible:
        return None
    likeliest, doubtful = disambiguate(
        [clocks for clocks, _ in possible], take.blocks(COMPARED_BLOCK), call, about, _ends(pieces)
    )
    share = dict(possible)[likeliest]
    confidence = min(share, DOUBTFUL) if doubtful else share
    return CallOnTake(likeliest.delay, likeliest.drift, confidence)


def _ends(pieces: Sequence[Template]) -> tuple[float, float]:
    """Return when the call begins to sound, and when it ends, in seconds."""
    first = min(piece.stretch.start for piece in pieces)
    last = max(piece.stretch.start + piece.stretch.frames for piece in pieces)
    return first / RATE, last / RATE


def without_call(blocks: Iterable[Mono], call: PlayedCall, found: CallOnTake) -> Iterator[Mono]:
    """Yield a take without the call.

    `blocks` are the take from its beginning at `RATE`, in blocks of any length.

    Yields
    ------
    Mono
        As many frames as go in, in blocks of other lengths. What comes before the call is passed
        on at once; of the call's beginning half a minute is heard before the first is passed on;
        from there on, each within a second.
    """
    return removed(blocks, call, found)
