"""Vector files of any kind that geopandas reads: one layer's shapes and what its coordinates mean.

The only module of the plan that loads geopandas, and only when a job names a vector file.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from linkplan.plan.checking import Section
from linkplan.plan.rows import FileFaults
from linkplan.plan.words import NOTHING, Report, choose, one_of

if TYPE_CHECKING:
    from pyproj import CRS


@dataclass(frozen=True)
class Layer:
    """One layer of a vector file."""

    shapes: list[Any]
    """Geometry or None, one a feature, in two dimensions."""
    columns: dict[str, list[Any]]
    """Attributes by lower-case name."""
    crs: CRS | None


@dataclass(frozen=True)
class LayerKeys:
    """The keys of a table that name one layer: `file`, `layer` and `crs`, all with the same word before."""

    section: Section
    table: str
    """Path of the table in the job file, e.g. "control" or "siting.zones[2]"."""
    word: str = ""
    """"points_" for points_file, points_layer and points_crs."""

    def __getitem__(self, name: str) -> Any:
        """The value of `file`, `layer` or `crs`; None where there is none."""
        return self.section[self.word + name]

    def path(self, name: str) -> str:
        """Dotted key of `file`, `layer` or `crs`."""
        return f"{self.table}.{self.word}{name}"

    def raw(self, name: str) -> Any:
        """The value as it stands in the file, for a message."""
        return self.section.raw(self.word + name)

    def stands(self, name: str) -> bool:
        """Is the key in the file, sound or not?"""
        return self.word + name in self.section.present

    def faults(self, report: Report) -> FileFaults:
        """A list for the faults inside the file."""
        return FileFaults(report, self.path("file"), self.raw("file"))

    def note_strays(self, report: Report) -> None:
        """Note `layer` and `crs` that stand there without a file."""
        for name in ("layer", "crs"):
            if self.stands(name) and not self.stands("file"):
                problem = f"goes with {self.path('file')} only"
                report.fault(self.path(name), self.raw(name), problem, "leave it out")


def read_layer(path: Path, layer: str | None, faults: FileFaults, layer_key: str) -> Layer | None:
    """Read a layer, the only one where `layer` is None; None, with faults noted, when that fails."""
    import geopandas

    try:
        with warnings.catch_warnings(record=True) as caught:
            warnings.simplefilter("always")
            name = _choose_layer(path, layer, faults, layer_key)
            if name is None:
                return None
            frame = geopandas.read_file(path, layer=name, engine="pyogrio")
    except Exception as error:  # the drivers raise whatever they like on a damaged file
        faults.add(f"cannot be read as a vector file ({_words(error, path)})")
        return None
    for note in dict.fromkeys(str(one.message) for one in caught if one.category is RuntimeWarning):
        faults.report.warn(faults.key, f"while reading {path.name}: {_words(note, path)}")
    if not isinstance(frame, geopandas.GeoDataFrame):
        faults.add("holds a table without shapes")
        return None
    columns = {
        str(name).lower(): frame[name].tolist() for name in frame.columns if name != frame.geometry.name
    }
    return Layer(list(frame.geometry.force_2d()), columns, frame.crs)


def _choose_layer(path: Path, layer: str | None, faults: FileFaults, layer_key: str) -> str | None:
    import geopandas

    names = [str(name) for name in geopandas.list_layers(path)["name"]]
    if layer is None and len(names) == 1:
        return names[0]
    if not names:
        faults.add("holds no layer")
    elif layer is None:
        cure = f"add layer = {one_of(names)}"
        faults.report.fault(layer_key, NOTHING, f"missing, and the file has {len(names)} layers", cure)
    elif layer in names:
        return layer
    else:
        faults.report.fault(layer_key, layer, "no such layer in the file", choose(layer, names))
    return None


def _words(message: object, path: Path) -> str:
    """A driver's message cut to the line that helps, with the file's name for its whole path."""
    lines = str(message).strip().splitlines() or [type(message).__name__]
    said = (
        lines[0].replace(str(path), path.name).partition("; It might help")[0]
    )  # advice for programmers follows
    return "".join(c for c in said if c.isprintable())[:160].rstrip(".")
