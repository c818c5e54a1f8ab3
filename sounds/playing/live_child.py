"""The process that plays: it opens a device, obeys commands, and tells how things stand.

It loads what it plays with and nothing else, so that neither the screen nor the log nor a long
computation of the process that conducts can hold the sound up. It ends with that process, however
that ends, since its commands then come to an end.
"""

import gc
import os
import sys
import threading
import time
from contextlib import suppress
from typing import IO, Final, NoReturn

from sounds.errors import DeviceError
from sounds.message_pipes import read_message, run_between_pipes, write_message
from sounds.placing.mixer import CHANNELS
from sounds.playing.deck import Deck
from sounds.playing.devices import SoundLibrary, find_output, sound_library
from sounds.playing.messages import Opened, Opening, PlayerState, Refused
from sounds.playing.passage import Command, End
from sounds.playing.playout import Playout
from sounds.voices.clip_bank import ClipBank

PULSE_SECONDS: Final = 0.1
LOOK_AHEAD: Final = 2.0
"""Seconds of sound whose beats are worked out in good time."""

LAST_SILENCE: Final = 0.1
"""Seconds of silence after the last sound, beyond the latency: a device that is closed drops
what it has not played yet."""

SWITCH_INTERVAL: Final = 0.0005
"""Seconds after which a busy thread lets the sound through."""

PRIORITY: Final = 5
"""Among what comes before ordinary processes; sound servers have a higher one."""

USUAL_RATE: Final = 48_000


class PlayingProcess:
    """All that the process does.

    `commands` and `reports` say where messages come from and where they go.
    """

    def __init__(self, commands: IO[bytes], reports: IO[bytes]) -> None:
        self._commands = commands
        self._reports = reports
        self._over = threading.Event()

    def run(self) -> None:
        """Play until told to end, or until nobody is there to tell."""
        opening = read_message(self._commands)
        assert isinstance(opening, Opening)  # noqa: S101 - the first message is no other
        try:
            library = sound_library()
            output = find_output(library, opening.device)
            rate = opening.rate or round(output["default_samplerate"]) or USUAL_RATE
            deck = Deck(ClipBank(rate), opening.latency + LAST_SILENCE)
            playout = _started(deck, library, opening, output["max_output_channels"], rate)
        except DeviceError as error:
            write_message(self._reports, Refused(str(error)))
            return
        write_message(self._reports, Opened(rate))
        for work in (self._obey, self._look_ahead):
            threading.Thread(target=work, args=(deck,), daemon=True).start()
        self._tell(playout)
        playout.close()

    def _tell(self, playout: Playout) -> None:
        """Tell how things stand until all is over."""
        while not self._over.wait(PULSE_SECONDS):
            pulse = playout.pulse()
            with suppress(OSError):  # Nobody is there any more; the end will come in a moment.
                write_message(self._reports, pulse)
            if pulse.over or pulse.fault:
                return

    def _obey(self, deck: Deck) -> None:
        """Obey until the commands come to an end; then fade out, and end."""
        with suppress(EOFError):
            while True:
                command = read_message(self._commands)
                assert isinstance(command, Command)  # noqa: S101 - nothing else is sent
                self._try(deck, command)
        deck.obey(End())

    def _try(self, deck: Deck, command: Command) -> None:
        try:
            deck.obey(command)
        except Exception as error:  # noqa: BLE001 - whatever it is, the other process is to know
            fault = f"The sound cannot be made: {error!r}."
            with suppress(OSError):
                write_message(
                    self._reports, PlayerState(time.monotonic(), deck.position, fault=fault)
                )
            self._over.set()

    def _look_ahead(self, deck: Deck) -> None:
        while not self._over.wait(PULSE_SECONDS):
            deck.look_ahead(LOOK_AHEAD)


def _started(
    deck: Deck, library: SoundLibrary, opening: Opening, channels: int, rate: int
) -> Playout:
    gc.collect()
    gc.freeze()  # What is here stays, and need not be looked through while sound is played.
    sys.setswitchinterval(SWITCH_INTERVAL)
    playout = Playout(deck, rate)
    playout.start(library, opening.device, min(CHANNELS, channels), rate, opening.latency)
    return playout


def _hurry() -> None:
    """Come before other processes, where the system lets a user's programs do that for sound.

    On Linux this needs a right that desktops often give to their group for audio; without it the
    sound is as safe as the latency makes it.
    """
    if sys.platform == "linux":
        with suppress(OSError):
            os.sched_setscheduler(0, os.SCHED_RR, os.sched_param(PRIORITY))


def main() -> NoReturn:
    """Play what standard input asks for, and report on standard output."""
    _hurry()
    run_between_pipes(lambda commands, reports: PlayingProcess(commands, reports).run())


if __name__ == "__main__":
    main()
