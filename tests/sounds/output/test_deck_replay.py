"""What a deck has played, once more: against a deck that was asked for the same at that time."""

import numpy as np
import pytest
from handmade import ToneVoice

from throwcount.engine.patterns.rules import read
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import steady
from throwcount.sounds.output.commands import Learn, Play, Say, ScheduledRun, Silence, SpeakUp
from throwcount.sounds.output.deck import Deck, Replay, Sent
from throwcount.sounds.voices.stand_ins import ClipBank

VOICE = ToneVoice()
RATE = VOICE.rate
BLOCK = 256


def commands() -> list[Sent]:
    run = Run((Part(read("531"), None),), steady(240), ready=0.1)
    scheduled = ScheduledRun(run, 0.25)
    later = scheduled.at_tempo(200, 2.0)
    assert later is not None
    learnt = {text: tuple(VOICE.clips(text)) for text in scheduled.texts() | {"rest"}}
    return [
        Sent(0.0, Learn(learnt)),
        Sent(0.01, Play(scheduled)),
        Sent(2.0, later),
        Sent(2.8, SpeakUp(on=False)),
        Sent(3.1, Silence()),
        Sent(3.2, SpeakUp(on=True)),
        Sent(3.3, Say("rest", 3.6)),
    ]


def on_the_deck(seconds: float) -> np.ndarray:
    """Play as a device does, in blocks, each command obeyed before the block in which it came."""
    deck, waiting, blocks = Deck(ClipBank(RATE)), commands(), []
    while deck.position < seconds * RATE:
        while waiting and waiting[0].seconds * RATE <= deck.position:
            deck.obey(waiting.pop(0).command)
        blocks.append(deck.read(BLOCK))
    return np.concatenate(blocks)


@pytest.mark.parametrize("size", [100, 4096])
def test_it_is_what_the_deck_played(size: int) -> None:
    replay = Replay(RATE, 5.0)
    for sent in commands():
        replay.note(sent)
    blocks = []
    while len(block := replay.read(size)):
        blocks.append(block)
    played = np.concatenate(blocks)
    whole = on_the_deck(5.0)[: len(played)]
    assert len(played) == 5 * RATE
    differs = np.flatnonzero((played != whole).any(axis=1)) / RATE
    # Fading out begins with a block there, and with the very frame here.
    near = (abs(differs[:, np.newaxis] - [2.8, 3.1]) < 0.02).any(axis=1)
    assert near.all()
    assert played[: 2 * RATE].any()
    assert played[round(3.6 * RATE) :].any()


def test_without_an_end_it_goes_on() -> None:
    replay = Replay(RATE)
    assert not replay.read(RATE).any()
    for sent in commands()[:2]:
        replay.note(sent)
    assert len(replay.read(3 * RATE)) == 3 * RATE
