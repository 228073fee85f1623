"""Opening elevation and class rasters: what a file says of itself, and errors as one clear line."""

from __future__ import annotations

import logging
import math
import os
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError, ProjError

from linkplan.errors import DemError
from linkplan.terrain.geodesy import horizontal_crs, transformer_between
from linkplan.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from affine import Affine

FloatArray = NDArray[np.float64]

CACHE_MB = 64
"""Block cache of the raster library: its own default is a share of the machine's memory."""

PACKED = (".zip", ".gz", ".bz2", ".xz", ".7z", ".rar", ".tar", ".tgz")
"""Endings of files in which rasters are sent, but not read here."""

UNIT_WORDS = {
    "metre": ("m", "metre", "metres", "meter", "meters"),
    "foot": ("ft", "foot", "feet", "international foot", "international feet"),
    "us-survey-foot": (
        "ftus", "ft_us", "ft us", "us-ft", "us_ft", "us ft", "us survey foot", "us survey feet",
        "us-survey-foot", "foot_us", "u.s. survey foot", "u.s. survey feet",
    ),
}  # fmt: skip
"""How rasters write the unit of their heights, in lower case; keys as in `units.METRES_PER_UNIT`."""


@dataclass(frozen=True)
class RasterFacts:
    """What one raster says of itself; no cell has been read."""

    path: Path
    crs: CRS
    """Horizontal part only."""
    transform: Affine
    """From (column, row) of a cell's upper left corner to coordinates of `crs`."""
    columns: int
    rows: int
    metres_per_unit: float
    unit_stated: bool
    height_datum: str | None
    """Name of the vertical coordinate system, or None."""
    bands: int


@contextmanager
def opened(path: Path, kind: str = "terrain file") -> Iterator[Any]:
    """A raster open for reading; what goes wrong on the way comes out as one DemError.

    Warnings and messages of the raster library stay inside: the cure for what they tell is an error or
    a note of ours. Writes nothing beside the file.
    """
    import rasterio
    from rasterio.errors import RasterioError

    if not path.exists():
        raise DemError(f"{kind} {path}: there is no such file")
    if path.is_dir():
        raise DemError(f"{kind} {path}: is a folder; name the raster file itself")
    if not os.access(path, os.R_OK):
        raise DemError(f"{kind} {path}: you are not allowed to read it")
    try:
        with warnings.catch_warnings(), quiet_environment():
            warnings.simplefilter("ignore")
            with rasterio.open(path) as dataset:
                yield dataset
    except RasterioError as error:
        reason = _first_line(error)
        if "not recognized" in reason:
            reason = "is not a raster that can be read, or its beginning is damaged"
            if path.suffix.lower() in PACKED:
                reason = "is packed; unpack it and name the raster itself"
        else:
            reason = f"cannot be read to its end; the file may be cut short or damaged ({reason})"
        raise DemError(f"{kind} {path}: {reason}") from error


@contextmanager
def quiet_environment() -> Iterator[None]:
    """The raster library with a small cache, whose messages reach neither log nor standard error."""
    import rasterio

    logger = logging.getLogger("rasterio")
    level = logger.level
    logger.setLevel(logging.CRITICAL + 1)
    try:
        # GEOTIFF: older files keep their vertical coordinate system to themselves unless asked.
        with rasterio.Env(GDAL_CACHEMAX=CACHE_MB, GTIFF_REPORT_COMPD_CS=True):
            yield
    finally:
        logger.setLevel(level)


def _first_line(error: BaseException) -> str:
    """The innermost reason of an error, one line, without a path."""
    while error.__cause__ is not None:
        error = error.__cause__
    text = str(error).strip().splitlines()
    return text[0] if text else type(error).__name__


def describe(path: Path, height_unit: str | None = None, kind: str = "terrain file") -> RasterFacts:
    """Read a raster's header; DemError where it cannot serve as a terrain or class raster.

    `height_unit` (a key of `METRES_PER_UNIT`) overrules what the file says of its heights.
    """
    with opened(path, kind) as dataset:
        crs = _crs_of(dataset, path, kind)
        _require_position(dataset.transform, path, kind)
        if np.issubdtype(np.dtype(dataset.dtypes[0]), np.complexfloating):
            raise DemError(f"{kind} {path}: holds complex numbers, not heights or classes")
        if kind == "terrain file" and dataset.colorinterp[0].name == "red":
            raise DemError(f"{kind} {path}: is a colour picture, not a raster of heights")
        metres, stated = _height_unit(dataset, crs, height_unit, path)
        return RasterFacts(
            path=path,
            crs=horizontal_crs(crs),
            transform=dataset.transform,
            columns=dataset.width,
            rows=dataset.height,
            metres_per_unit=metres,
            unit_stated=stated,
            height_datum=_datum_of(crs),
            bands=sum(band.name != "alpha" for band in dataset.colorinterp),
        )


def _require_position(affine: Affine, path: Path, kind: str) -> None:
    if affine.is_identity:
        raise DemError(f"{kind} {path}: has no position on the ground (no georeference)")
    if not (all(math.isfinite(part) for part in affine) and affine.determinant != 0.0):
        raise DemError(f"{kind} {path}: its georeference is damaged: its cells have no size on the ground")


def _crs_of(dataset: Any, path: Path, kind: str) -> CRS:
    if dataset.crs is None:
        raise DemError(
            f"{kind} {path}: states no coordinate system; write the right one into the file "
            "or into the .prj or .aux.xml file beside it"
        )
    try:
        crs = CRS.from_wkt(dataset.crs.to_wkt(version="WKT2_2019"))
    except CRSError as error:
        raise DemError(f"{kind} {path}: its coordinate system cannot be understood ({error})") from error
    flat = horizontal_crs(crs)
    if not (flat.is_projected or flat.is_geographic):
        raise DemError(
            f'{kind} {path}: its coordinate system "{crs.name}" does not serve: it is not tied to the earth, '
            "or has no easting and northing"
        )
    return crs


