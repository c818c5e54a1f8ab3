"""Listening back: the catches that were heard, held against those that were expected.

Conventions: times and their differences are in seconds on the clock of the take unless a
docstring says otherwise. An *asynchrony* is the time of a catch less the time at which it was
expected: below zero is early. A constant asynchrony is a *lead* and no fault, as people who keep
to a beat are always some 20 to 80 ms early (Repp, Psychon. Bull. Rev. 12 (2005) 969-992). What
can be heard of a catch is a *thud*; catches too close together to be told apart make one *sound*.
"""
