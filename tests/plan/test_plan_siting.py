# ruff: noqa: E501  -- the expected lines are shown as the user sees them
"""The [siting] section: what it becomes in SI units, its defaults, and each fault with its entry and key."""

from __future__ import annotations

import math

import geopandas
import pytest
import shapely

from linkplan.errors import JobFileError
from linkplan.plan.reader import read_plan
from linkplan.plan.safety import SafetyWishes
from linkplan.plan.siting_model import CRITERIA, DEFAULT_ORDER, MODES
from linkplan.plan.starter import starter_text
from linkplan.radio.equipment import Antenna
from linkplan.tables.exposure import LIMITS

# The sound job of the tests has its boundary from 500000, 4200000 to 501000, 4201000.
SECTION = """
[control]
file = "control.csv"
[siting]
"""


@pytest.fixture
def siting_job(job):
    (job.folder / "control.csv").write_text(
        "name,easting,northing,height\nB1,500100,4200100,410\nB2,500900,4200900,\nB3,500500,4200500,400\n"
    )
    return job


def read(job, text, **changes):
    return read_plan(job.write(job.text(**changes) + SECTION + text))


def save(job, file, shapes, crs="EPSG:32611", **columns):
    geopandas.GeoDataFrame(columns, geometry=list(shapes), crs=crs).to_file(job.folder / file)


def test_a_job_without_the_section_has_none(job):
    assert job.plan().siting is None


def test_an_empty_section_tries_the_control_points_with_the_jobs_own_equipment(siting_job):
    siting = read(siting_job, "", goal__share="0.9").siting
    assert [
        (place.name, place.easting, place.northing, place.height_m, place.known) for place in siting.places
    ] == [
        ("B1", 500100.0, 4200100.0, 410.0, True),
        ("B2", 500900.0, 4200900.0, None, True),
        ("B3", 500500.0, 4200500.0, 400.0, True),
    ]
    assert (siting.grid_area, siting.grid_spacing_m, siting.zones, siting.corridor) == (None, None, (), None)
    assert siting.antenna_heights_m == (5.0,)
    assert siting.powers_dbm == pytest.approx((40.0,))  # radio.power_w = 10
    assert [(one.name, one.antenna) for one in siting.antennas] == [("", Antenna(5.0))]
    assert siting.order == ("share", "worst", "baseline", "mast", "power")
    assert (siting.mode, siting.most_set_ups, siting.overlap) == ("one", None, False)
    assert (siting.check_spacing_m, siting.link_margin_db, siting.cases, siting.seed) == (500.0, 10.0, 100, 1)
    rules = siting.rules
    assert (rules.known_control, rules.keep_out, rules.lines, rules.fall_factor) == (False, None, (), 1.5)
    assert (rules.fenced, rules.fence_radius_m, rules.exposure_limits) == (None, None, "icnirp-2020")
    assert (rules.elevation_mask_deg, rules.sky_blocked_share, rules.gnss_antenna_height_m) == (
        10.0,
        None,
        2.0,
    )
    assert (rules.tracks, rules.track_distance_m) == (None, None)
    assert (rules.tolerance_m, rules.accuracy_m, rules.accuracy_ppm) == (None, 0.008, 1.0)


def test_lengths_and_heights_come_in_metres_powers_in_dbm_each_ascending(siting_job):
    text = """
        antenna_heights = [20, 10.0]
        powers_w = [10, 1]
        fence_radius = 10
        gnss_antenna_height = 5
        tolerance_mm = 20
        check_spacing = 1000
    """
    units = {"units__length": '"us-survey-foot"', "units__height": '"foot"'}
    siting = read(siting_job, text, **units).siting
    assert siting.antenna_heights_m == pytest.approx((3.048, 6.096), rel=1e-14)
    assert siting.powers_dbm == pytest.approx((30.0, 40.0))
    assert siting.rules.fence_radius_m == pytest.approx(10 * 1200 / 3937, rel=1e-14)
    assert siting.check_spacing_m == pytest.approx(1000 * 1200 / 3937, rel=1e-14)
    assert siting.rules.gnss_antenna_height_m == pytest.approx(1.524, rel=1e-14)
    assert siting.rules.tolerance_m == 0.02
    assert siting.places[0].height_m == pytest.approx(410 * 0.3048, rel=1e-14)


