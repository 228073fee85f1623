"""The check code: computed as documented, the same however a sheet is written, and safe on the phone."""

from __future__ import annotations

import hashlib
from itertools import combinations, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkplan.agreement.phone import (
    ALPHABET,
    SPELLING,
    canonical_lines,
    check_code,
    check_value,
    group_codes,
    is_sound,
    normal,
    spelled,
)
from linkplan.plan.sheet_fields import BY_NAME, FIELDS
from linkplan.plan.sheet_values import read_stated
from linkplan.plan.sheets import Sheet
from tests.agreement.conftest import Pair

# What the documentation says of the sound pair, written out by hand.
LINES = """\
linkplan sheet 1
corrections_frequency=451800000
return_frequency=none
channel_spacing=25000
protocol=typea
modulation=4levelfsk
over_air_rate=9600
error_correction=on
scrambling_key_id=k2
repeater=ridge
repeater_frequency=453100000
time_slot=1 of 2
format=rtcm3
messages=1006,1074,1084
station_id=12
id_filter=12
elevation_mask=10 deg
satellite_systems=GPS,GLONASS
base_antenna=chokering
base_antenna_height=1.802 m
base_antenna_height_method=vertical
base_easting=499303 m
base_northing=5300358 m
base_height=296.37 m
base_coordinates_source=controllist
coordinate_system=EPSG:32628
geoid=egm2008
site_transformation=spring
coordinate_unit=metre
"""


def by_hand(text: str, symbols: int) -> str:
    """The documented construction, done with binary text and a table of powers in place of shifts."""
    bits = "".join(f"{byte:08b}" for byte in hashlib.sha256(text.encode()).digest())
    data = [int(bits[5 * i : 5 * i + 5], 2) for i in range(symbols)]
    powers = [1]
    for _ in range(30):
        powers.append(powers[-1] * 2 if powers[-1] < 16 else (powers[-1] * 2) ^ 0b100101)
    logarithm = {power: i for i, power in enumerate(powers)}
    assert len(logarithm) == 31, "x is primitive: its powers are all 31 elements but zero"
    check = 0
    for place, value in enumerate(reversed(data), start=1):
        if value:
            check ^= powers[(logarithm[value] + place) % 31]
    return "".join(ALPHABET[value] for value in [*data, check])


def test_lines_and_code_are_as_documented(pair: Pair) -> None:
    base, (rover,) = pair.read({}, {})
    assert canonical_lines(base) == canonical_lines(rover) == LINES
    code = by_hand(LINES, 6)
    assert check_code(base) == check_code(rover) == f"{code[:3]} {code[3:]}"
    radio = "linkplan sheet 1 radio\n" + "".join(f"{line}\n" for line in LINES.splitlines()[1:12])
    assert group_codes(base)["radio"] == by_hand(radio, 3)


def test_what_is_not_stated_has_a_line_of_its_own(pair: Pair) -> None:
    base, (rover,) = pair.read({}, {"protocol": None})
    assert "protocol=?\n" in canonical_lines(rover)
    assert check_code(base) != check_code(rover)
    codes, others = group_codes(base), group_codes(rover)
    assert [name for name in codes if codes[name] != others[name]] == ["radio"]


def test_alphabet_has_nothing_that_is_taken_for_something_else() -> None:
    assert len(set(ALPHABET)) == 32
    assert not set("01IO") & set(ALPHABET)
    assert set(SPELLING) == set(ALPHABET)
    # Words begin with their letter; digits are said as words.
    assert all(word[0] == symbol for symbol, word in SPELLING.items() if symbol.isalpha())
    assert len(set(SPELLING.values())) == 32
    assert spelled("kz7 2") == "Kilo Zulu seven two"


def test_one_wrong_symbol_is_always_noticed(pair: Pair) -> None:
    code = normal(check_code(pair.read({}, {})[0]))
    assert is_sound(code)
    for place, symbol in product(range(len(code)), ALPHABET):
        wrong = code[:place] + symbol + code[place + 1 :]
        assert is_sound(wrong) is (wrong == code)


@given(st.lists(st.integers(0, 31), min_size=6, max_size=6))
def test_two_symbols_that_changed_places_are_always_noticed(data: list[int]) -> None:
    code = [*data, check_value(data)]
    for one, other in combinations(range(7), 2):
        wrong = list(code)
        wrong[one], wrong[other] = wrong[other], wrong[one]
        assert is_sound("".join(ALPHABET[value] for value in wrong)) is (wrong == code)


@pytest.mark.parametrize("text", ["", "A", "AAAAAAA0", "ÄÖÜ ß", "AAA AAAA A", "0000000"])
def test_what_can_be_no_code(text: str) -> None:
    assert not is_sound(text)


def test_codes_as_they_are_typed(pair: Pair) -> None:
    code = check_code(pair.read({}, {})[0])
    assert is_sound(code.lower().replace(" ", "-"))


def test_every_setting_changes_the_code(pair: Pair) -> None:
    base, _ = pair.read({}, {})
    codes = {check_code(base)}
    for field in FIELDS:
        values = {name: value for name, value in base.values.items() if name != field.name}
        codes.add(check_code(Sheet("base", "base", "b", values)))
    assert len(codes) == len(FIELDS) + 1


def test_codes_do_not_depend_on_who_or_where() -> None:
    value = read_stated("12", BY_NAME["station_id"])
    assert value is not None
    values = {"station_id": value}
    assert check_code(Sheet("base", "a", "x", values)) == check_code(Sheet("rover", "b", "y", values))
