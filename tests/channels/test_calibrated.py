"""What field logs have taught, among unwanted signals: the wanted one has it, others where it is worse."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from linkplan.channels import power
from linkplan.channels.cells import job_cells
from linkplan.channels.levels import gather
from linkplan.channels.stations import own_stations
from linkplan.plan.calibration import Calibration
from linkplan.plan.model import Base, FurtherBase
from linkplan.radio.licence import OtherTransmitter


def learned(offset_db):
    return Calibration(offset_db, 6.0, date(2026, 5, 13), 1, 900, 200, 12)


@pytest.mark.parametrize(("offset_db", "unwanted_db"), [(-4.0, 0.0), (3.0, 3.0)])
def test_an_offset_never_makes_the_unwanted_weaker(rolling_plan, offset_db, unwanted_db):
    east, north = rolling_plan.base.easting, rolling_plan.base.northing
    other = OtherTransmitter(1, "other", east + 3000.0, north, 461.05, 12.5, 5.0, False, 10.0, False)
    second = FurtherBase(Base("B", east + 700.0, north, None, 6.0), 33.0, None, None)
    plan = replace(rolling_plan, bases=(second,), others=(other,))

    def case_of(plan):
        stations = own_stations(plan)
        return gather(plan, stations, job_cells(stations, lambda _: None), lambda _: None).case

    before, after = case_of(plan), case_of(replace(plan, calibration=learned(offset_db)))
    assert np.allclose(after.wanted_dbm - before.wanted_dbm, offset_db, atol=1e-4)
    for name in ("own_dbm", "other_dbm"):
        assert np.allclose(getattr(after, name) - getattr(before, name), unwanted_db, atol=1e-9)


@pytest.mark.parametrize(("offset_db", "counts"), [(-7.0, 0.0), (5.0, 5.0)])
def test_others_are_spared_as_if_nothing_made_it_weaker(rolling_plan, offset_db, counts):
    (plain,) = own_stations(rolling_plan)
    (calibrated,) = own_stations(replace(rolling_plan, calibration=learned(offset_db)))
    assert power.spill(calibrated, -95.0, None) == power.spill(plain, -95.0 - counts, None)
