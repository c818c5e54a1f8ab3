"""The tables of the practice log, and how those of older versions become these.

A file's version is the number of steps that made it (``PRAGMA user_version``). A step that has
once been released is never changed: what is to be different comes as a further step, and a dump
of a log as it was before is added to the tests.
"""

from typing import Final, TypeAlias

Step: TypeAlias = tuple[str, ...]
"""Statements that lead from one version to the next, in one transaction."""

APPLICATION_ID: Final = 0x54_43_4C_31
"""Marks a SQLite file as a practice log (``PRAGMA application_id``)."""

FIRST_TABLES: Final[Step] = (
    """
    CREATE TABLE sessions (
        id INTEGER PRIMARY KEY,
        started INTEGER NOT NULL,
        ended INTEGER,                  -- NULL while it goes on, and where it was interrupted
        props TEXT NOT NULL,            -- empty where it was not told
        device TEXT NOT NULL
    )
    """,
    """
    CREATE TABLE sets (
        id INTEGER PRIMARY KEY,
        session_id INTEGER NOT NULL REFERENCES sessions,
        pattern TEXT NOT NULL,          -- in its canonical form
        written TEXT NOT NULL,          -- as it was asked for
        objects INTEGER NOT NULL,
        cycle_beats INTEGER NOT NULL,   -- of one cycle as written
        props TEXT NOT NULL,
        first_hand TEXT NOT NULL CHECK (first_hand IN ('right', 'left')),
        tempo_start REAL NOT NULL,
        tempo_end REAL NOT NULL,        -- so far, while it goes on
        tempo_fastest REAL NOT NULL,    -- likewise
        beats_planned INTEGER,          -- NULL where it has no end
        beats_thrown INTEGER NOT NULL,
        seconds REAL NOT NULL,          -- of throwing, without pauses
        started INTEGER NOT NULL,
        seen INTEGER NOT NULL,          -- when something was last known of it
        ended INTEGER,                  -- NULL while it goes on, and where it was interrupted
        status TEXT NOT NULL CHECK (status IN ('open', 'finished', 'stopped')),
        outcome TEXT CHECK (outcome IN ('clean', 'drop'))
    )
    """,
    """
    CREATE TABLE marks (
        id INTEGER PRIMARY KEY,
        set_id INTEGER NOT NULL REFERENCES sets,
        mark TEXT NOT NULL CHECK (mark IN ('clean', 'drop')),
        moment INTEGER NOT NULL,
        beat INTEGER,                   -- NULL outside the set
        given_by TEXT NOT NULL
    )
    """,
    "CREATE INDEX sets_by_session ON sets (session_id)",
    "CREATE INDEX sets_by_start ON sets (started)",
    "CREATE INDEX sets_by_pattern ON sets (pattern, props)",
    "CREATE INDEX clean_sets ON sets (pattern, props) WHERE outcome = 'clean'",
    "CREATE INDEX marks_by_set ON marks (set_id)",
)

TAKES: Final[Step] = (
    """
    CREATE TABLE takes (
        id INTEGER PRIMARY KEY,
        kept INTEGER NOT NULL,          -- when it was listened to
        file TEXT NOT NULL,             -- the recording's name, without its folder
        title TEXT NOT NULL,            -- what it was held against; empty for nothing
        pattern TEXT NOT NULL,          -- in its canonical form; empty where it is none, or several
        props TEXT NOT NULL,
        seconds REAL NOT NULL,          -- of the recording
        heard INTEGER NOT NULL,         -- catches
        expected INTEGER NOT NULL,
        tempo_asked REAL,               -- beats a minute; NULL where it is not known
        tempo REAL,                     -- as it was kept; NULL where nothing tells
        asynchrony_sd REAL,             -- in seconds, as all that follow; NULL where nothing tells
        interval_sd REAL,
        right_later REAL,               -- than the left
        drops INTEGER NOT NULL,
        sureness REAL NOT NULL,
        report TEXT NOT NULL            -- the rest, as JSON
    )
    """,
    "CREATE INDEX takes_by_moment ON takes (kept)",
    "CREATE INDEX takes_by_pattern ON takes (pattern, props)",
)

STEPS: Final[tuple[Step, ...]] = (FIRST_TABLES, TAKES)
"""From an empty file to the tables of this version of the program."""
