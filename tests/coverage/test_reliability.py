"""Chance and classes against tables of the normal distribution and a published area integral."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkplan.coverage.classes import NO_DATA, classes_for, classify
from linkplan.coverage.reliability import chance_of_corrections, margin_for_chance_db, total_sigma_db


@pytest.mark.parametrize(
    # Standard normal table, any handbook of statistics: P(Z < z)
    ("z", "chance"),
    [(0.0, 0.5), (1.2816, 0.90), (1.6449, 0.95), (1.8808, 0.97), (2.3263, 0.99), (-1.2816, 0.10)],
)
def test_chance_is_the_normal_distribution(z: float, chance: float) -> None:
    sigma = 6.1
    margin = np.asarray([z * sigma], dtype=np.float32)
    assert chance_of_corrections(margin, sigma)[0] == pytest.approx(chance, abs=2e-5)
    assert margin_for_chance_db(chance, sigma) == pytest.approx(z * sigma, abs=1e-3)


@pytest.mark.parametrize(
    # Area share from edge chance, by direct integration over the disc (the form of Reudink and Jakes gives
    # the same): edge chance, path-loss exponent, sigma in dB -> share of the disc
    ("edge", "exponent", "sigma", "share"),
    [(0.90, 3.5, 5.6, 0.9734), (0.95, 3.5, 8.0, 0.9843), (0.75, 4.0, 8.0, 0.9073), (0.75, 2.0, 8.0, 0.8620)],
)
def test_area_share_from_edge_chance(edge: float, exponent: float, sigma: float, share: float) -> None:
    radius = (np.arange(20_000) + 0.5) / 20_000
    margin = margin_for_chance_db(edge, sigma) - 10.0 * exponent * np.log10(radius)
    chance = chance_of_corrections(margin.astype(np.float32), sigma).astype(float)
    assert np.average(chance, weights=radius) == pytest.approx(share, abs=2e-4)


def test_spread_adds_in_quadrature() -> None:
    assert total_sigma_db(3.0, 4.0) == 5.0


def test_unknown_stays_unknown() -> None:
    chance = chance_of_corrections(np.asarray([np.nan, 100.0], dtype=np.float32), 6.0)
    assert np.isnan(chance[0])
    assert classify(chance, classes_for(0.95)).tolist() == [NO_DATA, 1]


@given(wanted=st.floats(0.5, 0.999))
def test_classes_share_out_every_chance(wanted: float) -> None:
    classes = classes_for(wanted)
    assert classes[0].chance_low == wanted
    assert classes[-1].chance_low == 0.0
    for better, worse in pairwise(classes):
        assert worse.chance_high == better.chance_low
        assert worse.chance_low < better.chance_low
    assert [one.index for one in classes] == list(range(1, len(classes) + 1))
    chance = np.linspace(0.0, 1.0, 1001, dtype=np.float32)
    index = classify(chance, classes)
    assert index.min() >= 1
    assert (np.diff(index.astype(int)) <= 0).all()
    assert (index == 1).sum() == (chance >= np.float32(wanted)).sum()


def test_nobody_is_told_to_rely_on_a_poor_chance() -> None:
    assert "rely" in classes_for(0.95)[0].meaning
    assert "rely" not in classes_for(0.6)[0].meaning


def test_a_class_with_no_room_is_left_out() -> None:
    assert [one.key for one in classes_for(0.80)] == ["dependable", "uncertain", "unlikely", "out-of-reach"]
    assert [one.key for one in classes_for(0.95)][1] == "likely"
