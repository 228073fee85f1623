"""The map's layers as palette pictures for the browser, with legends and what each colour says."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linkplan.coverage.classes import classes_for
from linkplan.coverage.results import CoverageClass, CoverageMap
from linkplan.outputs import formats, style
from linkplan.outputs.formats import typeset
from linkplan.outputs.picture import band_index, shade_bytes
from linkplan.outputs.sky_map import OPEN_BANDS
from linkplan.outputs.workable_looks import LOOKS, look_index, look_shares
from linkplan.outputs.workable_words import Work
from linkplan.page.placing import Placed
from linkplan.terrain.grid import TerrainGrid
from linkplan.workable import WORKABLE

LAYERS = ("chance", "margin", "sight", "fresnel", "workable", "openness")
NAMES = {
    "chance": "Chance of corrections",
    "margin": "Link margin",
    "sight": "Line of sight",
    "fresnel": "Fresnel clearance",
    "workable": "Where work can go on",
    "openness": "Open sky above the rover's mask",
    "served": "Served by which",
    "gain": "Margin of B over A",
}
BANDS = {"sight": style.SIGHT_BANDS, "fresnel": style.FRESNEL_BANDS, "openness": OPEN_BANDS}
SHADES = 64
GAIN_LIMIT_DB = 20
_COMPRESS = 1
"""Level of the pictures' compression: they go over the loopback only."""

Entry = dict[str, Any]


@dataclass(frozen=True)
class Picture:
    """A layer, ready to be sent."""

    layer: str
    png: bytes
    placed: Placed
    legend: tuple[Entry, ...]
    colours: tuple[style.Rgb, ...]
    words: tuple[str, ...]
    """What each of the colours says."""
    note: str = ""
    """Added to the layer's name."""

    def body(self) -> dict[str, Any]:
        """What goes before the bytes."""
        rows, columns = self.placed.cell.shape
        ramp, ticks = ramp_of(self.layer)
        return {
            "layer": self.layer,
            "name": NAMES[self.layer] + self.note,
            "bounds": self.placed.bounds,
            "width": columns,
            "height": rows,
            "legend": list(self.legend),
            "ramp": ramp,
            "ticks": ticks,
            "values": {
                ",".join(map(str, rgb)): word for rgb, word in zip(self.colours, self.words, strict=True)
            },
        }


def entry(name: str, rgb: style.Rgb | None = None, note: str = "", **more: Any) -> Entry:
    """A legend's line, in the colour as it looks over the hillshade."""
    if rgb is None:
        return {"name": name, "note": note, **more}
    seen = style.on_ground(rgb)
    return {"name": name, "note": note, "colour": style.hex_of(seen), "ink": style.ink_on(seen), **more}


UNKNOWN = entry("unknown ground", None, "Nothing is claimed there, nor outside of the job.")
"""The last line of layers that are computed inside the job alone."""


def no_data(**more: Any) -> Entry:
    """The legend's last line."""
    return entry(style.NO_DATA_NAME, None, style.NO_DATA_MEANING, **more)


def legend_of(layer: str, chance: float) -> tuple[Entry, ...]:
    """A layer's legend before anything is computed."""
    if layer == "chance":
        return class_legend(classes_for(chance), None, None)
    if layer == "openness":
        return (*(entry(band.name, band.rgb) for band in BANDS[layer]), UNKNOWN)
    if layer in BANDS:
        return (*(entry(band.name, band.rgb) for band in BANDS[layer]), no_data())
    if layer == "workable":
        return (
            *(entry(look.name, look.rgb, look.note, stripe=_stripe(look.rgb, look.stripe)) for look in LOOKS),
            UNKNOWN,
        )
    if layer == "served":
        return tuple(entry(name, rgb) for name, rgb in SERVED)
    return (no_data(),)


def class_legend(
    classes: Sequence[CoverageClass], shares: Sequence[float] | None, unknown: float | None
) -> tuple[Entry, ...]:
    """The classes of chance, with their shares of the job where these are known."""
    found = []
    for at, one in enumerate(classes):
        note = f"{formats.chance_range(one.chance_low, one.chance_high)}. {one.meaning}"
        share = {} if shares is None else share_words(shares[at])
        found.append(
            entry(one.name, style.class_rgb(one, tuple(classes)), note, number=str(one.index), **share)
        )
    return (*found, no_data(**({} if unknown is None else share_words(unknown))))


def share_words(share: float) -> dict[str, Any]:
    """A share as number and as text."""
    return {"share": typeset(formats.percent(share)), "share_value": share}


