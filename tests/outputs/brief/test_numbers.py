"""Every number of a brief stands in the results, rounded by the one place that writes numbers.

What a number may look like follows from the name of its field: a length by its `_m`, a share by its name, and
so on. Numbers of the texts themselves are listed one by one.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import replace
from io import BytesIO
from typing import Any

import pytest
from pypdf import PdfReader

from linkplan import __version__
from linkplan.outputs import formats
from linkplan.outputs.brief.blocks import Brief, Text
from linkplan.outputs.brief.catalogue import catalogue_of, languages
from linkplan.outputs.brief.compose import compose
from linkplan.outputs.brief.pdf import brief_pdf
from linkplan.outputs.encode import to_jsonable
from linkplan.outputs.formats import SQUARE_METRES_PER_ACRE, Formats
from linkplan.safety.cautions import CAUTIONS, WHAT_TO_DO
from linkplan.study import BriefFacts
from linkplan.units import METRES_PER_UNIT
from tests.outputs.brief.briefs import MADE, beside, facts_of, full_of_it, whole_text

NUMBER = re.compile(r"(?<![\d.])\d[\d\u202f]*(?:\.\d+)?")
OF_THE_TEXTS = {
    "84",  # WGS 84
    "95",  # 95 % of positions
    "65", "97", "01",  # OET Bulletin 65, edition 97-01
    "2020", "47", "1.1310", "1", "200", "40", "400", "30", "1500", "300",  # exposure
    "29", "1926.1408",  # the regulation on clearances
    "1812", "8",  # P.1812-8
    "256",  # SHA-256
}  # fmt: skip
"""Numbers that stand in the catalogues' own texts, cautions included (30 minutes after thunder)."""


def numbers(text: str) -> list[str]:
    """Numbers of a text; letters may touch them, as in G3."""
    return [one.replace("\u202f", "") for one in NUMBER.findall(text)]


def leaves(value: Any, name: str = "") -> Iterator[tuple[str, Any]]:
    """Numbers and strings of a result with the name of their field."""
    if isinstance(value, dict):
        for key, one in value.items():
            yield from leaves(one, key if not re.fullmatch(r"[\d.]+", key) else name)
    elif isinstance(value, list):
        for one in value:
            yield from leaves(one, name)
    elif value is not None and not isinstance(value, bool):
        yield name, value


def written(name: str, value: float, show: Formats) -> Iterator[str]:
    """How a number may be written."""
    high, long = METRES_PER_UNIT[show.height_unit], METRES_PER_UNIT[show.length_unit]
    if isinstance(value, int):
        yield str(value)
    if name.endswith(("_m", "found", "asked")):
        yield from (f"{value / high:.{digits}f}" for digits in range(4))
        yield f"{math.ceil(value / high * 10.0 - 1e-9) / 10.0:.1f}"
        yield f"{math.floor(value / high * 10.0 + 1e-9) / 10.0:.1f}"
        yield f"{value / long:.0f}"
        yield from (f"{value / 1000.0:.{digits}f}" for digits in (1, 2))
    elif name.endswith("_m2") and not name.endswith("w_m2"):
        for size in (1.0, 1e4, 1e6, long**2, SQUARE_METRES_PER_ACRE):
            yield from (f"{value / size:.{digits}f}" for digits in range(3))
    elif name.endswith(("share", "shares", "chance", "duty", "low")):
        yield f"{100.0 * value:g}"
        yield from numbers(formats.percent(value))
        yield from numbers(formats.chance(value))
    elif name.endswith("_deg"):
        yield from (f"{round(value) % 360:03d}", f"{abs(value):.6f}")
    elif name in {"easting", "northing"}:
        yield show.coordinate(value)
    elif name.endswith(("hours", "hours_keyed")):
        yield f"{math.floor(10.0 * value) / 10.0:.1f}"  # a battery never lasts longer than it does
    elif name.endswith(("_db", "_dbm", "_dbi")):
        yield f"{abs(value):.1f}"
    elif name.endswith(("_s", "seconds")):
        yield from (f"{value:.1f}", f"{value:.0f}", f"{value / 60.0:g}")
    elif name.endswith(("_w", "_w_m2")):
        yield f"{value:.3g}"
    elif name.endswith(("_mhz", "_khz", "_min", "_kv", "_km_h", "factor", "_factor")):
        yield f"{value:.10g}"


