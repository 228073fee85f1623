"""Numbers as people read them: units, signs, and no share that says more than it is."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from linkplan.outputs import formats
from linkplan.outputs.formats import Formats

METRIC = Formats("metre", "metre", False, "m", "any")
FEET = Formats("us-survey-foot", "foot", False, "ft", "any")
DEGREES = Formats("metre", "metre", True, "deg", "any")
GROUP = formats.NARROW_SPACE


@pytest.mark.parametrize(
    ("share", "text"),
    [
        (0.0, "0 %"),
        (1.0, "100 %"),
        (0.99999, "over 99.9 %"),
        (0.00001, "under 0.1 %"),
        (0.8137, "81.4 %"),
        (0.9995, "over 99.9 %"),
    ],
)
def test_only_all_is_all_and_only_nothing_is_nothing(share: float, text: str) -> None:
    assert formats.percent(share) == text


@pytest.mark.parametrize(
    ("chance", "text"),
    [(0.9996, "over 99.9 %"), (0.949, "94.9 %"), (0.95, "95 %"), (0.5749, "57 %"), (0.001, "under 1 %")],
)
def test_chance_is_finer_where_classes_are(chance: float, text: str) -> None:
    assert formats.chance(chance) == text


@pytest.mark.parametrize(
    ("show", "metres", "text"),
    [
        (METRIC, 12.4, "12 m"),
        (METRIC, 999.4, "999 m"),
        (METRIC, 999.6, "1.00 km"),
        (METRIC, 2345.0, "2.35 km"),
        (METRIC, 12_345.0, "12.3 km"),
        # 1609.344 m is the international mile of 5280 international feet (1959), 5279.99 US survey feet
        (FEET, 1609.344, "5280 ft"),
        (FEET, 16_093.44, f"52{GROUP}800 ft"),
    ],
)
def test_distances(show: Formats, metres: float, text: str) -> None:
    assert show.distance(metres) == text


@pytest.mark.parametrize(
    ("show", "square_metres", "text"),
    [
        (METRIC, 9_999.0, "9999 m²"),
        (METRIC, 123_400.0, "12.3 ha"),
        (METRIC, 1_234_000.0, "123 ha"),
        (METRIC, 22_800_000.0, "22.8 km²"),
        # 4046.8564224 m2 is the acre of 43 560 square feet (international)
        (FEET, 4046.8564224 * 2, "2.0 acres"),
        (FEET, 4046.8564224 * 250, "250 acres"),
        (FEET, 92.903, "1000 ft²"),
    ],
)
def test_areas(show: Formats, square_metres: float, text: str) -> None:
    assert show.area(square_metres) == text


def test_columns_take_the_unit_of_their_largest() -> None:
    assert METRIC.area_column([900.0, 0.0, 42.0]) == ("m²", ["900", "0", "42"])
    assert METRIC.area_column([31_000.0, 425.0]) == ("ha", ["3.10", "0.04"])
    assert METRIC.area_column([2_200_000.0, 47_000.0]) == ("ha", ["220.0", "4.7"])
    assert METRIC.area_column([58.4e6, 12e4]) == ("km²", ["58.40", "0.12"])
    assert METRIC.area_column([]) == ("m²", [])
    # 1 acre is 43 560 ft2
    assert FEET.area_column([4046.8564224 * 7.5, 404.68564224]) == ("acres", ["7.50", "0.10"])
    assert FEET.area_column([92.903])[0] == "ft²"
    assert METRIC.distance_column([522.0, 1_880.0]) == ("m", ["522", "1880"])
    assert METRIC.distance_column([522.0, 13_400.0]) == ("km", ["0.52", "13.40"])
    assert FEET.distance_column([3.048]) == ("ft", ["10"])


def test_heights_keep_their_own_unit() -> None:
    assert FEET.height(3.048) == "10.0 ft"
    assert METRIC.height(3.048) == "3.0 m"


def test_levels_have_no_negative_zero() -> None:
    assert formats.decibels(-0.04, signed=True) == "0.0 dB"
    assert formats.decibels(-0.06, signed=True) == "-0.1 dB"
    assert formats.decibels(7.25, signed=True) == "+7.2 dB"
    assert formats.decibels(-98.26, "dBm") == "-98.3 dBm"


def test_azimuth_is_three_digits_and_never_360() -> None:
    assert formats.azimuth(7.4) == "007°"
    assert formats.azimuth(359.7) == "000°"


def test_coordinates_can_be_copied() -> None:
    assert METRIC.position(512345.678, 5190820.04) == "E 512345.7, N 5190820.0"
    assert DEGREES.position(9.1619895, 46.8708046) == "lon 9.161990, lat 46.870805"


def test_chance_ranges_say_what_a_class_promises() -> None:
    assert formats.chance_range(0.95, 1.0) == "95 % or more"
    assert formats.chance_range(0.8, 0.95) == "80 to 95 %"
    assert formats.chance_range(0.0, 0.1) == "under 10 %"


def test_typesetting_changes_signs_of_numbers_and_nothing_else() -> None:
    assert formats.typeset("margin -3.2 dB, well-known CP-1") == "margin −3.2\u00a0dB, well-known CP-1"
    assert formats.typeset("E 512345.7, N 5190820.0") == "E\u00a0512345.7, N\u00a05190820.0"
    assert formats.typeset("12 mice") == "12 mice"


@pytest.mark.parametrize(
    ("epsg", "unit", "short", "geographic"),
    [(25832, "metre", "m", False), (2229, "us-survey-foot", "ft", False), (4326, "metre", "deg", True)],
)
def test_formats_follow_the_plan(
    make: Callable[..., tuple], epsg: int, unit: str, short: str, geographic: bool
) -> None:
    plan, _, _ = make(epsg=epsg, unit=unit, rows=12, columns=12)
    show = Formats.of(plan)
    assert (show.coordinate_unit, show.geographic, show.length_unit) == (short, geographic, unit)
    assert show.crs_name.endswith(f"(EPSG:{epsg})")
