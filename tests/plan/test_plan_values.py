"""What a sound job file becomes: SI units, defaults, and which of them are marked as assumed."""

from __future__ import annotations

import hashlib
import math
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linkplan.plan.keys import TABLES
from linkplan.plan.reader import read_plan
from linkplan.plan.schema import Key
from linkplan.plan.values import Scope, read_value
from linkplan.plan.words import Report, WrittenFloat
from linkplan.tables.receivers import (
    DEFAULT_CHANCE,
    DEFAULT_NOISE_FIGURE_DB,
    DEFAULT_PREDICTION_SIGMA_DB,
    REQUIRED_SNR_DB,
)

# International yard and pound agreement (1959): 1 ft = 0.3048 m exactly.
# US survey foot (Mendenhall order, 1893; NIST SP 811, app. B): 1 ft = 1200/3937 m exactly.
EXACT_METRES = {
    "metre": Fraction(1),
    "foot": Fraction(3048, 10000),
    "us-survey-foot": Fraction(1200, 3937),
}


def test_plain_job_in_metres_with_its_defaults(job):
    plan = job.plan()
    assert plan.name == "East pit"
    assert plan.crs.to_epsg() == 32611
    assert plan.boundary.area == 1000.0 * 1000.0
    assert plan.terrain.files == (job.folder / "dem.tif",)
    assert plan.clutter is None
    assert (plan.base.name, plan.base.easting, plan.base.northing) == ("base", 500200.0, 4200300.0)
    assert (plan.base.height_m, plan.base.antenna_height_m) == (None, 5.0)
    assert plan.transmitter.power_dbm == pytest.approx(40.0, abs=1e-12)  # 10 W = 10^4 mW
    assert plan.transmitter.frequency_mhz == 450.125
    assert plan.transmitter.feeder.loss_db == 1.5
    assert plan.transmitter.polarization == "vertical"
    receiver = plan.rover.receiver
    assert (receiver.sensitivity_dbm, receiver.required_snr_db) == (-110.0, None)
    assert receiver.noise_bandwidth_khz == 12.5
    assert (receiver.noise_figure_db, receiver.noise_figure_assumed) == (DEFAULT_NOISE_FIGURE_DB, True)
    assert plan.environment.noise == "rural"
    assert plan.environment.prediction_sigma_db == DEFAULT_PREDICTION_SIGMA_DB
    assert plan.environment.prediction_sigma_assumed
    assert plan.environment.refractivity_gradient_n_units_per_km == 45.0
    assert plan.environment.sea_level_refractivity_n_units == 325.0
    assert (plan.goal.chance, plan.goal.share, plan.goal.baseline_limit_m) == (DEFAULT_CHANCE, 1.0, None)
    assert plan.warnings == ()
    assert plan.job_hash == hashlib.sha256((job.folder / "job.toml").read_bytes()).hexdigest()


def test_values_that_are_given_are_not_marked_assumed(job):
    plan = job.plan(rover__noise_figure_db="7", environment__prediction_sigma_db="5")
    assert (plan.rover.receiver.noise_figure_db, plan.rover.receiver.noise_figure_assumed) == (7.0, False)
    assert (plan.environment.prediction_sigma_db, plan.environment.prediction_sigma_assumed) == (5.0, False)


def test_feet_of_both_kinds_by_their_exact_definitions(job):
    plan = job.plan(
        units__length='"us-survey-foot"',
        units__height='"foot"',
        base__height="1000",
        base__antenna_height="10",
        rover__antenna_height="6.5",
        terrain__cell_size="30",
        goal__baseline_limit="3937",
        clutter__file='"dem.tif"',
        clutter__classes='{ 3 = { name = "trees", height = 40 }, 0 = { name = "grass", height = 0 } }',
    )
    assert plan.base.height_m == pytest.approx(304.8, rel=1e-15)
    assert plan.base.antenna_height_m == pytest.approx(3.048, rel=1e-15)
    assert plan.rover.antenna_height_m == pytest.approx(1.9812, rel=1e-15)  # 6.5 x 0.3048
    assert plan.terrain.cell_size_m == pytest.approx(36000.0 / 3937.0, rel=1e-15)
    assert plan.goal.baseline_limit_m == pytest.approx(1200.0, rel=1e-15)
    assert plan.clutter is not None
    assert plan.clutter.heights_m == {3: pytest.approx(12.192, rel=1e-15), 0: 0.0}
    assert plan.clutter.names == {3: "trees", 0: "grass"}
    assert (plan.length_unit, plan.height_unit) == ("us-survey-foot", "foot")
    # Coordinates stay in the unit of the coordinate system.
    assert plan.base.easting == 500200.0


