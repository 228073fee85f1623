"""A served job for a test, or one for all tests of a module that only read it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.page.small_site import Browser, browser, write_job


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Browser]:
    """A job of its own, which the test may change."""
    write_job(tmp_path)
    found = browser(tmp_path)
    yield found
    found.close()


@pytest.fixture(scope="module")
def read_only(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """A job that no test of the module changes."""
    folder = tmp_path_factory.mktemp("page")
    write_job(folder)
    found = browser(folder)
    yield found
    found.close()
