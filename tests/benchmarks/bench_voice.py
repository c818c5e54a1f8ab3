"""How well the built-in voices are understood and how natural they sound.

    python tests/benchmarks/bench_voice.py [VOICE ...]

A voice is `built-in`, `built-in-2` or a folder of clips, such as those of an earlier edition; both
built-in ones unless told. It needs the extra `bank-test`. Prints, for each voice:

- digits on every beat of the final mix: their median length, the share understood by each of two
  recognisers, the quality, and the spread of three estimates of the perceptual centre;
- numbers from 10 to 35, letters, manners of single throws, and words of the spelling alphabet, in
  the mix, and as they are said at the natural pace, by themselves;
- the quality of the digits at each pace, and of announcements, and whether announced tempos
  are recognised by a listener that expects no words.

Quality is DNSMOS's overall mark for words cut out, with 0.30, 0.35 and 0.40 s of silence between
them, on average (Reddy, Gopal & Cutler, ICASSP 2022), and for announcements PLCMOS (Diener et al.,
Interspeech 2023); both go up to 5, and only rows of one table compare.
"""

import random
import sys
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import cycle
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "helpers"))

import numpy as np
import numpy.typing as npt
import soxr
from called_digits import Called, called, digits_on_beats, mixed
from listener import Listener
from second_listener import SecondListener
from speechmos import dnsmos, plcmos

from throwcount.engine.numbers import spoken
from throwcount.engine.scheduling.calls import SPELLING_ALPHABET
from throwcount.sounds.bank.words import DIGITS, LETTERS, MANNERS
from throwcount.sounds.errors import UnknownWordError
from throwcount.sounds.measures import WORD_LEVEL, centres
from throwcount.sounds.mixing.score import Balance
from throwcount.sounds.voices.recorded import BUILT_IN_VOICES, RecordedVoice, built_in

RATE = 48_000
JUDGED_RATE = 16_000
JUDGED_GAIN = 10 ** ((-18.0 - WORD_LEVEL) / 20)
"""Words are judged at -18 LKFS, as earlier editions had them: the mark depends on the level."""
GAPS_SECONDS = (0.3, 0.35, 0.4)
TEMPOS = (60, 75, 90, 120, 150, 180, 200, 220, 240, 260, 280, 300)
EACH = 20
EACH_OF_MANY = 5
PATTERNS = ("five three one", "seven four four", "nine seven five three one", "six four two")
ANNOUNCED = (10, 47, 90, 100, 113, 150, 187, 219, 246, 300, 321, 354, 400)

Signal = npt.NDArray[np.float32]


def say(line: str) -> None:
    """Print a line at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def quality(words: Sequence[Signal]) -> float:
    """Return DNSMOS's overall mark of words at `RATE`, laid out with silence between."""
    marks = []
    for seconds in GAPS_SECONDS:
        gap = np.zeros(round(seconds * RATE), dtype=np.float32)
        row = [gap]
        for word in words:
            row += [word if word.ndim == 1 else word.mean(axis=1), gap]
        judged = JUDGED_GAIN * soxr.resample(np.concatenate(row), RATE, JUDGED_RATE)
        marks.append(dnsmos.run(np.clip(judged, -1, 1), JUDGED_RATE)["ovrl_mos"])
    return float(np.mean(marks))


