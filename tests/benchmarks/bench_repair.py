"""How long a log takes to check, to back up and to repair, against reading it, and how that grows.

Run it with ``python tests/benchmarks/bench_repair.py``. The logs are of one and of ten years, 5,000
sets a year, with one and a half marks a set. It prints processor times and their ratios.
"""

import sqlite3
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory
from time import process_time

sys.path.insert(0, str(Path(__file__).parent.parent / "helpers"))

from damaged_logs import PAGE, TABLES, make_log, rows_of

from throwcount.caller.log.checking import backed_up, check_log
from throwcount.caller.log.repair import repaired

SETS = 250
YEAR = 20
"""Times that the sets of a small log make a year."""

REFERENCES = {"sets": 1, "marks": 1}
"""The column of each table that refers to another."""


def longer(path: Path, times: int) -> None:
    """Let everything in a small log follow itself, so often."""
    rows = rows_of(path)
    many = {table: max(number for name, number in rows if name == table) for table in TABLES}
    of = {"sets": "sessions", "marks": "sets"}
    with closing(sqlite3.connect(path)) as connection:
        for turn in range(1, times):
            for (table, number), row in rows.items():
                values = [number + turn * many[table], *row[1:]]
                if table in REFERENCES:
                    values[REFERENCES[table]] += turn * many[of[table]]
                places = ", ".join("?" * len(values))
                connection.execute(f"INSERT INTO {table} VALUES ({places})", values)
        connection.commit()


def without_ways(path: Path) -> None:
    """Overwrite the first page and all that only lead to rows."""
    content = bytearray(path.read_bytes())
    for start in range(0, len(content), PAGE):
        if start == 0 or content[start] in {2, 5, 10}:
            content[start : start + PAGE] = bytes(PAGE)
    path.write_bytes(content)


def seconds(work: Callable[[], object]) -> float:
    """Return the processor time of some work."""
    begun = process_time()
    work()
    return process_time() - begun


def main() -> None:
    """Print times and ratios."""
    taken: dict[str, list[float]] = {}
    with TemporaryDirectory() as folder:
        for years in (1, 10):
            log, new = Path(folder) / f"{years}.sqlite", Path(folder) / "new.sqlite"
            make_log(log, SETS)
            longer(log, years * YEAR)
            works: dict[str, Callable[[], object]] = {
                "read": lambda log=log: rows_of(log),
                "check": lambda log=log: check_log(log),
                "back up": lambda log=log, new=new: backed_up(log, new, overwrite=True),
                "repair, whole": lambda log=log, new=new: repaired(log, new, overwrite=True),
            }
            for name, work in works.items():
                taken.setdefault(name, []).append(seconds(work))
            without_ways(log)
            again = seconds(works["repair, whole"])
            taken.setdefault("repair, rows only", []).append(again)
    for name, (year, ten) in taken.items():
        ratio = ten / taken["read"][1]
        sys.stdout.write(
            f"{name}: {ten:.2f} s for ten years, {ten / year:.1f} times one year, "
            f"{ratio:.1f} times reading them\n"
        )


if __name__ == "__main__":
    main()
