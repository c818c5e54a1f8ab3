"""How right `listen` is on takes made of recorded impacts, against goals and a plain baseline.

Run it with ``python tests/benchmarks/bench_listening.py``; the first time it fetches packages and
makes the takes (some half an hour), later it takes as long as listening does, and where only the
engine has changed less than a minute, as thuds are kept. ``--only TEXT`` takes the takes whose
names hold it, ``--each`` prints each of them, ``--perfect`` listens to the times of the sounds that
were made in place of those that were found. Choices are made on the first three parts of the bank.
``--kept-aside`` listens to the fourth, and is for the end: whatever is chosen by its figures spoils
it. ``bank_takes.py`` makes its takes beforehand.
"""

import argparse
import hashlib
import json
import sys
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, replace
from itertools import chain
from pathlib import Path
from typing import Final, NamedTuple

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / "tests" / "helpers")]

from bank_takes import BankTake, bank, call_of  # noqa: E402 - found on the path above
from plain_baseline import Plain, plain_report  # noqa: E402
from played import played  # noqa: E402
from recorded_sounds import CACHE, PartName  # noqa: E402
from recorded_sounds import RATE as CALL_RATE  # noqa: E402
from takes import CallSound  # noqa: E402

from throwcount.caller.reports.answers import NONE_CLEAR, answers, is_uneven  # noqa: E402
from throwcount.caller.reports.take import BLOCK, CALL_CONFIDENCE, LEAST_CONFIDENCE  # noqa: E402
from throwcount.engine.takes.catches import Catch  # noqa: E402
from throwcount.engine.takes.hindrances import Hindrance  # noqa: E402
from throwcount.engine.takes.report import TakeReport, listen_report  # noqa: E402
from throwcount.sounds.echo.find_call import CallOnTake, find_call  # noqa: E402
from throwcount.sounds.echo.removal import without_call  # noqa: E402
from throwcount.sounds.listening.take import Overload, open_take  # noqa: E402
from throwcount.sounds.listening.thuds import Thud, find_thuds  # noqa: E402
from throwcount.sounds.samples import RATE  # noqa: E402

NEAR_TRUTH: Final = 0.03
"""Seconds from a thud to the catch that it is of."""
TOGETHER: Final = 0.05
"""Seconds between catches that may make one thud, of which either is right."""
PAIRED_RIGHT: Final = 0.9
NEAR_SD, NEAR_SHARE = 0.003, 0.1
DROPS: Final = {"stop": "all stops", "lost": "one object"}
NEAR_BEATS: Final = 2
TOLD, TOLD_SURELY = 0.6, 0.9
PLANTED_WITHIN: Final = (0.7, 1.3)
AS_DRIFT: Final = (0.0005, 0.005)
"""Between these shares a pace of the juggler's own may be told as drift: beyond, as a pace."""
WORKED_ON: Final[tuple[PartName, ...]] = ("first", "second", "third")
KEPT_ASIDE: Final[tuple[PartName, ...]] = ("fourth",)
SPOILED: Final = (
    "This part is only measured at the end. Change nothing because of what follows, or it is no "
    "longer kept aside: it becomes one of the parts for work.\n"
)


@dataclass(frozen=True)
class Kept:
    """What was heard on a take, as it is kept from run to run.

    Parameters
    ----------
    clocks
        Where the call is; None if it was not found, or not looked for.
    """

    thuds: tuple[Thud, ...]
    clocks: CallOnTake | None
    seconds: float
    suppressed: bool = False


@dataclass(frozen=True)
class Judged:
    """A take, what was told of it, and what is right of that."""

    take: BankTake
    report: TakeReport
    plain: Plain | None
    right: bool
    sd_right: bool
    plain_right: bool


def kept(take: BankTake) -> Kept:
    """Return the thuds of a take, found anew only where the code that finds them has changed."""
    path = CACHE / "thuds" / f"{take.plan.name}-{_key(take)}.json"
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        heard = _heard(take)
        path.write_text(json.dumps(asdict(heard)))
    told = json.loads(path.read_text())
    return Kept(
        tuple(Thud(**thud) for thud in told["thuds"]),
        told["clocks"] and CallOnTake(**told["clocks"]),
        told["seconds"],
        told["suppressed"],
    )


