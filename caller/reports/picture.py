"""A take as a picture, and all that a take told shown at once.

The picture has how late each catch was, the tempo, and each throw of the cycle. Time goes from left
to right. A catch is a mark above the middle if late, below if early, against the median of the
whole take.
"""

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING, Any, Final

from throwcount.caller.pictures.sheet import COLOURS, GREY, Sheet, picture
from throwcount.caller.reports.answers import answers, position_told
from throwcount.caller.reports.figures import (
    confidence_told,
    drop_moment,
    moment_told,
    ms,
    sure_of_beat,
    take_windows,
    throw_told,
)
from throwcount.caller.reports.page import headline, least_even, listen_page
from throwcount.caller.reports.take import HeardTake
from throwcount.caller.terminal.printing import show, show_json, tell
from throwcount.engine.takes.report import Sound, TakeReport
from throwcount.engine.takes.throw_bias import Position

if TYPE_CHECKING:
    from matplotlib.axes import Axes

WIDTH: Final = 12.0
HEADING: Final = 0.75
CATCHES: Final = 3.4
TEMPO: Final = 1.7
THROW: Final = 0.3
THROWS: Final = 0.9
"""Inches: the width, the heights from top to bottom, of each throw, and of the axis of throws."""

LEFT: Final = 0.12

SHOWN_ABOVE: Final = {"drift", "late throws", "fell apart"}
LINE: Final = 165
LONGEST: Final = 2 * LINE
"""The answers below the title, and the characters of one line of them and of two."""

LEAST_REACH: Final = 30.0
"""The least reach of the scale of catches, in milliseconds: nobody's catches differ by less."""

DOTS_FROM: Final = 4_000
"""So many catches are drawn as dots, or the file would be large."""

LIGHT: Final = "#d0d0d0"
MARKS: Final = {
    "right": ("o", COLOURS["blue"], "right hand"),
    "left": ("s", COLOURS["vermilion"], "left hand"),
    "": ("D", COLOURS["black"], "both hands, or not known"),
}
"""Shape, colour and name of the catches of each hand; those of the left hand are also hollow."""

ALARM: Final = COLOURS["reddish purple"]


def can_be_drawn(report: TakeReport) -> bool:
    """Return whether a catch was heard."""
    return any(sound.late is not None for sound in report.sounds)


def draw_take(heard: HeardTake, path: Path, *, overwrite: bool = False) -> None:
    """Draw a take with at least one catch in a file; the errors are those of `picture`."""
    report = heard.report
    throws = least_even(report.positions) if len(report.positions) > 1 else []
    heights = [CATCHES, TEMPO, *([THROWS + THROW * len(throws)] if throws else [])]
    title, told = headline(heard), _told(report)
    sheet = Sheet(WIDTH, HEADING + sum(heights), title, _described(report, told))
    with picture(path, sheet, overwrite=overwrite) as figure:
        figure.set_layout_engine("constrained", rect=(0, 0, 1, 1 - HEADING / sheet.height))
        down, at, wrapped = 1 / sheet.height, LEFT / WIDTH, textwrap.fill(told, LINE)
        figure.text(at, 1 - 0.15 * down, title, va="top", size=13, weight="bold")
        figure.text(at, 1 - 0.42 * down, wrapped, va="top", size=9, color=GREY)
        drawn = figure.subplots(len(heights), 1, height_ratios=heights, squeeze=False)[:, 0]
        _draw_catches(drawn[0], report)
        _draw_tempo(drawn[1], report)
        for axes in drawn[:2]:
            axes.set_xlim(0, report.seconds)
            axes.xaxis.set_major_formatter(lambda time, _: moment_told(time).removesuffix(".0"))
        if throws:
            _draw_throws(drawn[2], throws)


def _told(report: TakeReport) -> str:
    """Return the answers in short, cut to `LONGEST` characters."""
    steady = report.steadiness
    if steady is None:
        return f"{confidence_told(report.confidence)}"
    told = [f"two catches in three within {ms(steady.asynchrony_sd)}"]
    told += [f"{name}: {answer}" for name, answer in answers(report) if name in SHOWN_ABOVE]
    told.append(confidence_told(report.confidence))
    return textwrap.shorten("; ".join(told), LONGEST, placeholder=" ...")


def _described(report: TakeReport, told: str) -> str:
    drops = [f"drop {drop_moment(drop)}: {throw_told(drop)}" for drop in report.drops]
    return ". ".join([told, *drops]) + "."


def _draw_catches(axes: "Axes", report: TakeReport) -> None:
    heard = [sound for sound in report.sounds if sound.late is not None]
    middle = median(sound.late or 0.0 for sound in heard)
    for hand, (marker, colour, name) in MARKS.items():
        own = [sound for sound in heard if _hand(sound) == hand]
        late = [1000 * ((sound.late or 0.0) - middle) for sound in own]
        few = len(heard) < DOTS_FROM
        axes.plot(
            [sound.time for sound in own],
            late,
            linestyle="none",
            marker=marker if few else ".",
            markersize=4 if few else 2,
            color=colour,
            markerfacecolor="white" if hand == "left" and few else colour,
            label=name if own else None,
            rasterized=not few,
        )
    _draw_drift(axes, report)
    furthest = max(1000 * abs((sound.late or 0.0) - middle) for sound in heard)
    reach = 1.15 * max(LEAST_REACH, furthest)
    axes.set_ylim(-1.25 * reach, reach)
    axes.axhline(0, color=GREY, linewidth=0.8)
    _draw_unheard(axes, report, -1.18 * reach)
    _draw_alarms(axes, report, reach)
    against = "the whole take" if report.known else "their own cadence"
    axes.set_ylabel(f"ms late against\n{against}", size=8)
    axes.tick_params(labelsize=8)
    axes.legend(loc="upper left", bbox_to_anchor=(1, 1), fontsize=8, frameon=False)


