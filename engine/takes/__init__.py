"""Takes: the catches that were heard on a recording, compared with those that were expected.

Times and their differences are in seconds on the clock of the take unless a docstring says
otherwise. What is heard of a catch is a *thud*; catches too close together to be told apart make
one *sound*. An *asynchrony* is the time of a catch less the time at which it was expected: below
zero is early. Its mean, or slowly varying part, is the *lead* and not a fault, as people who keep
to a beat are always some 20 to 80 ms early (Repp, Psychon. Bull. Rev. 12 (2005) 969-992).
"""
