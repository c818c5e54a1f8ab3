"""A practice that is kept as fast as it can be, and tells each thing once it has been kept."""

import random
from multiprocessing.connection import Connection
from pathlib import Path

from throwcount.caller.log.log import PracticeLog
from throwcount.caller.log.records import Plan, Thrown
from throwcount.caller.log.session_writer import SessionWriter
from throwcount.engine.patterns.rules import read
from throwcount.engine.practice.tempo_rules import MARKS

PATTERNS = [read(text) for text in ("531", "315", "744", "(4,2x)*", "[33]33")]


def practise(path: Path, teller: Connection, seed: int, sets: int = 0) -> None:
    """Begin, mark and end sets; runs in a process of its own.

    Parameters
    ----------
    path
        Of the log.
    teller
        Gets a tuple for each thing that the log has acknowledged, after that.
    seed
        Of what is practised.
    sets
        How many; 0 for no end.
    """
    chance = random.Random(seed)
    with PracticeLog.open(path, patience=30) as log:
        session = log.begin_session("clubs", "none")
        begun = 0
        while begun < sets or not sets:
            begun += 1
            number = log.begin_set(session, Plan(chance.choice(PATTERNS), 150.0))
            teller.send(("begun", number))
            for beat in range(chance.randrange(4)):
                mark = chance.choice(MARKS)
                log.mark(number, mark, beat)
                teller.send(("mark", number, mark, beat))
            beats = chance.randrange(100)
            log.end_set(number, Thrown(beats, beats * 0.4, 150.0))
            teller.send(("ended", number, beats))
        log.end_session(session)


def write_marks(path: Path, teller: Connection, marks: int) -> None:
    """Write a session of one set with so many marks as fast as it can be, as a live practice does.

    `teller` gets how many were not in the log at the end.
    """
    writer = SessionWriter(path)
    writer.begin_session("", "", "", None)
    index = writer.begin_set(Plan(PATTERNS[0], 150.0))
    for beat in range(marks):
        writer.mark(index, MARKS[beat % len(MARKS)], beat, "key")
    aside = writer.close()
    teller.send(marks if aside is not None else writer.waiting)
