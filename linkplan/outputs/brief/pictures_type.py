"""The type of the drawings: that of the brief around them, so that they look like a part of it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache, lru_cache
from importlib import util
from pathlib import Path

from linkplan.outputs import style
from linkplan.outputs.canvas import house_style, text_width_in

SANS = "Source Sans Pro"
FILES = ("SourceSansPro-Regular.ttf", "SourceSansPro-It.ttf", "SourceSansPro-Bold.ttf")


@contextmanager
def drawing_style() -> Iterator[None]:
    """Matplotlib's settings for one drawing; they are as before afterwards."""
    import matplotlib

    with house_style(), matplotlib.rc_context({"font.family": list(family())}):
        yield


@cache
def family() -> tuple[str, ...]:
    """Names of the type, the first that has a letter draws it; without its package that of the figures."""
    from matplotlib.font_manager import fontManager

    package = util.find_spec("font_source_sans_pro")
    places = package.submodule_search_locations if package is not None else None
    files = [Path(places[0]) / "files" / name for name in FILES] if places else []
    if not files or not all(file.is_file() for file in files):
        return (style.FONT,)
    for file in files:
        fontManager.addfont(file)
    return (SANS, style.FONT)


@lru_cache(maxsize=4000)
def width_in(text: str, size: float, weight: str = "normal") -> float:
    """Width of a line of text on paper, inches."""
    return text_width_in(text, size, weight, family())
