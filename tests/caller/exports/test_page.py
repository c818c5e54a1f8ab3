"""The page as a file, read by Python's own HTML parser."""

import base64
import hashlib
import json
import re
import tracemalloc
from collections.abc import Iterable, Iterator
from dataclasses import replace
from html.parser import HTMLParser
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from acts import Act, act, one_pattern
from click.testing import CliRunner
from handmade import beats as beats_by_hand
from handmade import timeline as timeline_by_hand

from throwcount.caller.exports.page import write_page
from throwcount.caller.main import throwcount
from throwcount.caller.terminal.printing import CAUTION
from throwcount.engine.scheduling.scheduler import Chapter
from throwcount.engine.timing.tempo import steady
from throwcount.engine.timing.timeline import Beat, Cue, Timeline
from throwcount.sounds.errors import FileError
from throwcount.sounds.files.sound_pieces import SoundPieces, file_blocks, sound_pieces
from throwcount.sounds.samples import Samples

HOSTILE = "</script><script>alert(1)</script><!--<script>&amp;\u2028\u2029\"'\\"
RATE = 8_000
NOISE = np.random.default_rng(5).integers(-9000, 9000, (RATE * 29, 2)).astype(np.float32) / 32768
"""More than two pieces, and no whole number of them; each sample is one of 16 bits."""

CHAPTERS = (Chapter(0.0, 1.0, "getting ready", "ready"), Chapter(1.0, 9.0, "531"))


class Elements(HTMLParser):
    """The elements of a page: what they are, their attributes, and the text directly in them."""

    def __init__(self, source: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None], str]] = []
        self.feed(source)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs), ""))

    def handle_endtag(self, tag: str) -> None:
        self.found.append((f"/{tag}", {}, ""))

    def handle_data(self, data: str) -> None:
        if self.found:
            tag, attributes, text = self.found[-1]
            self.found[-1] = (tag, attributes, text + data)

    def all(self, tag: str, **attributes: str) -> list[tuple[dict[str, str | None], str]]:
        return [
            (having, text)
            for name, having, text in self.found
            if name == tag and attributes.items() <= having.items()
        ]

    def course(self) -> dict[str, Any]:
        [(_, text)] = self.all("script", id="course")
        found: dict[str, Any] = json.loads(text)
        return found


def exact(blocks: Iterable[Samples] = (NOISE,)) -> SoundPieces:
    return sound_pieces(blocks, RATE, len(NOISE), compact=False)


def written(folder: Path, an_act: Act) -> Path:
    path = folder / "page.html"
    write_page(path, an_act.title, an_act.timeline, an_act.chapters, exact(), overwrite=False)
    return path


def read(path: Path) -> Elements:
    return Elements(path.read_text("ascii"))


def scripts_that_run(page: Elements) -> list[str]:
    return [text for attributes, text in page.all("script") if "type" not in attributes]


def test_every_beat_is_told_as_it_is(tmp_path: Path) -> None:
    an_act = act()
    course = read(written(tmp_path, an_act)).course()
    told = course["beats"]
    for row, beat in zip(told, an_act.timeline, strict=True):
        time, tempo, chapter, kind, *throw = row
        assert time == pytest.approx(beat.time, abs=1e-4)
        assert tempo == pytest.approx(beat.tempo, abs=0.5)
        between = an_act.chapters[chapter]
        assert between.start - 1e-3 <= beat.time < between.end
        if beat.cycle is None:
            assert kind == (beat.part if beat.part in {"count-in", "run-out"} else "rest")
            assert not throw
        else:
            assert kind == "throw"
            assert throw[:2] == [beat.cycle, beat.cycle_beat]
            assert [re.findall(r"\wx?", sign) for sign in throw[2:]] == [
                list(beat.throws.left),
                list(beat.throws.right),
            ]
    assert course["seconds"] == an_act.timeline.seconds


def test_chapters_and_cues_are_told_as_they_are(tmp_path: Path) -> None:
    an_act = act()
    course = read(written(tmp_path, an_act)).course()
    assert [(each["title"], each["kind"]) for each in course["chapters"]] == [
        (chapter.title, chapter.kind) for chapter in an_act.chapters
    ]
    assert [each["cycles"] for each in course["chapters"]] == [0, 10, 1, 0, 6, 0, 11, 0]
    assert [each["widest"] for each in course["chapters"]] == [0, 1, 1, 0, 2, 0, 2, 0]
    assert course["chapters"][1]["how"] == "under the leg"
    times = {beat.beat: beat.time for beat in an_act.timeline}
    announcing = [cue for cue in an_act.timeline.cues if cue.change is not None]
    assert [(cue["text"], cue["time"], cue["until"]) for cue in course["cues"]] == [
        (cue.text, pytest.approx(cue.time, abs=1e-4), pytest.approx(times[change], abs=1e-4))
        for cue in announcing
        if (change := cue.change) is not None
    ]


