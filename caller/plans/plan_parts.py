"""The parts of a routine and its cue calls, as blocks and flags along a line of time."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

from engine.routines.running_order import Entry, EntryKind

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LETTER: Final = 0.068
"""Inches that a letter of a block takes, about."""

LEAST: Final = 3
"""Letters that are worth writing."""

EDGE: Final = 0.05
"""Inches between a block's edge and its letters."""

LEVELS: Final = 2
"""Lines over each other on which cue calls are written in turn."""

LOOKS: Final[dict[EntryKind, dict[str, Any]]] = {
    "part": {"facecolor": "white", "edgecolor": "black"},
    "bridge": {"facecolor": "white", "edgecolor": "black", "hatch": "//////"},
    "rest": {"facecolor": "#d0d0d0", "edgecolor": "black"},
}
CUE_LOOKS: Final[dict[str, Any]] = {
    "size": 7,
    "style": "italic",
    "zorder": 3,
    # Paper under the words, so that no line runs through them.
    "bbox": {"facecolor": "white", "edgecolor": "none", "pad": 0.6},
}
LINES: Final = ((0.72, 8.0, "bold"), (0.42, 8.0, "normal"), (0.15, 7.0, "normal"))
"""Height in a block, size and weight of each of its lines."""


def draw_parts(axes: "Axes", entries: Sequence[Entry], inches: float) -> None:
    """Draw a block for each row of the running order, from 0 to 1.

    The axes run along seconds. `inches` is the width of a second.
    """
    left, right = axes.get_xlim()
    for entry in entries:
        axes.broken_barh([(entry.time, entry.seconds)], (0, 1), linewidth=0.9, **LOOKS[entry.kind])
        if entry.kind == "bridge":
            continue
        start, end = max(entry.time, left), min(entry.time + entry.seconds, right)
        room = (end - start) * inches - 2 * EDGE
        for (height, size, weight), text in zip(LINES, _lines(entry), strict=False):
            shown = fitting(text, room)
            along = start + EDGE / inches
            axes.text(along, height, shown, size=size, weight=weight, va="center", clip_on=True)


def draw_cues(
    axes: "Axes", entries: Sequence[Entry], span: tuple[float, float], inches: float, top: float
) -> None:
    """Draw a flag where each cue call begins, from the blocks' upper edge up to `top`.

    Parameters
    ----------
    axes
        Along seconds.
    span
        The seconds that are seen.
    inches
        A second is so many inches wide.
    top
        The upper edge, on the scale of the blocks.
    """
    cues = [entry.cue for entry in entries if entry.cue is not None]
    level = (top - 1) / LEVELS
    ends = [span[0]] * LEVELS
    for index, cue in enumerate(cues):
        if not span[0] <= cue.time < span[1]:
            continue
        line = index % LEVELS
        height = 1 + level * (line + 0.5)
        axes.plot([cue.time, cue.time], [1, height + level / 3], color="black", linewidth=0.9)
        # On the same line the next but one follows.
        later = [each.time for each in cues[index + LEVELS : index + LEVELS + 1]]
        told = cue.text if cue.said else f"not said: {cue.text}"
        before, after = cue.time - ends[line], min([*later, span[1]]) - cue.time
        at_the_end = after * inches < len(told) * LETTER and after < before
        room = (before if at_the_end else after) * inches - 2 * EDGE
        along = cue.time + (-EDGE if at_the_end else EDGE) / inches
        side = "right" if at_the_end else "left"
        shown = fitting(told, room)
        axes.text(along, height, shown, ha=side, va="center", **CUE_LOOKS)
        ends[line] = cue.time + len(shown) * LETTER / inches


def fitting(text: str, inches: float) -> str:
    """Return `text`, or as much of it as has room; nothing where that is next to nothing."""
    letters = int(inches / LETTER)
    if len(text) <= letters:
        return text
    return f"{text[: letters - 1]}…" if letters > LEAST else ""


def _lines(entry: Entry) -> tuple[str, ...]:
    titled = f"{entry.number} {entry.title}"
    pattern = "" if entry.title == entry.text else entry.text
    change = f"{entry.change:+d}" if entry.change else ""
    return titled, " ".join(filter(None, [pattern, change])), entry.how
