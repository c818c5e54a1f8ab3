"""A practice log whose clock is turned by hand, and logs to damage."""

import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest
from damaged_logs import SETS, changed, make_log

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


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("whole") / "practice.sqlite"
    make_log(path, SETS)
    return path


@pytest.fixture
def damaged(whole: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(whole, tmp_path / "damaged.sqlite"))


@pytest.fixture
def new(tmp_path: Path) -> Path:
    return tmp_path / "new.sqlite"


@pytest.fixture
def small(path: Path) -> Path:
    """A log of one session, set, mark and take."""
    make_log(path, 1)
    changed(
        path,
        "UPDATE sets SET pattern = '531', written = '531', objects = 3, cycle_beats = 3, seen = "
        "1775000024000, ended = 1775000024000",
        "DELETE FROM marks",
        "INSERT INTO marks (id, set_id, mark, moment, beat, given_by) "
        "VALUES (1, 1, 'clean', 1775000020000, 7, 'pedal')",
    )
    return path
