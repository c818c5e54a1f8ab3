"""Titles, names and cues that would be markup or commands, as other programs read what is written.

A browser shows the page, the captions and the picture, and runs nothing of them; webvtt-py, an XML
parser (expat) and mido read the files.
"""

import json
import re
import xml.etree.ElementTree as ET
from collections.abc import Callable
from pathlib import Path

import mido
import pytest
import webvtt
from click.testing import CliRunner, Result
from phone_page import opened
from playwright.sync_api import Browser

from throwcount.caller.main import throwcount
from throwcount.caller.routine_file.starter import toml_lines

HOSTILE = [
    "</script><script>window.hit=1</script>",
    "<img src=x onerror='window.hit=1'>",
    "]]><!-- &amp; &#60;b> <svg onload=window.hit=1>",
    "00:00.000 --> 99:00.000 <c.x>",
    "[00:00.00]sung [ti:x] $1 {{7*7}} `id` %s",
    'a" onmouseover="window.hit=1',
]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a folder with all that is written of a routine with hostile texts."""
    place = tmp_path_factory.mktemp("hostile")
    title, name, cue, other, rest, how = HOSTILE
    parts = [
        {"pattern": "531", "cycles": 4, "name": name, "how": how},
        {"rest": True, "beats": 20, "name": rest},
        {"pattern": "3", "cycles": 4, "name": other, "cue": cue},
    ]
    document = {"title": title, "props": cue, "names": "<b>,&amp;,]]>", "part": parts}
    routine = place / "r.toml"
    routine.write_text("".join(toml_lines(document)), "utf-8")
    beside = ("--midi", "m.mid", "--captions", "c.vtt", "--page", "p.html", "--events", "e.json")
    others = [place / each if "." in each else each for each in beside]
    run("render", routine, "-o", place / "s.wav", *others)
    run("render", routine, "-o", place / "t.wav", "--captions", place / "l.lrc")
    run("plan", routine, "--picture", place / "plan.svg")
    return place


def run(*arguments: object) -> Result:
    result = CliRunner().invoke(throwcount, [*map(str, arguments)])
    assert result.exit_code == 0, result.output
    return result


def test_an_xml_parser_reads_the_picture(folder: Path) -> None:
    root = ET.parse(folder / "plan.svg").getroot()
    tags = {element.tag.rpartition("}")[2].lower() for element in root.iter()}
    assert not tags & {"script", "img", "foreignobject", "b"}
    assert not any(name.lower().startswith("on") for each in root.iter() for name in each.attrib)
    assert HOSTILE[0] in "".join(root.itertext())


def test_a_caption_parser_reads_as_many_captions_as_there_are(folder: Path) -> None:
    captions = list(webvtt.read(folder / "c.vtt"))
    assert not any("-->" in caption.text for caption in captions)
    assert max(caption.end_in_seconds for caption in captions) < 60


def test_every_line_of_the_lyrics_is_one(folder: Path) -> None:
    lines = (folder / "l.lrc").read_text("utf-8").splitlines()
    times = [re.fullmatch(r"\[(\d\d):(\d\d\.\d\d)\](?!\[)((?!\[\d).)*", line) for line in lines]
    tags = [line for line, time in zip(lines, times, strict=True) if time is None and line]
    assert all(re.fullmatch(r"\[[a-z]+:[^\[\]]*\]", tag) for tag in tags)
    seconds = [60 * int(time[1]) + float(time[2]) for time in times if time]
    assert seconds == sorted(seconds)
    assert seconds[-1] < 60


def test_the_texts_of_midi_are_whole(folder: Path) -> None:
    texts = [
        getattr(message, "text", None) or getattr(message, "name", "")
        for track in mido.MidiFile(folder / "m.mid").tracks
        for message in track
        if message.is_meta
    ]
    assert any(HOSTILE[0].isascii() and HOSTILE[0] in text for text in texts)


def test_json_keeps_the_exact_texts(folder: Path) -> None:
    parts = {beat["part"] for beat in json.loads((folder / "e.json").read_bytes())["beats"]}
    assert {HOSTILE[1], HOSTILE[3], HOSTILE[4]} <= parts


TRACK = """
async (text) => {
    const track = document.createElement("track");
    track.src = URL.createObjectURL(new Blob([text], { type: "text/vtt" }));
    const video = document.createElement("video");
    video.append(track);
    document.body.append(video);
    track.track.mode = "hidden";
    await new Promise((done, failed) => { track.onload = done; track.onerror = failed; });
    return [...track.track.cues].map((cue) => {
        const shown = cue.getCueAsHTML();
        document.body.append(shown.cloneNode(true));
        return [cue.startTime, shown.textContent];
    });
}
"""


def test_a_browser_runs_nothing_of_it(browser: Browser, folder: Path) -> None:
    page = opened(browser, folder / "p.html")
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    assert page.title() == HOSTILE[0]
    elements = page.locator("script, img").count()
    cues = page.evaluate(TRACK, (folder / "c.vtt").read_text("utf-8"))
    read = [(each.start_in_seconds, each.text) for each in webvtt.read(folder / "c.vtt")]
    assert len(cues) == len(read)
    assert page.locator("script, img").count() == elements
    assert page.evaluate("window.hit") is None
    page.goto((folder / "plan.svg").as_uri())
    assert page.evaluate("window.hit") is None
    assert page.evaluate("document.querySelectorAll('script, img, foreignObject').length") == 0
    page.context.close()
    assert not faults


@pytest.mark.parametrize("form", [("plan",), ("plan", "--json")])
def test_what_a_terminal_would_obey_is_shown(
    tmp_path: Path, run_here: Callable[..., Result], form: tuple[str, ...]
) -> None:
    place = tmp_path / "red\x1b[31m\u202etxt.toml"
    place.write_text('[[part]]\npattern = "531"\ncycles = 2\n')
    result = run_here(*form, place)
    assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", result.output)
    if form == ("plan",):
        assert "red\\x1b[31m\\u202etxt" in result.output
    else:
        assert json.loads(result.output)["title"] == place.stem


@pytest.fixture
def run_here() -> Callable[..., Result]:
    return run
