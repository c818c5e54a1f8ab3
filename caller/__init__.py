"""The person's side: the command line, what it shows, and what it says when something is wrong.

Every command has the same exit statuses: 0 done; 1 the input was understood and is wrong; 2 the
command line itself is wrong; 3 something outside failed; 130 interrupted.
"""
