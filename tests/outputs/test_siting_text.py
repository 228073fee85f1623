"""The siting answer in words: the sentence first, every reason with its numbers, nothing hostile."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import pytest

from linkplan.outputs import siting_reasons, siting_words
from linkplan.outputs.formats import Formats
from linkplan.outputs.siting_text import cautions, siting_text
from linkplan.siting.results import Finding, SitingResult
from tests.outputs.siting_example import Case, one_base, several, siting_plan


def joined(text: str) -> str:
    return " ".join(text.split())


def test_the_sentence_first_then_why_and_who_is_second(case: Case) -> None:
    plan = siting_plan(case)
    lines = siting_text(plan, one_base(plan)).splitlines()
    text = joined("\n".join(lines))
    assert lines[0] == plan.name
    assert joined("\n".join(lines[2:5])) == (
        "CP-1 with a mast of 5.0 m and 2 W: 98.1 % of the job (99.1 % as weighted) has corrections with a "
        "chance of 95 % or more (wanted: 95 %); worst spot -3.0 dB; best in 87 of 100 draws of the "
        "prediction's error."
    )
    assert "CP-1 comes first by its weighted share of the job: 99.1 %, against 97.8 % at CP-2." in text
    assert (
        "Second is CP-2 with a mast of 5.0 m and 2 W (96.8 % of the job, worst spot -3.0 dB, best in 9 of "
        "100 draws): it leaves more of the job without corrections." in text
    )
    assert "first is CP-1 in 87, CP-2 in 9 and R3 in 4." in text
    assert lines[-1].startswith("A prediction, not a measurement: verify on site")
    assert "safe" not in text.casefold()


def test_ranking_lists_fifteen_and_counts_the_rest(case: Case) -> None:
    plan = siting_plan(case)
    text = siting_text(plan, one_base(plan))
    rows = [found for line in text.splitlines() if (found := re.match(r" {4,5}(\d+)  \w.*", line))]
    assert [int(found[1]) for found in rows] == list(range(1, 16))
    assert joined(rows[3][0]) == "4 R4 3.0 2 W 88.3 % 89.3 % 86.3 % 89.8 % -3.0 2.35 0"
    assert "and 6 more places, in ranking.csv" in text  # 24 places, 3 of them ruled out
    assert "24 places compared in 96 ways, 21 serve" in joined(text)


def test_reasons_have_their_numbers(case: Case) -> None:
    plan = siting_plan(case)
    text = joined(siting_text(plan, one_base(plan)))
    # 1.5 x 3 m + 3.05 m (10 ft): 7.55 m; what is asked for is rounded up, what there is down
    assert (
        "7.2 m from overhead line valley line, 7.6 m asked for (mast 3.0 m, 0.5 W; nothing else tried there "
        "serves)" in text
    )
    assert "R1 in ground where no mast may stand" in text
    assert "R2 no terrain data at the place" in text
    assert "Ruled out: 3 of 24 places" in text
    assert "R4, mast 5.0 m, 0.5 W or 2 W people have to keep 5.4 m away while it transmits, and" in text
    assert "R3: the view of the sky cannot be judged: ground known less than 2 km far" in text


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (Finding("overhead line", False, 8.2, 16.6, "m", "20 kV line"),
         "8.2 m from overhead line 20 kV line, 16.6 m asked for"),
        (Finding("overhead line", False, 16.58, 16.62, "m", "L"),
         "16.5 m from overhead line L, 16.7 m asked for"),
        (Finding("overhead line", False, 1004.9, 1005.1, "m", "L"),
         "1.00 km from overhead line L, 1.01 km asked for"),
        (Finding("exposure", False, 5.04, 5.0, "m"),
         "people have to keep 5.1 m away while it transmits, and 5.0 m can be fenced"),
        (Finding("sky", False, 0.234, 0.1, "share"),
         "terrain above the elevation mask in 23.4 % of the directions, 10.0 % allowed"),
        (Finding("track", False, 1340.0, 300.0, "m"), "1.34 km from the nearest track, 300 m allowed"),
        (Finding("zone", False, 0.97996, 0.98, "share", "strip"),
         "zone strip covered to 97.996 %, 98.000 % is a must"),
        (Finding("known control", False, None, None, ""), "not a point of the job's control"),
        (Finding("exposure", None, None, 5.0, "m", "the limit ends at 6 GHz"),
         "exposure cannot be judged: the limit ends at 6 GHz"),
    ],
)  # fmt: skip
def test_a_rule_in_words(case: Case, found: Finding, words: str) -> None:
    assert siting_reasons.finding_words(found, Formats.of(case[0])) == words


def with_decision(plan: object, by: str, **second: float) -> SitingResult:
    """The example, in which the second place differs in one thing."""
    result = one_base(plan)  # type: ignore[arg-type]
    one, two = (result.judged[number - 1] for number in result.ranking[:2])
    assert one.outcome is not None
    judged = list(result.judged)
    judged[one.number - 1] = replace(one, decided_by=by)
    judged[two.number - 1] = replace(
        two,
        outcome=replace(one.outcome, **{k: v for k, v in second.items() if k != "antenna_height_m"}),
        candidate=replace(two.candidate, antenna_height_m=second.get("antenna_height_m", 5.0)),
    )
    return replace(result, judged=tuple(judged), zone_names=())


@pytest.mark.parametrize(
    ("by", "second", "why", "lacks"),
    [
        ("worst", {"worst_margin_db": -5.2},
         "Level with CP-2 in share of the job, CP-1 comes first by its worst spot: -3.0 dB, against "
         "-5.2 dB at CP-2.",
         "its worst spot is weaker"),
        ("baseline", {"longest_baseline_m": 4500.0},
         "Level with CP-2 in share of the job and worst spot, CP-1 comes first by its longest baseline: "
         "2.35 km, against 4.50 km at CP-2.", "it stands farther from the far end of the job"),
        ("mast", {"antenna_height_m": 8.0},
         "Level with CP-2 in share of the job, worst spot and longest baseline, CP-1 comes first by its "
         "lower mast: 5.0 m, against 8.0 m at CP-2.", "it needs the taller mast"),
        ("tie", {}, "Nothing in the order tells CP-1 and CP-2 apart; CP-1 is named first in the job.",
         "it lacks nothing that the order asks for"),
    ],
)  # fmt: skip
def test_why_first(case: Case, by: str, second: dict[str, float], why: str, lacks: str) -> None:
    plan = siting_plan(case)
    result, show = with_decision(plan, by, **second), Formats.of(plan)
    assert siting_words.why_first(result, show) == why
    assert siting_words.second_line(result, show).endswith(f": {lacks}.")


def test_goal_reached_or_not(case: Case) -> None:
    plan = siting_plan(case)
    result = replace(with_decision(plan, "goal", covered_share=0.93), order=("goal", "mast"))
    show = Formats.of(plan)
    assert siting_words.why_first(result, show) == (
        "CP-1 comes first by reaching the wanted 95 % (98.1 %); CP-2 does not (93.0 %)."
    )
    missed = replace(result, wanted_share=0.99)
    assert not siting_words.reaches(missed)
    assert siting_words.answer_line(missed, show).startswith("NOT ENOUGH from one place; the best is CP-1")


def test_no_place_serves(case: Case) -> None:
    plan = siting_plan(case)
    result = one_base(plan)
    out = tuple(
        replace(one, rank=None, findings=(*one.findings, Finding("keep-out", False, None, None, "")))
        for one in result.judged
    )
    nothing = replace(result, judged=out, ranking=(), curves=())
    assert not siting_words.reaches(nothing)
    text = siting_text(plan, nothing)
    assert "NO PLACE SERVES: of 24 places compared" in text
    assert "Ruled out: 24 of 24 places" in text


def test_set_ups_together(case: Case) -> None:
    plan = siting_plan(case, mode="corridor")
    result, _ = several(plan, case[1])
    text = joined(siting_text(plan, result))
    assert "3 set-ups (CP-1, R5 and R17) give 98.8 % of the job, as weighted, corrections" in text
    assert "1 CP-1 3.0 m 0.5 W 40.0 % 20.0 % 1.40 km along the line" in text
    assert "Proven fewest" in text
    assert "checked afterwards on every cell: 98.8 %" in text
    assert "In 91 of 100 draws of the prediction's error the set-ups cover the wanted share." in text
    assert "Out of reach of every place that serves: 0.4 %" in text
    assert "note: A note of the choice." in text
    assert result.together is not None
    late = replace(result.together, proven=False, gap=0.5)
    assert "at most 50.0 % more set-ups than the fewest" in siting_words.proven_line(late)
    late = replace(late, goal="greatest", gap=0.021)
    assert "at most 2.1 % short of the greatest share" in siting_words.proven_line(late)


def test_no_set_ups_at_all_says_why(case: Case) -> None:
    plan = siting_plan(case, mode="several")
    result, _ = several(plan, case[1])
    assert result.together is not None
    none = replace(result, together=replace(result.together, set_ups=(), unreachable_share=1.0))
    show = Formats.of(plan)
    assert "no place that serves reaches any part of the job" in siting_words.answer_line(none, show)
    assert "each is ruled out" in siting_words.answer_line(replace(none, ranking=()), show)
    assert not siting_words.reaches(none)


def test_repeaters_say_what_they_cost_in_air_time(case: Case) -> None:
    plan = siting_plan(case, mode="repeaters")
    result, _ = several(plan, case[1])
    text = joined(siting_text(plan, result))
    assert "A base on CP-1 with 2 repeaters (R5 and R17)" in text
    assert "2 R5 3.0 m 0.5 W 30.0 % 20.0 % repeater +14.4 dB" in text
    assert "each repeater sends everything once more, which fits; 2 repeaters at most." in text
    assert result.together is not None
    crowded = replace(result, together=replace(result.together, air_time_fits=False, most_repeaters=1))
    assert not siting_words.reaches(crowded)
    assert "DOES NOT FIT on the air" in siting_text(plan, crowded)
    full = replace(result.together, air_time_fits=False, most_repeaters=0)
    alone = replace(result, together=replace(full, set_ups=full.set_ups[:1]))
    assert "what it sends is too much for the channel" in siting_words.answer_line(alone, Formats.of(plan))
    assert "DOES NOT FIT even without a repeater" in siting_words.air_time_line(full)
    none = replace(result.together, most_repeaters=0)
    assert "there is none left for a repeater" in siting_words.air_time_line(none)
    silent = replace(result.together, air_time_fits=None, most_repeaters=None)
    assert "does not say what the base sends" in siting_words.air_time_line(silent)


def test_cautions_stand_by_every_mast(case: Case) -> None:
    plan = siting_plan(case)
    result, show = one_base(plan), Formats.of(plan)
    words = " ".join(cautions(plan, result, show))
    for hazard in ("Overhead lines", "Fall", "Exposure", "Lightning", "Local codes", "qualified person"):
        assert hazard in words
    assert "the mast here: 5.0 m" in words
    assert "no distance was worked out" in words
    winner = result.judged[result.ranking[0] - 1]
    ruled = replace(winner, findings=(Finding("exposure", True, 2.31, 10.0, "m"),))
    judged = tuple(ruled if one.number == winner.number else one for one in result.judged)
    assert "at least 2.4 m from the foot" in " ".join(cautions(plan, replace(result, judged=judged), show))
    none = replace(winner, findings=(Finding("exposure", True, 0.0, 10.0, "m"),))
    judged = tuple(none if one.number == winner.number else one for one in result.judged)
    assert "keep away from the antenna itself" in " ".join(
        cautions(plan, replace(result, judged=judged), show)
    )
    assert plan.siting is not None
    bare = replace(plan, siting=replace(plan.siting, rules=replace(plan.siting.rules, lines=())))
    assert "names no overhead line, so nothing was checked" in " ".join(cautions(bare, result, show))


def test_units_of_the_job(make: Callable[..., Case]) -> None:
    case = make(unit="us-survey-foot", epsg=2229, rows=60, columns=80)
    plan = siting_plan(case)
    text = joined(siting_text(plan, one_base(plan)))
    assert "CP-1 with a mast of 16.4 ft and 2 W" in text  # 5 m x 3937 / 1200
    # 0.19 of the job a metre are 0.19 x 1200 / 3937 = 0.0579 a foot
    assert "9.8 ft 82.0 % +5.8" in text
    # 7.2 m are 23.62 ft, 7.55 m 24.77 ft
    assert "23.6 ft from overhead line valley line, 24.8 ft asked for" in text


def test_names_cannot_act_on_a_terminal(case: Case) -> None:
    names = {"CP-1": "a\x1b[31mb\nc\u202e", "line": "l\tm\x07", "haul road": "z\r\x00"}
    plan = siting_plan(case, names=names)
    text = siting_text(plan, one_base(plan))
    assert all(sign.isprintable() or sign == "\n" for sign in text)
    assert "a [31mb c with a mast" in text