def _key(take: BankTake) -> str:
    """Return a hash of the take and of the code that hears it."""
    folders = ["listening", *(["echo"] if take.plan.call else [])]
    files = [path for folder in folders for path in (ROOT / "sounds" / folder).glob("*.py")]
    whole = hashlib.sha256(take.path.with_suffix(".json").read_bytes())
    whole.update(f"{take.path.stat().st_size} {LEAST_CONFIDENCE}".encode())
    for path in sorted(files):
        whole.update(path.read_bytes())
    return whole.hexdigest()[:16]


def _heard(take: BankTake) -> Kept:
    with open_take(take.path) as opened:
        blocks, clocks, overload = opened.blocks(BLOCK), None, Overload()
        blocks = overload.watched(blocks)
        if take.plan.call:
            call = played(CallSound(call_of(take.plan), CALL_RATE))
            found = find_call(opened, call)
            if found is not None and found.confidence >= CALL_CONFIDENCE:
                clocks = found
                blocks = without_call(blocks, call, found)
        thuds = tuple(find_thuds(blocks, RATE, LEAST_CONFIDENCE))
        return Kept(thuds, clocks, overload.frames / RATE, overload.is_suppressed)


def perfect(take: BankTake) -> Kept:
    """Return the sounds that were made, each as a thud at its time."""
    plan, thuds = take.plan, []
    for event in plan.events:
        time = plan.take_time(event.time) + take.moved
        if time > 0 and (not thuds or time - thuds[-1].time > 0.045):
            thuds.append(Thud(time, 20.0 + event.level, 1.0))
    clocks = CallOnTake(plan.delay + take.moved, plan.ppm, 1.0) if plan.call else None
    return Kept(tuple(thuds), clocks, plan.seconds)


def expected(take: BankTake, heard: Kept) -> list[Catch]:
    """Return the expected catches, on the take's clock if that is known."""
    if heard.clocks is None:
        return list(take.plan.catches)
    clocks = heard.clocks
    return [replace(each, time=clocks.take_time(each.time)) for each in take.plan.catches]


def judged(take: BankTake, heard: Kept) -> Judged:
    """Return what is told of a take, and what is right of that."""
    catches, placed = expected(take, heard), heard.clocks is not None
    report = told_of(take, heard)
    plain = plain_report([thud.time for thud in heard.thuds], catches, heard.seconds, placed=placed)
    index = {_name(catch): number for number, catch in enumerate(take.plan.catches)}
    pairs = [
        ([index[_name(catch)] for catch in sound.catches], sound.time + sound.late)
        for sound in report.sounds
        if sound.late is not None
    ]
    sd = None if report.steadiness is None else report.steadiness.asynchrony_sd
    plain_pairs = [] if plain is None else [([number], time) for number, time in plain.pairs]
    return Judged(
        take,
        report,
        plain,
        right=_near_sd(take, sd) and _paired(take, pairs),
        sd_right=_near_sd(take, sd),
        plain_right=plain is not None and _near_sd(take, plain.sd) and _paired(take, plain_pairs),
    )


def told_of(take: BankTake, heard: Kept) -> TakeReport:
    """Return the report on a take, as `listen` makes it of what it hears."""
    beats = [beat.time for beat in take.plan.piece().timeline.beats()]
    clocks = heard.clocks
    if clocks is not None:
        beats = list(map(clocks.take_time, beats))
    report = listen_report(
        heard.thuds,
        heard.seconds,
        expected(take, heard),
        placed=clocks is not None,
        beats=beats,
        certainty=clocks.confidence if clocks is not None and clocks.is_doubtful else 1.0,
    )
    if heard.suppressed:
        found = (*report.hindrances, Hindrance("suppression", ""))
        report = replace(report, hindrances=found)
    return report


def _name(catch: Catch) -> tuple[int, str, int, str]:
    return catch.beat, catch.hand, catch.value, catch.object


def _near_sd(take: BankTake, sd: float | None) -> bool:
    true = take.plan.sd
    return sd is not None and abs(sd - true) <= max(NEAR_SD, NEAR_SHARE * true)


