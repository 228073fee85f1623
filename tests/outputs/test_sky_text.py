"""The sky in words, JSON and table: every figure is the result's own."""

from __future__ import annotations

import csv
import io
import json
import re

import numpy as np
import pytest

from linkplan.outputs import formats
from linkplan.outputs.sky_folder import sky_csv, sky_object
from linkplan.outputs.sky_text import sky_text
from linkplan.outputs.sky_words import answer_line, duration, held_lines, limit_table, system_table
from linkplan.outputs.text import WIDTH
from linkplan.study import SkyStudy
from tests.outputs.sky_example import sky_study


@pytest.fixture(scope="module")
def sky(case: tuple) -> SkyStudy:
    return sky_study(case)


def flat(text: str) -> str:
    return " ".join(text.split())


def test_answer_says_hours_share_and_both_times(sky: SkyStudy) -> None:
    # held back: 09:00 and 09:30 stand for 08:45 to 09:45; the last time for 16:45 to 17:00
    line = answer_line(sky)
    assert line.startswith(
        "On 2026-12-01 the base holds corrections back for 1 h 15 min from 07:00 to 17:00 "
    )
    assert "America/Denver (14:00 to 00:00 on 2026-12-02 UTC)" in line
    assert formats.percent(sky.rovers.suffices_share) in line
    assert "(wanted: 40 % of it)" in line
    assert not sky.reached
    assert held_lines(sky) == [
        "08:45 to 09:45 America/Denver (15:45 to 16:45 UTC): 1 h",
        "16:45 to 17:00 America/Denver (23:45 to 00:00 on 2026-12-02 UTC): 15 min",
    ]


def test_typical_is_said_first_and_never_means_a_yes(case: tuple) -> None:
    calm = sky_study(case, held=False, typical=True)
    assert answer_line(calm).startswith("Typical, not for a date: the base never holds corrections back")
    assert calm.reached == (calm.rovers.suffices_share >= 0.4)
    assert "2026-12-01 the base" not in answer_line(calm)


def test_table_has_a_row_a_system_and_none_where_there_is_none(sky: SkyStudy) -> None:
    head, rows = system_table(sky)
    assert head[1:6] == ("satellites, fewest", "most", "worst PDOP", "HDOP", "VDOP")
    gps, galileo, together = rows
    counts = sky.base.systems[0].satellites
    assert gps == ("GPS", str(counts.min()), str(counts.max()), "4.2", "2.5", "3.4", "8 h 45 min")
    assert galileo[3:] == ("none", "none", "none", "all the time")
    assert together[3:] == ("none", "none", "none", "1 h 15 min")


def test_text_holds_every_part_within_the_width(sky: SkyStudy) -> None:
    text = sky_text(sky)
    assert max(map(len, text.splitlines())) <= WIDTH
    said = flat(text)
    rovers = sky.rovers
    at = rovers.worst_time
    share = formats.percent(float(rovers.enough[:, at].mean()))
    assert f"Worst time: 11:30 America/Denver (18:30 UTC): {share} of the job has enough then" in said
    known = rovers.common[sky.known]
    assert f"fewest in common then {known[:, at].min()}, in all the time {known.min()}." in said
    assert f"Enough all the time: {formats.percent(float(rovers.enough.all(axis=1).mean()))}" in said
    assert "less far than 2.00 km in 37.5 % of the directions round the base: hills beyond may stand" in said
    assert "up to 3.2 days from the working day" in said
    assert "G04, E06" in said
    assert "3 records of some kind left out" in said
    # 8 mm stated by nobody, 1 ppm stated by the job
    assert "8 mm + 1 ppm (partly common practice) horizontal, 15 mm + 1 ppm vertical" in said
    assert "Use known control" in said
    assert "least_common, workable_share" in said
    assert not re.search(r"\bsafe\b", said.casefold())


def test_limits_are_those_of_the_tolerances(sky: SkyStudy) -> None:
    # 20 mm less 8 mm and 30 mm less 15 mm, at 1 mm a kilometre
    assert limit_table(sky.plan)[1] == [
        ("whole job", "stated in the job file", "10.0 km"),
        ("whole job", "20 mm horizontal", "12.0 km"),
        ("whole job", "30 mm vertical", "15.0 km"),
    ]


def test_json_has_the_numbers_of_the_text(sky: SkyStudy) -> None:
    found = json.loads(json.dumps(sky_object(sky), allow_nan=False))
    assert found["answer"] == answer_line(sky)
    assert found["reached"] is False
    assert found["together"]["held_hours"] == pytest.approx(1.25)
    assert found["together"]["worst_pdop"] is None
    assert found["held_back"][1]["end_utc"] == "2026-12-02T00:00:00Z"
    assert found["held_back"][0]["start_local"] == "2026-12-01T08:45:00-07:00"
    assert found["rovers"]["suffices_share"] == float(sky.rovers.suffices.mean())
    assert found["baseline_limits"][1]["limit_m"] == pytest.approx(12_000.0)
    assert len(found["horizon"]["azimuths_deg"]) == len(found["horizon"]["horizon_deg"]) == 72


def test_csv_has_a_row_a_time(sky: SkyStudy) -> None:
    rows = list(csv.DictReader(io.StringIO(sky_csv(sky))))
    assert len(rows) == 21
    together = sky.base.together
    for at, row in enumerate(rows):
        assert int(row["GPS"]) + int(row["Galileo"]) == int(row["together"]) == together.satellites[at]
        assert row["held_back"] == str(int(together.held_back[at]))
        assert (row["pdop"] == "") == bool(np.isnan(together.pdop[at]))
        if row["pdop"]:
            assert float(row["pdop"]) == pytest.approx(together.pdop[at], abs=5e-4)
    assert rows[0]["utc"] == "2026-12-01T14:00:00Z"
    assert rows[0]["local"] == "2026-12-01T07:00:00-07:00"


@pytest.mark.parametrize(
    ("hours", "said"), [(0.0, "0 h"), (0.001, "under 1 min"), (0.5, "30 min"), (2.0, "2 h"), (1.999, "2 h")]
)
def test_durations(hours: float, said: str) -> None:
    assert duration(hours) == said


def test_a_hostile_name_stays_on_its_line(hostile_case: tuple) -> None:
    plan, coverage, summary = hostile_case
    from dataclasses import replace

    sky = sky_study((replace(plan, name="a\nb\x1b[31m"), coverage, summary))
    assert sky_text(sky).splitlines()[0] == "a b [31m"
