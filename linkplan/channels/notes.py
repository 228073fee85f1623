"""What the user must know of a channel answer: how it was sampled, and what was taken for granted."""

from __future__ import annotations

import numpy as np

from linkplan.channels.assignment import Assignment
from linkplan.channels.cells import JobCells
from linkplan.channels.levels import Gathered
from linkplan.channels.stations import OwnStation, protection_of
from linkplan.channels.unwanted import TIME_PERCENT
from linkplan.plan.model import Plan
from linkplan.propagation.variability import location_sigma_db
from linkplan.tables import protection as table


def answer_notes(
    plan: Plan,
    stations: tuple[OwnStation, ...],
    cells: JobCells,
    gathered: Gathered,
    best: Assignment | None,
) -> tuple[str, ...]:
    """One sentence each, most important first."""
    found = []
    idle = [one.name for base, one in enumerate(stations) if not cells.covered[base].any()]
    if idle:
        found.append(
            f"No cell gets the wanted chance from {' or '.join(idle)} as the base that serves it: nothing "
            "is said about unwanted signals there."
        )
    if best is not None and not best.proven:
        found.append("The time for the search was over: a better assignment may exist.")
    places = np.unique(gathered.cell).size
    found.append(
        f"Unwanted signals are those exceeded for {TIME_PERCENT:g} % of the time (P.1812-8 path by path), "
        f"the wanted one is the median, at {places} of the job's {cells.all_cells} cells: an even share of "
        "those that each base covers, and those likely to be the worst. Another cell may be worse."
    )
    scatter_db = location_sigma_db(plan.transmitter.frequency_mhz / 1e3, cells.grids[0].cell_size_m)
    found.append(
        f"Within a cell levels scatter by {scatter_db:.1f} dB, and predictions err by some "
        f"{plan.prediction_sigma_db:g} dB: a ratio little above the needed one is no promise."
    )
    if plan.calibration is not None:
        found.append(
            "What field logs have taught is added to the wanted levels; to unwanted ones, and to what is "
            "heard beyond the job, only where it makes them stronger, since no log was made of those."
        )
    limits = protection_of(plan)
    if len(limits.stated) < len(_TABLED):
        found.append(
            f"What the radios bear is taken from {table.SOURCE}, where [interference] does not state it: "
            f"{limits.co_channel_db:g} dB on the same channel, on the next one "
            f"{limits.adjacent_power_db:g} dB for the transmitter and {limits.adjacent_selectivity_db:g} dB "
            "for the receiver."
        )
    return tuple(found)


_TABLED = (
    "co_channel_db",
    "adjacent_power_db",
    "adjacent_selectivity_db",
    "spurious_rejection_db",
    "blocking_db",
    "intermodulation_rejection_db",
    "transmitter_intermodulation_db",
    "overload_dbm",
)
