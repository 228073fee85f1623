# ruff: noqa: E501  -- the expected lines are shown as the user sees them
"""Boundaries, control points and antenna patterns from files: what they become, and each fault in them."""

from __future__ import annotations

import geopandas
import numpy as np
import pytest
import shapely
from pyproj import Transformer

FROM_FILE = {"boundary__coordinates": None, "boundary__file": '"limit.gpkg"'}
SQUARE = shapely.box(500000, 4200000, 501000, 4201000)


def frame(shapes, crs="EPSG:32611", **columns):
    return geopandas.GeoDataFrame(columns, geometry=list(shapes), crs=crs)


def test_several_polygons_are_joined(job):
    shapes = [
        SQUARE,
        shapely.box(501000, 4200000, 502000, 4201000),
        shapely.box(503000, 4200000, 503500, 4200500),
    ]
    frame(shapes).to_file(job.folder / "limit.gpkg")
    boundary = job.plan(**FROM_FILE).boundary
    assert boundary.geom_type == "MultiPolygon"
    assert boundary.area == pytest.approx(2e6 + 0.25e6, rel=1e-12)


@pytest.mark.parametrize("suffix", ["geojson", "shp", "gpkg", "fgb"])
def test_boundary_in_degrees_comes_in_the_jobs_system(job, suffix):
    degrees = frame([SQUARE]).to_crs("EPSG:4326")
    degrees.to_file(job.folder / f"limit.{suffix}")
    boundary = job.plan(boundary__coordinates=None, boundary__file=f'"limit.{suffix}"').boundary
    # To the 7 decimals of a degree that GeoJSON keeps: 1 cm.
    assert shapely.hausdorff_distance(boundary, SQUARE) < 0.02


def test_boundary_drawn_on_a_phone(job):
    degrees = shapely.get_coordinates(frame([SQUARE]).to_crs("EPSG:4326").geometry[0])
    corners = " ".join(f"{lon:.9f},{lat:.9f},0" for lon, lat in degrees)
    (job.folder / "limit.kml").write_text(
        '<?xml version="1.0" encoding="UTF-8"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark>'
        f"<Polygon><outerBoundaryIs><LinearRing><coordinates>{corners}</coordinates></LinearRing>"
        "</outerBoundaryIs></Polygon></Placemark></Document></kml>"
    )
    boundary = job.plan(boundary__coordinates=None, boundary__file='"limit.kml"').boundary
    assert shapely.hausdorff_distance(boundary, SQUARE) < 0.001


def test_boundary_in_another_datum_and_in_three_dimensions(job):
    raised = shapely.force_3d(SQUARE, 412.0)
    frame([raised]).to_crs("EPSG:26911").to_file(job.folder / "limit.gpkg")
    boundary = job.plan(**FROM_FILE, job__crs='"EPSG:32611+5773"').boundary
    assert not boundary.has_z
    assert shapely.hausdorff_distance(boundary, SQUARE) < 3.0


def test_file_without_a_system_needs_the_word_of_the_job(job):
    frame([SQUARE]).to_file(job.folder / "limit.shp")
    (job.folder / "limit.prj").unlink()
    change = {"boundary__coordinates": None, "boundary__file": '"limit.shp"'}
    assert job.faults(**change) == [
        'boundary.file = "limit.shp": the file does not say its coordinate system; add crs = "EPSG:..." to [boundary]'
    ]
    assert job.plan(**change, boundary__crs='"EPSG:32611"').boundary.equals(SQUARE)
    assert job.faults(**change, boundary__crs='"EPSG:0"') == [
        'boundary.crs = "EPSG:0": no coordinate system of this name is known; '
        'write an EPSG code such as "EPSG:32611" (UTM zone 11 north)'
    ]


def test_file_that_says_another_system_than_the_job(job):
    frame([SQUARE]).to_file(job.folder / "limit.gpkg")
    assert job.faults(**FROM_FILE, boundary__crs='"EPSG:4326"') == [
        'boundary.crs = "EPSG:4326": the file itself says WGS 84 / UTM zone 11N; leave this key out, or mend the file'
    ]


