"""A practice that is kept as fast as it can be, and tells each thing once it has been kept."""

import random
from multiprocessing.connection import Connection
from pathlib import Path

from throwcount.caller.log.log import PracticeLog
from throwcount.caller.log.records import Plan, Thrown
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
