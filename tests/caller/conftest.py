"""Runs ``throwcount`` in this process, and one Chromium for all that is tried on pages."""

from collections.abc import Callable, Iterator

import pytest
from click.testing import CliRunner, Result
from phone_page import CHROMIUM, chromium
from playwright.sync_api import Browser, Playwright, sync_playwright

from throwcount.caller.main import throwcount


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Result]:
    """Return a function that runs the command with arguments, on a terminal 80 columns wide."""
    monkeypatch.setenv("COLUMNS", "80")
    return lambda *arguments: CliRunner().invoke(throwcount, [*map(str, arguments)])


@pytest.fixture(scope="session")
def playwright(require: Callable[[object, str], None]) -> Iterator[Playwright]:
    require(CHROMIUM, "no chromium on this machine")
    with sync_playwright() as playwright:
        yield playwright


@pytest.fixture(scope="session")
def browser(playwright: Playwright) -> Iterator[Browser]:
    with chromium(playwright) as browser:
        yield browser
