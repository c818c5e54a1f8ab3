"""Moments as text: for people in local time, for programs in UTC."""

from datetime import datetime


def local_day(moment: datetime) -> str:
    """Return a day of the local calendar, such as ``2026-03-31``."""
    return f"{moment.astimezone():%Y-%m-%d}"


def local_minute(moment: datetime) -> str:
    """Return a local time, such as ``2026-03-31 18:05``."""
    return f"{moment.astimezone():%Y-%m-%d %H:%M}"


def utc_text(moment: datetime | None) -> str | None:
    """Return a moment in UTC by ISO 8601, to the millisecond: ``2026-03-31T16:05:00.000Z``."""
    if moment is None:
        return None
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")
