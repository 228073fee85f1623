"""A rover's log judged, each epoch by hand; and no result hangs on how the file is cut."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkplan.errors import RecordingError
from linkplan.fieldcheck import observed_track as words
from linkplan.fieldcheck.observed_source import Observed
from linkplan.fieldcheck.samples import IN_TIME, NMEA, NOT_IN_TIME
from tests.fieldcheck.field_logs import RULES, gga, observed, sentence, small_grid, without
from tests.gnss.recorded import cut

EPOCH_REASONS = (
    words.NO_POSITION, words.NOT_MEASURED, words.START_UP, words.OTHER_BASE, words.AFTER_OTHER, words.UNNAMED,
    words.NO_AGE, words.NOT_USED, words.SILENT, words.OUTSIDE, words.UNTIMED, words.REPEATED,
)  # fmt: skip


def same(one: Observed, other: Observed) -> bool:
    """Equal in all they hold, unknown times included."""
    arrays = all(
        np.array_equal(mine, theirs, equal_nan=mine.dtype.kind == "f")
        for mine, theirs in zip(vars(one.columns).values(), vars(other.columns).values(), strict=True)
    )
    return arrays and (one.facts, one.spots, one.notes) == (other.facts, other.spots, other.notes)


def test_each_epoch_has_its_place_in_the_count() -> None:
    """A rover that walks east, 30 m an epoch: each epoch is a visit of its own cell."""
    lines = [
        without(0, 0),  # before the first corrections
        gga(1, 30),
        gga(2, 60, age="10.0"),  # at the limit
        gga(3, 90, age="10.1"),
        gga(4, 120, age="25.0", quality=5),
        without(5, 150),
        gga(
            6, 180, quality=2, age="1.2", station="0120"
        ),  # an augmentation satellite: the base's are not used
        gga(7, 210, quality=2, age="2.0"),
        gga(8, 240, age=""),
        gga(9, 270, station=""),
        gga(10, 300, quality=0, age="", station=""),
        gga(11, 330, quality=6, age="", station=""),
        gga(12, 360, quality=1, age="3.0"),  # fresh, yet the position does not use it
        gga(13, 390, quality=1, age="30.0"),
        gga(14, 420, station="0077"),
        without(15, 450),  # after another base's
        gga(16, 480),
        without(17, 510),
        gga(18, 1400),  # outside the map, which reaches 1010 m
        gga(18, 1400),  # the same time again
    ]
    found = observed(*lines)
    facts = found.facts
    assert facts.kind == NMEA
    assert facts.epochs == 19
    assert facts.left_out == {
        words.START_UP: 1, words.NO_AGE: 1, words.UNNAMED: 1, words.NO_POSITION: 1, words.NOT_MEASURED: 1,
        words.NOT_USED: 1, words.OTHER_BASE: 1, words.AFTER_OTHER: 1, words.OUTSIDE: 1, words.REPEATED: 1,
    }  # fmt: skip
    assert facts.judged == facts.kept == 10
    # base at the middle of 101 cells of 20 m: cell 50 + east / 20, half a cell to the even one
    east = [30, 60, 90, 120, 150, 180, 210, 390, 480, 510]
    np.testing.assert_allclose(found.columns.x_m, east, atol=0.5)  # the job's grid is 0.9996 of true metres
    assert found.columns.row.tolist() == [50] * 10
    grid = small_grid()
    cells = [grid.cell_of(x, y) for x, y in zip(found.columns.x_m, found.columns.y_m, strict=True)]
    assert [cell[1] for cell in cells if cell] == found.columns.column.tolist()
    assert found.columns.outcome.tolist() == [1, 1, 0, 0, 0, 0, 1, 0, 1, 0]
    assert [(station, row, column, epochs) for station, row, column, _, _, epochs in found.spots] == [
        ("77", 50, 71, 1)
    ]


def test_a_pause_begins_anew() -> None:
    """After two minutes without a line nobody knows what became of the rover: start-up again."""
    found = observed(gga(0), without(1, 40), without(130, 80), gga(131, 120), without(132, 160))
    assert found.facts.left_out == {words.START_UP: 1}
    assert found.columns.outcome.tolist() == [IN_TIME, NOT_IN_TIME, IN_TIME, NOT_IN_TIME]


def test_a_base_that_stops_is_no_hole_for_ever() -> None:
    """Corrections of second 99 are the last; from 700 on the base may have stopped."""
    found = observed(
        *(gga(n, -900 + n) for n in range(101)), *(without(n, -900 + n) for n in range(101, 1500))
    )
    assert found.facts.left_out == {words.SILENT: 800}
    assert found.facts.judged == 700
    # until then a hole is a hole: the last visit begins at or within 20 m before 699 s
    assert 679.0 < found.columns.x_m[-1] + 900.0 <= 699.5


def test_a_log_that_is_started_again_begins_anew() -> None:
    found = observed(gga(500), without(501, 40), without(100, 80), gga(101, 120))
    assert found.facts.left_out == {words.START_UP: 1}
    assert found.facts.judged == 3


def test_a_stop_counts_once_and_its_first_epoch_tells() -> None:
    lines = [gga(0, 0), *(without(n, 0.5) for n in range(1, 3000)), gga(3000, 40)]
    found = observed(*lines)
    assert found.facts.judged == 601  # the corrections of second -1 are ten minutes old at 599
    assert found.columns.outcome.tolist() == [IN_TIME, IN_TIME]


def test_arrivals_stand_beside_in_time() -> None:
    """In a hole of eight messages a rover at 20 m/s is in time throughout, yet nothing arrives there."""
    ages = [1.0] * 20 + [float(age) for age in range(2, 10)] + [1.0] * 20
    found = observed(*(gga(n, -400 + 20.01 * n, age=f"{age:.1f}") for n, age in enumerate(ages)))
    assert len(found.columns) == 48
    assert found.columns.outcome.tolist() == [IN_TIME] * 48
    # the message due behind epoch 19, of age 1, is the first that is missing; that behind 27 comes
    wanted = [IN_TIME] * 19 + [NOT_IN_TIME] * 8 + [IN_TIME] * 20
    assert found.columns.arrived[:-1].tolist() == wanted


def test_no_station_in_the_job() -> None:
    any_base = replace(RULES, station=None)
    lines = [
        gga(0),
        gga(1, 40, station="0077"),
        gga(2, 80, station="NAME"),
        gga(3, 120, quality=2, station="133"),
    ]
    found = observed(*lines, rules=any_base)
    assert found.facts.judged == 2
    assert found.facts.left_out == {words.OTHER_BASE: 1, words.AFTER_OTHER: 1}
    assert any_base.notes()


def test_corrections_without_a_name_count_when_asked() -> None:
    lines = [gga(0, station=""), without(1, 40)]
    assert observed(*lines).facts.judged == 0
    assert observed(*lines, rules=replace(RULES, unnamed_counts=True)).columns.outcome.tolist() == [1, 0]


def test_dates_and_midnight() -> None:
    """2026-05-13 was day 20586 of 1970's count: 56 years of 365 and 14 leap days to 2026, then 132 days."""
    midnight = 86_400 * (56 * 365 + 14 + 132)
    date = sentence("GNZDA,235958.00,13,05,2026,00,00")
    found = observed(gga(86_398), date, gga(86_399, 40), gga(86_400, 80), gga(86_401, 120))
    assert found.columns.utc_s.tolist() == [midnight + 86_398.0 + n for n in range(4)]
    assert (found.facts.first_utc_s, found.facts.last_utc_s) == (midnight + 86_398.0, midnight + 86_401.0)


