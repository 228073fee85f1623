"""Facts of invented briefs, from the invented job of the other outputs: nothing of it is checked here."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from datetime import UTC, date, datetime
from typing import Any

import pytest
from shapely import LineString, MultiLineString, box

from linkplan.outputs.brief import pictures
from linkplan.outputs.brief.blocks import Picture
from linkplan.plan.calibration import Calibration
from linkplan.plan.model import Base, FurtherBase
from linkplan.plan.siting_model import OverheadLine, SitingRules, Zone
from linkplan.plan.sky_model import MeasuredHeight, Occupation, OccupationCheck
from linkplan.radio.licence import Licence, LicensedChannel
from linkplan.radio.stream import CorrectionStream, Framing, Message, Supply
from linkplan.study import BriefFacts, Study, brief_facts
from linkplan.workable import workable_map
from tests.outputs.conftest import Case
from tests.safety.test_gaps import siting_of

MADE = datetime(2026, 5, 4, 6, 30, tzinfo=UTC)


def facts_of(case: Case, **changes: Any) -> BriefFacts:
    """The facts of an invented job with changes to its plan."""
    plan, coverage, summary = case
    changed = replace(plan, **changes)
    return brief_facts(Study(changed, coverage, summary, workable_map(changed, coverage, None)), MADE)


def full_of_it(case: Case) -> dict[str, Any]:
    """Changes to a plan so that a brief has everything to say."""
    _, coverage, _ = case
    to_job = coverage.grid.frame.geometry_to_job
    _, south, _, north = coverage.grid.extent_m
    road = to_job(box(500.0, 1000.0, 1900.0, 1120.0))
    stake = to_job(box(1000.0, -250.0, 2100.0, -200.0))
    near = to_job(LineString([(11.0, south), (11.0, north)]))
    far = to_job(LineString([(160.0, south), (160.0, north)]))
    lines = (
        OverheadLine("valley line", MultiLineString([near]), 110.0, None),
        OverheadLine("farm line", MultiLineString([far]), None, None),
        OverheadLine("stated line", MultiLineString([far]), None, 7.0),
    )
    zones = (
        Zone("haul road", road, 1.0, None, None, "machines", 17.5),
        Zone("stakeout", stake, 1.0, None, None, "people", None),
        Zone("tip", to_job(box(-30.0, -30.0, 30.0, 30.0)), 1.0, None, None, "machines", 3.5),
    )
    return {
        "siting": siting_of(*zones, rules=SitingRules(lines=lines, fence_radius_m=4.0)),
        "corrections": stream(),
        "licence": licence(),
        "identification_interval_s": 1800.0,
        "bases": (beside(case, 300.0),),
        "occupation": occupation(case),
        "calibration": Calibration(-3.4, 4.7, date(2026, 4, 2), 2, 3412, 388, 27),
    }


def beside(case: Case, away_m: float) -> FurtherBase:
    """A further base so far east of the base."""
    easting, northing = case[1].grid.frame.to_job(away_m, 0.0)
    return FurtherBase(Base(f"E{away_m:g}", float(easting), float(northing), None, 6.0), 37.0, 451.0, 218)


def occupation(case: Case) -> Occupation:
    """An averaged position that is compared with a control list's, 3 m off."""
    _, coverage, _ = case
    easting, northing = coverage.grid.frame.to_job(3.0, 0.0)
    check = OccupationCheck("tablet", float(easting), float(northing), 420.4, "known", None)
    measured = MeasuredHeight("slant", 1.943, 0.17, 0.05, 1.8855)
    return Occupation("averaged", 900.0, measured, 0.75, (check,))


def stream() -> CorrectionStream:
    framing = Framing("stated", 9600.0, 20.0, 48.0, 64.0, 256, 0.75, 5.0)
    messages = (Message(1074, 1.0, satellites=10, signals=2), Message(1006, 10.0))
    return CorrectionStream(217, messages, framing, Supply(40.0, 6.0, 0.3, 0.5, 0.8))


def licence() -> Licence:
    channel = LicensedChannel("licence.channels[1]", "K7", 451.0, 25.0)
    return Licence((channel,), erp_limit_w=13.0, call_sign="DEMO-7", identification_interval_s=900.0)


def texts(part: Any) -> Iterator[str]:
    """Every string of a brief or a block, but drawings and what is said of them."""
    if isinstance(part, str):
        yield part
    elif isinstance(part, Picture):
        return
    elif isinstance(part, tuple | list):
        for one in part:
            yield from texts(one)
    elif is_dataclass(part) and not isinstance(part, type):
        for field in fields(part):
            if field.name not in {"tone", "align"}:
                yield from texts(getattr(part, field.name))


def whole_text(part: Any) -> str:
    """The same in one string, blanks and minus signs as typed."""
    found = "\n".join(texts(part))
    return found.replace("\u00a0", " ").replace("\u2212", "-")


def stub_drawings(monkeypatch: pytest.MonkeyPatch) -> None:
    """Empty drawings in place of the real ones, which take most of a brief's time."""
    svg = b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 10"><rect width="10" height="10"/></svg>'
    for name in ("job_picture", "base_picture"):
        monkeypatch.setattr(pictures, name, lambda *_facts: pictures.Drawn(svg, 7.0, 2.0))
