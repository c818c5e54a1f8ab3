"""The lowest latency without gaps: what is played at which, and what it comes to."""

from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from throwcount.sounds.output.commands import Play
from throwcount.sounds.output.player import LivePlayer
from throwcount.sounds.output.trial import (
    LATENCIES,
    LEVEL,
    Trial,
    lowest_without_gaps,
    trials,
)


class TriedPlayer:
    """A player on a machine that loses sound at some latencies."""

    def __init__(self, gaps: int) -> None:
        self.gaps = gaps
        self.sent: list[object] = []
        self.waited = 0.0

    def soon(self) -> float:
        return 1.5

    def send(self, command: object) -> None:
        self.sent.append(command)

    def wait(self, seconds: float) -> None:
        self.waited += seconds


def test_half_a_minute_at_falling_latencies() -> None:
    players: list[tuple[float, bool, TriedPlayer]] = []

    @contextmanager
    def opened(latency: float, bare: bool) -> Iterator[LivePlayer]:
        player = TriedPlayer(round(0.06 / latency) if not bare else 7)
        players.append((latency, bare, player))
        yield player  # type: ignore[misc] # what a trial needs of one

    found = list(trials(opened))
    assert [trial.latency for trial in found] == sorted(LATENCIES, reverse=True)
    assert [trial.gaps for trial in found] == [0, 1, 1, 2, 6]
    assert {trial.bare_gaps for trial in found} == {7}
    assert 25 < sum(player.waited for _, _, player in players) < 35
    for _, bare, player in players:
        assert [type(command) for command in player.sent] == ([] if bare else [Play])
    (play,) = players[0][2].sent
    assert isinstance(play, Play)
    assert play.scheduled.balance.click_level == LEVEL
    assert play.scheduled.texts() == frozenset()


@pytest.mark.parametrize(
    ("gaps", "lowest"),
    [([0, 0, 0], 0.01), ([0, 0, 2], 0.05), ([0, 1, 0], 0.2), ([1, 0, 0], None)],
)
def test_the_lowest_above_which_nothing_is_lost(gaps: list[int], lowest: float | None) -> None:
    found = [Trial(each, lost, 0) for each, lost in zip((0.2, 0.05, 0.01), gaps, strict=True)]
    assert lowest_without_gaps(found) == lowest
