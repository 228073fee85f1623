"""Figures of common practice for masts, lightning and lost corrections.

Nobody looked one of them up in a code for this project: local codes, makers and the people in charge go
before them, and say more.
"""

from __future__ import annotations

GUY_ANCHOR_SHARE = (0.6, 0.8)
"""Guy anchors stand so far from the mast's foot, as shares of the mast's height [common practice]."""

LEAST_GUY_DIRECTIONS = 3
"""Guys of a mast, evenly around it [common practice]."""

AGE_LIMIT_S = 10.0
"""Corrections that are older do not serve guidance, where the job does not say it [common practice]."""

AGE_LIMIT_RANGE_S = (1.0, 300.0)
"""Plausible limits of that; no source."""

WALKING_KM_H = 5.0
"""People on foot, where the job does not say how fast they are [common practice]."""

SAME_MAST_M = 10.0
"""Antennas within this of the base's are counted with it. Our choice: 10 m away 35 W into 5 dBi uses up a
tenth of the limit for anybody."""

LIGHTNING_WAIT_MIN = 30.0
"""From the last thunder until work at a mast goes on [common practice, from memory]."""
