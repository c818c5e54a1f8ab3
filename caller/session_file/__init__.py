"""A session in a file: what it may hold (`model`), how it is read (`reading`), written (`writing`).

It is TOML in UTF-8: what holds for the whole session at the top, and each pattern to practise in
a [[block]] of its own, in order.
"""
