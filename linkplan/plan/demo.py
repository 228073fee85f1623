"""Where the demo's inputs are: inside an installed package, or beside it in a checkout."""

from __future__ import annotations

from pathlib import Path

from linkplan.errors import LinkplanError


def demo_inputs() -> Path:
    """The folder with the demo's job files, terrain, boundaries and control points."""
    package = Path(__file__).resolve().parent.parent
    for folder in (package / "_demo", package.parent / "dem_samples"):
        if any(folder.glob("*.toml")):
            return folder
    raise LinkplanError("the demo's data are missing from this installation; install linkplan again")
