"""The map software that goes into every exported map: script, style and licence, nothing from the web.

Read from the installed package django-js-lib-leaflet, which carries Leaflet unchanged (BSD 2-Clause:
notice, conditions and disclaimer have to go with it).
"""

from __future__ import annotations

import base64
import re
from dataclasses import dataclass
from functools import cache
from importlib import metadata, resources

from linkplan.errors import OutputError

CARRIER = "django-js-lib-leaflet"


@dataclass(frozen=True)
class Leaflet:
    """What is put into a page."""

    script: str
    style: str
    """With its images inside, as data."""
    licence: str
    version: str


@cache
def leaflet() -> Leaflet:
    """Read it once. Raises OutputError when the installation lacks it."""
    try:
        folder = resources.files("js_lib_leaflet") / "static" / "js_lib_leaflet"
        script = (folder / "leaflet.js").read_text(encoding="utf-8")
        style = (folder / "leaflet.css").read_text(encoding="utf-8")
        images = {
            name: (folder / "images" / name).read_bytes()
            for name in ("layers.png", "layers-2x.png", "marker-icon.png")
        }
        distribution = metadata.distribution(CARRIER)
        licence = next(file for file in distribution.files or () if file.name.upper().startswith("LICENSE"))
        text = licence.read_text(encoding="utf-8")
    except (ImportError, OSError, StopIteration) as error:
        raise OutputError(
            f"the package {CARRIER} is missing or damaged ({error}): install linkplan again"
        ) from None
    for name, data in images.items():
        inside = f"data:image/png;base64,{base64.b64encode(data).decode('ascii')}"
        style = style.replace(f"url(images/{name})", f"url({inside})")
    style = style.replace("behavior: url(#default#VML);", "")
    script = re.sub(r"//# sourceMappingURL=\S+\s*$", "", script)
    found = re.search(r"Leaflet (\d+\.\d+\.\d+)", script)
    return Leaflet(script, style, text.strip(), found.group(1) if found else "")
