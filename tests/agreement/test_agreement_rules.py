"""Rules beyond equality: channels, repeaters, filters, units, who is to be changed, and the job."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linkplan.agreement.compare import JobSheets, check_agreement
from linkplan.agreement.results import Agreement
from linkplan.errors import SheetError
from linkplan.plan.sheet_fields import BY_NAME
from linkplan.plan.sheet_values import read_stated
from linkplan.plan.sheets import Sheet
from tests.agreement.conftest import Pair


def found(result: Agreement) -> dict[str, str]:
    return {one.field: one.severity for one in result.findings}


def with_value(sheet: Sheet, name: str, text: str) -> Sheet:
    value = read_stated(text, BY_NAME[name])
    assert value is not None
    return replace(sheet, values={**sheet.values, name: value})


class TestChannels:
    """Frequency decides; a channel number means what the set's own table says."""

    def test_other_numbers_for_one_frequency_agree(self, pair: Pair) -> None:
        result = pair.check(
            {"corrections_frequency": None}, {"corrections_frequency": None},
            base_extra='channel = 3\n[channels]\n3 = "451.8 MHz"\n4 = "452 MHz"\n',
            rover_extra='channel = "7"\n[channels]\n7 = "451800 kHz"\n',
        )  # fmt: skip
        assert result.agrees
        assert not result.findings

    def test_one_number_for_other_frequencies_does_not(self, pair: Pair) -> None:
        result = pair.check(
            {"corrections_frequency": None}, {"corrections_frequency": None},
            base_extra='channel = 3\n[channels]\n3 = "451.8 MHz"\n',
            rover_extra='channel = 3\n[channels]\n3 = "451.825 MHz"\n',
        )  # fmt: skip
        assert found(result) == {"corrections_frequency": "no link"}
        finding = result.findings[0]
        assert finding.stands == "451.825 MHz (channel 3 in its own table)"
        assert finding.wanted == (("base", "451.8 MHz (channel 3 in its own table)"),)
        assert finding.detail == "25 kHz apart"
        assert "On R1 set receive frequency to 451.8 MHz." in finding.cure

    def test_equal_numbers_without_tables_are_no_agreement(self, pair: Pair) -> None:
        nothing = {"corrections_frequency": None}
        result = pair.check(nothing, nothing, base_extra="channel = 3\n", rover_extra="channel = 3\n")
        assert not result.agrees
        assert {(one.set_name, one.kind) for one in result.findings} == {
            ("base", "not stated"), ("R1", "not stated")
        }  # fmt: skip
        assert any("channel 3 says nothing" in warning for warning in result.warnings)

    def test_a_sheet_that_contradicts_itself_is_refused(self, pair: Pair) -> None:
        with pytest.raises(SheetError, match=r"channel 3 is 451\.825 MHz in the set's own table"):
            pair.check({}, {}, rover_extra='channel = 3\n[channels]\n3 = "451.825 MHz"\n')


class TestRepeater:
    def test_a_rover_may_listen_to_the_repeater(self, pair: Pair) -> None:
        assert pair.check({}, {"corrections_frequency": "453.1 MHz"}).agrees

    def test_but_not_to_a_third_frequency(self, pair: Pair) -> None:
        assert found(pair.check({}, {"corrections_frequency": "453.2 MHz"})) == {
            "corrections_frequency": "no link"
        }

    def test_without_a_repeater_its_frequency_need_not_be_said(self, pair: Pair) -> None:
        off = {"repeater": "none", "repeater_frequency": None}
        result = pair.check(off, off)
        assert result.agrees
        assert not result.findings


class TestFilter:
    def test_a_rover_that_takes_any_base_is_weaker_where_one_is_wanted(self, pair: Pair) -> None:
        result = pair.check({}, {"id_filter": "any"})
        assert found(result) == {"id_filter": "weaker"}
        assert "whichever base" in result.findings[0].seen

    def test_and_agrees_where_nothing_is_wanted(self, pair: Pair) -> None:
        assert pair.check({"id_filter": None}, {"id_filter": "any"}).agrees

    def test_a_narrower_filter_than_wanted_is_a_note(self, pair: Pair) -> None:
        assert found(pair.check({"id_filter": "any"}, {})) == {"id_filter": "note"}

    def test_the_station_that_is_sent_comes_before_what_the_sheet_wants(self, pair: Pair) -> None:
        result = pair.check({"station_id": "13"}, {"station_id": "13"})
        assert found(result) == {"id_filter": "no link"}
        assert "set station ID filter to 13" in result.findings[0].cure


def test_a_rover_that_takes_any_message_agrees(pair: Pair) -> None:
    assert pair.check({}, {"messages": "any"}).agrees
    with pytest.raises(SheetError, match="a base sends certain messages"):
        pair.check({"messages": "any"}, {})


def test_missing_and_extra_messages_are_named(pair: Pair) -> None:
    finding = pair.check({}, {"messages": "1006 1074 1094"}).findings[0]
    assert finding.detail == "here only: 1094; missing here: 1084"


@pytest.mark.parametrize(
    ("here", "there", "agrees"),
    [
        ("296.370 m", "296.371 m", True),  # a millimetre is agreement
        ("296.370 m", "296.3711 m", False),
        ("296.37 m", "972.34 ft", True),  # 972.34 x 0.3048 = 296.3692
        ("5300358 m", "17389591.205 ftUS", True),  # 5300358 x 3937 / 1200 = 17389591.205
        ("5300358 m", "17389591.205 ft", False),
    ],
)
def test_lengths_are_compared_after_conversion(pair: Pair, here: str, there: str, agrees: bool) -> None:
    assert pair.check({"base_northing": here}, {"base_northing": there}).agrees is agrees


