"""A field check in words: does the prediction hold, where it was wrong, what the logs teach."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from linkplan.fieldcheck import verdict as verdicts
from linkplan.fieldcheck.check import FieldAnswer
from linkplan.fieldcheck.learning_check import OutOfSample
from linkplan.fieldcheck.other_base import OtherBase
from linkplan.fieldcheck.reliability_table import Interval, ObservedShare
from linkplan.fieldcheck.samples import SourceFacts
from linkplan.fieldcheck.scores import Group, LevelErrors
from linkplan.fieldcheck.wrong import WrongPlace
from linkplan.gnss.recordings import STANDARD_INPUT
from linkplan.outputs import formats
from linkplan.outputs.calibration_words import calibration_line, class_name
from linkplan.outputs.formats import Formats, counted
from linkplan.outputs.siting_words import clean

HOW_JUDGED = (
    "The prediction holds where the mean predicted chance lies in the 90 % interval of the share of places "
    "that got corrections, where that share is not clearly below the promise on covered ground, and where "
    "the mean error of levels is not clearly other than zero; 2 points of a hundred and 1 dB are let pass. "
    "Neighbouring places err alike: intervals rest on blocks of ground, the largest of which 20 are left, "
    "not on samples. By chance alone a map that is right fails such a check in 10 to 25 of 100 cases. "
    "Fewer than 5 blocks say nothing."
)
RECEIVED = "got corrections: the message last due had arrived"
STATIONS_NAMED, STATIONS_LISTED = 4, 12
"""A log with hundreds of station IDs is damaged: the rest of the answer is to stay readable."""
Head = tuple[str, ...]
Rows = list[tuple[str, ...]]


def answer_line(answer: FieldAnswer) -> str:
    """The answer in a sentence or three."""
    found = answer.verdict
    parts = (found.everywhere, found.where_covered, found.levels)
    if set(parts) == {verdicts.UNKNOWN}:
        first = "These logs do not say whether the prediction holds: too little of them is evidence."
        return " ".join([first, *_other_sentence(answer)])
    first = "The prediction holds" if found.holds else f"The prediction does NOT hold{_which_way(parts)}"
    told = []
    if found.share is not None and found.everywhere != verdicts.UNKNOWN:
        told.append(
            f"corrections came at {formats.percent(found.share.share)} of the places looked at "
            f"({interval_words(found.share.interval)}), predicted were "
            f"{formats.percent(found.share.mean_chance)}"
        )
    levels = answer.scores.level_errors
    if levels is not None and found.levels != verdicts.UNKNOWN:
        told.append(f"levels were {_apart(levels.mean_db)}")
    return " ".join([f"{first}: {'; '.join(told)}.", *_other_sentence(answer)])


def _which_way(parts: tuple[str, ...]) -> str:
    wrong = {one for one in parts if one in (verdicts.WORSE, verdicts.BETTER)}
    if wrong == {verdicts.BETTER}:
        return ", but errs on the cautious side"
    return "" if verdicts.BETTER not in wrong else ", once this way and once that"


def _apart(mean_db: float) -> str:
    if abs(mean_db) < 0.05:
        return "as predicted on average"
    return f"{formats.decibels(abs(mean_db))} {'weaker' if mean_db < 0.0 else 'stronger'} than predicted"


def _other_sentence(answer: FieldAnswer) -> list[str]:
    if not answer.other_bases:
        return []
    names = ", ".join(station_words(one) for one in answer.other_bases[:STATIONS_NAMED])
    more = len(answer.other_bases) - STATIONS_NAMED
    rest = f" and {formats.grouped(more)} more" if more > 0 else ""
    return [f"ANOTHER BASE was used for a while: station {names}{rest}."]


def station_words(one: OtherBase) -> str:
    """A station's ID with its name, where the job has one."""
    own = ", of this job" if one.own else ""
    return clean(one.station) + (f" ({clean(one.name)}{own})" if one.name else "")


def judged_map_line(answer: FieldAnswer) -> str:
    """What is in the map that is judged."""
    line = calibration_line(answer.plan)
    return (
        f"Judged is the map as calibrated. {line}" if line else "Judged is the map without anything learned."
    )


