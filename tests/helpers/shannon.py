"""Heights of throws, computed by hand from Shannon's theorem, (F + D) H = (V + D) N.

F = (n - 2r) tau is the flight of a value n, where r is the dwell as a share of a hand's two beats,
and h = g F^2 / 8 its height. A beat of tau = 0.25 s, a tempo of 240, and g = 9.81 are taken.
"""

HEIGHTS = (
    (2 / 3, 3, 0.2129),
    (2 / 3, 5, 1.0304),
    (2 / 3, 7, 2.4610),
    (3 / 4, 3, 0.1724),
    (3 / 4, 5, 0.9388),
    (3 / 4, 7, 2.3184),
)
"""Dwell, value, and height in metres, to the fourth decimal."""
