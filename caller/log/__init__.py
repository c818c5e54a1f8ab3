"""What was practised, kept in one SQLite file in the user's data folder.

`database` has the tables, how older ones become these, the connection and its errors; `log` writes;
`history` reads, by `queries`; `page` shows tables, and `chart` draws; `records` is the data in
between. `checking` says whether a log is whole, and backs it up; `repair` saves what `pages` can
read of a damaged one, and `repair_page` tells of all three. Who writes decides what a failure
means: a practice goes on without its log.

Moments are whole milliseconds since 1970, UTC. When a call that keeps something returns, it has
been handed to the disk, and survives the end of the process by whatever cause.
"""
