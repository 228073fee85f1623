"""Hours of a battery, worked by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkplan.errors import RangeError
from linkplan.radio.battery import battery_life
from linkplan.radio.stream import Supply


def test_hours_by_hand():
    # 40 Ah x 0.8 = 32 Ah; 0.25 x 3.5 + 0.75 x 0.3 + 0.4 = 1.5 A; 32 / 1.5 = 21.333 h.
    # Always keyed: 32 / 3.9 = 8.205 h.
    life = battery_life(Supply(40.0, 3.5, 0.3, 0.4, 0.8), 0.25)
    assert life.mean_current_a == pytest.approx(1.5)
    assert life.usable_ah == pytest.approx(32.0)
    assert life.hours == pytest.approx(21.3333, abs=1e-4)
    assert life.hours_keyed == pytest.approx(8.2051, abs=1e-4)


@given(duty=st.floats(0.0, 0.99), more=st.floats(0.001, 0.01), capacity=st.floats(1.0, 500.0))
def test_more_keying_never_lasts_longer(duty, more, capacity):
    supply = Supply(capacity, 3.0, 0.3, 0.4)
    assert battery_life(supply, duty + more).hours < battery_life(supply, duty).hours
    assert battery_life(supply, duty).hours >= battery_life(supply, duty).hours_keyed
    # twice the capacity, twice the hours
    double = Supply(2 * capacity, 3.0, 0.3, 0.4)
    assert battery_life(double, duty).hours == pytest.approx(2 * battery_life(supply, duty).hours)


def test_impossible_supplies_are_refused():
    with pytest.raises(RangeError, match=r"duty_cycle = 1.2 is outside 0 to 1"):
        battery_life(Supply(40.0, 3.0, 0.3), 1.2)
    with pytest.raises(RangeError, match="capacity_ah"):
        battery_life(Supply(0.0, 3.0, 0.3), 0.2)
    with pytest.raises(RangeError, match="nothing else draws a current"):
        battery_life(Supply(40.0, 3.0, 0.0, 0.0), 0.0)