def announced(voice: RecordedVoice, text: str) -> float:
    """Return PLCMOS of a text at the natural pace."""
    silence = np.zeros((RATE // 2, 1), dtype=np.float32)
    samples = np.concatenate((silence, voice.clips(text)[0].samples, silence))[:, 0]
    judged = JUDGED_GAIN * soxr.resample(samples, RATE, JUDGED_RATE)
    return float(plcmos.run(np.clip(judged, -1, 1), JUDGED_RATE)["plcmos"])


def in_the_mix(
    voice: RecordedVoice, words: Sequence[str], tempo: float, each: int, clicks: str = "both"
) -> Iterator[tuple[Called, Signal]]:
    """Yield every call of shuffled words, one on every beat, with its cut of the mix."""
    row = [*words] * each
    random.Random(round(tempo)).shuffle(row)
    timeline = digits_on_beats(tempo, ["zero"] * len(row))
    beats = [beat._replace(call=word) for beat, word in zip(timeline, row, strict=True)]
    timeline = replace(timeline, beats=lambda: iter(beats), words=frozenset(words))
    heard = mixed(timeline, voice, Balance(clicks=clicks))  # type: ignore[arg-type]
    for call in called(timeline, voice):
        yield call, call.cut_for_listener(heard, RATE)


def understood(cuts: Sequence[tuple[str, Signal]], words: Sequence[str]) -> str:
    """Return the share of words, each with its cut, that each recogniser understands."""
    shares = [
        np.mean([listener.understood(cut, RATE) == word for word, cut in cuts])
        for listener in (Listener(words), SecondListener(words))
    ]
    return " ".join(f"{share:.3f}" for share in shares)


def judge(voice: RecordedVoice) -> None:
    """Print all figures of a voice."""
    say(f"\n{voice.name}\n\nbeats/min  length ms  understood by two  DNSMOS  centres: sd ms")
    digits = list(DIGITS)
    for tempo in TEMPOS:
        calls = list(in_the_mix(voice, digits, tempo, EACH))
        bare = [cut for _, cut in in_the_mix(voice, digits, tempo, 1, clicks="none")]
        length = np.median([call.end - call.start for call, _ in calls]) * 1000 / RATE
        say(
            f"{tempo:9}  {length:9.0f}  {understood(said(calls), digits):17}  "
            f"{quality(bare):6.2f}  {spread(voice, tempo)}"
        )
    for name, words, tempos in (
        ("numbers 10 to 35", [spoken(value) for value in range(10, 36)], (120,)),
        ("letters", list(LETTERS), (60, 90, 120, 150)),
        ("manners of throws", list(MANNERS), (120, 150, 200, 240)),
        ("spelling alphabet", list(SPELLING_ALPHABET.values()), (60, 90, 120)),
    ):
        try:
            alone = [(word, voice.clips(word)[0].samples) for word in words]
        except UnknownWordError as error:  # an earlier edition may lack the words
            say(f"{name}: {error}")
            continue
        say(f"{name}, natural and by themselves: {understood(alone, words)}")
        for tempo in tempos:
            calls = list(in_the_mix(voice, words, tempo, EACH_OF_MANY))
            say(f"{name} at {tempo}: {understood(said(calls), words)}")
    for pace, clips in enumerate(zip(*map(voice.clips, digits), strict=False)):
        length = np.median([clip.seconds for clip in clips]) * 1000
        mark = quality([clip.samples for clip in clips])
        say(f"pace {pace}: {length:.0f} ms, DNSMOS {mark:.2f}")
    marks = [
        announced(voice, f"{pattern}, tempo {spoken(tempo)}, right hand first")
        for tempo, pattern in zip(ANNOUNCED, cycle(PATTERNS), strict=False)
    ]
    say(f"announcements: PLCMOS {np.mean(marks):.2f}, {min(marks):.2f} to {max(marks):.2f}")
    second = SecondListener(digits)
    clips = {tempo: voice.clips(f"tempo {spoken(tempo)}")[0].samples for tempo in ANNOUNCED}
    right = [str(tempo) in second.transcribed(clip, RATE) for tempo, clip in clips.items()]
    say(f"announced tempos written down right by the second: {sum(right)} of {len(right)}")


def said(calls: Sequence[tuple[Called, Signal]]) -> list[tuple[str, Signal]]:
    """Return the word of each call with its cut."""
    return [(call.digit, cut) for call, cut in calls]


def spread(voice: RecordedVoice, tempo: float) -> str:
    """Return the standard deviation of each estimate of the centre about the beat, in ms."""
    rows = []
    for call, _ in in_the_mix(voice, list(DIGITS), tempo, EACH, clicks="none"):
        rows.append(call)
    timeline = digits_on_beats(tempo, [call.digit for call in rows])
    heard = mixed(timeline, voice, Balance(clicks="none"))
    found = [
        (centres(call.cut(heard), RATE), call.start - call.beat) for call in called(timeline, voice)
    ]
    misses = [(at.half_rise + off, at.hybrid + off, at.fastest_rise + off) for at, off in found]
    return " ".join(f"{1000 / RATE * sd:.1f}" for sd in np.std(misses, axis=0))


def main(names: Sequence[str]) -> None:
    """Judge each voice that is named."""
    for name in names or BUILT_IN_VOICES:
        judge(built_in(RATE, name) if name in BUILT_IN_VOICES else RecordedVoice(Path(name), RATE))


if __name__ == "__main__":
    main(sys.argv[1:])