def interval_words(interval: Interval) -> str:
    """A 90 % interval of a share."""
    low, high = 100.0 * interval.low, 100.0 * interval.high
    return f"90 % interval {low:.1f} to {high:.1f} %"


def db_interval(interval: Interval) -> str:
    """A 90 % interval in dB."""
    if not abs(interval.low) < 1e3 or not abs(interval.high) < 1e3:
        return "unbounded"
    return f"{interval.low:+.1f} to {interval.high:+.1f} dB"


def source_table(answer: FieldAnswer) -> tuple[Head, Rows]:
    """The files, counted."""
    head = ("file", "kind", "epochs", "judged", "samples", "from (UTC)")
    rows: Rows = [
        (short_name(one), one.kind, formats.grouped(one.epochs), formats.grouped(one.judged),
         formats.grouped(one.kept), _when(one.first_utc_s))
        for one in answer.samples.sources
    ]  # fmt: skip
    return head, rows


def left_out_lines(answer: FieldAnswer) -> list[str]:
    """What was not used of each file, and why."""
    found = []
    for one in answer.samples.sources:
        parts = [f"{words} ({formats.grouped(number)})" for words, number in one.left_out.items() if number]
        if parts:
            found.append(f"{short_name(one)}: not used: {', '.join(parts)}.")
    return found


def short_name(source: SourceFacts) -> str:
    """A file's name without its folder."""
    return name_of(source.name)


def name_of(path: str) -> str:
    """The same of a path as it was given."""
    return "standard input" if path == STANDARD_INPUT else clean(Path(path).name or path)


def _when(utc_s: float | None) -> str:
    return "unknown" if utc_s is None else f"{datetime.fromtimestamp(utc_s, UTC):%Y-%m-%d %H:%M}"


def contingency_table(answer: FieldAnswer) -> tuple[Head, Rows] | None:
    """Shown as covered or not, against received or not."""
    found = answer.scores.contingency
    if found is None:
        return None
    head = ("the map says", "got corrections", "did not", "share", "90 % interval", "predicted")
    wanted = formats.chance(found.wanted_chance)
    rows: Rows = [
        _shares(f"covered ({wanted} or more)", found.hits, found.false_alarms, found.covered),
        _shares("not covered", found.misses, found.correct_negatives, found.not_covered),
    ]
    return head, rows


def _shares(name: str, good: int, bad: int, found: ObservedShare) -> tuple[str, ...]:
    return (name, formats.grouped(good), formats.grouped(bad), *_observed(found))


def _observed(found: ObservedShare | None) -> tuple[str, str, str]:
    if found is None or not found.samples:
        return "-", "-", "-"
    low, high = 100.0 * found.interval.low, 100.0 * found.interval.high
    return formats.percent(found.share), f"{low:.1f} to {high:.1f} %", formats.percent(found.mean_chance)


def reliability_rows(answer: FieldAnswer) -> tuple[Head, Rows]:
    """Predicted chance against observed share, the bins that have samples."""
    head = ("predicted chance", "samples", "blocks", "mean predicted", "observed", "90 % interval")
    rows: Rows = []
    for one in answer.scores.table:
        if not one.observed.samples:
            continue
        share, interval, predicted = _observed(one.observed)
        span = f"{100.0 * one.low:g} to {100.0 * one.high:g} %"
        number, blocks = formats.grouped(one.observed.samples), formats.grouped(one.observed.blocks)
        rows.append((span, number, blocks, predicted, share, interval))
    return head, rows


def brier_line(answer: FieldAnswer) -> str:
    """The Brier score and what it is worth."""
    found = answer.scores.brier
    if found is None:
        return ""
    skill = found.skill_over_always
    worth = (
        "nothing failed, so no map can be better than one that shows coverage everywhere"
        if skill != skill
        else f"a map that shows coverage everywhere has {found.always_covered:.3f}, so this one has a skill "
        f"of {100.0 * skill:+.0f} % over it"
    )
    return (
        f"Brier score {found.score:.3f} (0 is best; 90 % interval {found.interval.low:.3f} to "
        f"{found.interval.high:.3f}); {worth}."
    )


