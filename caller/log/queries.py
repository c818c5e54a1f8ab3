"""The queries by which the practice log is read.

Each has a place for the conditions that choose its sets, or takes. They are on columns with an
index, so that nothing else is looked at.
"""

from dataclasses import dataclass
from typing import Final

CHOSEN: Final = "{chosen}"
"""The place for the conditions in a query."""


@dataclass(frozen=True, slots=True)
class LogQuery:
    """A query with `CHOSEN` in it."""

    text: str
    """The query in SQL."""
    about: str = "sets"
    """The table that the conditions are about."""
    moment: str = "started"
    """The column of that table that says when."""

    def __call__(self, *, pattern: bool, props: bool) -> str:
        """Return the query with conditions on the moment and, if asked, on pattern and props."""
        conditions = [f"{self.about}.{self.moment} >= :since"]
        conditions += [f"{self.about}.pattern = :pattern"] * pattern
        conditions += [f"{self.about}.props = :props"] * props
        return self.text.replace(CHOSEN, " AND ".join(conditions))


TOTALS: Final = LogQuery(
    """
    SELECT
        count(DISTINCT session_id) AS sessions, count(DISTINCT pattern) AS patterns,
        count(*) AS sets,
        count(*) FILTER (WHERE outcome = 'clean') AS clean,
        count(*) FILTER (WHERE outcome = 'drop') AS drops,
        total(seconds) AS seconds, min(started) AS first, max(started) AS last
    FROM sets WHERE {chosen}
    """
)

SESSIONS: Final = LogQuery(
    """
    SELECT
        sessions.id AS number, sessions.started AS started,
        coalesce(sessions.ended, max(sets.seen)) AS ended, sessions.ended IS NOT NULL AS whole,
        sessions.props AS props, sessions.device AS device,
        count(DISTINCT sets.pattern) AS patterns, count(*) AS sets,
        count(*) FILTER (WHERE outcome = 'clean') AS clean,
        count(*) FILTER (WHERE outcome = 'drop') AS drops,
        total(sets.seconds) AS seconds
    FROM sessions JOIN sets ON sets.session_id = sessions.id
    WHERE {chosen}
    GROUP BY sessions.id ORDER BY sessions.id DESC LIMIT :most
    """
)

PATTERN_BY_PATTERN: Final = """
    WITH summed AS (
        SELECT
            pattern, props, max(objects) AS objects, count(*) AS sets,
            count(*) FILTER (WHERE outcome = 'clean') AS clean,
            count(*) FILTER (WHERE outcome = 'drop') AS drops,
            total(seconds) AS seconds,
            max(tempo_fastest) FILTER (WHERE outcome = 'clean') AS best_tempo,
            max(id) FILTER (WHERE outcome = 'clean') AS last_clean,
            coalesce(max(beats_thrown) FILTER (WHERE outcome = 'clean'), 0) AS longest_run,
            max(catches) AS best_run, max(started) AS last
        FROM sets WHERE {chosen} GROUP BY pattern, props
    )
    SELECT
        summed.pattern AS pattern, summed.objects AS objects, summed.props AS props,
        sets, clean, drops, summed.seconds AS seconds,
        best_tempo, held.tempo_end AS last_tempo, longest_run, best_run, last
    FROM summed LEFT JOIN sets AS held ON held.id = last_clean
"""

PATTERNS: Final = LogQuery(f"{PATTERN_BY_PATTERN} ORDER BY last DESC LIMIT :most")

PATTERNS_BY_AGE: Final = LogQuery(
    f"{PATTERN_BY_PATTERN} WHERE last < :before ORDER BY last LIMIT :most"
)

OUTCOMES: Final = LogQuery(
    "SELECT outcome FROM sets WHERE outcome IS NOT NULL AND {chosen} ORDER BY id"
)

SETS: Final = LogQuery(
    """
    SELECT
        sets.id AS number, session_id AS session, started, ended,
        CASE WHEN status = 'open' AND seen < :silent THEN 'interrupted' ELSE status END AS status,
        outcome, pattern, written, objects, cycle_beats, props, first_hand AS first,
        tempo_start, tempo_end, tempo_fastest, beats_planned, beats_thrown, seconds,
        catches, goal, part, after_part, mark, moment, beat, given_by
    FROM sets LEFT JOIN marks ON marks.set_id = sets.id
    WHERE {chosen} ORDER BY sets.id, marks.id
    """
)
"""A set has a row for each of its marks, or one without a mark."""

OF_A_MARK: Final = ("mark", "moment", "beat", "given_by")
"""Those columns that are about the mark, the fields of `MarkGiven`."""

