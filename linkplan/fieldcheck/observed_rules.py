"""By what an epoch is judged: whose corrections count, how old they may be, when a message is due."""

from __future__ import annotations

from dataclasses import dataclass

from linkplan.gnss.nmea_fixes import SATELLITE_NAMES
from linkplan.plan.model import Plan
from linkplan.radio.frame_sizes import is_observation

LONGEST_SILENCE_S = 600.0
"""After a longer time without the job's corrections the base may have stopped, and nothing is told of the
link [our choice: of a large hole the first ten minutes count]."""


@dataclass(frozen=True)
class Rules:
    """What the job and the user say."""

    station: str | None
    """The job's station ID as logs state it; None: any numbered one."""
    age_limit_s: float
    interval_s: float | None
    """Between messages with observations, as the job plans it; None: as each log shows it."""
    spacing_m: float
    most_visits: int
    unnamed_counts: bool
    """Corrections without a station ID count as the job's."""

    def is_mine(self, station: str) -> bool:
        """Corrections under this name are of the job's base."""
        return station.isdigit() if self.station is None else station == self.station

    def is_satellite(self, station: str) -> bool:
        """A differential position under this name most likely rests on an augmentation satellite."""
        if not station.isdigit() or station == self.station:
            return False
        return int(station) in SATELLITE_NAMES

    @classmethod
    def of(
        cls, plan: Plan, *, age_limit_s: float, spacing_m: float, most_visits: int, unnamed_counts: bool
    ) -> Rules:
        """The rules of a job."""
        stream = plan.corrections
        intervals = (
            [one.interval_s for one in stream.messages if is_observation(one.number)] if stream else []
        )
        return cls(
            station=None if stream is None or stream.station_id is None else str(stream.station_id),
            age_limit_s=age_limit_s,
            interval_s=min(intervals, default=None),
            spacing_m=spacing_m,
            most_visits=most_visits,
            unnamed_counts=unnamed_counts,
        )

    def notes(self) -> tuple[str, ...]:
        """What of this the user should know."""
        notes = []
        if self.station is None:
            notes.append(
                "The job states no station ID: corrections of every numbered station were taken for its own."
            )
        if self.unnamed_counts:
            notes.append("Corrections without a station ID were taken for the job's own, as asked.")
        return tuple(notes)
