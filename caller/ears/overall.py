"""What a whole practice told, from its recording; or from the thuds, where there is none."""

from contextlib import suppress
from dataclasses import replace
from itertools import chain
from pathlib import Path
from typing import Final

from caller.ears.ears import LiveListener
from caller.takes.take import Expectation, HeardTake, listen
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


def heard_practice(listener: LiveListener, take: Path | None, asked: Expectation) -> HeardTake:
    """Return what a practice told, when it is over.

    Parameters
    ----------
    listener
        That have listened to it.
    take
        Its recording; None where there is none. It is listened to once more, unless Ctrl-C leaves
        that out.
    asked
        What was practised; its beats and their tempo are those that were played.
    """
    if asked.pattern is not None:
        asked = replace(asked, tempo=_first_tempo(listener))
    if take is not None and listener.whole and listener.stretches:
        # A recording may have been cut off, and a person may not want to wait for a long one.
        with suppress(TakeError, KeyboardInterrupt):
            return _from_recording(listener, take, asked)
    return _from_thuds(listener, asked)


def _first_tempo(listener: LiveListener) -> float | None:
    return listener.stretches[0].scheduled.run.tempo.start if listener.stretches else None


def _from_recording(listener: LiveListener, take: Path, asked: Expectation) -> HeardTake:
    beats = chain.from_iterable(stretch.beats() for stretch in listener.stretches)
    seconds = max(stretch.end or stretch.start for stretch in listener.stretches) + TAIL
    by_devices = Clocks(listener.offset - listener.begun, 0.0)

    def played() -> Replay:
        replay = Replay(listener.rate, seconds)
        for sent in listener.sent:
            replay.note(sent)
        return replay

    call = PlayedCall(played, listener.rate) if listener.call_is_heard else None
    asked = replace(asked, beats=beats, call=call, clocks=by_devices)
    with open_take(take) as opened:
        heard = listen(opened, take, asked)
    if heard.call is None:
        return replace(heard, notes=(*heard.notes, BY_DEVICES))
    return heard


def _from_thuds(listener: LiveListener, asked: Expectation) -> HeardTake:
    begun = listener.begun
    thuds = [replace(thud, time=thud.time - begun) for thud in listener.thuds]
    seconds = max(listener.until - begun, 0.0)
    due = chain.from_iterable(stretch.catches() for stretch in listener.stretches)
    catches = [replace(catch, time=catch.time + listener.offset - begun) for catch in due]
    report = listen_report(thuds, seconds, catches, placed=True)
    return HeardTake(None, asked, report, None, (FROM_THUDS, BY_DEVICES))
