"""What figures share: type, a fresh canvas without global state, saving as the same bytes each time."""

from __future__ import annotations

import io
import textwrap
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from linkplan.errors import OutputError
from linkplan.outputs import style
from linkplan.outputs.files import write_file

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from shapely.geometry.base import BaseGeometry

DPI = 150
ENDINGS = (".png", ".svg")

_SETTINGS: dict[str, Any] = {
    "font.family": style.FONT,
    "font.size": 9.0,
    "text.color": style.INK,
    "axes.edgecolor": style.INK_FAINT,
    "axes.labelcolor": style.INK_SOFT,
    "xtick.color": style.INK_SOFT,
    "ytick.color": style.INK_SOFT,
    "hatch.linewidth": 0.6,
    "svg.fonttype": "path",
    "svg.hashsalt": "linkplan",
    "path.simplify": True,
}


@contextmanager
def house_style() -> Iterator[None]:
    """Matplotlib's settings for one figure; they are as before afterwards."""
    import matplotlib

    with matplotlib.rc_context(), warnings.catch_warnings():
        # a name in letters that the type lacks: boxes stand for them, and other files have it in full
        warnings.filterwarnings("ignore", message="Glyph .* missing from", category=UserWarning)
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(_SETTINGS)
        yield


def blank(width_in: float, height_in: float) -> Figure:
    """An empty white figure."""
    from matplotlib.figure import Figure

    return Figure(figsize=(width_in, height_in), dpi=DPI, facecolor=style.PAPER)


def png_bytes(figure: Figure) -> bytes:
    """The figure as a PNG of 256 colours: a third of the size of true colour, and as good to the eye."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from PIL import Image

    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    pixels = np.asarray(canvas.buffer_rgba())[..., :3]
    image = Image.fromarray(pixels)
    small = image.quantize(256, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
    # paper is the most frequent colour and must stay white, not nearly white
    colours = small.getpalette() or []
    paper = int(np.asarray(small)[0, 0])
    if (pixels[0, 0] == 255).all():
        colours[3 * paper : 3 * paper + 3] = [255, 255, 255]
        small.putpalette(colours)
    out = io.BytesIO()
    small.save(out, "PNG", optimize=False, compress_level=6, dpi=(DPI, DPI))
    return out.getvalue()


def svg_bytes(figure: Figure) -> bytes:
    """The figure as SVG with its type as outlines."""
    out = io.BytesIO()
    figure.savefig(out, format="svg", metadata={"Date": None, "Creator": "linkplan"})
    return out.getvalue()


def save(figure: Figure, path: Path) -> Path:
    """Write as the ending of `path` says; OutputError for any but .png and .svg."""
    ending = path.suffix.lower()
    if ending not in ENDINGS:
        raise OutputError(
            f"{path}: a figure is written as {' or '.join(ENDINGS)}, not as {ending or 'no ending'}"
        )
    return write_file(path, png_bytes(figure) if ending == ".png" else svg_bytes(figure))


def plain(text: str) -> str:
    """Text as it stands: matplotlib would take what lies between dollar signs for mathematics."""
    return text.replace("$", r"\$")


def write_fitted(
    figure: Figure,
    x_in: float,
    y_in: float,
    text: str,
    *,
    size: float,
    least: float,
    width_in: float,
    lines: int = 1,
    **how: Any,
) -> None:
    """Text at inches from the lower left corner: smaller, then on up to `lines` lines, then cut short."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    canvas = FigureCanvasAgg(figure)
    wide, high = figure.get_size_inches()
    label = figure.text(x_in / wide, y_in / high, plain(text), fontsize=size, va="center", **how)

    def too_long() -> bool:
        return bool(label.get_window_extent(canvas.get_renderer()).width > width_in * figure.dpi)

    while too_long() and size > least:
        size -= 0.5
        label.set_fontsize(size)
    if too_long() and lines > 1:
        share = width_in * figure.dpi / label.get_window_extent(canvas.get_renderer()).width
        broken = textwrap.wrap(text, max(int(0.94 * share * len(text)), 1))
        text = "\n".join(broken[:lines]) + ("\N{HORIZONTAL ELLIPSIS}" if len(broken) > lines else "")
        label.set_text(plain(text))
    while too_long() and len(text) > 1:
        text = text[: int(len(text) * 0.95)]
        label.set_text(plain(text.rstrip() + "\N{HORIZONTAL ELLIPSIS}"))


def text_width_in(
    text: str, size: float, weight: str = "normal", family: Sequence[str] = (style.FONT,)
) -> float:
    """Width of a line of text on paper, inches; `family` names the type as matplotlib takes it."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    font = FontProperties(family=list(family), size=size, weight=weight)
    width: float = text_to_path.get_text_width_height_descent(text, font, ismath=False)[0]
    return width / 72.0


def patch_of(geometry: BaseGeometry, **how: Any) -> Any:
    """A (Multi)Polygon as one matplotlib patch, holes left open."""
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path as Outline

    vertices, codes = [], []
    for part in getattr(geometry, "geoms", [geometry]):
        for ring in (part.exterior, *part.interiors):
            points = np.asarray(ring.coords)[:, :2]
            vertices.append(points)
            code = np.full(len(points), Outline.LINETO, dtype=Outline.code_type)
            code[0], code[-1] = Outline.MOVETO, Outline.CLOSEPOLY
            codes.append(code)
    return PathPatch(Outline(np.concatenate(vertices), np.concatenate(codes)), **how)


def bare(axes: Axes) -> Axes:
    """An axes without frame or ticks, for legends and lettering."""
    axes.set_axis_off()
    axes.set_xlim(0.0, 1.0)
    axes.set_ylim(0.0, 1.0)
    return axes