def test_what_the_settings_sheet_says_already_is_taken_from_there(siting_job):
    sheet = "[settings]\nelevation_mask_deg = 15\nbase_antenna_height = 1.75\n"
    rules = read(siting_job, sheet).siting.rules
    assert (rules.elevation_mask_deg, rules.gnss_antenna_height_m) == (15.0, 1.75)
    rules = read(siting_job, "elevation_mask_deg = 0\ngnss_antenna_height = 0\n" + sheet).siting.rules
    assert (rules.elevation_mask_deg, rules.gnss_antenna_height_m) == (0.0, 0.0)


def test_antennas_to_try_stand_in_for_the_radios_own(siting_job):
    (siting_job.folder / "whip.csv").write_text("elevation_deg,relative_gain_db\n0,0\n30,-6\n")
    text = """
        [[siting.antennas]]
        name = "dipole"
        antenna_gain_dbd = 0.0
        [[siting.antennas]]
        name = "stack"
        antenna_gain_dbi = 8.5
        antenna_pattern = "whip.csv"
    """
    dipole, stack = read(siting_job, text).siting.antennas
    assert (dipole.name, dipole.antenna) == ("dipole", Antenna(2.15))
    assert (stack.name, stack.antenna.gain_dbi) == ("stack", 8.5)
    assert stack.antenna.pattern.relative_gain_db == (0.0, -6.0)


def test_criteria_that_the_order_does_not_name_follow_in_the_usual_order(siting_job):
    order = read(siting_job, 'order = ["mast", "goal"]').siting.order
    assert order == ("mast", "goal", "share", "worst", "baseline", "power")
    assert set(DEFAULT_ORDER) == set(CRITERIA) - {"goal", "workable"}


def test_control_points_by_name_or_none(siting_job):
    siting = read(siting_job, 'control_names = ["B3", "B1"]').siting
    assert [place.name for place in siting.places] == ["B1", "B3"]
    (siting_job.folder / "places.csv").write_text("name,easting,northing\nridge,500700,4200500\n")
    siting = read(siting_job, 'control_points = false\npoints_file = "places.csv"').siting
    assert [(place.name, place.known) for place in siting.places] == [("ridge", False)]


def test_places_of_a_layer_in_degrees_with_and_without_names(siting_job):
    points = [shapely.Point(500700, 4200500), shapely.Point(500200, 4200800)]
    degrees = geopandas.GeoSeries(points, crs="EPSG:32611").to_crs("EPSG:4326")
    for file, columns, expected in (
        ("bare.gpkg", {}, ["P1", "P2"]),
        ("part.gpkg", {"name": ["ridge", None], "height": [420.5, math.nan]}, ["ridge", "P2"]),
    ):
        save(siting_job, file, degrees, crs="EPSG:4326", **columns)
        places = read(siting_job, f'control_points = false\npoints_file = "{file}"').siting.places
        assert [place.name for place in places] == expected
        assert (places[1].easting, places[1].northing) == pytest.approx((500200, 4200800), abs=1e-3)
        assert [place.height_m for place in places] == [columns.get("height", [None])[0], None]


def test_a_layer_that_does_not_say_its_system_is_told_it(siting_job):
    save(siting_job, "grid.shp", [shapely.box(500100, 4200100, 500300, 4200200)])
    (siting_job.folder / "grid.prj").unlink()
    text = 'grid_file = "grid.shp"\ngrid_spacing = 50\n'
    assert siting_job.faults(siting_job.text() + SECTION + text) == [
        'siting.grid_file = "grid.shp": the file does not say its coordinate system; add grid_crs = "EPSG:..." to [siting]'
    ]
    siting = read(siting_job, text + 'grid_crs = "EPSG:32611"').siting
    assert siting.grid_area.area == pytest.approx(200 * 100)
    assert siting.grid_spacing_m == 50.0


def test_zones_are_cut_at_the_boundary_and_a_must_takes_the_goals_share(siting_job):
    save(siting_job, "zones.gpkg", [shapely.box(500900, 4200000, 501100, 4200500)])
    text = """
        [[siting.zones]]
        name = "road"
        file = "zones.gpkg"
        weight = 5
        [[siting.zones]]
        name = "strip"
        coordinates = [[500100, 4200100], [500200, 4200100], [500200, 4200200]]
        must = true
        [[siting.zones]]
        name = "plant"
        coordinates = [[500300, 4200100], [500400, 4200100], [500400, 4200200]]
        must = true
        share = 1.0
    """
    plan = read(siting_job, text, goal__share="0.9")
    road, strip, plant = plan.siting.zones
    assert road.area.equals(shapely.box(500900, 4200000, 501000, 4200500))
    assert [(zone.name, zone.weight, zone.must_share) for zone in (road, strip, plant)] == [
        ("road", 5.0, None), ("strip", 1.0, 0.9), ("plant", 1.0, 1.0),
    ]  # fmt: skip
    assert plan.warnings == (
        "siting.zones[1].file: 50.0% of the zone lies outside the boundary and does not count",
    )


