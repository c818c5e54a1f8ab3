"""What is thrown, by which hand, and when.

Conventions: a *beat* is the unit of musical time and is counted from zero at the first
throw; a *tempo* is in beats a minute; times are in seconds, heights in metres. An
alternating pattern has one throw a beat, the hands in turn; a synchronous pattern has a
pair of throws on every even beat. Nothing here touches sound, files, the terminal or the
clock.
"""
