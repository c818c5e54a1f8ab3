"""An independent listener: it is handed one word of a mix and tells which it understood.

It is pocketsphinx with the model in its wheel, held to a grammar of the words that may come, and
knows nothing of how the word was made.
"""

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt
import soxr
from pocketsphinx import Decoder

RATE = 16000
"""The listener's model's sample rate in Hz."""

MARGIN_SECONDS = 0.010
"""Heard before a word's start and after its end: no more than the gap between two words."""

HUSH_SECONDS = 0.2
HUSH = 10 ** (-60 / 20)
"""The listener wants a quiet room around a word: noise of this level (rms) before and after."""


HEARD = 0.5
"""Factor for what is heard: as far below full scale as speech is usually recorded. Words at full
scale are understood less often."""

PRONOUNCED = {
    "juliett": "JH UW L IY EH T",
    "kilo(2)": "K IY L OW",
    "quebec(2)": "K EH B EH K",
}
"""Words of the spelling alphabet as ICAO Annex 10, volume II, has them said (from memory), where
the listener's dictionary lacks that."""


class Listener:
    """Hears one word at a time.

    Parameters
    ----------
    words
        What may be said.
    """

    def __init__(self, words: Iterable[str]) -> None:
        self._decoder = Decoder(
            lm=None, loglevel="FATAL", samprate=float(RATE), cmn="batch", remove_noise=False
        )
        for word, sounds in PRONOUNCED.items():
            self._decoder.add_word(word, sounds)
        self._decoder.add_jsgf_string(
            "words", f"#JSGF V1.0; grammar words; public <word> = {' | '.join(words)};"
        )
        self._decoder.activate_search("words")

    def understood(self, heard: npt.NDArray[np.float32], rate: int) -> str | None:
        """Return the word that a cut is taken for; None if it is taken for none.

        Parameters
        ----------
        heard
            Float32, shape (frames,) or (frames, channels), one word and what sounds with it.
        rate
            Sample rate, in Hz.
        """
        mono = heard if heard.ndim == 1 else heard.mean(axis=1)
        self._decoder.start_utt()
        self._decoder.process_raw(in_a_quiet_room(mono, rate).tobytes(), full_utt=True)
        self._decoder.end_utt()
        best = self._decoder.hyp()
        return None if best is None else best.hypstr or None


def in_a_quiet_room(mono: npt.NDArray[np.float32], rate: int) -> npt.NDArray[np.int16]:
    """Return a cut at the listener's rate, with a quiet room before and after."""
    cut = soxr.resample(mono.astype(np.float32), rate, RATE, quality="HQ")
    before = round(HUSH_SECONDS * RATE)
    room = np.random.default_rng(len(cut)).normal(0, HUSH, before + len(cut) + before)
    room[before : before + len(cut)] += HEARD * cut
    return (np.clip(room, -1, 1) * 32767).astype(np.int16)
