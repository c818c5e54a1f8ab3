"""Music under the call: decoded, measured, ducked under words, and its beats estimated.

Conventions, stated once: decoded music is stereo float32 of shape (frames, 2) at the rate of the
output, in a file of bare little-endian samples that is removed when the music is no longer needed.
Times are in seconds from the first frame of the music.
"""
