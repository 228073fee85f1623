"""Odd but honest input: it works, or one clear line says what is wrong."""

from __future__ import annotations

import time

import geopandas
import numpy as np
import pytest
import rasterio
import shapely
from affine import Affine

from tests.cli.conftest import JobFolder

WESTERN_JOB = """coordinates = [[-117.01, 35.99], [-116.99, 35.99], [-116.99, 36.01], [-117.01, 36.01]]"""


def to_degrees(folder: JobFolder) -> None:
    """The job moved to where longitudes are negative."""
    text = folder.job.read_text()
    start = text.index("coordinates")
    text = text[:start] + WESTERN_JOB + text[text.index("\n", start) :]
    text = text.replace("EPSG:32611", "EPSG:4326").replace("[501000.0, 4199000.0]", "[-117.0, 36.0]")
    folder.job.write_text(text)
    with rasterio.open(
        folder.path / "dem.tif", "w", driver="GTiff", width=100, height=100, count=1, dtype="float32",
        crs="EPSG:4326", transform=Affine(0.0003, 0.0, -117.015, 0.0, -0.0003, 36.015),
    ) as raster:  # fmt: skip
        raster.write(np.full((100, 100), 400.0, dtype="float32"), 1)


@pytest.mark.parametrize(
    "places", [("--to", "-116.995,36.005"), ("--from", "-117.005,36.0", "--to", "-116.995,36.005")]
)
def test_points_west_of_greenwich(folder: JobFolder, places: tuple[str, ...]) -> None:
    to_degrees(folder)
    outcome = folder.run("path", "job.toml", *places, "--out", "p.png")
    assert outcome.code in (0, 1), outcome
    assert "-116.995" in outcome.out
    assert outcome.err == ""


def test_another_option_is_not_taken_for_a_point(folder: JobFolder) -> None:
    with pytest.raises(SystemExit) as stopped:
        folder.run("path", "job.toml", "--to", "--json")
    assert stopped.value.code == 2


@pytest.mark.parametrize("place", ["1e300,0", "9e99,-9e99"])
def test_path_to_nowhere(folder: JobFolder, place: str) -> None:
    outcome = folder.run("path", "job.toml", "--to", place)
    assert outcome.code == 2
    assert len(outcome.err.splitlines()) == 1


@pytest.mark.parametrize(
    "crs", ["IAU_2015:49900", 'LOCAL_CS["site grid",UNIT["metre",1],AXIS["E",EAST],AXIS["N",NORTH]]']
)
def test_boundary_file_of_no_place_on_earth(folder: JobFolder, crs: str) -> None:
    geopandas.GeoDataFrame(geometry=[shapely.box(0.0, 0.0, 1.0, 1.0)], crs=crs).to_file(
        folder.path / "limit.gpkg", engine="pyogrio"
    )
    text = folder.job.read_text()
    start = text.index("coordinates")
    folder.job.write_text(text[:start] + 'file = "limit.gpkg"' + text[text.index("\n", start) :])
    outcome = folder.run("cover", "job.toml")
    assert outcome.code == 2
    assert "cannot be brought into" in outcome.err
    assert len(outcome.err.splitlines()) == 1


def add_control(folder: JobFolder, rows: str) -> None:
    (folder.path / "control.csv").write_text("name,easting,northing\n" + rows, encoding="utf-8")
    folder.change("[base]", '[control]\nfile = "control.csv"\n[base]')


def test_names_that_differ_in_case_only(folder: JobFolder) -> None:
    add_control(folder, "CP1,501500,4199500\ncp1,501400,4199400\nCP2,501300,4199300\n")
    for wanted, found in (("CP1", "501500"), ("cp1", "501400"), ("cp2", "501300")):
        outcome = folder.run("path", "job.toml", "--to", wanted, "--out", "p.png")
        assert outcome.code == 0
        assert f"E {found}" in outcome.out
    outcome = folder.run("path", "job.toml", "--to", "cP1")
    assert outcome.code == 2
    assert '"CP1" or "cp1"' in outcome.err


@pytest.mark.parametrize("text", ["x" * 5000, "a\nb", "\N{RIGHT-TO-LEFT OVERRIDE}1,2"])
def test_a_strange_point_is_shown_on_one_short_line(folder: JobFolder, text: str) -> None:
    outcome = folder.run("path", "job.toml", "--to", text)
    assert outcome.code == 2
    assert len(outcome.err.splitlines()) == 1
    assert len(outcome.err) < 250
    assert outcome.err.rstrip("\n").isprintable()


def test_a_far_point_is_blamed_itself(folder: JobFolder) -> None:
    outcome = folder.run("path", "job.toml", "--to", "0,0")
    assert outcome.code == 2
    assert outcome.err.startswith("linkplan: 0,0 lies ")


def test_thousands_of_control_points(folder: JobFolder) -> None:
    """Time grows with their number, not with its square: 5000 took minutes."""
    rows = (f"p{i},{500_300 + i * 7 % 1400},{4_198_300 + i * 13 % 1400}\n" for i in range(2000))
    add_control(folder, "".join(rows))
    begun = time.perf_counter()
    assert folder.run("plan", "job.toml", "--out", "results").code == 0
    assert time.perf_counter() - begun < 40.0
