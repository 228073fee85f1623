"""The palette: told apart over any hillshade, by any kind of colour vision, and in black and white."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from linkplan.coverage.results import CoverageClass, CoverageMap
from linkplan.outputs import style
from linkplan.outputs.picture import class_palette, class_picture, shade_bytes

GROUNDS = np.linspace(*style.HILLSHADE_WHITE, 5)


def over_ground() -> np.ndarray:
    """(classes, grounds, 3): each class colour over grounds from dark to bright, sRGB 0 to 1."""
    colours = np.array(list(style.CLASS_RGB.values()))[:, None, :] / 255.0
    return style.OVERLAY_OPACITY * colours + (1.0 - style.OVERLAY_OPACITY) * GROUNDS[None, :, None]


def relative_luminance(rgb: np.ndarray) -> np.ndarray:
    """WCAG 2.1, definition of relative luminance (sRGB 0 to 1)."""
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    return linear @ np.array([0.2126, 0.7152, 0.0722])


def test_better_is_lighter_in_black_and_white_on_any_ground() -> None:
    light = relative_luminance(over_ground())
    darkest_of_better, brightest_of_worse = light[:-1].min(axis=1), light[1:].max(axis=1)
    assert (darkest_of_better > 1.15 * brightest_of_worse).all()


@pytest.mark.parametrize(
    ("vision", "least"),
    # units of CAM02-UCS: about 1 is just noticeable, 5 is plain to see (common practice)
    [(None, 20.0), ("protanomaly", 10.0), ("deuteranomaly", 7.0), ("tritanomaly", 7.0)],
)
def test_classes_differ_for_every_colour_vision(vision: str | None, least: float) -> None:
    colorspacious = pytest.importorskip("colorspacious", reason="colour differences need colorspacious")
    seen = over_ground()
    if vision is not None:
        space = {"name": "sRGB1+CVD", "cvd_type": vision, "severity": 100}
        seen = np.clip(colorspacious.cspace_convert(seen, space, "sRGB1"), 0.0, 1.0)
    uniform = colorspacious.cspace_convert(seen, "sRGB1", "CAM02-UCS")
    differences = [
        np.linalg.norm(uniform[one][:, None, :] - uniform[other][None, :, :], axis=-1).min()
        for one, other in itertools.combinations(range(len(uniform)), 2)
    ]
    assert min(differences) > least


def test_a_class_keeps_its_colour_when_another_is_left_out(case: tuple) -> None:
    _, coverage, _ = case
    fewer = tuple(one for one in coverage.classes if one.key != "likely")
    for one in fewer:
        assert style.class_rgb(one, fewer) == style.class_rgb(one, coverage.classes)


def test_unknown_keys_are_spread_from_light_to_dark() -> None:
    classes = tuple(CoverageClass(i, f"k{i}", f"n{i}", "", 0.0, 1.0) for i in (1, 2, 3))
    colours = [style.class_rgb(one, classes) for one in classes]
    assert colours == [style.VIRIDIS[4], style.VIRIDIS[2], style.VIRIDIS[0]]


def test_legend_shows_the_colour_of_the_map(case: tuple) -> None:
    """A chip is the class over the ground's middle grey: the map's own mix on such ground."""
    _, coverage, _ = case
    grid = coverage.grid
    flat = replace(grid, height_m=np.full(grid.shape, np.nan))  # unknown ground is drawn in the legend's grey
    picture = class_picture(replace(coverage, grid=flat))
    for one in coverage.classes:
        seen = np.unique(picture[coverage.class_index == one.index].reshape(-1, 3), axis=0)
        chip = np.array(style.on_ground(style.class_rgb(one, coverage.classes)))
        assert len(seen) == 1
        assert np.abs(seen[0].astype(int) - chip).max() <= 1


def test_no_data_is_ground_alone(case: tuple) -> None:
    _, coverage, _ = case
    picture = class_picture(coverage)
    unknown = coverage.class_index == 0
    assert unknown.any()
    ground = shade_bytes(coverage.grid)
    assert (picture[unknown] == ground[unknown][:, None]).all()


def test_hillshade_stays_in_its_range_and_calm_on_flat_ground(case: tuple) -> None:
    _, coverage, _ = case
    low, high = (round(255 * part) for part in style.HILLSHADE_WHITE)
    tone = shade_bytes(coverage.grid)
    assert low <= tone.min() < tone.max() <= high
    rng = np.random.default_rng(5)
    nearly_flat = replace(coverage.grid, height_m=100.0 + rng.normal(0.0, 0.01, coverage.grid.shape))
    calm = shade_bytes(nearly_flat)
    assert calm.std() < 0.1 * (high - low)


def test_letters_read_on_every_class() -> None:
    """Contrast of at least 4.5 to 1 [WCAG 2.1, success criterion 1.4.3]."""
    for rgb in style.VIRIDIS:
        seen = style.on_ground(rgb)
        light = float(relative_luminance(np.array(seen) / 255.0))
        ink = 0.0 if style.ink_on(seen) == "#000000" else 1.0
        assert (max(light, ink) + 0.05) / (min(light, ink) + 0.05) >= 4.5


def test_every_margin_has_a_colour_of_its_own() -> None:
    steps = range(-style.MARGIN_LIMIT_DB, style.MARGIN_LIMIT_DB + 1)
    assert len({style.margin_rgb(step) for step in steps}) == len(steps)


def test_palette_follows_the_index(case: tuple[object, CoverageMap, object]) -> None:
    _, coverage, _ = case
    palette = class_palette(coverage)
    for one in coverage.classes:
        assert tuple(palette[one.index]) == style.class_rgb(one, coverage.classes)
