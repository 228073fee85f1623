"""Do two processes compute the same numbers to the last bit? What that depends on besides the inputs."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import metadata
from pathlib import Path

import linkplan
from linkplan import __version__

PACKAGES = ("numpy", "numba", "scipy", "rasterio", "pyproj", "shapely")
"""Whose versions numbers may depend on."""


@dataclass(frozen=True)
class Surroundings:
    """Of one process."""

    versions: dict[str, str]
    """Of linkplan and of PACKAGES; without those that are not installed."""
    code: str
    """Hash of linkplan's own sources."""
    processor: str
    """Its kind: compiled code and numpy choose their instructions by it."""


@cache
def surroundings() -> Surroundings:
    """Those of this process."""
    found = hashlib.sha256()
    root = Path(linkplan.__file__).parent
    for source in sorted(root.rglob("*.py")):
        found.update(source.relative_to(root).as_posix().encode() + b"\0")
        found.update(source.read_bytes().replace(b"\r\n", b"\n") + b"\0")
    return Surroundings(
        {"linkplan": __version__} | {name: version for name in PACKAGES if (version := _version(name))},
        found.hexdigest(),
        _processor(),
    )


def difference(here: Surroundings, there: Surroundings) -> str:
    """What makes numbers differ, in words of the process `there`; "" where they are alike.

    Another kind of processor may move last bits too; that is for the caller to look at.
    """
    return version_difference(here.versions, there.versions) or (
        f"has other sources of linkplan {__version__} than here" if here.code != there.code else ""
    )


def version_difference(here: Mapping[str, str], there: Mapping[str, str | None]) -> str:
    """The first package of `here` that is missing or of another version `there`, in words; or ""."""
    for name, version in here.items():
        if there.get(name) is None:
            return f"has no {name}"
        if there[name] != version:
            return f"has {name} {there[name]}, here it is {version}"
    return ""


def _version(name: str) -> str:
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return ""


def _processor() -> str:
    try:
        from llvmlite.binding import (  # type: ignore[import-untyped]
            get_host_cpu_features,
            get_host_cpu_name,
        )
    except ImportError:
        return ""
    features = hashlib.sha256(get_host_cpu_features().flatten().encode()).hexdigest()[:8]
    return f"{get_host_cpu_name()} ({features})"
