"""Mast, lines and fence by hand; the rules that a job can break; siting asks for the same distances."""

from __future__ import annotations

import re

import pytest
from shapely import LineString, MultiLineString, box

from linkplan.plan.siting_model import OverheadLine, SitingRules
from linkplan.safety.cautions import CAUTIONS, WHAT_TO_DO
from linkplan.safety.check import check_safety
from linkplan.siting import rules as siting_rules
from linkplan.tables.exposure import PUBLIC
from tests.safety.test_field import FRAME, plan_of
from tests.safety.test_gaps import siting_of


def line(away_m: float, voltage_kv: float | None, clearance_m: float | None = None) -> OverheadLine:
    """Due north and south, so many true metres east of the base."""
    shape = FRAME.geometry_to_job(LineString([(away_m, -300.0), (away_m, 300.0)]))
    return OverheadLine(f"line at {away_m:g} m", MultiLineString([shape]), voltage_kv, clearance_m)


def answer_of(rules: SitingRules, **changes: object):
    return check_safety(plan_of(siting=siting_of(rules=rules), **changes))


def test_mast_by_hand():
    # 5 m up: falls within 1.5 x 5 m, guys 0.6 and 0.8 of 5 m away (common practice)
    mast = check_safety(plan_of()).mast
    assert (mast.height_m, mast.fall_radius_m, mast.guy_anchors_m) == (5.0, 7.5, (3.0, 4.0))
    assert mast.lines == ()
    assert answer_of(SitingRules(fall_factor=2.0)).mast.fall_radius_m == 10.0


@pytest.mark.parametrize(
    ("voltage_kv", "clearance_m", "basis", "wanted_m"),
    [
        # 29 CFR 1926.1408, table A: 15 ft over 50 to 200 kV, 10 ft up to 50 kV; 45 ft where nobody knows
        (110.0, None, "voltage", 7.5 + 4.572),
        (20.0, None, "voltage", 7.5 + 3.048),
        (None, None, "unknown voltage", 7.5 + 13.716),
        (110.0, 6.0, "stated", 13.5),
    ],
)
def test_lines_by_hand(voltage_kv, clearance_m, basis, wanted_m):
    near, far = line(wanted_m - 0.01, voltage_kv, clearance_m), line(wanted_m + 0.01, voltage_kv, clearance_m)
    answer = answer_of(SitingRules(lines=(near, far)))
    assert [one.wanted_m for one in answer.mast.lines] == pytest.approx([wanted_m, wanted_m])
    assert [one.distance_m for one in answer.mast.lines] == pytest.approx(
        [wanted_m - 0.01, wanted_m + 0.01], abs=2e-3
    )
    assert [one.basis for one in answer.mast.lines] == [basis, basis]
    assert [(one.rule, one.held) for one in answer.findings] == [
        ("overhead line", False),
        ("overhead line", True),
    ]
    assert not answer.held
    assert answer_of(SitingRules(lines=(far,))).held
    # siting rules out by the same distance
    assert siting_rules.line_distance_m(near, 5.0, 1.5) == pytest.approx(wanted_m)


def test_the_circle_and_the_fence():
    # 35 W into 5 dBi 5 m up: 1.0105 m on the ground by ICNIRP 2020 (tests/safety/test_field.py)
    fits = answer_of(SitingRules(fence_radius_m=1.02))
    assert fits.held
    assert [(one.rule, one.found, one.asked) for one in fits.findings] == [
        ("fence", pytest.approx(1.0105, abs=7e-4), 1.02)
    ]
    assert not answer_of(SitingRules(fence_radius_m=1.0)).held
    # by the other document nobody on the ground comes too near
    assert answer_of(SitingRules(fence_radius_m=0.1, exposure_limits="fcc-1.1310")).held
    # ground that can be fenced 0.9 m to the east: the smaller of the two counts
    ground = FRAME.geometry_to_job(box(-50.0, -50.0, 0.9, 50.0))
    room = answer_of(SitingRules(fence_radius_m=5.0, fenced=ground))
    assert room.fence_m == pytest.approx(0.9, abs=1e-3)
    assert not room.held
    outside = FRAME.geometry_to_job(box(10.0, 10.0, 20.0, 20.0))
    assert answer_of(SitingRules(fenced=outside)).fence_m == 0.0


def test_siting_finds_the_same_circle():
    plan = plan_of(siting=siting_of(rules=SitingRules()))
    found = check_safety(plan).exposure.figure(PUBLIC).keyed.ground_radius_m

    class Place:
        antenna = type("Named", (), {"antenna": plan.transmitter.antenna})
        power_dbm = plan.transmitter.power_dbm
        antenna_height_m = plan.base.antenna_height_m

    assert siting_rules.exposure_radius_m(plan, Place()) == pytest.approx(found)


def test_no_rule_no_finding():
    answer = check_safety(plan_of())
    assert (answer.findings, answer.held, answer.fence_m, answer.zones) == ((), True, None, ())


def test_every_caution_says_what_to_do_and_who_decides():
    assert {"field", "lines", "mast", "lightning", "battery", "lifting", "traffic", "heat", "cold"} <= set(
        CAUTIONS
    )
    assert set(WHAT_TO_DO) == {"machines", "people"}
    for key, caution in (*CAUTIONS.items(), *WHAT_TO_DO.items()):
        assert caution.hazard == key
        assert caution.what_to_do
        assert re.search(r"\bdecides?\b", caution.who_decides)
        for sentence in (*caution.what_to_do, caution.who_decides):
            assert sentence.endswith(".")
            assert not re.search(r"\bsafe\b", sentence)
    assert all(one.what_to_do[0].startswith("Stop rule") for one in WHAT_TO_DO.values())
