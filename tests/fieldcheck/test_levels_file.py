"""Files of measured levels: delimiters, decimal commas, rows that will not do, visits."""

from __future__ import annotations

import gzip
import random

import numpy as np
import pytest

from linkplan.errors import RecordingError
from linkplan.fieldcheck import observed_levels, observed_track
from linkplan.fieldcheck.levels_file import LevelsReader
from linkplan.fieldcheck.samples import LEVELS, NOT_OBSERVED
from tests.coverage.conftest import EAST, NORTH
from tests.fieldcheck.field_logs import degrees, observed
from tests.fieldcheck.test_observed_rover import same
from tests.gnss.recorded import cut


def table(*rows: str, end: str = "\n") -> bytes:
    return end.join([*rows, ""]).encode()


def test_job_coordinates() -> None:
    found = observed(
        table(
            "name,easting,northing,level_dbm,time",
            "a,500100,4500000,-90,2026-05-13T10:00:00Z",
            'b,500200,"4500100",-101.5,2026-05-13T12:00:01+02:00',
            "c,500300,4500000,-7.5e1,",
        )
    )
    assert found.facts.kind == LEVELS
    np.testing.assert_allclose(found.columns.x_m, [100.0, 200.0, 300.0], atol=0.2)
    np.testing.assert_allclose(found.columns.y_m, [0.0, 100.0, 0.0], atol=0.2)
    assert found.columns.level_dbm.tolist() == [-90.0, -101.5, -75.0]
    # 1 778 666 400: 20 586 days of 86 400 s and ten hours
    assert found.columns.utc_s[:2].tolist() == [20_586 * 86_400 + 36_000, 20_586 * 86_400 + 36_001]
    assert np.isnan(found.columns.utc_s[2])
    assert found.columns.outcome.tolist() == found.columns.arrived.tolist() == [NOT_OBSERVED] * 3
    assert found.facts.last_utc_s == 20_586 * 86_400 + 36_001


@pytest.mark.parametrize(
    ("mark", "decimal", "head"),
    [
        (",", ".", "Latitude,Longitude,Level_dBm"),
        (";", ",", "latitude;longitude;level_dbm"),
        (";", ".", "\ufefflat;lon;level_dbm"),
        ("\t", ",", "latitude\tlongitude\tlevel_dbm"),
        (", ", ".", "latitude, longitude, level_dbm"),
    ],
)
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_delimiters_and_decimals(mark: str, decimal: str, head: str, end: str) -> None:
    rows = [head, ""]
    for n in range(5):
        longitude, latitude = degrees(40.0 * n, 25.0)
        rows.append(
            mark.join(f"{value:.8f}".replace(".", decimal) for value in (latitude, longitude, -90.25 - n))
        )
    found = observed(table(*rows, end=end))
    np.testing.assert_allclose(found.columns.x_m, 40.0 * np.arange(5), atol=0.2)
    assert found.columns.level_dbm.tolist() == [-90.25 - n for n in range(5)]
    assert found.facts.left_out == {}


def test_rows_that_will_not_do_are_counted() -> None:
    found = observed(
        table(
            "x,y,level_dbm",
            "500000,4500000,-80",
            "500000,4500000,-150.1",  # row 3: beyond
            "500000,4500000",  # 4
            "500000,,-80",  # 5
            "500000,4500000,<-120",
            "500000,4500000,below",
            "500000,4500000,nan",
            "500000,4500000,1_0",
            "500000,4500000,٣",
            "1e9,4500000,-80",
            '500000,"4500000,-80',
            "900000,4500000,-80",  # outside the map
        )
    )
    assert found.facts.epochs == 2
    assert found.facts.judged == found.facts.kept == 1
    assert found.facts.left_out == {
        "rows that cannot be used (row 3, 4, 5 and on)": 8,
        "rows below what the receiver can tell": 2,
        observed_levels.OUTSIDE: 1,
    }


def test_a_visit_has_the_median_of_its_rows() -> None:
    rows = ["x,y,level_dbm"]
    rows += [f"{500_000 + n % 5},4500000,{level}" for n, level in enumerate((-90, -80, -99, -91, -70))]
    rows += ["500040,4500000,-60"]
    rows += [f"{500_080 + n % 2},4500000,{-100 - n % 3}" for n in range(10_000)]
    found = observed(table(*rows))
    assert found.columns.level_dbm.tolist() == [-90.0, -60.0, -101.0]
    assert (found.facts.epochs, found.facts.kept) == (10_006, 3)


def test_to_and_fro() -> None:
    rows = ["x,y,level_dbm", *(f"{500_005 + 40 * (n % 2)},4500005,-80" for n in range(100))]
    found = observed(table(*rows))
    assert found.facts.kept == 8
    assert found.facts.left_out == {observed_track.VISITED: 92}


def test_files_that_hold_nothing() -> None:
    with pytest.raises(RecordingError, match=r'no row with a level.*of 1; row 2: level_dbm = "loud" is not'):
        observed(table("x,y,level_dbm", "1,2,loud"))
    with pytest.raises(RecordingError, match="names no place"):
        observed(table("name,level_dbm", "a,-80"))
    with pytest.raises(RecordingError, match='here it is "lat;long;dbm"'):
        observed(table("lat;long;dbm", "1;2;-80"))
    with pytest.raises(RecordingError, match="states its own places"):
        observed(table("x,y,level_dbm", "1,2,-80"), place=(EAST, NORTH))


def test_packed_and_cut() -> None:
    chance = random.Random(1)
    rows = ["x,y,level_dbm"]
    rows += [
        f"{EAST + chance.uniform(-900, 900):.1f},{NORTH + chance.uniform(-900, 900):.1f},{-60 - n % 70}"
        for n in range(6000)
    ]
    data = table(*rows, end="\r\n")
    whole = observed(data)
    for seed in range(3):
        assert same(whole, observed(pieces=cut(data, random.Random(seed))))
    packed = observed(gzip.compress(data))
    assert same(whole, packed)
    broken = observed(gzip.compress(data)[:-2000])
    assert 0 < broken.facts.epochs < whole.facts.epochs
    assert broken.facts.left_out["packed data that break off or are damaged"] == 1


def test_a_line_without_end_does_not_fill_memory() -> None:
    head = table("x,y,level_dbm", "500000,4500000,-80")
    found = observed(pieces=[head, *[b"7" * 100_000] * 50, b"\n500100,4500000,-70\n"])
    assert found.columns.level_dbm.tolist() == [-80.0, -70.0]


def test_a_list_all_below_the_floor_says_so() -> None:
    reader = LevelsReader("weak.csv")
    assert list(reader.read([b"x,y,level_dbm\n1,2,<-120\n1,3,below\n"])) == []
    with pytest.raises(RecordingError, match="of 2; 2 are below what the receiver can tell"):
        reader.require_rows()
