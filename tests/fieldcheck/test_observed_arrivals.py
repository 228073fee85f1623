"""Arrivals as ages tell them, against a simulated radio of which every message's fate is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from linkplan.fieldcheck.observed_arrivals import Arrivals
from linkplan.fieldcheck.samples import IN_TIME, NOT_IN_TIME, NOT_OBSERVED


@dataclass(frozen=True)
class Link:
    """Messages every `interval_s`, on the way for `delay_s` give or take `sway_s`; a rover's epochs."""

    interval_s: float
    epoch_s: float
    delay_s: float
    sway_s: float


def simulated(link: Link, chance_of_each: float, seed: int, epochs: int = 20_000):
    """Times and ages of epochs, the fate of the message last due at each, and the share that arrived."""
    chance = np.random.default_rng(seed)
    number = np.arange(int(epochs * link.epoch_s / link.interval_s) + 5)
    good = chance.random(number.size) < chance_of_each
    arrives_s = (
        number * link.interval_s + link.delay_s + chance.uniform(-link.sway_s, link.sway_s, number.size)
    )
    time_s = np.arange(200, epochs) * link.epoch_s
    due = np.searchsorted(arrives_s, time_s, side="right") - 1
    in_use = np.maximum.accumulate(np.where(good, number, -1))[due]
    known = in_use >= 0
    age_s = np.round(time_s - in_use * link.interval_s, 1)
    return time_s[known], age_s[known], good[due][known], good.mean()


def told(time_s, age_s, interval_s: float | None, block: int = 977) -> tuple[np.ndarray, Arrivals]:
    """Outcomes of every epoch, read block by block."""
    arrivals = Arrivals(interval_s)
    starts = np.arange(time_s.size) == 0
    parts = []
    for start in range(0, time_s.size, block):
        part = slice(start, start + block)
        outcome, waits = arrivals.take(time_s[part], age_s[part], starts[part])
        for index in np.flatnonzero(waits):
            arrivals.wait(start + int(index), float(time_s[part][index]))
        parts.append(outcome)
    arrivals.finish()
    outcome = np.concatenate(parts)
    for sample, late in arrivals.later.items():
        outcome[sample] = late
    by_age = arrivals.by_age(age_s)
    return outcome if by_age is None else by_age, arrivals


LINKS = [
    Link(1.0, 1.0, 0.35, 0.1),
    Link(1.0, 0.1, 0.35, 0.25),
    Link(1.0, 0.2, 1.3, 0.2),
    Link(2.0, 0.5, 0.9, 0.2),
    Link(0.5, 0.1, 0.2, 0.05),
    Link(1.0, 5.0, 0.4, 0.1),
]


@pytest.mark.parametrize("chance_of_each", [0.95, 0.5])
@pytest.mark.parametrize("planned", [True, False])
@pytest.mark.parametrize("link", LINKS, ids=str)
def test_the_share_that_arrived_is_found(link: Link, planned: bool, chance_of_each: float) -> None:
    time_s, age_s, _, share = simulated(link, chance_of_each, seed=3)
    outcome, arrivals = told(time_s, age_s, link.interval_s if planned else None)
    assert arrivals.interval_s == pytest.approx(link.interval_s)
    known = outcome != NOT_OBSERVED
    assert known.mean() > 0.94  # without a plan the first blocks may be spent on the interval
    # epochs of 20 000 at least 3900 different messages: a standard deviation of 0.008 at most
    assert (outcome[known] == IN_TIME).mean() == pytest.approx(share, abs=0.03)


def test_each_message_of_a_steady_log_is_told_rightly() -> None:
    link = Link(1.0, 1.0, 0.35, 0.1)
    time_s, age_s, _, _ = simulated(link, 0.7, seed=4, epochs=3000)
    outcome, _ = told(time_s, age_s, 1.0)
    # the message due next after an epoch is in use at the next one, whose age is then 1 s
    assert (outcome[:-2] == np.where(age_s[1:-1] == 1.0, IN_TIME, NOT_IN_TIME)).all()


def test_blocks_do_not_matter() -> None:
    time_s, age_s, _, _ = simulated(Link(1.0, 0.2, 0.35, 0.1), 0.8, seed=5, epochs=3000)
    whole, _ = told(time_s, age_s, 1.0, block=10_000)
    for block in (1000, 333, 50):
        assert (told(time_s, age_s, 1.0, block)[0] == whole).all()


def test_a_hole_at_the_end_of_a_log_counts_as_far_as_it_was_waited() -> None:
    # message 100 is in use from 101 on and stays: due next are 101, at 102 s, and so on. A whole interval
    # behind, at 103 s, 101 has not come; what was due from 110 s on was not waited for.
    time_s = np.arange(90.0, 111.0)
    age_s = np.where(time_s <= 101.0, 1.0, time_s - 100.0)
    outcome, _ = told(time_s, age_s, 1.0)
    assert outcome[:11].tolist() == [IN_TIME] * 11
    assert outcome[11:19].tolist() == [NOT_IN_TIME] * 8
    assert outcome[-1] == NOT_OBSERVED


def test_ages_in_whole_seconds_tell_nothing_of_faster_epochs() -> None:
    time_s, age_s, _, _ = simulated(Link(1.0, 0.1, 0.35, 0.1), 0.9, seed=6, epochs=3000)
    outcome, arrivals = told(time_s, np.round(age_s), 1.0)
    assert not arrivals.told
    assert (outcome == NOT_OBSERVED).all()


def test_a_base_that_sends_otherwise_than_planned() -> None:
    time_s, age_s, _, share = simulated(Link(2.0, 1.0, 0.4, 0.1), 0.95, seed=7)
    outcome, arrivals = told(time_s, age_s, 1.0)
    assert arrivals.interval_s == 2.0
    assert (outcome == IN_TIME).mean() == pytest.approx(share, abs=0.02)
    # where most messages are missing the plan stands: steps tell nothing then
    time_s, age_s, _, share = simulated(Link(1.0, 1.0, 0.4, 0.1), 0.1, seed=7)
    outcome, arrivals = told(time_s, age_s, 1.0)
    assert arrivals.interval_s == 1.0
    assert (outcome == IN_TIME).mean() == pytest.approx(share, abs=0.02)


def test_ages_without_any_order_tell_nothing_and_break_nothing() -> None:
    chance = np.random.default_rng(8)
    for planned in (None, 1.0):
        time_s = np.cumsum(chance.uniform(0.01, 50.0, 3000))
        _, arrivals = told(time_s, chance.uniform(0.0, 900.0, 3000), planned)
        assert arrivals.interval_s == planned
    backward = np.arange(3000.0) - 5.0 * (np.arange(3000) % 7 == 0)
    told(backward, np.full(3000, 1.0), 1.0)
