"""`plan --tap` and `plan --estimate`: where the beats of music are, for a routine file.

A list of beats as a text file, one number of seconds a line, such as a routine file names.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import click

from throwcount.caller.options.arguments import FILE, flag, in_order, option
from throwcount.caller.options.play_options import speaker_delay_option
from throwcount.caller.options.request import Request
from throwcount.caller.terminal.text import PlainError, printable
from throwcount.sounds.files.whole_files import write_text

ESTIMATE_RATE: Final = 44_100
"""Sample rate in Hz at which music is listened to."""

DIGITS: Final = 3
"""Decimals of the numbers for a routine file: milliseconds."""

BAR_ONE: Final = (
    "Which beat opens a bar is not told by this: bar 1 begins on the first one here, unless you "
    "move it."
)

FROM_THE_FILE: Final = 'The file of music is missing: name it with file = "..." under [music].'


class NoBeatsError(PlainError):
    """Music, or taps, that tell no beats."""

    exit_code = 1


@dataclass(frozen=True, slots=True)
class BeatsAsked:
    """What is asked for of the beats of music."""

    tap: bool = False
    """Whether they are to be tapped."""
    estimate: bool = False
    """Whether the program itself is to hear them."""
    beats_file: Path | None = None
    """Where to list them; None for nowhere."""

    def any(self, *, others: bool) -> bool:
        """Return whether anything is asked for, and nothing else that does not go with it.

        Raises
        ------
        click.UsageError
            If things are asked for that do not go together.
        """
        asked = self.tap or self.estimate
        if self.tap and self.estimate:
            raise click.UsageError("--tap and --estimate both tell the beats; keep one of them.")
        if self.beats_file is not None and not asked:
            raise click.UsageError("--beats-file goes with --tap or --estimate; add one of them.")
        if others and asked:
            raise click.UsageError("--tap and --estimate tell the beats of music, and no plan.")
        return asked


beats_options = in_order(
    flag("--tap", "Play the music, and take each key for a beat."),
    flag("--estimate", "Listen for the beats of the music, and say how sure."),
    option("--beats-file FILE", FILE, "List the beats that are tapped or heard in this file."),
    speaker_delay_option,
)


@dataclass(frozen=True, slots=True)
class FoundBeats:
    """Where the beats of some music are."""

    music: Path
    """Its file."""
    named: str
    """That file as it is seen from a routine file."""
    tempo: float | None
    """Beats a minute; None where they are to be listed."""
    beats: tuple[float, ...]
    """The beats, in seconds of the music."""
    confidence: float | None
    """How sure an estimate is, from 0 to 1; None for taps."""
    sentences: tuple[str, ...]
    """What is to be known of them."""


def found_beats(file: Path, asked: BeatsAsked, request: Request) -> FoundBeats:
    """Return the beats of the music that a routine file names, or of music itself.

    Raises
    ------
    NoBeatsError
        If the routine file names no music, or no beats are found.
    MusicError
        If the music cannot be read, or the extra for it is not installed.
    OutsideError
        If there is nothing to play on.
    """
    named = _named_in(file)
    path = file.parent / named
    if asked.tap:
        return _tapped_along(path, named, request)
    return _estimated(path, named)


def _named_in(file: Path) -> str:
    """Return the music that a routine file names, or the file itself if it is no such file.

    Raises
    ------
    NoBeatsError
        If the routine file names none, or cannot be read.
    """
    from throwcount.caller.options.request import ENDING
    from throwcount.caller.options.settings import TomlFileError, read_toml

    if file.suffix.lower() != ENDING:
        return file.name
    try:
        music = read_toml(file).get("music")
    except (OSError, TomlFileError) as error:
        raise NoBeatsError(f"{file} cannot be read: {error}") from error
    named = music.get("file") if isinstance(music, dict) else None
    if not isinstance(named, str):
        raise NoBeatsError(f"{file}: {FROM_THE_FILE}")
    return named


def _estimated(path: Path, named: str) -> FoundBeats:
    """Return the beats that are heard in music by themselves.

    Raises
    ------
    MusicError
        If the music cannot be read, or the extra for it is not installed.
    NoBeatsError
        If there are none.
    """
    from throwcount.caller.pieces.routine import read_music
    from throwcount.sounds.music.estimate import estimate

    with read_music(path, ESTIMATE_RATE) as music:
        found = estimate(music)
    if found.tempo is None:
        raise NoBeatsError(f"{path}: {found.sentence}")
    tempo = found.tempo if found.steady else None
    sentences = found.sentence, BAR_ONE
    return FoundBeats(path, named, tempo, found.beats, found.confidence, sentences)


def _tapped_along(path: Path, named: str, request: Request) -> FoundBeats:
    """Play music, and return the beats on which keys were pressed.

    Raises
    ------
    MusicError
        If the music cannot be read.
    OutsideError
        If there is nothing to play on.
    NoBeatsError
        If the taps tell no beats.
    """
    from throwcount.caller.pieces.routine import read_music
    from throwcount.caller.plans.tapping import tap, tapped_beats
    from throwcount.caller.plans.taps import TapsError
    from throwcount.caller.terminal.printing import device_told
    from throwcount.sounds.music.decoding import frames_of
    from throwcount.sounds.output.player import LivePlayer

    frames_of(path, ESTIMATE_RATE)  # which fails before a device is opened for nothing
    with device_told():
        player = LivePlayer(request.output, request.rate)
    with player, read_music(path, player.rate) as music:
        with device_told():
            taps = tap(music, player, request.speaker_delay)
        try:
            found = tapped_beats(taps, music)
        except TapsError as error:
            raise NoBeatsError(str(error)) from error
    return FoundBeats(path, named, found.tempo, found.beats, None, (*found.sentences, BAR_ONE))


def tell_beats(found: FoundBeats, file: Path, asked: BeatsAsked, *, as_json: bool) -> None:
    """Tell what was found, and the lines for a routine file; write the beats if that is wanted.

    `file` is what was named: the routine file, or music that stands beside one. `asked` is what was
    asked for; its file may be replaced, if there is one. `as_json` says whether it is told as one
    JSON document.
    """
    from throwcount.caller.routine_file.starter import toml_lines
    from throwcount.caller.terminal.printing import show_json, tell

    beats = asked.beats_file
    if beats is not None:
        write_beats(beats, found.beats, f"The beats of {found.music.name}", overwrite=True)
    if as_json:
        show_json(_document(found, beats))
        return
    tell(*found.sentences)
    if found.confidence is not None:
        tell(f"Confidence: {found.confidence:.2f}, of 1 at most.")
    table = _table(found, None if beats is None else _seen_from(file.parent, beats))
    click.echo(printable("".join(toml_lines({"music": table}))), nl=False)


def _table(found: FoundBeats, beats: str | None) -> Mapping[str, object]:
    """Return the table [music] of a routine file, as far as it is known."""
    table: dict[str, object] = {"file": found.named}
    if found.tempo is not None:
        steady = {"tempo": found.tempo, "first-beat": found.beats[0]}
        return table | {key: round(value, DIGITS) for key, value in steady.items()}
    listed = [round(beat, DIGITS) for beat in found.beats]
    return table | {"beats": listed if beats is None else beats}


def _seen_from(folder: Path, path: Path) -> str:
    """Return a path as a file in a folder names it."""
    whole, around = path.resolve(), folder.resolve()
    return (whole.relative_to(around) if whole.is_relative_to(around) else whole).as_posix()


def _document(found: FoundBeats, beats: Path | None) -> dict[str, Any]:
    return {
        "music": str(found.music),
        "tempo": found.tempo,
        "first_beat": found.beats[0],
        "beats": found.beats,
        "confidence": found.confidence,
        "sentences": found.sentences,
        "file": None if beats is None else str(beats),
    }


COMMENT = "#"


def beats_lines(beats: Sequence[float], title: str) -> Iterator[str]:
    """Yield the lines of a beats file.

    `beats` are in seconds of the music, in order. `title` is what the list is, in one line.
    """
    for line in (*title.splitlines(), f"{len(beats)} beats, in seconds of the music"):
        yield f"{COMMENT} {line}\n"
    for beat in beats:
        yield f"{beat:.4f}\n"


def write_beats(path: Path, beats: Sequence[float], title: str, *, overwrite: bool) -> None:
    """Write a list of beats; parameters as those of `beats_lines`.

    Raises
    ------
    FileError
        If the file cannot be written, or is there already.
    """
    write_text(path, beats_lines(beats, title), overwrite=overwrite)
