"""Pieces of music whose beats are known: made, rendered from MIDI files, and recorded.

What is not made here comes out of Debian packages, where they are installed:

- `openttd-openmsx` (GPL 2), `planetblupi-music-midi` (GPL 3) and `freedoom` (BSD-3-Clause): MIDI
  files, rendered by `fluidsynth` with `timgm6mb-soundfont` (GPL 2); their tempo maps tell the
  beats, and of some the tempo map is bent, so that it breathes. Files of which the notes keep no
  grid of quarters are left out, and those in eighths.
- `fretsonfire-songs-sectoid` (MIT) and `fretsonfire-songs-muldjord` (CC BY-SA 3.0): recordings of
  bands, each with the tempo map that its authors made for it.
- `sonic-pi-samples` (CC0): recorded loops of a whole number of beats, repeated. Of those of 2.474 s
  a sister tells the tempo in its name (97), the others are breaks of four bars or one.

There are three parts: `work`, which tables and limits were set on; `check`, measured once with
these, after which what is doubted was changed; and `final`, from a package that nothing had been
measured on, measured once after that.
"""

import struct
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Final, Literal

import mido
import numpy as np
import numpy.typing as npt
import soundfile
from grooves import (
    RATE,
    Times,
    bass,
    bass_and_chords,
    between,
    breathing,
    drifting,
    hat,
    kick,
    pad,
    played,
    rock,
    shuffle,
    snare,
    steady,
    waltz,
)

Use = Literal["work", "check", "final"]
Sound = npt.NDArray[np.float32]
Made = tuple[Sound, Times]
"""One channel at `RATE`, and the beats in seconds."""

SECONDS: Final = 60.0
LONGEST: Final = 120.0
"""Seconds of a piece that are used."""

MIDI_FOLDERS: Final = (
    Path("/usr/share/games/openttd/baseset/openmsx"),
    Path("/usr/share/planetblupi/music"),
)
WAD: Final = Path("/usr/share/games/doom/freedoom2.wad")
SONGS: Final = Path("/usr/share/games/fretsonfire/data/songs")
LOOPS: Final = Path("/usr/share/sonic-pi/samples")
LOOP_BEATS: Final = {
    "amen": 4,
    "amen_full": 16,
    "breakbeat": 4,
    "electric": 4,
    "mehackit1": 4,
    "mehackit2": 4,
    "perc1": 4,
    "perc2": 4,
}
SOUND_OFF: Final = 120
"""The MIDI controller that ends all notes of a channel at once."""

STEP: Final = 1 / 48
"""Quarters between two places of a tempo map."""

TICK: Final = 50e-6
"""Seconds."""

SOUND_FONT: Final = Path("/usr/share/sounds/sf2/TimGM6mb.sf2")

ON_GRID: Final = 0.85
GRID_BEATS: Final = 0.07
"""So large a share of the notes is within so many beats of a quarter or a third of a beat."""


@dataclass(frozen=True, slots=True)
class KnownPiece:
    """A piece with known beats, made when it is asked for."""

    name: str
    source: str
    use: Use
    make: Callable[[], Made]


def pieces(folder: Path) -> list[KnownPiece]:
    """Return every piece there is on this machine; what is rendered is kept in `folder`."""
    found = [path for each in MIDI_FOLDERS for path in sorted(each.glob("*.mid"))]
    sources = {
        "made": _made(),
        "MIDI": list(_midi(found, folder)),
        "recorded": list(_songs()),
        "loop": list(_loops()),
    }
    uses: tuple[Use, Use] = ("work", "check")
    mixed = [
        KnownPiece(name, source, uses[number % 2], make)
        for source, rows in sources.items()
        for number, (name, make) in enumerate(rows)
    ]
    packed = _midi(_unpacked(folder)[::2], folder)  # half of them are enough
    return mixed + [KnownPiece(name, "MIDI", "final", make) for name, make in packed]


def off_beats(beats: Times) -> list[tuple[Callable[[int], npt.NDArray[np.float64]], Times]]:
    """Return music stressed between the beats: chords and snare there, a bass on one and three."""
    return [
        (bass, beats[::2]),
        (kick, beats[::4]),
        (snare, between(beats, 0.5)[1::2]),
        (hat, np.concatenate((beats, between(beats, 0.5)))),
        (pad_short, between(beats, 0.5)),
    ]


