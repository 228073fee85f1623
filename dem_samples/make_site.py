"""Make the invented quarry site: terrain, clutter classes, boundary and control points.

    python dem_samples/make_site.py [FOLDER]

Everything is computed from the numbers below and one seed; nothing is measured. The coordinates lie in
the open sea, so that nobody takes the site for a real one.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Field = NDArray[np.float64]

SEED = 20240611
CELL_M = 5.0
COLUMNS, ROWS = 540, 500
WEST, NORTH = 498_650.0, 5_301_250.0
EPSG = 32628

OPEN, SCRUB, TREES, BUILDING = 1, 2, 3, 4
CLASS_NODATA = 0
HEIGHT_STEP_M = 0.01
HEIGHT_NODATA = -32768

PIT_CENTRE = (-60.0, -130.0)
PIT_RADII_M = (390.0, 270.0)
BENCH_HEIGHT_M, BENCH_WIDTH_M, FACE_WIDTH_M, BENCHES = 12.0, 19.0, 7.0, 5
ROAD_HALF_WIDTH_M = 11.0
DUMP_CENTRE = (640.0, -560.0)
POND_CENTRE = (560.0, 130.0)
PLANT_CENTRE = (520.0, -150.0)

BOUNDARY = [
    (-640, -120), (-560, 190), (-250, 330), (120, 300), (400, 250), (700, 200), (820, -60),
    (900, -420), (830, -740), (560, -800), (330, -640), (-80, -560), (-430, -500), (-620, -330),
]  # fmt: skip
"""Corners in metres east and north of the middle of the raster."""

CONTROL = [
    ("Q1", -697.0, 358.0, 0.04, "hub"),
    ("Q2", -70.0, -120.0, -0.32, "nail"),
    ("Q3", 620.0, -95.0, 0.11, "rebar"),
    ("Q4", 640.0, -560.0, 0.46, "hub"),
    ("Q5", -560.0, -235.0, -0.07, "rebar"),
    ("Q6", 60.0, 240.0, 0.02, "hub"),
    ("Q7", -18.0, -422.0, 0.09, "rebar"),
]
"""Name, metres east and north of the middle, stated height minus the terrain's in m, code."""


def axes() -> tuple[Field, Field]:
    """Metres east and north of the raster's middle at each cell's centre."""
    x = (np.arange(COLUMNS) - (COLUMNS - 1) / 2.0) * CELL_M
    y = ((ROWS - 1) / 2.0 - np.arange(ROWS)) * CELL_M
    east, north = np.meshgrid(x, y)
    return east, north


def rolling(rng: np.random.Generator, shortest_m: float, longest_m: float, exponent: float) -> Field:
    """A random surface of standard deviation 1 with waves between two lengths."""
    white = np.fft.rfft2(rng.standard_normal((ROWS, COLUMNS)))
    waves = np.hypot(np.fft.fftfreq(ROWS, CELL_M)[:, None], np.fft.rfftfreq(COLUMNS, CELL_M)[None, :])
    keep = (waves >= 1.0 / longest_m) & (waves <= 1.0 / shortest_m)
    weight = np.where(keep, np.where(keep, waves, 1.0) ** -exponent, 0.0)
    surface = np.fft.irfft2(white * weight, s=(ROWS, COLUMNS))
    return np.asarray(surface / surface.std())


def smooth_step(value: Field) -> Field:
    """0 below 0, 1 above 1, and an S in between."""
    t = np.clip(value, 0.0, 1.0)
    return t * t * (3.0 - 2.0 * t)


def distance_to_line(east: Field, north: Field, line: list[tuple[float, float]]) -> tuple[Field, Field]:
    """Distance to a polyline, and how far along it the nearest point lies, 0 to 1."""
    points = np.array(line)
    lengths = np.hypot(*np.diff(points, axis=0).T)
    start = np.concatenate([[0.0], np.cumsum(lengths)])
    nearest, along = np.full(east.shape, np.inf), np.zeros(east.shape)
    for (x0, y0), (x1, y1), length, before in zip(points, points[1:], lengths, start, strict=False):
        share = ((east - x0) * (x1 - x0) + (north - y0) * (y1 - y0)) / length**2
        share = np.clip(share, 0.0, 1.0)
        distance = np.hypot(east - x0 - share * (x1 - x0), north - y0 - share * (y1 - y0))
        closer = distance < nearest
        nearest[closer] = distance[closer]
        along[closer] = ((before + share * length) / start[-1])[closer]
    return nearest, along


