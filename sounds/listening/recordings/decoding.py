"""What the take asks of whatever decodes a recording."""

from collections.abc import Iterator
from pathlib import Path
from typing import Protocol

from sounds.listening.rate import Mono


class UnknownFormatError(Exception):
    """A decoder does not know a file's format; another one may."""


class Decoder(Protocol):
    """A recording that can be decoded from its beginning as often as needed."""

    @property
    def path(self) -> Path:
        """Where it is."""

    @property
    def rate(self) -> int:
        """Frames a second."""

    @property
    def seconds(self) -> float | None:
        """Length as its header tells it; None if it tells none."""

    @property
    def lost_seconds(self) -> float:
        """How much of it the last reading found damaged and replaced by silence."""

    def chunks(self) -> Iterator[Mono]:
        """Yield the average of its channels, piece by piece, to the end or to where it breaks off.

        Values may be infinite or no numbers.

        Raises
        ------
        UnknownFormatError, TakeError
            If the file is not what it was any more.
        """
