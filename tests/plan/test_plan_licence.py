"""The job file's sections about spectrum: values in SI units, and faults that name entry and key."""

from __future__ import annotations

from datetime import date

import pytest

from linkplan.radio.interference import Protection

LICENCE = """
[licence]
call_sign = "DEMO-1"
expires = 2027-12-31
identification_interval_min = 15
erp_limit_w = 5.0
antenna_height_limit = 40.0
area_centre = [500500.0, 4200500.0]
area_radius = 30000.0
frequencies_mhz = [450.1, 450.2]
spacing_khz = 25.0
[[licence.channels]]
name = "CH 1"
frequency_mhz = 450.0
spacing_khz = 12.5
eirp_limit_w = 3.28
"""
STATIONS = """
[[bases]]
point = "CP2"
power_dbm = 33.0
station_id = 2
serves = "job"
slot = 2
[[bases]]
name = "north"
position = [500900.0, 4200900.0]
antenna_height = 20.0
frequency_mhz = 450.1
[[others]]
name = "dispatch"
position = [512000.0, 4208000.0]
frequency_mhz = 450.1
[[others]]
name = "neighbour"
point = "CP2"
frequency_mhz = 450.2
spacing_khz = 25.0
erp_w = 4.0
antenna_height = 50.0
station_id = 9
[[heard]]
frequency_mhz = 450.3
what = "voice"
[interference]
co_channel_db = 10.0
protected_level_dbm = -115.0
[units]
height = "foot"
[control]
file = "control.csv"
"""


def written(job, text):
    (job.folder / "control.csv").write_text("name,easting,northing,height\nCP2,501000,4200400,1000\n")
    return job.text() + text


@pytest.fixture
def plan(job):
    from linkplan.plan.reader import read_plan

    return read_plan(job.write(written(job, LICENCE + STATIONS)))


def test_licence_in_si_units_with_the_clause_of_each_channel(plan):
    licence = plan.licence
    assert (licence.call_sign, licence.expires, licence.identification_interval_s) == (
        "DEMO-1", date(2027, 12, 31), 900.0,
    )  # fmt: skip
    assert licence.antenna_height_limit_m == pytest.approx(40 * 0.3048)
    assert (licence.erp_limit_w, licence.eirp_limit_w, licence.authorised_bandwidth_khz) == (5.0, None, None)
    assert licence.area.clause == "licence.area_radius"
    assert (licence.area.centre, licence.area.radius_m) == ((500500.0, 4200500.0), 30000.0)
    assert [(one.clause, one.name, one.frequency_mhz, one.spacing_khz) for one in licence.channels] == [
        ("licence.frequencies_mhz[1]", "450.1", 450.1, 25.0),
        ("licence.frequencies_mhz[2]", "450.2", 450.2, 25.0),
        ("licence.channels[1]", "CH 1", 450.0, 12.5),
    ]
    assert licence.channels[2].eirp_limit_w == 3.28


def test_further_bases_take_what_they_do_not_state_from_the_first(plan):
    first, north = plan.bases
    assert (first.base.name, first.base.easting, first.base.serves, first.base.slot) == (
        "CP2", 501000.0, "job", 2,
    )  # fmt: skip
    assert first.base.height_m == pytest.approx(304.8)
    assert first.base.antenna_height_m == pytest.approx(5 * 0.3048)  # [base] says 5.0, now in feet
    assert (first.power_dbm, first.frequency_mhz, first.station_id) == (33.0, None, 2)
    assert (north.base.name, north.base.serves, north.base.slot) == ("north", "strongest", None)
    assert north.base.antenna_height_m == pytest.approx(20 * 0.3048)
    assert (north.power_dbm, north.frequency_mhz, north.station_id) == (pytest.approx(40.0), 450.1, None)


def test_what_nobody_states_of_others_is_assumed_and_marked(plan):
    dispatch, neighbour = plan.others
    assert (dispatch.erp_w, dispatch.erp_assumed) == (100.0, True)
    assert (dispatch.antenna_height_m, dispatch.antenna_height_assumed) == (30.0, True)
    assert dispatch.spacing_khz == 12.5
    assert (neighbour.erp_w, neighbour.erp_assumed, neighbour.spacing_khz) == (4.0, False, 25.0)
    assert neighbour.antenna_height_m == pytest.approx(50 * 0.3048)
    assert (neighbour.easting, neighbour.station_id) == (501000.0, 9)
    assert [(one.number, one.frequency_mhz, one.what) for one in plan.heard] == [(1, 450.3, "voice")]


