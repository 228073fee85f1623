"""A few thousand mutated logs; the large run is made by hand (`tests.fieldcheck.fuzz_field_logs`)."""

from __future__ import annotations

import pytest

from tests.fieldcheck.fuzz_field_logs import run


@pytest.mark.parametrize("seed", [1, 2])
def test_mutated_logs_give_samples_or_one_clear_error(seed: int) -> None:
    done, useful = run(600, seed)
    assert done == 600
    assert useful > 100
