"""Large characters, drawn from squares: shapes of our own, seven squares high.

What is easily mistaken is told apart: a 0 has a stroke inside and an o has none, a 1 has a flag and
an i two bars, and the corners of 2, 5, 6 and 8 are not those of z, s, g and b.
"""

from typing import Final

ROWS: Final = 7
BLOCKS: Final = " \u2580\u2584\u2588"
"""A cell that is empty, and one whose upper half, lower half or whole is filled."""

PLAIN: Final = "#"
GAP: Final = 1
"""Squares between two characters."""

SHAPES: Final = {
    "0": ".###. #...# #..## #.#.# ##..# #...# .###.",
    "1": "..#.. .##.. ..#.. ..#.. ..#.. ..#.. .###.",
    "2": ".###. #...# ....# ...#. ..#.. .#... #####",
    "3": "####. ....# ....# .###. ....# ....# ####.",
    "4": "...## ..#.# .#..# #...# ##### ....# ....#",
    "5": "##### #.... ####. ....# ....# #...# .###.",
    "6": "..##. .#... #.... ####. #...# #...# .###.",
    "7": "##### ....# ...#. ...#. ..#.. ..#.. ..#..",
    "8": ".###. #...# #...# .###. #...# #...# .###.",
    "9": ".###. #...# #...# .#### ....# ...#. .##..",
    "a": "..#.. .#.#. #...# #...# ##### #...# #...#",
    "b": "####. #..#. #..#. ####. #...# #...# ####.",
    "c": ".#### #.... #.... #.... #.... #.... .####",
    "d": "###.. #..#. #...# #...# #...# #..#. ###..",
    "e": "##### #.... #.... ###.. #.... #.... #####",
    "f": "##### #.... #.... ###.. #.... #.... #....",
    "g": ".#### #.... #.... #.### #...# #...# .####",
    "h": "#...# #...# #...# ##### #...# #...# #...#",
    "i": "##### ..#.. ..#.. ..#.. ..#.. ..#.. #####",
    "j": "..### ...#. ...#. ...#. ...#. #..#. .##..",
    "k": "#...# #..#. #.#.. ##... #.#.. #..#. #...#",
    "l": "#.... #.... #.... #.... #.... #.... #####",
    "m": "#...# ##.## #.#.# #.#.# #...# #...# #...#",
    "n": "#...# ##..# ##..# #.#.# #..## #..## #...#",
    "o": ".###. #...# #...# #...# #...# #...# .###.",
    "p": "####. #...# #...# ####. #.... #.... #....",
    "q": ".###. #...# #...# #...# #.#.# #..#. .##.#",
    "r": "####. #...# #...# ####. #.#.. #..#. #...#",
    "s": ".#### #.... #.... .###. ....# ....# ####.",
    "t": "##### ..#.. ..#.. ..#.. ..#.. ..#.. ..#..",
    "u": "#...# #...# #...# #...# #...# #...# .###.",
    "v": "#...# #...# #...# #...# .#.#. .#.#. ..#..",
    "w": "#...# #...# #...# #.#.# #.#.# ##.## #...#",
    "x": "#...# #...# .#.#. ..#.. .#.#. #...# #...#",
    "y": "#...# #...# .#.#. ..#.. ..#.. ..#.. ..#..",
    "z": "##### ....# ...#. ..#.. .#... #.... #####",
    "(": ".# #. #. #. #. #. .#",
    ")": "#. .# .# .# .# .# #.",
    "[": "## #. #. #. #. #. ##",
    "]": "## .# .# .# .# .# ##",
    ",": ".. .. .. .. .. .# #.",
    ":": ". # # . # # .",
    "|": "# # # # # # #",
    " ": ". . . . . . .",
    "\u25a0": "..... ##### ##### ##### ##### ##### .....",
}
"""Rows from the top; ``#`` is filled."""

TURN: Final = "\u25a0"
"""A square, for a beat that counts in and is no throw."""


def can_draw(text: str) -> bool:
    """Return whether there is a shape for every character of `text`, and there is one."""
    return bool(text) and set(text) <= SHAPES.keys()


def size(text: str, scale: int) -> tuple[int, int]:
    """Return the columns and rows that `text` takes with squares of `scale` half rows."""
    squares = sum(len(SHAPES[character].split(" ", 1)[0]) + GAP for character in text) - GAP
    return squares * scale, (ROWS * scale + 1) // 2


def largest_scale(texts: list[str], columns: int, rows: int, *, plain: bool) -> int:
    """Return the largest scale at which each of `texts` fits; 0 where none does.

    `texts` are what may have to be drawn. `columns` and `rows` are the room for each. `plain` says
    whether there are no half cells, so that scales are even.
    """
    step = 2 if plain else 1
    scale = 0
    while all(
        width <= columns and height <= rows
        for width, height in (size(text, scale + step) for text in texts)
    ):
        scale += step
        if scale >= rows * 2:
            break
    return scale


def drawn(text: str, scale: int, *, plain: bool) -> list[str]:
    """Return `text` drawn large, a string a row, all of one length.

    Parameters
    ----------
    text
        Characters that have a shape.
    scale
        Columns a square takes, and half rows; even where `plain`.
    plain
        Whether to draw with ASCII characters.
    """
    squares = [
        (" " * GAP).join(SHAPES[character].split(" ")[row] for character in text).replace(" ", ".")
        for row in range(ROWS)
    ]
    halves = ["".join(square * scale for square in row) for row in squares for _ in range(scale)]
    if len(halves) % 2:
        halves.append("." * len(halves[0]))
    rows = zip(halves[::2], halves[1::2], strict=True)
    return ["".join(map(_cell, upper, lower, [plain] * len(upper))) for upper, lower in rows]


def _cell(upper: str, lower: str, plain: bool) -> str:
    filled = (upper == "#") + 2 * (lower == "#")
    return (PLAIN if filled else " ") if plain else BLOCKS[filled]
