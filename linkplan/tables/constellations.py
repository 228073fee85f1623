"""Satellite systems: constants that orbits are computed with, and constellations as their owners plan them.

No document was at hand: everything here is from memory of the documents named, and marked so. The constants
agree with those of open implementations, through which tests hold the positions; the slots of GPS agree with
the spacing of its planes, which comes in pairs. Real satellites are moved about within their slots, added and
lost: a constellation of this table is typical and holds for no date.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class System:
    """What one system's orbits are computed with."""

    name: str
    gravity_m3_s2: float
    """Earth's gravitational constant times its mass."""
    earth_rate_rad_s: float
    source: str


SYSTEMS = {
    "G": System("GPS", 3.986005e14, 7.2921151467e-5, "IS-GPS-200"),
    "R": System("GLONASS", 3.986004418e14, 7.292115e-5, "GLONASS ICD"),
    "E": System("Galileo", 3.986004418e14, 7.2921151467e-5, "Galileo OS"),
    "C": System("BeiDou", 3.986004418e14, 7.2921150e-5, "BDS ICD"),
    "J": System("QZSS", 3.986005e14, 7.2921151467e-5, "IS-QZSS-PNT"),
}
"""By letter in RINEX."""

GLONASS_EARTH_RADIUS_M = 6_378_136.0
GLONASS_J2 = 1.0826257e-3
"""Equatorial radius and second zonal harmonic of PZ-90.02 [GLONASS ICD]."""

BEIDOU_GEOSTATIONARY = frozenset({1, 2, 3, 4, 5, 59, 60, 61, 62, 63})
"""Numbers of geostationary satellites [BDS ICD]."""
BEIDOU_TILT_DEG = -5.0
"""Turn about the x axis of the frame that their ephemerides stand in [BDS ICD]."""

WGS84_A_M = 6_378_137.0
WGS84_F = 1.0 / 298.257223563
"""Semi-major axis and flattening, exact by definition."""


@dataclass(frozen=True)
class Plane:
    """One orbital plane of a typical constellation, circular unless it says otherwise."""

    slots: tuple[str, ...]
    node_deg: float
    """Right ascension of the ascending node."""
    latitude_arguments_deg: tuple[float, ...]
    """Mean angle from the ascending node (perigee plus mean anomaly) of each slot at the epoch."""


@dataclass(frozen=True)
class Constellation:
    """A constellation as planned."""

    system: str
    semi_major_axis_m: float
    inclination_deg: float
    greenwich_deg: float
    """Right ascension of Greenwich at the epoch: turns `node_deg` into longitudes."""
    planes: tuple[Plane, ...]
    source: str
    eccentricity: float = 0.0
    perigee_deg: float = 0.0

    @property
    def size(self) -> int:
        """Satellites in it."""
        return sum(len(plane.slots) for plane in self.planes)


def _walker(letters: str, each: int, node_deg: float, first_deg: float, step_deg: float) -> tuple[Plane, ...]:
    """Planes evenly round the equator, slots evenly round a plane, planes `step_deg` apart."""
    return tuple(
        Plane(
            tuple(f"{letter}{slot + 1}" for slot in range(each)),
            (node_deg + 360.0 / len(letters) * number) % 360.0,
            tuple((first_deg + step_deg * number + 360.0 / each * slot) % 360.0 for slot in range(each)),
        )
        for number, letter in enumerate(letters)
    )


GPS = Constellation(
    "G", 26_559_700.0, 55.0, 279.06,
    (
        Plane(("A1", "A2", "A3", "A4"), 272.847, (268.126, 161.786, 11.676, 41.806)),
        Plane(("B1", "B2", "B3", "B4"), 332.847, (80.956, 173.336, 309.976, 204.376)),
        Plane(("C1", "C2", "C3", "C4"), 32.847, (111.876, 11.796, 339.666, 241.556)),
        Plane(("D1", "D2", "D3", "D4"), 92.847, (135.226, 265.446, 35.156, 167.356)),
        Plane(("E1", "E2", "E3", "E4"), 152.847, (197.046, 302.596, 66.066, 333.686)),
        Plane(("F1", "F2", "F3", "F4"), 212.847, (238.886, 345.226, 105.206, 135.346)),
    ),
    "SPS PS, from memory: 24 slots at 0:00 of 1 July 1993",
)  # fmt: skip
"""Greenwich at 18 h 36 min 14.4 s."""

GPS_EXPANDED = {
    "B1": (("B1F", 94.916), ("B1A", 66.356)),
    "D2": (("D2F", 282.676), ("D2A", 257.976)),
    "F2": (("F2F", 0.456), ("F2A", 334.016)),
}
"""Slots that two satellites may share, fore and aft: what stands for each [SPS PS, from memory]."""

GLONASS = Constellation(
    "R", 25_508_000.0, 64.8, 0.0,
    _walker("123", 8, 0.0, 0.0, 15.0),
    "GLONASS ICD, from memory: Walker 24/3/1, one turn in 11 h 15 min 44 s; where it stands is arbitrary",
)  # fmt: skip

GALILEO = Constellation(
    "E", 29_599_800.0, 56.0, 0.0,
    _walker("ABC", 8, 40.0, 5.0, 15.0),
    "Galileo OS, from memory: Walker 24/3/1; where it stands is arbitrary",
)  # fmt: skip

BEIDOU_MEDIUM = Constellation(
    "C", 27_906_100.0, 55.0, 0.0,
    _walker("ABC", 8, 80.0, 10.0, 15.0),
    "BDS ICD, from memory: Walker 24/3/1; where it stands is arbitrary",
)  # fmt: skip

SYNCHRONOUS_AXIS_M = 42_164_170.0
"""Semi-major axis of one turn a sidereal day: (gravity / earth rate^2)^(1/3)."""

BEIDOU_INCLINED = Constellation(
    "C", SYNCHRONOUS_AXIS_M, 55.0, 0.0,
    tuple(Plane((f"I{n + 1}",), 118.0 + 120.0 * n, (-120.0 * n,)) for n in range(3)),
    "BDS ICD, from memory: three inclined satellites that cross the equator at 118 E",
)  # fmt: skip

BEIDOU_GEO = Constellation(
    "C", SYNCHRONOUS_AXIS_M, 0.0, 0.0,
    (Plane(("G1", "G2", "G3"), 0.0, (80.0, 110.5, 140.0)),),
    "BDS ICD, from memory: three geostationary satellites at 80, 110.5 and 140 E",
)  # fmt: skip

QZSS_INCLINED = Constellation(
    "J", SYNCHRONOUS_AXIS_M, 43.0, 0.0,
    tuple(Plane((f"Q{n + 1}",), 225.0 + 120.0 * n, (270.0 - 120.0 * n,)) for n in range(3)),
    "IS-QZSS-PNT, from memory: three satellites on a figure of eight around 135 E, apogee in the north",
    eccentricity=0.075, perigee_deg=270.0,
)  # fmt: skip

QZSS_GEO = Constellation(
    "J", SYNCHRONOUS_AXIS_M, 0.0, 0.0,
    (Plane(("G1",), 0.0, (127.0,)),),
    "IS-QZSS-PNT, from memory: one geostationary satellite at 127 E",
)  # fmt: skip

CONSTELLATIONS = {
    "G": (GPS,),
    "R": (GLONASS,),
    "E": (GALILEO,),
    "C": (BEIDOU_MEDIUM, BEIDOU_INCLINED, BEIDOU_GEO),
    "J": (QZSS_INCLINED, QZSS_GEO),
}