def test_a_log_of_two_days_apart() -> None:
    """The date comes behind the first epoch of its second, and moves it to its day."""
    day = 86_400
    first = [gga(36_000), sentence("GNZDA,100000.00,13,05,2026,00,00"), gga(36_001, 40)]
    later = [gga(36_100, 80), sentence("GNZDA,100140.00,20,05,2026,00,00"), gga(36_101, 120)]
    found = observed(*first, *later)
    utc_s = found.columns.utc_s
    assert (utc_s - utc_s[0]).tolist() == [0.0, 1.0, 7 * day + 100.0, 7 * day + 101.0]


def test_gns_where_it_is_the_fuller() -> None:
    lines = [gga(0), gga(1, 40)]
    gns = [
        sentence(f"GNGNS,0000{n:02d}.00,4039.0,N,01500.{n:02d},E,RR,18,0.7,302,45,1.0,0031,V")
        for n in range(10)
    ]  # 0.01 minutes of longitude, 14 m at 40.65 degrees north: every second begins a visit
    found = observed(*lines, *gns)
    assert found.facts.epochs == 10
    assert len(found.columns) == 5


def test_nothing_to_judge_is_an_error() -> None:
    with pytest.raises(RecordingError, match="neither a position sentence"):
        observed(b"hello world\n" * 10)
    with pytest.raises(RecordingError, match="the file is empty"):
        observed(b"")
    with pytest.raises(RecordingError, match="leave the place out"):
        observed(gga(0), place=(500_000.0, 4_500_000.0))


