"""Plain sentences about what is going to be heard."""

import math
from collections.abc import Collection, Iterable, Iterator
from pathlib import Path
from typing import Final

from caller.console.terminal import shortened
from caller.rehearsals.piece import Piece
from engine.patterns.orbits import start
from engine.patterns.pattern import Hand, Pattern
from engine.timing.tempo import TempoMap
from engine.timing.timeline import Timeline
from sounds.files.audio_file import EXACT_ENDINGS
from sounds.voices.voice import CallingVoice

CAUTION: Final = (
    "Keep the volume low enough to talk over, above all with headphones; take breaks; clear the "
    "floor and the air above you of people, cables and pedals. For knives, fire, glass and heavy "
    "props follow local rules and learn from someone qualified."
)

NAMED: Final = 5
"""How many words are named, at most."""

INSTEAD_OF_A_DEVICE: Final = "`throwcount render` writes what would be heard to a file."


def about(piece: Piece) -> Iterator[str]:
    """Yield what a person may want to know before they listen."""
    yield from about_tempo(piece)
    yield from about_calls(piece)


def about_tempo(piece: Piece) -> Iterator[str]:
    """Yield why this tempo, and how it changes."""
    tempo = piece.run.tempo
    if piece.tempo_reason:
        yield f"Tempo: {piece.tempo_reason}"
    if tempo.start != tempo.end and len(piece.run.parts) == 1:
        yield _change_told(tempo, piece.run.opening.beats)


def about_calls(piece: Piece) -> Iterator[str]:
    """Yield whether calls are made less often than on every beat."""
    thinned = piece.thinned
    if thinned is not None:
        yield (
            f"No pace of this voice fits a call on every beat at {thinned.beat.tempo:.0f} beats "
            f"a minute: one call every {thinned.every} beats, counted from the start of each cycle."
        )


def _change_told(tempo: TempoMap, beats: int | None) -> str:
    """Return how the tempo changes, as far as it comes within so many beats."""
    change = f"The tempo goes from {tempo.start:g} to {tempo.end:g} beats a minute"
    reached = tempo.end if beats is None else tempo.tempo_at(beats)
    if math.isclose(reached, tempo.end):
        return f"{change}."
    return f"{change}, and comes as far as {reached:g} in this length."


def hands_told(pattern: Pattern, first: Hand) -> str:
    """Return how many objects each hand begins with, such as "right 2, left 1"."""
    return ", ".join(f"{hand} {objects}" for hand, objects in start(pattern, first).items())


def about_file(path: Path) -> Iterator[str]:
    """Yield what is to be known of a kind of file."""
    if path.suffix.lower() not in EXACT_ENDINGS:
        yield (
            f"{path.suffix.upper().lstrip('.')} can shift sound in time; beats are exact to the "
            "sample in WAV and FLAC."
        )


def about_voice(voice: CallingVoice, timeline: Timeline | None = None) -> Iterator[str]:
    """Yield what is to be known of a voice, what another had to say, and what none could.

    `timeline` is what is said; of more that the voice was asked for, nothing is told. None for all
    of it.
    """
    yield from voice.remarks
    borrowed = _shortest(_said(voice.borrowed, timeline))
    missing = _shortest(_said(voice.missing, timeline))
    if borrowed:
        yield f"Another voice says {_some(borrowed)}. {voice.borrowed[borrowed[0]]}"
    if missing:
        yield f"No voice here can say {_some(missing)}: a tone stands in."


def _said(texts: Iterable[str], timeline: Timeline | None) -> list[str]:
    if timeline is None:
        return list(texts)
    said = timeline.words.union(cue.text for cue in timeline.cues)
    return [text for text in texts if text in said]


def _shortest(texts: Collection[str]) -> list[str]:
    """Return `texts` without those that hold another of them as one of their words."""
    words = {text: set(text.replace(",", " ").split()) for text in texts}
    return sorted(text for text in texts if not words[text] & (set(texts) - {text}))


def _some(texts: list[str]) -> str:
    return ", ".join(f"“{text}”" for text in texts[:NAMED]) + (" ..." if len(texts) > NAMED else "")


def part_told(pattern: Pattern, beats: int) -> str:
    """Return how long a pattern goes on, in cycles where they are whole."""
    cycles, rest = divmod(beats, pattern.period)
    if rest:
        return f"{shortened(pattern.text)} for {beats} beats"
    return f"{shortened(pattern.text)}, {cycles} cycle" + ("s" if cycles > 1 else "")
