"""What is heard on a take: a recording of a person who juggles.

Conventions, stated once: a take is mono, float32 of shape (frames,), with values in [-1, 1], at
`sounds.listening.rate.RATE` frames a second; it comes in blocks of any length, so that an hour
needs no more memory than a minute; times are in seconds from the first frame of the take.
"""
