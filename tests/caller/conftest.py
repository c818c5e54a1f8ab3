"""Runs ``throwcount`` in this process."""

from collections.abc import Callable

import pytest
from click.testing import CliRunner, Result

from throwcount.caller.main import throwcount


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Result]:
    """Return a function that runs the command with arguments, on a terminal 80 columns wide."""
    monkeypatch.setenv("COLUMNS", "80")
    return lambda *arguments: CliRunner().invoke(throwcount, [*map(str, arguments)])
