"""Epochs as arrays: times over midnight and days, pauses, stations, and blocks by count."""

from __future__ import annotations

import datetime

import numpy as np

from linkplan.gnss import fix_blocks
from linkplan.gnss.fix_blocks import BLOCK_EPOCHS, NO_STATION, FixBlock, FixBlocks
from linkplan.gnss.nmea_fixes import Fix


def fix(time_s: float | None, station: str | None = "31", age_s: float | None = 1.0) -> Fix:
    return Fix(time_s, 4, 12, age_s, station, 40.0, 15.0)


def test_fields_and_what_is_not_stated() -> None:
    blocks: list[FixBlock] = []
    gathered = FixBlocks(blocks.append)
    for one in (fix(10), fix(11, "77"), fix(12, None, None), fix(12), fix(None), fix(13)):
        gathered.add(one)
    gathered.finish()
    (block,) = blocks
    assert len(block) == gathered.epochs == 4
    assert (gathered.untimed, gathered.repeated) == (1, 1)
    assert block.time_s.tolist() == [10.0, 11.0, 12.0, 13.0]
    assert gathered.stations == ["31", "77"]
    assert block.station.tolist() == [0, 1, NO_STATION, 0]
    assert np.isnan(block.age_s).tolist() == [False, False, True, False]
    assert block.starts.tolist() == [True, False, False, False]
    assert gathered.utc_of_day_0() is None


def test_midnight_pauses_and_steps_back() -> None:
    blocks: list[FixBlock] = []
    gathered = FixBlocks(blocks.append)
    for time_s in (86_398.0, 86_399.0, 0.0, 1.0, 62.0, 60.5, 63.0, 2.0):
        gathered.add(fix(time_s))
    gathered.finish()
    midnight = 86_400.0
    since = [-2.0, -1.0, 0.0, 1.0, 62.0, 60.5, 63.0, 2.0]
    assert blocks[0].time_s.tolist() == [midnight + time_s for time_s in since]
    # behind a pause of 61 s, not where one line is 1.5 s late, and behind a step back of 61 s
    assert blocks[0].starts.tolist() == [True, False, False, False, True, False, False, True]


def test_a_date_moves_the_epoch_before_it_even_at_a_blocks_end() -> None:
    day = 86_400.0
    for count in (5, BLOCK_EPOCHS):
        blocks: list[FixBlock] = []
        gathered = FixBlocks(blocks.append)
        for second in range(count - 1):
            gathered.add(fix(float(second)))
        assert gathered.take_date(datetime.date(2026, 5, 13), float(count - 2))
        gathered.add(fix(10_000.0))
        assert gathered.take_date(datetime.date(2026, 5, 15), 10_000.0)
        gathered.add(fix(10_001.0))
        gathered.finish()
        times = np.concatenate([block.time_s for block in blocks])
        assert times[-2:].tolist() == [2 * day + 10_000.0, 2 * day + 10_001.0]
        # 1970 to 2026: 56 years of 365 days and 14 leap days, then 132 days to 13 May
        assert gathered.utc_of_day_0() == day * (56 * 365 + 14 + 132)


def test_blocks_hold_a_fixed_count() -> None:
    blocks: list[FixBlock] = []
    gathered = FixBlocks(blocks.append)
    for second in range(2 * BLOCK_EPOCHS + 1):
        gathered.add(fix(float(second)))
    gathered.finish()
    assert [len(block) for block in blocks] == [BLOCK_EPOCHS, BLOCK_EPOCHS, 1]


def test_names_of_stations_are_bounded() -> None:
    blocks: list[FixBlock] = []
    gathered = FixBlocks(blocks.append)
    for number in range(1000):
        gathered.add(fix(float(number), f"S{number}"))
    gathered.finish()
    assert len(gathered.stations) == fix_blocks.MOST_STATIONS + 1
    assert blocks[0].station.max() == fix_blocks.MOST_STATIONS
    assert (blocks[0].station == fix_blocks.MOST_STATIONS).sum() == 1000 - fix_blocks.MOST_STATIONS
