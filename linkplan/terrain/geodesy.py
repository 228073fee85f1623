"""Local metres around a base: azimuthal equidistant on the job's own ellipsoid.

Distances and azimuths from the base are exact; between two points within 20 km of it the error of a
distance stays under 0.05 % (measured in tests against the geodesic, far smaller).
"""

from __future__ import annotations

from dataclasses import dataclass

from pyproj import CRS


@dataclass(frozen=True)
class LocalFrame:
    """To be completed: see the contract."""

    job_crs: CRS
    local_crs: CRS
