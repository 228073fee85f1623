"""`linkplan brief` on a small job: exit codes, files, languages, the time that it states."""

from __future__ import annotations

import json
import os
from io import BytesIO

import pytest
from pypdf import PdfReader

from linkplan.cli import brief as command
from linkplan.cli.main import main
from linkplan.outputs.brief import pictures
from tests.outputs.brief.briefs import stub_drawings

ZONE = """
[siting]
points_file = "places.csv"
[[siting.zones]]
name = "road"
coordinates = [[500400, 4198900], [501600, 4198900], [501600, 4199100], [500400, 4199100]]
relies = "machines"
speed_km_h = 10
"""
STAMP = "2026-03-01T07:00+01:00"


@pytest.fixture
def job(folder):
    """The small job with a zone in which machines rely on corrections."""
    (folder.path / "places.csv").write_text("name,easting,northing\nP1,501000,4199000\n")
    folder.job.write_text(folder.job.read_text() + ZONE)
    return folder


def text_of(pdf: bytes) -> str:
    pages = PdfReader(BytesIO(pdf)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def test_a_job_as_asked_writes_its_brief_and_ends_with_0(job):
    done = job.run("brief", "job.toml", "--time", STAMP)
    assert (done.code, done.err) == (0, "")
    assert "small invented job: site-safety brief, revision " in done.out
    assert "Covered as wanted: " in done.out
    assert "NOT AS ASKED" not in done.out
    out = job.path / "job-brief"
    assert {one.name for one in out.iterdir()} == {"brief-a4.pdf", "brief-letter.pdf", "brief.html"}
    for name, paper in (("brief-a4.pdf", (595, 842)), ("brief-letter.pdf", (612, 792))):
        reader = PdfReader(out / name)
        assert [round(float(side)) for side in reader.pages[0].mediabox[2:]] == list(paper)
        said = text_of((out / name).read_bytes())
        assert "2026-03-01 07:00 (UTC+01:00)" in said
        assert "No licence is stated in the job file" in said
    page = (out / "brief.html").read_text(encoding="utf-8")
    assert "Corrections lost, or older than" in page


def test_the_first_page_is_one_sheet_to_sign(job):
    job.run("brief", "job.toml", "--time", STAMP, "--paper", "letter")
    first, second = PdfReader(job.path / "job-brief" / "brief-letter.pdf").pages[:2]
    assert "Site manager, name and signature" in first.extract_text()
    assert "Around the base" in second.extract_text()


@pytest.fixture
def quick(monkeypatch):
    """Where drawings do not matter."""
    stub_drawings(monkeypatch)


@pytest.mark.usefixtures("quick")
def test_a_gap_ends_with_1_and_json_says_what(job):
    job.change("sensitivity_dbm = -110.0", "sensitivity_dbm = -30.0")
    done = job.run("brief", "job.toml", "--json", "--paper", "a4", "--time", STAMP)
    assert done.code == 1
    answer = json.loads(done.out)
    assert answer["files"] == ["brief-a4.pdf", "brief.html"]
    assert (answer["held"], answer["reached"]) == (False, False)
    assert answer["not_as_asked"][0].startswith("Zone road: ")
    assert answer["not_as_asked"][-1].startswith("Not covered as wanted: ")
    assert answer["computed_at"] == "2026-03-01T07:00:00+01:00"
    assert "Zone road: " in text_of((job.path / "job-brief" / "brief-a4.pdf").read_bytes())
    assert "NOT AS ASKED:\n- Zone road: " in job.run("brief", "job.toml", "--paper", "a4").out


@pytest.mark.usefixtures("quick")
def test_spanish_stands_beside_english(job):
    for language in ("en", "es"):
        job.run("brief", "job.toml", "--language", language, "--paper", "a4", "--out", "out")
    names = {one.name for one in (job.path / "out").iterdir()}
    assert names == {"brief-a4.pdf", "brief.html", "brief-a4-es.pdf", "brief-es.html"}
    reader = PdfReader(job.path / "out" / "brief-a4-es.pdf")
    assert reader.root_object["/Lang"] == "es"
    assert "Prueba de radio antes de empezar" in reader.pages[0].extract_text()


def test_same_time_same_bytes(job, monkeypatch):
    names = ("brief-a4.pdf", "brief.html")

    def made(out: str, *more: str) -> list[bytes]:
        job.run("brief", "job.toml", "--paper", "a4", "--out", out, *more)
        return [(job.path / out / name).read_bytes() for name in names]

    first = made("a", "--time", "2026-03-01T06:00+00:00")
    assert made("b", "--time", "2026-03-01T06:00+00:00") == first
    assert made("c", "--time", "2026-03-01T06:01+00:00") != first
    monkeypatch.setenv(command.EPOCH_VARIABLE, "1772344800")  # date -ud 2026-03-01T06:00Z +%s
    assert made("d") == first
    assert made("e", "--time", "2026-03-01T06:01+00:00") != first


@pytest.mark.usefixtures("quick")
def test_bad_times_end_with_2_and_a_line(job, monkeypatch, capsys):
    for option, value, said in (
        ("--time", "tomorrow", "'tomorrow' is no ISO 8601 time: write it as 2026-03-01T07:00"),
        ("--language", "xx", "invalid choice: 'xx'"),
        ("--paper", "a5", "invalid choice: 'a5'"),
    ):
        with pytest.raises(SystemExit) as stopped:
            main(["brief", str(job.job), option, value])
        assert stopped.value.code == 2
        assert said in capsys.readouterr().err
    monkeypatch.setenv(command.EPOCH_VARIABLE, "soon")
    done = job.run("brief", "job.toml")
    assert (done.code, done.out) == (2, "")
    assert done.err == "linkplan: SOURCE_DATE_EPOCH: 'soon' is no time that can be stated here\n"
    assert not (job.path / "job-brief").exists()
    for value in ("", " 12", "1_000", "-1", "1e9", "999999999999"):
        monkeypatch.setenv(command.EPOCH_VARIABLE, value)
        for more in ((), ("--time", STAMP)) if value != "999999999999" else ((),):
            done = job.run("brief", "job.toml", *more)
            said = f"linkplan: SOURCE_DATE_EPOCH: {value!r} is no time that can be stated here\n"
            assert (done.code, done.out, done.err) == (2, "", said)
    monkeypatch.delenv(command.EPOCH_VARIABLE)
    for value in ("0001-01-01T00:00", "1969-12-31T23:59+00:00", "9999-12-31T23:59", "9999-12-31T23:59-12:00"):
        done = job.run("brief", "job.toml", "--time", value)
        assert (done.code, done.out) == (2, "")
        assert done.err.startswith("linkplan: --time: ")
        assert done.err.count("\n") == 1
    assert not (job.path / "job-brief").exists()


def test_nothing_is_left_where_a_drawing_fails(job, monkeypatch):
    def fails(*_facts: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(pictures, "base_picture", fails)
    before = sorted(os.listdir(job.path))
    assert job.run("brief", "job.toml").code == 2
    assert sorted(os.listdir(job.path)) == before


@pytest.mark.usefixtures("quick")
def test_plan_writes_the_brief_and_its_first_page_leads_there(job):
    done = job.run("plan", "job.toml")
    assert done.code == 0
    out = job.path / "job-plan"
    assert text_of((out / "brief-a4.pdf").read_bytes()).count("Radio check before work") == 1
    assert not (out / "brief-letter.pdf").exists()
    page = (out / "index.html").read_text(encoding="utf-8")
    assert page.index('<a href="brief-a4.pdf">') < page.index("Classes")
    assert '<a href="brief.html">' in page


@pytest.mark.usefixtures("quick")
def test_every_command_refuses_an_epoch_that_is_no_time(job, monkeypatch):
    # libraries that other commands load read the same variable, and stop with a trace
    monkeypatch.setenv(command.EPOCH_VARIABLE, "soon")
    done = job.run("cover", "job.toml")
    said = "linkplan: SOURCE_DATE_EPOCH: 'soon' is no time that can be stated here\n"
    assert (done.code, done.out, done.err) == (2, "", said)


@pytest.mark.usefixtures("quick")
def test_a_licence_must_last_to_the_end_of_the_working_day(job):
    licence = '\n[licence]\ncall_sign = "DEMO-9"\nexpires = 2026-03-01\n[[licence.channels]]\nname = "A"\n'
    text = job.job.read_text() + licence + "frequency_mhz = 450.0\nspacing_khz = 12.5\n"
    job.job.write_text(text)
    done = job.run("brief", "job.toml", "--time", STAMP, "--out", "today")
    assert "licence.expires" not in done.out
    # a working day over midnight of the last day on which the licence holds
    sky = '[sky]\ndate = 2026-03-01\ntime_zone = "UTC"\nfrom = "20:00"\nto = "04:00"\n'
    job.job.write_text(text + sky)
    done = job.run("brief", "job.toml", "--time", STAMP, "--out", "night")
    assert done.code == 1
    assert "licence.expires" in done.out


@pytest.mark.usefixtures("quick")
def test_plan_says_what_is_not_as_asked_too(job):
    licence = '\n[licence]\ncall_sign = "DEMO-9"\nexpires = 2020-01-01\n[[licence.channels]]\nname = "A"\n'
    job.job.write_text(job.job.read_text() + licence + "frequency_mhz = 450.0\nspacing_khz = 12.5\n")
    done = job.run("plan", "job.toml")
    assert done.code == 1
    assert "NOT AS ASKED:" in done.out
    assert "licence.expires" in done.out
