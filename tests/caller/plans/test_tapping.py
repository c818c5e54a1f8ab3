"""Tapping along: with a clock and keys of our own, and with a process that plays."""

import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from music_files import decoded, struck
from pretend_deck import Deck

from throwcount.caller.plans.tapping import scheduled_run, tapped
from throwcount.caller.terminal.controls import RESUMED
from throwcount.caller.terminal.glance import Glance
from throwcount.sounds.mixing.mixer import Mixer
from throwcount.sounds.mixing.music_bed import Music
from throwcount.sounds.mixing.score import score
from throwcount.sounds.output.commands import End, Play
from throwcount.sounds.output.player import LivePlayer

REFRESH = 0.1
"""Seconds: the screen changes ten times a second."""


HELPERS = Path(__file__).parents[2] / "helpers"
RATE = 44_100
"""That of the pretended device."""

SECONDS = 6.0
BEATS = np.arange(0.6, 5.5, 0.45)


@pytest.fixture
def music(tmp_path: Path) -> Music:
    return decoded(tmp_path / "music", struck(BEATS, SECONDS, RATE), rate=RATE, peak=0.5)


class Screen:
    """Keeps what was shown."""

    def __init__(self) -> None:
        self.shown: list[Glance] = []

    def show(self, glance: Glance) -> None:
        self.shown.append(glance)

    def hide(self) -> None:
        pass


class Clock(Deck):
    """A player whose time passes while keys are waited for."""

    def __init__(self) -> None:
        super().__init__()
        self.now = 100.0

    def wait(self, _seconds: float) -> bool:
        return False


class Fingers:
    """Press keys at moments of a clock."""

    def __init__(self, clock: Clock, presses: Sequence[tuple[float, str]]) -> None:
        self._clock = clock
        self._presses = list(presses)

    def read(self, seconds: float) -> list[str]:
        end = self._clock.now + seconds
        if self._presses and self._presses[0][0] <= end:
            moment, key = self._presses.pop(0)
            self._clock.now = max(moment, self._clock.now)
            return [key]
        self._clock.now = end
        return []


def pressed(
    music: Music, presses: Sequence[tuple[float, str]], delay: float = 0.0
) -> tuple[list[float], Clock, Screen]:
    """Return the taps of keys pressed at seconds after the music is first heard."""
    clock, screen = Clock(), Screen()
    fingers = Fingers(clock, [(clock.soon() + moment, key) for moment, key in presses])
    return tapped(music, clock, fingers, screen, delay), clock, screen


@pytest.mark.parametrize("delay", [0.0, 0.2])
def test_taps_are_told_in_seconds_of_the_music(music: Music, delay: float) -> None:
    moments = [0.5, 1.0, 1.5, 2.0]
    presses = [(moment + delay, "space") for moment in moments]
    taps, clock, _ = pressed(music, presses, delay)
    assert taps == pytest.approx(moments)
    assert isinstance(clock.sent[0], Play)
    assert clock.sent[-1] == End()


@pytest.mark.parametrize(
    ("presses", "expected"),
    [
        ([(1.0, "space"), (2.0, "q"), (3.0, "space")], [1.0]),
        ([(1.0, "space"), (2.0, "escape"), (3.0, "space")], [1.0]),
        ([(1.0, "x"), (2.0, "page-down"), (3.0, "5")], [1.0, 2.0, 3.0]),
        ([(1.0, "space"), (2.0, "space"), (2.3, "backspace"), (3.0, "space")], [1.0, 3.0]),
        ([(1.0, "backspace"), (2.0, "space")], [2.0]),
        ([(1.0, "space"), (1.03, "space"), (1.06, "space"), (2.0, "space")], [1.0, 2.0]),
        ([(-0.2, "space"), (1.0, "space")], [1.0]),
        ([(1.0, "space"), (2.0, RESUMED), (3.0, "space")], [3.0]),
    ],
    ids=["q", "escape", "any key", "undo", "nothing to undo", "held", "early", "suspended"],
)
def test_keys(music: Music, presses: list[tuple[float, str]], expected: list[float]) -> None:
    assert pressed(music, presses)[0] == pytest.approx(expected)


