"""A set-up written to the job file: shown first, written when confirmed, never over another's change."""

from __future__ import annotations

import difflib
import hashlib
import math
import os
import stat
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from linkplan.errors import JobFileError, OutputError
from linkplan.page.edits import Values, toml_value, values_from, written
from linkplan.page.forms import FORMS, form_keys
from linkplan.page.jobs import OpenJob
from linkplan.page.set_up import SetUp, set_up_from, spot_of, with_set_up
from linkplan.page.words import RequestError, only, text_of, yes_of
from linkplan.plan.model import Plan
from linkplan.plan.reader import read_plan
from linkplan.plan.siting_model import Place
from linkplan.plan.whole import write_whole
from linkplan.plan.write import BaseChoice, base_choice, with_base
from linkplan.units import METRES_PER_UNIT, dbi_from_dbd

MOST_CHANGES = 60


def save_body(job: OpenJob, body: Mapping[str, Any]) -> dict[str, Any]:
    """What a set-up (and values of the forms) would change in the job file; written where confirmed.

    RequestError (409) where the file has changed since it was read.
    """
    only(body, "set_up", "values", "job_hash", "confirmed")
    set_up = set_up_from(body.get("set_up", {}))
    allowed = {key: one for form in FORMS for key, one in form_keys(form).items()}
    values = values_from(body.get("values", {}), allowed)
    job_hash = text_of(body.get("job_hash"), "job_hash", 64)
    confirmed = yes_of(body.get("confirmed", False), "confirmed")
    content = _content(job.path)
    now = hashlib.sha256(content).hexdigest()
    if now != job_hash:
        old = job.text_of(job_hash)
        raise RequestError(
            f"{job.name}: has changed on disk since it was read; nothing was written", 409, "changed",
            changes=_changes(old, _text(content)) if old is not None else [], job_hash=now,
        )  # fmt: skip
    plan = job.plan()
    before = _text(content)
    mark = content[: len(content) - len(before.encode())]
    choice, further, refused = _choice(plan, set_up, tomllib.loads(before))
    try:
        after = with_base(before, choice)
    except OutputError as error:
        raise OutputError(f"{job.name}: {error}") from None
    after, also_refused = written(after, {**further, **values})
    changes = _changes(before, after)
    answer = {
        "file": job.name,
        "changes": changes,
        "not_written": [*refused, *(_by_hand(key, {**further, **values}[key]) for key in also_refused)],
        "written": False,
        "job_hash": now,
    }
    _check(job.path, mark + after.encode(), None)
    if not confirmed or after == before:
        return answer
    target = job.path.resolve()
    if not os.access(target, os.W_OK):
        raise OutputError(f"{job.name}: is write-protected; nothing was changed")
    write_whole(
        target, mark + after.encode(), stat.S_IMODE(target.stat().st_mode),
        lambda draft: _check(job.path, None, draft, job_hash),
    )  # fmt: skip
    return {**answer, "written": True, "job_hash": hashlib.sha256(mark + after.encode()).hexdigest()}


def _check(path: Path, content: bytes | None, draft: Path | None, job_hash: str = "") -> None:
    """A draft is a sound job, and the file that it replaces is still the one that was read."""
    if draft is None:
        assert content is not None
        tomllib.loads(content.decode("utf-8-sig"))
        return
    try:
        read_plan(draft)
    except JobFileError as error:
        line = error.faults[0].line(path.name)
        raise OutputError(f"{line} (with these changes; nothing was written)") from None
    if hashlib.sha256(_content(path)).hexdigest() != job_hash:
        raise OutputError(f"{path.name}: has changed since it was read; nothing was written")


def _content(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise OutputError(
            f"{path.name}: cannot be read again ({error.strerror}); nothing was changed"
        ) from None


def _text(content: bytes) -> str:
    return content.decode("utf-8-sig")


def _changes(before: str, after: str) -> list[dict[str, str]]:
    """Lines that differ: what was there, what is there."""
    old, new = before.splitlines(), after.splitlines()
    found = []
    matcher = difflib.SequenceMatcher(a=old, b=new, autojunk=False)
    for kind, from_old, to_old, from_new, to_new in matcher.get_opcodes():
        if kind != "equal":
            was = "\n".join(line.strip() for line in old[from_old:to_old])
            is_now = "\n".join(line.strip() for line in new[from_new:to_new])
            found.append({"was": was[:2000], "now": is_now[:2000]})
    return found[:MOST_CHANGES]


def _choice(
    plan: Plan, set_up: SetUp, data: Mapping[str, Any]
) -> tuple[BaseChoice, Values, list[dict[str, str]]]:
    """What the writer of bases takes, the other values by their keys, and what has no key to go to."""
    changed = with_set_up(plan, set_up)
    base, old = changed.base, plan.base
    point: str | None = None
    position: tuple[float, float] | None = None
    if set_up.base is not None and (base.easting, base.northing) != (old.easting, old.northing):
        spot = spot_of(plan, set_up.base)
        point = spot.name if spot.control else None
        position = None if spot.control else (base.easting, base.northing)
    place = Place(base.name, base.easting, base.northing, base.height_m, known=point is not None)
    whole = base_choice(plan, place, base.antenna_height_m, changed.transmitter.power_dbm)
    choice = BaseChoice(
        point=point,
        position=position,
        height=whole.height if position is not None else None,
        antenna_height=whole.antenna_height if base.antenna_height_m != old.antenna_height_m else None,
        power_w=whole.power_w,
    )
    values, refused = _further(plan, changed, data)
    return choice, values, refused


def _further(plan: Plan, changed: Plan, data: Mapping[str, Any]) -> tuple[Values, list[dict[str, str]]]:
    """Values beside base, mast and power."""
    values: Values = {}
    refused: list[dict[str, str]] = []
    radio = data["radio"]
    if changed.rover.antenna_height_m != plan.rover.antenna_height_m:
        unit = METRES_PER_UNIT[plan.height_unit]
        values["rover.antenna_height"] = _short(changed.rover.antenna_height_m / unit)
    if changed.transmitter.frequency_mhz != plan.transmitter.frequency_mhz:
        values["radio.frequency_mhz"] = _short(changed.transmitter.frequency_mhz)
    if changed.goal.chance != plan.goal.chance:
        values["goal.chance"] = _short(changed.goal.chance)
    gain_dbi = changed.transmitter.antenna.gain_dbi
    if gain_dbi != plan.transmitter.antenna.gain_dbi:
        if "antenna_gain_dbd" in radio:
            values["radio.antenna_gain_dbd"] = _short(gain_dbi - dbi_from_dbd(0.0))
        else:
            values["radio.antenna_gain_dbi"] = _short(gain_dbi)
    loss_db = changed.transmitter.feeder.loss_db
    if loss_db != plan.transmitter.feeder.loss_db:
        own_db = loss_db - float(radio.get("connector_loss_db", 0.0))
        if "feeder_loss_db" in radio and own_db >= 0.0:
            values["radio.feeder_loss_db"] = _short(own_db)
        else:
            refused.append(_by_hand("radio.feeder_loss_db", _short(loss_db)))
    return values, refused


def _short(number: float) -> float:
    return float(f"{number:.9g}") if math.isfinite(number) else number


def _by_hand(key: str, value: Any) -> dict[str, str]:
    shown = "" if value is None else toml_value(value) or ""
    cure = f"set {key} = {shown} yourself" if shown else f"set {key} yourself, as it is on the form"
    line = f"{key} is not written: {cure if value is not None else 'take it out yourself'}"
    return {"key": key, "value": shown, "line": line}
