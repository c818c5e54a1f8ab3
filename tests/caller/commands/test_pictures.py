"""Pictures of patterns and of states: what is on them, and how their files come to be."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree as ET

import matplotlib as mpl
import networkx as nx
import numpy as np
import numpy.typing as npt
import pytest
from click.testing import Result
from matplotlib.image import imread

from throwcount.caller.pictures.pattern_picture import draw_pattern, layout
from throwcount.caller.pictures.sheet import PictureError, line_style
from throwcount.caller.pictures.state_picture import draw_states, state_places, state_text
from throwcount.engine.patterns.pattern import written_turn
from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.patterns.rules import read
from throwcount.engine.patterns.states import State, ground_states
from throwcount.engine.search.state_graph import number_of_states, states_of, turns_from

MOST_ROWS = 4
"""Rows of a picture that is still seen at once."""

ROW_BEATS = 24
"""Beats whose throws can be told apart across a page."""

MOST_STATES = 24
"""States whose arrows can be told apart."""


Run = Callable[..., Result]

PATTERNS = ["3", "531", "97531", "(4,2x)*", "[33]33", "([44x],2)*", "0", "z", "744" * 60]
SVG = "{http://www.w3.org/2000/svg}"
DUBLIN_CORE = "{http://purl.org/dc/elements/1.1/}"


@pytest.fixture
def in_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def pixels_of(path: Path) -> npt.NDArray[np.uint32]:
    """Return the pixels of a PNG as numbers 0xrrggbb."""
    red, green, blue = (np.rint(imread(path) * 255).astype(np.uint32)[..., :3]).transpose(2, 0, 1)
    return red << 16 | green << 8 | blue


def strokes_of(path: Path) -> list[tuple[str, str]]:
    """Return the colour and the dashes of each stroked path of an SVG."""
    found = []
    for element in ET.parse(path).iter(f"{SVG}path"):
        style = dict(
            part.strip().split(": ", 1) for part in element.get("style", "").split(";") if part
        )
        if "stroke" in style:
            found.append((style["stroke"], style.get("stroke-dasharray", "")))
    return found


@pytest.mark.parametrize("text", PATTERNS, ids=lambda text: text[:12])
@pytest.mark.parametrize("ending", [".svg", ".png"])
def test_every_kind_of_pattern_is_drawn(tmp_path: Path, text: str, ending: str) -> None:
    path = tmp_path / f"drawn{ending}"
    draw_pattern(read(text), path)
    assert [file.name for file in tmp_path.iterdir()] == [path.name]
    if ending == ".svg":
        assert ET.parse(path).getroot().tag == f"{SVG}svg"
    else:
        height, width = pixels_of(path).shape
        assert 800 <= width <= 2000
        assert 300 <= height <= 4500


@pytest.mark.parametrize(("text", "objects"), [("3", 3), ("97531", 5), ("([44x],2)*", 5)])
def test_every_object_has_its_colour_and_its_dashes(
    tmp_path: Path, text: str, objects: int
) -> None:
    draw_pattern(read(text), tmp_path / "drawn.svg")
    draw_pattern(read(text), tmp_path / "drawn.png")
    strokes = strokes_of(tmp_path / "drawn.svg")
    pixels = pixels_of(tmp_path / "drawn.png")
    for index in range(objects):
        style = line_style(index)
        dashed = {bool(dashes) for colour, dashes in strokes if colour == style.colour}
        assert bool(style.dashes) in dashed
        assert int(style.colour[1:], 16) in pixels
    assert line_style(objects).colour not in {colour for colour, _ in strokes}


@pytest.mark.parametrize(
    ("text", "rows", "beats"),
    [
        ("3", 1, 12),
        ("531", 1, 12),
        ("97531", 1, 20),
        ("(4,4)", 1, 12),
        ("7" * 24, 4, 96),
        ("744" * 60, MOST_ROWS, MOST_ROWS * ROW_BEATS),
    ],
    ids=lambda value: str(value)[:12],
)
def test_whole_paths_are_drawn_in_whole_rows(text: str, rows: int, beats: int) -> None:
    plan = layout(read(text))
    assert (len(plan.rows), plan.beats) == (rows, beats)


def test_the_same_picture_is_the_same_file_everywhere(tmp_path: Path) -> None:
    mpl.rcParams["lines.linewidth"] = 7
    try:
        draw_pattern(read("531"), tmp_path / "here.svg")
        draw_states(HandLimits(highest=6), 4, tmp_path / "states.svg")
        assert mpl.rcParams["lines.linewidth"] == 7
    finally:
        mpl.rcdefaults()
    code = (
        "import sys\n"
        "from pathlib import Path\n"
        "from throwcount.caller.pictures.pattern_picture import draw_pattern\n"
        "from throwcount.caller.pictures.state_picture import draw_states\n"
        "from throwcount.engine.patterns.rules import read\n"
        "from throwcount.engine.patterns.rows import HandLimits\n"
        "assert 'matplotlib' not in sys.modules\n"
        f"draw_pattern(read('531'), Path({str(tmp_path / 'there.svg')!r}))\n"
        f"draw_states(HandLimits(highest=6), 4, Path({str(tmp_path / 'states there.svg')!r}))\n"
        "assert 'matplotlib.pyplot' not in sys.modules\n"
    )
    environment = {**os.environ, "PYTHONHASHSEED": "1", "TZ": "Asia/Tokyo"}
    subprocess.run([sys.executable, "-c", code], check=True, env=environment)
    here, there = (tmp_path / name for name in ("here.svg", "there.svg"))
    assert here.read_bytes() == there.read_bytes()
    assert (tmp_path / "states.svg").read_bytes() == (tmp_path / "states there.svg").read_bytes()


def test_an_svg_says_what_it_shows_and_not_when(tmp_path: Path) -> None:
    draw_pattern(read("(4,2x)*"), tmp_path / "drawn.svg")
    tree = ET.parse(tmp_path / "drawn.svg")
    told = {element.tag: element.text for element in tree.iter() if DUBLIN_CORE in element.tag}
    assert told[f"{DUBLIN_CORE}title"] == "(4,2x)*"
    assert told[f"{DUBLIN_CORE}description"] == "(4,2x)*: 3 objects; both hands throw at once."
    assert f"{DUBLIN_CORE}date" not in told


def test_check_draws_and_tells_as_ever(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "531.svg"
    drawn = run("check", "531", "--picture", str(path), "--first", "left")
    assert (drawn.exit_code, drawn.stderr) == (0, "")
    assert drawn.stdout == run("check", "531", "--first", "left").stdout
    assert "the left hand begins" in path.read_text("utf-8")
    png = tmp_path / "531.PNG"
    assert run("check", "531", "--json", "--picture", str(png)).stdout.startswith('{"pattern"')
    assert png.read_bytes().startswith(b"\x89PNG")


def test_nothing_is_overwritten_without_force(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "kept.svg"
    path.write_text("mine", "utf-8")
    refused = run("check", "531", "--picture", str(path))
    assert (refused.exit_code, refused.stdout) == (3, "")
    assert "was left as it is" in refused.stderr
    assert path.read_text("utf-8") == "mine"
    assert run("check", "531", "--picture", str(path), "--force").exit_code == 0
    assert path.read_text("utf-8").startswith("<?xml")
    assert [file.name for file in tmp_path.iterdir()] == ["kept.svg"]


@pytest.mark.parametrize(
    ("arguments", "status", "fragment"),
    [
        (["531", "--picture", "drawn.pdf"], 2, "drawn.pdf has to end in .svg or .png."),
        (["531", "--picture", "drawn"], 2, "has to end in"),
        (["531", "--picture", "no/such/folder/drawn.svg"], 3, "no such folder"),
        (["543", "--picture", "drawn.svg"], 1, "meet"),
    ],
)
def test_what_is_not_drawn(
    run: Run, in_empty_folder: Path, arguments: list[str], status: int, fragment: str
) -> None:
    result = run("check", *arguments)
    assert (result.exit_code, result.stdout) == (status, "")
    assert fragment in result.stderr
    assert not list(in_empty_folder.iterdir())


def test_without_matplotlib_it_is_said_how_to_get_it(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib.figure", None)
    result = run("check", "531", "--picture", str(tmp_path / "531.svg"))
    assert (result.exit_code, result.stdout) == (3, "")
    assert "pip install 'throwcount[pictures]'" in result.stderr
    assert not list(tmp_path.iterdir())


GRAPHS = [
    (HandLimits(highest=3), 1),
    (HandLimits(highest=4), 3),
    (HandLimits(highest=5), 2),
    (HandLimits(highest=6), 3),
    (HandLimits(highest=6), 4),
    (HandLimits(highest=6), 5),
    (HandLimits(highest=24), 1),
    (HandLimits("sync", 4), 3),
    (HandLimits("sync", 6), 5),
    (HandLimits("async", 3, 2), 4),
    (HandLimits("async", 4, 2), 8),
    (HandLimits("sync", 2, 2), 3),
]


@pytest.mark.parametrize(("hands", "objects"), GRAPHS, ids=repr)
def test_states_are_drawn(tmp_path: Path, hands: HandLimits, objects: int) -> None:
    draw_states(hands, objects, tmp_path / "states.svg")
    draw_states(hands, objects, tmp_path / "states.png")
    strokes = {colour for colour, _ in strokes_of(tmp_path / "states.svg")}
    drawn = (tmp_path / "states.svg").read_text("utf-8")
    arrows = 0
    for state in states_of(hands, objects):
        assert state_text(hands, state) in drawn
        for turn, _ in turns_from(hands, state):
            arrows += 1
            assert written_turn(hands.kind, turn) in drawn
    assert f": {arrows} throw" in drawn
    assert line_style(hands.highest).colour in strokes


@pytest.mark.parametrize("highest", [4, 6])
def test_every_value_has_its_colour(tmp_path: Path, highest: int) -> None:
    draw_states(HandLimits(highest=highest), 3, tmp_path / "states.svg")
    drawn = {colour for colour, _ in strokes_of(tmp_path / "states.svg")}
    assert {line_style(value).colour for value in range(highest + 1)} <= drawn


@pytest.mark.parametrize(("hands", "objects"), GRAPHS, ids=repr)
def test_columns_are_the_shortest_ways_from_the_ground_state(
    hands: HandLimits, objects: int
) -> None:
    every = list(states_of(hands, objects))
    graph = nx.DiGraph((one, after) for one in every for _, after in turns_from(hands, one))
    starts = set(ground_states(hands.kind, objects)) & set(every) or {every[0]}
    distances = nx.multi_source_dijkstra_path_length(graph, starts)
    places = state_places(hands, objects)
    assert set(places) == set(every)
    columns = sorted({along for along, _ in places.values()})
    assert {state: columns.index(along) for state, (along, _) in places.items()} == distances
    assert len(set(places.values())) == len(places)


@pytest.mark.parametrize(
    ("hands", "state", "text"),
    [
        (HandLimits(highest=5), ((1, 1, 1),), "11100"),
        (HandLimits(highest=5), ((1, 1, 0, 1),), "11010"),
        (HandLimits(highest=5), ((0, 0, 0, 0, 1),), "00001"),
        (HandLimits("async", 4, 3), ((3, 0, 2),), "3020"),
        (HandLimits("sync", 6), ((1, 1), ()), "(110,000)"),
    ],
)
def test_a_state_is_named_by_the_beats_to_come(hands: HandLimits, state: State, text: str) -> None:
    assert state_text(hands, state) == text


@pytest.mark.parametrize(
    "hands", [HandLimits(highest=7), HandLimits("sync", 8), HandLimits("async", 5, 2)]
)
def test_too_many_states_are_refused(tmp_path: Path, hands: HandLimits) -> None:
    number = number_of_states(hands, 3)
    with pytest.raises(
        PictureError, match=f"{number} states, and a picture .* up to {MOST_STATES}"
    ):
        draw_states(hands, 3, tmp_path / "states.svg")
    assert not list(tmp_path.iterdir())
