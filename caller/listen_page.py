"""What `listen` says of a take: how steady it was, throw by throw and over time."""

import math
from collections.abc import Iterator, Sequence
from typing import Final

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from caller.take import HeardTake
from caller.telling import length_told
from caller.terminal import counted, table
from engine.catching.change import Change
from engine.catching.drops import Drop
from engine.catching.leanings import Hands, Position, Spread
from engine.catching.pace import Pace
from engine.catching.report import TakeReport
from engine.catching.steadiness import Steadiness

LEAVE: Final = "To record other people, ask them first; where you are, the law may demand it."

CLEAR: Final = 2.0
"""Standard errors from which on a difference is more than chance, nineteen times in twenty."""

MOST_ROWS: Final = 12
"""Rows of each table: stretches of the take, throws, or drops."""


def listen_page(heard: HeardTake) -> Iterator[RenderableType]:
    """Yield the parts of the page, from top to bottom."""
    report = heard.report
    yield Text(headline(heard), "bold")
    yield Text()
    yield _summary(report)
    for shown in (_positions(report.positions), _pace(report), _drops(report.drops)):
        if shown is not None:
            yield Text()
            yield from shown
    about = heard.asked.notes if report.thuds else ()
    care = (*about, *heard.notes, *report.remarks)
    if care:
        yield Text()
    for told in care:
        yield Text(told)
    yield Text()
    yield Text(LEAVE, "dim")


def headline(heard: HeardTake) -> str:
    """Return a take's name, what it was held against, and how much was heard."""
    report, title = heard.report, heard.asked.title
    against = f", against {title}" if title else ""
    told = f"{heard.path.name}, {length_told(report.seconds)} long{against}"
    steady = report.steadiness
    if steady is None or not report.known:
        return f"{told}: {counted(report.thuds, 'thud')} heard."
    return f"{told}: {steady.heard:,} of {steady.expected:,} catches heard."


def _summary(report: TakeReport) -> Table:
    shown = table("", "")
    shown.show_header = False
    for name, told in _facts(report):
        shown.add_row(Text(name, "bold"), told)
    return shown


def _facts(report: TakeReport) -> Iterator[tuple[str, str]]:
    """Yield what is told in a line each."""
    if report.tempo is not None:
        yield "tempo", _tempo(report)
    if report.steadiness is not None:
        yield from _steadiness(report.steadiness)
    if report.hands is not None:
        yield "hands", _hands(report.hands)
    if report.fell_apart is not None:
        yield "falls apart", _fell_apart(report.fell_apart)
    if report.steadiness is not None:
        yield "drops", "none seen" if not report.drops else f"{len(report.drops)}, see below"
    yield "sureness", f"{report.sureness:.0%} that this is right"


def _tempo(report: TakeReport) -> str:
    if report.known:
        asked = [pace for pace in report.pace if pace.asked is not None]
        mean = sum((pace.asked or 0.0) * pace.heard for pace in asked) / sum(
            pace.heard for pace in asked
        )
        return f"{report.tempo:.1f} beats a minute, of {mean:.1f} asked for"
    meant = ", ".join(f"{each.tempo:.0f} ({each.share:.0%})" for each in report.readings)
    return f"{report.tempo:.1f} catches a minute; in beats a minute this may be {meant}"


def _steadiness(steady: Steadiness) -> Iterator[tuple[str, str]]:
    slow = f", of which {_ms(steady.wander_sd)} come and go slowly" if steady.wander_sd else ""
    yield "asynchronies", f"sd {_ms(steady.asynchrony_sd)}{slow}"
    if steady.interval_sd is not None:
        yield "intervals", f"sd {_ms(steady.interval_sd)}, of {steady.intervals:,}"
    if steady.lead is not None:
        early = "early" if steady.lead < 0 else "late"
        yield "lead", f"{_ms(abs(steady.lead))} {early} on the whole, which is left out above"
    later = "later" if steady.drift >= 0 else "earlier"
    yield (
        "drift",
        f"{_with_error(abs(steady.drift), steady.drift_uncertainty)} a minute {later}"
        + _chance(steady.drift, steady.drift_uncertainty),
    )


def _hands(hands: Hands) -> str:
    later = "later" if hands.difference >= 0 else "earlier"
    return (
        f"the right {_with_error(abs(hands.difference), hands.uncertainty)} {later} than the left"
        f"{_chance(hands.difference, hands.uncertainty)}; sd right {_ms(hands.right.sd)}, left "
        f"{_ms(hands.left.sd)}"
    )


def _fell_apart(change: Change) -> str:
    since = moment_told(change.time)
    return f"from {since} on: sd {_ms(change.before)} before, {_ms(change.after)} after"


def _positions(positions: Sequence[Position]) -> Iterator[RenderableType] | None:
    return _position_parts(positions) if positions else None


