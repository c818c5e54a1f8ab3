"""The page of an act, opened in a browser."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from acts import Act, act
from phone_page import opened, page_of
from playwright.sync_api import Browser, Page


@pytest.fixture(scope="package")
def an_act() -> Act:
    return act()


@pytest.fixture(scope="package")
def path(an_act: Act, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the act's page."""
    return page_of(tmp_path_factory.mktemp("page"), an_act)


@pytest.fixture
def page(browser: Browser, path: Path) -> Iterator[Page]:
    """Give the act's page, opened; nothing may go wrong in it."""
    page = opened(browser, path)
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("console", lambda message: faults.append(message.text))
    yield page
    page.context.close()
    assert not faults
