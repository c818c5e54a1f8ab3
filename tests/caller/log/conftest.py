"""A practice log whose clock is turned by hand."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest

from throwcount.caller.log.log import PracticeLog


@dataclass
class Clock:
    """Stands still until it is told to go on; in seconds since 1970."""

    now: float = datetime(2026, 3, 31, 16, 0, tzinfo=UTC).timestamp()

    def __call__(self) -> float:
        return self.now

    def on(self, *, days: float = 0, seconds: float = 0) -> None:
        self.now += days * 86_400 + seconds


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "data" / "practice.sqlite"


@pytest.fixture
def log(path: Path, clock: Clock) -> Iterator[PracticeLog]:
    with PracticeLog.open(path, clock) as opened:
        yield opened
