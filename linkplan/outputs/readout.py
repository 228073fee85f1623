"""Formulas with which the map, without any library, turns a place on it into coordinates.

A cubic in both directions of the map, fitted to the exact transformation: over the size of a job its
error stays far under the pixel, and the fit tells what it is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkplan.outputs.regrid import Regrid, transformer
from linkplan.terrain.grid import TerrainGrid

_SIDE = 15


@dataclass(frozen=True)
class Fit:
    """Coefficients for easting, northing, local x and local y of a place."""

    coefficients: tuple[tuple[float, ...], ...]
    """Four rows of ten, in the order of `terms`."""
    largest_error: tuple[float, float, float, float]
    """Seen on points between those fitted; units of the job's coordinates, then m."""


def terms(u: NDArray[np.float64], v: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n, 10): 1, u, v and their products up to the third degree; u and v go from -1 to 1 over the map."""
    return np.stack([u**0, u, v, u * u, u * v, v * v, u**3, u * u * v, u * v * v, v**3], axis=-1)


def fit(grid: TerrainGrid, placed: Regrid) -> Fit:
    """Fit over the rectangle of `placed`, whose coordinate system is the map's."""
    move = transformer(grid.frame.local_crs.to_wkt(), placed.crs.to_wkt())
    west, south, east, north = placed.bounds

    def exact(u: NDArray[np.float64], v: NDArray[np.float64]) -> NDArray[np.float64]:
        x, y = move.transform(
            west + (u + 1) * (east - west) / 2, south + (v + 1) * (north - south) / 2, direction="INVERSE"
        )
        easting, northing = grid.frame.to_job(x, y)
        return np.stack([easting, northing, x, y], axis=-1)

    line = np.cos(np.linspace(0.0, np.pi, _SIDE))  # denser at the rim, where a polynomial strays
    u, v = (side.ravel() for side in np.meshgrid(line, line))
    solved, *_ = np.linalg.lstsq(terms(u, v), exact(u, v), rcond=None)
    between = np.linspace(-1.0, 1.0, 2 * _SIDE)
    u, v = (side.ravel() for side in np.meshgrid(between, between))
    error = np.abs(terms(u, v) @ solved - exact(u, v)).max(axis=0)
    rows = tuple(tuple(float(c) for c in row) for row in solved.T)
    return Fit(rows, (float(error[0]), float(error[1]), float(error[2]), float(error[3])))