def test_it_ends_with_the_music(music: Music) -> None:
    taps, clock, screen = pressed(music, [])
    assert taps == []
    assert clock.now == pytest.approx(100.3 + SECONDS, abs=2 * REFRESH)
    assert clock.sent[-1] == End()
    assert screen.shown[0].seconds_left == math.ceil(SECONDS) + 1


def test_what_is_tapped_is_shown(music: Music) -> None:
    _, _, screen = pressed(music, [(moment, "space") for moment in (1.0, 1.5, 2.0, 2.5)])
    assert "on each beat" in screen.shown[0].notice
    assert screen.shown[-1].large == "4"
    assert screen.shown[-1].place == "4 beats, 120 a minute"
    assert not screen.shown[-1].notice


def test_music_is_heard_alone_and_as_it_is(music: Music) -> None:
    scheduled = scheduled_run(music, 0.0)
    placements = []
    for placement in score(
        scheduled.timeline(FewWords()), None, RATE, scheduled.balance, scheduled.track
    ):
        if placement.start > SECONDS * RATE:
            break
        placements.append(placement)
    heard = Mixer(placements, round(SECONDS * RATE)).read(round(SECONDS * RATE))[:, 0]
    assert heard == pytest.approx(struck(BEATS, SECONDS, RATE), abs=1e-6)


class FewWords:
    """A voice that is never asked to speak."""

    name = "few words"
    rate = RATE

    def prepare(self, texts: object) -> None:
        pass

    def clips(self, text: str) -> list[object]:
        raise AssertionError(text)


class Dancer:
    """Presses a key whenever a beat is heard, as the player's clock has it."""

    def __init__(self, player: LivePlayer, start: float) -> None:
        self._player, self._start = player, start
        self._beats = list(BEATS)
        self.looks: list[float] = []
        """Seconds of the music at each press, and at the next look for a key."""

    def read(self, seconds: float) -> list[str]:
        if len(self.looks) % 2:
            self.looks.append(self._player.heard() - self._start)
        self._player.wait(min(seconds, 0.002))
        now = self._player.heard() - self._start
        if not self._beats or now < self._beats[0]:
            return []
        self._beats.pop(0)
        self.looks.append(now)
        return ["space"]


def test_live(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, music: Music) -> None:
    recording = tmp_path / "played.raw"
    monkeypatch.setenv("PYTHONPATH", str(HELPERS / "pretend_device"))
    monkeypatch.setenv("PRETEND_RECORDING", str(recording))
    with LivePlayer() as player:
        starts: list[float] = []
        soon = player.soon

        def noted() -> float:
            starts.append(soon())
            return starts[-1]

        monkeypatch.setattr(player, "soon", noted)
        dancer = LateDancer(player, starts)
        taps = tapped(music, player, dancer, Screen())
    assert len(taps) == len(BEATS)
    # However late a busy machine lets a key be pressed, the tap is when it was.
    for tap, pressed_at, next_look in zip(taps, dancer.looks[::2], dancer.looks[1::2], strict=True):
        assert pressed_at <= tap <= next_look
    played = np.fromfile(recording, np.float32).reshape(-1, 2)[:, 0]
    first = round(starts[0] * RATE)
    expected = struck(BEATS, SECONDS, RATE)
    assert played[first : first + len(expected)] == pytest.approx(expected, abs=1e-6)


class LateDancer(Dancer):
    """Hears when the music starts only once it is played."""

    def __init__(self, player: LivePlayer, starts: list[float]) -> None:
        self._player = player
        self._starts = starts
        self._begun = False

    def read(self, seconds: float) -> list[str]:
        if not self._begun:
            self._begun = True
            super().__init__(self._player, self._starts[0])
        return super().read(seconds)
