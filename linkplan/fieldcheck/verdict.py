"""Does the prediction hold? A rule that anybody can repeat with a pencil.

It holds where each of these does, as far as there is something to judge it by:
- all samples: the mean predicted chance lies in the 90 % interval of the share that was observed;
- where the map shows coverage: that share is not clearly below the chance that was promised there;
- levels: the 90 % interval of their mean error holds zero.
What differs by no more than 2 points of a hundred, or 1 dB, is let pass. An interval wider than 50 points, or
12 dB, that holds the prediction says nothing for it, and fewer than five blocks of ground say nothing at all
[our choice].
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkplan.fieldcheck.reliability_table import ObservedShare, observed_share
from linkplan.fieldcheck.samples import NOT_OBSERVED
from linkplan.fieldcheck.scores import LevelErrors, Scores

LET_PASS_SHARE, LET_PASS_DB = 0.02, 1.0
WIDEST_SHARE, WIDEST_DB = 0.5, 12.0
FEWEST_BLOCKS = 5
"""Over a true map (simulated: errors of 6 dB, alike over 240 m) 3 to 5 levels side by side were called wrong
in 13 to 17 of 100 cases, and as predicted in 10 to 23."""

AS_PREDICTED, WORSE, BETTER, UNKNOWN = "as predicted", "worse", "better", "unknown"


@dataclass(frozen=True)
class Verdict:
    """How each part of the rule came out: AS_PREDICTED, WORSE, BETTER, or UNKNOWN where nothing judges it."""

    everywhere: str
    where_covered: str
    """Never BETTER: no promise is broken then."""
    levels: str
    share: ObservedShare | None
    """Of all samples."""

    @property
    def holds(self) -> bool:
        """Something was judged, and all of it is as predicted."""
        parts = (self.everywhere, self.where_covered, self.levels)
        return set(parts) <= {AS_PREDICTED, UNKNOWN} and AS_PREDICTED in parts


def verdict_of(
    scores: Scores, chance: NDArray[np.float64], outcome: NDArray[np.int8], block: NDArray[np.int64]
) -> Verdict:
    """The rule applied; arrays (n,), `block` as in `Observed`."""
    known = (outcome != NOT_OBSERVED) & np.isfinite(chance)
    share = observed_share(chance[known], outcome[known], block[..., known]) if known.any() else None
    covered = scores.contingency.covered if scores.contingency is not None else None
    promised = _of_share(covered)
    return Verdict(
        everywhere=_of_share(share),
        where_covered=AS_PREDICTED if promised == BETTER else promised,
        levels=_of_levels(scores.level_errors),
        share=share,
    )


def _of_share(found: ObservedShare | None) -> str:
    if found is None or found.blocks < FEWEST_BLOCKS:
        return UNKNOWN
    if found.agrees and found.interval.high - found.interval.low > WIDEST_SHARE:
        return UNKNOWN
    if found.agrees or abs(found.share - found.mean_chance) <= LET_PASS_SHARE:
        return AS_PREDICTED
    return WORSE if found.share < found.mean_chance else BETTER


def _of_levels(found: LevelErrors | None) -> str:
    if found is None or found.blocks < FEWEST_BLOCKS:
        return UNKNOWN
    interval = found.mean_interval_db
    if interval.holds(0.0) and interval.high - interval.low > WIDEST_DB:
        return UNKNOWN
    if interval.holds(0.0) or abs(found.mean_db) <= LET_PASS_DB:
        return AS_PREDICTED
    return WORSE if found.mean_db < 0.0 else BETTER