@pytest.mark.parametrize("length", sorted(EXACT_METRES))
def test_feeder_from_its_length_in_any_unit(job, length):
    plan = job.plan(
        units__length=f'"{length}"',
        radio__feeder_loss_db=None,
        radio__feeder_length="25",
        radio__feeder_loss_db_per_100m="12",
        radio__connector_loss_db="0.4",
    )
    expected = float(25 * EXACT_METRES[length] * 12 / 100) + 0.4
    assert plan.transmitter.feeder.loss_db == pytest.approx(expected, rel=1e-14)


def test_power_and_gain_in_their_other_units(job):
    plan = job.plan(
        radio__power_w=None,
        radio__power_dbm="37",
        radio__antenna_gain_dbi=None,
        radio__antenna_gain_dbd="3",
        rover__antenna_gain_dbi=None,
        rover__antenna_gain_dbd="0",
    )
    assert plan.transmitter.power_dbm == 37.0
    # A half-wave dipole has 1.64 times the gain of an isotropic radiator: 2.15 dB.
    assert plan.transmitter.antenna.gain_dbi == pytest.approx(3.0 + 10 * math.log10(1.64), abs=0.005)
    assert plan.rover.receiver.antenna.gain_dbi == pytest.approx(2.15, abs=0.005)


def test_modulation_stands_for_the_signal_to_noise_that_it_needs(job):
    plan = job.plan(rover__modulation='"gmsk"', rover__noise_bandwidth_khz="10")
    receiver = plan.rover.receiver
    assert (receiver.modulation, receiver.required_snr_db) == ("gmsk", REQUIRED_SNR_DB["gmsk"])
    assert (receiver.sensitivity_dbm, receiver.noise_bandwidth_khz) == (-110.0, 10.0)
    alone = job.plan(rover__sensitivity_dbm=None, rover__required_snr_db="14.5").rover.receiver
    assert (alone.required_snr_db, alone.sensitivity_dbm, alone.modulation) == (14.5, None, "")


def test_noise_words_are_those_of_the_propagation_room(job):
    from linkplan.propagation.noise import CATEGORIES

    for word in CATEGORIES:
        assert job.plan(environment__noise=f'"{word}"').environment.noise == word


def test_terrain_patterns_are_sorted_and_each_file_comes_once(job):
    for name in ("t2.tif", "t10.tif", "t1.tif", "odd[1].tif"):
        (job.folder / name).touch()
    (job.folder / "deep").mkdir()
    (job.folder / "deep" / "t3.tif").touch()
    plan = job.plan(terrain__files='["t2.tif", "t*.tif", "odd[1].tif", "**/t3.tif"]')
    assert [str(path.relative_to(job.folder)) for path in plan.terrain.files] == [
        "t2.tif",
        "t1.tif",
        "t10.tif",
        "odd[1].tif",
        "deep/t3.tif",
    ]
    absolute = job.plan(terrain__files=f'["{job.folder / "dem.tif"}"]')
    assert absolute.terrain.files == (job.folder / "dem.tif",)


def test_compound_system_and_byte_order_mark_are_welcome(job):
    text = job.text(job__crs='"EPSG:32611+5773"', job__notes='"a\\nb"')
    plan = read_plan(job.write(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode()))
    assert plan.crs.is_compound
    assert plan.notes == "a\nb"


def test_degrees_and_feet_as_coordinate_systems(job):
    plan = job.plan(
        job__crs='"EPSG:4326"',
        base__position="[-117.01, 37.95]",
        boundary__coordinates="[[-117.02, 37.94], [-117.0, 37.94], [-117.0, 37.96]]",
    )
    assert (plan.base.easting, plan.base.northing) == (-117.01, 37.95)
    assert plan.warnings == ()
    # NAD83 / California zone 3 (ftUS): the false origin is 6 561 666.667, 1 640 416.667 US survey feet
    # at longitude 120.5 W, latitude 36.5 N (EPSG registry); this place is some 110 km north of it.
    feet = job.plan(
        job__crs='"EPSG:2227"',
        base__position="[6561667, 2000417]",
        boundary__coordinates="[[6561000, 2000000], [6563000, 2000000], [6563000, 2002000]]",
    )
    assert feet.warnings == ()


def test_odd_places_are_warned_of_but_do_not_stop_the_job(job):
    plan = job.plan(base__position="[4200300, 500200]")
    assert len(plan.warnings) == 2
    assert plan.warnings[0].startswith(
        "base.position: lies outside the area for which WGS 84 / UTM zone 11N is made (longitude "
    )
    assert plan.warnings[0].endswith("easting and northing may be the wrong way round")
    assert plan.warnings[1].endswith("from the job's boundary; check both and job.crs")
    # 200 km north of the boundary's edge; grid and ground distance differ by 0.04 % at most in UTM.
    far = job.plan(base__position="[500200, 4401000]")
    assert far.warnings == ("base: stands 200 km from the job's boundary; check both and job.crs",)


