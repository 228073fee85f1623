"""What breaks the licence: every clause alone, named by its key, and nothing where all is kept."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
import shapely

from linkplan.channels.clauses import breaches, licence_notes
from linkplan.channels.stations import own_stations
from linkplan.plan.model import Base, FurtherBase
from linkplan.radio.licence import Licence, LicenceArea, LicensedChannel

EAST, NORTH = 500_000.0, 4_500_000.0
TODAY = date(2026, 11, 25)

# met to the letter: the plain job radiates 2 W ERP (3.281 W EIRP) from 6 m and fills 11.25 kHz
KEPT = Licence(
    channels=(
        LicensedChannel("licence.channels[1]", "D1", 461.05, 12.5),
        LicensedChannel("licence.channels[2]", "D2", 461.075, 12.5),
    ),
    erp_limit_w=2.0,
    antenna_height_limit_m=6.0,
    authorised_bandwidth_khz=11.25,
    area=LicenceArea("licence.area_radius", centre=(EAST + 3000.0, NORTH + 4000.0), radius_m=5005.0),
    call_sign="DEMO-1",
    identification_interval_s=900.0,
    expires=TODAY,
)


def found(plan, **licence):
    plan = replace(plan, licence=replace(KEPT, **licence), identification_interval_s=900.0)
    return breaches(plan, own_stations(plan), TODAY)


def test_limits_met_to_the_letter_are_met(make_plan):
    assert found(make_plan()) == ()


CLAUSES = [
    ({"expires": date(2026, 11, 24)}, "licence.expires", "2026-11-24", "ended by 2026-11-25"),
    ({"erp_limit_w": 1.99}, "licence.erp_limit_w", "1.99", "radiates 2 W ERP"),
    # 2 W over a half-wave dipole of 2.15 dBi: 2 x 10^0.215 = 3.281 W
    ({"eirp_limit_w": 3.28}, "licence.eirp_limit_w", "3.28", "radiates 3.28 W EIRP"),
    ({"antenna_height_limit_m": 5.9}, "licence.antenna_height_limit", "5.9", "the antenna stands 6 above"),
    ({"authorised_bandwidth_khz": 6.0}, "licence.authorised_bandwidth_khz", "6", "fills 11.25 kHz"),
    (
        # 3 km east and 4 km north are 5 km on the grid, whose scale is 0.9996 on the central meridian
        {"area": LicenceArea("licence.area_radius", centre=(EAST + 3000.0, NORTH + 4000.0), radius_m=4990.0)},
        "licence.area_radius", "4990", "stands 500",
    ),
    (
        {"area": LicenceArea("licence.area_file", polygon=shapely.box(EAST + 1, NORTH, EAST + 9, NORTH + 9))},
        "licence.area_file", "a polygon", "stands outside the area",
    ),
    ({"identification_interval_s": 600.0}, "licence.identification_interval_min", "10", "every 15 minutes"),
    ({"call_sign": ""}, "licence.identification_interval_min", "15", "no licence.call_sign"),
    (
        {"channels": (LicensedChannel("licence.channels[1]", "D2", 461.0625, 12.5),)},
        "licence.channels", "461.0625", "461.05 MHz, which is none of the permitted",
    ),
    (
        {"channels": (LicensedChannel("licence.channels[1]", "D1", 461.05, 6.25),)},
        "licence.channels[1].spacing_khz", "6.25", "a channel of 6.25 kHz",
    ),
    (
        {"channels": (LicensedChannel("licence.channels[1]", "D1", 461.05, 12.5, erp_limit_w=0.5),)},
        "licence.channels[1].erp_limit_w", "0.5", "radiates 2 W ERP",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("licence", "clause", "stands", "problem"), CLAUSES, ids=[one[1] for one in CLAUSES])
def test_each_clause_alone_is_named(make_plan, licence, clause, stands, problem):
    broken = found(make_plan(), **licence)
    assert [(one.clause, one.stands) for one in broken] == [(clause, stands)]
    assert problem in broken[0].problem


def test_every_base_answers_for_itself(make_plan):
    second = FurtherBase(Base("B", EAST + 400.0, NORTH, None, 7.0), 34.0, 461.075, None)
    third = FurtherBase(Base("C", EAST + 800.0, NORTH, None, 5.0), 30.0, None, None)
    broken = found(make_plan(bases=(second, third)))
    # 34 dBm is 2.51 W; the third states no frequency, so none of it is judged
    assert [(one.who, one.clause) for one in broken] == [
        ("base B", "licence.erp_limit_w"),
        ("base B", "licence.antenna_height_limit"),
    ]


def test_limits_in_feet_are_shown_in_feet(make_plan):
    broken = found(make_plan(height_unit="foot"), antenna_height_limit_m=4.572)
    assert [(one.clause, one.stands) for one in broken] == [("licence.antenna_height_limit", "15")]
    assert "19.69" in broken[0].problem  # 6 m / 0.3048


def test_a_job_without_a_licence_claims_nothing(make_plan):
    plan = make_plan()
    assert breaches(plan, own_stations(plan), TODAY) == ()
    (note,) = licence_notes(plan, TODAY)
    assert "nothing shows that these transmissions are permitted" in note


def test_what_the_licence_does_not_state_is_said(make_plan):
    plan = make_plan(licence=Licence(channels=KEPT.channels))
    notes = " ".join(licence_notes(plan, TODAY))
    for words in ("licence.expires is not stated", "no limit of radiated power", "state no area"):
        assert words in notes
    soon = replace(plan, licence=replace(KEPT, expires=date(2026, 12, 20)))
    assert any("ends soon, on 2026-12-20" in note for note in licence_notes(soon, TODAY))
    assert any("Send the call sign DEMO-1 every 15 minutes" in note for note in licence_notes(soon, TODAY))
