"""What is wrong with a terrain file comes out as one clear line, and nothing goes to standard error."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from pyproj import CRS

from linkplan.errors import DemError, LinkplanError, PlaceError
from linkplan.terrain.dem import load_terrain
from linkplan.terrain.geodesy import LocalFrame
from linkplan.terrain.source import TerrainSource

AREA = shapely.box(-600.0, -600.0, 600.0, 600.0)
PLACE = (399_000.0, 5_301_000.0, 20.0)
GROUND = np.full((100, 100), 250.0, dtype="float32")


def fault(frame: LocalFrame, *files: Path, area: Any = AREA, **options: Any) -> LinkplanError:
    """The error that loading raises; it must be one line."""
    with pytest.raises((DemError, PlaceError)) as caught:
        load_terrain(TerrainSource(files, **options), None, frame=frame, area=area)
    assert "\n" not in str(caught.value)
    return caught.value


def check(error: LinkplanError, kind: type[LinkplanError], *parts: str) -> None:
    assert isinstance(error, kind)
    for part in parts:
        assert part in str(error)


def test_missing_file(tmp_path: Path, utm_frame: LocalFrame) -> None:
    check(fault(utm_frame, tmp_path / "none.tif"), DemError, str(tmp_path / "none.tif"), "no such file")


def test_folder(tmp_path: Path, utm_frame: LocalFrame) -> None:
    check(fault(utm_frame, tmp_path), DemError, "is a folder")


def test_no_file_at_all(utm_frame: LocalFrame) -> None:
    check(fault(utm_frame), DemError, "names no terrain file")


@pytest.mark.parametrize("content", [b"", b"this is no raster", b"II*\x00"])
def test_not_a_raster(content: bytes, tmp_path: Path, utm_frame: LocalFrame, capfd: Any) -> None:
    path = tmp_path / "text.tif"
    path.write_bytes(content)
    error = fault(utm_frame, path)
    check(error, DemError, "terrain file", str(path))
    assert "not a raster" in str(error) or "damaged" in str(error)
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("share", [0.05, 0.5, 0.95])
@pytest.mark.parametrize("tiled", [True, False])
def test_truncated_geotiff(
    share: float, tiled: bool, make_raster: Any, utm_frame: LocalFrame, tmp_path: Path, capfd: Any
) -> None:
    rng = np.random.default_rng(5)
    noise = (250.0 + rng.random((512, 512))).astype("float32")
    layout = {"tiled": True, "blockxsize": 128, "blockysize": 128} if tiled else {}
    whole = make_raster("whole.tif", noise, "EPSG:32633", 397_500.0, 5_302_500.0, 10.0, unit="m",
                        compress="deflate", **layout)  # fmt: skip
    cut = tmp_path / "cut.tif"
    cut.write_bytes(whole.read_bytes()[: int(whole.stat().st_size * share)])
    area = shapely.box(-2400.0, -2400.0, 2300.0, 2300.0)
    check(fault(utm_frame, cut, area=area), DemError, str(cut), "damaged")
    assert capfd.readouterr() == ("", "")


def test_nothing_reaches_standard_error_of_a_program(make_raster: Any, tmp_path: Path) -> None:
    """In a process without pytest's own log capture, with logging as Python sets it up."""
    rng = np.random.default_rng(5)
    noise = (250.0 + rng.random((512, 512))).astype("float32")
    whole = make_raster("whole.tif", noise, "EPSG:32633", 397_500.0, 5_302_500.0, 10.0, unit="m")
    cut = tmp_path / "cut.tif"
    cut.write_bytes(whole.read_bytes()[:700_000])
    program = (
        "import sys, logging; from pathlib import Path; import shapely; from pyproj import CRS\n"
        "logging.basicConfig()\n"
        "from linkplan.terrain.dem import load_terrain\n"
        "from linkplan.terrain.source import TerrainSource\n"
        "from linkplan.terrain.geodesy import LocalFrame\n"
        "frame = LocalFrame.around(CRS.from_epsg(32633), 400000.0, 5300000.0)\n"
        "area = shapely.box(-2400.0, -2400.0, 2300.0, 2300.0)\n"
        "try:\n"
        "    load_terrain(TerrainSource((Path(sys.argv[1]),)), None, frame=frame, area=area)\n"
        "except OSError as error:\n"
        "    print(error)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, str(cut)],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )
    assert "damaged" in done.stdout
    assert done.stderr == ""


def test_the_way_to_a_raster_library_is_taken_late() -> None:
    program = "import sys, linkplan.terrain.dem, linkplan.terrain.profile; print('rasterio' in sys.modules)"
    env = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])}
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True, env=env
    )
    assert done.stdout.strip() == "False"


