"""Invented field logs about the plain job: a rover's sentences at places in metres from the base."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache, reduce
from operator import xor

import numpy as np
from pyproj import Transformer

from linkplan.fieldcheck.observed import observe_stream
from linkplan.fieldcheck.observed_ground import Ground
from linkplan.fieldcheck.observed_rules import Rules
from linkplan.fieldcheck.observed_source import Observed
from linkplan.terrain.grid import TerrainGrid
from tests.coverage.conftest import EAST, JOB_CRS, NORTH, grid_of

STATION = 31
CELL_M = 20.0
RULES = Rules("31", 10.0, 1.0, 20.0, 4, unnamed_counts=False)


@cache
def small_grid(side: int = 101, cell_size_m: float = CELL_M) -> TerrainGrid:
    """Flat ground with the base in its middle: 1010 m either way."""
    return grid_of(np.zeros((side, side)), (side // 2, side // 2), cell_size_m)


@cache
def _ground() -> Ground:
    return Ground(small_grid())


def degrees(east_m: float, north_m: float) -> tuple[float, float]:
    """Longitude and latitude, by pyproj, of a place off the base along the job's own grid."""
    longitude, latitude = _to_wgs84().transform(EAST + east_m, NORTH + north_m)
    return longitude, latitude


@cache
def _to_wgs84() -> Transformer:
    return Transformer.from_crs(JOB_CRS, "EPSG:4326", always_xy=True)


def sentence(body: str) -> bytes:
    """With the checksum by its definition: the XOR of all characters."""
    raw = body.encode("ascii")
    return b"$%s*%02X\r\n" % (raw, reduce(xor, raw, 0))


def clock(time_s: float) -> str:
    """hhmmss.sss"""
    whole = int(time_s) % 86_400
    return f"{whole // 3600:02d}{whole // 60 % 60:02d}{whole % 60:02d}.{round(time_s % 1 * 1000):03d}"


def angle(value_deg: float, digits: int) -> str:
    """Degrees and minutes as NMEA 0183 writes them, to the tenth of a millimetre or so."""
    ten_millionths = round(abs(value_deg) * 60e7)
    whole, rest = divmod(ten_millionths, 60 * 10**7)
    return f"{whole:0{digits}d}{rest / 1e7:010.7f}"


def gga(
    time_s: float,
    east_m: float = 0.0,
    north_m: float = 0.0,
    *,
    quality: int = 4,
    age: str = "1.0",
    station: str = "0031",
) -> bytes:
    """One epoch."""
    longitude, latitude = degrees(east_m, north_m)
    return sentence(
        f"GNGGA,{clock(time_s)},{angle(latitude, 2)},N,{angle(longitude, 3)},E,{quality},18,0.7,302,M,45,M,"
        f"{age},{station}"
    )


def without(time_s: float, east_m: float = 0.0, north_m: float = 0.0) -> bytes:
    """An epoch without corrections."""
    return gga(time_s, east_m, north_m, quality=1, age="", station="")


def observed(
    *lines: bytes,
    rules: Rules = RULES,
    pieces: Sequence[bytes] | None = None,
    place: tuple[float, float] | None = None,
) -> Observed:
    """A file of these lines, read."""
    stream: Iterable[bytes] = [b"".join(lines)] if pieces is None else pieces
    return observe_stream("x", iter(stream), rules, _ground(), place)
