"""A routine file and a request become pieces, from any part on.

What is typed on the command line wins over what the file asks for.
"""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path
from typing import Any, Final

import click

from throwcount.caller.options.request import NOT_OF_A_ROUTINE, Request
from throwcount.caller.pieces.piece import (
    AGAIN_READY,
    DEFAULT_RATE,
    Piece,
    balance_from,
    called_voice,
    said_as_asked,
    wording_of,
)
from throwcount.caller.routine_file.reading import RoutineFile, adding_up, read_routine
from throwcount.caller.terminal.printing import progress
from throwcount.caller.terminal.text import near
from throwcount.engine.errors import PatternError, TempoError
from throwcount.engine.patterns.rules import read
from throwcount.engine.patterns.states import start
from throwcount.engine.routines.layout import LaidOut, lay_out
from throwcount.engine.routines.routine import PatternPart
from throwcount.engine.routines.routine_run import (
    cue_texts,
    cue_words,
    in_short,
    laid_from,
    laid_until,
    music_begins,
    run_parts,
    with_calls,
)
from throwcount.engine.routines.running_order import RunningOrder, running_order
from throwcount.engine.scheduling.calls import announcement
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.timeline import Cue
from throwcount.sounds.errors import InputError
from throwcount.sounds.files.whole_files import check_input
from throwcount.sounds.mixing.music_bed import USUAL_DUCK, Music, Track
from throwcount.sounds.mixing.score import Balance
from throwcount.sounds.music.decoding import decoded_music, frames_of
from throwcount.sounds.music.stretching import STRETCHES
from throwcount.sounds.voices.voice import CallingVoice, CueVoice, call_paces, cue_line, cue_paces


@contextmanager
def read_music(path: Path, rate: int, share: float = 1.0) -> Iterator[Music]:
    """Decode music to a sample rate in Hz, with a progress bar, and keep it during the context.

    `share` is that of its tempo at which it is to be heard.

    Raises
    ------
    MusicError
        If it cannot be read.
    """
    with ExitStack() as keeping:
        what = "Reading" if share == 1.0 else "Stretching"
        with progress(f"{what} {path.name}", round(frames_of(path, rate) / share)) as done:
            music = keeping.enter_context(decoded_music(path, rate, share=share, on_frames=done))
        yield music


def filled_from(request: Request, file: "RoutineFile") -> Request:
    """Return a request with what a routine file asks for, where the person typed nothing.

    Raises
    ------
    click.UsageError
        If an option was typed that only the file can answer.
    """
    for name in NOT_OF_A_ROUTINE:
        if name in request.typed:
            raise click.UsageError(
                f"--{name} is for a single pattern; {file.path} gives the tempo and the length of "
                "each part. Use --percent to rehearse it slower or faster."
            )
    asked_by_file = {
        "say": file.say,
        "announce": file.announce,
        "speak_rests": file.speak_rests,
        "milestones": file.milestones,
        "stop_word": file.stop_word,
        "word": file.words or None,
        "names": file.names or None,
        "voice": file.voice,
        "language": file.language,
        "phrase": file.phrases or None,
        "clicks": file.clicks,
        "hall": file.hall,
        "voice_level": file.voice_level,
        "click_level": file.click_level,
        "first": file.first,
        "count_in": file.count_in,
        "ready": file.routine.ready,
        "ceiling": file.ceiling,
        "hands": file.hands,
        "dwell": file.dwell,
    }
    filled: dict[str, Any] = {
        name: value
        for name, value in asked_by_file.items()
        if value is not None and name not in request.typed
    }
    return replace(request, **filled, props=request.props or file.props or "")


BATCH: Final = 50
"""Cue calls that a voice gets ready at a time, so that progress can be shown."""

NAMED_AFTER: Final = 0.3
"""Seconds from the start of a part that is begun again until it is named."""


