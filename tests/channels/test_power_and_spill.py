"""Least power and spill against coverage computed anew at that power."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from linkplan.channels import power
from linkplan.channels.cells import job_cells
from linkplan.channels.stations import own_stations
from linkplan.plan.model import Base, FurtherBase, Goal


def with_less_power(plan, less_db):
    radio = plan.transmitter
    return replace(plan, transmitter=replace(radio, power_dbm=radio.power_dbm - less_db))


def quiet(_share):
    return None


@pytest.mark.parametrize("share", [0.6, 0.9, 1.0])
def test_the_least_power_just_covers_the_share(rolling_plan, share):
    plan = replace(rolling_plan, goal=Goal(0.95, None, share))
    cells = job_cells(own_stations(plan), quiet)
    less_db = power.reduction_db(cells, 0, share)
    assert less_db is not None
    for step_db, enough in ((-0.01, True), (0.02, False)):
        weaker = job_cells(own_stations(with_less_power(plan, less_db + step_db)), quiet)
        assert (power.covered_share(weaker, 0) >= share) is enough


def test_a_share_that_full_power_does_not_reach_has_no_least_power(rolling_plan):
    weak = with_less_power(rolling_plan, 45.0)
    cells = job_cells(own_stations(weak), quiet)
    assert power.covered_share(cells, 0) < 0.9
    assert power.reduction_db(cells, 0, 0.9) is None
    # beyond the baseline limit nothing is covered, whatever the power
    near = replace(rolling_plan, goal=Goal(0.95, 500.0, 0.9))
    assert power.reduction_db(job_cells(own_stations(near), quiet), 0, 0.9) is None


def test_cells_belong_to_the_strongest_base_or_to_one_for_the_whole_job(rolling_plan):
    east = rolling_plan.base.easting
    second = Base("B", east + 700.0, rolling_plan.base.northing, None, 6.0)
    plan = replace(rolling_plan, bases=(FurtherBase(second, 33.0, None, None),))
    cells = job_cells(own_stations(plan), quiet)
    assert (cells.served.sum(axis=0) == 1).all()
    mine = np.where(cells.served[0], cells.wanted_dbm[0], cells.wanted_dbm[1])
    assert (mine >= cells.wanted_dbm.max(axis=0) - 1e-6).all()
    whole = replace(plan, bases=(FurtherBase(replace(second, serves="job"), 33.0, None, None),))
    served = job_cells(own_stations(whole), quiet).served
    assert served[1].all()
    assert (served[0] == cells.served[0]).all()


def test_spill_with_less_power_is_the_spill_of_a_weaker_radio(rolling_plan):
    (station,) = own_stations(rolling_plan)
    (weaker,) = own_stations(with_less_power(rolling_plan, 7.0))
    both = power.spill(station, -95.0, 7.0)
    alone = power.spill(weaker, -95.0, None)
    assert alone.reduced_m2 is None
    assert both.reduced_m2 == pytest.approx(alone.full_m2, rel=2e-3)
    assert 0.0 < both.reduced_m2 < both.full_m2
    # the search is the job's square of 1.8 km with 10 km around it: 20.8 km x 20.8 km less the corners'
    # (4 - pi) 10^2 km2, less the job's own 3.24 km2: 415.9 - 3.2 + ... of which the terrain has 12 km x 12 km
    searched_km2 = 1.8**2 + 4 * 1.8 * 10.0 + np.pi * 10.0**2
    unknown_km2 = searched_km2 - 12.0**2
    assert both.unknown_m2 / 1e6 == pytest.approx(unknown_km2, rel=0.02)
    # everything known and outside the job is above a level that nothing falls under
    everything = power.spill(station, -400.0, None)
    assert everything.full_m2 / 1e6 == pytest.approx(12.0**2 - 1.8**2, rel=0.02)