def open_ground(rng: np.random.Generator, east: Field, north: Field) -> Field:
    """Rolling ground that falls to the south-east, with a winding ridge in the north-west."""
    ground = 236.0 + 0.014 * (north - east) + 6.5 * rolling(rng, 350.0, 2200.0, 1.6)
    ground += 0.7 * rolling(rng, 40.0, 350.0, 1.4)
    crest = [
        (-1300.0, -60.0),
        (-900.0, 260.0),
        (-560.0, 470.0),
        (-200.0, 640.0),
        (180.0, 900.0),
        (420.0, 1300.0),
    ]
    distance, along = distance_to_line(east, north, crest)
    top = 44.0 + 7.0 * np.sin(9.0 * along + 0.6) + 3.0 * np.sin(23.0 * along)
    ridge = top * np.exp(-((distance / 165.0) ** 1.7))
    gullies = 1.0 + 0.13 * rolling(rng, 70.0, 260.0, 1.0) * smooth_step(distance / 120.0)
    return ground + ridge * gullies


def pit_inward(east: Field, north: Field) -> Field:
    """Metres inside the pit's rim (negative outside), for a wobbling oval."""
    x, y = (east - PIT_CENTRE[0]) / PIT_RADII_M[0], (north - PIT_CENTRE[1]) / PIT_RADII_M[1]
    angle = np.arctan2(y, x)
    wobble = 1.0 + 0.06 * np.sin(3.0 * angle + 0.8) + 0.04 * np.sin(5.0 * angle - 0.4)
    radius = np.hypot(x, y)
    scale = np.hypot(east - PIT_CENTRE[0], north - PIT_CENTRE[1]) / np.maximum(radius, 1e-9)
    return (wobble - radius) * scale


def with_pit(ground: Field, east: Field, north: Field) -> Field:
    """Cut the benched pit and a ramp that winds down its wall to the floor."""
    inward = pit_inward(east, north)
    rim = 238.0
    step = BENCH_WIDTH_M + FACE_WIDTH_M
    bench = np.floor(inward / step)
    face = smooth_step((inward - bench * step) / FACE_WIDTH_M)
    depth = BENCH_HEIGHT_M * np.clip(bench + face, 0.0, BENCHES)
    blend = smooth_step((inward + 90.0) / 90.0)
    shaped = ground * (1.0 - blend) + rim * blend
    cut = np.where(inward > 0.0, shaped - depth, shaped)
    return with_ramp(cut, east, north, rim)


def ramp_line() -> list[tuple[float, float]]:
    """The ramp's middle line: round the pit from its east side, ever closer to the floor."""
    turn = np.linspace(-0.12, -1.78 * np.pi, 90)
    share = np.linspace(0.0, 1.0, 90)
    inner = 1.0 - 0.03 - 0.42 * share
    wobble = 1.0 + 0.06 * np.sin(3.0 * turn + 0.8) + 0.04 * np.sin(5.0 * turn - 0.4)
    x = PIT_CENTRE[0] + PIT_RADII_M[0] * inner * wobble * np.cos(turn)
    y = PIT_CENTRE[1] + PIT_RADII_M[1] * inner * wobble * np.sin(turn)
    return list(zip(x.tolist(), y.tolist(), strict=True))


def with_ramp(ground: Field, east: Field, north: Field, rim_m: float) -> Field:
    """Lay the ramp into the wall; it falls evenly from the rim to the floor."""
    distance, along = distance_to_line(east, north, ramp_line())
    height = rim_m - BENCH_HEIGHT_M * BENCHES * along
    weight = 1.0 - smooth_step((distance - ROAD_HALF_WIDTH_M) / 9.0)
    return ground * (1.0 - weight) + height * weight


