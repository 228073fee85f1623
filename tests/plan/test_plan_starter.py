"""The starter: every key of the description is in it, it reads, and no file is ever overwritten."""

from __future__ import annotations

import os
import re
import tomllib

import geopandas
import pytest
import shapely

from linkplan.errors import OutputError
from linkplan.plan.keys import TABLES
from linkplan.plan.reader import read_plan
from linkplan.plan.starter import starter_text, write_starter
from linkplan.propagation.noise import CATEGORIES
from linkplan.tables.receivers import REQUIRED_SNR_DB
from linkplan.units import METRES_PER_UNIT


def keys_by_table(text):
    """{table: keys that a line sets}, lines behind a # included."""
    found = {}
    table = ""
    for line in text.splitlines():
        bare = line.removeprefix("# ")
        if heading := re.match(r"\[\[?([a-z_.]+)\]", bare):
            table = heading[1]
            found.setdefault(table, set())
        elif key := re.match(r"([a-z_0-9]+) = ", bare):
            found[table].add(key[1])
    return found


def test_starter_has_every_table_and_key_and_no_other():
    found = keys_by_table(starter_text())
    for table in ("clutter", "calibration"):
        assert all(code.isdigit() for code in found.pop(f"{table}.classes"))
        found[table].add("classes")
    wanted = {table.name: {key.name for key in table.keys} for table in TABLES}
    for table in TABLES:
        for key in table.keys:
            if key.kind == "tables":
                wanted[table.name].remove(key.name)
                wanted[f"{table.name}.{key.name}"] = {inner.name for inner in key.inner}
    assert found == wanted


def test_starter_names_every_word_that_may_be_chosen():
    text = starter_text()
    for word in (*METRES_PER_UNIT, *CATEGORIES, *REQUIRED_SNR_DB):
        assert f'"{word}"' in text


def test_starter_fits_a_screen():
    assert max(len(line) for line in starter_text().splitlines()) <= 120


def test_starter_reads_once_the_terrain_is_there(tmp_path):
    path = tmp_path / "pit.toml"
    write_starter(path)
    (tmp_path / "terrain").mkdir()
    (tmp_path / "terrain" / "site.tif").touch()
    plan = read_plan(path)
    assert plan.terrain.files == (tmp_path / "terrain" / "site.tif",)
    assert plan.boundary.contains(shapely.Point(plan.base.easting, plan.base.northing))
    # 8 m of cable with 15 dB per 100 m, and 0.3 dB of connectors.
    assert plan.transmitter.feeder.loss_db == pytest.approx(1.5)
    assert plan.warnings == ()


def test_starter_with_all_its_optional_keys_reads_too(tmp_path):
    """Each line behind a # works when its # is taken away in place of what it replaces."""
    (tmp_path / "terrain").mkdir()
    for name in ("terrain/a.tif", "clutter.tif", "almanac.alm", "brdc1.rnx"):
        (tmp_path / name).touch()
    (tmp_path / "control.csv").write_text(
        "name,easting,northing\nCP1,500200,4200300\nCP2,501500,4201000\nCP9,512000,4208000\n"
    )
    (tmp_path / "pattern.csv").write_text("elevation_deg,relative_gain_db\n-90,-9\n0,0\n90,-9\n")
    (tmp_path / "places.csv").write_text("name,easting,northing\nridge,500700,4200500\n")
    ground = geopandas.GeoSeries([shapely.box(500100, 4200200, 500300, 4200400)], crs="EPSG:32611")
    for file, layer in (("may_stand", "owned"), ("keep_out", "keep_out"), ("fence", "fence")):
        ground.to_file(tmp_path / f"{file}.gpkg", layer=layer)
    for file, layer in (("tracks", "tracks"), ("corridor", "centre_line"), ("lines", "overhead")):
        ground.boundary.to_file(tmp_path / f"{file}.gpkg", layer=layer)
    kept_out = (
        'file = "boundary',
        "layer",
        "power_dbm",
        "antenna_gain_dbd",
        "required_snr_db",
        "eirp_limit_w",
        "area_file",
        "area_layer",
        "area_coordinates",
        "position",
        "obstructions_file",
        "averaging_s",
        'method = "averaged"',
        'file = "zones',
    )
    kept_out += ("feeder_loss_db = 1.2", "#")
    lines = []
    for line in starter_text().splitlines():
        bare = line.removeprefix("# ")
        is_toml = re.match(r"\[|[a-z_0-9]+ = ", bare) is not None
        says_crs = re.match(r"(crs|[a-z_]+_crs|points_layer) = ", bare) is not None
        if line.startswith("# ") and is_toml and not (says_crs or bare.startswith(kept_out)):
            lines.append(bare)
        elif not line.startswith("position"):
            lines.append(line)
    path = tmp_path / "job.toml"
    path.write_text("\n".join(lines))
    plan = read_plan(path)
    assert plan.base.name == "CP1"
    assert plan.clutter is not None
    assert plan.clutter.heights_m == {1: 12.0, 2: 6.0}
    assert plan.transmitter.antenna.pattern is not None
    assert plan.rover.receiver.modulation == "4-level-fsk"
    assert plan.goal.baseline_limit_m == 10000.0
    assert plan.calibration is not None
    assert plan.prediction_sigma_db == plan.calibration.sigma_db == 5.1
    assert plan.calibration.class_offsets_db == {1: -2.5}
    assert plan.siting is not None
    assert [place.name for place in plan.siting.places] == ["CP1", "CP2", "ridge"]
    assert plan.siting.grid_area is not None
    assert [zone.must_share for zone in plan.siting.zones] == [0.98]
    assert plan.sky is not None
    assert [path.name for path in plan.sky.orbit_files] == ["almanac.alm", "brdc1.rnx"]
    assert plan.occupation is not None
    # 1.874^2 - 0.173^2 = 3.481947, whose root less 0.064 is 1.802, the antenna height of [settings]
    assert plan.occupation.arp_height_m == pytest.approx(1.802, abs=1e-5)
    assert plan.warnings == ()


def test_starter_never_overwrites(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text("mine")
    with pytest.raises(OutputError, match="exists already"):
        write_starter(path)
    assert path.read_text() == "mine"
    link = tmp_path / "link.toml"
    link.symlink_to(tmp_path / "nowhere")
    with pytest.raises(OutputError, match="exists already"):
        write_starter(link)
    with pytest.raises(OutputError, match="is a folder"):
        write_starter(tmp_path)
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["job.toml", "link.toml"]


def test_starter_says_where_it_cannot_write(tmp_path, monkeypatch):
    with pytest.raises(OutputError, match="there is no folder"):
        write_starter(tmp_path / "none" / "job.toml")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(OutputError, match="cannot be written \\(No space left on device\\)"):
        write_starter(tmp_path / "job.toml")
    assert list(tmp_path.iterdir()) == []


def test_starter_is_plain_toml_with_the_users_permissions(tmp_path):
    assert set(tomllib.loads(starter_text())) <= {table.name for table in TABLES}
    old = os.umask(0o027)
    try:
        write_starter(tmp_path / "job.toml")
    finally:
        os.umask(old)
    assert (tmp_path / "job.toml").stat().st_mode & 0o777 == 0o640
