"""Third-order products of transmitters that stand together: who takes part, and levels by hand."""

from __future__ import annotations

import numpy as np
import pytest

from linkplan.channels.mixing import Mixer, mixes_for, together
from linkplan.channels.ratios import Case
from linkplan.radio.interference import Emission, Protection

# three at one place, 100 m apart from one another at most, and one a kilometre off
MIXERS = (
    Mixer(0.0, 0.0, 40.0, 2.0, 450.0),
    Mixer(100.0, 0.0, 40.0, 2.0, 450.0),
    Mixer(50.0, 50.0, 40.0, 2.0, 450.0),
    Mixer(1000.0, 0.0, 40.0, 2.0, 450.0),
)


def case_of(owner, wanted_dbm, level_dbm):
    return Case(
        owner=np.array(owner),
        wanted_dbm=np.array(wanted_dbm),
        own_dbm=np.array(level_dbm),
        other_dbm=np.empty((len(owner), 0)),
        other_mhz=np.empty(0),
        other_emissions=(),
        emission=Emission.of_spacing(12.5),
        limits=Protection.for_spacing(12.5),
        bases=4,
    )


def test_only_near_transmitters_are_together():
    assert together(MIXERS) == {(0, 1), (0, 2), (1, 2)}


def test_every_product_of_those_together_is_looked_at():
    case = case_of([0, 1, 2, 3], [-80.0] * 4, [[-60.0] * 4] * 4)
    mixes = mixes_for(case, MIXERS, -110.0)
    # for base 3: six of two signals, three of three; for each of the others only the two of its neighbours
    count = [sum(one.victim == base for one in mixes) for base in range(4)]
    assert count == [2, 2, 2, 9]
    assert all(3 not in one.sources and one.victim not in one.sources for one in mixes)


def test_level_of_a_product_by_hand():
    case = case_of([3], [-80.0], [[-40.0, -50.0, -200.0, 0.0]])
    mixes = {(one.plus, one.minus): one.ratio_db for one in mixes_for(case, MIXERS, -110.0)}
    # transmitter 0 makes 2 x 0 - 1: free space at 450 MHz over 100 m is 65.51 dB, less 2 + 2 dB of gains:
    # 61.51 dB below its carrier comes in, so 40 + 61.51 - 30 = 71.51 dB below it goes out: -111.51 dBm.
    # the receiver (IIP3 = -110 + 97.5 + 6 = -6.5 dBm) makes 2 x (-40) - 50 + 13 = -117 dBm.
    # together -110.43 dBm, 30.43 dB below the wanted
    assert mixes[(0, 0), 1] == pytest.approx(30.43, abs=0.01)
    # 2 x 1 - 0: -50 - 71.51 = -121.51 and 2 x (-50) - 40 + 13 = -127 dBm: -120.43 dBm
    assert mixes[(1, 1), 0] == pytest.approx(40.43, abs=0.01)
    # 0 + 1 - 2: -40 - 50 - 200 + 13 + 6.02 = -270.98 dBm
    assert mixes[(0, 1), 2] == pytest.approx(190.98, abs=0.01)


def test_a_base_without_cells_hears_nothing():
    mixes = mixes_for(case_of([3], [-80.0], [[-40.0] * 4]), MIXERS, -110.0)
    assert {one.victim for one in mixes} == {3}