def allowed(facts: BriefFacts) -> set[str]:
    """Every number that a brief of these facts may have."""
    study = facts.study
    plan, coverage, show = study.plan, study.coverage, Formats.of(study.plan)
    points = [(one.name, one.easting, one.northing) for one in (plan.base, *plan.control_points)]
    longitude, latitude = coverage.grid.frame.to_geographic(0.0, 0.0)
    results = [
        study.summary, facts.safety, facts.set_up, facts.air_time, facts.breaches, coverage.classes,
        plan.transmitter, plan.goal, plan.safety, plan.licence, plan.calibration, plan.environment,
        {"identification_interval_s": plan.identification_interval_s},
        {"sigma_db": [coverage.sigma_db, plan.prediction_sigma_db]},
        {"cell_size_m": coverage.grid.cell_size_m},
        {"longitude_deg": longitude, "latitude_deg": latitude},
        {"covered_share": study.workable.workable_share},
        [{"reason_share": study.workable.share(bit=bit)} for bit in (1, 2, 4, 255)],
        [{"name": name, "easting": easting, "northing": northing} for name, easting, northing in points],
        [plan.name, plan.file.name, plan.job_hash, plan.job_hash[:8], __version__],
        [coverage.grid.height_datum, *(file.name for file in plan.terrain.files)],
        f"{MADE:%Y-%m-%d %H:%M}",
    ]  # fmt: skip
    found = set(OF_THE_TEXTS)
    for name, value in leaves(to_jsonable(results)):
        found |= set(numbers(value)) if isinstance(value, str) else set(written(name, value, show))
    for number, zone in enumerate(facts.safety.zones, start=1):
        found |= {str(number), *(f"{number}.{gap.number}" for gap in zone.gaps)}
        found.add(str(len(zone.gaps)))
    return found | {str(len(study.summary.gaps)), str(len(facts.set_up.missing))}


def strange(brief: Brief, facts: BriefFacts) -> list[str]:
    """Numbers of a brief that are in none of its facts."""
    known = allowed(facts)
    return [one for one in numbers(whole_text(brief)) if one not in known]


@pytest.fixture(autouse=True)
def _no_drawing(quick_drawings: None) -> None:
    """Drawings have tests of their own."""


@pytest.fixture(scope="module")
def facts(case) -> BriefFacts:
    """With a second antenna on the mast."""
    return facts_of(case, **{**full_of_it(case), "bases": (beside(case, 4.0), beside(case, 300.0))})


@pytest.mark.parametrize("language", languages())
def test_numbers_of_a_full_brief_are_those_of_the_results(facts, language):
    brief = compose(facts, language)
    assert len(numbers(whole_text(brief))) > 200
    assert strange(brief, facts) == []


def test_numbers_in_feet(make):
    case = make(epsg=2229, unit="us-survey-foot")
    facts = facts_of(case, **full_of_it(case))
    assert strange(compose(facts), facts) == []


def test_a_wrong_number_is_noticed(facts):
    brief = compose(facts)
    page = brief.pages[1]
    for wrong in ("7.6 m", "451.1 MHz", "94.9 %", "1234"):
        planted = replace(page, blocks=(*page.blocks, Text(f"Fall radius {wrong}.")))
        assert strange(replace(brief, pages=(brief.pages[0], planted, *brief.pages[2:])), facts) == [
            wrong.split()[0]
        ]
    # and a right one beside it is not: 1.5 x 5.0 m
    planted = replace(page, blocks=(*page.blocks, Text("Fall radius 7.5 m.")))
    assert strange(replace(brief, pages=(brief.pages[0], planted, *brief.pages[2:])), facts) == []


@pytest.mark.parametrize("language", languages())
def test_the_texts_hold_no_other_numbers(language):
    said = catalogue_of(language).texts.values()
    cautions = [(*one.what_to_do, one.who_decides) for one in (*CAUTIONS.values(), *WHAT_TO_DO.values())]
    found = numbers(" ".join(" ".join((one,) if isinstance(one, str) else one) for one in (*said, *cautions)))
    assert set(found) <= OF_THE_TEXTS | {"2010"}


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_numbers_on_paper_are_those_of_the_results(facts, paper):
    brief = compose(facts)
    pages = PdfReader(BytesIO(brief_pdf(brief, paper, MADE))).pages
    said = " ".join(page.extract_text() for page in pages).replace("\u00a0", " ").replace("\u200b", "")
    steps = {str(number) for number in range(1, 8)}
    sheets = {str(number) for number in range(1, len(pages) + 1)}
    known = allowed(facts) | steps | sheets
    assert [one for one in numbers(said) if one not in known] == []
    assert len(numbers(said)) > 200