def test_no_coordinate_system(make_raster: Any, utm_frame: LocalFrame) -> None:
    path = make_raster("bare.tif", GROUND, None, *PLACE)
    check(fault(utm_frame, path), DemError, str(path), "states no coordinate system")


def test_not_tied_to_the_earth(make_raster: Any, utm_frame: LocalFrame) -> None:
    local = 'LOCAL_CS["site grid",UNIT["metre",1],AXIS["Easting",EAST],AXIS["Northing",NORTH]]'
    path = make_raster("site.tif", GROUND, local, *PLACE)
    check(fault(utm_frame, path), DemError, str(path), "site grid", "not tied to the earth")


def test_no_georeference(make_raster: Any, utm_frame: LocalFrame) -> None:
    from affine import Affine
    from rasterio.errors import NotGeoreferencedWarning

    with pytest.warns(NotGeoreferencedWarning):
        path = make_raster("nowhere.tif", GROUND, "EPSG:32633", transform=Affine.identity())
    check(fault(utm_frame, path), DemError, str(path), "no position on the ground")


def test_colour_picture(make_raster: Any, utm_frame: LocalFrame) -> None:
    picture = np.zeros((3, 100, 100), dtype="uint8")
    path = make_raster("photo.tif", picture, "EPSG:32633", *PLACE, photometric="RGB")
    check(fault(utm_frame, path), DemError, str(path), "colour picture")


def test_complex_numbers(make_raster: Any, utm_frame: LocalFrame) -> None:
    path = make_raster("radar.tif", GROUND.astype("complex64"), "EPSG:32633", *PLACE)
    check(fault(utm_frame, path), DemError, str(path), "complex")


def test_unknown_height_unit(make_raster: Any, utm_frame: LocalFrame) -> None:
    path = make_raster("fathom.tif", GROUND, "EPSG:32633", *PLACE, unit="fathom\n")
    check(fault(utm_frame, path), DemError, str(path), '"fathom"', "metre, foot, us-survey-foot")
    grid = load_terrain(TerrainSource((path,), height_unit="metre"), None, frame=utm_frame, area=AREA)
    assert grid.height_m == pytest.approx(250.0)


def test_several_bands_are_told(make_raster: Any, utm_frame: LocalFrame) -> None:
    path = make_raster("two.tif", np.stack([GROUND, GROUND + 50.0]), "EPSG:32633", *PLACE, unit="m")
    grid = load_terrain(TerrainSource((path,)), None, frame=utm_frame, area=AREA)
    assert grid.height_m == pytest.approx(250.0)
    assert any("first of several bands" in note for note in grid.notes)


def test_base_outside_the_terrain(make_raster: Any) -> None:
    path = make_raster("dem.tif", GROUND, "EPSG:32633", *PLACE, unit="m")
    frame = LocalFrame.around(CRS.from_epsg(32633), 402_500.0, 5_300_000.0)
    check(
        fault(frame, path),
        PlaceError,
        "base at 402500.0, 5300000.0 lies outside the terrain (dem.tif",
        "399000 to 401000 east and 5299000 to 5301000 north",
    )


def test_wrong_coordinates(make_raster: Any, utm_frame: LocalFrame) -> None:
    path = make_raster("dem.tif", GROUND, "EPSG:32633", *PLACE, unit="m")
    far = shapely.box(5e6, 0.0, 5.001e6, 1000.0)
    check(fault(utm_frame, path, area=far), PlaceError, "reaches 5001 km from its base")
    check(fault(utm_frame, path, area=shapely.Polygon()), PlaceError, "boundary is empty")


def test_a_datum_per_file_is_told(make_raster: Any, utm_frame: LocalFrame) -> None:
    one = make_raster("one.tif", GROUND, "EPSG:32633+5703", *PLACE)
    two = make_raster("two.tif", GROUND, "EPSG:32633+3855", *PLACE)
    grid = load_terrain(TerrainSource((one, two)), None, frame=utm_frame, area=AREA)
    assert grid.height_datum == "NAVD88 height / EGM2008 height"
    assert any("different datums" in note for note in grid.notes)


def test_an_unknown_datum_shift_is_told(make_raster: Any, utm_frame: LocalFrame) -> None:
    """EPSG:4004 is "unknown datum based upon the Bessel 1841 ellipsoid": nobody knows the way from it."""
    longitude, latitude = utm_frame.to_geographic(0.0, 0.0)
    place = (longitude - 0.02, latitude + 0.02, 0.0004)
    known = make_raster("known.tif", GROUND, "EPSG:4326", *place, unit="m")
    unknown = make_raster("unknown.tif", GROUND, "EPSG:4004", *place, unit="m")
    for path, told in ((known, False), (unknown, True)):
        grid = load_terrain(TerrainSource((path,)), None, frame=utm_frame, area=AREA)
        assert any("no shift between them is known" in note for note in grid.notes) == told