def test_ground_that_rules_places_out(siting_job):
    save(
        siting_job,
        "pond.gpkg",
        [shapely.box(500100, 4200100, 500200, 4200200), shapely.box(500150, 4200100, 500300, 4200200)],
    )
    save(siting_job, "wire.gpkg", [shapely.LineString([(500000, 4200600), (501000, 4200700)])])
    save(siting_job, "roads.gpkg", [
        shapely.LineString([(500000, 4200000), (500500, 4200000)]),
        shapely.MultiLineString([[(500500, 4200100), (500500, 4200300)], [(500600, 4200100), (500600, 4200200)]]),
    ])  # fmt: skip
    text = """
        known_control = true
        keep_out_file = "pond.gpkg"
        fence_file = "pond.gpkg"
        exposure_limits = "fcc-1.1310"
        sky_blocked_share = 0.2
        track_file = "roads.gpkg"
        track_distance = 40
        [[siting.lines]]
        name = "valley"
        file = "wire.gpkg"
        voltage_kv = 110
        [[siting.lines]]
        name = "village"
        file = "wire.gpkg"
        clearance = 6
    """
    rules = read(siting_job, text).siting.rules
    assert rules.known_control
    assert rules.keep_out.equals(shapely.box(500100, 4200100, 500300, 4200200))
    assert rules.fenced.equals(rules.keep_out)
    assert (rules.exposure_limits, rules.sky_blocked_share, rules.track_distance_m) == (
        "fcc-1.1310",
        0.2,
        40.0,
    )
    assert rules.tracks.length == pytest.approx(500 + 200 + 100)
    assert [(line.name, line.voltage_kv, line.clearance_m) for line in rules.lines] == [
        ("valley", 110.0, None), ("village", None, 6.0),
    ]  # fmt: skip
    assert rules.lines[0].shape.distance(shapely.Point(500000, 4200500)) == pytest.approx(100, rel=0.01)


STRETCHES = [
    shapely.LineString([(500600, 4200500), (500900, 4200500)]),
    shapely.LineString([(500600, 4200500), (500300, 4200500)]),  # drawn the other way
    shapely.LineString([(500300, 4200500), (500300, 4200100)]),
    shapely.LineString([(500900, 4200500), (500600, 4200500)]),  # the first once more
]


def test_stretches_of_a_corridor_are_joined_whatever_their_order_and_direction(siting_job):
    save(siting_job, "road.gpkg", STRETCHES)
    siting = read(siting_job, 'set_ups = "corridor"\ncorridor_file = "road.gpkg"').siting
    assert (siting.mode, siting.overlap) == ("corridor", True)
    assert siting.corridor.geom_type == "LineString"
    assert siting.corridor.length == pytest.approx(1000)
    siting = read(siting_job, 'set_ups = "corridor"\ncorridor_file = "road.gpkg"\noverlap = false').siting
    assert not siting.overlap


def test_a_corridor_is_one_line_inside_the_boundary(siting_job):
    asked = 'set_ups = "corridor"\n'
    assert siting_job.faults(siting_job.text() + SECTION + asked) == [
        'siting.corridor_file: missing: set_ups = "corridor" needs the line along which the base moves; '
        'add it, such as corridor_file = "corridor.gpkg", or choose other set_ups'
    ]
    branch = shapely.LineString([(500600, 4200500), (500600, 4200900)])
    for shapes, problem in (
        ([*STRETCHES, branch], "its lines do not join end to end into one line, but make 3 pieces; "
                               "snap their ends together, and take branches away, in the program that drew it"),
        ([shapely.LineString([(502000, 4200000), (503000, 4200000)])],
         "the corridor lies outside the boundary altogether; check both, and job.crs"),
        ([shapely.Point(500500, 4200500)], "feature 1 is a Point; lines are wanted; choose another layer"),
        ([shapely.LineString([(500500, 4200500), (500500, 4200500)])],
         "feature 1 has no length; mend it in the program that drew it"),
        ([None], "holds no line; draw it as a line"),
    ):  # fmt: skip
        save(siting_job, "road.gpkg", shapes)
        lines = siting_job.faults(siting_job.text() + SECTION + asked + 'corridor_file = "road.gpkg"')
        assert lines == [f'siting.corridor_file = "road.gpkg": {problem}']
    save(siting_job, "road.gpkg", [shapely.LineString([(500000, 4200500), (502000, 4200500)])])
    plan = read(siting_job, asked + 'corridor_file = "road.gpkg"')
    assert plan.warnings == ("siting.corridor_file: 50.0% of the corridor lies outside the boundary",)


