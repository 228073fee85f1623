"""A rover's log against the job: nothing found where all is well, and each trouble found."""

from __future__ import annotations

import pytest

from linkplan.errors import RecordingError
from linkplan.evidence.logged import LogReport, compare_log
from linkplan.gnss.rover_log import read_log
from linkplan.plan.model import Plan
from linkplan.radio.stream import CorrectionStream
from tests.evidence.small_job import MESSAGES, job, sent
from tests.gnss.recorded import sentence


def fix(
    time_s: int, quality: int = 4, age: str = "1.0", station: str = "0031", *, longitude: str = "01500.0"
) -> bytes:
    """A GGA beside the plain job's base, which stands at 15 degrees east, 40.65 north."""
    clock = f"{time_s // 3600:02d}{time_s // 60 % 60:02d}{time_s % 60:02d}"
    return sentence(f"GPGGA,{clock},4038.8,N,{longitude},E,{quality},18,0.7,302,M,45,M,{age},{station}")


def compared(plan: Plan, *lines: bytes, age_limit_s: float = 10.0) -> LogReport:
    return compare_log(plan, read_log("x", lines, age_limit_s))


def found(report: LogReport) -> list[tuple[str, str]]:
    return [(one.severity, one.key) for one in report.findings if one.severity != "note"]


def test_a_log_that_is_as_it_should_be() -> None:
    report = compared(job(), *(fix(n) for n in range(300)))
    assert report.findings == ()
    assert report.agrees
    assert (report.fresh_share, report.fixed_share, report.planned_station) == (1.0, 1.0, "31")
    assert report.farthest_m is not None
    assert report.farthest_m < 1500.0


def test_another_base() -> None:
    lines = [fix(n, station="0077" if 100 <= n < 140 else "0031") for n in range(300)]
    report = compared(job(), *lines)
    assert found(report) == [("wrong coordinates", "other base")]
    assert "77" in report.findings[0].what
    assert "40 s" in report.findings[0].what
    assert "00:01:40" in report.findings[0].what
    assert "31 only" in report.findings[0].to_do


def test_the_wrong_base_all_the_time() -> None:
    assert found(compared(job(), *(fix(n, station="0009") for n in range(60)))) == [
        ("wrong coordinates", "other base")
    ]


def test_two_bases_are_told_even_where_the_job_states_none() -> None:
    lines = [fix(n, station="0077" if 100 <= n < 140 else "0031") for n in range(300)]
    report = compared(job(corrections=None), *lines)
    assert found(report) == [("wrong coordinates", "other base")]
    one = compared(
        job(corrections=CorrectionStream(None, MESSAGES, None, None)), *(fix(n) for n in range(60))
    )
    assert one.agrees
    assert [note.key for note in one.findings] == ["station id"]


def test_late_corrections() -> None:
    lines = [fix(n, age=f"{max(1, n - 99)}.0" if n < 130 else "1.0") for n in range(300)]
    report = compared(job(), *lines)  # ages up to 30, so 20 of them late
    assert found(report) == [("weaker", "late")]
    assert "20 epochs" in report.findings[0].what
    assert compared(job(), *lines, age_limit_s=30.0).agrees
    assert report.fresh_share == pytest.approx(280 / 300)


def test_corrections_that_stay_away() -> None:
    lines = [fix(n, 1, "", "") if 100 <= n < 150 else fix(n) for n in range(300)]
    assert found(compared(job(), *lines)) == [("weaker", "without")]
    assert found(compared(job(), *(fix(n, 1, "", "") for n in range(300)))) == [("no link", "no corrections")]


def test_the_time_to_the_first_corrections() -> None:
    for silence, severity in ((60, "note"), (180, "weaker")):
        lines = [fix(n, 1, "", "") if n < silence else fix(n) for n in range(400)]
        (start,) = (one for one in compared(job(), *lines).findings if one.key == "start")
        assert start.severity == severity


def test_augmentation_satellites_are_not_taken_for_a_base() -> None:
    lines = [fix(n, 2, "5.0", "0133") if n < 50 else fix(n) for n in range(300)]
    assert found(compared(job(), *lines)) == [("weaker", "satellite corrections")]


def test_float_with_fresh_corrections_is_not_the_links_fault() -> None:
    report = compared(job(), *(fix(n, 5) for n in range(300)))
    assert report.agrees
    assert [one.key for one in report.findings] == ["few fixed"]


def test_age_or_station_not_given_is_said() -> None:
    report = compared(job(), *(fix(n, age="", station="") for n in range(60)))
    assert {one.key for one in report.findings} == {"age not given", "station id"}
    assert report.fresh_share == 0.0


def test_a_log_of_another_place() -> None:
    report = compared(job(), *(fix(n, longitude="01600.0") for n in range(60)))
    assert found(report) == [("wrong coordinates", "place")]


def test_damage_breaks_and_steps_back_are_notes() -> None:
    lines = (
        [fix(n) for n in range(60)] + [fix(n) for n in range(500, 560)] + [fix(n) for n in range(450, 460)]
    )
    lines += [fix(999)[:30], b"\r\n", fix(999).replace(b"*", b"*0")]
    report = compared(job(), *lines)
    assert report.agrees
    assert {one.key for one in report.findings} == {"damaged sentences", "breaks", "time"}


def test_something_else_is_no_log() -> None:
    with pytest.raises(RecordingError, match="linkplan capture"):
        compared(job(), sent(5))
    for pieces in ((), (b"text",), (sentence("GPGSV,1,1,00"),)):
        with pytest.raises(RecordingError):
            compared(job(), *pieces)
