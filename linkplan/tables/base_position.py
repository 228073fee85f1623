"""How good the coordinates of a base are by the way they were come by: usual figures, for planning only."""

from __future__ import annotations

SATELLITE_HEIGHT_M = 20_200_000.0
"""Height of GPS satellites above ground, over which a wrong base point tilts the lines of sight [common
practice: 26 560 km of orbit less 6 371 km of earth, rounded; GLONASS is lower, Galileo and BeiDou higher]."""

AVERAGED_95_M = (
    (1.0, 5.0, 8.0),
    (60.0, 4.0, 7.0),
    (600.0, 3.0, 5.0),
    (3_600.0, 2.0, 4.0),
    (14_400.0, 1.5, 3.0),
    (86_400.0, 1.0, 2.0),
)
"""Seconds of averaging without corrections, and the error that 95 of 100 such positions stay within,
horizontal and vertical: code positions of several systems under an open sky [common practice, from memory].

Averaging takes away the noise of seconds; errors of orbits, clocks and air change over hours and stay. A
longer average than the last gains nothing here: the floor. Walls, trees and a disturbed ionosphere make all
of it worse."""

KNOWN_95_M = (0.02, 0.03)
"""The same of a point of the job's control, centring and height measurement included [common practice]."""

LONGEST_AVERAGE_S = 604_800.0
"""A week: nobody averages longer before work [common practice]."""
