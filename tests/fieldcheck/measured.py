"""Measured levels at 462.7 MHz: read, freed of the receivers' noise, held against a distance law.

The weakest levels of a receiver are its noise. A level is taken as heard when it lies `OVER_FLOOR_DB` over
the second percentile of its receiver and day; below that it counts as "no more than this", in a censored fit
[Tobin 1958, from memory], which stays unbiased wherever the limit lies.
"""

from __future__ import annotations

import csv
import gzip
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

FOLDER = Path(__file__).parents[1] / "data" / "measured"
FREQUENCY_MHZ = 462.7
OVER_FLOOR_DB = 8.0
FLOOR_PERCENTILE = 2.0
NEAREST_M = 50.0
"""Below this the antennas' patterns rule."""
HAND_M, RECEIVER_M = 1.5, 10.0
"""Assumed heights: neither is stated."""


@dataclass(frozen=True)
class Links:
    """Links of one receiver, (n,)."""

    receiver: int
    x_m: FloatArray
    """Of the transmitter, local."""
    y_m: FloatArray
    distance_m: FloatArray
    level_db: FloatArray
    """Uncalibrated."""
    limit_db: FloatArray
    """Below this a level counts as not heard."""
    second: NDArray[np.int64]

    @property
    def heard(self) -> BoolArray:
        return self.level_db >= self.limit_db

    def chosen(self, which: BoolArray) -> Links:
        return Links(
            self.receiver,
            *(a[which] for a in (self.x_m, self.y_m, self.distance_m, self.level_db, self.limit_db)),
            self.second[which],
        )


@dataclass(frozen=True)
class Law:
    """Level = at_1_km - slope log10(km) + normal error."""

    at_1_km_db: float
    slope_db: float
    sigma_db: float

    def at(self, distance_m: FloatArray) -> FloatArray:
        return np.asarray(self.at_1_km_db - self.slope_db * np.log10(distance_m / 1e3))


def read() -> list[Links]:
    """All receivers, in order."""
    from pyproj import Transformer

    with (FOLDER / "utah_462_7_receivers.csv").open() as lines:
        places = {int(r[0]): (float(r[1]), float(r[2])) for r in list(csv.reader(lines))[1:]}
    with gzip.open(FOLDER / "utah_462_7_links.csv.gz", "rt") as lines:
        rows = list(csv.reader(lines))[1:]
    seconds = np.array([r[0] for r in rows], dtype="datetime64[s]")
    latitude, longitude = (np.array([float(r[k]) for r in rows]) for k in (1, 2))
    receiver = np.array([int(r[3]) for r in rows])
    level = np.array([float(r[4]) for r in rows])
    centre = f"+proj=aeqd +lat_0={latitude.mean()} +lon_0={longitude.mean()} +datum=WGS84 +units=m"
    local = Transformer.from_crs("EPSG:4326", centre, always_xy=True)
    x, y = local.transform(longitude, latitude)
    day = seconds.astype("datetime64[D]")
    found = []
    for number, (at_latitude, at_longitude) in places.items():
        here = receiver == number
        rx, ry = local.transform(at_longitude, at_latitude)
        limit = np.zeros(int(here.sum()))
        for one in np.unique(day[here]):
            of_day = day[here] == one
            limit[of_day] = np.percentile(level[here][of_day], FLOOR_PERCENTILE) + OVER_FLOOR_DB
        distance = np.hypot(x[here] - rx, y[here] - ry)
        links = Links(number, x[here], y[here], distance, level[here], limit, seconds[here].astype(np.int64))
        found.append(links.chosen(links.distance_m >= NEAREST_M))
    return found


def fit_law(links: Links, shape_db: FloatArray | None = None) -> Law:
    """Censored maximum likelihood; with `shape_db` (n,) only the constant and the spread are fitted."""
    from scipy.optimize import minimize
    from scipy.special import log_ndtr

    log_km = np.log10(links.distance_m / 1e3)
    heard = links.heard

    def misfit(values: FloatArray) -> float:
        middle = values[0] - values[1] * log_km if shape_db is None else values[0] + shape_db
        sigma = math.exp(values[2])
        z = (links.level_db - middle) / sigma
        low = log_ndtr((links.limit_db - middle) / sigma)
        each = np.where(heard, -0.5 * z * z - values[2], low)
        return -float(each.mean())

    start = np.array([float(np.median(links.level_db)), 30.0, 2.0])
    if shape_db is not None:
        start[0] -= float(np.median(shape_db))
    best = minimize(
        misfit, start, method="Nelder-Mead", options={"maxiter": 4000, "xatol": 1e-4, "fatol": 1e-9}
    )
    at, slope, log_sigma = best.x
    return Law(float(at), float(slope) if shape_db is None else math.nan, math.exp(float(log_sigma)))


