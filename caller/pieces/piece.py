"""A piece: a pattern or a routine ready to be heard, its voice, and sentences about it."""

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Final

from throwcount.caller.options.request import Request
from throwcount.caller.terminal.printing import shortened
from throwcount.caller.terminal.text import WrongCommandError
from throwcount.engine.numbers import counted
from throwcount.engine.patterns.pattern import VALUE_DIGITS, Hand, Pattern
from throwcount.engine.patterns.states import start
from throwcount.engine.scheduling.calls import SPELLING_ALPHABET
from throwcount.engine.scheduling.scheduler import Chapter, calls_repeat, chapters_of, schedule
from throwcount.engine.scheduling.thinning import CYCLES, Spacing, spacings, thin
from throwcount.engine.timing.run import Fading, Places, Run, Wording
from throwcount.engine.timing.tempo import TempoMap
from throwcount.engine.timing.timeline import Timeline
from throwcount.sounds.errors import UnknownVoiceError
from throwcount.sounds.mixing.mixer import NO_MUSIC, TRUE_PEAK_CEILING, Mixer
from throwcount.sounds.mixing.music_bed import Track
from throwcount.sounds.mixing.score import Balance, mix
from throwcount.sounds.voices.languages import phrasebook
from throwcount.sounds.voices.open_voice import open_voice
from throwcount.sounds.voices.voice import (
    CallingVoice,
    CueVoice,
    Voice,
    cue_line,
    natural_seconds,
    quickest_seconds,
    unchanged,
)

if TYPE_CHECKING:
    from throwcount.engine.routines.routine import CuePlace

DEFAULT_RATE: Final = 48_000
"""Sample rate of a file, in Hz."""

AGAIN_READY: Final = 3.0
"""Seconds for filling the hands before what begins again, or goes on, during a practice."""

TOLD_DECIBELS: Final = 0.5
"""A level that is lower than asked for by so much is told."""

CHECKED_CYCLES: Final = 150 * CYCLES
"""Cycles in which the widest spacing of the calls is sought, at the tempo of the beginning and at
that of the end: between them the tempo only rises or only falls."""


