"""What tests of briefs share."""

from __future__ import annotations

import pytest

from tests.outputs.brief.briefs import stub_drawings


@pytest.fixture
def quick_drawings(monkeypatch: pytest.MonkeyPatch) -> None:
    """Empty drawings in place of the real ones."""
    stub_drawings(monkeypatch)