def road_line() -> list[tuple[float, float]]:
    """The haul road from the head of the ramp past the plant to the dump."""
    return [ramp_line()[0], (400.0, -190.0), (500.0, -250.0), (580.0, -360.0), (620.0, -480.0)]


def with_road(ground: Field, east: Field, north: Field) -> Field:
    """Grade the haul road: evenly between the heights at its two ends."""
    distance, along = distance_to_line(east, north, road_line())
    ends = [float(at(ground, x, y)) for x, y in (road_line()[0], road_line()[-1])]
    height = ends[0] + (ends[1] - ends[0]) * along
    weight = 1.0 - smooth_step((distance - ROAD_HALF_WIDTH_M) / 14.0)
    return ground * (1.0 - weight) + height * weight


def with_dump_and_pad(ground: Field, east: Field, north: Field) -> Field:
    """Heap the waste dump in two lifts, and level the plant's yard."""
    x, y = (east - DUMP_CENTRE[0]) / 1.35, north - DUMP_CENTRE[1]
    angle = np.arctan2(y, x)
    out = np.hypot(x, y) / (1.0 + 0.07 * np.sin(2.0 * angle) + 0.05 * np.sin(5.0 * angle + 1.0))
    heap = 11.0 * (1.0 - smooth_step((out - 118.0) / 22.0)) + 9.0 * (1.0 - smooth_step((out - 66.0) / 20.0))
    pad = 1.0 - smooth_step((np.hypot((east - PLANT_CENTRE[0]) / 1.3, north - PLANT_CENTRE[1]) - 75.0) / 45.0)
    level = float(at(ground, *PLANT_CENTRE))
    return np.asarray((ground * (1.0 - pad) + level * pad) + heap)


def at(surface: Field, x: float, y: float) -> float:
    """Value of the cell that holds a point given in metres from the middle."""
    row = round((ROWS - 1) / 2.0 - y / CELL_M)
    column = round((COLUMNS - 1) / 2.0 + x / CELL_M)
    return float(surface[row, column])


def pond(east: Field, north: Field) -> NDArray[np.bool_]:
    """Where the survey found water instead of ground: missing data."""
    x, y = (east - POND_CENTRE[0]) / 75.0, (north - POND_CENTRE[1]) / 45.0
    angle = np.arctan2(y, x)
    return np.asarray(np.hypot(x, y) < 1.0 + 0.12 * np.sin(3.0 * angle) + 0.07 * np.sin(4.0 * angle + 2.0))


def terrain() -> tuple[Field, NDArray[np.uint8]]:
    """Heights in m (NaN on the pond) and clutter classes."""
    rng = np.random.default_rng(SEED)
    east, north = axes()
    ground = open_ground(rng, east, north)
    ground = with_pit(ground, east, north)
    ground = with_dump_and_pad(ground, east, north)
    ground = with_road(ground, east, north)
    classes = clutter(rng, east, north)
    ground[pond(east, north)] = np.nan
    return ground, classes


