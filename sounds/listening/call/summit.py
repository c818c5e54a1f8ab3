"""How high a curve is between the places where it was measured."""

import numpy as np
import numpy.typing as npt


def parabolic_peak(values: npt.NDArray[np.floating]) -> float:
    """Return the peak of the parabola through the highest of some values and its neighbours.

    Parameters
    ----------
    values
        At equal distances, shape (count,), at least one. Where the first or the last is the
        highest, the peak may lie beyond, and nothing is made up: that value is returned.
    """
    place = int(np.argmax(values))
    here = float(values[place])
    if not 0 < place < len(values) - 1:
        return here
    before, after = float(values[place - 1]), float(values[place + 1])
    bend = before - 2 * here + after
    return here - (before - after) ** 2 / (8 * bend) if bend < 0 else here
