"""`plan --tap` and `plan --estimate`: where the beats of music are, for a routine file.

The beats can also be listed in a text file, one number of seconds a line, for a routine file to
name, and be clicked over the music, to listen whether they are right.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from throwcount.caller.options.arguments import FILE, check_sound, flag, in_order, option
from throwcount.caller.options.play_options import speaker_delay_option
from throwcount.caller.options.request import Request
from throwcount.caller.terminal.text import PlainError, printable
from throwcount.sounds.files.whole_files import check_free, write_text

if TYPE_CHECKING:
    from throwcount.sounds.mixing.music_bed import Music
    from throwcount.sounds.music.estimate import Estimate

ESTIMATE_RATE: Final = 44_100
"""Sample rate in Hz at which the music is analysed."""

DIGITS: Final = 3
"""Decimals of the numbers for a routine file: milliseconds."""

BAR_ONE: Final = (
    "This does not tell which beat opens a bar: bar 1 begins on the first one here, unless you "
    "move it."
)

A_PAIR: Final = 2
"""So many taps settle which of the estimated beats are meant."""

LONGEST_GAP: Final = 10.0
"""Seconds between two taps of a pair."""

FROM_THE_FILE: Final = 'The file of music is missing: name it with file = "..." under [music].'


class NoBeatsError(PlainError):
    """Music, or taps, that tell no beats."""

    exit_code = 1


@dataclass(frozen=True, slots=True)
class BeatsAsked:
    """How the beats of music are to be found."""

    tap: bool = False
    """Whether a person taps them."""
    estimate: bool = False
    """Whether the program estimates them."""
    beats_file: Path | None = None
    """The file to list them in; None for none."""
    two_taps: tuple[float, float] | None = None
    """Two beats in a row, in seconds, which settle which beats are meant; None for none."""
    audition: Path | None = None
    """The file to write the music with clicks on the beats to; None for none."""

    def any(self, *, others: bool) -> bool:
        """Return whether beats are asked for; `others` says whether another job of `plan` is too.

        Raises
        ------
        click.UsageError
            If options are given that do not go together.
        """
        asked = self.tap or self.estimate
        if self.tap and self.estimate:
            raise click.UsageError("--tap and --estimate both tell the beats; keep one of them.")
        for name, path in (("--beats-file", self.beats_file), ("--audition", self.audition)):
            if path is not None and not asked:
                raise click.UsageError(f"{name} goes with --tap or --estimate; add one of them.")
        if self.two_taps is not None:
            self._check_taps(*self.two_taps)
        if self.audition is not None:
            check_sound(self.audition)
            if self.audition == self.beats_file:
                raise click.UsageError(f"--beats-file and --audition both name {self.audition}.")
        if others and asked:
            raise click.UsageError("--tap and --estimate tell the beats of music and make no plan.")
        return asked

    def _check_taps(self, first: float, second: float) -> None:
        if not self.estimate:
            raise click.UsageError("--two-taps goes with --estimate; add it.")
        if not 0.0 <= first < second < first + LONGEST_GAP:
            raise click.UsageError(
                f"--two-taps {first:g} {second:g}: they are the seconds of two beats in a row, the "
                f"earlier one first, less than {LONGEST_GAP:g} s between."
            )

    def check_free(self, *, overwrite: bool) -> None:
        """Check, before anybody taps for minutes, that the files can be written.

        Raises
        ------
        FileError
            If one is there already and is not to be replaced.
        """
        for path in (self.beats_file, self.audition):
            if path is not None:
                check_free(path, overwrite=overwrite)


beats_options = in_order(
    flag("--tap", "Play the music, and count each key you press as a beat."),
    flag("--estimate", "Listen for the beats of the music, and say how sure they are."),
    option("--beats-file FILE", FILE, "List the beats that are tapped or heard in this file."),
    option(
        "--two-taps SECONDS SECONDS",
        float,
        "When two beats in a row fall, to settle which are meant: as estimated, half, double or "
        "between.",
        nargs=2,
    ),
    option("--audition FILE", FILE, "Write the music with a click on each beat, to listen to."),
    speaker_delay_option,
)


@dataclass(frozen=True, slots=True)
class FoundBeats:
    """Where the beats of some music are."""

    music: Path
    named: str
    """The file of the music as a routine file names it."""
    tempo: float | None
    """Beats a minute; None if the beats have to be listed one by one."""
    beats: tuple[float, ...]
    """In seconds of the music."""
    confidence: float | None
    """Of an estimate, from 0 to 1; None for taps."""
    sentences: tuple[str, ...]
    """What to tell a person about them."""
    estimate: "Estimate | None" = None
    """What was estimated; None for taps."""


def found_beats(file: Path, asked: BeatsAsked, request: Request) -> FoundBeats:
    """Return the beats of the music that a routine file names, or of `file` if it is music.

    Raises
    ------
    NoBeatsError
        If the routine file cannot be read or names no music, or no beats are found.
    MusicError
        If the music cannot be read, or the extra for it is not installed.
    OutsideError
        If there is no device to play on.
    """
    named = _named_in(file)
    path = file.parent / named
    if asked.tap:
        return _tapped_along(path, named, request)
    return _estimated(path, named, asked.two_taps)


def _named_in(file: Path) -> str:
    """Return the music that a routine file names, or the name of a file that is music itself."""
    from throwcount.caller.options.request import ENDING
    from throwcount.caller.options.toml_file import TomlFileError, read_toml

    if file.suffix.lower() != ENDING:
        return file.name
    try:
        music = read_toml(file).values.get("music")
    except (OSError, TomlFileError) as error:
        raise NoBeatsError(f"{file} cannot be read: {error}") from error
    named = music.get("file") if isinstance(music, dict) else None
    if not isinstance(named, str):
        raise NoBeatsError(f"{file}: {FROM_THE_FILE}")
    return named


def _estimated(path: Path, named: str, taps: tuple[float, float] | None) -> FoundBeats:
    """Return the beats that the program hears in music, those of two taps if there are any."""
    from throwcount.caller.pieces.routine import read_music

    with read_music(path, ESTIMATE_RATE) as music:
        if taps is not None and taps[1] > music.seconds:
            raise NoBeatsError(
                f"Two taps at {taps[0]:.2f} s and {taps[1]:.2f} s: {path.name} ends at "
                f"{music.seconds:.2f} s. Perhaps they are the seconds of another recording."
            )
        found = estimated(music, path.name)
    if found.tempo is None:
        raise NoBeatsError(f"{path}: {found.sentence}")
    if taps is not None:
        found = settled(found, *taps)
    tempo = found.tempo if found.steady else None
    sentences = found.sentence, BAR_ONE
    return FoundBeats(path, named, tempo, found.beats, found.confidence, sentences, found)


def estimated(music: "Music", name: str) -> "Estimate":
    """Return the estimate of the beats of decoded music, with a progress bar."""
    from throwcount.caller.terminal.printing import search_bar
    from throwcount.sounds.music.estimate import estimate

    with search_bar(f"Listening to {name}") as done:
        return estimate(music, done)


def settled(found: "Estimate", first: float, second: float) -> "Estimate":
    """Return the estimate with the beats that two taps, in seconds, are meant for.

    Raises
    ------
    NoBeatsError
        If they are near none.
    """
    from throwcount.sounds.music.estimate import settled_by_two

    meant = settled_by_two(found, first, second)
    if meant is None:
        tempos = ", ".join(f"{each.tempo:.1f}" for each in found.alternatives)
        raise NoBeatsError(
            f"Two taps at {first:.2f} s and {second:.2f} s ({60 / (second - first):.1f} beats a "
            f"minute) follow neither the beats that were estimated, {found.tempo:.1f} a minute "
            f"from {found.beats[0]:.2f} s to {found.beats[-1]:.2f} s, nor half, double or those "
            f"between ({tempos}). Tap all of it with --tap."
        )
    return meant


def _tapped_along(path: Path, named: str, request: Request) -> FoundBeats:
    """Play music, and return the beats that a person taps along."""
    from throwcount.caller.pieces.routine import read_music
    from throwcount.caller.plans.tapping import tap, tapped_beats
    from throwcount.caller.plans.taps import TapsError
    from throwcount.caller.terminal.printing import suggesting_render
    from throwcount.sounds.music.decoding import frames_of
    from throwcount.sounds.output.player import LivePlayer

    frames_of(path, ESTIMATE_RATE)  # fails before a device is opened for nothing
    with suggesting_render():
        player = LivePlayer(request.output, request.rate)
    with player, read_music(path, player.rate) as music:
        with suggesting_render():
            taps = tap(music, player, request.speaker_delay)
        if len(taps) == A_PAIR:
            return _estimated(path, named, (taps[0], taps[1]))
        try:
            found = tapped_beats(taps, music)
        except TapsError as error:
            raise NoBeatsError(str(error)) from error
    return FoundBeats(path, named, found.tempo, found.beats, None, (*found.sentences, BAR_ONE))


def tell_beats(found: FoundBeats, file: Path, asked: BeatsAsked, *, as_json: bool) -> None:
    """Show what was found, with the lines for a routine file or as JSON; write the beats file.

    `file` is what the person named: the routine file, or music beside one. The beats file is
    replaced if it is there already.
    """
    from throwcount.caller.routine_file.starter import toml_lines
    from throwcount.caller.terminal.printing import show_json, tell

    if asked.audition is not None:
        _write_audition(found, asked.audition)
    beats = asked.beats_file
    if beats is not None:
        lines = beats_lines(found.beats, f"The beats of {found.music.name}")
        write_text(beats, lines, overwrite=True)
    if as_json:
        show_json(_document(found, asked))
        return
    tell(*found.sentences)
    if found.confidence is not None:
        from throwcount.sounds.music.estimate import CONFIDENT

        tell(f"Confidence: {found.confidence:.2f}, of 1 at most; sure from {CONFIDENT:g} on.")
    table = _table(found, None if beats is None else _seen_from(file.parent, beats))
    click.echo(printable("".join(toml_lines({"music": table}))), nl=False)


def _table(found: FoundBeats, beats: str | None) -> Mapping[str, object]:
    """Return the table [music] of a routine file; `beats` names a file that lists them."""
    table: dict[str, object] = {"file": found.named}
    if found.tempo is not None:
        steady = {"tempo": found.tempo, "first-beat": found.beats[0]}
        return table | {key: round(value, DIGITS) for key, value in steady.items()}
    listed = [round(beat, DIGITS) for beat in found.beats]
    return table | {"beats": listed if beats is None else beats}


def _seen_from(folder: Path, path: Path) -> str:
    """Return how a file in `folder` names a path: relative where it lies within."""
    whole, around = path.resolve(), folder.resolve()
    return (whole.relative_to(around) if whole.is_relative_to(around) else whole).as_posix()


def _write_audition(found: FoundBeats, path: Path) -> None:
    """Write the music with a click on each beat, with a progress bar; a file there is replaced."""
    from throwcount.caller.pieces.routine import read_music
    from throwcount.caller.terminal.printing import progress
    from throwcount.sounds.files.audio_files import write_audio
    from throwcount.sounds.mixing.score import auditioned

    with read_music(found.music, ESTIMATE_RATE) as music:
        mixer = auditioned(music, found.beats)
        with progress(f"Writing {path.name}", music.frames) as done:
            write_audio(path, mixer, music.rate, music.frames, overwrite=True, on_frames=done)


def _document(found: FoundBeats, asked: BeatsAsked) -> dict[str, Any]:
    from throwcount.sounds.music.estimate import CONFIDENT

    estimate, beats = found.estimate, asked.beats_file
    return {
        "music": str(found.music),
        "tempo": found.tempo,
        "first_beat": found.beats[0],
        "beats": found.beats,
        "confidence": found.confidence,
        "sure": None if found.confidence is None else found.confidence >= CONFIDENT,
        "beat_confidence": None if estimate is None else estimate.chances,
        "weak": None if estimate is None else estimate.weak,
        "alternatives": None
        if estimate is None
        else [
            {"name": each.name, "tempo": each.tempo, "first_beat": each.beats[0]}
            for each in estimate.alternatives
        ],
        "sentences": found.sentences,
        "file": None if beats is None else str(beats),
        "audition": None if asked.audition is None else str(asked.audition),
    }


def beats_lines(beats: Sequence[float], title: str) -> Iterator[str]:
    """Yield the lines of a beats file; `beats` are in seconds of the music, in order."""
    for line in (*title.splitlines(), f"{len(beats)} beats, in seconds of the music"):
        yield f"# {line}\n"
    for beat in beats:
        yield f"{beat:.4f}\n"
