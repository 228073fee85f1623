"""A recording against the job: nothing found where all agrees, and each difference found alone."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from dem_samples.rtcm_writer import frame, msm, reference_point
from linkplan.errors import RecordingError
from linkplan.evidence.captured import CaptureReport, compare_capture
from linkplan.gnss.rtcm_capture import read_capture
from linkplan.plan.model import Base, Plan
from linkplan.radio.stream import CorrectionStream, Message
from tests.coverage.conftest import EAST, NORTH
from tests.evidence.small_job import (
    ANTENNA_M,
    GEOID_M,
    GROUND_M,
    MESSAGES,
    changed,
    ecef,
    job,
    sent,
    with_messages,
)
from tests.gnss.recorded import gga


def compared(plan: Plan, *recorded: bytes, tolerance_m: float = 0.05) -> CaptureReport:
    return compare_capture(plan, read_capture("x", recorded), tolerance_m)


def found(report: CaptureReport) -> list[tuple[str, str]]:
    return [(one.severity, one.key) for one in report.findings if one.severity != "note"]


def test_a_recording_that_agrees() -> None:
    report = compared(job(), sent())
    assert found(report) == []
    assert report.agrees
    assert [one.key for one in report.findings] == ["base height"]  # heights cannot be judged, and it is said
    (point,) = report.base_points
    assert point.distance_m < 0.001
    assert point.nearest_control == "P1"
    assert point.ellipsoidal_height_m == pytest.approx(GROUND_M + GEOID_M + ANTENNA_M, abs=2e-4)
    assert point.height_over_job_m == pytest.approx(GEOID_M, abs=2e-4)
    assert {row.number: row.seen_bytes for row in report.messages}[1033] == 6 + 9 + sum(
        map(len, report.capture.antennas[0].text.texts)
    )
    assert report.planned_bytes_per_s is not None


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({"station": 32}, ("no link", "station id")),
        ({"left_out": [1006]}, ("no link", "message missing")),
        ({"left_out": [1033]}, ("wrong coordinates", "message missing")),
        ({"left_out": [1230]}, ("weaker", "message missing")),
        ({"left_out": [1084]}, ("weaker", "message missing")),
        ({"texts": ["OTHER ANTENNA", "1", "DEMO RECEIVER", "2", "3"]}, ("wrong coordinates", "antenna")),
        ({"point_every": 30}, ("weaker", "interval")),
        ({"kinds": [1075, 1084]}, ("weaker", "other message")),
        ({"satellites": 12}, ("weaker", "satellites")),
        ({"signals": [2]}, ("weaker", "signals")),
        ({"pause": range(31, 45)}, ("weaker", "gaps")),
        ({"extra": [frame(reference_point(1005, 31, ecef()))]}, ("weaker", "not planned")),
    ],
    ids=lambda value: str(value)[:40],
)  # fmt: skip
def test_each_difference_alone(change: dict, expected: tuple[str, str]) -> None:
    report = compared(job(), sent(**change))
    assert expected in found(report)
    # a message that takes more bytes may show in the sum too; nothing else may be claimed
    assert set(found(report)) <= {expected, ("weaker", "bytes")}
    assert not report.agrees
    for one in report.findings:
        assert one.what
        if one.severity != "note":
            assert one.crew_sees
            assert one.to_do


def test_1005_in_place_of_1006_is_a_note() -> None:
    report = compared(job(), sent(point_number=1005))
    assert report.agrees
    assert "other message" in [one.key for one in report.findings]


def test_all_observations_missing_is_no_link() -> None:
    report = compared(job(), sent(left_out=[1074, 1084]))
    assert found(report).count(("no link", "message missing")) == 2


@pytest.mark.parametrize(("east_m", "north_m"), [(0.06, 0.0), (-1.2, 0.7), (25.0, -3.0), (-4000.0, 900.0)])
def test_a_base_point_that_is_off(east_m: float, north_m: float) -> None:
    report = compared(job(), sent(point=ecef(east_m, north_m)))
    assert found(report) == [("wrong coordinates", "base point")]
    (point,) = report.base_points
    assert point.easting_off == pytest.approx(east_m, abs=0.001)
    assert point.northing_off == pytest.approx(north_m, abs=0.001)
    # true metres: the scale of the job's grid is 0.9996 here
    assert point.distance_m == pytest.approx(math.hypot(east_m, north_m) / 0.9996, rel=1e-3, abs=0.001)
    assert f"{point.distance_m:.3f}" in report.findings[0].what or "km" in report.findings[0].what


def test_the_tolerance_is_the_users() -> None:
    recorded = sent(point=ecef(0.3))
    assert not compared(job(), recorded, tolerance_m=0.2).agrees
    assert compared(job(), recorded, tolerance_m=0.4).agrees


def test_another_control_point_is_named() -> None:
    report = compared(job(), sent(point=ecef(240.0, -310.0)))
    assert report.base_points[0].nearest_control == "P2"
    assert "P2" in report.findings[0].to_do


@pytest.mark.parametrize("point", [(0.0, 0.0, 0.0), (1.0, 2.0, 3.0), (9e6, 0.0, 0.0)])
def test_a_point_that_is_nowhere(point: tuple[float, float, float]) -> None:
    report = compared(job(), sent(point=point))
    assert ("wrong coordinates", "base point") in found(report)
    assert report.base_points == ()


def test_a_point_on_the_other_side_of_the_earth() -> None:
    x, y, z = ecef()
    report = compared(job(), sent(point=(-x, -y, -z)))
    assert ("wrong coordinates", "base point") in found(report)


def test_feet_taken_for_metres_show_in_the_height() -> None:
    # 1000 m of ground entered as 3281 m
    ground = replace(job().base, height_m=1000.0)
    report = compared(job(base=ground), sent(point=ecef(up_m=3281.0 - GROUND_M)))
    assert found(report) == [("wrong coordinates", "base height")]
    unknown = replace(job().base, height_m=None)
    assert found(compared(job(base=unknown), sent(point=ecef(up_m=3000.0)))) == []


def test_two_bases_on_the_frequency() -> None:
    report = compared(job(), sent(60), sent(60, station=77, point=ecef(3000.0)))
    assert ("wrong coordinates", "station id") in found(report)
    assert ("wrong coordinates", "base point") in found(report)
    # time jumps between the two, which is no pause of either
    assert ("weaker", "gaps") not in found(report)


def test_damage_is_a_note_when_rare_and_weaker_when_not() -> None:
    clean = sent(60)
    hit = frame(msm(1074, 31, 0, [1, 2], [2]))
    hit = hit[:30] + bytes([hit[30] ^ 1]) + hit[31:]
    rare = [one for one in compared(job(), clean, hit, clean).findings if one.key == "damaged frames"]
    often = [one for one in compared(job(), clean, hit * 9, clean).findings if one.key == "damaged frames"]
    assert [one.severity for one in rare + often] == ["note", "weaker"]


def test_a_short_recording_judges_only_what_it_can() -> None:
    report = compared(job(), sent(15, left_out=[1230, 1033]))
    assert report.agrees
    assert [one.key for one in report.findings].count("message not seen") == 2
    nothing = compared(job(), sent(1))
    assert not nothing.agrees
    assert ("weaker", "too short") in found(nothing)


def test_what_the_job_does_not_state_is_not_judged() -> None:
    report = compared(job(corrections=None), sent(station=99))
    assert found(report) == []
    assert {"station id", "messages"} <= {one.key for one in report.findings}
    assert report.planned_bytes_per_s is None
    only_messages = compared(job(corrections=CorrectionStream(None, MESSAGES, None, None)), sent(station=99))
    assert found(only_messages) == []
    no_point = compared(job(corrections=None), sent(left_out=[1006]))
    assert found(no_point) == [("no link", "base point")]


def test_planned_bytes_are_those_of_the_layouts() -> None:
    # 1074 of 10 satellites and 2 signals: 173 bytes, 1006: 27, 1230 of 4 biases: 18
    plan = with_messages(
        Message(1074, 1.0, satellites=10, signals=2), Message(1006, 10.0), Message(1230, 30.0, biases=4)
    )
    report = compared(plan, sent(left_out=[1084, 1033], satellites=10))
    assert report.planned_bytes_per_s == pytest.approx(173 + 2.7 + 0.6)
    assert report.bytes_per_s == pytest.approx(173 + 2.7 + 0.6, rel=0.01)
    assert report.agrees
    unknown = with_messages(*plan.corrections.messages, Message(4090, 60.0, payload_bytes=None))
    assert compared(unknown, sent()).planned_bytes_per_s is None


def test_an_interval_within_the_clocks_step_is_no_difference() -> None:
    # 1006 has no time of its own: with an epoch a second it is known to a second only
    assert compared(changed(1006, interval_s=9.2), sent()).agrees
    assert not compared(changed(1006, interval_s=5.0), sent()).agrees


def test_a_base_in_degrees() -> None:
    from pyproj import CRS, Transformer
    from shapely import box

    move = Transformer.from_crs(job().crs, "EPSG:4326", always_xy=True)
    longitude, latitude = move.transform(EAST, NORTH)
    area = box(longitude - 0.01, latitude - 0.01, longitude + 0.01, latitude + 0.01)
    plan = job(
        crs=CRS("EPSG:4326"),
        base=Base("P1", longitude, latitude, None, 10.0),
        boundary=area,
        control_points=(),
    )
    assert compared(plan, sent()).agrees
    off = compared(plan, sent(point=ecef(2.0)))
    assert off.base_points[0].distance_m == pytest.approx(2.0 / 0.9996, abs=0.002)
    assert "longitude" in off.findings[0].what


def test_something_else_is_no_recording() -> None:
    for pieces in ([], [b"nothing at all"], [gga(1) * 50], [gga(1) * 50, sent(1, left_out=[1074, 1084])]):
        with pytest.raises(RecordingError) as caught:
            compared(job(), *pieces)
        assert "\n" not in str(caught.value)
    assert "linkplan rover" in str(caught.value)


@pytest.mark.parametrize(
    ("code", "longitude", "latitude"), [("EPSG:2227", -121.0, 37.5), ("EPSG:27700", -1.5, 52.0)]
)
def test_another_datum_is_said_and_feet_are_shown(code: str, longitude: float, latitude: float) -> None:
    from pyproj import CRS, Transformer
    from shapely import box

    crs = CRS(code)
    easting, northing = Transformer.from_crs("EPSG:4326", crs, always_xy=True).transform(longitude, latitude)
    area = box(easting - 900, northing - 900, easting + 900, northing + 900)
    plan = job(crs=crs, base=Base("P1", easting, northing, None, 10.0), boundary=area, control_points=())
    to_ecef = Transformer.from_crs("EPSG:4979", "EPSG:4978", always_xy=True)
    report = compared(plan, sent(point=to_ecef.transform(longitude, latitude, 100.0)))
    assert report.agrees
    assert "datum" in [one.key for one in report.findings]
    assert "until" not in report.base_points[0].path
    # 0.00001 degrees of longitude are 0.88 m here, 2.9 ft
    off = compared(plan, sent(point=to_ecef.transform(longitude + 1e-5, latitude, 100.0)))
    if code == "EPSG:2227":
        assert "E +2.90" in off.findings[0].what
        assert " ft" in off.findings[0].what
        assert off.base_points[0].distance_m == pytest.approx(0.884, abs=0.002)
