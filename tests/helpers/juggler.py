"""A juggler in front of the microphone: thuds played into the same sound server, in time.

There is noise, too, as everywhere: without any, the least that is left of the call is loud.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from takes import thud

from throwcount.caller.practice.controller import Controller
from throwcount.caller.practice.situation import Playing
from throwcount.engine.takes.catches import expected_catches
from throwcount.sounds.echo.clocks import TakeClock
from throwcount.sounds.output.commands import Say, ScheduledRun
from throwcount.sounds.output.player import LivePlayer
from throwcount.sounds.samples import Clip
from throwcount.sounds.voices.voice import Voice

KINDS = 8
MEDIAN_LEVEL = 0.1
"""Of a thud's loudest window, against full scale."""

LEVELS = 12.0
"""In dB, from the softest thud to the loudest."""

ABOVE_NOISE = 20.0
"""Of the median thud, in dB."""

NOISE_SECONDS = 2.0
SOON = 0.8
"""Seconds before the first throw of a set at which all its thuds are sent."""


@dataclass(frozen=True)
class Manner:
    """How one juggles: late by `lead` and unsteady by `sd` seconds, and how drops happen.

    Parameters
    ----------
    drops
        For each set, from which beat on nothing is caught any more; None to go on to the end.
    """

    drops: Sequence[int | None] = ()
    lead: float = -0.03
    sd: float = 0.012
    seed: int = 1


class Thuds:
    """A voice that says thuds, each another."""

    name = "thuds"

    def __init__(self, rate: int, seed: int) -> None:
        self.rate = rate
        random = np.random.default_rng((seed, 7))
        self._clips = {}
        for kind in range(KINDS):
            level = MEDIAN_LEVEL * 10 ** (LEVELS * (kind / (KINDS - 1) - 0.5) / 20)
            samples = level * thud("beanbags", rate, random)
            self._clips[f"thud {kind}"] = Clip(samples.astype(np.float32)[:, np.newaxis], rate)
        level = MEDIAN_LEVEL * 10 ** (-ABOVE_NOISE / 20)
        noise = random.normal(0, level, (round(NOISE_SECONDS * rate), 1))
        self._clips["noise"] = Clip(noise.astype(np.float32), rate)

    def prepare(self, _texts: Sequence[str]) -> None:
        """Do nothing."""

    def clips(self, text: str) -> Sequence[Clip]:
        return [self._clips[text]]


class Juggler:
    """Catches what is thrown.

    Parameters
    ----------
    player
        What is juggled to.
    hands
        Plays the thuds, on the same server.
    voice
        Who calls.
    manner
        How well.

    Attributes
    ----------
    caught
        Of each set, how late each catch was, in seconds.
    """

    def __init__(self, player: LivePlayer, hands: LivePlayer, voice: Voice, manner: Manner) -> None:
        self.caught: list[list[float]] = []
        self._player, self._hands, self._voice, self._manner = player, hands, voice, manner
        self._drops = list(manner.drops)
        self._random = np.random.default_rng((manner.seed, 8))
        self._clocks = (TakeClock(player.rate), TakeClock(hands.rate))
        self._juggled: list[ScheduledRun] = []
        hands.speak_with(Thuds(hands.rate, manner.seed))
        hands.teach(frozenset({"noise", *(f"thud {kind}" for kind in range(KINDS))}))
        self._noisy_until = 0.0

    def step(self, controller: Controller) -> None:
        """Follow the practice; to be called often."""
        for clock, player in zip(self._clocks, (self._player, self._hands), strict=True):
            if player.anchor is not None:
                seconds, moment = player.anchor
                clock.note(round(seconds * player.rate), moment)
        self._make_noise()
        match controller.situation:
            case Playing(scheduled) if scheduled not in self._juggled:
                if self._player.heard() > scheduled.time_at(0) - SOON:
                    self._juggled.append(scheduled)
                    self._juggle(scheduled)

    def _make_noise(self) -> None:
        if self._hands.heard() > self._noisy_until - SOON:
            self._noisy_until = max(self._noisy_until, self._hands.soon())
            self._hands.send(Say("noise", self._noisy_until))
            self._noisy_until += NOISE_SECONDS

    def _juggle(self, scheduled: ScheduledRun) -> None:
        offset = self._clocks[0].moment(0.0) - self._clocks[1].moment(0.0)
        until = self._drops.pop(0) if self._drops else None
        late = []
        for catch in expected_catches(scheduled.timeline(self._voice).beats()):
            if until is not None and catch.beat >= until:
                break
            late.append(self._manner.lead + float(self._random.normal(0, self._manner.sd)))
            moment = scheduled.start + catch.time + late[-1] + offset
            self._hands.send(Say(f"thud {self._random.integers(KINDS)}", moment))
        self.caught.append(late)
