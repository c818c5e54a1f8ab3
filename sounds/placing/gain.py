"""How loud each kind of sound is, laid out beforehand so that no sum of them can clip.

At most one word and one click sound at a time (the score sees to it), with music under them, and
the true peak of a sum is at most the sum of the true peaks. So one factor for the whole piece,
worked out from the loudest word, the loudest click and the peak of the music, keeps every moment
under the ceiling; it does not depend on the length, and is the same in a file and live.
"""

from dataclasses import dataclass

TRUE_PEAK_CEILING = -1.0
"""Highest true peak of anything heard, in dBTP (EBU R 128)."""

MARGIN = 0.2
"""Kept below that ceiling, in dB: meters of true peak differ by about as much."""

DUCKING = -6.0
"""Level of a click that sounds together with a word, against its level alone, in dB."""


def linear(decibels: float) -> float:
    """Return the linear factor of a level in dB."""
    return float(10.0 ** (decibels / 20.0))


@dataclass(frozen=True, slots=True)
class MusicLevel:
    """How loud music is to be."""

    peak: float = 0.0
    """Its true peak as it is recorded, linear; 0 where there is no music."""
    level: float = 0.0
    """Wanted level in dB against the recorded one."""
    duck: float = 0.0
    """How much lower it is under words, in dB."""


NO_MUSIC = MusicLevel()


@dataclass(frozen=True, slots=True)
class Gains:
    """The factors of one piece, all linear."""

    word: float
    """Of words."""
    word_peak: float
    """The highest true peak of a word that they were laid out for."""
    click: float
    """Of clicks alone."""
    ducked_click: float
    """Of clicks together with a word."""
    music: float
    """Of music where nobody speaks."""
    ducked_music: float
    """Of music under a word."""

    def for_word(self, peak: float) -> float:
        """Return the factor for a word of this true peak, lower if it exceeds the one expected."""
        return self.word if peak <= self.word_peak else self.word * self.word_peak / peak


def lay_out_gains(
    word_peak: float,
    click_peak: float,
    voice_level: float = 0.0,
    click_level: float = 0.0,
    music: MusicLevel = NO_MUSIC,
) -> Gains:
    """Return the factors that keep every moment of a piece under the ceiling.

    `word_peak` and `click_peak` are the highest true peak of any word and of any click that may
    sound, linear; 0 where there is none. `voice_level` and `click_level` are wanted levels in dB,
    against the usual ones. These are the wanted levels, all lowered alike as far as the ceiling
    asks; never raised.
    """
    word = linear(voice_level)
    click = linear(click_level)
    ducked = click * linear(DUCKING)
    under = linear(music.level)
    ducked_under = under * linear(-music.duck)
    loudest = max(
        click_peak * click + music.peak * under,
        word_peak * word + click_peak * ducked + music.peak * ducked_under,
    )
    ceiling = linear(TRUE_PEAK_CEILING - MARGIN)
    master = min(1.0, ceiling / loudest) if loudest > 0.0 else 1.0
    return Gains(
        word=word * master,
        word_peak=word_peak,
        click=click * master,
        ducked_click=ducked * master,
        music=under * master,
        ducked_music=ducked_under * master,
    )