def _day(chance: random.Random) -> bytes:
    """A log with everything in it, some of it broken."""
    lines, east, time_s = [], 0.0, 80_000
    for _ in range(400):
        time_s += chance.choice((1, 1, 1, 1, 1, 1, 2, 200))
        east += chance.choice((0.0, 0.0, 3.0, 30.0))
        kind = chance.randrange(12)
        if kind < 7:
            lines.append(gga(time_s, east - 600, age=f"{chance.choice((1, 1, 1, 2, 9, 40)):.1f}"))
        elif kind < 9:
            lines.append(without(time_s, east - 600))
        elif kind == 9:
            lines.append(gga(time_s, east - 600, station=chance.choice(("0077", "", "0133")), quality=2))
        elif kind == 10:
            lines.append(gga(time_s, east - 600)[: chance.randrange(90)])
        else:
            lines.append(chance.randbytes(chance.randrange(60)))
    return b"".join(lines)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6))
def test_no_result_hangs_on_the_cutting(seed: int) -> None:
    chance = random.Random(seed)
    data = _day(chance)
    whole = observed(data)
    assert same(whole, observed(pieces=cut(data, chance)))
    left = whole.facts.left_out
    reasons = sum(left.get(reason, 0) for reason in EPOCH_REASONS if reason != words.REPEATED)
    assert whole.facts.epochs == whole.facts.judged + reasons
    assert whole.facts.kept == len(whole.columns)


def test_blocks_of_epochs_do_not_show(monkeypatch: pytest.MonkeyPatch) -> None:
    data = b"".join(_day(random.Random(seed)) for seed in range(3))
    whole = observed(data)
    monkeypatch.setattr("linkplan.gnss.fix_blocks.BLOCK_EPOCHS", 97)
    parts = observed(data)
    assert whole.facts == parts.facts
    assert {spot[:3]: spot[5] for spot in whole.spots} == {spot[:3]: spot[5] for spot in parts.spots}
    for name, mine in vars(whole.columns).items():
        np.testing.assert_array_equal(mine, getattr(parts.columns, name), err_msg=name)


def test_losses_alone_are_no_evidence() -> None:
    """No age stated with corrections: they are left out, and so must be the epochs without any, else 19 of
    20 places that had corrections come out as none of one."""
    lines = [gga(n, -900 + 30 * n, age="") for n in range(19)]
    found = observed(gga(0, -930), *(lines[n] for n in range(1, 19)), without(19, -330))
    assert found.facts.left_out[words.NO_AGE] == 18
    assert found.facts.left_out[words.ONE_SIDED] == 2
    assert found.facts.judged == found.facts.kept == len(found.columns) == 0
