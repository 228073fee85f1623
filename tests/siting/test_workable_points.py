"""Workable share of candidates beside whole studies of the same bases."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from linkplan import study
from linkplan.plan.model import Plan
from linkplan.siting.search import search
from linkplan.siting.together import with_candidate
from linkplan.workable import NO_CORRECTIONS, NO_SKY, WORKABLE

MakeJob = Callable[..., Plan]

SKY = """
[sky]
date = 2026-06-02
from = "08:00"
to = "12:00"
time_zone = "UTC"
step_min = 30
least_common = 14
rover_greatest_pdop = 2.0
"""
STRONG = ("sensitivity_dbm = -98.0", "sensitivity_dbm = -104.0")


def pit() -> np.ndarray:
    """Gentle ground with a trench of 100 m, 240 m wide, through the east of the job."""
    rows, columns = np.mgrid[0:60, 0:60]
    height_m = 400.0 + 3.0 * np.sin(rows / 5.0) * np.cos(columns / 4.0)
    height_m[:, 34:40] -= 100.0
    return height_m


def test_workable_shares_are_those_of_whole_studies(make_job: MakeJob) -> None:
    plan = make_job(
        'antenna_heights = [3.0]\ncases = 0\norder = ["workable"]\n' + SKY, STRONG, height_m=pit()
    )
    result = search(plan).result
    shares = []
    for one in result.judged:
        whole = study.run(with_candidate(plan, one))
        assert one.outcome is not None
        assert one.outcome.workable_share is not None
        shares.append(whole.workable.workable_share)
        # 800 points against all cells and a lattice for the sky: edges of the trench differ
        assert one.outcome.workable_share == pytest.approx(shares[-1], abs=0.045)
        assert one.outcome.workable_share <= one.outcome.covered_share + 0.02
        assert whole.workable.share(bit=NO_SKY) > 0.05, "the trench takes the sky"
    assert result.order[0] == "workable"
    assert result.winner is not None
    assert shares[result.winner.number - 1] >= max(shares) - 0.05


def test_without_sky_nothing_is_said_of_work(make_job: MakeJob) -> None:
    result = search(make_job("antenna_heights = [3.0]\ncases = 0\n")).result
    assert all(one.outcome is not None and one.outcome.workable_share is None for one in result.judged)


def test_a_zone_of_its_own_tolerance_is_too_far_sooner(make_job: MakeJob) -> None:
    zone = """\
[[siting.zones]]
name = "fine grading"
coordinates = [[501300.0, 4198100.0], [501900.0, 4198100.0], [501900.0, 4199300.0], [501300.0, 4199300.0]]
tolerance_mm = 8.5
"""
    plan = make_job("antenna_heights = [3.0]\ncases = 0\n" + zone + SKY, STRONG)
    first = next(one for one in search(plan).result.judged if one.candidate.place.name == "C1")
    workable = study.run(with_candidate(plan, first)).workable
    # 8 mm + 1 ppm: 8.5 mm at 500 m; C1 stands 600 m and more from the zone
    assert workable.baseline_limit_m is None
    reason = workable.reason[workable.inside]
    assert workable.share(bit=4) == pytest.approx(0.43, abs=0.03)  # 600 of 1400 m of the job's width
    assert first.outcome is not None
    assert first.outcome.workable_share == pytest.approx((reason == WORKABLE).mean(), abs=0.03)
    assert ((reason & NO_CORRECTIONS) > 0).any() or (reason == WORKABLE).any()
