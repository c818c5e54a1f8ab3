"""Everything the program says of itself is in the one list of phrases that languages translate."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

import pytest

from throwcount.caller.options.request import Request
from throwcount.caller.practice.live import LiveSession
from throwcount.caller.practice.pattern_controller import LAST_CYCLE, catches_said
from throwcount.caller.practice.recorder import Recorder
from throwcount.caller.practice.sessions import led_pattern
from throwcount.caller.practice.situation import rest_calls
from throwcount.caller.terminal.controls import DROP
from throwcount.engine.patterns.notation import parse_bridge
from throwcount.engine.patterns.rules import read
from throwcount.engine.patterns.states import start
from throwcount.engine.routines.layout import lay_out
from throwcount.engine.routines.routine import Length, PatternPart, RestPart, Routine
from throwcount.engine.routines.routine_run import cue_texts, run_parts
from throwcount.engine.scheduling.calls import (
    NUMBER,
    SLOT,
    SPELLING_ALPHABET,
    STOCK_PHRASES,
    announcement,
    calls,
)
from throwcount.engine.timing.objects import Juggle
from throwcount.engine.timing.run import SAY_MODES, Part, Run, SayMode, Wording
from throwcount.engine.timing.tempo import steady
from throwcount.sounds.output.commands import Command, Play, Say, ScheduledRun
from throwcount.sounds.voices.languages import Phrasebook
from throwcount.sounds.voices.stand_ins import ToneVoice

PATTERNS = [
    read(text)
    for text in (
        "531",
        "3",
        "40",
        "744",
        "(4,2x)*",
        "(4,[22])",
        "[33]33",
        "[333]33",
        "b1",
        "5" * 12,
    )
]
WORDINGS = [
    Wording(),
    Wording(letters="plain"),
    Wording(letters="spelled"),
    Wording(
        {"0": "empty hand", "2": "hold", "3": "hop"}, object_names=("plum", "sea green", "slate")
    ),
]
OWN = frozenset(
    word for wording in WORDINGS for word in (*wording.own_words.values(), *wording.object_names)
)
CODED = Phrasebook(
    "xx",
    {name: f"<{name}>" + f" {NUMBER}" * name.split("-").count(SLOT) for name in STOCK_PHRASES},
    OWN,
)
KNOWN = re.compile(
    rf"<[a-z-]+>|\b(\d+|[A-Za-z]|{'|'.join(sorted({*OWN, *SPELLING_ALPHABET.values()}))})\b|[ ,]"
)


def untranslated(texts: Iterable[str]) -> set[str]:
    """Return the texts in which any English is left, once all that is in the list is not."""
    return {text for text in texts if KNOWN.sub("", CODED.said(text))}


def phrases_in(texts: Iterable[str]) -> set[str]:
    return {name for text in texts for name in re.findall("<([a-z-]+)>", CODED.said(text))}


def count_of(say: SayMode) -> Iterator[str]:
    for pattern in PATTERNS:
        for wording in WORDINGS:
            part = Part(pattern, 20 * pattern.period, last_cycle=LAST_CYCLE)
            run = Run((part,), steady(200), say=say, wording=wording)
            yield from (call for _, call, _ in calls(Juggle(run.throwing, run.first), run) if call)


def announcements() -> Iterator[str]:
    for pattern in PATTERNS:
        for wording in WORDINGS:
            for tempo in (5, 60, 199.6, 1234):
                yield announcement(pattern, tempo, "left", wording)
                yield announcement(pattern, tempo, "right", wording, start(pattern, "right"))


def cues() -> Iterator[str]:
    for pattern in PATTERNS:
        for wording in WORDINGS:
            for change in (-2, -1, 0, 1, 12):
                yield from cue_texts(PatternPart(pattern=pattern, length=Length()), change, wording)
    yield from cue_texts(RestPart(length=Length()), 0, Wording())


def rests() -> Iterator[str]:
    for seconds in (0, 20, 61, 3600):
        yield from (text for _, text in rest_calls(seconds))


def changes() -> Iterator[str]:
    """Yield what is said where hands in turn and hands together follow each other."""
    texts = ["3", "(4x,2x)", "3", "(2x,4x)", "51"]
    parts = [PatternPart(pattern=read(text), length=Length(beats=12)) for text in texts]
    parts[2] = replace(parts[2], bridge=parse_bridge("(3,1x)", "async"))
    laid = lay_out(Routine(title="changes", parts=tuple(parts), tempo=200.0))
    run = Run(tuple(part for _, part in run_parts(laid)), laid.tempo)
    yield from (call for _, call, _ in calls(Juggle(run.throwing, run.first), run) if call)


@dataclass
class Deck:
    """Keeps what it is sent; its clock goes on at every look."""

    now: float = 0.0
    sent: list[Command] = field(default_factory=list)

    def send(self, command: Command) -> None:
        self.sent.append(command)

    def begin(self, scheduled: ScheduledRun) -> ScheduledRun:
        begun = replace(scheduled, start=self.now)
        self.send(Play(begun))
        return begun

    def soon(self) -> float:
        return self.now

    def played(self) -> float:
        return self.now

    def heard(self) -> float:
        self.now += 1.0
        return self.now


def practice() -> Iterator[str]:
    for changes in ({"sets": 2, "beats": 12}, {"attempts": 3, "milestones": False}):
        request = Request(tempo=120, rest=20.0, **changes)
        deck, voice = Deck(), ToneVoice(8000)
        session = LiveSession(deck, voice, Recorder())
        controller, _ = led_pattern(read("531"), request, session)
        controller.begin()
        for look in range(200):
            controller.step()
            if look % 30 == 29:
                controller.ask(DROP)
        yield from (command.text for command in deck.sent if isinstance(command, Say))
        played = [command.scheduled.run for command in deck.sent if isinstance(command, Play)]
        yield from (run.announcement for run in played)
    yield from (
        catches_said(catches, best=best) for catches in (0, 1, 30) for best in (True, False)
    )


@pytest.mark.parametrize("say", SAY_MODES)
def test_the_count_is_in_the_list(say: SayMode) -> None:
    texts = set(count_of(say))
    assert (say == "nothing") == (texts == {LAST_CYCLE, "stop"})
    assert untranslated(texts) == set()


@pytest.mark.parametrize("texts", [announcements, cues, rests, changes, practice])
def test_what_else_is_said_is_in_the_list(texts: object) -> None:
    found = set(texts())
    assert len(found) > 2
    assert untranslated(found) == set()


def test_nothing_is_in_the_list_that_is_not_said() -> None:
    every = [*announcements(), *cues(), *rests(), *changes(), *practice()]
    for say in SAY_MODES:
        every += set(count_of(say))
    assert phrases_in(every) == set(STOCK_PHRASES)


@pytest.mark.parametrize("text", ["five throws", "tempo", "round one", "next kaskade"])
def test_what_is_not_in_the_list_would_be_found(text: str) -> None:
    assert untranslated([text]) == {text}


def test_a_phrase_that_is_missing_would_be_found() -> None:
    less = {name: said for name, said in CODED.phrases.items() if name != "tempo-n"}
    with pytest.raises(Exception, match="tempo N"):
        replace(CODED, phrases=less).said("tempo sixty")
