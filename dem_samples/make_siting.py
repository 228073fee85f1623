"""Make the layers of the quarry's search for a base: places, ground, zones and what rules a place out.

    python -m dem_samples.make_siting

All of it is invented: computed from the quarry of make_site.py and the numbers below, in metres east and
north of the middle of its raster.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from dem_samples import make_site as site
from dem_samples.make_site import (
    CONTROL,
    DUMP_CENTRE,
    EPSG,
    PIT_CENTRE,
    PIT_RADII_M,
    PLANT_CENTRE,
    POND_CENTRE,
)

FILE = Path(__file__).parent / "quarry_siting.gpkg"
MIDDLE = (site.WEST + site.COLUMNS * site.CELL_M / 2.0, site.NORTH - site.ROWS * site.CELL_M / 2.0)

PLACES = [
    ("rim north", -60.0, 172.0),
    ("rim north-west", -290.0, 128.0),
    ("rim east", 375.0, -25.0),
    ("rim south-west", -345.0, -345.0),
    ("rim south-east", 235.0, -340.0),
    ("upper bench west", -392.0, -130.0),
    ("third bench south", -60.0, -335.0),
    ("conveyor head", 345.0, -52.0),
    ("yard gate", 445.0, -60.0),
    ("pond bank", 560.0, 188.0),
    ("ridge clearing", -230.0, 715.0),
    ("dump foot", 869.0, -593.0),
    ("corner stake", 808.0, -697.0),
]
"""Name, metres east and north."""

BLASTING = [(-420, -40), (-300, 165), (-160, 195), (-120, 120), (-200, 20), (-340, -80)]
CONVEYOR = [(150, -70), (345, -50), (470, -135)]
CONVEYOR_HALF_WIDTH_M, POND_BANK_M, RAMP_HEAD_RADIUS_M = 15.0, 20.0, 82.0
OVERHEAD = [(1060, -330), (640, -960)]
RIDGE_TRACK = [(-500, 20), (-560, 150), (-640, 240), (-690, 340)]
YARD_TRACK = [(400, -190), (440, -90), (600, -80), (560, 60), (375, 40)]
DUMP_TRACK = [(620, -480), (600, -530), (660, -590)]
RING_TRACK_M = 70.0
"""Outside the pit's rim."""
GUIDED_STRIP = [(-290, -250), (-215, -305), (-90, -325), (-90, -290), (-200, -270), (-265, -225)]
RIM_BAND_M = (14.0, 65.0)
"""Outside the pit's rim."""
BENCH_M = (-52.0, -33.0)
YARD_RADIUS_M, DUMP_TOP_RADIUS_M = 105.0, 70.0
BUILDINGS = (450.0, -210.0, 610.0, -90.0)
"""West, south, east, north of all of them."""
FENCE_OUTSIDE_RIM_M, FENCE_BESIDE_ROAD_M, FENCE_AROUND_RIDGE_POINT_M = 110.0, 50.0, 12.0


def moved(shape: Any) -> Any:
    """From metres around the middle to the job's coordinates, in whole centimetres."""
    import shapely

    placed = shapely.transform(shape, lambda points: points + np.array(MIDDLE))
    return shapely.set_precision(placed, 0.01)


def oval(centre: tuple[float, float], half_east_m: float, half_north_m: float) -> Any:
    """An ellipse of 48 corners."""
    import shapely

    turn = np.linspace(0.0, 2.0 * np.pi, 48, endpoint=False)
    return shapely.Polygon(
        np.column_stack([centre[0] + half_east_m * np.cos(turn), centre[1] + half_north_m * np.sin(turn)])
    )


def rim() -> Any:
    """The pit's rim as make_site.pit_inward has it."""
    import shapely

    turn = np.linspace(0.0, 2.0 * np.pi, 90, endpoint=False)
    wobble = 1.0 + 0.06 * np.sin(3.0 * turn + 0.8) + 0.04 * np.sin(5.0 * turn - 0.4)
    east = PIT_CENTRE[0] + PIT_RADII_M[0] * wobble * np.cos(turn)
    north = PIT_CENTRE[1] + PIT_RADII_M[1] * wobble * np.sin(turn)
    return shapely.Polygon(np.column_stack([east, north]))


def band(inner_m: float, outer_m: float) -> Any:
    """Between two distances from the rim, outward positive."""
    return rim().buffer(outer_m).difference(rim().buffer(inner_m))


def layers() -> dict[str, dict[str, Any]]:
    """Names and shapes of each layer, around the middle."""
    import shapely

    haul = shapely.union_all([shapely.LineString(site.ramp_line()), shapely.LineString(site.road_line())])
    dump = oval(DUMP_CENTRE, 200.0, 150.0)
    yard = oval(PLANT_CENTRE, YARD_RADIUS_M * 1.3, YARD_RADIUS_M)
    pond = oval(POND_CENTRE, 85.0, 50.0).buffer(POND_BANK_M)
    known = {name: shapely.Point(x, y) for name, x, y, *_ in CONTROL}
    premises = shapely.union_all(
        [rim().buffer(FENCE_OUTSIDE_RIM_M), haul.buffer(FENCE_BESIDE_ROAD_M), dump, yard]
    )
    ridge = known["Q1"].buffer(FENCE_AROUND_RIDGE_POINT_M, cap_style="square")
    conveyor = shapely.LineString(CONVEYOR).buffer(CONVEYOR_HALF_WIDTH_M, cap_style="flat")
    return {
        "places": {name: shapely.Point(x, y) for name, x, y in PLACES},
        "base_ground": {
            "rim": band(*RIM_BAND_M),
            "second bench, west side": band(*BENCH_M).intersection(shapely.box(-600, -300, -60, 0)),
            "yard": yard.difference(shapely.box(*BUILDINGS)),
            "top of the dump": oval(DUMP_CENTRE, DUMP_TOP_RADIUS_M * 1.35, DUMP_TOP_RADIUS_M),
        },
        "haul_road": {"haul road": haul.buffer(site.ROAD_HALF_WIDTH_M)},
        "guided_strip": {"strip of the guided dozer": shapely.Polygon(GUIDED_STRIP)},
        "keep_out": {
            "pond and its bank": pond,
            "blasting area": shapely.Polygon(BLASTING),
            "conveyor": conveyor,
            "trucks waiting at the head of the ramp": shapely.Point(site.ramp_line()[0]).buffer(
                RAMP_HEAD_RADIUS_M
            ),
        },
        "overhead_line": {"110 kV line": shapely.LineString(OVERHEAD)},
        "tracks": {
            "haul road": haul,
            "ring track": shapely.LineString(rim().buffer(RING_TRACK_M).exterior),
            "track to the ridge": shapely.LineString(RIDGE_TRACK),
            "yard": shapely.LineString(YARD_TRACK),
            "up the dump": shapely.LineString(DUMP_TRACK),
            "around the dump": shapely.LineString(dump.exterior),
        },
        "fenced": {"premises": premises, "around Q1": ridge},
    }


def main(target: Path = FILE) -> None:
    """Write the GeoPackage."""
    import geopandas
    import pyogrio

    target.unlink(missing_ok=True)
    # the format keeps the time of writing; with this one the same data give the same file
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": "2025-01-01T00:00:00.000Z"})
    for layer, named in layers().items():
        shapes = [moved(shape.simplify(0.5)) for shape in named.values()]
        frame = geopandas.GeoDataFrame({"name": list(named)}, geometry=shapes, crs=EPSG)
        frame.to_file(target, layer=layer, driver="GPKG", SPATIAL_INDEX="NO")
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})


if __name__ == "__main__":
    main()