@pytest.mark.parametrize(
    ("pattern", "left", "right"),
    [
        # Three objects: two in the hand that begins (common practice).
        ("3", 1, 2),
        ("531", 1, 2),
        ("744", 2, 3),
        ("97531", 2, 3),
        # Counted out by hand; where the hands alternate, the right one throws on the even beats.
        ("51", 2, 1),
        ("(4,2x)*", 1, 2),
        ("[33]33", 1, 3),
        # A cycle of one beat over and over, once: not every object is seen.
        pytest.param("b", None, None, id="one throw of eleven"),
    ],
)
def test_what_each_hand_begins_with(
    tmp_path: Path, pattern: str, left: int | None, right: int | None
) -> None:
    count = 1 if left is None else 60
    timeline = one_pattern(pattern, count, steady(180))
    first = next(beat.time for beat in timeline if beat.cycle is not None)
    end = timeline.seconds or 0.0
    chapters = (Chapter(0, first, "ready", "ready"), Chapter(first, end, "it"))
    course = read(written(tmp_path, Act(timeline, chapters, "one"))).course()
    assert course["chapters"][1]["held"] == (None if left is None else [left, right])


def test_the_pieces_of_the_sound_are_in_it(tmp_path: Path) -> None:
    page = read(written(tmp_path, act()))
    pieces = [text for _, text in page.all("script", type="text/plain")]
    assert len(pieces) == 3
    assert [base64.b64decode(piece, validate=True) for piece in pieces] == [*exact()]
    assert scripts_that_run(page)[1:] == ["take()"] * len(pieces) + ["ready()"]
    sound = exact()
    assert page.course()["sound"] == {
        "rate": RATE,
        "frames": len(NOISE),
        "pieceFrames": sound.piece_frames,
        "margin": sound.margin,
        "quiet": sound.quiet,
        "lead": sound.lead,
    }


def test_catches_are_told_with_the_beats_of_their_throws(tmp_path: Path) -> None:
    # By Shannon's theorem a 3 flies 3 - 2 * 2/3 beats; a 1 is handed over half-way.
    timeline = one_pattern("31", 6, steady(120))
    chapters = (Chapter(0, 1, "ready", "ready"), Chapter(1, timeline.seconds or 0, "it"))
    course = read(written(tmp_path, Act(timeline, chapters, "one"))).course()
    thrown = [index for index, beat in enumerate(course["beats"]) if beat[3] == "throw"]
    due = sorted(
        (course["beats"][index][0] + (5 / 3 if index % 2 == thrown[0] % 2 else 0.5) / 2, index)
        for index in thrown
    )
    assert course["catches"] == [[pytest.approx(time, abs=2e-4), index] for time, index in due]


@pytest.mark.parametrize(
    ("start", "bridge", "goal", "expected"),
    [
        # As the README has it: the right hand throws a 4, the left hand waits and keeps a 1.
        ("3", "4 1", "(4x,2x)", [("left", "wait")]),
        ("(4x,2x)", None, "3", None),
    ],
)
def test_hands_that_wait_or_hurry_are_told(
    tmp_path: Path, start: str, bridge: str | None, goal: str, expected: list[Any] | None
) -> None:
    routine = tmp_path / "routine.toml"
    own = f'bridge = "{bridge}"\n' if bridge else ""
    routine.write_text(
        f'title = "two"\ntempo = 180\n[[part]]\npattern = "{start}"\ncycles = 8\n'
        f'[[part]]\npattern = "{goal}"\n{own}cycles = 8\n'
    )
    page, events = tmp_path / "two.html", tmp_path / "two.json"
    arguments = ["render", routine, "-o", tmp_path / "two.wav", "--page", page, "--events", events]
    result = CliRunner().invoke(throwcount, [*map(str, arguments)])
    assert result.exit_code == 0, result.output
    told = [(hand, what) for _, hand, what in read(page).course()["actions"]]
    assert told == (expected or told)
    beats = json.loads(events.read_text())["beats"]
    words = [(beat["call"]) for beat in beats if beat["call"] in {"wait", "hurry"}]
    assert [what for _, what in told] == words
    assert [hand for hand, _ in told] == [hand for beat in beats for hand in beat["hurried"]]


