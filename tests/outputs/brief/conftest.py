"""What tests of briefs share."""

from __future__ import annotations

import pytest

from linkplan.outputs.brief import pictures


@pytest.fixture
def quick_drawings(monkeypatch: pytest.MonkeyPatch) -> None:
    """Empty drawings in place of the real ones, which take most of a brief's time."""
    svg = b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 10"><rect width="10" height="10"/></svg>'
    for name in ("job_picture", "base_picture"):
        monkeypatch.setattr(pictures, name, lambda *_facts: pictures.Drawn(svg, 7.0, 2.0))
