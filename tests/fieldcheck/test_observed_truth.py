"""A drive over ground whose truth is known: which of the two outcomes has the share that the map predicts?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtr

from linkplan.fieldcheck.samples import IN_TIME, NOT_OBSERVED
from tests.fieldcheck.field_logs import RULES, gga, observed, without

CORRELATION_M = 50.0
"""Of the shadowing along the track [common practice: 10 to 100 m]."""
SIGMA_DB, FADING_DB, MARGIN_DB = 6.0, 2.0, 2.0
ROVER_GIVES_UP_S = 60.0
"""Older corrections are not used any more [common practice]."""


def drive(seed: int, speed_m_s: float, epochs: int) -> tuple[bytes, np.ndarray]:
    """A log, an epoch a second, to and fro over 800 m on lines 25 m apart; and the true chance of a message
    at each epoch's place."""
    chance = np.random.default_rng(seed)
    kept = np.exp(-speed_m_s / CORRELATION_M)
    shadow_db = np.empty(epochs)
    shadow_db[0] = chance.normal(0.0, SIGMA_DB)
    for epoch in range(1, epochs):
        shadow_db[epoch] = kept * shadow_db[epoch - 1] + chance.normal(0.0, SIGMA_DB * np.sqrt(1 - kept**2))
    good = ndtr((MARGIN_DB + shadow_db) / FADING_DB)
    came = chance.random(epochs) < good
    along = np.arange(epochs) * speed_m_s
    line, rest = np.divmod(along, 800.0)
    east = np.where(line % 2 == 0, rest, 800.0 - rest) - 400.0
    north = 25.0 * line - 900.0
    newest, lines = -1, []
    for epoch in range(epochs):
        # the message of the second before is in use, if it came: a way of some tenths of a second
        if epoch and came[epoch - 1]:
            newest = epoch - 1
        age_s = epoch - newest
        if newest < 0 or age_s > ROVER_GIVES_UP_S:
            lines.append(without(epoch, east[epoch], north[epoch]))
        else:
            lines.append(gga(epoch, east[epoch], north[epoch], age=f"{age_s:.1f}"))
    return b"".join(lines), good


@pytest.mark.parametrize("speed_m_s", [2.0, 10.0])
def test_arrived_has_the_share_of_the_map_and_in_time_has_not(speed_m_s: float) -> None:
    rules = replace(RULES, most_visits=1000)
    shares = []
    for seed in range(6):
        data, good = drive(seed, speed_m_s, 4000)
        columns = observed(data, rules=rules).columns
        told = columns.arrived != NOT_OBSERVED
        shares.append(
            (good.mean(), (columns.arrived[told] == IN_TIME).mean(), (columns.outcome == IN_TIME).mean())
        )
    true, arrived, in_time = np.mean(shares, axis=0)
    # some 400 and 4000 samples a drive, of which those within some 50 m are alike
    assert arrived == pytest.approx(true, abs=0.02)
    assert in_time > true + 0.05