def test_layers_are_chosen_by_name(job):
    frame([SQUARE]).to_file(job.folder / "limit.gpkg", layer="limit_of_work")
    frame([shapely.Point(500000, 4200000)]).to_file(job.folder / "limit.gpkg", layer="pegs")
    assert job.faults(**FROM_FILE) == [
        'boundary.layer: missing, and the file has 2 layers; add layer = "limit_of_work" or "pegs"'
    ]
    assert job.faults(**FROM_FILE, boundary__layer='"limit_of_werk"') == [
        'boundary.layer = "limit_of_werk": no such layer in the file; did you mean "limit_of_work"? '
        '(there is "limit_of_work" or "pegs")'
    ]
    assert job.plan(**FROM_FILE, boundary__layer='"limit_of_work"').boundary.equals(SQUARE)
    assert job.faults(**FROM_FILE, boundary__layer='"pegs"') == [
        'boundary.file = "limit.gpkg": feature 1 is a Point; the boundary is made of polygons only; '
        "close lines into polygons, or choose another layer"
    ]


BOW_TIE = shapely.Polygon([(500000, 4200000), (501000, 4201000), (501000, 4200000), (500000, 4201000)])


@pytest.mark.parametrize(
    ("shapes", "crs", "problems"),
    [
        ([SQUARE, BOW_TIE], "EPSG:32611", ["feature 2 crosses itself at 500500, 4200500; mend it in the program that drew it"]),
        ([shapely.LineString([(500000, 4200000), (501000, 4201000)])], "EPSG:32611",
         ["feature 1 is a LineString; the boundary is made of polygons only; close lines into polygons, or choose another layer"]),
        ([shapely.Polygon([(500000, 4200000), (500500, 4200500), (501000, 4201000)])], "EPSG:32611",
         ["feature 1 has no area: its corners lie on one line; mend it in the program that drew it"]),
        ([None], "EPSG:32611", ["holds no polygon; draw the limit of the job as a polygon"]),
        ([], "EPSG:32611", ["holds no polygon; draw the limit of the job as a polygon"]),
        ([shapely.Polygon()], "EPSG:32611", ["holds no polygon; draw the limit of the job as a polygon"]),
        ([SQUARE], "EPSG:4326", ["cannot be brought into WGS 84 / UTM zone 11N; check job.crs and the file's own"]),
        ([shapely.box(-117, 46, -116.9, 46.1)], "EPSG:32611",
         ["looks like degrees, but the job's coordinates are in metres (WGS 84 / UTM zone 11N); give easting and northing of job.crs"]),
    ],
    ids=["bow tie", "line", "no area", "no shape", "empty layer", "empty polygon", "metres as degrees", "degrees as metres"],
)  # fmt: skip
def test_boundaries_that_will_not_do(job, shapes, crs, problems):
    geopandas.GeoDataFrame(geometry=shapes, crs=crs).to_file(job.folder / "limit.gpkg")
    assert job.faults(**FROM_FILE) == [f'boundary.file = "limit.gpkg": {problem}' for problem in problems]


def test_feature_without_a_shape_is_left_out_with_a_word(job):
    frame([None, SQUARE]).to_file(job.folder / "limit.gpkg")
    plan = job.plan(**FROM_FILE)
    assert plan.boundary.equals(SQUARE)
    assert plan.warnings == ("boundary.file: feature 1 has no shape and is left out",)


def test_faults_inside_a_file_come_with_those_of_the_job_file(job):
    frame([BOW_TIE]).to_file(job.folder / "limit.gpkg")
    lines = job.faults(**FROM_FILE, job__crs='"EPSG:0"', base__antenna_height="0", base__point='"CP9"')
    assert [line.split(" = ")[0] for line in lines] == [
        "job.crs",
        "boundary.file",
        "base.antenna_height",
        "base.point",
    ]


