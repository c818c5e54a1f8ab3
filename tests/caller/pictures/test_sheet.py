"""Lines are told apart from the paper and from each other, whatever colours a person sees.

Contrast and relative luminance: WCAG 2.1. Dichromacy: Machado, Oliveira & Fernandes, A
physiologically-based model for simulation of color vision deficiency, IEEE Trans. Vis. Comput.
Graph. 15 (2009) 1291-1298, matrices of severity 1.0 for linear RGB. Differences: CIE 1976
L*a*b*, white point D65.
"""

from itertools import combinations

import numpy as np
import numpy.typing as npt
import pytest

from throwcount.caller.pictures.sheet import COLOURS, DASHES, GREY, line_style

Colour = npt.NDArray[np.float64]

LEAST_CONTRAST = 3.0
"""WCAG 2.1, criterion 1.4.11, for graphics."""

EASILY_SEEN = 10.0
"""Several times the difference of about 2.3 that is just noticed (Mahy et al., 1994; memory)."""

SEEN_BY = {
    "most": np.eye(3),
    "protanopes": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranopes": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritanopes": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
XYZ_FROM_RGB = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
)
WHITE = XYZ_FROM_RGB.sum(axis=1)


def linear(colour: str) -> Colour:
    encoded = np.array([int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)])
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)


def lab(rgb: Colour) -> Colour:
    relative = XYZ_FROM_RGB @ np.clip(rgb, 0, 1) / WHITE
    x, y, z = np.where(relative > 0.008856, np.cbrt(relative), 7.787 * relative + 16 / 116)
    return np.array([116 * y - 16, 500 * (x - y), 200 * (y - z)])


def test_the_difference_is_known_for_black_and_white() -> None:
    assert np.linalg.norm(lab(linear("#ffffff")) - lab(linear("#000000"))) == pytest.approx(100)


@pytest.mark.parametrize("colour", [*COLOURS.values(), GREY])
def test_colours_stand_out_from_white(colour: str) -> None:
    luminance = float(XYZ_FROM_RGB[1] @ linear(colour))
    assert 1.05 / (luminance + 0.05) >= LEAST_CONTRAST


@pytest.mark.parametrize("person", SEEN_BY)
def test_colours_are_told_apart_by(person: str) -> None:
    seen = {name: lab(SEEN_BY[person] @ linear(colour)) for name, colour in COLOURS.items()}
    for one, other in combinations(seen, 2):
        assert np.linalg.norm(seen[one] - seen[other]) >= EASILY_SEEN, (one, other)


def test_in_grey_the_first_lines_differ_by_their_dashes() -> None:
    assert len({line_style(index).dashes for index in range(len(DASHES))}) == len(DASHES)


def test_no_two_of_36_lines_look_the_same() -> None:
    assert len({line_style(index) for index in range(36)}) == 36
    assert line_style(36) == line_style(0)
