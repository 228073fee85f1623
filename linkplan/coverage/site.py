"""What holds for every cell and every path of a job: weakest level, spread, earth, fixed gains."""

from __future__ import annotations

from dataclasses import dataclass

from linkplan.coverage.calibrated import general_offset_db
from linkplan.coverage.reliability import total_sigma_db
from linkplan.plan.model import Plan
from linkplan.propagation import noise, radio_climate, variability
from linkplan.radio import budget
from linkplan.radio.receiver import WeakestLevel, weakest_usable


@dataclass(frozen=True)
class SiteConstants:
    """Numbers of a job that do not depend on the place."""

    frequency_ghz: float
    effective_earth_radius_km: float
    weakest: WeakestLevel
    noise: noise.ManMadeNoise
    location_sigma_db: float
    sigma_db: float
    receive_gain_db: float
    learned_db: float = 0.0
    """Added to every level, as field logs have taught; clutter classes may have more."""


def site_constants(plan: Plan, cell_size_m: float) -> SiteConstants:
    """The numbers of a job that hold everywhere; `cell_size_m` sets the scatter within a cell."""
    frequency_ghz = plan.transmitter.frequency_mhz / 1e3
    environment = plan.environment
    outside = noise.man_made_noise(environment.noise, plan.transmitter.frequency_mhz)
    location_sigma = variability.location_sigma_db(frequency_ghz, cell_size_m)
    return SiteConstants(
        frequency_ghz=frequency_ghz,
        effective_earth_radius_km=radio_climate.median_effective_earth_radius_km(
            environment.refractivity_gradient_n_units_per_km
        ),
        weakest=weakest_usable(plan.rover.receiver, outside.noise_figure_db),
        noise=outside,
        location_sigma_db=location_sigma,
        sigma_db=total_sigma_db(location_sigma, plan.prediction_sigma_db),
        receive_gain_db=budget.receive_gain_db(plan.rover.receiver),
        learned_db=general_offset_db(plan),
    )
