"""A figure as a small SVG: type as outlines, pictures with few colours, no more digits than paper shows."""

from __future__ import annotations

import base64
import io
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from linkplan.outputs.canvas import svg_bytes

if TYPE_CHECKING:
    from matplotlib.figure import Figure

COLOURS = 256
"""Of a picture inside."""
LONG_PATH = 1500
"""Letters."""
_PICTURE = re.compile(r"data:image/png;base64,([A-Za-z0-9+/=\s]+)")
_ABOUT = re.compile(r"<!DOCTYPE.*?>\s*|<metadata>.*?</metadata>\s*|<!--.*?-->\s*", re.DOTALL)
"""Names the web or repeats the texts, of no use inside a document."""
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
    """The figure as it goes into a document. To be called inside `drawing_style()`."""
    text = svg_bytes(figure).decode()
    text = _PICTURE.sub(lambda found: "data:image/png;base64," + _small(found.group(1)), text)
    text = _PATH.sub(_shorter, _ABOUT.sub("", text))
    width, height = (float(side) for side in figure.get_size_inches())
    return Drawn(text.encode(), width, height)


def _shorter(path: re.Match[str]) -> str:
    """Coordinates of a path to a hundredth of a point; of a long outline, wiggles of cells, to a tenth."""
    digits = 2 if len(path.group(0)) < LONG_PATH else 1

    def short(found: re.Match[str]) -> str:
        number = f"{float(found.group(0)):.{digits}f}".rstrip("0").rstrip(".")
        return "0" if number == "-0" else number

    return _NUMBER.sub(short, path.group(0)).replace("\n", "")


def _small(data: str) -> str:
    from PIL import Image

    with Image.open(io.BytesIO(base64.b64decode(data))) as image:
        pixels = np.asarray(image.convert("RGB"))
    packed = (pixels.astype(np.int64) * (65536, 256, 1)).sum(axis=2)
    colours, index = np.unique(packed, return_inverse=True)
    if colours.size > COLOURS:
        few = Image.fromarray(pixels).quantize(
            COLOURS, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE
        )
    else:
        few = Image.fromarray(index.reshape(packed.shape).astype(np.uint8))
        few.putpalette(b"".join(int(colour).to_bytes(3, "big") for colour in colours))
    out = io.BytesIO()
    few.save(out, "PNG", optimize=True)
    return base64.b64encode(out.getvalue()).decode()
