"""Coverage as polygons, and the job's places, as GeoPackage and GeoJSON.

The GeoPackage is exact: outlines along the computed cells, in the job's coordinate system. The GeoJSON
is for sharing: RFC 7946 (WGS 84, longitude first), outlines rounded off by at most a cell.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from linkplan.coverage.results import CoverageMap, CoverageSummary
from linkplan.outputs.files import blame, replacing, write_file
from linkplan.outputs.shapes import ClassArea, Place, drawn_boundary, places
from linkplan.outputs.workable_words import WORKABLE_NAME, Work, reasons_in_words
from linkplan.plan.model import Plan
from linkplan.terrain.masks import polygons_of
from linkplan.workable import WORKABLE

if TYPE_CHECKING:
    from geopandas import GeoDataFrame
    from pyproj import CRS
    from shapely.geometry.base import BaseGeometry

Feature = tuple[dict[str, Any], Any]
"""Fields and a shapely geometry."""

FIXED_DATE = "1970-01-01T00:00:00Z"
"""Date of change inside a GeoPackage: the same result gives the same bytes."""


def write_geopackage(
    plan: Plan,
    coverage: CoverageMap,
    summary: CoverageSummary,
    areas: tuple[ClassArea, ...],
    path: Path,
    work: Work | None = None,
) -> Path:
    """Layers coverage, gaps, base, control, boundary in the job's coordinates, and workable where asked for.

    Raises OutputError.
    """
    frame = coverage.grid.frame
    layers = {"coverage": _areas(areas).set_crs(frame.local_crs).to_crs(frame.job_crs)}
    if work is not None:
        layers["workable"] = table_of(_workable(coverage, work), frame.local_crs).to_crs(frame.job_crs)
    for name, features in _features(plan, coverage, summary, plan.boundary).items():
        if features:
            layers[name] = table_of(features, frame.job_crs)
    return write_layers(layers, path)


def write_layers(layers: dict[str, GeoDataFrame], path: Path) -> Path:
    """Tables as the layers of a GeoPackage, whole or not at all. Raises OutputError."""
    with replacing(path) as place, _driver_settings():
        for name, table in layers.items():
            table.to_file(place, driver="GPKG", layer=name, engine="pyogrio", SPATIAL_INDEX="NO")
        _check(place, {name: len(table) for name, table in layers.items()})
    return path


def write_geojson(areas: tuple[ClassArea, ...], coverage: CoverageMap, path: Path) -> Path:
    """The class polygons as one RFC 7946 feature collection. Raises OutputError."""
    table = _areas(areas).set_crs(coverage.grid.frame.local_crs)
    return _to_geojson(table, path)


def write_places_geojson(plan: Plan, coverage: CoverageMap, summary: CoverageSummary, path: Path) -> Path:
    """Base, control points, gaps and boundary as one RFC 7946 feature collection. Raises OutputError."""
    frame = coverage.grid.frame
    boundary = frame.geometry_to_job(drawn_boundary(plan, coverage.grid))
    features = [
        ({"kind": kind, **fields}, geometry)
        for kind, some in _features(plan, coverage, summary, boundary).items()
        for fields, geometry in some
    ]
    return _to_geojson(table_of(features, frame.job_crs), path)


def _to_geojson(table: GeoDataFrame, path: Path) -> Path:
    # to memory first: the driver would go on in silence when a disk is full
    text = io.BytesIO()
    with blame(path):
        table.to_crs("EPSG:4326").to_file(
            text, driver="GeoJSON", layer=path.stem, engine="pyogrio", RFC7946="YES", COORDINATE_PRECISION=6
        )
    return write_file(path, text.getvalue())


def _workable(coverage: CoverageMap, work: Work) -> list[Feature]:
    """Workable ground and the reasons against it, along the computed cells inside the job."""
    found = work.found
    outside = -1
    index = np.where(found.inside, found.reason.astype(np.int16), outside)
    return [
        ({"reason": code, "name": WORKABLE_NAME if code == WORKABLE else reasons_in_words(code),
          "area_m2": float(outline.area), "sky_counted": found.sky_counted}, outline)
        for code, outline in polygons_of(coverage.grid, index)
        if code != outside
    ]  # fmt: skip


def _areas(areas: tuple[ClassArea, ...]) -> GeoDataFrame:
    names = ("name", "meaning", "chance_low", "chance_high", "area_m2")
    return table_of(
        [
            ({"class": area.index, **{name: getattr(area, name) for name in names}}, area.outline)
            for area in areas
        ]
    )


def _features(
    plan: Plan, coverage: CoverageMap, summary: CoverageSummary, boundary: BaseGeometry
) -> dict[str, list[Feature]]:
    """Fields and geometry, in the job's coordinates, of everything but the classes, by layer."""
    from shapely import Point

    spots = places(plan, coverage.grid, summary)

    def at(place: Place) -> Point:
        return Point(place.easting, place.northing)

    return {
        "gaps": [
            ({"number": gap.number, "what": gap.kind, "area_m2": gap.area_m2, "distance_m": gap.distance_m,
              "azimuth_deg": gap.azimuth_deg, "worst_margin_db": gap.worst_margin_db},
             Point(gap.easting, gap.northing))
            for gap in summary.gaps
        ],
        "base": [
            ({"name": place.name, "antenna_height_m": plan.base.antenna_height_m}, at(place))
            for place in spots
            if place.kind == "base"
        ],
        "control": [
            ({"name": place.name, "code": place.note}, at(place))
            for place in spots
            if place.kind == "control"
        ],
        "boundary": [({"name": plan.name, "area_m2": summary.job_area_m2}, boundary)],
    }  # fmt: skip


def table_of(features: list[Feature], crs: CRS | None = None) -> GeoDataFrame:
    """A table with a column for every field that any feature has."""
    import geopandas

    names = list(dict.fromkeys(name for fields, _ in features for name in fields))
    columns = {name: [fields.get(name) for fields, _ in features] for name in names}
    return geopandas.GeoDataFrame(columns, geometry=[geometry for _, geometry in features], crs=crs)


def _check(place: Path, wanted: dict[str, int]) -> None:
    """The driver may go on in silence when a disk is full: count what has arrived."""
    import pyogrio  # type: ignore[import-untyped]

    for name, count in wanted.items():
        found = pyogrio.read_info(place, layer=name, force_feature_count=True)["features"]
        if found != count:
            raise RuntimeError(f"{found} of {count} features of layer {name} were written")


@contextmanager
def _driver_settings() -> Iterator[None]:
    """A fixed date, and no waiting for the disk: the file is renamed into place only when it is whole."""
    import pyogrio

    wanted = {"OGR_CURRENT_DATE": FIXED_DATE, "OGR_SQLITE_SYNCHRONOUS": "OFF"}
    before = {name: pyogrio.get_gdal_config_option(name) for name in wanted}
    pyogrio.set_gdal_config_options(wanted)
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options(before)