@dataclass(frozen=True, slots=True)
class RoutineSource:
    """A routine as asked for, which gives a piece from any part on, at any share of the tempo."""

    request: Request
    """What the person asked for, with what the file asks for where they typed nothing."""

    file: RoutineFile
    """The routine file as it was read."""

    laid: LaidOut
    """Every part at its beat, from the first."""

    begin: int | None
    """The number of the part to begin with, which is a pattern; None to begin with the first."""

    end: int | None = None
    """The number of the part to end with, which is a pattern; None to end with the last."""

    @property
    def share(self) -> float:
        """The share of its tempo that was asked for."""
        return 1.0 if self.request.percent is None else self.request.percent / 100

    @property
    def throwing(self) -> tuple[int, ...]:
        """The numbers of the parts in which something is thrown, in order, up to the last asked."""
        return tuple(
            each.number
            for each in self.laid.parts
            if isinstance(each.part, PatternPart) and each.number <= (self.end or each.number)
        )

    def voice(self, rate: int) -> CueVoice:
        """Return the voice for calls and cues, ready for every cue call; `rate` is in Hz.

        Raises
        ------
        VoiceError
            If there is no such voice.
        """
        voice = called_voice(self.request, rate, self.file.cue_voice)
        if not self.request.cues:
            return voice
        wording, laid = wording_of(self.request), self.left()
        texts = [text for each in laid.parts for text in cue_texts(each.part, each.change, wording)]
        lines = [cue_line(text) for text in dict.fromkeys(texts)] + list(_manner_texts(laid))
        with progress(f"Words for {self.file.title}", len(lines)) as done:
            for first in range(0, len(lines), BATCH):
                batch = lines[first : first + BATCH]
                voice.prepare(batch)
                done(len(batch))
        return voice

    @contextmanager
    def music(self, rate: int) -> Iterator[Music | None]:
        """Decode its music, if any, to a sample rate in Hz, and keep it during the context.

        It is stretched to the tempo that was asked for.

        Raises
        ------
        MusicError
            If it cannot be read.
        """
        if self.file.music is None:
            yield None
            return
        with read_music(self.file.music.path, rate, self.share) as music:
            yield music

    def piece(
        self,
        voice: CallingVoice,
        music: Music | None = None,
        *,
        number: int | None = None,
        share: float = 1.0,
        again: bool = False,
    ) -> Piece:
        """Return the piece from a part on.

        Parameters
        ----------
        voice, music
            From the methods of these names.
        number
            The number of the part; None for the one that was asked for.
        share
            The tempo as a share of the one that was asked for.
        again
            Whether it is begun again during a practice, with little time and no announcement.
        """
        laid = self.left(number)
        laid = replace(laid, tempo=laid.tempo.scaled(share))
        if again:
            request = replace(self.request, announce=False, ready=AGAIN_READY)
            run = replace(_run(laid, request, voice), prelude=tuple(self._named(laid, voice)))
        else:
            run = _run(laid, self.request, voice)
        return Piece(
            title=self.file.title,
            run=run,
            voice=voice,
            balance=self.balance,
            track=self._track(laid, run, music),
            part_numbers=tuple(number for number, _ in run_parts(laid)),
        )

    def left(self, number: int | None = None) -> LaidOut:
        """Return what was asked for from a part on; None for the part that was asked for."""
        number = self.begin if number is None else number
        laid = self.laid if self.end is None else laid_until(self.laid, self.end)
        return laid if number is None else laid_from(laid, number)

    @contextmanager
    def in_a_file(self) -> Iterator[Piece]:
        """Hand out the piece for a file while its music is there; errors as of `voice`, `music`."""
        voice = self.voice(self.request.rate or DEFAULT_RATE)
        with self.music(voice.rate) as music:
            yield self.piece(voice, music)

    @property
    def balance(self) -> Balance:
        """What is heard, and how loud."""
        return balance_from(self.request, self.file.cue_place)

    def order(self, run: Run) -> RunningOrder:
        """Return the running order of the run of a piece."""
        return running_order(self.left(), run, self.request.room)

    def _track(self, laid: LaidOut, run: Run, music: Music | None) -> Track | None:
        """Return decoded music with its place under a run; None without music."""
        file, begins = self.file.music, music_begins(laid, run)
        if music is None or file is None or begins is None:
            return None
        return Track(music, begins, file.level, USUAL_DUCK if file.duck is None else file.duck)

    def _named(self, laid: LaidOut, voice: CallingVoice) -> Iterator[Cue]:
        """Yield the name of the first part, said while the hands are filled."""
        if not self.request.cues:
            return
        texts = list(cue_texts(laid.parts[0].part, 0, wording_of(self.request)))
        voice.prepare(texts)
        said = (text for text in texts if text not in voice.missing)
        for text in islice(said, 1):
            yield Cue(NAMED_AFTER, text)


def routine_source(path: Path, request: Request) -> RoutineSource:
    """Return the routine in a file, as it is asked for.

    Raises
    ------
    RoutineFileError
        With all that is wrong with the file.
    click.UsageError
        If an option was typed that only the file can answer, there is no such part to begin or
        end with, or music cannot be stretched so far.
    """
    file = read_routine(path)
    if file.music is not None:
        # It is read later, and a live take must not be put in its place before.
        with suppress(OSError, InputError):
            check_input(file.music.path)
    request = filled_from(request, file)
    with adding_up(file):
        laid = _laid_out(file, request)
    begin, end = _first_and_last(laid, request)
    return RoutineSource(request, file, laid, begin, end)