def _position_parts(positions: Sequence[Position]) -> Iterator[RenderableType]:
    chosen = least_even(positions)
    several = len({each.part for each in positions}) > 1
    part = ["part"] if several else []
    numbers = ["in the cycle", "heard", "later by", "sd"]
    shown = table(*part, "throw", *numbers, numbers=numbers)
    for each in chosen:
        shown.add_row(
            *([each.part] if several else []),
            " and ".join(each.throws),
            _cycle_places(each),
            f"{each.spread.heard} of {each.spread.expected}",
            _later(each.spread),
            _ms(each.spread.sd),
        )
    yield shown
    if len(chosen) < len(positions):
        yield Text(f"The {len(chosen)} of {len(positions)} throws that are the least even.")
    yield Text("Later by: against all catches around; * more than chance.", "dim")


def least_even(positions: Sequence[Position]) -> list[Position]:
    """Return all throws of the cycle, or those that lie furthest from the others, in order."""
    furthest = sorted(positions, key=lambda each: -_deviations(each.spread))[:MOST_ROWS]
    return [each for each in positions if each in furthest]


def _deviations(spread: Spread) -> float:
    return abs(spread.mean) / spread.uncertainty if spread.uncertainty > 0 else 0.0


def _cycle_places(position: Position) -> str:
    places = ["-" if beat is None else str(beat + 1) for beat in position.cycle_beats]
    return " and ".join(dict.fromkeys(places))


def _later(spread: Spread) -> str:
    mark = "*" if _deviations(spread) > CLEAR else " "
    return f"{1000 * spread.mean:+.1f} ± {1000 * spread.uncertainty:.1f} ms {mark}"


def _pace(report: TakeReport) -> Iterator[RenderableType] | None:
    if len(report.pace) < 2:  # noqa: PLR2004 - one is the tempo of the whole
        return None
    return _pace_parts(report.pace)


def _pace_parts(pace: Sequence[Pace]) -> Iterator[RenderableType]:
    known = pace[0].asked is not None
    numbers = ["tempo", *(["asked for"] if known else []), "heard"]
    shown = table("from", "to", *numbers, numbers=numbers)
    for each in gathered(pace):
        asked = [] if each.asked is None else [f"{each.asked:.1f}"]
        shown.add_row(
            moment_told(each.start),
            moment_told(each.end),
            f"{each.tempo:.1f} ± {each.uncertainty:.1f}",
            *asked,
            str(each.heard),
        )
    yield shown


def gathered(pace: Sequence[Pace]) -> list[Pace]:
    """Return the tempo in no more than `MOST_ROWS` stretches of about the same length."""
    size = math.ceil(len(pace) / MOST_ROWS)
    return [_together(pace[first : first + size]) for first in range(0, len(pace), size)]


def _together(pace: Sequence[Pace]) -> Pace:
    heard = sum(each.heard for each in pace)

    def mean(values: Sequence[float]) -> float:
        return sum(value * each.heard for value, each in zip(values, pace, strict=True)) / heard

    asked = [each.asked for each in pace if each.asked is not None]
    return Pace(
        start=pace[0].start,
        end=pace[-1].end,
        tempo=mean([each.tempo for each in pace]),
        uncertainty=math.hypot(*(each.uncertainty * each.heard for each in pace)) / heard,
        asked=mean(asked) if len(asked) == len(pace) else None,
        heard=heard,
    )


def _drops(drops: Sequence[Drop]) -> Iterator[RenderableType] | None:
    return _drop_parts(drops) if drops else None


def _drop_parts(drops: Sequence[Drop]) -> Iterator[RenderableType]:
    numbers = ["of beat", "missing", "sure"]
    known = any(drop.catch is not None for drop in drops)
    shown = table(
        "drop at",
        *(["after the throw", "of beat"] if known else []),
        "what stopped",
        "missing",
        "heard again",
        "sure",
        numbers=numbers,
    )
    for drop in drops[:MOST_ROWS]:
        shown.add_row(
            moment_told(drop.time),
            *([throw_told(drop), _beat(drop)] if known else []),
            "everything" if drop.kind == "stopped" else "one object",
            str(drop.missing),
            "no" if drop.resumed is None else moment_told(drop.resumed),
            f"{drop.sureness:.0%}",
        )
    yield shown
    if len(drops) > MOST_ROWS:
        yield Text(f"The first {MOST_ROWS} of {len(drops):,}; --json has them all.")


def throw_told(drop: Drop) -> str:
    """Return the throw before a drop, such as "5 to the left"; "-" if it is not known."""
    catch = drop.catch
    return "-" if catch is None else f"{catch.throw or catch.value} to the {catch.hand}"


def _beat(drop: Drop) -> str:
    return "-" if drop.catch is None else f"{drop.catch.beat:,}"


def moment_told(seconds: float) -> str:
    """Return a moment of a take to a tenth of a second, such as ``1:02.5``."""
    minutes, tenths = divmod(round(10 * seconds), 600)
    hours, minutes = divmod(minutes, 60)
    told = f"{tenths / 10:04.1f}"
    return f"{hours}:{minutes:02}:{told}" if hours else f"{minutes}:{told}"


def _ms(seconds: float) -> str:
    return f"{1000 * seconds:.1f} ms"


def _with_error(seconds: float, error: float) -> str:
    return f"{1000 * seconds:.1f} ± {1000 * error:.1f} ms"


def _chance(value: float, error: float) -> str:
    return "" if abs(value) > CLEAR * error else ", no more than chance"
