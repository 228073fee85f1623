"""Every setting changed alone and in pairs is found, with the severity that the trade gives it."""

from __future__ import annotations

from itertools import combinations

import pytest

from linkplan.agreement.compare import check_agreement
from linkplan.plan.sheet_fields import BY_NAME, FIELDS, GROUPS, ROLES, SEVERITIES
from linkplan.plan.sheet_values import Stated, read_stated
from linkplan.plan.sheets import Sheet
from tests.agreement.conftest import SOUND, Pair

# Common practice, written down here apart from the table under test: what a wrong setting costs.
CHANGED = {
    "corrections_frequency": ("451.800001 MHz", "no link"),
    "return_frequency": ("456.8 MHz", "weaker"),
    "channel_spacing": ("12.5 kHz", "no link"),
    "protocol": ("type B", "no link"),
    "modulation": ("GMSK", "no link"),
    "over_air_rate": ("4800 bit/s", "no link"),
    "error_correction": ("off", "no link"),
    "scrambling_key_id": ("K3", "no link"),
    "repeater": ("none", "weaker"),
    "repeater_frequency": ("453.2 MHz", "weaker"),
    "time_slot": ("2 of 2", "weaker"),
    "format": ("other format", "no link"),
    "messages": ("1006 1074", "weaker"),
    "station_id": ("13", "no link"),
    "id_filter": ("13", "no link"),
    "elevation_mask": ("15 deg", "weaker"),
    "satellite_systems": ("GPS", "weaker"),
    "base_antenna": ("disc", "wrong coordinates"),
    "base_antenna_height": ("1.804 m", "wrong coordinates"),
    "base_antenna_height_method": ("slant", "wrong coordinates"),
    "base_easting": ("499303.002 m", "wrong coordinates"),
    "base_northing": ("5300357.998 m", "wrong coordinates"),
    "base_height": ("296.368 m", "wrong coordinates"),
    "base_coordinates_source": ("hand-held", "note"),
    "coordinate_system": ("EPSG:32629", "wrong coordinates"),
    "geoid": ("none", "wrong coordinates"),
    "site_transformation": ("autumn", "wrong coordinates"),
    "coordinate_unit": ("us-survey-foot", "wrong coordinates"),
}


def stated(name: str, text: str) -> Stated:
    value = read_stated(text, BY_NAME[name])
    assert value is not None
    return value


BASE = {name: stated(name, text) for name, text in SOUND.items()}


def findings(changes: list[str]) -> dict[str, str]:
    values = {**BASE, **{name: stated(name, CHANGED[name][0]) for name in changes}}
    base, rover = Sheet("base", "base", "b", BASE), Sheet("rover", "R1", "r", values)
    result = check_agreement(base, [rover])
    assert result.agrees is (not changes)
    found = {one.field: one.severity for one in result.findings}
    assert len(found) == len(result.findings), "one finding a setting"
    assert all(one.kind == "differs" and one.matters and one.set_name == "R1" for one in result.findings)
    ranks = [SEVERITIES.index(one.severity) for one in result.findings]
    assert ranks == sorted(ranks), "worst first"
    if changes:
        assert result.rovers[0].verdict == min(found.values(), key=SEVERITIES.index)
        assert result.rovers[0].code != result.base.code
    return found


def test_the_table_of_this_test_names_every_setting() -> None:
    assert list(CHANGED) == [field.name for field in FIELDS] == list(SOUND)


def test_the_table_is_whole() -> None:
    for field in FIELDS:
        assert field.group in GROUPS
        assert field.severity in SEVERITIES
        assert field.seen.endswith(".")
        assert field.cure.endswith(".")
        assert set(field.asked) <= set(ROLES)
    # a setting that can cost the link or the coordinates is asked of somebody
    assert all(field.asked for field in FIELDS if field.severity in ("no link", "wrong coordinates"))


def test_equal_sheets_agree_in_every_setting() -> None:
    assert findings([]) == {}


@pytest.mark.parametrize("name", list(CHANGED))
def test_every_setting_changed_alone(name: str) -> None:
    assert findings([name]) == {name: CHANGED[name][1]}


def test_every_two_settings_changed_together() -> None:
    pairs = list(combinations(CHANGED, 2))
    assert len(pairs) == 28 * 27 // 2
    for one, other in pairs:
        assert findings([one, other]) == {one: CHANGED[one][1], other: CHANGED[other][1]}, (one, other)


def test_all_settings_changed_at_once() -> None:
    assert findings(list(CHANGED)) == {name: severity for name, (_, severity) in CHANGED.items()}


@pytest.mark.parametrize("name", list(CHANGED))
def test_every_setting_changed_on_the_base_is_found_through_files(name: str, pair: Pair) -> None:
    result = pair.check({name: CHANGED[name][0]}, {})
    found = {one.field for one in result.findings if one.set_name == "R1"}
    # the filter is held against the base's station ID
    assert found == {name} | ({"id_filter"} if name == "station_id" else set())
    assert not result.agrees


@pytest.mark.parametrize("name", list(CHANGED))
def test_silence_of_a_rover_is_never_agreement(name: str, pair: Pair) -> None:
    result = pair.check({}, {name: None})
    found = [one for one in result.findings if one.field == name]
    assert [(one.kind, one.set_name, one.stands) for one in found] == [("not stated", "R1", "")]
    asked = "rover" in BY_NAME[name].asked
    assert found[0].matters is asked
    assert found[0].severity == (CHANGED[name][1] if asked else "note")
    assert result.agrees is (not asked)
    assert result.rovers[0].verdict == ("not confirmed" if asked else "agrees")
    assert result.rovers[0].agreed == len(FIELDS) - 1


@pytest.mark.parametrize("name", list(CHANGED))
def test_silence_of_the_base_is_never_agreement(name: str, pair: Pair) -> None:
    result = pair.check({name: None}, {})
    asked = "base" in BY_NAME[name].asked
    if name == "id_filter":  # what rovers filter is theirs to say, and the station ID says what they must
        assert result.agrees
        return
    touched = {one.set_name for one in result.findings if one.field == name}
    assert touched == ({"base", "R1"} if asked else {"R1"})
    assert result.agrees is (not asked)
