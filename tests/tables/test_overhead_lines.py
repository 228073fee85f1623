"""Clearances from overhead lines against the regulation's table."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from linkplan.errors import RangeError
from linkplan.tables.overhead_lines import UNKNOWN_VOLTAGE_CLEARANCE_M, clearance_m

TABLE = json.loads((Path(__file__).parents[1] / "published" / "overhead_lines.json").read_text("utf-8"))
ROWS = TABLE["rows"]


@pytest.mark.parametrize("row", ROWS, ids=[f"to {row['to_kv']} kV" for row in ROWS])
def test_each_row_holds_up_to_and_including_its_voltage(row):
    for voltage_kv in (math.nextafter(row["above_kv"], math.inf), row["to_kv"]):
        assert clearance_m(voltage_kv) == pytest.approx(row["clearance_ft"] * 0.3048, abs=1e-12)
        assert clearance_m(voltage_kv) == pytest.approx(row["rounded_m"], abs=0.005)


def test_unknown_voltage_takes_the_largest():
    # 45 ft x 0.3048 = 13.716 m
    assert pytest.approx(13.716, abs=1e-9) == UNKNOWN_VOLTAGE_CLEARANCE_M
    assert max(row["clearance_ft"] for row in ROWS) == 45


def test_above_the_table_the_owner_is_asked():
    with pytest.raises(RangeError, match="owner"):
        clearance_m(1000.1)


@pytest.mark.parametrize("voltage_kv", [-1.0, math.nan, math.inf])
def test_what_is_no_voltage_is_refused(voltage_kv):
    with pytest.raises(RangeError, match="voltage_kv"):
        clearance_m(voltage_kv)
