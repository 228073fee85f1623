"""Man-made noise: which line holds where, and that an extrapolation says so."""

from __future__ import annotations

import json
from dataclasses import FrozenInstanceError

import pytest

from linkplan.errors import RangeError
from linkplan.propagation.noise import CATEGORIES, man_made_noise


def test_categories_are_those_of_a_job_file() -> None:
    assert list(CATEGORIES) == ["city", "residential", "rural", "quiet-rural"]
    assert all(name and name == name.strip() for name in CATEGORIES.values())


@pytest.mark.parametrize(
    ("category", "frequency_mhz", "extrapolated"),
    [
        ("city", 128.9, False),
        ("city", 450.0, False),
        ("city", 900.0, False),
        ("city", 900.1, True),
        ("residential", 250.0, False),
        ("residential", 250.1, True),
        ("rural", 0.3, False),
        ("rural", 450.0, True),
        ("quiet-rural", 470.0, True),
    ],
)
def test_says_when_a_line_is_extrapolated(category: str, frequency_mhz: float, extrapolated: bool) -> None:
    result = man_made_noise(category, frequency_mhz)
    assert result.extrapolated is extrapolated
    assert ("extrapolated" in result.line) is extrapolated


def test_city_follows_its_second_line_above_128_9_mhz() -> None:
    # The first line carried on to 450 MHz, 76.8 - 27.7 x 2.6532 = 3.3 dB, would be 8.4 dB too quiet.
    first_line_db = 76.8 - 27.7 * 2.653213
    assert man_made_noise("city", 450.0).noise_figure_db - first_line_db == pytest.approx(8.36, abs=0.02)
    assert "44.3 - 12.3" in man_made_noise("city", 450.0).line
    assert "76.8 - 27.7" in man_made_noise("city", 128.0).line


def test_the_two_lines_of_cities_meet() -> None:
    # 76.8 - 27.7 x 2.1103 = 18.345 and 44.3 - 12.3 x 2.1103 = 18.344.
    below, above = man_made_noise("city", 128.9), man_made_noise("city", 128.9001)
    assert below.line != above.line
    assert below.noise_figure_db == pytest.approx(above.noise_figure_db, abs=0.01)


@pytest.mark.parametrize(
    ("category", "upper_db", "lower_db"),
    # P.372-10, section 5, table 2, read in code that cites it; none was read for quiet rural places.
    [("city", 11.0, 6.7), ("residential", 10.6, 5.3), ("rural", 9.2, 4.6), ("quiet-rural", None, None)],
)
def test_deciles(category: str, upper_db: float | None, lower_db: float | None) -> None:
    result = man_made_noise(category, 450.0)
    assert (result.upper_decile_db, result.lower_decile_db) == (upper_db, lower_db)


def test_places_are_ordered_from_loud_to_quiet() -> None:
    levels = [man_made_noise(category, 450.0).noise_figure_db for category in CATEGORIES]
    assert levels == sorted(levels, reverse=True)


def test_result_is_frozen_and_becomes_json() -> None:
    result = man_made_noise("rural", 450.0)
    with pytest.raises(FrozenInstanceError):
        result.noise_figure_db = 0.0  # type: ignore[misc]
    read_back = json.loads(json.dumps(result.to_dict()))
    assert read_back["noise_figure_db"] == result.noise_figure_db
    assert read_back["category"] == "rural"


@pytest.mark.parametrize("frequency_mhz", [0.29, 6000.1, float("nan")])
def test_frequency_out_of_range(frequency_mhz: float) -> None:
    with pytest.raises(RangeError, match=r"frequency_mhz = .* is outside 0\.3 to 6000 MHz"):
        man_made_noise("city", frequency_mhz)


def test_unknown_category_lists_the_known() -> None:
    with pytest.raises(RangeError, match="'village' is not one of city, residential, rural, quiet-rural"):
        man_made_noise("village", 450.0)
