"""Whatever is done to a settings sheet, the reader answers with sheets or with listed faults."""

from __future__ import annotations

import string
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linkplan.agreement.compare import check_agreement
from linkplan.agreement.phone import check_code
from linkplan.errors import SheetError
from linkplan.outputs.agreement_text import agreement_text
from linkplan.plan.demo import demo_inputs
from linkplan.plan.sheet_fields import FIELDS, Field, keys_of
from linkplan.plan.sheet_values import UNITS_OF, BadValueError, Stated, read_stated
from linkplan.plan.sheets import Sheet, read_sheets

FUZZ = settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
SHEETS = demo_inputs() / "sheets"
SAMPLES = {
    path.name: path.read_bytes() for path in sorted(SHEETS.iterdir()) if path.suffix in (".toml", ".csv")
}

JUNK = st.one_of(
    st.binary(max_size=40), st.text(max_size=20).map(lambda text: text.encode("utf-8", "surrogatepass"))
)
WORDS = st.one_of(
    st.text(max_size=12),
    st.sampled_from(["none", "off", "any", "451.8 MHz", "1e99", "-0", "0x1F", "9" * 30, "1 of 2", "GPS", "m",
                     "EPSG:4326", "a / b", "\u2212 5 m", "\u0661 m", "1/2", "\u00b0", "NaN", "inf",
                     "1005 1006", "12,5 kHz"]),
)  # fmt: skip
VALUES = st.one_of(
    WORDS,
    st.booleans(),
    st.integers(),
    st.floats(),
    st.lists(st.one_of(WORDS, st.integers(), st.lists(WORDS, max_size=2)), max_size=4),
    st.dictionaries(WORDS, WORDS, max_size=2),
    st.dates(),
    st.none(),
)


def answer(folder: Path, name: str, content: bytes) -> None:
    """Read a rover's sheet: sheets that can be compared and told, or faults in one line each."""
    (folder / "base.toml").write_bytes(SAMPLES["base.toml"])
    path = folder / name
    path.write_bytes(content)
    try:
        base, rovers = read_sheets(folder / "base.toml", [path])
    except SheetError as error:
        faults = error
    else:
        compare(base, rovers)
        return
    text = str(faults).split("\n")
    assert len(text) == len(faults.faults) > 0
    assert all(line.isprintable() for line in text), text


def compare(base: Sheet, rovers: tuple[Sheet, ...]) -> None:
    """Sheets that were read can be compared, told and coded."""
    result = check_agreement(base, rovers)
    assert agreement_text(result).count("verdict") == 1
    assert {one.set_name for one in result.rovers} == {sheet.set_name for sheet in rovers}
    for sheet in rovers:
        assert len(check_code(sheet)) == 8


@pytest.mark.parametrize("name", sorted(SAMPLES))
@FUZZ
@given(at=st.integers(0, 1600), gone=st.integers(0, 30), new=JUNK)
def test_bytes_thrown_in(tmp_path: Path, name: str, at: int, gone: int, new: bytes) -> None:
    content = SAMPLES[name]
    answer(tmp_path, "rover" + name[name.rindex(".") :], content[:at] + new + content[at + gone :])


@pytest.mark.parametrize("name", sorted(SAMPLES))
@FUZZ
@given(data=st.data())
def test_lines_taken_away_doubled_and_mixed(tmp_path: Path, name: str, data: st.DataObject) -> None:
    lines = SAMPLES[name].split(b"\n")
    for _ in range(data.draw(st.integers(1, 4))):
        here, there = (data.draw(st.integers(0, len(lines) - 1)) for _ in range(2))
        action = data.draw(st.sampled_from(["delete", "double", "join"]))
        if action == "delete" and len(lines) > 1:
            del lines[here]
        elif action == "double":
            lines.insert(there, lines[here])
        else:
            lines[here] += data.draw(st.sampled_from([b",", b" = ", b'"', b"\r", b"[", b"#"])) + lines[there]
    answer(tmp_path, "rover" + name[name.rindex(".") :], b"\n".join(lines))


@pytest.mark.parametrize("suffix", [".toml", ".csv"])
@FUZZ
@given(content=st.one_of(st.binary(max_size=300), st.text(string.printable, max_size=300).map(str.encode)))
def test_any_bytes(tmp_path: Path, suffix: str, content: bytes) -> None:
    answer(tmp_path, f"rover{suffix}", content)


@FUZZ
@given(
    key=st.sampled_from(sorted({*keys_of("rover"), *keys_of("base"), "set", "channel", "channels.1"})),
    text=WORDS,
)
def test_any_text_in_any_cell(tmp_path: Path, key: str, text: str) -> None:
    cell = text.replace('"', '""')
    answer(tmp_path, "rover.csv", f'field,value\n{key},"{cell}"\n'.encode("utf-8", "replace"))


@settings(max_examples=1500, deadline=None)
@given(
    field=st.sampled_from(FIELDS),
    raw=VALUES,
    unit=st.sampled_from(["", "mhz", "m", "deg", "bps", "ftus"]),
    own=st.sampled_from(["", "metre", "foot", "degree"]),
)
def test_any_value_of_any_setting(field: Field, raw: Any, unit: str, own: str) -> None:
    """A value is taken, says nothing, or is refused in words; what is taken reads back to itself."""
    if unit not in UNITS_OF.get(field.kind, {"": None}):
        unit = ""
    try:
        stated = read_stated(raw, field, unit, own)
    except BadValueError as bad:
        refused = bad
    else:
        if stated is not None:
            reads_back(field, stated)
        return
    assert refused.problem
    assert refused.cure


def reads_back(field: Field, stated: Stated) -> None:
    """What a sheet shows of a value is that value."""
    assert stated.canonical.isprintable()
    assert "\n" not in stated.canonical
    again = read_stated(stated.shown, field)
    assert again is not None
    assert again.canonical == stated.canonical, (stated, again)
    assert Sheet("rover", "x", "f", {field.name: stated}).values[field.name] is stated