ZONE = '[[siting.zones]]\nname = "road"\ncoordinates = [[500100, 4200100], [500200, 4200100], [500200, 4200200]]\n'
ALL = '[[siting.zones]]\nname = "all"\ncoordinates = [[500000, 4200000], [501000, 4200000], [501000, 4201000], [500000, 4201000]]\n'

FAULTS = [
    ("control_points = false", "siting: names no place where the base may stand; let control points count, or add points_file, or grid_file with grid_spacing"),
    ('control_names = ["B4"]', 'siting.control_names[1] = "B4": no control point of this name; write "B1", "B2" or "B3"'),
    ('control_names = ["B1", "b2"]', 'siting.control_names[2] = "b2": no control point of this name; did you mean "B2"? (there is "B1", "B2" or "B3")'),
    ('control_points = false\ncontrol_names = ["B1"]\npoints_file = "p.csv"', 'siting.control_names = ["B1"]: names control points, but siting.control_points = false; keep one of the two'),
    ('points_file = "twin.csv"', 'siting.points_file = "twin.csv": the name "B2" is taken by a point of [control]; rename it, or leave it out of this file: control points are candidates by themselves'),
    ('points_layer = "x"', 'siting.points_layer = "x": goes with siting.points_file only; leave it out'),
    ('points_file = "p.csv"\npoints_crs = "EPSG:4326"', 'siting.points_crs = "EPSG:4326": a CSV has no layer, and its coordinates are in job.crs; leave it out'),
    ('known_control = true\ncontrol_points = false\npoints_file = "p.csv"', "siting.known_control = true: no point of [control] is among the candidates, so all would be ruled out; leave it out, or let control points count"),
    ('grid_file = "may.gpkg"', "siting.grid_spacing: missing; it goes with grid_file; add, for example, grid_spacing = 100"),
    ("grid_spacing = 50", 'siting.grid_file: missing; it goes with grid_spacing; add, for example, grid_file = "may_stand.gpkg"'),
    ('grid_file = "dots.gpkg"\ngrid_spacing = 50', 'siting.grid_file = "dots.gpkg": feature 1 is a Point; ground where a base may stand is made of polygons only; close lines into polygons, or choose another layer'),
    ("antenna_heights = 5", "siting.antenna_heights = 5: a list of heights is wanted, not a number; write antenna_heights = [3, 5, 8]"),
    ("antenna_heights = [5, 3, 5.0]", "siting.antenna_heights[3] = 5.0: stands in the list already, in place 1; leave it out"),
    ("antenna_heights = [5, 400]", "siting.antenna_heights[2] = 400: too large; give 0.1 to 300 m"),
    ('antenna_heights = ["5 m"]', 'siting.antenna_heights[1] = "5 m": a number is wanted, not text; write a bare number in metres (units.height), such as antenna_heights = [3, 5, 8]'),
    ("powers_w = [0]", "siting.powers_w[1] = 0: too small; give 0.001 to 1000 W"),
    ("[[siting.antennas]]\nantenna_gain_dbi = 3", 'siting.antennas[1].name: missing; add, for example, name = "high-gain"'),
    ('[[siting.antennas]]\nname = "a"', "siting.antennas[1].antenna_gain_dbi: missing; add either antenna_gain_dbi or antenna_gain_dbd, for example antenna_gain_dbi = 2.0"),
    ('[[siting.antennas]]\nname = "a"\nantenna_gain_dbi = 3\n[[siting.antennas]]\nname = "a"\nantenna_gain_dbd = 3', 'siting.antennas[2].name = "a": the name is taken by siting.antennas[1]; give every entry a name of its own'),
    ('[[siting.antennas]]\nname = "a"\nantenna_gain_dbi = 3\nantenna_pattern = "p.csv"', 'siting.antennas[1].antenna_pattern = "p.csv": unknown column "name"; the first line is elevation_deg,relative_gain_db'),
    ('order = ["share", "share"]', 'siting.order[2] = "share": stands in the list already, in place 1; leave it out'),
    ('order = ["workable"]', 'siting.order = ["workable"]: needs the satellites of the working hours, and the job has no [sky]; add [sky], or leave the word out'),
    ('order = ["hight"]', 'siting.order[1] = "hight": not a word that goes here; write "goal", "workable", "share", "worst", "baseline", "mast" or "power"'),
    (ZONE + "share = 0.9", "siting.zones[1].share = 0.9: goes with must = true, as the share of the zone that must have corrections; add must = true, or leave it out"),
    (ZONE + "must = true\nshare = 90", "siting.zones[1].share = 90: too large; give 0.01 to 1; write 0.9 for 90 %"),
    (ZONE + "weight = -1", "siting.zones[1].weight = -1: too small; give 0 to 1000; did you mean 1?"),
    (ZONE + 'layer = "x"', 'siting.zones[1].layer = "x": goes with siting.zones[1].file only; leave it out'),
    (ZONE + ZONE, 'siting.zones[2].name = "road": the name is taken by siting.zones[1]; give every entry a name of its own'),
    (ZONE + ZONE.replace("5001", "5021").replace("5002", "5022").replace("road", "far"), "siting.zones[2].coordinates = [[502100, 4200100], [502200, 4200100], [502200, 4200200]]: the zone lies outside the boundary altogether; check both, and job.crs"),
    (ALL + "weight = 0", "siting.zones: zones of weight 0 take up the whole job, so that nothing of it counts; give one of them a weight above 0, or make it smaller"),
    ('set_ups = "several"\n' + ZONE + "must = true\nweight = 0", "siting.zones[1].weight = 0: the zone is a must, and several set-ups are chosen by what has a weight; give it a weight above 0"),
    ('[[siting.zones]]\nname = "x"', 'siting.zones[1].file: missing; add either file or coordinates, for example file = "zones.gpkg"'),
    ('[[siting.lines]]\nname = "x"', 'siting.lines[1].file: missing; add, for example, file = "lines.gpkg"'),
    ('[[siting.lines]]\nname = "x"\nfile = "bare.shp"', 'siting.lines[1].file = "bare.shp": the file does not say its coordinate system; add crs = "EPSG:..." to siting.lines[1]'),
    ('[[siting.lines]]\nname = "x"\nfile = "bare.shp"\ncrs = "EPSG:32611"\nvoltage_kv = 1100', "siting.lines[1].clearance: missing: above 1000 kV there is no usual one; ask the line's owner and add it, such as clearance = 20"),
    ("fall_factor = 0.5", "siting.fall_factor = 0.5: too small; give 1 to 5"),
    ('exposure_limits = "icnirp"', 'siting.exposure_limits = "icnirp": not a word that goes here; write "icnirp-2020" or "fcc-1.1310"'),
    ("sky_blocked_share = 10", "siting.sky_blocked_share = 10: too large; give 0 to 1; write 0.1 for 10 %"),
    ("track_distance = 50", 'siting.track_file: missing; it goes with track_distance; add, for example, track_file = "tracks.gpkg"'),
    ("tolerance_mm = 8", "siting.tolerance_mm = 8: not above accuracy.horizontal_mm, 8 mm, which is the least beside the base; give more than 8, or the receivers' own horizontal_mm"),
    ('set_ups = "repeater"', 'siting.set_ups = "repeater": not a word that goes here; did you mean "repeaters"? (there is "one", "several", "corridor" or "repeaters")'),
    ("most_set_ups = 0", "siting.most_set_ups = 0: too small; give 1 to 50"),
    ("cases = 20000", "siting.cases = 20000: too large; give 0 to 10000"),
    ("seed = 1.5", "siting.seed = 1.5: a whole number is wanted; write seed = 1"),
    ("zone = 3", "siting.zone = 3: unknown key; did you mean zones?"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "line"), FAULTS, ids=[one[1][:45] for one in FAULTS])
