"""The picture of a routine: what is on it, and how its file comes to be."""

import json
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from click.testing import Result
from matplotlib.image import imread

from throwcount.caller.pictures.sheet import COLOURS, PictureError
from throwcount.caller.plans.picture import fitting, rows_of
from throwcount.engine.routines.running_order import Entry, RunningOrder

MOST_ROWS = 12
"""Rows of a picture that fits a page."""

ROW_WIDTH = 12.0
"""Inches: the width of a page on its side."""


Run = Callable[..., Result]

EXAMPLES = Path(__file__).parents[3] / "examples"
SVG = "{http://www.w3.org/2000/svg}"
DUBLIN_CORE = "{http://purl.org/dc/elements/1.1/}"


def order_of(parts: int, seconds: float = 600.0) -> RunningOrder:
    each = seconds / parts
    entries = tuple(
        Entry(
            kind="part",
            number=number + 1,
            title="3",
            text="3",
            beat=number * 10,
            beats=10,
            time=number * each,
            seconds=each,
            tempo=180,
            to=180,
            slowest=180,
            fastest=180,
            objects=3,
        )
        for number in range(parts)
    )
    return RunningOrder("long", entries, (), seconds, parts * 10, ())


def comments(path: Path) -> set[str]:
    """Return the texts of an SVG, which matplotlib keeps as comments beside their outlines."""
    parser = ET.XMLParser(target=ET.TreeBuilder(insert_comments=True))
    tree = ET.parse(path, parser)
    return {each.text.strip() for each in tree.iter() if each.tag is ET.Comment and each.text}


@pytest.mark.parametrize("name", ["boathouse", "village", "green"])
def test_the_examples_are_drawn(run: Run, tmp_path: Path, name: str) -> None:
    path = tmp_path / "drawn.svg"
    result = run("plan", EXAMPLES / f"{name}.toml", "--picture", path, "--json")
    assert result.exit_code == 0, result.stderr
    document = json.loads(result.stdout)
    texts = comments(path)
    assert document["title"] in texts
    for entry in document["entries"]:
        if entry["kind"] != "bridge":
            begins = f"{entry['number']} {entry['title'][:4]}"
            assert any(text.startswith(begins) for text in texts), begins
        if entry["cue"] is not None:
            assert any(text.startswith(entry["cue"]["text"][:5]) for text in texts)
    assert f"ceiling, {document['ceiling']:g} m" in texts
    assert list(tmp_path.iterdir()) == [path]


def test_it_says_what_it_shows_and_is_the_same_each_time(run: Run, tmp_path: Path) -> None:
    one, other = tmp_path / "one.svg", tmp_path / "other.svg"
    for path in (one, other):
        assert run("plan", EXAMPLES / "boathouse.toml", "--picture", path).exit_code == 0
    assert one.read_bytes() == other.read_bytes()
    tree = ET.parse(one)
    told = {element.tag: element.text for element in tree.iter() if DUBLIN_CORE in element.tag}
    assert told[f"{DUBLIN_CORE}title"] == "Out of the boathouse"
    described = told[f"{DUBLIN_CORE}description"] or ""
    assert described.startswith("Out of the boathouse, 1:01 long: setting out, 423, 441, ")
    assert f"{DUBLIN_CORE}date" not in told


@pytest.mark.parametrize(("ceiling", "over"), [("2.7", False), ("2.4", True)])
def test_what_is_over_the_ceiling_is_a_thick_line(
    run: Run, tmp_path: Path, ceiling: str, *, over: bool
) -> None:
    path = tmp_path / "drawn.svg"
    arguments = ("--ceiling", ceiling, "--picture", path)
    assert run("plan", EXAMPLES / "boathouse.toml", *arguments).exit_code == 0
    strokes = [each.get("style", "") for each in ET.parse(path).iter(f"{SVG}path")]
    thick = [stroke for stroke in strokes if COLOURS["vermilion"] in stroke and "3.5" in stroke]
    assert bool(thick) is over


def test_a_png_has_a_size_that_can_be_read(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "drawn.png"
    assert run("plan", EXAMPLES / "village.toml", "--picture", path).exit_code == 0
    height, width, _ = imread(path).shape
    assert 1000 <= width <= 2000
    assert 1000 <= height <= 2000


@pytest.mark.parametrize("parts", [1, 5, 9, 10, 50, 115])
def test_rows_cover_the_whole_routine(parts: int) -> None:
    order = order_of(parts)
    rows, width = rows_of(order)
    assert (rows[0].start, rows[-1].end) == pytest.approx((0, order.seconds))
    for before, after in pairwise(rows):
        assert before.end == pytest.approx(after.start)
    assert 6 <= width <= ROW_WIDTH
    assert len(rows) <= MOST_ROWS


def test_too_many_parts_are_refused(run: Run, tmp_path: Path) -> None:
    with pytest.raises(PictureError, match="116 parts, and a picture is readable with up to 115"):
        rows_of(order_of(116))
    many = '[[part]]\nrepeat = 116\n[[part.part]]\npattern = "3"\ncycles = 4\n'
    (tmp_path / "many.toml").write_text(many, "utf-8")
    result = run("plan", tmp_path / "many.toml", "--picture", tmp_path / "many.svg", "--json")
    assert (result.exit_code, result.stderr) == (1, "")
    assert "116 parts" in json.loads(result.stdout)["message"]
    assert not (tmp_path / "many.svg").exists()


def test_nothing_is_overwritten_without_force(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "kept.svg"
    path.write_text("mine", "utf-8")
    arguments = (EXAMPLES / "boathouse.toml", "--picture", path)
    refused = run("plan", *arguments)
    assert (refused.exit_code, refused.stdout) == (3, "")
    assert path.read_text("utf-8") == "mine"
    assert run("plan", *arguments, "--force").exit_code == 0
    assert path.read_text("utf-8").startswith("<?xml")


@pytest.mark.parametrize(
    ("text", "inches", "expected"),
    [
        ("the well", 1.0, "the well"),
        ("the well", 0.35, "the …"),
        ("the well", 0.2, ""),
        ("", 0, ""),
    ],
)
def test_words_are_cut_to_their_room(text: str, inches: float, expected: str) -> None:
    assert fitting(text, inches) == expected