def _paired(take: BankTake, pairs: list[tuple[list[int], float]]) -> bool:
    """Return whether nine in ten of the thuds that are taken for catches are of these catches."""
    made, good = take.made(), 0
    due = [catch.time for catch in take.plan.catches]
    for catches, time in pairs:
        near = [
            made[other]
            for each in catches
            for other in range(max(each - 1, 0), min(each + 2, len(due)))
            if other in made and abs(due[other] - due[each]) < TOGETHER
        ]
        good += any(abs(time - one) < NEAR_TRUTH for one in near)
    return bool(pairs) and good >= PAIRED_RIGHT * len(pairs)


class Count(NamedTuple):
    """How many of how many."""

    good: int
    all: int

    def __str__(self) -> str:
        share = f"{100 * self.good / self.all:3.0f} %" if self.all else "  - "
        return f"{share} ({self.good} of {self.all})"


def count(judged: list[Judged], good: Callable[[Judged], bool]) -> Count:
    """Return of how many takes something holds."""
    return Count(sum(map(good, judged)), len(judged))


def drop_found(each: Judged) -> bool:
    """Return whether a drop is told within two beats."""
    return any(_near_drop(each, drop.time) for drop in each.report.drops)


def false_drop(each: Judged) -> bool:
    """Return whether a drop is told where there is none."""
    return any(_amiss(each, drop.time) for drop in each.report.drops)


def _near_drop(each: Judged, time: float | None) -> bool:
    true = each.take.drop_time()
    beat = 60 / each.take.plan.bpm
    # In whole beats, as both are on the grid and the time of each is only about right.
    return time is not None and true is not None and round(abs(time - true) / beat) <= NEAR_BEATS


def _amiss(each: Judged, time: float | None) -> bool:
    return time is not None and not _near_drop(each, time)


def drift_told(each: Judged) -> bool:
    """Return whether the page speaks of a drift."""
    return dict(answers(each.report)).get("drift", NONE_CLEAR) != NONE_CLEAR


def planted_alone(each: Judged) -> bool:
    """Return whether the late throw is told, at its size, and no other."""
    told = each.report.positions
    uneven = [one for one in told if is_uneven(one, len(told))]
    return len(uneven) == 1 and _as_planted(each, uneven[0].cycle_beats[0], uneven[0].spread.mean)


def _as_planted(each: Judged, beat: int | None, late: float) -> bool:
    plan = each.take.plan
    low, high = (share * plan.planted for share in PLANTED_WITHIN)
    return beat == plan.planted_beat and low <= late <= high


def plain_planted(each: Judged) -> bool:
    """Return the same of the baseline."""
    late = () if each.plain is None else each.plain.late
    return len(late) == 1 and _as_planted(each, *late[0])


def told(each: Judged, least: float = TOLD) -> bool:
    """Return whether a report is told to be this likely right."""
    return each.report.confidence >= least


