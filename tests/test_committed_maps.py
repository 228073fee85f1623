"""The demo outputs in maps/: small, complete, of the demo's own jobs, and independent of the web."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from linkplan.plan.demo import demo_inputs

MAPS = Path(__file__).resolve().parents[1] / "maps"
PAGES = sorted(MAPS.rglob("*.html"))
LOADS = re.compile(
    r"""(?:\bsrc|<link[^>]*\bhref)\s*=\s*["']?\s*(?:https?:)?//|url\(\s*["']?\s*(?:https?:)?//"""
)


@pytest.mark.parametrize("job", sorted(path.stem for path in demo_inputs().glob("*.toml")))
def test_every_demo_job_has_its_outputs(job: str) -> None:
    names = {path.name for path in (MAPS / job).iterdir()}
    assert {"index.html", "map.html", "map.png", "path-worst-spot.png"} <= names


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.relative_to(MAPS).as_posix())
def test_pages_load_nothing_from_the_web(page: Path) -> None:
    found = LOADS.search(page.read_text(encoding="utf-8"))
    assert found is None, found


def test_the_pattern_finds_what_it_is_for() -> None:
    for bad in ('<script src="https://x/y.js">', "<link rel=x href='http://x'>", "url(//x/y.png)"):
        assert LOADS.search(bad), bad
    assert LOADS.search('<a href="https://example.org">') is None


def test_committed_outputs_stay_small() -> None:
    sizes = {path: path.stat().st_size for path in MAPS.rglob("*") if path.is_file()}
    assert max(sizes.values()) < 1_500_000
    assert sum(sizes.values()) < 7_500_000
