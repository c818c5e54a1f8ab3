"""A timeline as a Standard MIDI File, for sequencers and notation programs.

Every beat is a quarter note. The first of three tracks has the tempo map, the bars, chapters as
markers and cue calls as cue points; the second has the clicks, on the drum channel; the third has
the calls, as lyrics. The events follow Standard MIDI Files 1.0 (MIDI Manufacturers Association),
the lyrics its Recommended Practice RP-017. Texts are in UTF-8: the standard knows only ASCII, but
most programs read UTF-8.

A tempo is a whole number of microseconds a quarter note. It is kept for as many quarter notes as
stay near enough to their times, counted from the beginning of the file; so errors never add up, and
a steady tempo takes few events.
"""

import heapq
import math
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain, islice
from operator import itemgetter
from pathlib import Path
from typing import Final, TypeAlias

from mido import Message, MetaMessage, MidiFile

from throwcount.caller.exports.events import BAR_WITHOUT_THROWS, bars
from throwcount.engine.scheduling.scheduler import Chapter
from throwcount.engine.timing.timeline import Timeline
from throwcount.sounds.errors import FileError
from throwcount.sounds.files.chapters import one_line
from throwcount.sounds.files.whole_files import whole_file

TICKS: Final = 960
"""Ticks a quarter note."""

DEFAULT_LENGTH: Final = 500_000
"""Microseconds a quarter note where a file gives no tempo."""

SLACK: Final = 10.0
"""Microseconds by which a beat may be off: half a sample at 48 kHz, and less than a tick up to
1000 beats a minute, the quickest tempo that can be kept."""

MICROSECONDS: Final = 1e6

LENGTH_LIMITS: Final = (1, 2**24 - 1)
"""The shortest and the longest quarter note, in microseconds."""


@dataclass(frozen=True, slots=True)
class Tempo:
    """A tempo from one quarter note on."""

    quarter: int
    """The number of that quarter note, from zero."""
    start: int
    """When it begins, in microseconds."""
    length: int
    """Length of each quarter note from there on, in microseconds."""


def tempos(times: Iterable[float]) -> Iterator[Tempo]:
    """Yield the tempos that bring every quarter note within `SLACK` of its time.

    `times` are those of the quarter notes, in seconds; the first is 0, and each is later than the
    one before, by less than the 16.7 s of the longest quarter note.
    """
    quarter = start = count = 0
    shortest, longest, best = *LENGTH_LIMITS, DEFAULT_LENGTH
    for time in islice(times, 1, None):
        since = time * MICROSECONDS - start
        low, high = _lengths(since, count + 1)
        if max(low, shortest) > min(high, longest):
            yield Tempo(quarter, start, best)
            quarter += count
            start += count * best
            since -= count * best
            count, (shortest, longest), (low, high) = 0, LENGTH_LIMITS, _lengths(since, 1)
        count += 1
        shortest, longest = max(low, shortest), min(high, longest)
        best = min(max(round(since / count), shortest), longest)
    yield Tempo(quarter, start, best)


@dataclass(frozen=True, slots=True)
class MidiClock:
    """Converts times to ticks of a MIDI file."""

    tempos: tuple[Tempo, ...]
    """The tempos in order, at least one, the first at quarter note 0."""
    lead_in: int
    """Quarter notes before the first beat of the timeline."""
    end: int = 0
    """The last tick."""

    def tick_at(self, seconds: float) -> int:
        """Return the tick nearest to a time, in seconds from the first sample."""
        moment = seconds * MICROSECONDS
        index = bisect_right(self.tempos, moment, key=lambda tempo: tempo.start) - 1
        tempo = self.tempos[max(index, 0)]
        return tempo.quarter * TICKS + round((moment - tempo.start) * TICKS / tempo.length)


def _midi_clock(timeline: Timeline) -> MidiClock:
    """Return the clock of a timeline; its lead-in has quarter notes of about a beat each."""
    beats = iter(timeline)
    first = next(beats)
    lead_in = max(1, round(first.time * first.tempo / 60)) if first.time > 0 else 0
    before = (first.time * quarter / lead_in for quarter in range(lead_in))
    times = chain(before, [first.time], (beat.time for beat in beats))
    clock = MidiClock(tuple(tempos(times)), lead_in)
    return replace(clock, end=clock.tick_at(timeline.seconds or 0.0))


def _lengths(since: float, count: int) -> tuple[int, int]:
    """Return the shortest and the longest quarter note of which `count` take about `since`."""
    return math.ceil((since - SLACK) / count), math.floor((since + SLACK) / count)


ENDINGS: Final = (".mid", ".midi")

