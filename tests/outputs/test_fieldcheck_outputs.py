"""Outputs of a field check: the numbers of the result, signs apart by shape, hostile names as text."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace
from pathlib import Path

import geopandas
import matplotlib
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from PIL import Image

from linkplan.fieldcheck.check import FieldAnswer
from linkplan.outputs import canvas
from linkplan.outputs.fieldcheck_figures import reliability_figure
from linkplan.outputs.fieldcheck_folder import write_fieldcheck
from linkplan.outputs.fieldcheck_map import COLOURS, field_figure
from linkplan.outputs.fieldcheck_marks import KEPT, LEFT, NAMES, SIGN, UNKEPT, UNPROMISED, kinds_of, marks_of
from linkplan.outputs.fieldcheck_text import fieldcheck_text
from linkplan.outputs.fieldcheck_words import answer_line
from tests.outputs.conftest import HOSTILE
from tests.outputs.fieldcheck_example import field_answer, untouched
from tests.outputs.test_output_webmap import browser_page


@pytest.fixture(scope="module")
def answer(case: tuple) -> FieldAnswer:
    return field_answer(case)


def test_the_answer_first_then_what_it_rests_on(answer: FieldAnswer) -> None:
    text = fieldcheck_text(answer)
    said = " ".join(text.split())
    assert text.splitlines()[3].startswith("The prediction does NOT hold: corrections came at ")
    assert "ANOTHER BASE was used for a while: station 77." in said
    counted = answer.scores.contingency
    assert counted is not None
    assert re.search(rf"covered \(95 % or more\) +{counted.hits} +{counted.false_alarms} ", text)
    assert re.search(rf"not covered +{counted.misses} +{counted.correct_negatives} ", text)
    assert counted.hits + counted.misses + counted.false_alarms + counted.correct_negatives == 900
    errors = answer.scores.level_errors
    assert errors is not None
    assert f"mean {errors.mean_db:+.1f} dB" in said
    assert "log.nmea: not used: epochs without a time (100)." in said
    assert f"Offset {answer.learned.offset_db:+.1f} dB on every level" in said
    assert max(len(line) for line in text.splitlines()) <= 110


def test_without_levels_or_differences_nothing_is_said_of_them(case: tuple) -> None:
    plain = field_answer(case, levels=False)
    text = fieldcheck_text(untouched(plain))
    assert "Levels, measured" not in text
    assert "RMS" not in text
    assert "No block of ground stands out as wrong." in text
    assert "Another base" not in text
    assert "ANOTHER" not in answer_line(untouched(plain))


def test_each_sample_has_one_kind_and_each_kind_its_own_sign_and_colour(answer: FieldAnswer) -> None:
    kinds = kinds_of(answer)
    counted = answer.scores.contingency
    assert counted is not None
    numbers = {kind: int((kinds == kind).sum()) for kind in (KEPT, UNKEPT, UNPROMISED, LEFT)}
    assert numbers == {
        KEPT: counted.hits,
        UNKEPT: counted.false_alarms,
        UNPROMISED: counted.misses,
        LEFT: counted.correct_negatives,
    }
    assert len(set(SIGN.values())) == len(SIGN)
    assert len(set(COLOURS.values())) == len(COLOURS)
    drawn = [mark for mark in marks_of(answer) if mark.group == UNKEPT]
    assert len(drawn) == numbers[UNKEPT]


@pytest.mark.parametrize("draw", [reliability_figure, field_figure])
def test_figures_are_full_within_bounds_and_the_same_each_time(answer: FieldAnswer, draw: object) -> None:
    assert callable(draw)
    with canvas.house_style():
        figure = draw(answer)
        first = canvas.png_bytes(figure)
        assert canvas.png_bytes(draw(answer)) == first
        view = FigureCanvasAgg(figure)
        view.draw()
        wide, high = figure.get_size_inches() * figure.dpi
        for text in figure.findobj(matplotlib.text.Text):
            if text.get_text() and text.get_visible() and text.axes is None:
                box = text.get_window_extent(view.get_renderer())
                assert box.x0 >= -1.0
                assert box.x1 <= wide + 1.0, text.get_text()
                assert box.y0 >= 0.0
                assert box.y1 <= high + 1.0
    assert len(np.unique(np.asarray(Image.open(io.BytesIO(first))))) > 20


def test_a_figure_of_outcomes_alone_has_one_panel(case: tuple, answer: FieldAnswer) -> None:
    with canvas.house_style():
        both, one = reliability_figure(answer), reliability_figure(field_answer(case, levels=False))
    assert len(both.axes) == 4
    assert len(one.axes) == 2


def test_the_folder_holds_the_result_for_programs_and_for_gis(answer: FieldAnswer, tmp_path: Path) -> None:
    files = write_fieldcheck(answer, tmp_path)
    assert {one.path.name for one in files} == {entry.name for entry in tmp_path.iterdir()}
    found = json.loads((tmp_path / "fieldcheck.json").read_text())
    assert found["holds"] is False
    assert found["scores"]["contingency"]["hits"] == answer.scores.contingency.hits
    assert found["learned"]["worth_it"] is True
    assert found["calibration_learned"]["offset_db"] == answer.calibration.offset_db
    assert found["calibration_judged"] is None
    assert found["other_bases"][0]["station"] == "77"
    samples = geopandas.read_file(tmp_path / "samples.gpkg", layer="samples")
    assert len(samples) == len(answer.samples)
    assert str(samples.crs) == str(answer.plan.crs)
    kinds = kinds_of(answer)
    assert samples["what"].tolist() == [NAMES.get(kind, "") for kind in kinds.tolist()]
    assert samples["arrived"].notna().sum() == 900
    assert samples["level_dbm"].notna().sum() == 200
    easting, northing = answer.coverage.grid.frame.to_job(answer.samples.x_m, answer.samples.y_m)
    assert np.allclose(samples.geometry.x, easting)
    assert np.allclose(samples.geometry.y, northing)
    wrong = geopandas.read_file(tmp_path / "samples.gpkg", layer="wrong_places")
    assert wrong["number"].tolist() == [one.number for one in answer.wrong]


def test_hostile_names_stay_text_on_page_and_terminal(case: tuple, tmp_path: Path) -> None:
    plan, coverage, summary = case
    hostile = field_answer((replace(plan, name=HOSTILE), coverage, summary), name="a\x1b[31m<b>.nmea")
    write_fieldcheck(hostile, tmp_path)
    text = (tmp_path / "summary.txt").read_text()
    assert all(sign.isprintable() or sign == "\n" for sign in text)
    with browser_page(tmp_path / "map.html") as (page, asked, complaints):
        assert page.inner_text("h1") == HOSTILE
        assert page.locator("#panel button.gap").count() == len(hostile.wrong)
        page.get_by_text("What the logs say", exact=True).click()
        rows = page.locator("#panel .row .name").all_inner_texts()
        assert [row.split("\n")[0] for row in rows] == [NAMES[kind] for kind in COLOURS]
        assert page.locator(".sign.came").count() > 0
        assert page.locator(".sign.out").count() > 0
        assert len(asked) == 1, "nothing but the file itself"
        assert complaints == []


def test_hundreds_of_stations_leave_the_answer_readable(answer: FieldAnswer) -> None:
    """A damaged log: the answer names four, the list twelve, and both say how many more there are."""
    (one,) = answer.other_bases
    many = replace(answer, other_bases=tuple(replace(one, station=str(1000 + n)) for n in range(200)))
    assert "station 1000, 1001, 1002, 1003 and 196 more." in answer_line(many)
    text = fieldcheck_text(many)
    assert "188 further stations; fieldcheck.json has them all." in text
    assert "Station 1011" in text
    assert "1012" not in text
