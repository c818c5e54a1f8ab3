"""Who speaks: recorded words, the voices of the system, and how a word is measured.

The program's own words in other languages: the tables, one file a language, and their use.

The tables hold what jugglers and music teachers commonly say, written from memory; a person's own
phrases take their place. Numbers need no table: a voice says digits in its own language.
"""
