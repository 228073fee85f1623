"""Each simple quantity against values from outside; their sources stand beside them in the data."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

from linkplan.propagation import free_space, fresnel, horizons, noise, plane_earth, radio_climate, variability

PUBLISHED = json.loads((Path(__file__).parents[1] / "published" / "propagation.json").read_text("utf-8"))

FUNCTIONS: Mapping[str, Callable[..., Any]] = {
    "free_space_loss_db": free_space.free_space_loss_db,
    "fresnel_radius_m": fresnel.fresnel_radius_m,
    "location_sigma_db": variability.location_sigma_db,
    "man_made_noise": lambda **inputs: noise.man_made_noise(**inputs).noise_figure_db,
    "plane_earth_loss_db": plane_earth.plane_earth_loss_db,
    "break_distance_km": plane_earth.break_distance_km,
    "radio_horizon_km": horizons.radio_horizon_km,
    "median_effective_earth_radius_km": radio_climate.median_effective_earth_radius_km,
}
CASES = [(quantity, case) for quantity, cases in PUBLISHED.items() if quantity != "about" for case in cases]


@pytest.mark.parametrize(
    ("quantity", "case"),
    CASES,
    ids=[f"{quantity}-{list(case['inputs'].values())}" for quantity, case in CASES],
)
def test_quantity_has_its_published_value(quantity: str, case: dict[str, Any]) -> None:
    value = float(FUNCTIONS[quantity](**case["inputs"]))
    assert value == pytest.approx(case["expected"], abs=case["tolerance"], rel=0), case["source"]


def test_every_published_quantity_is_tested() -> None:
    assert set(PUBLISHED) - {"about"} == set(FUNCTIONS)
    assert len(CASES) == 23
