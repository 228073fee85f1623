"""From the sections about spectrum to objects: the licence, further bases, other users, what radios bear."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from linkplan.plan.boundary import AreaWords, into, joined, polygon_of, polygons_in
from linkplan.plan.checking import Section
from linkplan.plan.model import Base, FurtherBase
from linkplan.plan.places import check_places
from linkplan.plan.radio_values import power_dbm
from linkplan.plan.rows import FileFaults
from linkplan.plan.stand import Ground, read_stand
from linkplan.plan.vector import LayerKeys, read_layer
from linkplan.plan.words import Report
from linkplan.radio.interference import Protection
from linkplan.radio.licence import HeardBusy, Licence, LicenceArea, LicensedChannel, OtherTransmitter
from linkplan.tables.protection import OTHER_ANTENNA_HEIGHT_M, OTHER_ERP_W

if TYPE_CHECKING:
    from pyproj import CRS

_NOT_PROTECTION = "protected_level_dbm"

_AREA = AreaWords("the area", "the area")

Sections = Mapping[str, Section | None]


@dataclass(frozen=True)
class Spectrum:
    """What the job says about spectrum, before it goes into the plan."""

    licence: Licence | None
    bases: tuple[FurtherBase, ...]
    others: tuple[OtherTransmitter, ...]
    heard: tuple[HeardBusy, ...]


def read_spectrum(sections: Sections, base: Base | None, ground: Ground, report: Report) -> Spectrum:
    """Everything about spectrum; faults go to the report, and what has one is left out."""
    licence, radio = sections["licence"], sections["radio"] or Section({})
    return Spectrum(
        _licence(licence, ground.crs, report) if licence is not None else None,
        _bases(sections["bases"], base, radio, ground, report),
        _others(sections["others"], radio, ground, report),
        tuple(
            HeardBusy(number, entry["frequency_mhz"], entry["what"], entry["station_id"])
            for number, entry in _entries(sections["heard"])
            if entry["frequency_mhz"] is not None
        ),
    )


def read_protection(section: Section | None, spacing_khz: float) -> Protection:
    """What the radios bear: the job's figures, and the table's for its channel spacing."""
    stated = dict(section.values) if section is not None else {}
    stated.pop(_NOT_PROTECTION, None)
    return Protection.for_spacing(spacing_khz, **stated)


def protected_level_dbm(section: Section | None) -> float | None:
    """The level that others outside the job are to be spared, where the job states it."""
    return section[_NOT_PROTECTION] if section is not None else None


def _entries(section: Section | None) -> Iterator[tuple[int, Section]]:
    return enumerate(section["entries"] if section is not None else (), start=1)


def _licence(section: Section, crs: CRS | None, report: Report) -> Licence:
    interval_min: float | None = section["identification_interval_min"]
    return Licence(
        channels=(*_plain_channels(section), *_named_channels(section, report)),
        erp_limit_w=section["erp_limit_w"],
        eirp_limit_w=section["eirp_limit_w"],
        antenna_height_limit_m=section["antenna_height_limit"],
        authorised_bandwidth_khz=section["authorised_bandwidth_khz"],
        area=_area(section, crs, report),
        call_sign=section["call_sign"] or "",
        identification_interval_s=None if interval_min is None else 60.0 * interval_min,
        expires=section["expires"],
    )


def _plain_channels(section: Section) -> Iterator[LicensedChannel]:
    spacing_khz: float | None = section["spacing_khz"]
    for number, frequency_mhz in enumerate(section["frequencies_mhz"] or (), start=1):
        if spacing_khz is not None:
            clause = f"licence.frequencies_mhz[{number}]"
            yield LicensedChannel(clause, f"{frequency_mhz:g}", frequency_mhz, spacing_khz)


def _named_channels(section: Section, report: Report) -> Iterator[LicensedChannel]:
    names: dict[str, int] = {}
    for number, entry in enumerate(section["channels"] or (), start=1):
        clause = f"licence.channels[{number}]"
        name, frequency_mhz, spacing_khz = entry["name"], entry["frequency_mhz"], entry["spacing_khz"]
        if name is None or frequency_mhz is None or spacing_khz is None:
            continue
        if name in names:
            problem = f"stands in the list already, in place {names[name]}"
            report.fault(f"{clause}.name", name, problem, "give every channel a name of its own")
        names.setdefault(name, number)
        yield LicensedChannel(
            clause, name, frequency_mhz, spacing_khz, entry["erp_limit_w"], entry["eirp_limit_w"]
        )


def _area(section: Section, crs: CRS | None, report: Report) -> LicenceArea | None:
    LayerKeys(section, "licence", "area_").note_strays(report)
    if section["area_centre"] is not None and section["area_radius"] is not None:
        place, raw = np.array([section["area_centre"]]), section.raw("area_centre")
        if crs is None or not check_places(place, crs, "licence.area_centre", raw, report):
            return None
        return LicenceArea(
            "licence.area_radius", centre=section["area_centre"], radius_m=section["area_radius"]
        )
    if section["area_coordinates"] is not None:
        return _area_from_ring(section, crs, report)
    if section["area_file"] is not None:
        return _area_from_file(section, crs, report)
    return None


def _area_from_ring(section: Section, crs: CRS | None, report: Report) -> LicenceArea | None:
    faults = FileFaults(report, "licence.area_coordinates", section.raw("area_coordinates"))
    polygon = polygon_of(section["area_coordinates"], crs, faults, _AREA)
    return None if polygon is None else LicenceArea(faults.key, polygon=polygon)


def _area_from_file(section: Section, crs: CRS | None, report: Report) -> LicenceArea | None:
    faults = FileFaults(report, "licence.area_file", section.raw("area_file"))
    layer = read_layer(section["area_file"], section["area_layer"], faults, "licence.area_layer")
    polygons = polygons_in(layer, faults, _AREA) if layer is not None else None
    if layer is not None and layer.crs is None:
        faults.add("the file does not say its coordinate system", "use a format that does, e.g. GeoPackage")
    faults.close()
    if layer is None or layer.crs is None or not polygons or crs is None:
        return None
    area = joined(into(polygons, layer.crs, crs), crs, faults)
    return None if area is None else LicenceArea("licence.area_file", polygon=area)


def _bases(
    section: Section | None, first: Base | None, radio: Section, ground: Ground, report: Report
) -> tuple[FurtherBase, ...]:
    found = []
    names = {first.name.casefold(): "[base]"} if first is not None else {}
    for number, entry in _entries(section):
        where = f"bases[{number}]"
        stand = read_stand(entry, where, ground, report)
        if stand is None:
            continue
        name = entry["name"] or stand.name or f"base {number + 1}"
        if name.casefold() in names:
            problem = f"the name {name} is taken by {names[name.casefold()]}"
            cure = "give this base a name of its own, and a place of its own"
            report.fault(f"{where}.name", entry.raw("name"), problem, cure)
        names[name.casefold()] = where
        sent_dbm = power_dbm(entry if {"power_w", "power_dbm"} & entry.present else radio)
        if first is None or sent_dbm is None:
            continue
        height_m = entry["antenna_height"]
        base = Base(
            name,
            stand.easting,
            stand.northing,
            stand.height_m,
            first.antenna_height_m if height_m is None else height_m,
            serves=entry["serves"] or "strongest",
            slot=entry["slot"],
        )
        found.append(FurtherBase(base, sent_dbm, entry["frequency_mhz"], entry["station_id"]))
    return tuple(found)


def _others(
    section: Section | None, radio: Section, ground: Ground, report: Report
) -> tuple[OtherTransmitter, ...]:
    found = []
    for number, entry in _entries(section):
        stand = read_stand(entry, f"others[{number}]", ground, report)
        spacing_khz = entry["spacing_khz"] or radio["channel_spacing_khz"]
        if stand is None or entry["frequency_mhz"] is None or spacing_khz is None:
            continue
        erp_w, height_m = entry["erp_w"], entry["antenna_height"]
        found.append(
            OtherTransmitter(
                number,
                entry["name"] or "",
                stand.easting,
                stand.northing,
                entry["frequency_mhz"],
                spacing_khz,
                erp_w=OTHER_ERP_W if erp_w is None else erp_w,
                erp_assumed="erp_w" not in entry.present,
                antenna_height_m=OTHER_ANTENNA_HEIGHT_M if height_m is None else height_m,
                antenna_height_assumed="antenna_height" not in entry.present,
                station_id=entry["station_id"],
            )
        )
    return tuple(found)