@pytest.mark.parametrize("suffix", ["gpkg", "shp", "geojson", "kml", "zip", "dxf", "xyz"])
@pytest.mark.parametrize("content", [b"", b"\x00\xff\x13 not a vector file \n" * 9], ids=["empty", "rubbish"])
def test_damaged_vector_files(job, suffix, content):
    (job.folder / f"limit.{suffix}").write_bytes(content)
    lines = job.faults(boundary__coordinates=None, boundary__file=f'"limit.{suffix}"')
    assert len(lines) == 1
    assert lines[0].startswith(f'boundary.file = "limit.{suffix}": ')


def test_what_a_driver_says_is_cut_to_what_helps(job):
    (job.folder / "limit.gpkg").write_bytes(b"no vector file")
    assert job.faults(**FROM_FILE) == [
        'boundary.file = "limit.gpkg": cannot be read as a vector file '
        "('limit.gpkg' not recognized as being in a supported file format)"
    ]


def test_control_points_far_outside_the_jobs_system(job):
    shapes = [shapely.Point(-117, 95), shapely.Point(-117, 38)]  # the first beyond the pole
    frame(shapes, name=["a", "b"], crs="EPSG:4326").to_file(job.folder / "pegs.gpkg")
    assert job.faults(control__file='"pegs.gpkg"') == [
        'control.file = "pegs.gpkg": feature 1 has no possible coordinates in job.crs'
    ]


