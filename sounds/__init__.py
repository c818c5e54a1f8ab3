"""What it sounds like.

Conventions, stated once: audio is float32 of shape (frames, channels), with values in [-1, 1];
`rate` is the sample rate in Hz; a position in a file is a frame index; gains are linear factors,
levels are in dB. Devices and speech engines are imported where they are first needed.
"""
