"""Everything that Recommendation ITU-R P.1812-8 computes on its way to the loss of one path."""

from __future__ import annotations

from dataclasses import asdict, dataclass


@dataclass(frozen=True)
class P1812Result:
    """Loss of one path with every intermediate value; symbols of the source in the field's note."""

    basic_transmission_loss_db: float
    """Lb: loss between isotropic antennas not exceeded for the time and location percentages."""
    field_strength_1kw_dbuv_m: float
    """Field strength for 1 kW e.r.p., dB(uV/m)."""

    distance_km: float
    frequency_ghz: float
    time_percent: float
    location_percent: float
    polarization: str
    tx_height_m: float
    """Antenna above ground."""
    rx_height_m: float

    path_middle_latitude_deg: float
    """phi."""
    sea_fraction: float
    """omega."""
    longest_land_km: float
    """dtm."""
    longest_inland_km: float
    """dlm."""
    beta0_percent: float
    """beta0."""
    median_effective_earth_radius_km: float
    """ae."""
    beta0_effective_earth_radius_km: float
    """ab."""

    trans_horizon: bool
    """Whether the bare ground hides the antennas from each other."""
    line_of_sight: bool
    """Whether the ray clears ground, clutter and bulge at the median effective earth radius."""
    tx_horizon_elevation_mrad: float
    """theta_t."""
    rx_horizon_elevation_mrad: float
    """theta_r."""
    tx_horizon_distance_km: float
    """dlt."""
    rx_horizon_distance_km: float
    """dlr."""
    path_angular_distance_mrad: float
    """theta."""

    smooth_earth_tx_m: float
    """Least-squares smooth earth at the transmitter, above sea level: hst."""
    smooth_earth_rx_m: float
    """hsr."""
    tx_height_above_smooth_surface_m: float
    """Antenna over the smooth surface of the diffraction model: hts - hstd."""
    rx_height_above_smooth_surface_m: float
    """hrs - hsrd."""
    tx_effective_height_m: float
    """Antenna over the smooth surface of the ducting model: hte."""
    rx_effective_height_m: float
    """hre."""
    terrain_roughness_m: float
    """hm."""

    free_space_db: float
    """Lbfs."""
    los_time_p_db: float
    """Lb0p."""
    los_time_beta0_db: float
    """Lb0b."""

    bullington_actual_db: float
    """Bullington loss of the actual profile at the effective earth radius exceeded for beta0."""
    bullington_smooth_db: float
    """The same of the smooth profile."""
    spherical_earth_db: float
    """Spherical-earth loss at the effective earth radius exceeded for beta0."""
    bullington_actual_median_db: float
    """As `bullington_actual_db`, at the median effective earth radius."""
    bullington_smooth_median_db: float
    spherical_earth_median_db: float
    nu: float
    """Of the equivalent edge of the actual profile at the median effective earth radius."""
    diffraction_median_db: float
    """Ld50."""
    diffraction_beta0_db: float
    """Ldb."""
    diffraction_time_p_db: float
    """Ldp."""
    time_interpolation: float
    """Fi: 0 at 50 % of the time, 1 at beta0 and below."""

    troposcatter_db: float
    """Lbs."""
    anomalous_db: float
    """Lba: ducting and layer reflection."""
    anomalous_coupling_db: float
    """Af."""
    anomalous_angular_db: float
    """gamma_d theta'."""
    anomalous_time_db: float
    """Ap."""
    anomalous_beta_percent: float
    """beta."""

    median_los_with_diffraction_db: float
    """Lbd50."""
    time_p_los_with_diffraction_db: float
    """Lbd."""
    notional_minimum_los_db: float
    """Lminb0p."""
    notional_minimum_anomalous_db: float
    """Lminbap."""
    distance_blend: float
    """Fk."""
    angle_blend: float
    """Fj."""
    diffraction_and_anomalous_db: float
    """Lbda."""
    modified_diffraction_and_anomalous_db: float
    """Lbam."""
    combined_db: float
    """Lbc: before the variation between locations."""
    location_sigma_db: float
    location_loss_db: float
    """Lloc; 0 with the receiver at sea."""

    def to_dict(self) -> dict[str, float | bool | str]:
        """Every value under its name, ready for JSON."""
        return asdict(self)