def in_time_line(answer: FieldAnswer) -> str:
    """What the crew lives by, beside what the map predicts."""
    share = answer.in_time_share
    if share != share:
        return ""
    limit = f"{answer.options.age_limit_s:g} s"
    return (
        f"Corrections were no older than {limit} at {formats.percent(share)} of the places: a receiver rides "
        f"through losses shorter than that, so it is more than the {formats.percent(_got(answer))} above."
        if share > _got(answer)
        else f"Corrections were no older than {limit} at {formats.percent(share)} of the places."
    )


def _got(answer: FieldAnswer) -> float:
    return answer.verdict.share.share if answer.verdict.share is not None else 1.0


def level_line(found: LevelErrors) -> str:
    """Errors of all levels."""
    return (
        f"Levels, measured less predicted: mean {formats.decibels(found.mean_db, signed=True)} "
        f"(90 % interval {db_interval(found.mean_interval_db)}), RMS {formats.decibels(found.rms_db)}, "
        f"spread {formats.decibels(found.sd_db)}; {counted(found.samples, 'level')} in "
        f"{counted(found.blocks, 'block')} of ground."
    )


def group_table(answer: FieldAnswer) -> tuple[Head, Rows]:
    """By distance, line of sight and clutter class; columns for what there is."""
    scores = answer.scores
    outcomes, levels = scores.outcomes > 0, scores.levels > 0
    head = ["where"]
    head += ["samples", "predicted", "observed"] if outcomes else []
    head += ["levels", "mean (dB)", "RMS (dB)"] if levels else []
    named = [(_band(one.from_km, one.to_km), one.group) for one in scores.by_distance]
    sight = {1: "in line of sight", 0: "not in line of sight"}
    named += [(sight[code], group) for code, group in sorted(scores.by_line_of_sight.items(), reverse=True)]
    named += [(class_name(answer.plan, code), group) for code, group in sorted(scores.by_class.items())]
    return tuple(head), [_group(name, group, outcomes=outcomes, levels=levels) for name, group in named]


def _band(from_km: float, to_km: float) -> str:
    return f"{from_km:g} to {to_km:g} km" if to_km < 1e6 else f"beyond {from_km:g} km"


def _group(name: str, group: Group, *, outcomes: bool, levels: bool) -> tuple[str, ...]:
    row = [name]
    if outcomes:
        share, _, predicted = _observed(group.outcomes)
        row += [formats.grouped(group.outcomes.samples) if group.outcomes else "-", predicted, share]
    if levels:
        found = group.levels
        row += (
            ["-", "-", "-"]
            if found is None
            else [
                formats.grouped(found.samples),
                formats.number(found.mean_db, signed=True),
                formats.number(found.rms_db),
            ]
        )
    return tuple(row)


def wrong_title(answer: FieldAnswer) -> str:
    """What stands over the list of blocks, or in its place."""
    if answer.wrong:
        return "Where map and logs disagree most"
    judged = answer.scores.outcomes or answer.scores.levels
    return "No block of ground stands out as wrong" if judged else "Nothing to compare the map with"


def wrong_table(answer: FieldAnswer, show: Formats) -> tuple[Head, Rows]:
    """The blocks of ground where map and logs disagree most."""
    first, second = show.axis_names
    unit, distances = show.distance_column([one.distance_m for one in answer.wrong])
    head = ("no", "what", "samples", "predicted", "seen", f"from base ({unit})", "azimuth", first, second)
    rows: Rows = [
        (str(one.number), one.kind, formats.grouped(one.samples), *_seen(one), distance,
         formats.azimuth(one.azimuth_deg), show.coordinate(one.easting), show.coordinate(one.northing))
        for one, distance in zip(answer.wrong, distances, strict=True)
    ]  # fmt: skip
    return head, rows


def _seen(one: WrongPlace) -> tuple[str, str]:
    if one.predicted_share is not None and one.observed_share is not None:
        return formats.percent(one.predicted_share, 0), formats.percent(one.observed_share, 0)
    return "0 dB", formats.decibels(one.level_error_db or 0.0, signed=True)