@settings(max_examples=200, deadline=None)
@given(
    unit=st.sampled_from(sorted(EXACT_METRES)),
    number=st.one_of(
        st.integers(1, 900), st.decimals("0.5", "900", places=4, allow_nan=False, allow_infinity=False)
    ),
)
def test_any_length_converts_by_its_exact_definition(unit, number):
    report = Report()
    scope = Scope(Path(), {"length": float(EXACT_METRES[unit]), "height": None}, report)
    key = Key("distance", "length", "1", low=0.001, high=1e4)
    raw = number if isinstance(number, int) else WrittenFloat(str(number))
    value = read_value(raw, key, scope)
    exact = Fraction(number) * EXACT_METRES[unit]
    assert report.faults == []
    assert abs(Fraction(value) - exact) <= exact * Fraction(1, 2**51)


@settings(max_examples=100, deadline=None)
@given(
    unit=st.sampled_from(sorted(EXACT_METRES)),
    share=st.floats(0.0, 1.0),
    key=st.sampled_from([key for table in TABLES for key in table.keys if key.kind in ("length", "height")]),
)
def test_whatever_lies_between_the_limits_passes_in_any_unit(unit, share, key):
    factor = float(EXACT_METRES[unit])
    metres = key.low + share * (key.high - key.low)
    report = Report()
    value = read_value(metres / factor, key, Scope(Path(), {"length": factor, "height": factor}, report))
    assert report.faults == []
    assert value == pytest.approx(metres, rel=1e-12, abs=1e-9)


# The folder is the same for all examples; each writes its own job file over the last.
@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    kind=st.sampled_from(["W", "dBm"]),
    power_dbm=st.floats(0.0, 60.0),
    height=st.floats(0.33, 900.0),
)
def test_round_trip_of_a_job_in_feet_and_watts(job, kind, power_dbm, height):
    power = {"radio__power_w": None, "radio__power_dbm": repr(power_dbm)}
    if kind == "W":
        watts = min(max(10 ** (power_dbm / 10) / 1000, 0.001), 1000.0)
        power = {"radio__power_w": repr(watts)}
    plan = job.plan(units__height='"foot"', base__antenna_height=repr(height), **power)
    assert plan.transmitter.power_dbm == pytest.approx(power_dbm, abs=1e-9)
    assert plan.base.antenna_height_m / 0.3048 == pytest.approx(height, rel=1e-14)


def test_every_example_of_the_description_is_sound():
    """The cures offer these examples, so each must pass its own key's check."""
    import tomllib

    keys = [(table, key) for table in TABLES for key in table.keys]
    keys += [(table, inner) for table, key in keys for inner in key.inner]
    for table, key in keys:
        if key.kind in ("file", "dataset", "files", "classes", "tables"):
            continue
        report = Report()
        raw = tomllib.loads(f"{key.name} = {key.example}")[key.name]
        value = read_value(raw, key, Scope(Path(), {"length": 1.0, "height": 1.0}, report))
        assert report.faults == [], (table.name, key.name)
        assert value is not None
        if key.default is not None and key.kind in ("number", "integer"):
            assert key.low <= key.default <= key.high


def test_limits_are_those_of_the_functions_that_take_the_values():
    """A job that reads must not be refused later for a value that the reader let pass."""
    from linkplan.propagation.noise import FREQUENCY_LIMITS_MHZ
    from linkplan.propagation.radio_climate import REFRACTIVITY_GRADIENT_LIMITS
    from linkplan.tables import p1812_8

    limits = {f"{table.name}.{key.name}": (key.low, key.high) for table in TABLES for key in table.keys}
    assert limits["radio.frequency_mhz"] == (30.0, 6000.0)  # P.1812-8, section 1
    assert limits["radio.frequency_mhz"][1] <= FREQUENCY_LIMITS_MHZ[1]
    assert limits["environment.refractivity_gradient_n_units_per_km"] == REFRACTIVITY_GRADIENT_LIMITS
    assert limits["base.antenna_height"][1] <= p1812_8.ANTENNA_HEIGHT_MAX_M


def test_importing_the_reader_loads_nothing_heavy():
    heavy = ("pyproj", "geopandas", "pandas", "shapely", "rasterio", "numba", "scipy", "matplotlib")
    code = f"import sys, linkplan.plan.reader; print([m for m in {heavy!r} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_a_plain_job_does_not_load_geopandas(job):
    path = job.write(job.text())
    code = (
        "import sys; from linkplan.plan.reader import read_plan; "
        f"read_plan({str(path)!r}); print('geopandas' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
    assert np.isfinite(job.plan().boundary.area)