def smooth_loss_db(distance_m: FloatArray) -> FloatArray:
    """Free space or plane earth, whichever loses more, over the assumed heights."""
    from linkplan.propagation.free_space import free_space_loss_db
    from linkplan.propagation.plane_earth import plane_earth_loss_db

    km = distance_m / 1e3
    return np.maximum(free_space_loss_db(km, FREQUENCY_MHZ), plane_earth_loss_db(km, HAND_M, RECEIVER_M))


def enough_heard(links: Links) -> bool:
    """Is there more than noise to judge?"""
    return links.level_db.size >= 2000 and float(links.heard.mean()) >= 0.2


def clear_residuals(links: Links) -> tuple[BoolArray, FloatArray]:
    """Links that the law puts half a sigma over the limit and that were heard, and their residuals, dB.

    The few that were too weak there are missing, so the spread of these comes out a little small.
    """
    law = fit_law(links)
    middle = law.at(links.distance_m)
    clear = links.heard & (middle >= links.limit_db + 0.5 * law.sigma_db)
    return clear, (links.level_db - middle)[clear]


LAG_EDGES_M = np.array([0.0, 10, 25, 50, 75, 100, 150, 200, 300, 400, 500, 700])


def variogram(receivers: list[Links], most: int = 1500, seed: int = 1) -> FloatArray:
    """Half the mean squared difference of residuals over their variance, by lag, receivers pooled."""
    rng = np.random.default_rng(seed)
    half_squares, pairs = np.zeros(LAG_EDGES_M.size - 1), np.zeros(LAG_EDGES_M.size - 1)
    for links in receivers:
        clear, residual = clear_residuals(links)
        some = rng.permutation(residual.size)[:most]
        x, y, r = links.x_m[clear][some], links.y_m[clear][some], residual[some]
        a, b = np.triu_indices(some.size, 1)
        lag = np.hypot(x[a] - x[b], y[a] - y[b])
        kind = np.searchsorted(LAG_EDGES_M, lag, side="right") - 1
        near = kind < pairs.size
        square = 0.5 * (r[a] - r[b])[near] ** 2 / r.var()
        half_squares += np.bincount(kind[near], square, pairs.size)
        pairs += np.bincount(kind[near], minlength=pairs.size)
    return np.asarray(half_squares / pairs)


def fit_variogram(gamma: FloatArray) -> tuple[float, float, float]:
    """Share of the scatter between neighbours, sill, and distance of exp(-d / distance), m."""
    from scipy.optimize import curve_fit

    middle = 0.5 * (LAG_EDGES_M[:-1] + LAG_EDGES_M[1:])

    def model(lag: FloatArray, nugget: float, rise: float, distance: float) -> FloatArray:
        return np.asarray(nugget + rise * (1.0 - np.exp(-lag / distance)))

    (nugget, rise, distance), _ = curve_fit(model, middle, gamma, p0=(0.4, 0.6, 100.0))
    return float(nugget / (nugget + rise)), float(nugget + rise), float(distance)


def likeness_of_receivers(receivers: list[Links], fewest: int = 200) -> FloatArray:
    """Correlation of the residuals of two receivers that heard the same transmission, pair by pair."""
    found = {}
    for links in receivers:
        clear, residual = clear_residuals(links)
        found[links.receiver] = (links.second[clear], residual)
    numbers = sorted(found)
    out = []
    for i, first in enumerate(numbers):
        for second in numbers[:i]:
            _, a, b = np.intersect1d(found[first][0], found[second][0], return_indices=True)
            if a.size >= fewest:
                out.append(np.corrcoef(found[first][1][a], found[second][1][b])[0, 1])
    return np.array(out)


@dataclass(frozen=True)
class Halves:
    """One receiver as the base: what other ground gave as its constant, and the ground left to judge."""

    links: Links
    predicted_db: FloatArray
    """By the smooth earth and the constant of the other half."""

    @property
    def margin_db(self) -> FloatArray:
        return np.asarray(self.predicted_db - self.links.limit_db)


def halves(links: Links, side_m: float = 600.0) -> Halves:
    """The constant from the black squares of a chessboard, the white ones to judge."""
    black = (np.floor(links.x_m / side_m) + np.floor(links.y_m / side_m)) % 2 == 0
    shape = -smooth_loss_db(links.distance_m)
    constant = fit_law(links.chosen(black), shape[black]).at_1_km_db
    return Halves(links.chosen(~black), constant + shape[~black])