def test_what_radios_bear_is_the_jobs_figure_or_the_tables(plan, job):
    assert plan.protection == Protection.for_spacing(12.5, co_channel_db=10.0)
    assert plan.protection.stated == {"co_channel_db"}
    assert plan.protected_level_dbm == -115.0
    plain = job.plan()
    assert plain.protection == Protection.for_spacing(12.5)
    assert (plain.licence, plain.bases, plain.others, plain.heard) == (None, (), (), ())


def test_an_area_may_be_corners_or_a_file(job):
    ring = "area_coordinates = [[499000, 4199000], [502000, 4199000], [500000, 4203000]]"
    circle = "area_centre = [500500.0, 4200500.0]\narea_radius = 30000.0"
    (job.folder / "area.geojson").write_text(
        '{"type": "FeatureCollection", "crs": {"type": "name", "properties": {"name": "EPSG:32611"}}, '
        '"features": [{"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": '
        "[[[499000, 4199000], [502000, 4199000], [502000, 4203000], [499000, 4199000]]]}}]}"
    )
    from linkplan.plan.reader import read_plan

    for text, clause in (
        (ring, "licence.area_coordinates"),
        ('area_file = "area.geojson"', "licence.area_file"),
    ):
        plan = read_plan(job.write(job.text() + LICENCE.replace(circle, text)))
        assert plan.licence.area.clause == clause
        assert plan.licence.area.polygon.area == pytest.approx(6e6)


FAULTS = [
    ('point = "CP2"\npower', 'point = "CP3"\npower', 'bases[1].point = "CP3": no control point'),
    ('point = "CP2"\npower', "power", "bases[1].position: missing; add either position or point"),
    ("power_dbm = 33.0", "power_dbm = 33.0\npower_w = 2.0", "bases[1].power_dbm = 33.0: cannot stand beside"),
    ('serves = "job"', 'serves = "all"', 'bases[1].serves = "all": not a word that goes here'),
    ("station_id = 2\n", "station_id = 4096\n", "bases[1].station_id = 4096: "),
    ("antenna_height = 20.0", "antenna_hight = 20.0", "bases[2].antenna_hight = 20.0: unknown key"),
    ('name = "north"', 'name = "base"', 'bases[2].name = "base": the name base is taken by [base]'),
    ("[512000.0, 4208000.0]", "[-117.0, 38.0]", "others[1].position = [-117.0, 38.0]: looks like degrees"),
    ('name = "neighbour"\n', "", "others[2].name: missing"),
    ("erp_w = 4.0", "erp_w = -4.0", "others[2].erp_w = -4.0: "),
    ("[[heard]]", "[heard]", "heard = {frequency_mhz = 450.3, what = \"voice\"}: a list of tables is wanted"),
    ("co_channel_db = 10.0", "co_channel = 10.0", "interference.co_channel = 10.0: unknown key"),
    ('call_sign = "DEMO-1"', "call_sign = 1", "licence.call_sign = 1: "),
    ("[450.1, 450.2]", "[450.1, 450.1]", "licence.frequencies_mhz[2] = 450.1: stands in the list already"),
    ("spacing_khz = 25.0\n[[lic", "[[lic", "licence.spacing_khz: missing"),
    ("area_centre", 'area_layer = "x"\narea_centre', 'licence.area_layer = "x": goes with'),
    ("area_radius = 30000.0", 'area_file = "none.gpkg"', "licence.area_file"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "line"), FAULTS, ids=[one[2][:40] for one in FAULTS])
def test_a_fault_names_entry_and_key(job, old, new, line):
    text = LICENCE + STATIONS
    assert old in text
    lines = job.faults(written(job, text.replace(old, new, 1)))
    assert any(one.startswith(line) for one in lines), lines


def test_a_licence_without_a_channel_is_a_fault(job):
    lines = job.faults(job.text() + '[licence]\ncall_sign = "DEMO-1"\n')
    assert lines == ["licence.frequencies_mhz: missing; add at least one of frequencies_mhz, channels"]