def _laid_out(file: RoutineFile, request: Request) -> LaidOut:
    """Return the routine of a file with every part at its beat, at the tempo asked for."""
    routine = replace(file.routine, first=request.first, count_in=request.count_in)
    laid = lay_out(routine, request.room)
    if request.percent is None:
        return laid
    share = request.percent / 100
    least, most = STRETCHES
    if laid.routine.music is not None and not least <= share <= most:
        raise click.UsageError(
            f"--percent {request.percent:g} is too far for music, which is stretched to "
            f"{100 * least:g} to {100 * most:g} % of its tempo."
        )
    try:
        return laid.at_share(share)
    except TempoError as error:
        raise click.UsageError(f"--percent {request.percent:g}: {error}") from error


def _first_and_last(laid: LaidOut, request: Request) -> tuple[int | None, int | None]:
    """Return the numbers of the parts to begin and to end with; None where none is wanted.

    It begins with the pattern after a rest, and ends with the one before.
    """
    throwing = [each.number for each in laid.parts if isinstance(each.part, PatternPart)]
    begin = end = None
    if request.begin is not None:
        wanted = _part_number(laid, "--from", request.begin)
        begin = next(number for number in throwing if number >= wanted)
    if request.until is not None:
        wanted = _part_number(laid, "--until", request.until, begin or 1)
        end = next(number for number in reversed(throwing) if number <= wanted)
    if end is not None and end < (begin or 1):
        raise click.UsageError(
            f"--until {request.until} is over before --from {request.begin} begins, so nothing "
            "would be thrown."
        )
    return begin, end


def _part_number(laid: LaidOut, option: str, wanted: str, since: int = 1) -> int:
    """Return the number of the part with a number or a name, or with a pattern however written.

    Where several have it, it is the first from part `since` on, or else the first.
    """
    names = [each.part.title for each in laid.parts]
    if wanted.isdecimal() and 1 <= int(wanted) <= len(names):
        return int(wanted)
    numbers = [number for number, name in enumerate(names, 1) if name == wanted]
    numbers = numbers or list(_thrown_in(laid, wanted))
    if numbers:
        return next((number for number in numbers if number >= since), numbers[0])
    raise click.UsageError(
        f"{option} {wanted}: the routine has no such part; its parts are 1 to {len(names)}."
        + near(wanted, names)
    )


def _thrown_in(laid: LaidOut, text: str) -> Iterator[int]:
    """Yield the numbers of the parts with the pattern that a text stands for, if it does."""
    try:
        pattern = read(text)
    except PatternError:
        return
    for each in laid.parts:
        if isinstance(each.part, PatternPart) and each.part.pattern.turns == pattern.turns:
            yield each.number


def _run(laid: LaidOut, request: Request, voice: CallingVoice) -> Run:
    """Return what is left of a routine as a run; quick if the voice is ready for its cues."""
    run = Run(
        parts=tuple(part for _, part in run_parts(laid)),
        tempo=laid.tempo,
        first=laid.routine.first,
        ready=request.ready,
    )
    run = said_as_asked(run, _announcement(laid, request), request, voice)
    if not request.cues:
        return run
    voice.prepare(_manner_texts(laid))
    missing = voice.missing  # asked once, as the voice lists them anew each time

    def says(text: str) -> bool:
        return text not in missing

    cues = cue_words(laid, run.wording, cue_paces(voice), says)
    called = (
        replace(part, manners=tuple(with_calls(part.manners, call_paces(voice), says)))
        if isinstance(part, Part)
        else part
        for part in run.parts
    )
    return replace(run, cues=tuple(cues), parts=tuple(called))


def _manner_texts(laid: LaidOut) -> Iterator[str]:
    """Yield what may be called at single throws."""
    for each in laid.parts:
        for manner in each.part.manners if isinstance(each.part, PatternPart) else ():
            yield from (manner.how, in_short(manner.how))


def _announcement(laid: LaidOut, request: Request) -> str:
    opening = laid.parts[0].part
    if not request.announce or not isinstance(opening, PatternPart):
        return ""
    first = opening.first or laid.routine.first
    held = start(opening.pattern, first)
    return announcement(opening.pattern, laid.tempo.start, first, wording_of(request), held)
