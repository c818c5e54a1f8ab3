"""The picture of a take: what is on it, told to those who cannot see it as well."""

from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from matplotlib.image import imread
from told_takes import told_take

from throwcount.caller.reports.picture import can_be_drawn, draw_take
from throwcount.engine.takes.catches import Catch

DUBLIN_CORE = "{http://purl.org/dc/elements/1.1/}"


def late_and_stopping(catch: Catch) -> float | None:
    return None if catch.beat >= 60 else 0.03 if catch.value == 7 else 0.0


def comments(path: Path) -> set[str]:
    """Return the texts of an SVG, which matplotlib keeps as comments beside their outlines."""
    parser = ET.XMLParser(target=ET.TreeBuilder(insert_comments=True))
    tree = ET.parse(path, parser)
    return {each.text.strip() for each in tree.iter() if each.tag is ET.Comment and each.text}


@pytest.mark.parametrize(
    ("known", "shown"),
    [
        (True, {"right hand", "left hand", "not heard", "drop, after this throw", "asked for"}),
        (False, {"both hands, or not known", "kept", "catches a minute"}),
    ],
)
def test_what_is_heard_is_drawn_and_named(tmp_path: Path, known: bool, shown: set[str]) -> None:
    path = tmp_path / "take.svg"
    draw_take(told_take("744", 120, late_and_stopping, known=known), path)
    texts = comments(path)
    assert shown <= texts
    assert ("4 on beat 2" in texts) == known


def test_the_description_tells_it_in_words(tmp_path: Path) -> None:
    path = tmp_path / "take.svg"
    draw_take(told_take("744", 120, late_and_stopping), path)
    told = ET.parse(path).find(f".//{DUBLIN_CORE}description")
    assert told is not None
    assert told.text is not None
    assert "late throws: the 7" in told.text
    assert "drop at " in told.text


def test_the_same_take_gives_the_same_file(tmp_path: Path) -> None:
    for name in ("one.svg", "two.svg"):
        draw_take(told_take(), tmp_path / name)
    assert (tmp_path / "one.svg").read_bytes() == (tmp_path / "two.svg").read_bytes()


def test_a_take_of_thousands_of_catches_is_drawn(tmp_path: Path) -> None:
    path = tmp_path / "long.png"
    draw_take(told_take("3", 4_500), path)
    assert imread(path).shape[1] == 1_800


def test_nothing_is_drawn_where_nothing_was_heard() -> None:
    assert not can_be_drawn(told_take("3", 60, lambda _: None).report)
    assert can_be_drawn(told_take("3", 60).report)