def clutter(rng: np.random.Generator, east: Field, north: Field) -> NDArray[np.uint8]:
    """Woods on the ridge's flanks, tree belts between fields, scrub, and the plant's buildings."""
    classes = np.full(east.shape, OPEN, dtype=np.uint8)
    classes[rolling(rng, 60.0, 500.0, 1.2) > 1.15] = SCRUB
    crest = [
        (-1300.0, 100.0),
        (-900.0, 420.0),
        (-620.0, 610.0),
        (-250.0, 800.0),
        (100.0, 1060.0),
        (300.0, 1400.0),
    ]
    from_crest, _ = distance_to_line(east, north, crest)
    wood = rolling(rng, 90.0, 700.0, 1.2) + 1.5 - from_crest / 130.0
    classes[wood > 0.0] = TREES
    south_wood = (
        rolling(rng, 80.0, 500.0, 1.2) + 1.2 - np.hypot((east + 330.0) / 260.0, (north + 850.0) / 150.0) * 1.6
    )
    classes[south_wood > 0.0] = TREES
    belts = [
        [(-1300.0, -420.0), (-880.0, -360.0), (-700.0, -520.0), (-420.0, -590.0), (-60.0, -640.0)],
        [(-880.0, -360.0), (-760.0, -60.0), (-690.0, 180.0)],
        [(160.0, 420.0), (470.0, 390.0), (790.0, 330.0), (1340.0, 380.0)],
        [(790.0, 330.0), (905.0, 20.0), (1010.0, -330.0), (1120.0, -700.0)],
        [(250.0, -740.0), (420.0, -900.0), (700.0, -960.0), (1120.0, -700.0)],
    ]
    thin = rolling(rng, 30.0, 200.0, 0.8)
    for belt in belts:
        distance, _ = distance_to_line(east, north, belt)
        classes[distance < 13.0 + 4.0 * thin] = TREES
    inward = pit_inward(east, north)
    on_dump = np.hypot((east - DUMP_CENTRE[0]) / 1.35, north - DUMP_CENTRE[1]) < 150.0
    on_yard = np.hypot((east - PLANT_CENTRE[0]) / 1.3, north - PLANT_CENTRE[1]) < 110.0
    on_road, _ = distance_to_line(east, north, road_line())
    classes[(inward > -35.0) | on_dump | on_yard | (on_road < 22.0) | pond(east, north)] = OPEN
    for x, y, half_x, half_y in (
        (540, -120, 32, 14),
        (475, -150, 13, 22),
        (585, -165, 12, 12),
        (520, -185, 20, 9),
    ):
        classes[(np.abs(east - x) <= half_x) & (np.abs(north - y) <= half_y)] = BUILDING
    return classes


def write_rasters(folder: Path, ground: Field, classes: NDArray[np.uint8]) -> None:
    """Heights as whole centimetres and classes as bytes, both packed without loss."""
    import rasterio
    from affine import Affine

    shared = {
        "driver": "GTiff", "width": COLUMNS, "height": ROWS, "count": 1, "crs": f"EPSG:{EPSG}",
        "transform": Affine(CELL_M, 0.0, WEST, 0.0, -CELL_M, NORTH), "compress": "deflate", "zlevel": 9,
        "tiled": True, "blockxsize": 256, "blockysize": 256,
    }  # fmt: skip
    steps = np.where(np.isnan(ground), HEIGHT_NODATA, np.round(ground / HEIGHT_STEP_M)).astype(np.int16)
    with rasterio.open(
        folder / "quarry_dem_5m.tif", "w", dtype="int16", nodata=HEIGHT_NODATA, predictor=2, **shared
    ) as raster:
        raster.write(steps, 1)
        raster.scales, raster.offsets, raster.units = (HEIGHT_STEP_M,), (0.0,), ("m",)
        raster.set_band_description(1, "ground height, invented")
    with rasterio.open(
        folder / "quarry_clutter_5m.tif", "w", dtype="uint8", nodata=CLASS_NODATA, **shared
    ) as raster:
        raster.write(classes, 1)
        raster.set_band_description(1, "1 open, 2 scrub, 3 trees, 4 buildings; invented")


def write_vectors(folder: Path, ground: Field) -> None:
    """The boundary as layer "job" of a GeoPackage, and the control points as CSV."""
    import geopandas
    import shapely

    middle_east, middle_north = WEST + COLUMNS * CELL_M / 2.0, NORTH - ROWS * CELL_M / 2.0
    boundary = shapely.Polygon([(middle_east + x, middle_north + y) for x, y in BOUNDARY])
    frame = geopandas.GeoDataFrame({"name": ["Quarry, phase 2 (invented)"]}, geometry=[boundary], crs=EPSG)
    target = folder / "quarry_job.gpkg"
    target.unlink(missing_ok=True)
    frame.to_file(target, layer="job", driver="GPKG")
    with (folder / "quarry_control.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("name", "easting", "northing", "height", "code"))
        for name, x, y, offset, code in CONTROL:
            height = at(ground, x, y) + offset
            writer.writerow(
                (name, f"{middle_east + x:.2f}", f"{middle_north + y:.2f}", f"{height:.2f}", code)
            )


def main(folder: Path) -> None:
    """Write all files of the site into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    ground, classes = terrain()
    write_rasters(folder, ground, classes)
    write_vectors(folder, ground)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