@dataclass(frozen=True)
class Piece:
    """A pattern or a routine, or what is left of one, ready to be heard.

    What takes a walk through the beats is found when it is first asked for, and kept. So a part
    that is begun again during a practice costs no more than its run.
    """

    title: str
    """The name of the pattern or the routine."""

    run: Run
    """What is thrown, how fast, and what is said."""

    voice: CallingVoice
    """Who speaks."""

    balance: Balance
    """What is heard, and how loud."""

    tempo_reason: str = ""
    """Why it has this tempo; empty if the person or the routine chose it."""

    warnings: tuple[str, ...] = ()
    """What is wrong with the tempo of a pattern, for its highest throw or for the hands."""

    highest_m: float | None = None
    """How high the highest throw of a pattern rises above the hands at its slowest tempo, in
    metres; None if nothing flies."""

    track: Track | None = None
    """The music under it; None without music."""

    part_numbers: tuple[int, ...] = ()
    """For each part of the run, its number in the routine or that of the part it leads to; empty
    for a pattern."""

    @cached_property
    def timeline(self) -> Timeline:
        """Its beats, with those calls that the voice is quick enough for."""
        self.voice.prepare(self._whole.words)
        return thin(self._whole, quickest_seconds(self.voice))

    @cached_property
    def thinned(self) -> tuple[Spacing, ...]:
        """Where calls are left out: for each part that has such a place, the worst of them."""
        widest: dict[str, Spacing] = {}
        for spacing in self._spacings():
            known = widest.get(spacing.beat.part)
            if spacing.share < (1.0 if known is None else known.share):
                widest[spacing.beat.part] = spacing
        return tuple(widest.values())

    @cached_property
    def chapters(self) -> tuple[Chapter, ...]:
        """What comes when, in a piece that ends."""
        return tuple(chapters_of(self.run))

    @cached_property
    def said(self) -> frozenset[str]:
        """What is said, or may be; of the manners of single throws those that are called."""
        words = self._whole.words
        if any(part.manners for part in self.run.throwing):
            words = frozenset(beat.call for beat in self.timeline if beat.call)
        return words.union(cue.text for cue in self._whole.cues)

    @property
    def seconds(self) -> float:
        """Its length in seconds; 0 if it never ends."""
        return self.timeline.seconds or 0.0

    def part_index(self, beat: int) -> int | None:
        """Return which part of the routine a beat is in, from zero; 0 for a pattern.

        The throws between two parts are in the one that they lead to, and the catches and the
        count-in around a rest in the rest. None for the first count-in and the last catches.
        """
        place = self._places.at(beat)
        if beat < 0 or (place.end is not None and beat >= place.end):
            return None
        return self.part_numbers[place.index] - 1 if self.part_numbers else place.index

    @cached_property
    def _places(self) -> Places:
        return Places(self.run)

    def sound(self, seconds: float | None = None) -> Mixer:
        """Return its sound; of a piece that never ends, the first `seconds`."""
        timeline = self.timeline
        if timeline.seconds is None:
            timeline = replace(timeline, seconds=seconds)
        return mix(timeline, self.voice, self.voice.rate, self.balance, self.track)

    @cached_property
    def _whole(self) -> Timeline:
        """Its beats with every call."""
        return schedule(self.run)

    def _spacings(self) -> Iterator[Spacing]:
        """Yield the spacings that include the widest."""
        whole, quickest = self._whole, quickest_seconds(self.voice)
        self.voice.prepare(whole.words)
        if self.part_numbers:
            yield from spacings(whole, quickest)
            return
        if calls_repeat(self.run) and self.run.tempo.start == self.run.tempo.end:
            yield from islice(spacings(whole, quickest), 2)
            return
        ending = schedule(self.run, _last_tempo(self.run))
        yield from islice(spacings(whole, quickest), CHECKED_CYCLES // CYCLES)
        yield from islice(spacings(ending, quickest), CHECKED_CYCLES // CYCLES)


def _last_tempo(run: Run) -> int:
    """Return the first beat of a cycle from which on the tempo is about that of the end."""
    part = run.opening
    period = part.pattern.period
    reached = math.ceil(run.tempo.beats / period) * period
    if part.beats is None:
        return reached
    last = (part.beats - 1) // period * period
    return max(0, min(reached, last - (CHECKED_CYCLES - 1) * period))


def wording_of(request: Request) -> Wording:
    """Return how throws are put in words."""
    return Wording(request.word, request.letters, request.names)


def said_as_asked(run: Run, spoken: str, request: Request, voice: Voice) -> Run:
    """Return a run with `spoken` as its announcement, and the count-in and calls asked for."""
    return replace(
        run,
        announcement=spoken,
        announcement_seconds=natural_seconds(voice)(spoken) if spoken else 0.0,
        count_in=request.count_in,
        say=request.say,
        milestones=request.milestones,
        goal=request.goal if isinstance(request.goal, int) else None,
        stop_word=request.stop_word,
        wording=wording_of(request),
        lead=request.lead,
        fading=Fading(request.fade, request.fade_clicks),
    )


def balance_from(request: Request, cue_place: "CuePlace | None" = None) -> Balance:
    """Return what is heard, and how loud; cue calls are in the centre unless they have a place."""
    return Balance(
        request.voice_level,
        request.click_level,
        request.clicks,
        request.tune,
        cue_place or "centre",
        request.hall,
    )


def called_voice(request: Request, rate: int, cue_voice: str | None = None) -> CueVoice:
    """Return the voice that was asked for, in its language, at a sample rate in Hz.

    `cue_voice` is the name of another voice for cue calls; None for the same.

    Raises
    ------
    VoiceError
        If there is no such voice.
    """
    from platformdirs import user_cache_path  # loaded only when a voice is opened

    cache = user_cache_path("throwcount") / "words"
    own = (*request.word.values(), *request.names)
    book = phrasebook(request.language, request.phrase, own)
    finish = unchanged
    if request.hall:
        from throwcount.sounds.voices.loud_room import for_loud_room as finish  # seldom asked for
    try:
        calls = open_voice(request.voice, rate, cache, phrasebook=book, finish=finish)
    except UnknownVoiceError as error:
        if "voice" in request.typed:
            raise WrongCommandError(str(error)) from error
        raise
    if cue_voice is None:
        return CueVoice(calls, calls)
    cues = open_voice(cue_voice, rate, cache, phrasebook=book, finish=finish)
    return CueVoice(calls, cues)


NAMED: Final = 5
"""Most texts that a sentence lists."""


def about(piece: Piece) -> Iterator[str]:
    """Yield sentences on what a person may want to know before they listen."""
    yield from about_tempo(piece)
    yield from about_calls(piece)


def about_tempo(piece: Piece) -> Iterator[str]:
    """Yield why the piece has its tempo, and how the tempo changes."""
    tempo = piece.run.tempo
    if piece.tempo_reason:
        yield f"Tempo: {piece.tempo_reason}"
    if tempo.start != tempo.end and len(piece.run.parts) == 1:
        yield _change_text(tempo, piece.run.opening.beats)


def about_calls(piece: Piece) -> Iterator[str]:
    """Yield where calls are left out, which letters sound alike, and which levels are too high."""
    manners = any(part.manners for part in piece.run.throwing)
    for thinned in piece.thinned:
        part = f' in "{thinned.beat.part}"' if piece.part_numbers else ""
        yield (
            f"No pace of this voice fits a call on every beat{part} at "
            f"{thinned.beat.tempo:.0f} beats a minute: about one call in {_so_many(thinned)}. "
            "Which ones changes from cycle to cycle"
            + (", and values give way to manners." if manners else ", so that each value is heard.")
        )
    run = piece.run
    throws = (throw for part in run.throwing for _, throw in part.pattern.throws())
    values = {throw.value for throw in throws if VALUE_DIGITS[throw.value].isalpha()}
    if run.say == "values" and run.wording.letters == "plain" and values:
        letter = VALUE_DIGITS[min(values)]
        yield (
            "Plain letters are often taken for one another at any tempo: --letters spelled calls "
            f"{letter} “{SPELLING_ALPHABET[letter]}”."
        )
    yield from about_manners(piece)
    yield from _about_levels(piece)


def _so_many(thinned: Spacing) -> str:
    left_out = round(thinned.there / (thinned.there - thinned.made))
    return f"{left_out} is left out" if left_out > thinned.every else f"{thinned.every} is made"


def about_manners(piece: Piece) -> Iterator[str]:
    """Yield how the manners of single throws are called, where that is not in full."""
    manners = {
        manner.how: manner
        for part in piece.run.throwing
        for manner in part.manners
        if manner.call or manner.unsayable
    }
    called: set[str | None] = set()
    made: set[str] = set()
    for beat in piece.timeline if any(each.call for each in manners.values()) else ():
        made.update((*beat.manners.left, *beat.manners.right))
        if beat.call_kind == "manner":
            called.add(beat.call)
    unsayable = [each for each in manners.values() if each.unsayable]
    if silent := [each.how for each in unsayable if not each.call]:
        yield f"No voice here can say {_some(silent)}: these throws are called as ever."
    if partly := [f"“{each.how}” (“{each.call}” is called)" for each in unsayable if each.call]:
        yield f"No voice here can say all of {_few(partly)}."
    sayable = [each for each in manners.values() if not each.unsayable and each.how in made]
    if never := [each.how for each in sayable if not called & {each.how, each.shorter}]:
        yield f"Only shown, as something else is called at all of these throws: {_some(never)}."
    if shorter := [each for each in sayable if each.shorter in called]:
        told = (
            f"“{each.how}” ({each.seconds:.1f} s) {'sometimes ' if each.how in called else ''}"
            f"as “{each.shorter}”"
            for each in shorter
        )
        yield (
            "Shortened, as the next call comes before all of it could be said without haste: "
            f"{_few([*told])}."
        )


def _about_levels(piece: Piece) -> Iterator[str]:
    """Yield what the levels that were asked for come to, where the ceiling does not allow them."""
    balance = piece.balance
    music = NO_MUSIC if piece.track is None else piece.track.wanted
    spoken = bool(piece.timeline.words or piece.timeline.cues)
    lowered = balance.gains(music, spoken=spoken).lowered
    if max(balance.voice_level, balance.click_level, music.level) > 0 and lowered >= TOLD_DECIBELS:
        yield (
            f"At these levels the sound would pass {TRUE_PEAK_CEILING:g} dBTP, so everything is "
            f"{lowered:.1f} dB softer: the voice gets {balance.voice_level - lowered:+.1f} dB "
            f"instead of {balance.voice_level:+g}, the clicks {balance.click_level - lowered:+.1f} "
            f"instead of {balance.click_level:+g}."
        )


def _change_text(tempo: TempoMap, beats: int | None) -> str:
    """Return how the tempo changes, and how far it gets within `beats` beats."""
    change = f"The tempo goes from {tempo.start:g} to {tempo.end:g} beats a minute"
    reached = tempo.end if beats is None else tempo.tempo_at(beats)
    if math.isclose(reached, tempo.end):
        return f"{change}."
    return f"{change}, and comes as far as {reached:g} in this length."


def hands_text(pattern: Pattern, first: Hand) -> str:
    """Return how many objects each hand begins with, such as "right 2, left 1"."""
    return held_text(start(pattern, first))


def held_text(held: Mapping[Hand, int]) -> str:
    """Return how many objects each hand holds, such as "right 2, left 1"."""
    return ", ".join(f"{hand} {objects}" for hand, objects in held.items())


def about_file(path: Path) -> Iterator[str]:
    """Yield a warning if the format of a file may shift sound in time."""
    from throwcount.sounds.files.audio_files import EXACT_ENDINGS  # not of what is played

    if path.suffix.lower() not in EXACT_ENDINGS:
        yield (
            f"{path.suffix.upper().lstrip('.')} can shift sound in time; beats are exact to the "
            "sample in WAV and FLAC."
        )


def about_voice(voice: CallingVoice, said: Collection[str] | None = None) -> Iterator[str]:
    """Yield remarks on a voice, what another voice says for it, and what none can say.

    `said` limits this to what is said; None for all that the voice was asked for.
    """
    yield from voice.remarks
    borrowed, missing = (
        _shortest([text for text in texts if said is None or text in said])
        for texts in (voice.borrowed, voice.missing)
    )
    if borrowed:
        speakers = voice.speakers
        names = {speakers.get(text) or speakers[cue_line(text)]: None for text in borrowed}
        yield (
            f"Another voice, {', '.join(names)}, says {_some(borrowed)}. "
            f"{voice.borrowed[borrowed[0]]}"
        )
    if missing:
        yield f"No voice here can say {_some(missing)}: a tone stands in."


def _shortest(texts: Collection[str]) -> list[str]:
    """Return `texts` in order, without those that contain another of them as a word."""
    every = set(texts)
    return sorted(
        text for text in every if not every.intersection(text.replace(",", " ").split()) - {text}
    )


def _some(texts: Iterable[str]) -> str:
    return _few([f"“{text}”" for text in texts])


def _few(texts: Sequence[str]) -> str:
    """Return the first few of some texts in a row, and how many more there are."""
    more = f" and {len(texts) - NAMED} more" if len(texts) > NAMED else ""
    return ", ".join(texts[:NAMED]) + more


def part_length(pattern: Pattern, beats: int) -> str:
    """Return how long a pattern goes on, in cycles where they are whole."""
    cycles, rest = divmod(beats, pattern.period)
    if rest:
        return f"{shortened(pattern.text)} for {counted(beats, 'beat')}"
    return f"{shortened(pattern.text)}, {counted(cycles, 'cycle')}"