def test_text_from_outside_is_text(tmp_path: Path) -> None:
    plain = read(written(tmp_path, act()))
    (tmp_path / "hostile").mkdir()
    titles = [f"{index}{HOSTILE}" for index in range(5)]
    hostile = act(titles, [HOSTILE] * 3, HOSTILE)
    page = read(written(tmp_path / "hostile", hostile))
    assert [tag for tag, *_ in page.found] == [tag for tag, *_ in plain.found]
    assert scripts_that_run(page) == scripts_that_run(plain)
    course = page.course()
    assert course["title"] == HOSTILE
    assert [each["title"] for each in course["chapters"][1:5]] == titles[:4]
    assert {cue["text"] for cue in course["cues"]} == {HOSTILE}
    [(_, title)] = page.all("title")
    assert title == HOSTILE


def test_the_policy_lets_only_the_pages_own_scripts_run(tmp_path: Path) -> None:
    page = read(written(tmp_path, act()))
    [(meta, _)] = page.all("meta", **{"http-equiv": "Content-Security-Policy"})
    policy = dict(each.strip().split(" ", 1) for each in str(meta["content"]).split(";"))
    [(_, style)] = page.all("style")

    def hashes(sources: list[str]) -> set[str]:
        digests = (hashlib.sha256(source.encode()).digest() for source in sources)
        return {f"'sha256-{base64.b64encode(digest).decode()}'" for digest in digests}

    assert policy == {
        "default-src": "'none'",
        "script-src": policy["script-src"],
        "style-src": policy["style-src"],
        "media-src": "blob:",
        "img-src": "data:",
        "base-uri": "'none'",
        "form-action": "'none'",
    }
    assert set(policy["script-src"].split()) == hashes(scripts_that_run(page))
    assert set(policy["style-src"].split()) == hashes([style])


def test_nothing_in_it_points_elsewhere(tmp_path: Path) -> None:
    page = read(written(tmp_path, act()))
    pointing = ("src", "href", "srcset", "action", "data", "poster", "ping")
    assert [
        attributes[name]
        for _, attributes, _ in page.found
        for name in pointing
        if name in attributes
    ] == ["data:,"]
    assert not any(name.startswith("on") for _, having, _ in page.found for name in having)


def test_the_caution_stands_on_it_once(tmp_path: Path) -> None:
    assert written(tmp_path, act()).read_text("ascii").count(CAUTION) == 1


def test_a_page_that_is_there_is_kept_unless_told(tmp_path: Path) -> None:
    path = written(tmp_path, act())
    before = path.read_bytes()
    again = act(title="another")
    arguments = (again.title, again.timeline, again.chapters)
    with pytest.raises(FileError, match="already"):
        write_page(path, *arguments, exact(), overwrite=False)
    assert path.read_bytes() == before
    write_page(path, *arguments, exact(), overwrite=True)
    assert b"another" in path.read_bytes()


def test_a_sound_that_cannot_be_read_leaves_no_page(tmp_path: Path) -> None:
    an_act = act()
    arguments = (an_act.title, an_act.timeline, an_act.chapters)
    sound = exact(file_blocks(tmp_path / "missing.flac"))
    with pytest.raises(FileError, match=r"missing\.flac cannot be read"):
        write_page(tmp_path / "page.html", *arguments, sound, overwrite=False)
    assert not [*tmp_path.iterdir()]


@pytest.mark.parametrize(
    ("timeline", "chapters", "told"),
    [
        (timeline_by_hand(lambda: beats_by_hand(180, None)), CHAPTERS, "ends"),
        (timeline_by_hand(lambda: beats_by_hand(180, 9), 9.0), CHAPTERS[:1], "a part"),
    ],
)
def test_what_cannot_be_a_page_is_refused(
    tmp_path: Path, timeline: Timeline, chapters: tuple[Chapter, ...], told: str
) -> None:
    with pytest.raises(ValueError, match=told):
        written(tmp_path, Act(timeline, chapters, "title"))
    assert not (tmp_path / "page.html").exists()


def test_an_hour_and_its_sound_need_little_memory(tmp_path: Path) -> None:
    count = 60 * 240  # throws

    def walk() -> Iterator[Beat]:
        return islice(beats_by_hand(240, None), count)

    seconds = 3600.0
    second = np.resize(NOISE[:7919], (4000, 2))
    sound = sound_pieces((second for _ in range(3600)), 4000, 3600 * 4000, compact=False)
    timeline = replace(timeline_by_hand(walk, seconds), cues=(Cue(5.0, "next", 40, 1.0),))
    chapters = (Chapter(0, 0.5, "ready", "ready"), Chapter(0.5, seconds, "part"))
    path = tmp_path / "page.html"
    tracemalloc.start()
    write_page(path, "long", timeline, chapters, sound, overwrite=False)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert path.stat().st_size > 24 * 2**20
    assert peak < 3 * 2**20