def ramp_of(layer: str) -> tuple[list[str], list[str]]:
    """Colours and ticks of a layer without steps."""
    if layer not in {"margin", "gain"}:
        return [], []
    limit = style.MARGIN_LIMIT_DB if layer == "margin" else GAIN_LIMIT_DB
    colours = [_ramp_rgb(layer, step) for step in range(-limit, limit + 1, limit // 10)]
    ticks = [
        typeset(f"{step:+d} dB" if step else "0 dB") for step in (-limit, -limit // 2, 0, limit // 2, limit)
    ]
    return [style.hex_of(style.on_ground(colour)) for colour in colours], ticks


def _ramp_rgb(layer: str, step: int) -> style.Rgb:
    if layer == "margin":
        return style.margin_rgb(step)
    return style.scale_rgb((step + GAIN_LIMIT_DB) / (2 * GAIN_LIMIT_DB))


def class_picture(
    coverage: CoverageMap, placed: Placed, shares: Sequence[float] | None, unknown: float | None
) -> Picture:
    """Classes of chance; class 0, no data, is see-through."""
    colours = tuple(style.class_rgb(one, coverage.classes) for one in coverage.classes)
    words = tuple(f"{one.index} {one.name}" for one in coverage.classes)
    index = placed.look_up(coverage.class_index)
    legend = class_legend(coverage.classes, shares, unknown)
    return Picture("chance", png(index, colours), placed, legend, colours, words)


def decibel_picture(layer: str, values_db: NDArray[np.floating], placed: Placed) -> Picture:
    """Whole decibels, a colour each; `values_db` on the pixels, NaN where unknown."""
    limit = style.MARGIN_LIMIT_DB if layer == "margin" else GAIN_LIMIT_DB
    known = np.isfinite(values_db)
    whole = np.clip(np.rint(np.where(known, values_db, 0.0)), -limit, limit)
    index = np.where(known, whole + (limit + 1), 0).astype(np.uint8)
    steps = range(-limit, limit + 1)
    colours = tuple(_ramp_rgb(layer, step) for step in steps)
    what = "margin" if layer == "margin" else "B over A"
    words = [typeset(f"{what} {step:+d} dB" if step else f"{what} 0 dB") for step in steps]
    words[0] = typeset(f"{what} {-limit} dB or less")
    words[-1] = typeset(f"{what} {limit:+d} dB or more")
    return Picture(layer, png(index, colours), placed, (no_data(),), colours, tuple(words))


def band_picture(layer: str, values: NDArray[np.floating], placed: Placed) -> Picture:
    """Bands of a quantity given on the cells."""
    bands = BANDS[layer]
    index = placed.look_up(band_index(values, bands).astype(np.uint8))
    colours = tuple(band.rgb for band in bands)
    return Picture(
        layer,
        png(index, colours),
        placed,
        legend_of(layer, 0.95),
        colours,
        tuple(band.name for band in bands),
    )


def workable_picture(work: Work, placed: Placed) -> Picture:
    """Where work can go on, the reasons against it told apart by stripes too."""
    unknown = len(LOOKS)
    at = placed.look_up(np.where(look_index(work.found) < 0, unknown, look_index(work.found)), unknown)
    rows, columns = np.mgrid[0 : at.shape[0], 0 : at.shape[1]]
    index = np.zeros(at.shape, dtype=np.uint8)
    colours: list[style.Rgb] = []
    words: list[str] = []
    for number, look in enumerate(LOOKS):
        here = at == number
        # a shade apart from all others, so that every colour says what it means
        stripe = (look.stripe[0], look.stripe[1], look.stripe[2] - number)
        parts = [(look.rgb, here)]
        if look.stripes is not None:
            parts.append((stripe, here & look.stripes(rows, columns)))
        for rgb, pixels in parts:
            colours.append(rgb)
            words.append("workable" if look.codes == (WORKABLE,) else f"not workable: {look.name}")
            index[pixels] = len(colours)
    shares = look_shares(work.found)
    legend = [
        {**line, **share_words(share)}
        for line, share in zip(legend_of("workable", 0.95), shares, strict=True)
    ]
    note = "" if work.found.sky_counted else " (sky not counted)"
    return Picture("workable", png(index, colours), placed, tuple(legend), tuple(colours), tuple(words), note)


def _stripe(rgb: style.Rgb, stripe: style.Rgb) -> str:
    """The second colour of a look, or "" where it has one only."""
    return "" if rgb == stripe else style.hex_of(style.on_ground(stripe))


SERVED: tuple[tuple[str, style.Rgb], ...] = (
    ("both reach it", style.VIRIDIS[4]),
    ("only A reaches it", style.VIRIDIS[2]),
    ("only B reaches it", style.VIRIDIS[3]),
    ("neither reaches it", style.VIRIDIS[0]),
)


def served_picture(
    index: NDArray[np.uint8], shares: Sequence[float], unknown: float, placed: Placed
) -> Picture:
    """Which of two set-ups reaches a place; `index` on the pixels: 0 unknown, then in the order of SERVED."""
    legend = [
        {**entry(name, rgb), **share_words(share)} for (name, rgb), share in zip(SERVED, shares, strict=True)
    ]
    legend.append(no_data(**share_words(unknown)))
    colours = tuple(rgb for _, rgb in SERVED)
    return Picture(
        "served", png(index, colours), placed, tuple(legend), colours, tuple(name for name, _ in SERVED)
    )


def hillshade_png(grid: TerrainGrid, placed: Placed) -> bytes:
    """Greys; see-through outside of the grid."""
    low, high = (255.0 * part for part in style.HILLSHADE_WHITE)
    tone = np.clip(shade_bytes(grid).astype(np.float32), low, high)
    index = (1.0 + np.round((tone - low) / (high - low) * (SHADES - 1))).astype(np.uint8)
    greys = [round(low + (high - low) * i / (SHADES - 1)) for i in range(SHADES)]
    return png(placed.look_up(index), [(grey, grey, grey) for grey in greys])


def png(index: NDArray[np.uint8], colours: Sequence[style.Rgb]) -> bytes:
    """A palette picture: index 0 is see-through, index i has colours[i - 1]."""
    from PIL import Image

    image = Image.fromarray(index)
    image.putpalette([0, 0, 0, *(part for rgb in colours for part in rgb)])
    out = io.BytesIO()
    image.save(out, "PNG", transparency=0, compress_level=_COMPRESS)
    return out.getvalue()