DRUMS: Final = 9
"""Channel 10 of General MIDI, counted from zero."""

CLAVES: Final = 75
HAND_NOTES: Final = {"right": (76,), "left": (77,), "both": (76, 77)}
"""General MIDI percussion: claves count in; the high wood block is the right hand, the low one the
left hand."""

VELOCITIES: Final = {"count-in": 100, "throw": 90, "run-out": 50}
ACCENT: Final = 127

CLICK_TICKS: Final = TICKS // 4

Event: TypeAlias = tuple[int, Message | MetaMessage]
"""A message and its tick, counted from the beginning."""


def write_midi(
    path: Path, timeline: Timeline, chapters: Sequence[Chapter], title: str, *, overwrite: bool
) -> None:
    """Write a timeline that ends to a Standard MIDI File; it is walked several times and not kept.

    `chapters` are in order of time.

    Raises
    ------
    FileError
        If the ending is none of `ENDINGS`, or the file cannot be written or is there already.
        Then nothing has changed.
    """
    check_midi_name(path)
    clock = _midi_clock(timeline)
    tracks = [
        _track(title, _conducting(timeline, chapters, clock), clock),
        _track("Clicks", _clicks(timeline, clock), clock),
        _track("Calls", _calls(timeline, clock), clock),
    ]
    # Each track is made message by message while it is written.
    file = MidiFile(type=1, ticks_per_beat=TICKS, charset="utf-8", tracks=tracks)
    with whole_file(path, overwrite=overwrite) as unfinished:
        file.save(unfinished)


def check_midi_name(path: Path) -> None:
    """Raise `FileError` if a file's ending is none of `ENDINGS`."""
    if path.suffix.lower() not in ENDINGS:
        raise FileError(f"{path} is no name for a MIDI file; let it end in .mid.")


def _track(name: str, events: Iterable[Event], clock: MidiClock) -> Iterator[Message | MetaMessage]:
    """Yield the messages of a track, each timed in ticks since the one before."""
    yield MetaMessage("track_name", name=one_line(name))
    before = 0
    for tick, message in events:
        message.time = tick - before
        before = tick
        yield message
    yield MetaMessage("end_of_track", time=max(0, clock.end - before))


def _conducting(
    timeline: Timeline, chapters: Sequence[Chapter], clock: MidiClock
) -> Iterator[Event]:
    tempos = (
        (tempo.quarter * TICKS, MetaMessage("set_tempo", tempo=tempo.length))
        for tempo in clock.tempos
    )
    markers = (
        (clock.tick_at(chapter.start), MetaMessage("marker", text=one_line(chapter.title)))
        for chapter in chapters
    )
    cues = (
        (clock.tick_at(cue.time), MetaMessage("cue_marker", text=one_line(cue.text)))
        for cue in timeline.cues
    )
    return heapq.merge(tempos, _signatures(timeline, clock), markers, cues, key=itemgetter(0))


def _signatures(timeline: Timeline, clock: MidiClock) -> Iterator[Event]:
    """Yield how many quarter notes a bar has, wherever that changes."""
    whole, rest = divmod(clock.lead_in, BAR_WITHOUT_THROWS)
    leading = [rest] * bool(rest) + [BAR_WITHOUT_THROWS] * whole
    before, quarter = 0, 0
    for length in chain(leading, (len(bar.beats) for bar in bars(timeline))):
        if length != before:
            yield quarter * TICKS, MetaMessage("time_signature", numerator=length, denominator=4)
        before = length
        quarter += length


def _clicks(timeline: Timeline, clock: MidiClock) -> Iterator[Event]:
    for quarter, beat in enumerate(timeline, clock.lead_in):
        if beat.click is None:
            continue
        tick, click = quarter * TICKS, beat.click
        notes = (CLAVES,) if click.kind == "count-in" else HAND_NOTES[click.hands]
        velocity = ACCENT if click.accent else VELOCITIES[click.kind]
        for note in notes:
            yield tick, Message("note_on", channel=DRUMS, note=note, velocity=velocity)
        for note in notes:
            yield tick + CLICK_TICKS, Message("note_off", channel=DRUMS, note=note)


def _calls(timeline: Timeline, clock: MidiClock) -> Iterator[Event]:
    """Yield the calls; a space ends each word, and a carriage return the last word of a bar."""
    for bar in bars(timeline):
        called = [beat for beat in bar.beats if beat.call is not None]
        for left, beat in zip(reversed(range(len(called))), called, strict=True):
            tick = clock.tick_at(beat.time if beat.call_time is None else beat.call_time)
            word = one_line(beat.call or "") + (" " if left else " \r")
            yield tick, MetaMessage("lyrics", text=word)
