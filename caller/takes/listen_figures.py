"""How the figures of a take are told: moments, milliseconds, chance and confidence."""

import math
from statistics import NormalDist
from typing import Final

from caller.console.printable import can_print
from engine.catching.drops import Drop

ONE_IN_TWENTY: Final = 0.05
"""How seldom chance alone makes a difference that is told as one."""

FEWEST_OF_A_KIND: Final = 8
"""Catches of a kind from which on its mean is told as a difference."""

TO_A_BEAT: Final = 0.8
"""How surely a drop is within a beat of where it is told, if nothing is said of that."""

IN_WORDS: Final = ((0.95, "almost surely"), (0.8, "very likely"), (0.6, "likely"), (0.4, "perhaps"))
"""What a confidence is called, from which on."""

MOST_CONFIDENT: Final = 0.99
"""No chance is told as more than this: nobody knows so much of a recording."""

FINE: Final = 0.00995
"""Seconds below which a time is told to a tenth of a millisecond."""

PLUS_MINUS: Final = "±"


def beyond_chance(value: float, error: float, among: int = 1, heard: float = math.inf) -> bool:
    """Return whether a difference is more than chance, nineteen times in twenty.

    Parameters
    ----------
    value, error
        The difference, and its standard error.
    among
        How many differences are looked through for such: the more, the likelier chance alone
        makes one of them large (Sidak 1967, J. Am. Stat. Assoc. 62, 626-633).
    heard
        From how many catches, at least 2, the error is known; the fewer, the less surely
        (Student's t, by the expansion 26.7.5 of Abramowitz & Stegun 1964).
    """
    none_of_one = (1 - ONE_IN_TWENTY) ** (1 / max(among, 1))
    z, freedom = NormalDist().inv_cdf((1 + none_of_one) / 2), heard - 1
    t = z + (z**3 + z) / (4 * freedom) + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * freedom**2)
    return abs(value) > t * error


def confidence_told(confidence: float) -> str:
    """Return a confidence in words and as a number, such as "very likely right (86%)"."""
    word = next((word for least, word in IN_WORDS if confidence >= least), "hardly")
    return f"{word} right ({percent(confidence)})"


def percent(chance: float) -> str:
    """Return a chance in percent, never as certainty."""
    if chance > MOST_CONFIDENT:
        return f"over {MOST_CONFIDENT:.0%}"
    return f"{chance:.0%}"


def moment_told(seconds: float) -> str:
    """Return a moment of a take to a tenth of a second, such as ``1:02.5``."""
    minutes, tenths = divmod(round(10 * seconds), 600)
    hours, minutes = divmod(minutes, 60)
    told = f"{tenths / 10:04.1f}"
    return f"{hours}:{minutes:02}:{told}" if hours else f"{minutes}:{told}"


def sure_of_beat(drop: Drop) -> bool:
    """Return whether a drop is as good as sure to have been within a beat of where it is told."""
    return drop.within_beat >= TO_A_BEAT


def drop_moment(drop: Drop) -> str:
    """Return when a drop was, such as "at 0:12.5", or "near 0:12.5" where that is not sure."""
    return f"{'at' if sure_of_beat(drop) else 'near'} {moment_told(drop.time)}"


def throw_told(drop: Drop) -> str:
    """Return the throw before a drop, such as "5 to the left"; "-" if it is not known."""
    catch = drop.catch
    return "-" if catch is None else f"{catch.throw or catch.value} to the {catch.hand}"


def after_throw(drop: Drop, article: str) -> str:
    """Return what a drop followed, such as " after a 5 to the left", for the end of a sentence.

    Nothing if that is not known; with "perhaps" where it is not sure.
    """
    if drop.catch is None:
        return ""
    perhaps = "" if sure_of_beat(drop) else ", perhaps"
    return f"{perhaps} after {article} {throw_told(drop)}"


def ms(seconds: float) -> str:
    """Return a time in milliseconds, such as "1.3 ms" or "13 ms"."""
    return f"{1000 * seconds:.1f} ms" if abs(seconds) < FINE else f"{1000 * seconds:.0f} ms"


def lead_told(seconds: float) -> str:
    """Return how early or late catches are on the whole, such as "13 ms early on the whole"."""
    return f"{ms(abs(seconds))} {'early' if seconds < 0 else 'late'} on the whole"


def with_error(value: float, error: float) -> str:
    """Return a figure and its standard error, such as "180.2 ± 0.4"."""
    return f"{value:.1f} {_plus_minus()} {error:.1f}"


def signed(value: float, error: float) -> str:
    """Return the same with the sign of the figure, such as "+3.1 ± 0.4"."""
    return f"{value:+.1f} {_plus_minus()} {error:.1f}"


def give_or_take(seconds: float) -> str:
    """Return a standard error in milliseconds, such as "± 2.9 ms"."""
    return f"{_plus_minus()} {ms(seconds)}"


def _plus_minus() -> str:
    return PLUS_MINUS if can_print(PLUS_MINUS) else "+-"


def without_controls(name: str) -> str:
    """Return a name from outside with a blank for what would move or colour the terminal."""
    return "".join(character if character.isprintable() else " " for character in name)
