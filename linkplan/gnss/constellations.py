"""The constellations as their owners plan them, as orbits: typical, not for a date.

For planning without a file. The satellites stand as at each constellation's own epoch, laid upon the time
asked for: another date gives the same sky. Nothing of it says what is in view on a given day.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from linkplan.errors import RangeError
from linkplan.gnss.orbit_sets import TYPICAL, KeplerSet, Orbits
from linkplan.tables.constellations import CONSTELLATIONS, GPS_EXPANDED, SYSTEMS, Constellation, Plane


def typical_orbits(reference_s: float, systems: Iterable[str] = "GREC", *, expanded: bool = False) -> Orbits:
    """The planned constellations of systems by letter (G, R, E, C, J), standing so at `reference_s`.

    `expanded`: three slots of GPS hold two satellites each, as its standard allows (27 instead of 24).
    RangeError for another letter.
    """
    letters = tuple(dict.fromkeys(systems))
    for letter in letters:
        if letter not in CONSTELLATIONS:
            raise RangeError(f"{letter!r} is no satellite system: {', '.join(CONSTELLATIONS)} are")
    several = [one for letter in letters for one in CONSTELLATIONS[letter]]
    names = ", ".join(SYSTEMS[letter].name for letter in letters)
    return Orbits(
        source=f"constellations as planned ({names}): typical, not for a date",
        kind=TYPICAL,
        kepler=tuple(
            one
            for constellation in several
            for plane in constellation.planes
            for one in _plane(
                constellation,
                _expanded(plane) if expanded and constellation.system == "G" else plane,
                reference_s,
            )
        ),
    )


def _plane(constellation: Constellation, plane: Plane, reference_s: float) -> list[KeplerSet]:
    return [
        KeplerSet(
            satellite=f"{constellation.system}{slot}",
            reference_s=reference_s,
            healthy=True,
            root_semi_major_axis=math.sqrt(constellation.semi_major_axis_m),
            eccentricity=constellation.eccentricity,
            inclination_rad=math.radians(constellation.inclination_deg),
            node_rad=math.radians(plane.node_deg - constellation.greenwich_deg),
            perigee_rad=math.radians(constellation.perigee_deg),
            mean_anomaly_rad=math.radians(angle_deg - constellation.perigee_deg),
        )
        for slot, angle_deg in zip(plane.slots, plane.latitude_arguments_deg, strict=True)
    ]


def _expanded(plane: Plane) -> Plane:
    """A plane of GPS with the slots that may be shared."""
    pairs = [
        pair
        for slot, angle in zip(plane.slots, plane.latitude_arguments_deg, strict=True)
        for pair in GPS_EXPANDED.get(slot, ((slot, angle),))
    ]
    return Plane(tuple(slot for slot, _ in pairs), plane.node_deg, tuple(angle for _, angle in pairs))