def _draw_drift(axes: "Axes", report: TakeReport) -> None:
    """Draw the median lateness of the catches, window by window."""
    rows = [(each, each.late) for each in take_windows(report) if each.late is not None]
    if len(rows) > 1:
        middle = [(each.start + each.end) / 2 for each, _ in rows]
        late = [1000 * late for _, late in rows]
        axes.plot(middle, late, color=GREY, linewidth=1.2, label="median over time")


def _draw_unheard(axes: "Axes", report: TakeReport, height: float) -> None:
    """Draw what was expected but not heard, and what was heard but not expected."""
    missing = [sound.time for sound in report.sounds if sound.late is None]
    for times, mark, name in (
        (missing, "x", "not heard"),
        (report.extra_times, "|", "other thuds"),
    ):
        if times:
            axes.plot(times, [height] * len(times), mark, markersize=5, color=GREY, label=name)


def _draw_alarms(axes: "Axes", report: TakeReport, height: float) -> None:
    """Draw a line at each drop, and one from where the take falls apart."""
    for index, drop in enumerate(report.drops):
        name = ("drop, after this throw" if drop.catch else "drop") if not index else None
        axes.axvline(drop.time, color=ALARM, linewidth=1.6, linestyle=(0, (4, 1.5)), label=name)
        told = drop.catch.throw if drop.catch is not None else ""
        told += "" if sure_of_beat(drop) else "?"
        at = drop.time, 0.96 * height
        axes.text(*at, f" {told}", color=ALARM, size=9, weight="bold", va="top")
    if report.split is not None:
        since, dots = report.split.time, (0, (1, 1))
        axes.axvline(since, color="black", linewidth=1.2, linestyle=dots, label="falls apart")


def _draw_tempo(axes: "Axes", report: TakeReport) -> None:
    known = report.known
    axes.set_ylabel("beats a minute" if known else "catches a minute", size=8)
    axes.tick_params(labelsize=8)
    if not report.pace:
        few = "too few catches for a tempo"
        axes.text(0.5, 0.5, few, ha="center", transform=axes.transAxes, size=8)
        return
    middle = [(pace.start + pace.end) / 2 for pace in report.pace]
    tempo = [pace.tempo for pace in report.pace]
    error = [2 * pace.uncertainty for pace in report.pace]
    axes.errorbar(middle, tempo, error, fmt="o-", color="black", markersize=3, label="kept")
    asked = [pace.asked for pace in report.pace if pace.asked is not None]
    if len(asked) == len(middle):
        axes.plot(middle, asked, color=GREY, linestyle=(0, (4, 1.5)), label="asked for")
    axes.legend(loc="upper left", bbox_to_anchor=(1, 1), fontsize=8, frameon=False)
    low, high = axes.get_ylim()
    if high - low < 4:  # noqa: PLR2004 - beats a minute; nobody hears a smaller range
        axes.set_ylim((low + high) / 2 - 2, (low + high) / 2 + 2)


def _draw_throws(axes: "Axes", throws: Sequence[Position]) -> None:
    """Draw each throw of the cycle: its mean, the interval that it is in, and its spread."""
    names = [position_told(each, throws) for each in throws]
    for place, each in enumerate(throws):
        mean, sd = 1000 * each.spread.mean, 1000 * each.spread.sd
        error = 2000 * each.spread.uncertainty
        axes.plot([mean - sd, mean + sd], [place, place], color=LIGHT, linewidth=7, zorder=1)
        axes.plot([mean - error, mean + error], [place, place], color="black", linewidth=1.8)
        axes.plot([mean], [place], color="black", marker="o", markersize=5)
    axes.set_yticks(range(len(throws)), names)
    axes.set_ylim(len(throws) - 0.5, -0.5)
    axes.axvline(0, color=GREY, linewidth=0.8, zorder=0)
    reach = max([10.0, *(abs(end) for end in axes.get_xlim())])
    axes.set_xlim(-reach, reach)
    axes.tick_params(labelsize=8)
    axes.set_ylabel("throw", size=8)
    axes.set_xlabel(
        "ms late against the catches around; grey: one sd, line: where the mean is, 19 times in 20",
        size=8,
    )


def _hand(sound: Sound) -> str:
    """Return the hand that catches; empty if both do, or it is unknown."""
    hands = {catch.hand for catch in sound.catches}
    return hands.pop() if len(hands) == 1 else ""


NOT_DRAWN: Final = "was not drawn, as no catch was heard."


@dataclass(frozen=True, slots=True)
class Beside:
    """What was made of a take apart from what is shown."""

    picture: Path | None
    """The file for a picture that was asked for."""
    drawn: Path | None
    """The same if it was drawn."""
    number: int | None
    """The take's number in the practice log, if it is kept."""


def drawn_take(heard: HeardTake, picture: Path | None, *, overwrite: bool) -> Path | None:
    """Draw a take in `picture` if a catch was heard; return `picture` if so, else None."""
    if picture is None or not can_be_drawn(heard.report):
        return None
    draw_take(heard, picture, overwrite=overwrite)
    return picture


def tell_take(
    heard: HeardTake, document: Mapping[str, Any], beside: Beside, *, as_json: bool
) -> None:
    """Show what a take told, as a page or as JSON, which has `document`."""
    if as_json:
        drawn = None if beside.drawn is None else str(beside.drawn)
        show_json({**document, "picture": drawn, "kept": beside.number})
        return
    show(*listen_page(heard))
    if beside.picture != beside.drawn:
        tell(f"{beside.picture} {NOT_DRAWN}")
    if beside.number is not None:
        tell(f"Kept in the practice log as take {beside.number}: see `throwcount log`.")
