"""A routine in a file: what it may hold (`model`), and how it is read (`reading`).

It is TOML in UTF-8: what holds for the whole act at the top, the music in [music], and each
pattern, rest and repeat in a [[part]] of its own, in order.
"""
