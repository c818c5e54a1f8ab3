"""Texts from outside on a cue sheet and in comma-separated values come back as they were."""

import csv
import re
from dataclasses import replace
from io import StringIO

import pytest
from cue_sheets import CUE, PART, ReadSheet, order, sheet_of
from hypothesis import given
from hypothesis import strategies as st

from throwcount.caller.plans.part_lines import part_lines, spreadsheet
from throwcount.caller.plans.sheet import LONGEST, LONGEST_HOW
from throwcount.engine.patterns.flight import Room
from throwcount.engine.routines.running_order import RunningOrder

HOSTILE = (
    "</title></style><script>hit()</script><!--",
    '"\' onload="hit()" [[rows]] \\',
    '*/ } body { display: none } @import "x";',
    "&amp; &#65; &lt;b&gt; ]]> {}%s",
    '=1+1,"two"\t;\u202ertl \u05d0 \U0001f3ae',
)
LINE = st.text(
    st.characters(exclude_categories=("Cc", "Cn", "Cs", "Zl", "Zp")),
    min_size=1,
    max_size=LONGEST,
)
"""What a routine file may have for a name or a cue."""


def order_of(text: str) -> RunningOrder:
    return order([replace(PART, title=text, how=text, cue=replace(CUE, text=text))], text)


def written(text: str) -> str:
    return sheet_of(order_of(text), props=text, music="tune.ogg")


def css_string(source: str) -> str:
    """Return what the string in the page's corner says, by CSS Syntax Level 3, section 4.3.7."""
    (escaped,) = re.findall(r'@bottom-left \{ content: "([^"]*)"', source)
    return re.sub(r"\\([0-9a-f]{6})", lambda found: chr(int(found[1], 16)), escaped)


def check(text: str) -> None:
    source = written(text)
    plain = ReadSheet(written("plain"))
    found = ReadSheet(source)
    assert found.tags == plain.tags
    assert found.attributes == plain.attributes
    row = found.rows[0]
    assert found.texts["title"] == found.texts["h1"] == [text]
    assert found.texts["p"][0] == f"1:03:20 long · {text} · music: tune.ogg"
    assert row["pattern"] == (f"{text}, {text}" if text == "531" else f"{text}: 531, {text}")
    assert (row["at"], row["cue"]) == ("1:02:05", f"0:10 {text}")
    assert css_string(source) == text


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_texts_are_texts(text: str) -> None:
    check(text)


@given(LINE)
def test_any_text_is_a_text(text: str) -> None:
    check(text)


@given(LINE)
def test_any_text_comes_back_from_the_values(text: str) -> None:
    entries = order_of(text).entries
    lines = "".join(spreadsheet(part_lines(entries, ("1",), Room())))
    (row,) = csv.DictReader(StringIO(lines, newline=""), strict=True)
    assert (row["title"], row["how"], row["cue"]) == (text, text, text)


def test_a_file_name_that_is_no_text_is_a_title() -> None:
    """Linux has such names; without a title of its own, a routine is called after its file."""
    (title,) = ReadSheet(written("walk\udce4")).texts["h1"]
    assert title == "walk\ufffd"


def test_nothing_is_fetched_or_run() -> None:
    source = written("https://example.org/")
    found = ReadSheet(source)
    assert {"script", "img", "iframe", "object", "form", "a"}.isdisjoint(found.tags)
    assert [value for name, value in found.attributes if name in {"src", "href"}] == ["data:,"]
    assert "url(" not in source
    assert "@import" not in source


def test_long_texts_are_cut_where_a_row_would_fill_a_page() -> None:
    found = ReadSheet(written("x" * 2 * LONGEST_HOW)).rows[0]
    cut, how = "x" * LONGEST + "...", "x" * LONGEST_HOW + "..."
    assert found["pattern"] == f"{cut}: 531, {how}"
    assert found["cue"] == f"0:10 {'x' * 2 * LONGEST_HOW}"  # what is said is never cut


def test_a_cue_that_is_not_said_has_no_time() -> None:
    entry = replace(PART, cue=replace(CUE, text="go", said=False))
    assert ReadSheet(sheet_of(order([entry]))).rows[0]["cue"] == "not said: go"
    (row,) = csv.DictReader(spreadsheet(part_lines([entry], ("1",), Room())))
    assert (row["cue"], row["cue_time"]) == ("go", "")
