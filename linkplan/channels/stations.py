"""Every transmitter of a job as the rest of the room needs it: where it stands and what it radiates."""

from __future__ import annotations

from dataclasses import dataclass, replace

from linkplan.plan.model import Base, FurtherBase, Plan
from linkplan.radio.budget import peak_eirp_dbm
from linkplan.radio.equipment import Transmitter
from linkplan.radio.interference import Emission, Protection
from linkplan.radio.licence import OtherTransmitter
from linkplan.units import dbi_from_dbd, dbm_from_watt


@dataclass(frozen=True)
class OwnStation:
    """An own base with the job seen from it."""

    key: str
    """Its table in the job file: "base" or "bases[2]"."""
    plan: Plan
    """The job with this base as the base."""
    frequency_mhz: float | None
    """The frequency that the job states for it."""
    station_id: int | None

    @property
    def base(self) -> Base:
        """Where it stands."""
        return self.plan.base

    @property
    def transmitter(self) -> Transmitter:
        """Its radio."""
        return self.plan.transmitter

    @property
    def name(self) -> str:
        """The base's name."""
        return self.plan.base.name

    @property
    def who(self) -> str:
        """The base in a sentence."""
        return self.name if self.name.casefold().startswith("base") else f"base {self.name}"

    @property
    def eirp_dbm(self) -> float:
        """In the antenna's best direction."""
        return peak_eirp_dbm(self.plan.transmitter)


def own_stations(plan: Plan) -> tuple[OwnStation, ...]:
    """The base and the further bases, in the order of the job file."""
    station_id = plan.corrections.station_id if plan.corrections is not None else None
    first = OwnStation("base", plan, plan.transmitter.frequency_mhz, station_id)
    further = (_further(plan, number, one) for number, one in enumerate(plan.bases, start=1))
    return (first, *further)


def _further(plan: Plan, number: int, one: FurtherBase) -> OwnStation:
    frequency_mhz = one.frequency_mhz or plan.transmitter.frequency_mhz
    transmitter = replace(plan.transmitter, power_dbm=one.power_dbm, frequency_mhz=frequency_mhz)
    seen = replace(plan, base=one.base, transmitter=transmitter)
    return OwnStation(f"bases[{number}]", seen, one.frequency_mhz, one.station_id)


def other_eirp_dbm(other: OtherTransmitter) -> float:
    """Radiated power of somebody else's transmitter over an isotropic radiator."""
    return dbi_from_dbd(float(dbm_from_watt(other.erp_w)))


def own_emission(plan: Plan) -> Emission:
    """What every own base puts on the air and every rover listens to."""
    radio = plan.transmitter
    return Emission.of_spacing(radio.channel_spacing_khz, radio.occupied_bandwidth_khz)


def protection_of(plan: Plan) -> Protection:
    """What the job's radios bear."""
    return plan.protection or Protection.for_spacing(plan.transmitter.channel_spacing_khz)


def time_slots(plan: Plan) -> int:
    """How many turns the job's radio framing shares out on a channel; 1 where it says nothing."""
    framing = plan.corrections.framing if plan.corrections is not None else None
    return framing.slots if framing is not None else 1
