"""Odd but honest input: it works, or one clear line says what is wrong."""

from __future__ import annotations

import errno
import json
import os
import shlex
import subprocess
import sys
import time
from pathlib import Path

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


def in_a_process(
    folder: JobFolder, *arguments: str, **environment: str
) -> tuple[int, str, subprocess.CompletedProcess[bytes]]:
    """The command line as a shell starts it, in an environment that holds only what is given."""
    root = str(Path(__file__).resolve().parents[2])
    command = [sys.executable, "-c", "import sys; from linkplan.cli.main import main; sys.exit(main())"]
    done = subprocess.run(
        [*command, *arguments],
        capture_output=True,
        cwd=folder.path,
        env={"PATH": os.defpath, "PYTHONPATH": root, **environment},
    )
    return done.returncode, done.stderr.decode(), done


PLAIN_LETTERS = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}


@pytest.mark.parametrize("flags", [(), ("--json",)])
def test_letters_that_the_terminal_lacks(folder: JobFolder, flags: tuple[str, ...]) -> None:
    """And that the figures' type lacks: the last one."""
    folder.change("small invented job", "Größe Ω 日")
    code, complaint, done = in_a_process(
        folder, "plan", "job.toml", "--out", "results", *flags, **PLAIN_LETTERS
    )
    assert (code, complaint) == (0, "")
    if flags:
        assert json.loads(done.stdout)["job_name"] == "Größe Ω 日"
    assert "Größe Ω 日" in (folder.path / "results" / "index.html").read_text(encoding="utf-8")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_output_streams_that_take_nothing(folder: JobFolder) -> None:
    base = [sys.executable, "-m", "linkplan.cli.main"]
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).resolve().parents[2])}

    def run(shell: str, *arguments: str) -> tuple[int, str]:
        line = " ".join(shlex.quote(part) for part in (*base, *arguments))
        done = subprocess.run(
            ["bash", "-c", f"{line} {shell}"],
            capture_output=True,
            text=True,
            cwd=folder.path,
            env=environment,
        )
        return done.returncode, done.stderr + done.stdout

    code, said = run(">/dev/full", "cover", "job.toml", "--out", "r1")
    assert code == 2
    assert said.startswith("linkplan: stopped by the system: ")
    assert len(said.splitlines()) == 1
    assert run("2>/dev/full", "cover", "none.toml") == (2, "")
    assert run("2>&-", "cover", "none.toml") == (2, "")
    assert run(">&-", "cover", "job.toml", "--out", "r2") == (0, "")


def test_a_home_and_an_installation_that_cannot_be_written(tmp_path: Path) -> None:
    """Compiled kernels are kept nowhere then: the locators of the compiler all fail."""
    program = (
        "import numba.core.caching as c; c.CacheImpl._locator_classes = []\n"
        "c.CodeLibraryCacheImpl._locator_classes = c.CompileResultCacheImpl._locator_classes = []\n"
        "import linkplan.propagation.sweep_numba as s\n"
        "print(s.kernel(lambda x: x + 1.0)(2.0))\n"
    )
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).resolve().parents[2])}
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, cwd=tmp_path, env=environment
    )
    assert (done.stdout, done.stderr) == ("3.0\n", "")


def test_a_job_file_without_end(folder: JobFolder) -> None:
    (folder.path / "endless.toml").write_bytes(b"#" * 10_000_001)
    outcome = folder.run("cover", "endless.toml")
    assert outcome.code == 2
    assert "more than 10 MB" in outcome.err


def test_a_failed_job_leaves_no_parent_folders(folder: JobFolder) -> None:
    folder.change("position = [501000.0, 4199000.0]", "position = [503000.0, 4199000.0]")
    before = folder.names()
    assert folder.run("cover", "job.toml", "--out", "a/b/c").code == 2
    assert folder.names() == before


def test_folders_and_links_in_the_way(folder: JobFolder) -> None:
    (folder.path / "link").symlink_to("nowhere")
    outcome = folder.run("cover", "job.toml", "--out", "link")
    assert (outcome.code, outcome.err.count("\n")) == (2, 1)
    assert "link to nowhere" in outcome.err
    (folder.path / "results" / "map.html").mkdir(parents=True)
    outcome = folder.run("cover", "job.toml", "--out", "results")
    assert (outcome.code, outcome.err.count("\n")) == (2, 1)
    assert "results/map.html" in outcome.err
    assert [entry.name for entry in (folder.path / "results").iterdir()] == ["map.html"]


def test_results_may_lie_on_another_disk(folder: JobFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    """Renaming from the folder beside would fail there, so the files are made inside."""
    (folder.path / "stick").mkdir()
    real = os.replace

    def replace(source: str | Path, target: str | Path) -> None:
        if Path(source).is_relative_to("stick") != Path(target).is_relative_to("stick"):
            raise OSError(errno.EXDEV, os.strerror(errno.EXDEV), str(source))
        real(source, target)

    monkeypatch.setattr(os, "replace", replace)
    assert folder.run("cover", "job.toml", "--out", "stick").code == 0
    assert (folder.path / "stick" / "map.html").is_file()
    assert not list((folder.path / "stick").glob(".*"))


def test_a_full_disk_is_told_with_the_place_that_was_named(
    folder: JobFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> int:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(Path, "write_bytes", full)
    outcome = folder.run("cover", "job.toml", "--out", "results")
    assert outcome.code == 2
    assert outcome.err == "linkplan: results/map.html: cannot be written: the disk is full\n"
