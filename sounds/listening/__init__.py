"""What is heard on a take: a recording of a person who juggles.

Conventions, stated once: a take is mono, float32 of shape (frames,), with values in [-1, 1], at
`throwcount.sounds.samples.RATE` Hz; it comes in blocks of any length, so that an hour
needs no more memory than a minute; times are in seconds from the first frame of the take.

A microphone, listened to by a process of its own.

Thuds: short sounds that rise at once and die away, and how sure each of them is.

A recording, read in blocks whatever its format and length, and written.
"""