def test_a_fault_names_entry_key_and_cure(siting_job, text, line):
    (siting_job.folder / "p.csv").write_text("name,easting,northing\nridge,500700,4200500\n")
    (siting_job.folder / "twin.csv").write_text("name,easting,northing\nB2,500900,4200900\n")
    if "dots" in text:
        save(siting_job, "dots.gpkg", [shapely.Point(500500, 4200500)])
    if "may" in text:
        save(siting_job, "may.gpkg", [shapely.box(500100, 4200100, 500300, 4200200)])
    if "bare" in text:
        save(siting_job, "bare.shp", [shapely.LineString([(500000, 4200000), (500500, 4200500)])])
        (siting_job.folder / "bare.prj").unlink()
    lines = siting_job.faults(siting_job.text() + SECTION + text + "\n")
    assert lines[0] == line
    assert lines == [line] or "p.csv" in line


def test_names_without_a_control_file_are_a_fault_of_their_own(job):
    text = '[siting]\ncontrol_names = ["B1"]\n'
    assert job.faults(job.text() + text) == [
        'siting.control_names = ["B1"]: there is no [control] in this job; add [control] with file = "control.csv", or leave it out'
    ]


def test_an_unreadable_control_file_is_told_once(siting_job):
    (siting_job.folder / "control.csv").write_text("")
    lines = siting_job.faults(siting_job.text() + SECTION + 'control_names = ["B1"]\nknown_control = true')
    assert len(lines) == 1
    assert lines[0].startswith('control.file = "control.csv": the file is empty')


