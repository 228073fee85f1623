"""Read a job file: `read_plan` returns the whole job in SI units, or lists everything wrong with it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from linkplan.errors import JobFileError
from linkplan.plan.accuracy import read_accuracy
from linkplan.plan.boundary import read_boundary
from linkplan.plan.calibration import read_calibration
from linkplan.plan.checking import Section, check_document, in_file_order
from linkplan.plan.control import read_control
from linkplan.plan.corrections import read_corrections
from linkplan.plan.document import read_document
from linkplan.plan.keys import TABLES
from linkplan.plan.licence import protected_level_dbm, read_protection, read_spectrum
from linkplan.plan.model import Base, Environment, Goal, Plan, Rover
from linkplan.plan.occupation import read_occupation, with_measured_height
from linkplan.plan.places import check_distance, read_crs
from linkplan.plan.radio_values import antenna_of, pattern_of, power_dbm
from linkplan.plan.safety import read_safety
from linkplan.plan.settings import read_settings
from linkplan.plan.siting import read_siting
from linkplan.plan.siting_ground import KnownElsewhere
from linkplan.plan.sky import read_sky
from linkplan.plan.stand import Ground, read_stand
from linkplan.plan.words import Report
from linkplan.radio.equipment import Feeder, Receiver, Transmitter, VerticalPattern
from linkplan.terrain.source import ClutterSource, TerrainSource
from linkplan.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from pyproj import CRS
    from shapely import MultiPolygon, Polygon


def read_plan(path: str | Path) -> Plan:
    """Read and check a job file and the small files that it names.

    Paths in it count from its folder. Rasters are only looked for, not opened. All values of the
    result are in SI units.

    Raises JobFileError with every fault found: one each for key, value, problem and cure, in the order
    of the file.
    """
    path = Path(path)
    document = read_document(path)
    return plan_of(path, document.data, document.sha256)


def plan_of(path: Path, data: Mapping[str, Any], sha256: str) -> Plan:
    """The plan that the parsed values of a job file make, as though they stood in `path`; as `read_plan`."""
    report = Report()
    sections = check_document(data, TABLES, path.parent, report)
    plan = _assemble(path, sha256, sections, report)
    if report.faults or plan is None:
        raise JobFileError(str(path), in_file_order(report.faults, data, TABLES))
    return plan


def _assemble(path: Path, sha256: str, sections: Mapping[str, Section | None], report: Report) -> Plan | None:
    """Look into the files that the sections name, then build the plan unless there are faults."""
    job, units = sections["job"], sections["units"] or Section({})
    crs = read_crs(job["crs"], "job.crs", report) if job and job["crs"] else None
    boundary = read_boundary(sections["boundary"], crs, report) if sections["boundary"] else None
    control = sections["control"]
    factor = METRES_PER_UNIT.get(units["height"])
    points = read_control(control, crs, factor, report) if control else None
    ground = Ground(control, points, crs)
    base = _base(sections["base"], ground, report) if sections["base"] else None
    spectrum = read_spectrum(sections, base, ground, report)
    pattern = pattern_of(sections["radio"], "radio", report) if sections["radio"] else None
    if base is not None and boundary is not None and crs is not None:
        _compare(base, boundary, crs, report)
    further = _further(sections, ground, boundary, pattern, report)
    # Every part is there unless a fault was noted; the tests by name tell the type checker so.
    needed = {name: section for name, section in sections.items() if section is not None}
    if report.faults or crs is None or boundary is None or base is None or job is None:
        return None
    return Plan(
        file=path,
        name=job["name"],
        notes=job["notes"],
        crs=crs,
        length_unit=units["length"],
        height_unit=units["height"],
        boundary=boundary,
        terrain=_terrain(needed["terrain"]),
        clutter=_clutter(needed["clutter"]) if "clutter" in needed else None,
        base=base,
        transmitter=_transmitter(needed["radio"], pattern),
        rover=_rover(needed["rover"], needed["radio"]),
        environment=_environment(needed["environment"]),
        goal=_goal(needed["goal"]),
        control_points=points or (),
        job_hash=sha256,
        warnings=tuple(report.warnings),
        licence=spectrum.licence,
        bases=spectrum.bases,
        others=spectrum.others,
        heard=spectrum.heard,
        protection=read_protection(sections["interference"], needed["radio"]["channel_spacing_khz"]),
        protected_level_dbm=protected_level_dbm(sections["interference"]),
        identification_interval_s=_seconds(needed["radio"]["identification_interval_min"]),
        **further,
    )


def _further(
    sections: Mapping[str, Section | None],
    ground: Ground,
    boundary: Polygon | MultiPolygon | None,
    pattern: VerticalPattern | None,
    report: Report,
) -> dict[str, Any]:
    """The parts of a plan that need not be there, by its fields."""
    settings = read_settings(sections["settings"], report) if sections["settings"] else None
    corrections = read_corrections(sections, report)
    accuracy = read_accuracy(sections, report)
    occupied = sections["occupation"]
    occupation = read_occupation(occupied, sections["base"], ground, report) if occupied else None
    arp_m = occupation.arp_height_m if occupation is not None else None
    found = {
        "settings": with_measured_height(settings, occupation, report),
        "corrections": corrections,
        "occupation": occupation,
        "siting": read_siting(sections, ground, boundary, pattern, KnownElsewhere(accuracy, arp_m), report),
        "sky": read_sky(sections, settings, arp_m, report),
        "safety": read_safety(sections["safety"]),
        "calibration": read_calibration(sections["calibration"], sections["clutter"], report),
    }
    return found if accuracy is None else {**found, "accuracy": accuracy}


def _base(section: Section, ground: Ground, report: Report) -> Base | None:
    """The base, from its coordinates or from the control point that it names."""
    stand = read_stand(section, "base", ground, report)
    if stand is None or section["antenna_height"] is None:
        return None
    return Base(
        stand.name or "base",
        stand.easting,
        stand.northing,
        stand.height_m,
        section["antenna_height"],
        serves=section["serves"] or "strongest",
        slot=section["slot"],
    )


def _compare(base: Base, boundary: Polygon | MultiPolygon, crs: CRS, report: Report) -> None:
    """Warn when base and boundary cannot belong together."""
    import shapely

    line = shapely.shortest_line(shapely.Point(base.easting, base.northing), boundary)
    check_distance(shapely.get_coordinates(line), crs, report)


def _terrain(section: Section) -> TerrainSource:
    return TerrainSource(
        section["files"], section["height_unit"], section["height_datum"], section["cell_size"]
    )


def _clutter(section: Section) -> ClutterSource:
    classes: Mapping[int, Mapping[str, Any]] = section["classes"]
    return ClutterSource(
        section["file"],
        heights_m={code: entry["height"] for code, entry in classes.items()},
        names={code: entry["name"] for code, entry in classes.items()},
    )


def _seconds(minutes: float | None) -> float | None:
    return None if minutes is None else 60.0 * minutes


def _transmitter(section: Section, pattern: VerticalPattern | None) -> Transmitter:
    loss_db: float | None = section["feeder_loss_db"]
    if loss_db is None:
        loss_db = section["feeder_length"] / 100.0 * section["feeder_loss_db_per_100m"]
    sent_dbm = power_dbm(section)
    assert sent_dbm is not None, "a rule of the table asks for it"
    return Transmitter(
        power_dbm=sent_dbm,
        frequency_mhz=section["frequency_mhz"],
        channel_spacing_khz=section["channel_spacing_khz"],
        feeder=Feeder(loss_db + section["connector_loss_db"]),
        antenna=antenna_of(section, pattern),
        polarization=section["polarization"],
        occupied_bandwidth_khz=section["occupied_bandwidth_khz"],
    )


def _rover(section: Section, radio: Section) -> Rover:
    from linkplan.tables.receivers import REQUIRED_SNR_DB

    modulation: str | None = section["modulation"]
    bandwidth_khz: float | None = section["noise_bandwidth_khz"]
    receiver = Receiver(
        antenna=antenna_of(section),
        feeder=Feeder(section["feeder_loss_db"]),
        noise_bandwidth_khz=radio["channel_spacing_khz"] if bandwidth_khz is None else bandwidth_khz,
        noise_figure_db=section["noise_figure_db"],
        noise_figure_assumed="noise_figure_db" not in section.present,
        sensitivity_dbm=section["sensitivity_dbm"],
        required_snr_db=REQUIRED_SNR_DB[modulation] if modulation else section["required_snr_db"],
        body_loss_db=section["body_loss_db"],
        modulation=modulation or "",
    )
    return Rover(section["antenna_height"], receiver)


def _environment(section: Section) -> Environment:
    return Environment(
        noise=section["noise"],
        prediction_sigma_db=section["prediction_sigma_db"],
        prediction_sigma_assumed="prediction_sigma_db" not in section.present,
        refractivity_gradient_n_units_per_km=section["refractivity_gradient_n_units_per_km"],
        sea_level_refractivity_n_units=section["sea_level_refractivity_n_units"],
    )


def _goal(section: Section) -> Goal:
    return Goal(section["chance"], section["baseline_limit"], section["share"])
