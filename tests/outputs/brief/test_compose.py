"""What a brief says, where: all that can hurt, all that is not as asked, nothing that nobody stated."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from linkplan.outputs.brief.blocks import (
    Beside,
    Block,
    Box,
    Brief,
    Code,
    Figures,
    Lines,
    Picture,
    Points,
    Table,
)
from linkplan.outputs.brief.catalogue import languages
from linkplan.outputs.brief.compose import compose
from linkplan.outputs.brief.files import papers_for
from linkplan.plan.safety import SafetyWishes
from linkplan.safety.cautions import CAUTIONS
from linkplan.study import BriefFacts
from tests.outputs.brief.briefs import facts_of, full_of_it, texts, whole_text
from tests.outputs.conftest import HOSTILE


@pytest.fixture(autouse=True)
def _no_drawing(quick_drawings: None) -> None:
    """What is drawn does not matter here."""


@pytest.fixture(scope="module")
def full(case) -> BriefFacts:
    return facts_of(case, **full_of_it(case))


@pytest.fixture(scope="module")
def bare(case) -> BriefFacts:
    return facts_of(case)


def blocks_of(blocks: tuple[Block, ...]) -> list[Block]:
    """All blocks, those in columns and boxes too."""
    found: list[Block] = []
    for block in blocks:
        found.append(block)
        if isinstance(block, Box):
            found += blocks_of(block.blocks)
        if isinstance(block, Beside):
            found += blocks_of(block.left) + blocks_of(block.right)
    return found


def act(brief: Brief) -> list[Block]:
    return blocks_of(brief.pages[0].blocks)


def looked_up(brief: Brief) -> list[Block]:
    return [block for page in brief.pages[1:] for block in blocks_of(page.blocks)]


def one(found: list[Block], kind: type) -> Block:
    (block,) = [block for block in found if type(block) is kind]
    return block


def box(brief: Brief, title: str) -> Box:
    return next(block for block in act(brief) if isinstance(block, Box) and block.title == title)


def test_first_page_has_what_a_crew_acts_on(full):
    brief = compose(full)
    found, said = act(brief), whole_text(brief.pages[0])
    assert all(page.one_sheet for page in brief.pages)
    values = [value for value, _ in one(found, Figures).items]
    # 20 W less 1.2 dB into 5 dBi: 47.97 W; sqrt(2.56 x 47.97 / (4 pi 2.255)) = 2.08 m, so 2.92 to 7.08 m up:
    # nobody on the ground is reached, and the band of heights stands in the circle's place
    assert [value.replace("\u00a0", " ") for value in values] == ["2.1 m", "2.9 to 7.1 m", "7.5 m", "10.0 s"]
    assert one(found, Code).code == full.set_up.code
    assert len(one(found, Lines).labels) == 4
    assert "Prediction calibrated from 2 logs, 3412 epochs." in said
    assert one(found, Picture).said.startswith("Map of the job Kieswerk Nord: Not covered as wanted")
    steps = next(block for block in found if isinstance(block, Points) and block.numbered)
    assert steps.boxes
    assert len(steps.items) == 7
    assert full.set_up.code in steps.items[1]
    assert "451" in steps.items[2]
    assert "217" in steps.items[2]
    assert "CP-2" in steps.items[4]  # not the base's own point
    assert "Z1.1\u00a0(E\u00a0" in steps.items[5]
    assert "DEMO-7" in said
    assert "K7" in said
    assert "call sign every 15 min" in said
    assert "the radio sends it every 30 min" in said


def test_a_circle_on_the_ground_takes_the_place_of_the_band(case):
    plan = case[0]
    low = facts_of(case, base=replace(plan.base, antenna_height_m=2.0))
    values = [value for value, _ in one(act(compose(low)), Figures).items]
    assert values[1] == "2.1\u00a0m"  # heads are as high as the antenna


def test_a_base_without_a_name_is_not_checked_on_its_own_point(case):
    plan = case[0]
    (first, second, _), here = plan.control_points, replace(plan.base, name="base")
    points = (replace(first, easting=here.easting, northing=here.northing), second)
    said = whole_text(compose(facts_of(case, base=here, control_points=points)))
    assert f"Check on {second.name} (E " in said
    alone = facts_of(case, base=here, control_points=points[:1])
    assert "Check on a second known point, ________: off by ________" in whole_text(compose(alone))


def test_everything_that_is_not_as_asked_stands_first(full):
    (points,) = box(compose(full), "Not as asked").blocks
    said = whole_text(points)
    # 1.5 x 5 m and 15 ft; 11 m by the grid of the projection
    assert re.search(r"Line valley line is too near: 11\.\d+ m away, 12\.07 m asked for\.", said)
    assert "Zone haul road: " in said
    assert "Zone stakeout: " in said
    assert "Zone tip" not in said
    assert "licence.erp_limit_w = 13" in said
    assert "licence.identification_interval_min = 15" in said
    assert "Not covered as wanted: " in said
    assert points.items[-1].startswith("Not covered")
    assert box(compose(full), "Not as asked").tone == "alarm"


def test_nothing_asked_is_no_promise(case):
    plan, coverage, summary = case
    facts = facts_of((plan, coverage, replace(summary, all_covered=True)), job_hash="")
    brief = compose(facts)
    said = whole_text(brief)
    assert "Not as asked" not in said
    assert "no zone where somebody relies on corrections. Look for them on site." in said
    assert "none in the job file, which says nothing about the site" in said
    assert "No licence is stated in the job file: nothing here permits a transmission." in said
    assert "has no [corrections], so how long the transmitter is keyed is unknown" in said
    assert "Revision - of job.toml" in said
    assert "SHA-256" not in said
    assert "write down the station ID that they show" in said


@pytest.mark.parametrize("language", languages())
def test_never_a_bare_promise(full, bare, language):
    for facts in (full, bare):
        said = " ".join(texts(compose(facts, language)))
        assert not re.search(r"\bsafe\b|\bsegur[oa]s?\b", said, re.IGNORECASE)


def test_every_hazard_is_there_with_who_decides(full):
    said = whole_text(compose(full))
    for caution in CAUTIONS.values():
        for sentence in (caution.title, *caution.what_to_do, caution.who_decides):
            assert sentence in said
    for zone in full.safety.zones:
        for sentence in zone.what_to_do.what_to_do:
            assert sentence in whole_text(compose(full))


def test_gaps_say_where_how_long_and_what_to_do(full):
    tables = [block for block in looked_up(compose(full)) if isinstance(block, Table)]
    road = next(table for table in tables if table.rows[0][0] == "Z1.1")
    zone = full.safety.zones[0]
    assert len(road.rows) == len(zone.gaps)
    for row, gap in zip(road.rows, zone.gaps, strict=True):
        assert row[1] == f"{gap.easting:.1f}, {gap.northing:.1f}"
        assert row[-1].startswith("TOO LONG") is gap.too_long
    assert road.strong_rows == tuple(i for i, gap in enumerate(zone.gaps) if gap.too_long)


def test_twelve_dead_zones_and_unknown_ones(case):
    plan, coverage, summary = case
    weak = summary.gaps[0]
    gaps = tuple(
        replace(weak, number=i, kind="no data" if i % 2 else "weak", worst_margin_db=None if i % 2 else -3.2)
        for i in range(1, 13)
    )
    brief = compose(facts_of((plan, coverage, replace(summary, gaps=gaps, gap_count=40))))
    table = next(block for block in looked_up(brief) if isinstance(block, Table) and block.rows[0][0] == "G1")
    assert len(table.rows) == 12
    assert [row[1] for row in table.rows[:2]] == ["no data", "weak"]
    assert [row[-1] for row in table.rows[:2]] == ["unknown", "\u22123.2"]
    assert "The 12 largest are listed." in whole_text(brief)


def test_calibrated_or_not(full, bare):
    logs = (
        "Calibrated on 2026-04-02 from 2 logs, 3412 epochs (388 kept, in 27 pieces of ground): every level "
        "moved by -3.4 dB."
    )
    assert logs in whole_text(compose(full))
    assert "of which 4.7 dB is its own error (learned from logs)" in whole_text(compose(full))
    assert "Not calibrated by logs from the field" in whole_text(compose(bare))
    assert "of which 6.0 dB is its own error (by common practice)" in whole_text(compose(bare))
    short = "Prediction not calibrated: its error of 6.0 dB is by common practice."
    assert short in whole_text(compose(bare).pages[0])


def test_text_of_the_job_stays_text(hostile_case):
    facts = facts_of(hostile_case, **full_of_it(hostile_case))
    brief = compose(facts)
    assert brief.title == HOSTILE
    assert HOSTILE in one(act(brief), Picture).said.replace("\u00a0", " ")


ENGLISH = re.compile(
    r"\b(the|of|and|with|without|from|to|is|are|not|nobody|everybody|where|corrections|base point|licence|"
    r"stated|unknown|keep|largest|zone|gap|line|height|weak|dependable|likely|anybody|workers|people)\b"
)


def test_no_english_is_left_in_spanish(full, bare, case):
    own = facts_of(case, safety=SafetyWishes(public_limit_w_m2=2.0, worker_limit_w_m2=10.0), clutter=None)
    for facts in (full, bare, own):
        brief = compose(facts, "es")
        assert brief.language == "es"
        said = whole_text(brief)
        start = said.index("tal como lo dice, en inglés:")
        messages = {
            *facts.study.summary.warnings,
            *(f"{one.clause} = {one.stands}: {one.who}: {one.problem}" for one in facts.breaches),
        }
        for message in messages:
            assert message in said[start:]
            said = said.replace(message, "")
        for name in ("haul road", "stakeout", "valley line", "farm line", "stated line", "linkplan site",
                     "linkplan sheet"):  # fmt: skip
            said = said.replace(name, "")
        said = re.sub(r"licence\.\w+|\[\w+\]", "", said)  # keys of the job file
        assert [match.group() for match in ENGLISH.finditer(said)] == []
        pictures = [
            block for page in brief.pages for block in blocks_of(page.blocks) if isinstance(block, Picture)
        ]
        assert len(pictures) == 2


def test_word_list_finds_english(full):
    assert len(ENGLISH.findall(whole_text(compose(full)))) > 200


def test_paper_of_the_crew():
    assert papers_for("metre") == ("a4",)
    assert papers_for("us-survey-foot") == ("a4", "letter")
