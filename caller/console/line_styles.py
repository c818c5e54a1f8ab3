"""Lines that can be told apart in colour, in grey, and by people who see colours otherwise.

Colours are the ones of Okabe & Ito, Color Universal Design (2002), that stand out from white at
least three to one (the least for graphics in WCAG 2.1, criterion 1.4.11), and a dark brown in
the place of their light ones. Each of them has dashes of its own besides, so that a line is
known without its colour.
"""

from dataclasses import dataclass
from typing import Final, TypeAlias

Dashes: TypeAlias = tuple[float, ...]
"""Lengths of strokes and gaps in turn, in line widths; none for an unbroken line."""

COLOURS: Final = {
    "black": "#000000",
    "vermilion": "#d55e00",
    "blue": "#0072b2",
    "bluish green": "#009e73",
    "reddish purple": "#cc79a7",
    "brown": "#7a5200",
}
GREY: Final = "#6b6b6b"
"""Of what stands back: some five to one against white."""

DASHES: Final[dict[str, Dashes]] = {
    "unbroken": (),
    "dashed": (4, 1.5),
    "dotted": (1, 1),
    "dash and dot": (5, 1.2, 1, 1.2),
    "long dashes": (9, 2.5),
    "dash and two dots": (5, 1.2, 1, 1.2, 1, 1.2),
}


@dataclass(frozen=True, slots=True)
class LineStyle:
    """How a line looks."""

    colour: str
    """The colour, as ``#rrggbb``."""
    dashes: Dashes
    """The dashes, in line widths."""

    @property
    def strokes(self) -> str | tuple[float, Dashes]:
        """The dashes as matplotlib takes them for the style of a line."""
        return (0, self.dashes) if self.dashes else "solid"


def line_style(index: int) -> LineStyle:
    """Return the style of the line with this index, from 0; they repeat after 36."""
    colours, dashes = list(COLOURS.values()), list(DASHES.values())
    # Within the first six both differ; the next six have the same colours and other dashes.
    again = index // len(colours)
    return LineStyle(colours[index % len(colours)], dashes[(index + again) % len(dashes)])
