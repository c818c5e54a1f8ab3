"""The cue sheet as Chromium prints it, its PDF read by PDFium."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import pypdfium2
import pytest
from click.testing import CliRunner
from cue_sheets import CUE, PART, order, sheet_of
from playwright.sync_api import Browser

from throwcount.caller.main import throwcount
from throwcount.engine.routines.running_order import Entry

POINTS_A_MM = 72 / 25.4
A4 = (297, 210)
MARGIN = 12
TOLERANCE_MM = 0.5
ARM = 600
"""From eye to paper in mm, at a desk or a stand: common practice."""

SMALLEST_ANGLE = 16 / 60
"""Degrees for the height of a character that is read: ISO 9241-303 (2011), cited from memory."""

EXAMPLE = Path(__file__).parents[3] / "examples" / "village.toml"
WIDE = "\u592a\u9f13" * 50
"""A name of the largest characters."""


def sixty_parts() -> Iterator[Entry]:
    """Yield rows of one line and of many, the last as long as they may be."""
    for number in range(1, 61):
        longest = number == 60
        words = "the light goes on " * (number % 9)
        words = (WIDE + words)[: 200 - len("opens60  closes60")] if longest else words
        yield replace(
            PART,
            kind="rest" if number % 7 == 0 else "part",
            number=number,
            title=WIDE if longest else f"door {number}",
            text="3" * 200 if longest else "531",
            how=WIDE * 2 if longest else "under the leg" * (number % 2),
            time=9.0 + 65 * number,
            to=180 + number % 3 * 10,
            bar=1000 + number / 4,
            held={"right": 2, "left": 1},
            cue=replace(CUE, text=f"opens{number:02} {words} closes{number:02}"),
        )


@dataclass(frozen=True)
class Printed:
    """What is on each page of a sheet."""

    pages: Sequence[pypdfium2.PdfPage]
    texts: Sequence[str]

    @property
    def boxes(self) -> Iterator[tuple[str, tuple[float, float, float, float]]]:
        """Every visible character with its left, bottom, right and upper edge, in mm."""
        for page in self.pages:
            text = page.get_textpage()
            for index in range(text.count_chars()):
                box = text.get_charbox(index)
                left, bottom, right, top = (edge / POINTS_A_MM for edge in box)
                character = text.get_text_range(index, 1)
                if not character.isspace():
                    yield character, (left, bottom, right, top)


def printed(browser: Browser, path: Path) -> Printed:
    page = browser.new_page()
    asked: list[str] = []
    faults: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: faults.append(message.text))
    page.goto(path.as_uri())
    document = pypdfium2.PdfDocument(page.pdf(prefer_css_page_size=True))
    page.close()
    assert asked == [path.as_uri()]
    assert not faults
    pages = list(document)
    return Printed(pages, [page.get_textpage().get_text_bounded() for page in pages])


@pytest.fixture(scope="module")
def village(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Printed:
    path = tmp_path_factory.mktemp("village") / "sheet.html"
    done = CliRunner().invoke(throwcount, ["plan", str(EXAMPLE), "--sheet", str(path)])
    assert done.exit_code == 0, done.stderr
    return printed(browser, path)


@pytest.fixture(scope="module")
def sixty(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Printed:
    path = tmp_path_factory.mktemp("sixty") / "sheet.html"
    rows = order(list(sixty_parts()), "Sixty doors")
    path.write_text(sheet_of(rows, props="lanterns", music="doors.ogg"), "utf-8")
    return printed(browser, path)


@pytest.fixture(params=["village", "sixty"])
def a_sheet(request: pytest.FixtureRequest) -> Printed:
    found: Printed = request.getfixturevalue(request.param)
    return found


def test_pages_are_a4_and_nothing_is_cut_off(a_sheet: Printed) -> None:
    for page in a_sheet.pages:
        size = [edge / POINTS_A_MM for edge in page.get_size()]
        assert size == pytest.approx(A4, abs=TOLERANCE_MM)
        inked = (page.render(scale=2).to_numpy().min(axis=(0, 2)) < 255).nonzero()[0]
        edges = inked.min() / 2 / POINTS_A_MM, inked.max() / 2 / POINTS_A_MM
        assert edges == pytest.approx((MARGIN, A4[0] - MARGIN), abs=TOLERANCE_MM)
    for character, (left, bottom, right, top) in a_sheet.boxes:
        where = f"{character!r} at {left:.0f}, {bottom:.0f} mm"
        assert left >= MARGIN - TOLERANCE_MM, where
        assert right <= A4[0] - MARGIN + TOLERANCE_MM, where
        assert 0 < bottom <= top < A4[1], where


def test_each_page_has_the_head_of_the_table_its_number_and_the_title(sixty: Printed) -> None:
    count = len(sixty.pages)
    assert count > 5
    for number, text in enumerate(sixty.texts, 1):
        assert text.count("cue words") == 1
        assert f"page {number} of {count}" in text
        assert "Sixty doors" in text


def test_each_part_is_whole_on_one_page(sixty: Printed) -> None:
    for number in range(1, 61):
        opening, end = (
            [page for page, text in enumerate(sixty.texts) if f"{word}{number:02}" in text]
            for word in ("opens", "closes")
        )
        assert len(opening) == 1
        assert opening == end
    assert "The last part is over at" in sixty.texts[-1]


def test_it_is_read_at_the_length_of_an_arm(a_sheet: Printed) -> None:
    least = ARM * math.tan(math.radians(SMALLEST_ANGLE))
    digits = [
        top - bottom
        for character, (_, bottom, _, top) in a_sheet.boxes
        if character in "0123456789" and bottom > MARGIN + 3  # the page's number is smaller
    ]
    assert len(digits) > 50
    assert min(digits) >= least


def test_it_is_black_and_white(village: Printed) -> None:
    pixels = village.pages[0].render(scale=1).to_numpy()[..., :3].astype(int)
    assert (pixels.max(axis=-1) == pixels.min(axis=-1)).all()
    assert 0.8 < (pixels == 255).mean() < 1  # no grey fields: ink is for words and lines
