"""A search over a job with learned values: the numbers of `cover`, and nothing of an earlier run taken up."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np

from linkplan import study
from linkplan.plan.calibration import Calibration
from linkplan.plan.model import Plan
from linkplan.siting.search import search
from linkplan.siting.together import with_candidate
from linkplan.siting.workload import Effort
from tests.siting.conftest import SIDE, write_raster

CLUTTER = """[clutter]
file = "classes.tif"
[clutter.classes]
1 = { name = "open", height = 0 }
2 = { name = "trees", height = 6 }
[base]
"""
LEARNED = Calibration(-3.0, 4.0, date(2026, 5, 13), 1, 900, 200, 12, {2: -4.0})


def test_learned_values_count_in_every_place_and_in_what_is_kept(
    make_job: Callable[..., Plan], tmp_path: Path
) -> None:
    rows, columns = np.mgrid[:SIDE, :SIDE]
    write_raster(tmp_path / "classes.tif", np.where((rows // 6 + columns // 5) % 3 == 0, 2, 1))
    plan = make_job("antenna_heights = [3.0]\ncases = 10\n", ("[base]\n", CLUTTER))
    calibrated = replace(plan, calibration=LEARNED)
    effort = Effort(kept=tmp_path / "kept")
    before, after = (search(one, effort).result for one in (plan, calibrated))
    for one in after.judged:
        summary = study.run(with_candidate(calibrated, one)).summary
        assert one.outcome is not None
        assert summary.worst is not None
        assert one.outcome.covered_share == summary.covered_share
        assert one.outcome.worst_margin_db == summary.worst.margin_db
    assert (before.kept, after.kept) == (0, 0)
    assert all(b.outcome != a.outcome for b, a in zip(before.judged, after.judged, strict=True))
    # when and from how many logs does not matter to the numbers
    later = replace(calibrated, calibration=replace(LEARNED, made=date(2026, 6, 1), logs=3))
    assert search(later, effort).result.computed == 0
    other = replace(calibrated, calibration=replace(LEARNED, class_offsets_db={2: -3.0}))
    assert search(other, effort).result.kept == 0
