"""The knife-edge rule against the exact Fresnel integral."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import fresnel

from linkplan.propagation.fresnel import clearance_fraction, fresnel_radius_m
from linkplan.propagation.knife_edge import NU_OF_NO_LOSS, edge_parameters, knife_edge_loss_db
from linkplan.units import wavelength_m

TABLE = Path(__file__).parents[1] / "data" / "p526" / "knife_edge_J.csv"


def exact_loss_db(nu: np.ndarray) -> np.ndarray:
    """Loss behind a half-plane from the Fresnel integrals C and S."""
    s, c = fresnel(nu)
    return -20.0 * np.log10(np.sqrt((1.0 - c - s) ** 2 + (c - s) ** 2) / 2.0)


def test_rule_is_within_its_known_error_of_the_exact_integral() -> None:
    # P.526 gives no bound; measured against the integral, the rule is 0.1228 dB off at nu = 4.57.
    nu = np.linspace(NU_OF_NO_LOSS + 1e-9, 20.0, 200_001)
    error = knife_edge_loss_db(nu) - exact_loss_db(nu)
    worst = int(np.argmax(np.abs(error)))
    assert 0.122 < abs(error[worst]) < 0.1235
    assert nu[worst] == pytest.approx(4.57, abs=0.05)


@pytest.mark.parametrize(
    ("nu", "exact_db", "rule_db"),
    [
        (-0.5, 1.859, 1.959),
        (0.0, 6.021, 6.033),
        (1.0, 13.864, 13.926),
        (2.4, 20.618, 20.539),
        (5.0, 26.936, 26.814),
    ],
)
def test_worked_values(nu: float, exact_db: float, rule_db: float) -> None:
    # Worked apart: 6.9 + 20 log10(sqrt((nu - 0.1)^2 + 1) + nu - 0.1) and the Fresnel integral.
    assert float(knife_edge_loss_db(nu)) == pytest.approx(rule_db, abs=6e-4)
    assert float(exact_loss_db(np.asarray(nu))) == pytest.approx(exact_db, abs=6e-4)


def test_whole_table_of_the_rule() -> None:
    table = np.loadtxt(TABLE, delimiter=",", skiprows=1)
    assert table.shape == (131, 3)
    np.testing.assert_allclose(knife_edge_loss_db(table[:, 0]), table[:, 2], atol=6e-7)


def test_below_the_limit_the_rule_says_nothing_is_lost() -> None:
    # At nu = -1 the exact value is a gain of 1.00 dB; the rule leaves the ripple out.
    assert float(exact_loss_db(np.asarray(-1.0))) == pytest.approx(-1.0, abs=0.005)
    assert knife_edge_loss_db([-np.inf, -1e200, -1.0, -0.781, -0.78]).tolist() == [0.0] * 5


def test_shape_is_kept() -> None:
    assert knife_edge_loss_db(np.zeros((3, 4))).shape == (3, 4)


@given(st.floats(-0.779, 1e3), st.floats(1e-3, 10.0))
def test_a_higher_edge_takes_more(nu: float, more: float) -> None:
    assert knife_edge_loss_db(nu + more) > knife_edge_loss_db(nu)


def test_nu_of_one_edge_by_hand() -> None:
    # Edge 20 m over the line between antennas at 10 m, 4 km and 6 km away, 0.3 m wavelength, no bulge:
    # 20 sqrt(2/0.3 (1/4000 + 1/6000)) = 20 sqrt(6.66667 x 4.16667e-4) = 20 x 0.0527046 = 1.054093.
    nu = edge_parameters(
        np.array([0.0, 4.0, 10.0]),
        np.array([0.0, 30.0, 0.0]),
        tx_antenna_m=10.0,
        rx_antenna_m=10.0,
        effective_earth_radius_km=1e12,
        wavelength_m=0.3,
    )
    assert nu == pytest.approx([1.054093], abs=1e-6)


def test_bulge_of_the_earth_raises_an_edge() -> None:
    # 4 km x 6 km / (2 x 8500 km) = 1.41176 m.
    kwargs = {"tx_antenna_m": 10.0, "rx_antenna_m": 10.0, "wavelength_m": 0.3}
    d = np.array([0.0, 4.0, 10.0])
    curved = edge_parameters(d, np.array([0.0, 30.0, 0.0]), effective_earth_radius_km=8500.0, **kwargs)
    flat = edge_parameters(d, np.array([0.0, 31.4117647, 0.0]), effective_earth_radius_km=1e15, **kwargs)
    assert curved == pytest.approx(flat, abs=1e-8)


@given(st.floats(0.05, 20.0), st.floats(0.05, 20.0), st.floats(-2.0, 2.0))
def test_nu_and_fresnel_clearance_agree(d1_km: float, d2_km: float, fraction: float) -> None:
    # P.526, section 4.1: nu = sqrt(2) h / R_1, so clearing by a fraction of R_1 gives -sqrt(2) times it.
    radius = float(fresnel_radius_m(d1_km, d2_km, 450.0))
    nu = edge_parameters(
        np.array([0.0, d1_km, d1_km + d2_km]),
        np.array([0.0, 100.0 - fraction * radius, 0.0]),
        tx_antenna_m=100.0,
        rx_antenna_m=100.0,
        effective_earth_radius_km=1e15,
        wavelength_m=wavelength_m(0.45),
    )
    assert clearance_fraction(float(nu[0])) == pytest.approx(fraction, abs=1e-9)


def test_fresnel_radius_vanishes_at_the_ends_and_takes_arrays() -> None:
    d = np.linspace(0.0, 5.0, 101)
    radius = fresnel_radius_m(d, 5.0 - d, 450.0)
    assert radius[0] == radius[-1] == 0.0
    assert int(np.argmax(radius)) == 50
