"""Takes, recordings of a person who juggles: read, written, heard live, and the thuds on them.

Conventions, stated once: a take is mono, float32 of shape (frames,), with values in [-1, 1], at
`throwcount.sounds.samples.RATE` Hz. It comes in blocks of any length, so that an hour needs no more
memory than a minute. Times are in seconds from its first frame.
"""
