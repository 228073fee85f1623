"""How workable ground and the reasons against it look, on paper and page; told apart without colour too."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkplan.outputs import formats, style
from linkplan.outputs.overlays import Overlay, data_uri
from linkplan.outputs.picture import band_index
from linkplan.outputs.regrid import Regrid
from linkplan.outputs.sky_map import OPEN_BANDS, over_cells
from linkplan.outputs.workable_words import Work
from linkplan.sky.results import RoverSky
from linkplan.terrain.grid import BoolArray, TerrainGrid
from linkplan.workable import NO_CORRECTIONS, NO_SKY, REASONS, TOO_FAR, UNKNOWN, WORKABLE, WorkableMap

Stripes = Callable[[NDArray[np.intp], NDArray[np.intp]], NDArray[np.bool_]]
"""From rows and columns of pixels to those of the second colour."""


@dataclass(frozen=True)
class WorkLook:
    """A kind of ground."""

    key: str
    name: str
    note: str
    codes: tuple[int, ...]
    """Sums of reasons that belong to it."""
    rgb: style.Rgb
    stripe: style.Rgb
    hatch: str
    """Of matplotlib."""
    css: str
    """Hatch of the page's legend; {a} and {b} stand for both colours."""
    stripes: Stripes | None = None


def _falling(rows: NDArray[np.intp], columns: NDArray[np.intp]) -> NDArray[np.bool_]:
    return (columns - rows) % 7 < 2


def _dots(rows: NDArray[np.intp], columns: NDArray[np.intp]) -> NDArray[np.bool_]:
    return ((rows % 6) < 2) & (((columns + 3 * (rows // 6 % 2)) % 6) < 2)


def _upright(_: NDArray[np.intp], columns: NDArray[np.intp]) -> NDArray[np.bool_]:
    return columns % 7 < 2


def _crossed(rows: NDArray[np.intp], columns: NDArray[np.intp]) -> NDArray[np.bool_]:
    return ((columns - rows) % 8 < 2) | ((columns + rows) % 8 < 2)


_WHITE: style.Rgb = (255, 255, 255)
SEVERAL = tuple(code for code in range(8) if code not in {WORKABLE, NO_CORRECTIONS, NO_SKY, TOO_FAR})
LOOKS = (
    WorkLook("workable", "work can go on", "all that is asked for is there", (WORKABLE,),
             style.VIRIDIS[4], style.VIRIDIS[4], "", "{a}"),
    WorkLook("no-corrections", "no corrections", REASONS[NO_CORRECTIONS], (NO_CORRECTIONS,), style.VIRIDIS[0],
             _WHITE, "\\\\\\\\", "repeating-linear-gradient(45deg,{a} 0 4px,{b} 4px 6px)", _falling),
    WorkLook("no-sky", "too little sky", REASONS[NO_SKY], (NO_SKY,), style.VIRIDIS[1], _WHITE, "....",
             "radial-gradient({b} 0 1.4px,{a} 1.6px) 0 0/6px 6px", _dots),
    WorkLook("too-far", "too far", REASONS[TOO_FAR], (TOO_FAR,), style.VIRIDIS[2], _WHITE, "||||",
             "repeating-linear-gradient(90deg,{a} 0 4px,{b} 4px 6px)", _upright),
    WorkLook("several", "several reasons", "more than one of the above", SEVERAL, (40, 40, 40), _WHITE,
             "xxxx", "repeating-linear-gradient(45deg,{b} 0 1.5px,transparent 1.5px 6px),"
             "repeating-linear-gradient(135deg,{b} 0 1.5px,{a} 1.5px 6px)", _crossed),
)  # fmt: skip
"""Best first; unknown ground has no colour, like everywhere."""


def look_index(found: WorkableMap) -> NDArray[np.int16]:
    """(rows, columns): number of the look in LOOKS; len(LOOKS) for unknown ground of the job, -1 outside."""
    of_code = np.full(256, -1, dtype=np.int16)
    for number, look in enumerate(LOOKS):
        of_code[list(look.codes)] = number
    of_code[UNKNOWN] = len(LOOKS)
    index: NDArray[np.int16] = np.where(found.inside, of_code[found.reason], -1).astype(np.int16)
    return index


def look_shares(found: WorkableMap) -> tuple[float, ...]:
    """Share of the job that each look has, unknown ground last."""
    index = look_index(found)[found.inside]
    return tuple(float((index == number).mean()) for number in range(len(LOOKS) + 1))


def chip_css(look: WorkLook) -> str:
    """Background of the look's chip on a page."""
    a, b = (style.hex_of(style.on_ground(rgb)) for rgb in (look.rgb, look.stripe))
    return look.css.replace("{a}", a).replace("{b}", b)


def work_overlays(work: Work, grid: TerrainGrid, placed: Regrid) -> tuple[Overlay, ...]:
    """Layers of the browser's map: workable ground and, where the job has a sky, open sky."""
    layers = [_workable(work, placed)]
    if work.rover is not None:
        layers.append(_open_sky(work.rover, work.found.inside, grid, placed))
    return tuple(layers)


def _workable(work: Work, placed: Regrid) -> Overlay:
    at = placed.look_up(look_index(work.found), -1)
    rows, columns = np.mgrid[0 : at.shape[0], 0 : at.shape[1]]
    picture = np.zeros(at.shape, dtype=np.uint8)
    colours: list[style.Rgb] = []
    values: dict[str, str] = {}
    for number, look in enumerate(LOOKS):
        here = at == number
        words = "workable" if look.codes == (WORKABLE,) else f"not workable: {look.name}"
        # a shade apart from all others, so that every colour says what it means
        stripe = (look.stripe[0], look.stripe[1], look.stripe[2] - number)
        parts = [(look.rgb, here)]
        if look.stripes is not None:
            parts.append((stripe, here & look.stripes(rows, columns)))
        for rgb, pixels in parts:
            colours.append(rgb)
            picture[pixels] = len(colours)
            values[",".join(map(str, rgb))] = words
    shares = look_shares(work.found)
    legend = [
        {"name": look.name, "note": look.note, "colour": chip_css(look), "ink": "#000000",
         "share": formats.percent(share)}
        for look, share in zip(LOOKS, shares, strict=False)
        if look.key != "no-sky" or work.found.sky_counted
    ]  # fmt: skip
    legend.append({"name": "unknown", "note": "Nothing is claimed.", "share": formats.percent(shares[-1])})
    name = "Where work can go on" if work.found.sky_counted else "Where work can go on (sky not counted)"
    return Overlay("workable", name, data_uri(picture, colours), tuple(legend), values)


def _open_sky(rover: RoverSky, inside: BoolArray, grid: TerrainGrid, placed: Regrid) -> Overlay:
    known = np.isfinite(grid.height_m[rover.rows, rover.columns])
    share = over_cells(rover, inside, np.where(known, rover.open_share, np.nan))
    colours = [band.rgb for band in OPEN_BANDS]
    legend = []
    for band in OPEN_BANDS:
        seen = style.on_ground(band.rgb)
        legend.append(
            {"name": band.name, "note": "", "colour": style.hex_of(seen), "ink": style.ink_on(seen)}
        )
    legend.append({"name": "unknown ground", "note": "Nothing is claimed."})
    picture = data_uri(band_index(placed.look_up(share, np.nan), OPEN_BANDS), colours)
    words = [f"open sky: {band.name}" for band in OPEN_BANDS]
    words[0] = "open sky: 95 % or more"
    values = {",".join(map(str, rgb)): word for rgb, word in zip(colours, words, strict=True)}
    return Overlay("openness", "Open sky above the rover's mask", picture, tuple(legend), values)
