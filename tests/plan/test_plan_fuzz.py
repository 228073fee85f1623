# ruff: noqa: E501
"""Whatever is done to a job file, the reader answers with a plan or with faults, never with a crash."""

from __future__ import annotations

import string

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linkplan.errors import JobFileError
from linkplan.plan.model import Plan
from linkplan.plan.reader import read_plan
from linkplan.plan.starter import starter_text

FUZZ = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])

# What may stand where a value stood: other types, other sizes, text that some library could stumble over.
VALUES = st.one_of(
    st.sampled_from(
        [
            "true", "nan", "-inf", "0", "-1", "1e308", "-1e-320", "0x" + "f" * 300, "9" * 400, '""', "[]", "{}", "[[]]",
            "[[[1]]]", "2026-05-01", "2026-03-08", "9999-12-31", "07:00:00", '"02:30"', '"UTC"', '"Europe/Berlin"', '"+01:00"', "[[10, 5], [5, 5], [1, 5]]", '"."', '"../.."', '"/"', '"*"', '"**"', '"["', '"\\u0000"', '"~"',
            '"/dev/null"', "[1, 2]", "[nan, 1]", "[1e300, 1e300]", '["dem.tif"]', '["**/*"]', '["[", "*"]', "{ a = 1 }",
            "{ 1 = { name = 1, height = [] } }", '"EPSG:4326"', '"EPSG:5773"', '"EPSG:4978"', '"+proj=utm"',
            '"+init=epsg:32611"', '"+proj=longlat +pm=paris"', '"urn:ogc:def:crs:EPSG::3413"', '"IAU_2015:49900"',
            '"LOCAL_CS[\\"x\\"]"', '"{}"', '"CP1"', '"foot"', "[[0, 0], [1, 0], [1, 1]]",
            "[[0, 0], [1e-300, 0], [0, 1e-300]]", "[[-117, 38], [-116, 38], [-117, 39]]",
            "[[1e9, 1e9], [0, 1e9], [-1e9, -1e9]]", "[[0,0],[0,0],[0,0]]", "[[5e5, 4.2e6], [5e5, 4.2e6], [6e5, 4.3e6]]",
        ]
    ),
    st.floats().map(repr),
    st.integers().map(str),
    st.text(string.ascii_letters + string.digits + " .:+=/*?[]-", max_size=30).map(lambda text: f'"{text}"'),
)  # fmt: skip


def answer(path):
    """Read a job: a Plan, or faults that each print as one line."""
    try:
        plan = read_plan(path)
    except JobFileError as error:
        fault_lines = str(error).split("\n")
        count = len(error.faults)
    else:
        assert isinstance(plan, Plan)
        return plan
    assert count == len(fault_lines) > 0
    assert all(line.isprintable() for line in fault_lines)
    return fault_lines


def base_lines(job):
    (job.folder / "terrain").mkdir(exist_ok=True)
    (job.folder / "terrain" / "dem.tif").touch()
    (job.folder / "control.csv").write_text("name,easting,northing,height\nCP1,500200,4200300,400\n")
    (job.folder / "clutter.tif").touch()
    kept = [line for line in starter_text().splitlines() if line and not line.startswith("#")]
    extra = [
        "[control]", 'file = "control.csv"',
        "[clutter]", 'file = "clutter.tif"', 'classes = { 1 = { name = "trees", height = 9 } }',
        "[siting]", 'control_names = ["CP1"]', "antenna_heights = [3, 5]", "powers_w = [2, 10]", 'order = ["goal"]',
        "known_control = true", "tolerance_mm = 20", 'set_ups = "several"', "most_set_ups = 2", "cases = 10",
        "[[siting.zones]]", 'name = "road"', "coordinates = [[500100, 4200100], [500200, 4200100], [500200, 4200200]]",
        "must = true", "share = 0.9", "tolerance_mm = 15",
        "[sky]", "date = 2026-12-01", 'from = "07:00"', 'to = "17:00"', 'time_zone = "America/Denver"',
        'systems = ["GPS", "Galileo"]', "obstructions = [[100, 0], [120, 15]]", "least_satellites = 6",
        "[accuracy]", "horizontal_mm = 8", "tolerance_mm = 20",
        "[occupation]", 'method = "known"', 'measured = "slant"', "height = 1.874", "antenna_radius_mm = 173", "mark_above_arp_mm = 64",
        "radio_above_arp = 3.2",
        "[[occupation.checks]]", "position = [500200, 4200300]", 'method = "averaged"', "averaging_s = 60",
    ]  # fmt: skip
    return kept + extra


def test_the_lines_that_the_fuzz_starts_from_are_a_sound_job(job):
    assert isinstance(answer(job.write("\n".join(base_lines(job)))), Plan)


@FUZZ
@given(data=st.data())
def test_lines_taken_away_doubled_and_moved(job, data):
    lines = base_lines(job)
    for _ in range(data.draw(st.integers(1, 4))):
        here = data.draw(st.integers(0, len(lines) - 1))
        there = data.draw(st.integers(0, len(lines) - 1))
        action = data.draw(st.sampled_from(["delete", "double", "swap"]))
        if action == "delete":
            del lines[here]
        elif action == "double":
            lines.insert(there, lines[here])
        else:
            lines[here], lines[there] = lines[there], lines[here]
    answer(job.write("\n".join(lines)))


@FUZZ
@given(data=st.data())
def test_values_of_any_type_and_size(job, data):
    lines = base_lines(job)
    settable = [index for index, line in enumerate(lines) if " = " in line]
    for index in data.draw(st.lists(st.sampled_from(settable), min_size=1, max_size=5, unique=True)):
        key = lines[index].partition(" = ")[0]
        lines[index] = f"{key} = {data.draw(VALUES)}"
    answer(job.write("\n".join(lines)))


@FUZZ
@given(
    at=st.integers(0, 4000),
    gone=st.integers(0, 40),
    new=st.one_of(st.binary(max_size=40), st.text(max_size=20)),
)
def test_bytes_thrown_in(job, at, gone, new):
    content = "\n".join(base_lines(job)).encode()
    put = new if isinstance(new, bytes) else new.encode("utf-8", "surrogatepass")
    answer(job.write(content[:at] + put + content[at + gone :]))


@FUZZ
@given(
    at=st.integers(0, 60),
    gone=st.integers(0, 20),
    new=st.one_of(st.binary(max_size=10), st.text(max_size=10)),
)
def test_control_points_with_bytes_thrown_in(job, at, gone, new):
    text = "\n".join(base_lines(job))
    content = (job.folder / "control.csv").read_bytes()
    put = new if isinstance(new, bytes) else new.encode("utf-8", "surrogatepass")
    (job.folder / "control.csv").write_bytes(content[:at] + put + content[at + gone :])
    answer(job.write(text))


@settings(FUZZ, max_examples=60)
@given(
    at=st.integers(0, 500),
    gone=st.integers(0, 30),
    new=st.one_of(st.binary(max_size=10), st.text(max_size=10)),
)
def test_boundary_files_with_bytes_thrown_in(job, at, gone, new):
    whole = (
        b'{"type": "FeatureCollection", "crs": {"type": "name", "properties": {"name": "EPSG:32611"}}, "features": '
        b'[{"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": '
        b"[[[500000, 4200000], [501000, 4200000], [501000, 4201000], [500000, 4200000]]]}}]}"
    )
    put = new if isinstance(new, bytes) else new.encode("utf-8", "surrogatepass")
    (job.folder / "limit.geojson").write_bytes(whole[:at] + put + whole[at + gone :])
    answer(job.write(job.text(boundary__coordinates=None, boundary__file='"limit.geojson"')))