def _vertical_part(crs: CRS) -> CRS | None:
    return next((part for part in crs.sub_crs_list if part.is_vertical), None)


def _datum_of(crs: CRS) -> str | None:
    vertical = _vertical_part(crs)
    if vertical is not None:
        return str(vertical.name)
    if len(crs.axis_info) == 3 and crs.ellipsoid is not None:
        return f"ellipsoid {crs.ellipsoid.name}"
    return None


def _height_unit(dataset: Any, crs: CRS, wanted: str | None, path: Path) -> tuple[float, bool]:
    """Metres per unit of the raster's heights, and whether anybody stated it.

    The user's word comes first, then the vertical axis, then the band's unit; else metres.
    """
    if wanted is not None:
        return METRES_PER_UNIT[wanted], True
    vertical = _vertical_part(crs)
    if vertical is not None and vertical.axis_info:
        axis = vertical.axis_info[0]
        sign = -1.0 if axis.direction == "down" else 1.0
        return sign * axis.unit_conversion_factor, True
    stated = " ".join((dataset.units[0] or "").split())
    word = stated.lower()
    if not word:
        return 1.0, False
    for unit, words in UNIT_WORDS.items():
        if word in words:
            return METRES_PER_UNIT[unit], True
    raise DemError(
        f'terrain file {path}: its heights are in "{stated}", which is not known here; '
        f"set the height unit of the terrain to one of {', '.join(METRES_PER_UNIT)}"
    )


def alpha_band(dataset: Any) -> int | None:
    """Number of the band that marks missing cells with 0, or None.

    The library's own mask heeds it only where it is of 8 or 16 unsigned bits.
    """
    names = [band.name for band in dataset.colorinterp]
    return names.index("alpha") + 1 if "alpha" in names else None


@lru_cache(maxsize=256)
def cell_size_at(facts: RasterFacts, local_wkt: str) -> float:
    """Size of a raster's cell on the ground, m: the square root of its area at the raster's cell
    nearest to the origin of the local plane `local_wkt`."""
    column, row = (float(v[0]) for v in pixels_of(facts, local_wkt, np.zeros(1), np.zeros(1)))
    inside_column = min(max(column, 0.0), facts.columns - 1.0) if math.isfinite(column) else 0.0
    inside_row = min(max(row, 0.0), facts.rows - 1.0) if math.isfinite(row) else 0.0
    corner_column = inside_column + np.array([0.0, 1.0, 1.0, 0.0])
    corner_row = inside_row + np.array([0.0, 0.0, 1.0, 1.0])
    x, y = local_of(facts, local_wkt, corner_column, corner_row)
    # half the product of the diagonals: a cell that ends at a pole is a triangle
    area = 0.5 * ((x[2] - x[0]) * (y[3] - y[1]) - (x[3] - x[1]) * (y[2] - y[0]))
    return math.sqrt(abs(area))


def pixels_of(
    facts: RasterFacts, local_wkt: str, x_m: FloatArray, y_m: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Fractional column and row (0 = outer edge of the first) of points in the local plane.

    Longitudes count on across the 180th meridian, whichever way the raster counts them.
    """
    easting, northing = moved(local_wkt, facts.crs.to_wkt(), x_m, y_m)
    if facts.crs.is_geographic:
        half_turn = math.pi / facts.crs.axis_info[0].unit_conversion_factor
        middle = (facts.transform @ (0.5 * facts.columns, 0.5 * facts.rows))[0]
        with np.errstate(invalid="ignore"):  # no answer stays none
            beyond = np.floor((easting - middle + half_turn) / (2.0 * half_turn))
            easting = np.where(beyond == 0.0, easting, easting - beyond * 2.0 * half_turn)
    return applied(~facts.transform, easting, northing)


def local_of(
    facts: RasterFacts, local_wkt: str, column: FloatArray, row: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Local x, y in m of fractional columns and rows of a raster."""
    return moved(facts.crs.to_wkt(), local_wkt, *applied(facts.transform, column, row))


def moved(from_wkt: str, to_wkt: str, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Points from one coordinate system to another, just as the raster library moves its cells;
    infinite where there is no answer."""
    from rasterio._err import CPLE_BaseError
    from rasterio.warp import transform

    try:
        with quiet_environment():
            new_x, new_y = transform(from_wkt, to_wkt, x, y)
    except CPLE_BaseError:  # for some projections one point without an answer takes those of all others
        new_x, new_y = Transformer.from_crs(from_wkt, to_wkt, always_xy=True).transform(x, y)
    return np.asarray(new_x), np.asarray(new_y)


def require_way(crs: CRS, job_crs: CRS, path: Path, kind: str = "terrain file") -> None:
    """DemError where no point of `crs` can be brought into the job's system: another planet's, say."""
    try:
        transformer_between(crs, job_crs)
    except ProjError as error:
        raise DemError(
            f'{kind} {path}: no way is known from its coordinate system "{crs.name}" to the job\'s '
            f'"{job_crs.name}"'
        ) from error


def stepped(affine: Affine, column: int, row: int, block: int = 1) -> Affine:
    """The transform of a raster that starts at another cell and has cells of block x block old ones."""
    from affine import Affine

    return Affine(
        affine.a * block,
        affine.b * block,
        affine.a * column + affine.b * row + affine.c,
        affine.d * block,
        affine.e * block,
        affine.d * column + affine.e * row + affine.f,
    )


def applied(affine: Affine, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """An affine transform of arrays."""
    return affine.a * x + affine.b * y + affine.c, affine.d * x + affine.e * y + affine.f
