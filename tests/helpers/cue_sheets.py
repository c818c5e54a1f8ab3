"""Cue sheets of rows made by hand, and what Python's own HTML parser reads in them."""

from collections.abc import Sequence
from html.parser import HTMLParser
from pathlib import Path

from throwcount.caller.plans.sheet import sheet
from throwcount.caller.routine_file.reading import MusicFile, RoutineFile
from throwcount.engine.patterns.flight import Room
from throwcount.engine.patterns.pattern import Throw
from throwcount.engine.patterns.rules import read
from throwcount.engine.routines.routine import Length, PatternPart, Routine
from throwcount.engine.routines.running_order import Entry, RunningOrder
from throwcount.engine.scheduling.cues import CueCall

CUE = CueCall(text="next", change=0, beat=-4, time=9.5, seconds=1.0)
PART = Entry(
    kind="part",
    number=1,
    title="the well",
    text="531",
    beat=0,
    beats=24,
    time=3600 + 125.4,
    seconds=8.0,
    tempo=180,
    to=180,
    slowest=180,
    fastest=180,
    objects=3,
    throws=(Throw(5), Throw(3), Throw(1)),
    cue=CUE,
)


def order(entries: Sequence[Entry], title: str = "The walk") -> RunningOrder:
    return RunningOrder(title, tuple(entries), (), 3800, 24, ())


def sheet_of(rows: RunningOrder, *, props: str = "", music: str = "") -> str:
    """Return the sheet of a running order; `music` is the name of a file."""
    parts = (PatternPart(pattern=read("531"), length=Length(cycles=8)),)
    file = RoutineFile(
        path=Path("walk.toml"),
        routine=Routine(title=rows.title, parts=parts),
        places=("1",) * len(rows.entries),
        props=props,
        music=MusicFile(Path("far") / music) if music else None,
    )
    return "".join(sheet(file, rows, Room(), None))


VOID = frozenset({"meta", "link"})


class ReadSheet(HTMLParser):
    """The title, the words above and below the table, and its cells by row and column."""

    def __init__(self, source: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.texts: dict[str, list[str]] = {"title": [], "h1": [], "p": [], "style": []}
        self.headings: list[str] = []
        self.rows: list[dict[str, str]] = []
        self.kinds: list[str] = []
        self.column = ""
        self.feed(source)
        self.close()
        assert not self.open, "every element is closed"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs
        if tag not in VOID:
            self.open.append(tag)
        given = dict(attrs)
        if tag in self.texts:
            self.texts[tag].append("")
        elif tag == "tr" and "class" in given:
            self.rows.append({})
            self.kinds.append(given["class"] or "")
        elif tag == "th":
            self.headings.append("")
        elif tag == "td":
            self.column = given["class"] or ""
            self.rows[-1][self.column] = ""
        elif tag == "span" and self.rows[-1][self.column]:
            self.rows[-1][self.column] += "\n"

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        inner = self.open[-1] if self.open else ""
        if inner in self.texts:
            self.texts[inner][-1] += data
        elif inner == "th":
            self.headings[-1] += data
        elif inner == "span":
            self.rows[-1][self.column] += data
