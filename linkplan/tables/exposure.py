"""Limits of exposure to radio fields: power density averaged over the whole body and over time.

None of the two texts was read for this project: how each was reached stands with it. Local law may be
stricter and goes before them. Below 30 MHz other quantities count and nothing is given here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from linkplan.errors import RangeError

PUBLIC, WORKER = "public", "worker"
GROUPS = (PUBLIC, WORKER)
"""Who is exposed: anybody, or people who know of the field and can leave it (occupational, controlled)."""


@dataclass(frozen=True)
class Band:
    """Limits from one frequency to another: a constant and a part that grows with frequency."""

    low_mhz: float
    high_mhz: float
    public_w_m2: float
    public_w_m2_per_mhz: float
    worker_w_m2: float
    worker_w_m2_per_mhz: float


@dataclass(frozen=True)
class ExposureLimits:
    """One document's limits."""

    name: str
    source: str
    """Key of `sources.SOURCES`."""
    read: str
    """How the numbers were reached."""
    bands: tuple[Band, ...]
    """In ascending frequency, one beginning where the other ends."""
    public_averaging_min: float
    worker_averaging_min: float


LIMITS: Mapping[str, ExposureLimits] = {
    "icnirp-2020": ExposureLimits(
        name="ICNIRP 2020, whole body",
        source="ICNIRP 2020",
        read="from memory: f/200 and f/40 W/m2 above 400 MHz (f in MHz), the neighbouring bands and 30 min",
        bands=(
            Band(30.0, 400.0, 2.0, 0.0, 10.0, 0.0),
            Band(400.0, 2000.0, 0.0, 1.0 / 200.0, 0.0, 1.0 / 40.0),
            Band(2000.0, 6000.0, 10.0, 0.0, 50.0, 0.0),
        ),
        public_averaging_min=30.0,
        worker_averaging_min=30.0,
    ),
    "fcc-1.1310": ExposureLimits(
        name="47 CFR 1.1310, table 1",
        source="47 CFR 1.1310",
        read="f/1500 and f/300 mW/cm2 from 300 MHz (f in MHz) second-hand; the neighbouring bands and the "
        "averaging times from memory",
        bands=(
            Band(30.0, 300.0, 2.0, 0.0, 10.0, 0.0),
            # 1 mW/cm2 is 10 W/m2
            Band(300.0, 1500.0, 0.0, 10.0 / 1500.0, 0.0, 10.0 / 300.0),
            Band(1500.0, 6000.0, 10.0, 0.0, 50.0, 0.0),
        ),
        public_averaging_min=30.0,
        worker_averaging_min=6.0,
    ),
}
"""By the key that a job file gives; given for 30 to 6000 MHz, the frequencies of linkplan."""

REFLECTION_FACTOR = 2.56
"""What the ground's reflection may add to power density, usually: 1.6 times the field [OET 65]."""

FULL_REFLECTION_FACTOR = 4.0
"""The same for a ground that reflects everything: twice the field [OET 65]."""

HEAD_HEIGHT_M = 2.0
"""People reach from the ground up to here [common practice]."""


def limits_of(key: str) -> ExposureLimits:
    """The limits of a key of `LIMITS`; RangeError for any other."""
    if key not in LIMITS:
        raise RangeError(f"exposure limits {key!r} are not one of {', '.join(LIMITS)}")
    return LIMITS[key]