def test_faults_of_the_section_come_with_those_of_the_rest_of_the_job(siting_job):
    lines = siting_job.faults(
        siting_job.text(job__crs='"EPSG:0"', radio__power_w=None, units__length='"yard"')
        + SECTION
        + 'grid_file = "none.gpkg"\ngrid_spacing = 0\ncontrol_names = ["B9"]\n'
    )
    assert [line.split(" = ")[0].split(": ")[0] for line in lines] == [
        "job.crs", "radio.power_w", "units.length", "siting.grid_file", "siting.grid_spacing", "siting.control_names[1]",
    ]  # fmt: skip


def test_the_starter_names_every_word_that_may_be_chosen():
    section = starter_text().partition("# [siting]")[2]
    assert all(f'"{word}"' in section for word in (*CRITERIA, *MODES, *LIMITS))


ZONE = """
[[siting.zones]]
name = "road"
coordinates = [[500100, 4200100], [500900, 4200100], [500900, 4200300]]
"""


def test_a_zone_says_who_relies_on_corrections_and_how_fast_they_are(siting_job):
    (zone,) = read(siting_job, ZONE).siting.zones
    assert (zone.relies, zone.speed_km_h) == ("", None)
    (zone,) = read(siting_job, ZONE + 'relies = "machines"\nspeed_km_h = 6\n').siting.zones
    assert (zone.relies, zone.speed_km_h) == ("machines", 6.0)
    (zone,) = read(siting_job, ZONE + 'relies = "people"\n').siting.zones
    assert (zone.relies, zone.speed_km_h) == ("people", None)


@pytest.mark.parametrize(
    ("more", "line"),
    [
        (
            'relies = "machines"',
            "siting.zones[1].speed_km_h: missing: how long machines go without corrections follows from "
            "their speed; add it, such as speed_km_h = 6",
        ),
        (
            "speed_km_h = 6",
            "siting.zones[1].speed_km_h = 6: is the speed of those who rely on corrections in the zone, and "
            'nobody does; add relies = "machines" or relies = "people", or leave it out',
        ),
        ('relies = "machine"\nspeed_km_h = 6', 'siting.zones[1].relies = "machine": '),
        ('relies = "people"\nspeed_km_h = 0', "siting.zones[1].speed_km_h = 0: "),
    ],
)
def test_faults_of_who_relies_on_corrections(siting_job, more, line):
    with pytest.raises(JobFileError) as caught:
        read(siting_job, f"{ZONE}{more}\n")
    (fault,) = str(caught.value).splitlines()
    assert line in fault


def test_the_safety_section(job):
    assert job.plan().safety == SafetyWishes(None, None, None, 10.0, True)
    text = "[safety]\nantenna_length = 5\npublic_limit_w_m2 = 1\nworker_limit_w_m2 = 4\nage_limit_s = 5\n"
    units = {"units__length": '"foot"'}
    wishes = read_plan(job.write(job.text(**units) + text)).safety
    assert wishes == SafetyWishes(pytest.approx(1.524), 1.0, 4.0, 5.0, False)
    with pytest.raises(JobFileError, match="worker_limit_w_m2"):
        read_plan(job.write(job.text() + "[safety]\npublic_limit_w_m2 = 1\n"))
