"""The music of a routine file: where its beats are, and what is wrong with that."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

from caller.routine_file.faults import MUSIC_TABLE, FileFault, checked
from caller.routine_file.model import MUSIC, TEMPOS, MusicTable
from caller.routine_file.parts import WrittenPart
from caller.toml_fields import as_written, within

MOST_BEATS: Final = 200_000
FEWEST_BEATS: Final = 2
LARGEST_LIST: Final = 4 * 1024 * 1024
"""Bytes of a list of beats in a file of its own, at most."""

NUMBER: Final = re.compile(r"\d{1,9}(\.\d*)?|\.\d+", re.ASCII)
COMMENT: Final = "#"
NAMED_LINES: Final = 5
"""How many wrong lines are named."""

STEADY: Final = ("tempo", "first-beat")


@dataclass(frozen=True, slots=True)
class WrittenMusic:
    """The music as far as it is right."""

    table: MusicTable
    """The values of its table."""
    times: tuple[float, ...] = ()
    """Its beats in seconds, two or more; none where that is wrong."""

    @property
    def slowest(self) -> float:
        """Its slowest tempo, in beats a minute."""
        return 60 / max(after - before for before, after in pairwise(self.times))

    @property
    def fastest(self) -> float:
        """Its fastest tempo, in beats a minute."""
        return 60 / min(after - before for before, after in pairwise(self.times))


class _BeatsError(ValueError):
    """Beats that are none; the text says why."""


def ratio(text: str) -> Fraction:
    """Return the throws a beat of the music in a text such as ``3:2``."""
    throws, beats = (int(number) for number in text.split(":"))
    return Fraction(throws, beats)


def read_music(given: object, folder: Path) -> tuple[WrittenMusic | None, list[FileFault]]:
    """Return the music of a document, and what is wrong with it.

    `given` is what the document has for ``music``. `folder` is the one of the routine file, from
    which other files are seen.
    """
    if not isinstance(given, dict):
        return None, [FileFault("", "music", "music is a table, written under [music].")]
    table, faults = checked(MusicTable, given, MUSIC, MUSIC_TABLE)
    faults += _missing(given)
    try:
        times = _times(table, given, folder)
    except _BeatsError as error:
        return WrittenMusic(table), [*faults, FileFault(MUSIC_TABLE, "beats", f"beats {error}")]
    return WrittenMusic(table, times), faults


def ratio_faults(music: WrittenMusic, parts: Iterator[WrittenPart]) -> Iterator[FileFault]:
    """Yield a fault where so many throws a beat make a tempo that cannot be kept."""
    if not music.times:
        return
    asked = [(MUSIC_TABLE, music.table.throws or "1:1")]
    asked += [(part.place, part.table.throws) for part in parts if part.table.throws]
    for where, text in asked:
        tempos = music.slowest * ratio(text), music.fastest * ratio(text)
        # Equal but for the last digits of a difference of two times.
        if not (TEMPOS[0] * (1 - 1e-9) <= tempos[0] and tempos[1] <= TEMPOS[1] * (1 + 1e-9)):
            wrong = tempos[1] if tempos[1] > TEMPOS[1] else tempos[0]
            yield FileFault(
                where,
                "throws",
                f"throws {as_written(text)} makes {wrong:,.1f} throws a minute with this music; it "
                f"is {within(TEMPOS)} that can be kept.",
            )


def _missing(given: dict[str, Any]) -> Iterator[FileFault]:
    if "file" not in given:
        yield FileFault(MUSIC_TABLE, "file", 'it lacks its file, as in file = "walk.ogg".')
    steady = [key for key in STEADY if key in given]
    if "beats" in given and steady:
        told = f"{' and '.join(steady)} and beats both say where its beats are; keep one of them."
        yield FileFault(MUSIC_TABLE, "beats", told)
    elif "beats" not in given and len(steady) < len(STEADY):
        yield FileFault(
            MUSIC_TABLE,
            "beats",
            "where are its beats? Give its tempo and its first-beat, the second on which bar 1 "
            "begins, or all beats one by one with beats.",
        )


def _times(table: MusicTable, given: dict[str, Any], folder: Path) -> tuple[float, ...]:
    """Return the beats of the music; none where what says so is missing or wrong.

    Raises
    ------
    _BeatsError
        If a list of beats is wrong.
    """
    if "beats" in given:
        beats = table.beats
        if beats is None:
            return ()
        return _in_order(_listed_in(folder / beats, beats) if isinstance(beats, str) else beats)
    if table.tempo is None or table.first_beat is None:
        return ()
    return table.first_beat, table.first_beat + 60 / table.tempo


def _in_order(times: Sequence[float]) -> tuple[float, ...]:
    if not FEWEST_BEATS <= len(times) <= MOST_BEATS:
        raise _BeatsError(f"lists {len(times):,}: {FEWEST_BEATS} to {MOST_BEATS:,} are needed.")
    if times[0] < 0:
        raise _BeatsError(f"begins at {times[0]:g} s, before the music does.")
    for before, after in pairwise(times):
        if not before < after:
            raise _BeatsError(f"is out of order: after {before:g} s comes {after:g} s.")
    return tuple(times)


def _listed_in(path: Path, named: str) -> list[float]:
    """Return the numbers in a text file, one a line."""
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST_LIST + 1)
        lines = content.decode("utf-8-sig").splitlines()
    except FileNotFoundError:
        raise _BeatsError(f"{as_written(named)} is no file beside the routine file.") from None
    except OSError as error:
        told = f"{as_written(named)} cannot be read: {error.strerror or error}."
        raise _BeatsError(told) from error
    except UnicodeDecodeError as error:
        raise _BeatsError(f"{as_written(named)} is not text in UTF-8.") from error
    if len(content) > LARGEST_LIST:
        raise _BeatsError(f"{as_written(named)} is larger than {LARGEST_LIST:,} bytes.")
    texts = {number: line.split(COMMENT)[0].strip() for number, line in enumerate(lines, 1)}
    wrong = [number for number, text in texts.items() if text and not NUMBER.fullmatch(text)]
    if wrong:
        numbers = ", ".join(map(str, wrong[:NAMED_LINES]))
        more = " ..." if len(wrong) > NAMED_LINES else ""
        raise _BeatsError(
            f"{as_written(named)} has to have one number of seconds a line, and has not on "
            f"{'lines' if len(wrong) > 1 else 'line'} {numbers}{more}."
        )
    return [float(text) for text in texts.values() if text]
