"""What the channel decision knows: frozen, units in the names, ready to become JSON or text."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class Breach:
    """Something that breaks a clause of the user's own licence data."""

    clause: str
    """Its key in the job file, e.g. "licence.erp_limit_w"."""
    stands: str
    """What stands there."""
    who: str
    """The base, or "the job"."""
    problem: str


@dataclass(frozen=True)
class WorstCell:
    """The cell of a base where an unwanted signal comes nearest to the wanted one."""

    easting: float
    northing: float
    wanted_dbm: float
    ratio_db: float
    """Wanted over the sum of all unwanted signals; 60 dB and more are shown as 60."""
    unwanted: str
    """The strongest of them and where it sits, or ""."""


@dataclass(frozen=True)
class BaseChannel:
    """One own base: what the job states for it, and what it is given."""

    name: str
    key: str
    """Its table in the job file."""
    stated_mhz: float | None
    stated_ratio_db: float | None
    """Worst ratio with everything as the job states it; None where that is not stated, or no cell covered."""
    channel: str
    frequency_mhz: float
    slot: int
    """From 1."""
    station_id: int
    station_id_note: str
    """Why it is not the one that the job states, or ""."""
    ratio_db: float | None
    """Worst of everything that concerns it: sums of signals and third-order products."""
    worst: WorstCell | None
    sampled_cells: int
    protected_share: float
    """Share of the sampled cells whose ratio is at least the protection ratio."""


@dataclass(frozen=True)
class ChannelNote:
    """A channel of the licence that no base is given."""

    name: str
    clause: str
    frequency_mhz: float
    spare: bool
    """Whether a base could use it and keep the protection ratio."""
    reason: str


@dataclass(frozen=True)
class PowerNeed:
    """How much power a base needs, and how far it is heard beyond the job."""

    name: str
    power_w: float
    """As the job states it."""
    covered_share: float
    """Share of the cells that it serves with the wanted chance, at that power."""
    lowest_w: float | None
    """Least power with which the wanted share of them has it; None where the stated power is too little."""
    ratio_at_lowest_db: float | None
    """Worst ratio of the base when every base that can sends with its least power."""
    spill_m2: float
    """Area outside the job where the level at a rover's receiver is above the protected level."""
    spill_at_lowest_m2: float | None
    unknown_m2: float
    """Area that was to be searched but has no terrain: nothing is claimed there."""


@dataclass(frozen=True)
class Overload:
    """How near to a transmitter a rover's radio goes deaf."""

    name: str
    distance_m: float
    """In free space; a reflection from the ground may double it."""


@dataclass(frozen=True)
class ProductNote:
    """A third-order product that falls into or beside an own channel."""

    sources: tuple[str, ...]
    falls_mhz: float
    base: str
    """Whose rovers hear it."""
    ratio_db: float


@dataclass(frozen=True)
class ChannelAnswer:
    """The whole answer."""

    job_name: str
    checked_for: date
    call_sign: str
    expires: date | None
    licence_stated: bool
    breaches: tuple[Breach, ...]
    protection_ratio_db: float
    stated_ratio_db: float | None
    """Worst ratio of all bases as the job states them; None unless every base has a frequency."""
    assigned_ratio_db: float | None
    """The same as assigned; None where no assignment keeps the rules."""
    proven_best: bool
    slots: int
    bases: tuple[BaseChannel, ...]
    channels: tuple[ChannelNote, ...]
    powers: tuple[PowerNeed, ...]
    overloads: tuple[Overload, ...]
    overload_dbm: float
    products: tuple[ProductNote, ...]
    protected_level_dbm: float
    searched_m: float
    """How far beyond the job spill was looked for."""
    notes: tuple[str, ...]
    accepted: bool
    """True when no clause is broken and every base keeps the protection ratio, as stated and as assigned."""
