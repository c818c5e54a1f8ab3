"""What a whole practice told, from its recording; or from the thuds, where there is none."""

from contextlib import suppress
from dataclasses import replace
from itertools import chain
from pathlib import Path
from typing import Final

from caller.ears.ears import Ears
from caller.takes.take import Asked, HeardTake, listen
from engine.catching.report import listen_report
from sounds.errors import TakeError
from sounds.listening.call.clocks import Clocks
from sounds.listening.call.played_call import PlayedCall
from sounds.listening.recordings.take import open_take
from sounds.playing.replay import Replay

TAIL: Final = 2.0
"""Seconds after the last stretch for which the call is looked for."""

FROM_THUDS: Final = "There is no recording of all of it: this is from what was heard meanwhile."
BY_DEVICES: Final = (
    "How early or late the catches are on the whole is as right as what the devices tell of their "
    "delays."
)


def heard_practice(ears: Ears, take: Path | None, asked: Asked) -> HeardTake:
    """Return what a practice told, when it is over.

    Parameters
    ----------
    ears
        That have listened to it.
    take
        Its recording; None where there is none. It is listened to once more, unless Ctrl-C leaves
        that out.
    asked
        What was practised; its beats and their tempo are those that were played.
    """
    if asked.pattern is not None:
        asked = replace(asked, tempo=_first_tempo(ears))
    if take is not None and ears.whole and ears.stretches:
        # A recording may have been cut off, and a person may not want to wait for a long one.
        with suppress(TakeError, KeyboardInterrupt):
            return _from_recording(ears, take, asked)
    return _from_thuds(ears, asked)


def _first_tempo(ears: Ears) -> float | None:
    return ears.stretches[0].passage.run.tempo.start if ears.stretches else None


def _from_recording(ears: Ears, take: Path, asked: Asked) -> HeardTake:
    beats = chain.from_iterable(stretch.beats() for stretch in ears.stretches)
    seconds = max(stretch.end or stretch.start for stretch in ears.stretches) + TAIL
    by_devices = Clocks(ears.offset - ears.begun, 0.0)

    def played() -> Replay:
        replay = Replay(ears.rate, seconds)
        for sent in ears.sent:
            replay.note(sent)
        return replay

    call = PlayedCall(played, ears.rate) if ears.call_is_heard else None
    asked = replace(asked, beats=beats, call=call, clocks=by_devices)
    with open_take(take) as opened:
        heard = listen(opened, take, asked)
    if heard.call is None:
        return replace(heard, notes=(*heard.notes, BY_DEVICES))
    return heard


def _from_thuds(ears: Ears, asked: Asked) -> HeardTake:
    begun = ears.begun
    thuds = [replace(thud, time=thud.time - begun) for thud in ears.thuds]
    seconds = max(ears.until - begun, 0.0)
    due = chain.from_iterable(stretch.catches() for stretch in ears.stretches)
    catches = [replace(catch, time=catch.time + ears.offset - begun) for catch in due]
    report = listen_report(thuds, seconds, catches, placed=True)
    return HeardTake(None, asked, report, None, (FROM_THUDS, BY_DEVICES))
