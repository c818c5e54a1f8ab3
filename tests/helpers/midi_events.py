"""A small reader of Standard MIDI Files, written from the standard: events with their ticks."""

import struct
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

TRACK_NAME, LYRIC, MARKER, CUE_POINT, END, TEMPO, SIGNATURE = (
    0x03,
    0x05,
    0x06,
    0x07,
    0x2F,
    0x51,
    0x58,
)


@dataclass(frozen=True)
class MidiEvent:
    """An event: of a meta event its type in `kind`, of another its status byte."""

    tick: int
    kind: int
    data: bytes

    @property
    def text(self) -> str:
        return self.data.decode("utf-8")


@dataclass(frozen=True)
class MidiTracks:
    """A file: ticks a quarter note, and the events of each track."""

    ticks: int
    tracks: list[list[MidiEvent]]

    def of(self, track: int, *kinds: int) -> list[MidiEvent]:
        return [event for event in self.tracks[track] if event.kind in kinds]

    def seconds(self, tick: int) -> Fraction:
        """Return when a tick falls: FF 51 has microseconds a quarter note, 500,000 before any."""
        passed, since, length = Fraction(0), 0, 500_000
        for event in self.of(0, TEMPO):
            if event.tick > tick:
                break
            passed += Fraction((event.tick - since) * length, self.ticks)
            since, length = event.tick, int.from_bytes(event.data)
        return (passed + Fraction((tick - since) * length, self.ticks)) / 1_000_000


def read_midi(path: Path) -> MidiTracks:
    data = path.read_bytes()
    name, size, form, count, ticks = struct.unpack_from(">4sIHHH", data)
    assert (name, size, form) == (b"MThd", 6, 1)
    at, tracks = 14, []
    for _ in range(count):
        name, size = struct.unpack_from(">4sI", data, at)
        assert name == b"MTrk"
        tracks.append(_events(data[at + 8 : at + 8 + size]))
        at += 8 + size
    assert at == len(data)
    return MidiTracks(ticks, tracks)


def _events(data: bytes) -> list[MidiEvent]:
    at = tick = status = 0
    events = []
    while at < len(data):
        delta, at = _number(data, at)
        tick += delta
        if data[at] == 0xFF:
            size, start = _number(data, at + 2)
            events.append(MidiEvent(tick, data[at + 1], data[start : start + size]))
            at = start + size
            continue
        if data[at] & 0x80:  # otherwise the status is that of the event before
            status, at = data[at], at + 1
        events.append(MidiEvent(tick, status, data[at : at + 2]))
        at += 2
    assert events[-1].kind == END
    return events


def _number(data: bytes, at: int) -> tuple[int, int]:
    """Return a number of seven bits a byte, the last without the eighth, and where it ends."""
    number = 0
    while data[at] & 0x80:
        number = number << 7 | data[at] & 0x7F
        at += 1
    return number << 7 | data[at], at + 1