def pad_short(seed: int) -> npt.NDArray[np.float64]:
    """Return a short chord."""
    since = np.arange(round(0.12 * RATE)) / RATE
    return 2.0 * np.exp(-since / 0.05) * pad(seed, 3.0)[len(since) * 4 : len(since) * 5]


def slowing(tempo: float, seconds: float) -> Times:
    """Return beats of one tempo that slow down to half of it over the last fifth."""
    even = steady(tempo, 0.6, 0.8 * seconds)
    late = drifting(tempo, tempo / 2, 0.0, 0.2 * seconds)
    return np.concatenate((even[:-1], even[-1] + late))


def with_a_rest(beats: Times, first: float, last: float) -> list[tuple[object, Times]]:
    """Return rock that is silent, but for a chord, from `first` to `last`."""
    silent = (beats > first) & (beats < last)
    parts = [(each, times[(times <= first) | (times >= last)]) for each, times in rock(beats)]
    return [*parts, (pad, beats[silent][:1])]


def _made() -> list[tuple[str, Callable[[], Made]]]:
    def of(groove: Callable[..., object], beats: Times, *more: float) -> Made:
        return played(groove(beats, *more), SECONDS), beats  # type: ignore[arg-type]

    two = np.concatenate((steady(96, 0.7, 30.0), drifting(100, 126, 30.0, SECONDS)))
    rows = [
        ("steady rock", rock, steady(112.4, 0.8, SECONDS)),
        ("steady without drums", bass_and_chords, steady(93.7, 0.5, SECONDS)),
        ("breathing 4 %", rock, breathing(104, 0.04, 0.5, SECONDS)),
        ("breathing 6 %, without drums", bass_and_chords, breathing(88, 0.06, 0.5, SECONDS)),
        ("from 90 to 140", rock, drifting(90, 140, 0.6, SECONDS)),
        ("slowing at the end", rock, slowing(124, SECONDS)),
        ("swing", shuffle, steady(132, 0.4, SECONDS)),
        ("swing that breathes 3 %", shuffle, breathing(118, 0.03, 0.4, SECONDS)),
        ("stress off the beat", off_beats, steady(100, 0.9, SECONDS)),
        ("stress off the beat, breathing 3 %", off_beats, breathing(92, 0.03, 0.4, SECONDS)),
        ("waltz", waltz, steady(150, 0.5, SECONDS)),
        ("waltz that breathes 4 %", waltz, breathing(138, 0.04, 0.5, SECONDS)),
        ("two tempos", rock, two),
        ("chords alone, slow", bass_and_chords, drifting(66, 72, 0.5, SECONDS)),
    ]
    made = [(name, partial(of, groove, beats)) for name, groove, beats in rows]
    rests = [
        ("a rest in steady music", steady(118, 0.5, SECONDS)),
        ("a rest in breathing music", breathing(110, 0.03, 0.5, SECONDS)),
    ]
    return made + [(name, partial(of, with_a_rest, beats, 25.0, 33.0)) for name, beats in rests]


def _unpacked(folder: Path) -> list[Path]:
    """Return the MIDI files in a WAD: a list of entries (place, size, name) says where they are."""
    data = WAD.read_bytes() if WAD.exists() else bytes(12)
    _, count, first = struct.unpack("<4sii", data[:12])
    found = {}
    for at in range(first, first + 16 * count, 16):
        place, size, name = struct.unpack("<ii8s", data[at : at + 16])
        if data[place : place + 4] == b"MThd":
            target = folder / f"{WAD.stem}-{name.rstrip(bytes(1)).decode().lower()}.mid"
            target.write_bytes(data[place : place + size])
            found[data[place : place + size]] = target  # the same music may come twice
    return sorted(found.values())


def _midi(found: list[Path], folder: Path) -> Iterator[tuple[str, Callable[[], Made]]]:
    for number, path in enumerate(filter(_keeps_a_grid, found)):
        bent = 0.05 if number % 4 > 1 else 0.0  # two plain, two bent
        name = f"{path.stem}{', bent' if bent else ''}"
        yield name, partial(_rendered, path, bent, folder)


def _notes(file: mido.MidiFile) -> npt.NDArray[np.float64]:
    """Return when notes begin, in quarters."""
    ticks = np.cumsum([message.time for message in mido.merge_tracks(file.tracks)])
    starts = [
        tick
        for tick, message in zip(ticks, mido.merge_tracks(file.tracks), strict=True)
        if message.type == "note_on" and message.velocity
    ]
    return np.array(starts) / file.ticks_per_beat


