"""The folium map in a page of our own: folium's default page would fetch a dozen files from the web.

Everything that folium renders is rendered twice as a template, so nothing from the job goes through it:
pictures, corners and names of our own only. The rest stands in the frame, rendered once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

import folium
from branca.element import Figure, MacroElement
from folium.template import Template

from linkplan.outputs import style
from linkplan.outputs.overlays import Overlay

if TYPE_CHECKING:
    from linkplan.outputs.webmap import Page


class OfflineMap(folium.Map):  # type: ignore[misc]
    """A map without tiles, links or style sheets of its own."""

    _template = Template(
        """
        {% macro html(this, kwargs) %}
        <main class="folium-map" id={{ this.get_name()|tojson }} aria-label="Map"></main>
        {% endmacro %}
        {% macro script(this, kwargs) %}
        const {{ this.get_name() }} = L.map({{ this.get_name()|tojson }}, {
            center: {{ this.location|tojson }}, zoom: 12, zoomSnap: 0.25, zoomDelta: 0.5, maxZoom: 20,
            attributionControl: false, zoomControl: false, crs: L.CRS.EPSG3857,
        });
        {% endmacro %}
        """
    )
    default_js: ClassVar[list[tuple[str, str]]] = []
    default_css: ClassVar[list[tuple[str, str]]] = []


class OfflinePage(Figure):  # type: ignore[misc]
    """The page around the map."""

    def __init__(self, page: Page) -> None:
        from linkplan.outputs.webmap import asset

        super().__init__()
        self.page = page
        self._template = Template(asset("map.html"))


class Start(MacroElement):  # type: ignore[misc]
    """Hands map, layers and data to the page's own script."""

    _template = Template(
        """
        {% macro script(this, kwargs) %}
        startMap({{ this.map_name }}, {
            {%- for key, name in this.layers.items() %} {{ key }}: {{ name }},{% endfor %}
        }, JSON.parse(document.getElementById("job").textContent));
        {% endmacro %}
        """
    )

    def __init__(self, map_name: str, layers: dict[str, str]) -> None:
        super().__init__()
        self.map_name, self.layers = map_name, layers


def render(page: Page, hillshade: str, layers: tuple[Overlay, ...], corners: list[list[float]]) -> str:
    """The page as text. `corners` are south-west and north-east, latitude first."""
    figure = OfflinePage(page)
    middle = [(corners[0][i] + corners[1][i]) / 2.0 for i in (0, 1)]
    drawn = OfflineMap(location=middle, tiles=None)
    drawn._id = "job"
    figure.add_child(drawn)
    ground = _overlay("ground", hillshade, corners, opacity=1.0)
    ground.add_to(drawn)
    names = {}
    for layer in layers:
        overlay = _overlay(
            layer.key, layer.picture, corners, opacity=style.OVERLAY_OPACITY, show=layer is layers[0]
        )
        overlay.add_to(drawn)
        names[layer.key] = overlay.get_name()
    start = Start(drawn.get_name(), names)
    start._id = "start"
    start.add_to(drawn)
    text: str = figure.render()
    return "\n".join(line.rstrip() for line in text.splitlines()) + "\n"


def _overlay(
    key: str, picture: str, corners: list[list[float]], *, opacity: float, show: bool = True
) -> folium.raster_layers.ImageOverlay:
    overlay = folium.raster_layers.ImageOverlay(
        picture, corners, pixelated=False, show=show, opacity=opacity, z_index=1 if key == "ground" else 2,
        class_name="ground" if key == "ground" else "cells", alt=key,
    )  # fmt: skip
    overlay._id = key
    return overlay
