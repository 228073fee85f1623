"""A figure as a small SVG: type as outlines, pictures with few colours, no more digits than paper shows."""

from __future__ import annotations

import base64
import io
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from linkplan.outputs.canvas import svg_bytes

if TYPE_CHECKING:
    from matplotlib.figure import Figure

COLOURS = 64
"""Of a picture inside; classes over a hillshade need no more."""
_PICTURE = re.compile(r"data:image/png;base64,([A-Za-z0-9+/=\s]+)")
_PATH = re.compile(r'(?<= d=")[^"]*')
_NUMBER = re.compile(r"-?\d+\.\d{3,}")


@dataclass(frozen=True)
class Drawn:
    """A drawing that is done."""

    svg: bytes
    """Whole in itself: it asks for nothing from anywhere."""
    width_in: float
    height_in: float


def drawn(figure: Figure) -> Drawn:
    """The figure as it goes into a document. To be called inside `canvas.house_style()`."""
    text = svg_bytes(figure).decode()
    text = _PICTURE.sub(lambda found: "data:image/png;base64," + _small(found.group(1)), text)
    text = _PATH.sub(lambda found: _NUMBER.sub(_short, found.group(0)), text)
    width, height = (float(side) for side in figure.get_size_inches())
    return Drawn(text.encode(), width, height)


def _short(found: re.Match[str]) -> str:
    """A coordinate to a hundredth of a point."""
    number = f"{float(found.group(0)):.2f}".rstrip("0").rstrip(".")
    return "0" if number == "-0" else number


def _small(data: str) -> str:
    from PIL import Image

    with Image.open(io.BytesIO(base64.b64decode(data))) as image:
        colours = image.convert("RGB")
    few = colours.quantize(COLOURS, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    out = io.BytesIO()
    few.save(out, "PNG", optimize=True)
    return base64.b64encode(out.getvalue()).decode()