def _keeps_a_grid(path: Path) -> bool:
    file = mido.MidiFile(path)
    notes, rows = _notes(file), mido.merge_tracks(file.tracks)
    eighths = any(each.type == "time_signature" and each.denominator > 4 for each in rows)
    return not eighths and any(
        np.mean(np.abs(notes * parts - np.rint(notes * parts)) < GRID_BEATS * parts) > ON_GRID
        for parts in (3, 4)
    )


def _rendered(path: Path, bent: float, folder: Path) -> Made:
    """Return a MIDI file as it sounds, its tempo swaying by the share `bent` over 16 quarters."""
    file = mido.MidiFile(path)
    rows = list(mido.merge_tracks(file.tracks))
    quarters = np.cumsum([message.time for message in rows]) / file.ticks_per_beat
    changes = [(0.0, 500_000)]
    for quarter, message in zip(quarters, rows, strict=True):
        if message.type == "set_tempo":
            changes.append((float(quarter), message.tempo))
    last = float(_notes(file)[-1])
    places = np.arange(0.0, quarters[-1] + 1.0, STEP)
    at = np.searchsorted([place for place, _ in changes], places, "right") - 1
    lengths = 1e-6 * np.array([tempo for _, tempo in changes])[at]
    lengths /= 1.0 + bent * np.sin(2 * np.pi * places / 16.0)
    times = np.concatenate(([0.0], np.cumsum(STEP * lengths)))[:-1]
    count = int(np.searchsorted(np.interp(quarters, places, times), LONGEST + 1.0))
    rows, quarters = rows[:count], quarters[:count]
    target = folder / f"{path.stem} at {bent}.wav"
    if not target.exists():
        # Each event at its time under one tempo: at every change of tempo players round.
        ticks = np.rint(np.interp(quarters, places, times) / TICK).astype(int)
        track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=500_000)])
        for wait, message in zip(np.diff(ticks, prepend=0), rows, strict=True):
            kept = mido.MetaMessage("text") if message.is_meta else message
            track.append(kept.copy(time=int(wait)))
        for channel in range(16):  # else a note that was cut sounds for ever
            track.append(mido.Message("control_change", channel=channel, control=SOUND_OFF))
        flat = mido.MidiFile(type=0, ticks_per_beat=round(0.5 / TICK), tracks=[track])
        flat.save(target.with_suffix(".mid"))
        command = ["fluidsynth", "-ni", "-r", str(RATE), "-F", str(target), SOUND_FONT]
        command.append(target.with_suffix(".mid"))
        subprocess.run(command, check=True, capture_output=True)
    sound, _ = soundfile.read(target, frames=round(LONGEST * RATE), dtype="float32")
    beats = np.interp(np.arange(last), places, times)
    return sound.mean(axis=1), beats[beats < LONGEST]


def _songs() -> Iterator[tuple[str, Callable[[], Made]]]:
    for folder in sorted(path.parent for path in SONGS.glob("*/*/notes.mid")):
        yield f"{folder.parent.name}: {folder.name}", partial(_song, folder)


def _song(folder: Path) -> Made:
    sounds = []
    for name in ("song.ogg", "guitar.ogg"):
        sound, rate = soundfile.read(folder / name, dtype="float32", always_2d=True)
        assert rate == RATE
        sounds.append(sound[: round(LONGEST * RATE)].mean(axis=1))
    length = min(map(len, sounds))
    file = mido.MidiFile(folder / "notes.mid")
    tempo = next(each.tempo for each in file.tracks[0] if each.type == "set_tempo")
    beats = np.arange(0.0, min(length / RATE, file.length), tempo / 1e6)
    return 0.5 * (sounds[0][:length] + sounds[1][:length]), beats


def _loops() -> Iterator[tuple[str, Callable[[], Made]]]:
    for name, beats in LOOP_BEATS.items():
        path = LOOPS / f"loop_{name}.flac"
        if path.exists():
            yield name, partial(_loop, path, beats)


def _loop(path: Path, beats: int) -> Made:
    sound, rate = soundfile.read(path, dtype="float32", always_2d=True)
    assert rate == RATE
    seconds = len(sound) / RATE
    times = int(np.ceil(45.0 / seconds))
    return np.tile(sound.mean(axis=1), times), np.arange(times * beats) * seconds / beats