def test_international_and_survey_feet_are_not_one(pair: Pair) -> None:
    """At 6 561 679.79 ft (2 000 000 m) the two feet are 4.000 m apart: 2 millionths of the coordinate."""
    result = pair.check({"base_easting": "6561679.790 ft"}, {"base_easting": "6561679.790 ftUS"})
    assert found(result) == {"base_easting": "wrong coordinates"}
    assert result.findings[0].detail == "4.000 m apart"


def test_degrees_and_metres_cannot_be_compared_and_that_is_no_agreement(pair: Pair) -> None:
    result = pair.check({}, {"base_easting": "-15.01 deg"})
    assert found(result) == {"base_easting": "wrong coordinates"}
    assert "cannot be compared" in result.findings[0].detail


def test_degrees_agree_to_a_millimetre_on_the_ground(pair: Pair) -> None:
    near, far = {"base_easting": "-15.00000001 deg"}, {"base_easting": "-15.00000003 deg"}
    assert pair.check({"base_easting": "-15 deg"}, near).agrees
    assert not pair.check({"base_easting": "-15 deg"}, far).agrees


class TestJob:
    """With a job, everybody is held against it, and it decides who is to be changed."""

    @pytest.fixture
    def sheets(self, pair: Pair) -> tuple[Sheet, Sheet, JobSheets]:
        base, (rover,) = pair.read({}, {})
        return base, rover, JobSheets("job", base, rover)

    def test_all_as_the_job_wants(self, sheets: tuple[Sheet, Sheet, JobSheets]) -> None:
        base, rover, job = sheets
        result = check_agreement(base, [rover], job)
        assert result.agrees
        assert result.job_code == result.base.code

    def test_base_and_rover_alike_but_not_as_the_job_wants(
        self, sheets: tuple[Sheet, Sheet, JobSheets]
    ) -> None:
        base, rover, job = sheets
        result = check_agreement(
            with_value(base, "protocol", "type B"), [with_value(rover, "protocol", "type B")], job
        )
        assert [(one.set_name, one.field, one.severity) for one in result.findings] == [
            ("base", "protocol", "no link"), ("R1", "protocol", "no link"),
        ]  # fmt: skip
        assert all("to type A" in one.cure for one in result.findings)
        assert result.findings[1].wanted == (("base", "type B"), ("job", "type A"))

    def test_a_rover_as_the_job_wants_is_not_told_to_change(
        self, sheets: tuple[Sheet, Sheet, JobSheets]
    ) -> None:
        base, rover, job = sheets
        result = check_agreement(with_value(base, "protocol", "type B"), [rover], job)
        cure = next(one.cure for one in result.findings if one.set_name == "R1")
        assert cure.startswith("R1 is as the job wants it; on the base set radio protocol to type A.")

    def test_a_job_alone_checks_a_base(self, sheets: tuple[Sheet, Sheet, JobSheets]) -> None:
        base, _, job = sheets
        assert check_agreement(base, [], job).agrees
        assert not check_agreement(with_value(base, "geoid", "none"), [], job).agrees

    def test_a_silent_job_is_noted(self, sheets: tuple[Sheet, Sheet, JobSheets]) -> None:
        base, rover, _ = sheets
        values = {name: value for name, value in base.values.items() if name != "protocol"}
        silent = JobSheets("job", replace(base, values=values), replace(rover, values=values))
        result = check_agreement(base, [rover], silent)
        assert result.agrees
        assert {(one.field, one.kind, one.severity) for one in result.findings} == {
            ("protocol", "not stated", "note")
        }

    def test_rules_for_rovers_hold_against_the_job_too(self, sheets: tuple[Sheet, Sheet, JobSheets]) -> None:
        base, rover, job = sheets
        free = with_value(with_value(rover, "messages", "any"), "corrections_frequency", "453.1 MHz")
        assert check_agreement(base, [free], job).agrees
        assert not check_agreement(with_value(base, "corrections_frequency", "453.1 MHz"), [], job).agrees


def test_a_changed_sheet_and_a_misread_code_are_noticed(pair: Pair) -> None:
    from linkplan.agreement.phone import check_code

    base, _ = pair.read({}, {})
    code = check_code(base)
    assert pair.check({}, {}, rover_extra=f'code = "{code.lower()}"\n').warnings == ()
    changed = pair.check({}, {"protocol": "type B"}, rover_extra=f'code = "{code}"\n').warnings
    assert len(changed) == 1
    assert "changed since" in changed[0]
    misread = pair.check(
        {}, {}, rover_extra=f'code = "{code[:-1]}{"A" if code[-1] != "A" else "B"}"\n'
    ).warnings
    assert "cannot be right" in misread[0]


def test_worst_first_and_names_in_natural_order(pair: Pair) -> None:
    base, (rover,) = pair.read({}, {})
    rovers = [
        replace(rover, set_name="R10"),
        replace(rover, set_name="R2"),
        with_value(replace(rover, set_name="R3"), "elevation_mask", "15 deg"),
        with_value(replace(rover, set_name="R4"), "geoid", "none"),
        with_value(replace(rover, set_name="R5"), "protocol", "type B"),
        replace(rover, set_name="R6", values={k: v for k, v in rover.values.items() if k != "protocol"}),
    ]
    result = check_agreement(base, rovers)
    assert [one.set_name for one in result.rovers] == ["R5", "R4", "R3", "R6", "R2", "R10"]
    assert [one.set_name for one in result.findings] == ["R5", "R6", "R4", "R3"]
