"""What is asked of the practice log.

In each query stands the place where the chosen sets, or takes, are picked out. They are picked by
conditions on columns with an index, so that only what is asked for is looked at.
"""

from dataclasses import dataclass
from typing import Final

EARLIEST: Final = -(2**62)
"""Before every moment that the log can have."""

CHOSEN: Final = "{chosen}"


@dataclass(frozen=True, slots=True)
class LogQuery:
    """A query with `CHOSEN` where the conditions on what it is about belong."""

    text: str
    """The query in SQL."""
    about: str = "sets"
    """The table from which is chosen."""
    moment: str = "started"
    """Its column that says when."""

    def __call__(self, *, pattern: bool, props: bool) -> str:
        """Return the query for those of a pattern, of a kind of props, of both, or all of them."""
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
            max(started) AS last
        FROM sets WHERE {chosen} GROUP BY pattern, props
    )
    SELECT
        summed.pattern AS pattern, summed.objects AS objects, summed.props AS props,
        sets, clean, drops, summed.seconds AS seconds,
        best_tempo, held.tempo_end AS last_tempo, longest_run, last
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
        id AS number, session_id AS session, started, ended,
        CASE WHEN status = 'open' AND seen < :silent THEN 'interrupted' ELSE status END AS status,
        outcome, pattern, written, objects, cycle_beats, props, first_hand AS first,
        tempo_start, tempo_end, tempo_fastest, beats_planned, beats_thrown, seconds
    FROM sets WHERE {chosen} ORDER BY id
    """
)

MARKS: Final = LogQuery(
    """
    SELECT set_id, mark, moment, beat, given_by
    FROM sets CROSS JOIN marks ON marks.set_id = sets.id
    WHERE {chosen} ORDER BY sets.id, marks.id
    """
)

DAYS: Final = LogQuery(
    """
    SELECT
        date(started / 1000, 'unixepoch', 'localtime') AS day, pattern,
        total(seconds) AS seconds,
        max(tempo_fastest) FILTER (WHERE outcome = 'clean') AS best_tempo
    FROM sets WHERE {chosen} GROUP BY day, pattern ORDER BY day, pattern
    """
)

TAKES: Final = LogQuery(
    """
    SELECT
        id AS number, kept, file, title, pattern, props, seconds, heard, expected,
        tempo_asked, tempo, asynchrony_sd, interval_sd, right_later, drops, sureness, report
    FROM takes WHERE {chosen} ORDER BY id DESC LIMIT :most
    """,
    about="takes",
    moment="kept",
)