def figures(every: list[Judged]) -> Iterator[tuple[str, str, Count, Count | None]]:
    """Yield each figure: its name, its goal, the program's and the baseline's."""
    takes = [each for each in every if each.take.plan.happening != "clicks"]
    for name, call in (("call", True), ("headphones", False)):
        own = [each for each in takes if each.take.plan.call == call]
        sure = [each for each in own if told(each)]
        yield (
            f"{name}: sd within 3 ms or a tenth, of those told 60 % sure",
            ">= 80 %",
            count(sure, lambda each: each.sd_right),
            count(sure, lambda each: each.plain is not None and _near_sd(each.take, each.plain.sd)),
        )
        surely = [each for each in own if told(each, TOLD_SURELY)]
        yield (
            f"{name}: right, of those told 90 % sure",
            ">= 90 %",
            count(surely, lambda each: each.right),
            count(surely, lambda each: each.plain_right),
        )
        yield f"{name}: told 60 % sure", ">= 50 %", count(own, told), None
        yield (
            f"{name}: right, of all",
            "",
            count(own, lambda each: each.right),
            count(own, lambda each: each.plain_right),
        )
        dropped = [each for each in own if each.take.plan.drop is not None]
        for kind in ("stop", "lost"):
            yield (
                f"{name}: drop within two beats ({DROPS[kind]})",
                ">= 90 %" if call else ">= 85 %",
                count([e for e in dropped if e.take.plan.happening == kind], drop_found),
                count(
                    [e for e in dropped if e.take.plan.happening == kind],
                    lambda each: each.plain is not None and _near_drop(each, each.plain.drop),
                ),
            )
    for is_whole, where in ((True, "where there is none"), (False, "amiss, where there is one")):
        own = [each for each in takes if (each.take.plan.drop is None) == is_whole]
        yield (
            f"drop told {where}",
            "<= 1 in 40" if is_whole else "",
            count(own, false_drop),
            count(own, lambda each: each.plain is not None and _amiss(each, each.plain.drop)),
        )
    still = [
        each
        for each in takes
        if each.take.plan.happening != "drift"
        and not AS_DRIFT[0] < abs(each.take.plan.pace) <= AS_DRIFT[1]
    ]
    for name, call in (("call", True), ("headphones", False)):
        yield (
            f"{name}: drift told where there is none",
            "<= 1 in 20",
            count([each for each in still if each.take.plan.call == call], drift_told),
            count(
                [each for each in still if each.take.plan.call == call],
                lambda each: each.plain is not None and each.plain.drifts,
            ),
        )
    drifting = [each for each in takes if each.take.plan.trend]
    yield "drift told where there is some", "", count(drifting, drift_told), None
    planted = [each for each in takes if each.take.plan.planted]
    yield (
        "the late throw told alone, at 70 to 130 %",
        ">= 80 %",
        count(planted, planted_alone),
        count(planted, plain_planted),
    )
    clicks = [each for each in every if each.take.plan.happening == "clicks"]
    yield (
        "own clicks told as a juggler",
        "none",
        count(clicks, lambda each: told(each) and not each.right),
        None,
    )
    for bed in ("echo", "suppression"):
        own = [each for each in takes if each.take.plan.bed == bed]
        yield (
            f"{bed}: named or right",
            "all",
            count(own, lambda each: each.right or named(each)),
            count(own, lambda each: each.plain_right),
        )


def named(each: Judged) -> bool:
    """Return whether the report says what is wrong with the take."""
    return any(found.kind == each.take.plan.bed for found in each.report.hindrances)


def line(each: Judged) -> str:
    """Return a line about a take."""
    plan, report, steady = each.take.plan, each.report, each.report.steadiness
    sd = "  - " if steady is None else f"{1000 * steady.asynchrony_sd:4.1f}"
    plain = "  - " if each.plain is None else f"{1000 * each.plain.sd:4.1f}"
    drops = ", ".join(f"{drop.time:.1f}" for drop in report.drops) or "-"
    true = each.take.drop_time()
    uneven = [one for one in report.positions if is_uneven(one, len(report.positions))]
    hindered = ", ".join(found.kind for found in report.hindrances)
    return (
        f"{plan.name:38} {plan.pattern:6} {plan.bpm:3.0f} {'right' if each.right else 'WRONG'} "
        f"told {report.confidence:.2f} sd {sd} of {1000 * plan.sd:4.1f}, plain {plain}"
        f"{' right' if each.plain_right else ' wrong'}; thuds {report.thuds:3} "
        f"of {len(each.take.made()):3}; "
        f"drop {drops} of {'-' if true is None else f'{true:.1f}'}; "
        f"drift {'told' if drift_told(each) else '-'} of {plan.trend:.2f}; late "
        f"{[(one.cycle_beats, round(1000 * one.spread.mean)) for one in uneven]} of "
        f"{plan.planted_beat}, {1000 * plan.planted:.0f}; {hindered}"
    )


def main() -> None:
    """Listen to all takes of some parts and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kept-aside", action="store_true", help="the part for the end")
    parser.add_argument("--only", default="", help="only takes whose names hold this")
    parser.add_argument("--each", action="store_true", help="print a line for each take")
    parser.add_argument("--perfect", action="store_true", help="times of the sounds made")
    options = parser.parse_args()
    if options.kept_aside:
        sys.stdout.write(SPOILED)
    every = []
    parts = KEPT_ASIDE if options.kept_aside else WORKED_ON
    takes = (bank(part, options.only) for part in parts)
    for take in chain.from_iterable(takes):
        every.append(judged(take, perfect(take) if options.perfect else kept(take)))
        if options.each:
            sys.stdout.write(line(every[-1]) + "\n")
            sys.stdout.flush()
    for name, goal, ours, plain in figures(every):
        beside = "" if plain is None else f"plain {plain}"
        sys.stdout.write(f"{name:64} {goal:10} {ours!s:20} {beside}\n")


if __name__ == "__main__":
    main()
