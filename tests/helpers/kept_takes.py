"""What a recording told, as it is kept in a practice log."""

from throwcount.caller.log.records import TakeSummary

TAKE = TakeSummary(
    file="barn.wav",
    title="153 at 150 beats a minute",
    pattern="531",
    props="clubs",
    seconds=61.5,
    heard=140,
    expected=148,
    tempo_asked=150.0,
    tempo=151.5,
    asynchrony_sd=0.0125,
    interval_sd=None,
    right_later=-0.004,
    drops=1,
    confidence=0.9,
    report={"remarks": ["Many a word\u2026"], "pace": []},
)
