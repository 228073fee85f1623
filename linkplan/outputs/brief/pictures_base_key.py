"""The key of the close-up: each circle with its radius, what does not fit the drawing, overhead lines."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from linkplan.outputs import style
from linkplan.outputs.brief.picture_words import PictureWords
from linkplan.outputs.brief.pictures_around import (
    BAND_LOOK,
    FALL,
    FENCE,
    MISSING_LOOK,
    Circle,
    NearLine,
    Scene,
    circle_style,
)
from linkplan.outputs.brief.pictures_board import (
    SCALE_IN,
    SIGN_IN,
    Row,
    Sign,
    column_height,
    sign_row,
    text_row,
    title_row,
)
from linkplan.outputs.brief.pictures_job_key import base_sign, control_sign, line_sign
from linkplan.outputs.brief.words import apart
from linkplan.outputs.safety_text import band_ends, keep
from linkplan.tables.exposure import GROUPS, PUBLIC, WORKER

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def base_key(
    scene: Scene, words: PictureWords, inch: float, contours_m: float | None, width: float, most_in: float
) -> list[Row]:
    """Rows of the key, `most_in` high at most; `inch` is metres on an inch of paper. Lines that find no room
    are counted: those that are too near come first, then the nearest."""
    lines = sorted(scene.lines, key=lambda one: (one.clearance.held, one.clearance.distance_m))
    for count in range(len(lines), -1, -1):
        rows = _rows(scene, words, inch, contours_m, width, lines[:count], len(lines) - count)
        if column_height(rows) + SCALE_IN <= most_in:
            break
    return rows


def _rows(
    scene: Scene,
    words: PictureWords,
    inch: float,
    contours_m: float | None,
    width: float,
    lines: Sequence[NearLine],
    more: int,
) -> list[Row]:
    rows = [title_row(words.base_title)]
    rows += [_circle(one, scene, words, inch, width) for one in scene.circles if one.kind in GROUPS]
    if any(one.keyed.near_field for one in map(scene.safety.exposure.figure, GROUPS)):
        far = keep(scene.safety.exposure.far_field_from_m, scene.show)
        rows.append(text_row(words.near_field.format(far=far), width))
    rows += [_circle(one, scene, words, inch, width) for one in scene.circles if one.kind not in GROUPS]
    if scene.safety.fence_m is None:
        rows.append(text_row(words.fence_unknown, width))
    elif scene.safety.fence_m == 0.0:
        rows.append(text_row(words.fence_none, width))
    least, most = (scene.show.height(one) for one in scene.mast.guy_anchors_m)
    reach = words.guys_reach.format(least=least, most=most)
    note = words.guys_note.format(count=scene.mast.guy_directions)
    rows.append(sign_row(_guys, words.guys, width, reach, note))
    rows.append(sign_row(base_sign, words.mast, width))
    if len(scene.places) > 1:
        rows.append(sign_row(control_sign, words.control_point, width))
    rows += [_line(one, scene, words, width) for one in lines]
    if more:
        rows.append(text_row(words.lines_more.format(count=more), width))
    if not scene.lines:
        rows.append(text_row(words.no_line, width))
    if scene.missing is not None:
        rows.append(sign_row(_missing, words.ground_missing, width))
    if contours_m is not None:
        step = scene.show.height(contours_m, 0 if contours_m >= 1.0 else 1)
        rows.append(sign_row(_contour, words.contours.format(step=step), width))
    return rows


def _circle(circle: Circle, scene: Scene, words: PictureWords, inch: float, width: float) -> Row:
    name, note = {
        PUBLIC: (words.public, words.public_note),
        WORKER: (words.worker, words.worker_note),
        FALL: (words.fall, words.fall_note),
        FENCE: (words.fence, ""),
    }[circle.kind]
    said = circle.said
    if circle.radius_m == 0.0:
        reach = scene.safety.exposure.figure(circle.kind).keyed
        low, high = band_ends(reach, scene.show)[0], keep(reach.highest_m, scene.show)
        said = words.aloft.format(low=low, high=high)
        note = words.aloft_note.format(heads=scene.show.height(scene.safety.exposure.head_height_m))
    elif not circle.drawn(inch, scene.half_m):
        few = words.too_large if circle.radius_m >= scene.half_m else words.too_small
        note = f"{note}; {few}" if note else few
    return sign_row(_circle_sign(circle.kind), name, width, said, note, bold=True)


def _line(line: NearLine, scene: Scene, words: PictureWords, width: float) -> Row:
    one, show = line.clearance, scene.show
    name = words.line_clearance.format(name=one.name, clearance=show.height(one.clearance_m, 2))
    distance, wanted = apart(one.distance_m, one.wanted_m, show)
    text = words.line_held if one.held else words.line_not_held
    note = text.format(distance=distance, wanted=wanted)
    if line.band is None:
        note = f"{note}; {words.line_not_drawn}"
    return sign_row(_band, name, width, "", note, bold=not one.held)


def _circle_sign(kind: str) -> Sign:
    def draw(axes: Axes, x: float, y: float) -> None:
        how = circle_style(kind)
        axes.plot([x, x + SIGN_IN], [y, y], color=how["ec"], lw=how["lw"], ls=how["ls"])

    return draw


def _guys(axes: Axes, x: float, y: float) -> None:
    from matplotlib.patches import Rectangle

    axes.add_patch(Rectangle((x, y - 0.055), SIGN_IN, 0.11, fc=(0.93, 0.93, 0.93), ec="black", lw=0.5))
    axes.plot([x + SIGN_IN / 2], [y], marker="s", ms=3.2, mfc="black", mec="white", mew=0.5)


def _missing(axes: Axes, x: float, y: float) -> None:
    from matplotlib.patches import Rectangle

    axes.add_patch(Rectangle((x, y - 0.07), SIGN_IN, 0.14, **MISSING_LOOK))


def _band(axes: Axes, x: float, y: float) -> None:
    from matplotlib.patches import Rectangle

    axes.add_patch(Rectangle((x, y - 0.07), SIGN_IN, 0.14, **BAND_LOOK))
    line_sign("line")(axes, x, y)


def _contour(axes: Axes, x: float, y: float) -> None:
    axes.plot([x, x + SIGN_IN], [y, y], color=style.CONTOUR, lw=0.6, alpha=0.7)