DAYS: Final = LogQuery(
    """
    SELECT
        date(started / 1000, 'unixepoch', 'localtime') AS day, pattern, props,
        max(objects) AS objects, total(seconds) AS seconds,
        max(tempo_fastest) FILTER (WHERE outcome = 'clean') AS best_tempo,
        max(catches) AS best_run
    FROM sets WHERE {chosen} GROUP BY day, pattern, props ORDER BY day, pattern, props
    """
)

PRACTISED: Final = LogQuery(
    """
    SELECT pattern, props, max(objects) AS objects, max(started) AS last
    FROM sets WHERE {chosen} GROUP BY pattern, props ORDER BY last DESC LIMIT :most
    """
)

RUN_LENGTHS: Final = LogQuery(
    """
    SELECT
        catches, goal, count(*) AS sets, total(seconds) AS seconds,
        count(*) FILTER (WHERE outcome = 'drop') AS drops,
        count(*) FILTER (WHERE started < :today) AS sets_before,
        count(*) FILTER (WHERE started >= :today AND started < :tomorrow) AS sets_today,
        total(seconds) FILTER (WHERE started >= :today AND started < :tomorrow) AS seconds_today
    FROM sets WHERE {chosen} GROUP BY catches, goal
    """
)
"""How often a pattern was kept up for so many catches, whatever the goal."""

FIRST_RUN: Final = LogQuery(
    """
    SELECT catches, seconds, tempo_end AS tempo, started AS "when"
    FROM sets WHERE {chosen} AND catches = :catches ORDER BY id LIMIT 1
    """
)

CHANGES: Final = LogQuery(
    """
    SELECT
        sessions.file AS file, after_part, part, count(*) AS times,
        count(*) FILTER (
            WHERE outcome = 'drop' AND (catches IS NULL OR catches < 2 * objects)
        ) AS drops
    FROM sets JOIN sessions ON sessions.id = session_id
    WHERE {chosen} AND after_part != '' AND beats_thrown > 0
    GROUP BY file, after_part, part ORDER BY drops DESC, times, file, after_part, part LIMIT :most
    """
)
"""A change is over with a qualifying run, every object thrown and caught twice; what is dropped
later is no fault of the change."""

PARTS: Final = LogQuery(
    """
    SELECT
        sessions.file AS file, part, count(*) AS times,
        count(*) FILTER (WHERE outcome = 'drop') AS drops
    FROM sets JOIN sessions ON sessions.id = session_id
    WHERE {chosen} AND part != '' AND beats_thrown > 0
    GROUP BY file, part ORDER BY drops DESC, times, file, part LIMIT :most
    """
)

TAKES: Final = LogQuery(
    """
    SELECT
        id AS number, kept, file, title, pattern, props, seconds, heard, expected,
        tempo_asked, tempo, asynchrony_sd, interval_sd, right_later, drops,
        sureness AS confidence, report
    FROM takes WHERE {chosen} ORDER BY id DESC LIMIT :most
    """,
    about="takes",
    moment="kept",
)

LAST_HELD: Final = """
    SELECT tempo_end AS tempo, started AS "when", catches FROM sets WHERE id = (
        SELECT max(id) FROM sets WHERE outcome = 'clean' AND pattern = :pattern AND props = :props
    )
"""
LAST_HELD_WITH_ANY_PROPS: Final = """
    SELECT tempo_end AS tempo, started AS "when", catches FROM sets WHERE id = (
        SELECT max(id) FROM sets WHERE outcome = 'clean' AND pattern = :pattern
    )
"""

BEST_RUN: Final = """
    SELECT max(catches) AS catches FROM sets WHERE pattern = :pattern AND props = :props
"""
BEGINNING: Final = "SELECT started FROM sessions WHERE id = :session"
SAME_SESSION: Final = """
    SELECT id FROM sessions WHERE file = :file AND started = :started AND ended = :ended
"""
LAST_OF_FILE: Final = "SELECT max(id) AS id FROM sessions WHERE file = :file"
CHAIN: Final = """
    WITH RECURSIVE chain (id) AS (
        VALUES (:session)
        UNION SELECT resumes FROM sessions JOIN chain USING (id) WHERE resumes IS NOT NULL
    )
"""
"""The session and those that it goes on from."""
SETS_OF_FILE: Final = f"""
    {CHAIN}
    SELECT block, tempo_end, outcome, status, beats_thrown, catches FROM sets
    WHERE session_id IN chain AND block IS NOT NULL ORDER BY id
"""  # noqa: S608 - nothing of a person's is in the text
