"""The one place for colours, words, fonts and lines of everything that is drawn.

Colours of the classes are five samples of the viridis scale, light for good and dark for bad, so
that ground without corrections reads as shadow. They keep their order of lightness for every kind of
colour vision and in black and white. Unknown ground has no colour: hillshade with a hatch.
"""

from __future__ import annotations

from dataclasses import dataclass

from linkplan.coverage.results import CoverageClass

Rgb = tuple[int, int, int]

VIRIDIS: tuple[Rgb, ...] = ((68, 1, 84), (59, 82, 139), (33, 145, 140), (94, 201, 98), (253, 231, 37))
"""Samples at 0, 1/4, 1/2, 3/4 and 1 of the scale [matplotlib's viridis, CC0]."""

CLASS_RGB: dict[str, Rgb] = {
    "dependable": VIRIDIS[4],
    "likely": VIRIDIS[3],
    "uncertain": VIRIDIS[2],
    "unlikely": VIRIDIS[1],
    "out-of-reach": VIRIDIS[0],
}
"""Colour of a class by its key, so that a class looks alike on every job."""

OVERLAY_OPACITY = 0.80
HILLSHADE_WHITE = (0.60, 1.0)
"""Range of the hillshade between black (0) and white (1).

Worst case over it, darkest ground under one class and brightest under the next: CIEDE2000 20.0, with
protan vision 10.8, deutan 6.8, tritan 7.6, in grey 5.0. A weaker one hides the terrain, a stronger one
(the same at 0.7 opacity: deutan 2.1, grey 0.2) blurs the classes."""
LEGEND_GREY = 0.82
"""Brightness of the ground under a legend's colour chip: the hillshade's usual one."""

NO_DATA_NAME = "no data"
NO_DATA_MEANING = "Terrain missing here or on the way: nothing is claimed."
HATCH_RGB: Rgb = (70, 70, 70)

INK = "#1d2530"
INK_SOFT = "#5a6573"
INK_FAINT = "#98a2ae"
PAPER = "#ffffff"
BASE_FILL = "#d6006c"
"""Magenta: on no class scale and no hillshade."""
CONTROL_FILL = "#ffffff"
GROUND_FILL = "#b9a68c"
GROUND_LINE = "#5b4a33"
CLUTTER_FILL = "#5f8f5a"
CLUTTER_LINE = "#2f5a33"
EARTH_FILL = "#8d7b63"
CONTOUR = "#4a3a22"
RAY = "#d6006c"
ZONE_FILL = "#3b6fb6"
ZONE_LINE = "#27508a"

FONT = "DejaVu Sans"
"""Comes with matplotlib, so a figure looks alike everywhere."""
FONT_STACK = 'system-ui, "Segoe UI", Roboto, "Helvetica Neue", "Noto Sans", "DejaVu Sans", sans-serif'

BOUNDARY_WIDTH = 1.6
CASING_WIDTH = 4.2

PREDICTION = "A prediction, not a measurement: verify on site before work relies on it."
MODEL = "Recommendation ITU-R P.1812-8, median of time, diffraction over the terrain"
CAUTIONS = (
    "A prediction cannot see new buildings, vehicles, machines, foliage in leaf or other users of the "
    "channel. Walk or drive the edges and the gaps with a rover before work relies on them.",
    "Radio-frequency exposure: keep people at the distance from the antenna that local limits and the "
    "equipment's manual require, and switch off before anyone works at the antenna.",
    "Masts and tripods: have them put up, guyed and taken down by people who are trained for it, in "
    "wind that the equipment allows.",
    "Overhead lines: keep mast, antenna and guys so far away that nothing can touch or come near a line "
    "if it falls; ask the owner of the line.",
    "Lightning: lower or leave the mast when thunder is near; earthing follows the local code.",
    "Machines guided by corrections need a rule for when corrections stop or grow old: stop, and go on "
    "only when a qualified person says so.",
    "Local codes, the radio licence and a qualified person's judgement come before anything on this page.",
)


@dataclass(frozen=True)
class Band:
    """A range of a quantity that a map layer shows in one colour: low <= value < high."""

    name: str
    low: float
    high: float
    rgb: Rgb


FRESNEL_BANDS = (
    Band("first Fresnel zone clear", 1.0, float("inf"), VIRIDIS[4]),
    Band("0.6 or more of the first Fresnel zone clear", 0.6, 1.0, VIRIDIS[3]),
    Band("less than 0.6 of the first Fresnel zone clear", 0.0, 0.6, VIRIDIS[2]),
    Band("ray blocked", float("-inf"), 0.0, VIRIDIS[0]),
)
"""0.6 of the first zone is what the trade asks for [common practice]."""

SIGHT_BANDS = (
    Band("in line of sight", 0.5, float("inf"), VIRIDIS[4]),
    Band("hidden by ground or clutter", float("-inf"), 0.5, VIRIDIS[0]),
)

MARGIN_LIMIT_DB = 40
"""Margins beyond plus or minus this share one colour."""


def class_rgb(one: CoverageClass, classes: tuple[CoverageClass, ...]) -> Rgb:
    """Colour of a class: by its key, or spread over the scale by rank when the key is a new one."""
    if one.key in CLASS_RGB:
        return CLASS_RGB[one.key]
    rank = [other.index for other in classes].index(one.index)
    return scale_rgb(1.0 - rank / max(len(classes) - 1, 1))


def scale_rgb(position: float) -> Rgb:
    """Colour of the scale between worst (0) and best (1), straight lines between the five samples."""
    place = min(max(position, 0.0), 1.0) * (len(VIRIDIS) - 1)
    low = min(int(place), len(VIRIDIS) - 2)
    part = place - low
    red, green, blue = (
        round(a + (b - a) * part) for a, b in zip(VIRIDIS[low], VIRIDIS[low + 1], strict=True)
    )
    return red, green, blue


def margin_rgb(margin_db: int) -> Rgb:
    """Colour of a margin in whole dB; 0 dB is the middle of the scale."""
    return scale_rgb((margin_db + MARGIN_LIMIT_DB) / (2 * MARGIN_LIMIT_DB))


def on_ground(rgb: Rgb) -> Rgb:
    """A layer's colour as it looks over the hillshade, for legends that match the map."""
    ground = LEGEND_GREY * 255.0
    red, green, blue = (round(OVERLAY_OPACITY * part + (1.0 - OVERLAY_OPACITY) * ground) for part in rgb)
    return red, green, blue


def hex_of(rgb: Rgb) -> str:
    """#rrggbb."""
    return "#{:02x}{:02x}{:02x}".format(*rgb)


def ink_on(rgb: Rgb) -> str:
    """Black or white, whichever reads better on a colour [relative luminance, WCAG 2.1]."""
    linear = [
        c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in (part / 255 for part in rgb)
    ]
    luminance = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    return "#000000" if (luminance + 0.05) / 0.05 >= 1.05 / (luminance + 0.05) else "#ffffff"
