"""Leap seconds since GPS time began, and until when no further one can come.

Read: IERS Bulletin C 72 of July 2026, as the file Leap_Second.dat in the package astropy-iers-data; tests
compare every line with it [IERS C].
"""

from __future__ import annotations

import datetime

LEAP_SECONDS = (
    (datetime.date(1980, 1, 6), 0),
    (datetime.date(1981, 7, 1), 1),
    (datetime.date(1982, 7, 1), 2),
    (datetime.date(1983, 7, 1), 3),
    (datetime.date(1985, 7, 1), 4),
    (datetime.date(1988, 1, 1), 5),
    (datetime.date(1990, 1, 1), 6),
    (datetime.date(1991, 1, 1), 7),
    (datetime.date(1992, 7, 1), 8),
    (datetime.date(1993, 7, 1), 9),
    (datetime.date(1994, 7, 1), 10),
    (datetime.date(1996, 1, 1), 11),
    (datetime.date(1997, 7, 1), 12),
    (datetime.date(1999, 1, 1), 13),
    (datetime.date(2006, 1, 1), 14),
    (datetime.date(2009, 1, 1), 15),
    (datetime.date(2012, 7, 1), 16),
    (datetime.date(2015, 7, 1), 17),
    (datetime.date(2017, 1, 1), 18),
)
"""From 0:00 UTC of this day on, GPS time is so many seconds before UTC (TAI - UTC less 19 s)."""

KNOWN_UNTIL = datetime.date(2027, 6, 28)
"""No leap second comes before this day [IERS C]. Later dates assume none: a satellite moves 4 km in a second,
which turns its direction by 0.01 degrees."""
