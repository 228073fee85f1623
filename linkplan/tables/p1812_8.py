"""Numbers of Recommendation ITU-R P.1812-8, once each [P.1812-8].

Coefficients that belong to one equation stand in that equation; here stand the numbers with a meaning
of their own: limits, zones, ground constants and the constants that several equations share.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

SOURCE: Final = "P.1812-8"

FREQUENCY_GHZ: Final = (0.03, 6.0)
"""Range of frequency, GHz."""
TIME_PERCENT: Final = (1.0, 50.0)
"""Range of the percentage of time for which the loss is not exceeded."""
LOCATION_PERCENT: Final = (1.0, 99.0)
"""Range of the percentage of locations."""
ANTENNA_HEIGHT_MAX_M: Final = 3000.0
"""Greatest antenna height above ground; heights start above 0."""
PATH_LENGTH_KM: Final = (0.25, 3000.0)
"""Range of the length of a path."""

WAVELENGTH_M_GHZ: Final = 0.2998
"""Speed of light as the Recommendation rounds it: wavelength in m = 0.2998 / f in GHz."""
FREE_SPACE_DB: Final = 92.4
"""Free-space loss at 1 GHz and 1 km as the Recommendation rounds it."""
FIELD_STRENGTH_1KW_DB: Final = 199.36
"""Field strength in dB(uV/m) for 1 kW e.r.p. is this + 20 log f(GHz) - loss."""

EARTH_RADIUS_KM: Final = 6371.0
"""Mean radius of the earth."""
REFRACTIVITY_GRADIENT_OF_EARTH: Final = 157.0
"""Gradient in N-units/km at which a ray follows the curve of the earth."""
BETA0_RADIUS_FACTOR: Final = 3.0
"""Effective earth radius factor exceeded for the time beta0."""

SEA, COASTAL_LAND, INLAND = 1, 3, 4
RADIO_CLIMATIC_ZONES: Final = (SEA, COASTAL_LAND, INLAND)
"""Codes of the radio-climatic zones."""


@dataclass(frozen=True)
class Ground:
    """Electrical constants of a surface."""

    relative_permittivity: float
    conductivity_s_m: float


LAND_GROUND: Final = Ground(22.0, 0.003)
SEA_GROUND: Final = Ground(80.0, 5.0)

NORMAL_C: Final = (2.515516698, 0.802853, 0.010328)
"""Numerator of the inverse normal approximation, ascending powers [P.1812-8, Attachment 2]."""
NORMAL_D: Final = (1.0, 1.432788, 0.189269, 0.001308)
"""Denominator of the inverse normal approximation, ascending powers [P.1812-8, Attachment 2]."""
NORMAL_LIMIT: Final = 1e-6
"""The approximation holds for probabilities from this to 1 minus this."""

LOCATION_SIGMA: Final = (0.52, 0.024, 0.28)
"""a, b, c of the location variability (a + b f_GHz) w^c dB, w in m [P.1812-8, section 4.8]."""
LOCATION_FADE_HEIGHT_M: Final = 10.0
"""Height over the clutter within which location variability falls to 0 [P.1812-8, section 4.10]."""