def test_truncated_vector_file(job):
    frame([SQUARE] * 50).to_file(job.folder / "limit.gpkg")
    whole = (job.folder / "limit.gpkg").read_bytes()
    (job.folder / "limit.gpkg").write_bytes(whole[: len(whole) // 2])
    assert job.faults(**FROM_FILE)[0].startswith('boundary.file = "limit.gpkg": ')


def test_table_without_shapes_is_no_boundary(job):
    (job.folder / "limit.csv").write_text("a,b\n1,2\n")
    assert job.faults(boundary__coordinates=None, boundary__file='"limit.csv"') == [
        'boundary.file = "limit.csv": holds a table without shapes'
    ]


CONTROL = {"control__file": '"control.csv"', "base__position": None, "base__point": '"CP 1"'}
GOOD_CSV = "name,easting,northing,height,code\nCP 1,500100.5,4200200.25,1000,nail\nCP 2,500300,4200400,,\n"


def test_base_stands_on_a_point_of_a_csv(job):
    (job.folder / "control.csv").write_text(GOOD_CSV)
    plan = job.plan(**CONTROL, units__height='"foot"')
    assert (plan.base.name, plan.base.easting, plan.base.northing) == ("CP 1", 500100.5, 4200200.25)
    assert plan.base.height_m == pytest.approx(304.8, rel=1e-15)
    first, second = plan.control_points
    assert (first.name, first.code) == ("CP 1", "nail")
    assert (second.name, second.height_m, second.code) == ("CP 2", None, "")


def test_csv_columns_in_any_order_with_a_byte_order_mark(job):
    text = "\ufeffNorthing, Easting ,NAME\r\n4200200,500100,CP 1\r\n\r\n,,\r\n"
    (job.folder / "control.csv").write_bytes(text.encode())
    plan = job.plan(**CONTROL, base__height="411.5")
    assert [(point.easting, point.northing) for point in plan.control_points] == [(500100.0, 4200200.0)]
    assert plan.base.height_m == 411.5


def test_point_and_job_file_both_give_a_height(job):
    (job.folder / "control.csv").write_text(GOOD_CSV)
    assert job.faults(**CONTROL, base__height="400") == [
        "base.height = 400: the control point CP 1 has a height already; keep one of the two"
    ]


def test_unknown_point_suggests_the_nearest(job):
    (job.folder / "control.csv").write_text(GOOD_CSV)
    assert job.faults(**{**CONTROL, "base__point": '"CP1"'}) == [
        'base.point = "CP1": no control point of this name; did you mean "CP 1"? (there is "CP 1" or "CP 2")'
    ]
    assert job.faults(base__position=None, base__point='"CP1"') == [
        'base.point = "CP1": there is no [control] to find this point in; '
        'add [control] with file = "control.csv", or give base.position'
    ]


@pytest.mark.parametrize(
    ("text", "problems"),
    [
        ("", ["the file is empty; its first line is name,easting,northing,height,code"]),
        ("name,easting,northing\n", ["holds no point"]),
        ("name;easting;northing\nCP 1;5;6\n",
         ["the columns are not separated by commas; save it comma-separated; the first line is name,easting,northing,height,code"]),
        ("name,easting,northing,heigth\nCP 1,500100,4200200,1\n", ['unknown column "heigth"; did you mean height?']),
        ("name,easting,northing,easting\nCP 1,500100,4200200,1\n", ["the column easting is there twice"]),
        ("CP 1,500100,4200200\n", [
            'unknown column "cp 1"; the first line is name,easting,northing,height,code',
            'unknown column "500100"; the first line is name,easting,northing,height,code',
            'unknown column "4200200"; the first line is name,easting,northing,height,code',
            "no column name, easting, northing; the first line is name,easting,northing,height,code",
        ]),
        ("name,easting,northing\nCP 1,500100,4200200\nCP 2,5001OO,4200200\nCP 3,500100,\n", [
            'row 3, column easting = "5001OO" is not a number; write a plain number',
            "row 4, column northing is empty; write a plain number",
        ]),
        ("name,easting,northing\nCP 1,\"500100,5\",4200200\n",
         ['row 2, column easting = "500100,5" is not a number; write it with a decimal point']),
        ("name,easting,northing\nCP 1,nan,1_000\n", [
            'row 2, column easting = "nan" is not a number; write a plain number',
            'row 2, column northing = "1_000" is not a number; write a plain number',
        ]),
        ("name,easting,northing\nCP 1,500100,4200200,7\n", ["row 2 has 4 cells where the header has 3"]),
        ("name,easting,northing\n,500100,4200200\n", ["row 2, column name is empty; give every point a name"]),
        ("name,easting,northing\nCP 1,500100,4200200\nCP 1,500200,4200200\n",
         ['row 3: the name "CP 1" is taken by row 2; give every point a name of its own']),
        ("name,easting,northing,height\nCP 1,500100,4200200,20000\n",
         ["row 2: height 20000 is impossible; -500 to 9000 m is possible; heights are in units.height"]),
        ("name,easting,northing\nCP 1,500100,4200200000000\n",
         ["row 2: 500100, 4.2002e+12 are no possible coordinates"]),
        ("name,easting,northing\n\"CP 1,500100,4200200\n", ["row 2 is not comma-separated text (unexpected end of data)"]),
        ("name,easting,northing\nCP 1,-117.5,46.5\n",
         ["looks like degrees, but the job's coordinates are in metres (WGS 84 / UTM zone 11N); give easting and northing of job.crs"]),
    ],
)  # fmt: skip
def test_control_csv_faults_name_row_and_column(job, text, problems):
    (job.folder / "control.csv").write_text(text)
    assert job.faults(**CONTROL) == [f'control.file = "control.csv": {problem}' for problem in problems]


def test_csv_that_is_not_utf8(job):
    (job.folder / "control.csv").write_bytes("name,easting,northing\nKöln,1,2\n".encode("latin-1"))
    assert job.faults(**CONTROL) == [
        'control.file = "control.csv": not UTF-8 text: byte 0xF6 in row 2; save it as CSV UTF-8'
    ]


def test_many_faulty_rows_are_counted(job):
    rows = "".join(f"P{number},x,4200200\n" for number in range(100))
    (job.folder / "control.csv").write_text("name,easting,northing\n" + rows)
    lines = job.faults(**CONTROL)
    assert len(lines) == 21
    assert lines[-1] == 'control.file = "control.csv": and 80 more faults in this file'


def test_csv_takes_no_layer(job):
    (job.folder / "control.csv").write_text(GOOD_CSV)
    assert job.faults(**CONTROL, control__layer='"pegs"') == [
        'control.layer = "pegs": a CSV has no layer, and its coordinates are in job.crs; leave it out'
    ]


def test_base_stands_on_a_point_of_a_vector_file(job):
    shapes = [shapely.Point(500100, 4200200), shapely.Point(500300, 4200400, 7.0)]
    points = frame(shapes, Name=[1001.0, 1002.0], height=[np.nan, 410.25], code=["nail", None])
    points.to_crs("EPSG:4326").to_file(job.folder / "pegs.gpkg")
    change = {"control__file": '"pegs.gpkg"', "base__position": None, "base__point": '"1002"'}
    plan = job.plan(**change)
    expected = Transformer.from_crs(4326, 32611, always_xy=True).transform(
        *Transformer.from_crs(32611, 4326, always_xy=True).transform(500300, 4200400)
    )
    assert (plan.base.easting, plan.base.northing) == pytest.approx(expected, abs=1e-6)
    assert plan.base.height_m == 410.25
    assert [(p.name, p.height_m, p.code) for p in plan.control_points] == [
        ("1001", None, "nail"),
        ("1002", 410.25, ""),
    ]


@pytest.mark.parametrize(
    ("shapes", "columns", "problems"),
    [
        ([shapely.Point(500100, 4200200)], {"label": ["a"]},
         ["no attribute name among its attributes (label); name, height and code are read"]),
        ([SQUARE, None], {"name": ["a", "b"]},
         ["feature 1 is a Polygon; single points are wanted", "feature 2 has no shape; single points are wanted"]),
        ([shapely.Point(500100, 4200200)] * 3, {"name": ["a", "a", None]},
         ["feature 3: its name is empty; give every point a name",
          'feature 2: the name "a" is taken by feature 1; give every point a name of its own']),
        ([shapely.Point(500100, 4200200)], {"name": ["a"], "height": ["high"]},
         ['feature 1: its height "high" is not a number; write a plain number']),
    ],
)  # fmt: skip
def test_control_vector_faults(job, shapes, columns, problems):
    frame(shapes, **columns).to_file(job.folder / "pegs.gpkg")
    assert job.faults(control__file='"pegs.gpkg"') == [
        f'control.file = "pegs.gpkg": {problem}' for problem in problems
    ]


PATTERN = {"radio__antenna_pattern": '"whip.csv"'}


def test_antenna_pattern(job):
    (job.folder / "whip.csv").write_text("elevation_deg,relative_gain_db\n-90,-20\n0,0\n45,-6.5\n")
    pattern = job.plan(**PATTERN).transmitter.antenna.pattern
    assert pattern is not None
    assert pattern.elevation_deg == (-90.0, 0.0, 45.0)
    assert pattern.relative_gain_db == (-20.0, 0.0, -6.5)


@pytest.mark.parametrize(
    ("rows", "problems"),
    [
        ("0,0\n", ["fewer than two rows make no pattern"]),
        ("-91,0\n0,0\n", ["row 2: elevation_deg -91 is outside -90 to 90; 0 is the horizon, 90 straight up"]),
        ("0,0\n-10,-1\n", ["row 3: elevation_deg -10 follows 0; sort the rows so that elevations rise, each once"]),
        ("0,0\n0,-1\n", ["row 3: elevation_deg 0 follows 0; sort the rows so that elevations rise, each once"]),
        ("0,3\n10,0\n", ["row 2: relative_gain_db 3 is outside -200 to 0; the antenna's greatest gain is the 0, all else is below it"]),
        ("0,x\n10,0\n", ['row 2, column relative_gain_db = "x" is not a number; write a plain number']),
    ],
)  # fmt: skip
def test_antenna_pattern_faults(job, rows, problems):
    (job.folder / "whip.csv").write_text("elevation_deg,relative_gain_db\n" + rows)
    assert job.faults(**PATTERN) == [f'radio.antenna_pattern = "whip.csv": {problem}' for problem in problems]
