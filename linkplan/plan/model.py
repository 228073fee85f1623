"""A job as frozen objects in SI units. Reading them from a file is the business of `plan.reader`."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from linkplan.plan.calibration import Calibration
from linkplan.plan.safety import SafetyWishes
from linkplan.plan.sky_model import Accuracy, Occupation, SkyWishes
from linkplan.radio.equipment import Receiver, Transmitter
from linkplan.radio.interference import Protection
from linkplan.radio.licence import HeardBusy, Licence, OtherTransmitter
from linkplan.radio.stream import CorrectionStream
from linkplan.terrain.source import ClutterSource, TerrainSource

if TYPE_CHECKING:
    from pyproj import CRS
    from shapely import MultiPolygon, Polygon

    from linkplan.plan.settings import Settings
    from linkplan.plan.siting_model import Siting


@dataclass(frozen=True)
class ControlPoint:
    """A named point of the job's control; coordinates in the job's coordinate system and its unit."""

    name: str
    easting: float
    northing: float
    height_m: float | None
    code: str = ""


@dataclass(frozen=True)
class Base:
    """Where the base stands and how high its radio antenna is."""

    name: str
    """The control point's name, or "base" when given by coordinates."""
    easting: float
    """In the job's coordinate system and its unit (degrees of longitude if geographic)."""
    northing: float
    height_m: float | None
    """Ground height as the job states it, or None."""
    antenna_height_m: float
    """Radio antenna above ground."""
    serves: str = "strongest"
    """Which rovers it is for: "strongest", where it is so among the own bases, or "job", all of them."""
    slot: int | None = None
    """Its time slot, from 1, or None where the job does not state it."""


@dataclass(frozen=True)
class FurtherBase:
    """Another own base with the same kind of radio, feeder and antenna as the first."""

    base: Base
    power_dbm: float
    """At the radio's connector."""
    frequency_mhz: float | None
    """The channel that it is set to or ought to have; None: whichever serves."""
    station_id: int | None


@dataclass(frozen=True)
class Rover:
    """What a rover carries."""

    antenna_height_m: float
    """Radio antenna above ground."""
    receiver: Receiver


@dataclass(frozen=True)
class Environment:
    """The surroundings: radio noise, air, and how far predictions are to be trusted."""

    noise: str
    """A key of `propagation.noise.CATEGORIES`."""
    prediction_sigma_db: float
    """Before any log has been looked at: what counts is `Plan.prediction_sigma_db`."""
    prediction_sigma_assumed: bool
    refractivity_gradient_n_units_per_km: float
    sea_level_refractivity_n_units: float


@dataclass(frozen=True)
class Goal:
    """What the user wants."""

    chance: float
    """Wanted chance that corrections arrive, 0.5 to 0.999."""
    baseline_limit_m: float | None
    share: float = 1.0
    """Share of the job's area that must have the wanted chance, above 0 to 1 (`goal.share`)."""


@dataclass(frozen=True)
class Plan:
    """One job, complete and checked."""

    file: Path
    name: str
    notes: str
    crs: CRS
    length_unit: str
    """Key of `units.METRES_PER_UNIT`; distances are shown in it."""
    height_unit: str
    """Key of `units.METRES_PER_UNIT`; heights are shown in it."""
    boundary: Polygon | MultiPolygon
    """In the job's coordinate system, x = easting or longitude."""
    terrain: TerrainSource
    clutter: ClutterSource | None
    base: Base
    transmitter: Transmitter
    rover: Rover
    environment: Environment
    goal: Goal
    control_points: tuple[ControlPoint, ...] = ()
    job_hash: str = ""
    """SHA-256 (hex) of the job file's bytes."""
    warnings: tuple[str, ...] = ()
    """What looks odd in the job file but does not stop it, one line each."""
    corrections: CorrectionStream | None = None
    """What the base sends, or None where the job does not say."""
    licence: Licence | None = None
    """What the user's licence allows, or None where the job does not say: then nothing is permitted."""
    bases: tuple[FurtherBase, ...] = ()
    """Own bases beside `base`."""
    others: tuple[OtherTransmitter, ...] = ()
    """Transmitters of others."""
    heard: tuple[HeardBusy, ...] = ()
    """Frequencies heard busy."""
    protection: Protection | None = None
    """What the radios bear; None: the table's figures for the channel spacing."""
    protected_level_dbm: float | None = None
    """Level that others outside the job are to be spared, where the job states it."""
    identification_interval_s: float | None = None
    """How often the base sends the call sign, where the job states it."""
    settings: Settings | None = None
    """What base and rovers are to be set to beyond that, or None where the job has no such section."""
    siting: Siting | None = None
    """Where else the base may stand and what counts there, or None where the job does not say."""
    sky: SkyWishes | None = None
    """Which satellites, when, and what suffices, or None where the job does not say."""
    accuracy: Accuracy = field(default_factory=Accuracy)
    """With distance from the base, and what is wanted; common practice where the job does not say."""
    occupation: Occupation | None = None
    """How the base point is occupied and its antenna measured, or None where the job does not say."""
    safety: SafetyWishes = field(default_factory=SafetyWishes)
    """What exposure and gaps in guidance are judged by; common practice where the job does not say."""
    calibration: Calibration | None = None
    """What field logs have taught about the prediction, or None where nothing was learned."""

    @property
    def prediction_sigma_db(self) -> float:
        """The error of the prediction in force: as learned from logs, else as `environment` has it."""
        if self.calibration is not None:
            return self.calibration.sigma_db
        return self.environment.prediction_sigma_db
