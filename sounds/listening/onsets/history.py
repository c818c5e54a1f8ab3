"""What some measures were like in the last few seconds."""

import numpy as np
import numpy.typing as npt

Rows = npt.NDArray[np.float64]


class RunningQuantile:
    """Keeps the last rows that it was given, and no more.

    `length` is how many rows it keeps, at least 1. `expected`, of shape (columns,), is what a row
    is like as long as next to nothing is known. It counts as `trust` rows, which go once `length`
    others have come. `trust` is how many rows, 0 to `length`.
    """

    def __init__(self, length: int, expected: npt.ArrayLike, trust: int = 0) -> None:
        row = np.asarray(expected, dtype=np.float64)
        self._rows = np.empty((length, len(row)))
        self._rows[:trust] = row
        self._expected = row
        self._filled = trust
        self._next = trust % length

    def add(self, rows: Rows) -> None:
        """Keep rows, shape (count, columns), in place of the oldest."""
        rows = rows[-len(self._rows) :]
        places = (self._next + np.arange(len(rows))) % len(self._rows)
        self._rows[places] = rows
        self._filled = min(self._filled + len(rows), len(self._rows))
        self._next = (self._next + len(rows)) % len(self._rows)

    def quantile(self, share: float) -> Rows:
        """Return for each column the value that a share (0 to 1) of the rows stay below."""
        if not self._filled:
            return self._expected
        place = round(share * (self._filled - 1))
        ordered = np.partition(self._rows[: self._filled], place, axis=0)
        return np.asarray(ordered[place])
