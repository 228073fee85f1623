"""What a brief says, where: all that can hurt, all that is not as asked, nothing that nobody stated."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
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
from linkplan.outputs.brief.compose_act import MOST_OF_A_KIND, answer_lines, finding_line, findings
from linkplan.outputs.brief.compose_check import check_point
from linkplan.outputs.brief.files import papers_for
from linkplan.outputs.brief.words import Words, apart
from linkplan.plan.safety import SafetyWishes
from linkplan.plan.siting_model import SitingRules
from linkplan.safety.cautions import CAUTIONS
from linkplan.safety.results import GUIDANCE, Finding
from linkplan.study import BriefFacts
from tests.outputs.brief.briefs import facts_of, full_of_it, texts, whole_text
from tests.outputs.conftest import HOSTILE
from tests.safety.test_gaps import siting_of


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
    assert "CP & <3>" in steps.items[4]  # not the base's own point, nor CP-2 where corrections are weak
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


def test_points_without_corrections_are_no_check_where_others_have_them(case):
    plan, coverage, _ = case
    _, second, third = plan.control_points
    study = facts_of(case).study
    frame, grid = coverage.grid.frame, coverage.grid
    only = np.zeros_like(coverage.class_index)
    only[grid.cell_of(*frame.to_local(third.easting, third.northing))] = 1
    assert check_point(replace(study, coverage=replace(coverage, class_index=only))) == third
    for everywhere in (0, 1):
        index = np.full_like(coverage.class_index, everywhere)
        assert check_point(replace(study, coverage=replace(coverage, class_index=index))) == second


def test_where_the_formula_is_a_guess_the_near_field_is_kept(case):
    # 2 x 3 m x 3 m x 451 MHz / 299.79 Mm/s = 27.08 m
    siting = siting_of(rules=SitingRules(fence_radius_m=4.0))
    facts = facts_of(case, safety=SafetyWishes(antenna_length_m=3.0), siting=siting)
    page = compose(facts).pages[0]
    (value, said), (_, band), *_ = one(act(compose(facts)), Figures).items
    assert (value, "(by formula 2.1\u00a0m, a guess)" in said) == ("27.1\u00a0m", True)
    assert "a guess" in band
    assert "nobody nearer than 27.1 m to the antenna" in whole_text(page)
    line = finding_line(facts.safety.findings[0], facts, Words.of(case[0], "en"))
    assert line.startswith("No circle on level ground to hold against the fence, 4.0 m")
    assert line.endswith("does not hold so near to the antenna: ask its maker.")


def test_a_length_that_nobody_stated_is_asked_for(full, case):
    assert "length is not stated: ask its maker" in whole_text(one(act(compose(full)), Figures))
    stated = facts_of(case, safety=SafetyWishes(antenna_length_m=0.7))
    assert "its maker" not in whole_text(one(act(compose(stated)), Figures))


def test_many_findings_are_counted_on_the_first_sheet(full):
    numbers = range(30)
    many = [Finding(GUIDANCE, f"zone {one} {'x' * 90}", False, 20.0 + one, 10.0, "s") for one in numbers]
    safety = replace(full.safety, findings=tuple(many), held=False)
    facts = replace(full, safety=safety)
    (points,) = box(compose(facts), "Not as asked").blocks
    zones = [item for item in points.items if item.startswith("Zone ")]
    assert [item[:8] for item in zones] == ["Zone zon"] * MOST_OF_A_KIND
    assert "49.0 s" in zones[0]  # the longest first
    assert all(len(item) < 160 for item in zones)
    assert "and 27 more of this kind: see the sheets that follow." in points.items
    assert len([item for item in findings(facts, Words.of(full.study.plan, "en")) if "Zone" in item]) == 30
    held = replace(safety, findings=tuple(replace(finding, held=True, found=3.0) for finding in many))
    covered = replace(full.study, summary=replace(full.study.summary, all_covered=True))
    fine = replace(facts, safety=held, breaches=(), study=covered)
    fine = replace(fine, set_up=replace(full.set_up, base_point=None))
    assert "and 27 more of this kind" in whole_text(
        box(compose(fine), "As asked, by the job file's own rules")
    )


def test_who_is_without_corrections_decides_what_to_do(full, case):
    zones = full_of_it(case)["siting"].zones
    said = whole_text(box(compose(full), "Corrections lost, or older than 10.0 s"))
    assert "guidance goes off" in said
    assert "nothing that others rely on is staked" in said
    assert "Check on a known point before work goes on." in said
    people = facts_of(case, siting=siting_of(zones[1]))
    alone = whole_text(box(compose(people), "Corrections lost, or older than 10.0 s"))
    assert "guidance goes off" not in alone
    assert "Nobody else who relies on corrections goes on" in alone
    tables = [block for block in looked_up(compose(full)) if isinstance(block, Table)]
    for tag, todo in (("Z1.1", "do not cross on guidance"), ("Z2.1", "do not stake out or measure in it")):
        rows = next(table.rows for table in tables if table.rows[0][0] == tag)
        assert [row[1] for row in rows if row[1].startswith("TOO LONG")] != []
        assert all(todo in row[1] for row in rows if row[1].startswith("TOO LONG"))


def test_a_broken_licence_is_framed_as_an_alarm(full):
    licence = box(compose(full), "Licence and identification")
    assert licence.tone == "alarm"
    assert "Not kept, as said above" in whole_text(licence)
    kept = box(compose(replace(full, breaches=())), "Licence and identification")
    assert (kept.tone, "Not kept" in whole_text(kept)) == ("plain", False)
    twice = replace(full, breaches=(*full.breaches, replace(full.breaches[-1], who="base B2")))
    assert findings(twice, Words.of(full.study.plan, "en")) == findings(full, Words.of(full.study.plan, "en"))


def test_what_breaks_a_rule_is_not_rounded_to_what_keeps_it(full):
    words = Words.of(full.study.plan, "en")
    assert words.without(10.04, 10.0) == "10.1 s"
    assert words.without(10.06, 10.0) == "10.1 s"
    assert words.without(9.97, 10.0) == "10.0 s"
    assert words.without(120.3, 120.0) == "121 s"
    assert apart(9.0694, 9.0705, words.show) == ("9.06 m", "9.07 m")
    assert apart(9.072, 9.07, words.show) == ("9.07 m", "9.07 m")
    assert apart(109.6, 109.8, words.show) == ("109 m", "109.80 m")
    assert apart(109.6, 200.0, words.show) == ("110 m", "200.00 m")
    assert words.room(2.98) == "2.9 m"
    assert words.room(3.0) == "3.0 m"
    assert words.served(0.9496, 0.95) == "94.9 %"
    assert words.served(0.9476, 0.95) == "94.8 %"
    assert words.served(0.9996, 1.0) == "99.9 %"
    assert words.served(0.9504, 0.95) == "95.0 %"


def test_a_zone_of_which_nothing_is_known_has_no_kept_rule(full):
    words = Words.of(full.study.plan, "en")
    none = Finding(GUIDANCE, "strip", True, 0.0, 10.0, "s")
    said = "Zone strip: no gap predicted; one may be there all the same."
    assert finding_line(none, full, words) == said
    assert "no gap predicted" not in finding_line(replace(none, held=False), full, words)


def test_a_sky_that_is_not_counted_is_said(case):
    plan = case[0]
    limited = facts_of(case, goal=replace(plan.goal, baseline_limit_m=900.0))
    _, work = answer_lines(limited.study, Words.of(limited.study.plan, "en"))
    assert work.startswith("Workable, as predicted: ")
    assert work.endswith(" The sky is not counted.")


def test_everything_that_is_not_as_asked_stands_first(full):
    (points,) = box(compose(full), "Not as asked").blocks
    said = whole_text(points)
    # 1.5 x 5 m and 15 ft; 11 m by the grid of the projection
    assert re.search(
        r"Line valley line is too near: 11\.\d+ m away, 12\.07 m asked for\. Do not raise the mast here\.",
        said,
    )
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
        assert row[3] == f"{gap.easting:.1f}, {gap.northing:.1f}"
        assert row[1].startswith("TOO LONG") is gap.too_long  # beside the number: seen on a phone too
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
