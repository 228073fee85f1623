"""The map's pictures: small palette PNGs in Web Mercator, whose colours can be read back as values."""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linkplan.coverage.results import CoverageMap, CoverageSummary
from linkplan.outputs import formats, style
from linkplan.outputs.formats import typeset
from linkplan.outputs.picture import band_index, shade_bytes, step_of
from linkplan.outputs.regrid import Regrid

SHADES = 40
"""Greys of the hillshade: fewer bytes, and no eye tells."""


@dataclass(frozen=True)
class Overlay:
    """One quantity as a picture with its legend and the meaning of its colours."""

    key: str
    name: str
    picture: str
    """data: URI."""
    legend: tuple[dict[str, str], ...]
    values: dict[str, str]
    """"red,green,blue" of a pixel to what it says."""
    ramp: tuple[str, ...] = ()
    ticks: tuple[str, ...] = ()

    def described(self) -> dict[str, Any]:
        """What the page's script needs to know, without the picture."""
        return {
            "key": self.key, "name": self.name, "legend": list(self.legend), "values": self.values,
            "ramp": list(self.ramp), "ticks": list(self.ticks),
        }  # fmt: skip


def overlays(coverage: CoverageMap, summary: CoverageSummary, placed: Regrid) -> tuple[Overlay, ...]:
    """Chance classes, margin, line of sight and Fresnel clearance, in that order."""
    return (
        _classes(coverage, summary, placed),
        _margin(coverage, placed),
        _bands("sight", "Line of sight", coverage.line_of_sight, style.SIGHT_BANDS, placed),
        _bands("fresnel", "Fresnel clearance", coverage.fresnel_clearance, style.FRESNEL_BANDS, placed),
    )


def hillshade_picture(coverage: CoverageMap, placed: Regrid) -> str:
    """Greys as a data: URI; transparent outside the grid."""
    step, (rows, columns) = step_of(coverage.grid), coverage.grid.shape
    blocks = shade_bytes(coverage.grid, step).repeat(step, axis=0).repeat(step, axis=1)
    tone = placed.look_up(blocks[:rows, :columns], 0).astype(np.float64)
    low, high = (255.0 * part for part in style.HILLSHADE_WHITE)
    index = 1 + np.round((np.clip(tone, low, high) - low) / (high - low) * (SHADES - 1)).astype(np.uint8)
    greys = [round(low + (high - low) * i / (SHADES - 1)) for i in range(SHADES)]
    return data_uri(
        np.where(placed.cell >= 0, index, 0).astype(np.uint8), [(grey, grey, grey) for grey in greys]
    )


def data_uri(index: NDArray[np.uint8], colours: list[style.Rgb]) -> str:
    """A palette PNG: index 0 is transparent, index i has colours[i - 1]."""
    from PIL import Image

    image = Image.fromarray(index)
    image.putpalette([0, 0, 0, *(part for rgb in colours for part in rgb)])
    out = io.BytesIO()
    image.save(out, "PNG", transparency=0, compress_level=9)
    return f"data:image/png;base64,{base64.b64encode(out.getvalue()).decode('ascii')}"


def _classes(coverage: CoverageMap, summary: CoverageSummary, placed: Regrid) -> Overlay:
    ranks = np.zeros(256, dtype=np.uint8)
    colours = []
    legend = []
    for rank, (one, share) in enumerate(zip(coverage.classes, summary.class_shares, strict=True), start=1):
        ranks[one.index] = rank
        rgb = style.class_rgb(one, coverage.classes)
        colours.append(rgb)
        note = f"{formats.chance_range(one.chance_low, one.chance_high)}. {one.meaning}"
        legend.append(
            {**_entry(one.name, rgb, note), "number": str(one.index), "share": formats.percent(share)}
        )
    legend.append(
        {
            "name": style.NO_DATA_NAME,
            "note": style.NO_DATA_MEANING,
            "share": formats.percent(summary.no_data_share),
        }
    )
    words = [f"{one.index} {one.name}" for one in coverage.classes]
    picture = data_uri(ranks[placed.look_up(coverage.class_index, 0)], colours)
    return Overlay("chance", "Chance of corrections", picture, tuple(legend), _meanings(colours, words))


def _margin(coverage: CoverageMap, placed: Regrid) -> Overlay:
    """Whole decibels, a colour each."""
    limit = style.MARGIN_LIMIT_DB
    margin = placed.look_up(coverage.margin_db, np.nan)
    known = np.isfinite(margin)
    whole = np.clip(np.rint(np.where(known, margin, 0.0)), -limit, limit).astype(np.int16)
    index = np.where(known, whole + limit + 1, 0).astype(np.uint8)
    steps = range(-limit, limit + 1)
    colours = [style.margin_rgb(step) for step in steps]
    words = [typeset(f"margin {step:+d} dB" if step else "margin 0 dB") for step in steps]
    words[0] = typeset(f"margin {-limit} dB or less")
    words[-1] = f"margin +{limit} dB or more"
    ramp = tuple(style.hex_of(style.on_ground(colour)) for colour in colours[::4])
    ticks = tuple(
        typeset(f"{step:+d} dB" if step else "0 dB") for step in (-limit, -limit // 2, 0, limit // 2, limit)
    )
    legend = ({"name": style.NO_DATA_NAME, "note": style.NO_DATA_MEANING},)
    picture = data_uri(index, colours)
    return Overlay("margin", "Link margin", picture, legend, _meanings(colours, words), ramp, ticks)


def _bands(
    key: str, name: str, values: NDArray[np.float32], bands: tuple[style.Band, ...], placed: Regrid
) -> Overlay:
    colours = [band.rgb for band in bands]
    legend = tuple(_entry(band.name, band.rgb) for band in bands)
    unknown = {"name": style.NO_DATA_NAME, "note": style.NO_DATA_MEANING}
    picture = data_uri(band_index(placed.look_up(values, np.nan), bands), colours)
    return Overlay(key, name, picture, (*legend, unknown), _meanings(colours, [band.name for band in bands]))


def _entry(name: str, rgb: style.Rgb, note: str = "") -> dict[str, str]:
    seen = style.on_ground(rgb)
    return {"name": name, "note": note, "colour": style.hex_of(seen), "ink": style.ink_on(seen)}


def _meanings(colours: list[style.Rgb], words: list[str]) -> dict[str, str]:
    return {",".join(map(str, rgb)): word for rgb, word in zip(colours, words, strict=True)}
