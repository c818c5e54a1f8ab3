"""What was practised, kept in one SQLite file in the user's data folder.

`place` says where it is, `log` writes it, `history` reads it; `page`, `document`, `spreadsheet`
and `chart` show it. `schema` has its tables and how older ones become these, `database` the
connection, and `errors` what can go wrong. Whoever writes decides what a failure means: a
practice goes on without its log.

Moments are whole milliseconds since 1970, UTC. Everything that is told to be kept has been handed
to the disk when the call returns, and survives the end of the process by whatever cause.
"""