def wrong_words(one: WrongPlace) -> str:
    """Predicted and seen, on the map."""
    predicted, seen = _seen(one)
    return f"{predicted} predicted, {seen} seen" if one.predicted_share is not None else f"levels {seen} off"


def other_base_lines(answer: FieldAnswer, show: Formats) -> list[str]:
    """Where rovers used another base."""
    lines = [
        f"Station {station_words(one)}: {counted(one.epochs, 'epoch')} in {counted(one.cells, 'cell')} of "
        f"the map, most at {show.position(one.easting, one.northing)}, {show.distance(one.distance_m)} at "
        f"azimuth {formats.azimuth(one.azimuth_deg)} from the base; in "
        f"{', '.join(map(name_of, one.files))}."
        for one in answer.other_bases[:STATIONS_LISTED]
    ]
    more = len(answer.other_bases) - STATIONS_LISTED
    return (
        [*lines, f"{counted(more, 'further station')}; fieldcheck.json has them all."] if more > 0 else lines
    )


def learned_lines(answer: FieldAnswer) -> list[str]:
    """What the logs teach, and whether it is worth writing down."""
    found = answer.learned
    if found.check is None:
        why = "; ".join(found.reasons)
        return [f"Nothing is learned: {why}. The job file stays as it is."]
    lines = [
        f"Offset {formats.decibels(found.offset_db, signed=True)} on every level (90 % interval "
        f"{db_interval(found.offset_interval_db)}); error of the prediction "
        f"{formats.decibels(found.sigma_db)} ({found.sigma_interval_db.low:.1f} to "
        f"{found.sigma_interval_db.high:.1f} dB), before {formats.decibels(found.prior.sigma_db)}."
    ]
    lines += [
        f"At {class_name(answer.plan, one.code)} {formats.decibels(one.offset_db, signed=True)} more "
        f"({counted(one.blocks, 'block')})."
        for one in found.class_offsets
    ]
    lines.append(
        f"From {counted(found.outcomes, 'outcome')} and {counted(found.levels, 'level')} in "
        f"{counted(found.blocks, 'block')} of {found.block_side_m:g} m; errors are alike over some "
        f"{found.alike_over_m:.0f} m. Learned from the map without anything learned before."
    )
    lines.append(worth_line(answer))
    return lines if answer.covered_share is None else [*lines, _what_it_does(answer.covered_share, answer)]


def _what_it_does(share: float, answer: FieldAnswer) -> str:
    summary = answer.summary
    return (
        f"With it {formats.percent(share)} of the job is covered; on the map that was judged it is "
        f"{formats.percent(summary.covered_share)} (wanted: {100.0 * summary.wanted_share:g} %)."
    )


def worth_line(answer: FieldAnswer) -> str:
    """Whether it is worth writing down."""
    found = answer.learned
    if found.worth_it:
        return "It holds on ground that was kept out: worth having in the job file."
    return f"Not worth having in the job file: {'; '.join(found.reasons)}."


def kept_out_table(answer: FieldAnswer) -> tuple[str, Head, Rows] | None:
    """Before and after on ground that was kept out, with a title."""
    check = answer.learned.check
    if check is None:
        return None
    before, after = check.before, check.after
    blocks = f"{counted(check.blocks, 'block')} of {check.block_side_m:g} m"
    title = f"On ground kept out ({blocks}, in {check.folds} turns)"
    rows: Rows = [
        ("Brier score (0 is best)", *(_plain(one.brier, 3) for one in (before, after)), ""),
        ("RMS of levels (dB)", *(_plain(one.level_rms_db, 1) for one in (before, after)), ""),
        (
            "log score (larger is better)",
            *(_plain(one.log_score, 3) for one in (before, after)),
            f"gain {check.gain:+.3f} ({check.gain_interval.low:+.3f} to {check.gain_interval.high:+.3f})",
        ),
    ]
    return title, ("", "before", "after", " "), [row for row in rows if row[1] != "-"]


def _plain(value: float, digits: int) -> str:
    return "-" if value != value else f"{value:.{digits}f}"


def out_of_sample(one: OutOfSample) -> dict[str, float]:
    """For programs."""
    return {"brier": one.brier, "log_score": one.log_score, "level_rms_db": one.level_rms_db}
