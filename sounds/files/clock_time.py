"""Moments as hours, minutes, seconds and thousandths, as several formats have them."""


def milliseconds(seconds: float) -> int:
    """Return the millisecond nearest to a moment."""
    return round(seconds * 1000)


def clock_time(seconds: float) -> str:
    """Return a moment of 0 or more as ``hh:mm:ss.ttt``, with more digits from 100 hours on."""
    whole, thousandths = divmod(milliseconds(seconds), 1000)
    minutes, second = divmod(whole, 60)
    hours, minute = divmod(minutes, 60)
    return f"{hours:02}:{minute:02}:{second:02}.{thousandths:03}"
