"""A coordinate system's name on a sheet, matched with its code where it is a registered name."""

from __future__ import annotations

import re
import warnings
from functools import lru_cache


@lru_cache(maxsize=256)
def canonical_system(name: str) -> str | None:
    """The code of a system of exactly this name, letter case and spaces aside; None where there is none.

    Names alike are not enough: a local grid must never pass for a registered system. Only names built
    like those of registered projected systems ("datum / projection") are looked up.
    """
    if "/" not in name:
        return None
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            system = CRS.from_user_input(name)
            authority = system.to_authority(min_confidence=100)
    except (CRSError, ValueError):
        return None
    if authority is None or _plain(system.name) != _plain(name):
        return None
    return f"{authority[0]}:{authority[1]}"


def _plain(name: str) -> str:
    return re.sub(r"[\s_-]+", "", name.casefold())
