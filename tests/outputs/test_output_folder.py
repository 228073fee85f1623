"""The folder and its first page: the answer first, every file named, nothing bare or unescaped."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest

from linkplan.coverage.results import LinkResult
from linkplan.errors import OutputError
from linkplan.outputs import style
from linkplan.outputs.folder import profile_names, write_all, write_coverage

VOID = {"meta", "img", "br"}


class Reader(HTMLParser):
    """Collects text, links and images, and checks that tags close in order."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.words: list[str] = []
        self.links: list[str] = []
        self.pictures: list[dict[str, str | None]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in VOID:
            self.open.append(tag)
        named = dict(attrs)
        if tag == "a":
            self.links.append(named["href"] or "")
        if tag == "img":
            self.pictures.append(named)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words.append(data)


@pytest.fixture(scope="module")
def written(hostile_case: tuple, link: LinkResult, tmp_path_factory: pytest.TempPathFactory) -> tuple:
    folder = tmp_path_factory.mktemp("out")
    files = write_all(*hostile_case, [link, replace(link, to_name='Süd <i>"x"</i>')], folder)
    reader = Reader()
    reader.feed((folder / "index.html").read_text(encoding="utf-8"))
    return folder, files, reader


def test_every_file_is_listed_and_every_link_leads_to_one(written: tuple) -> None:
    folder, files, reader = written
    there = {path.name for path in folder.iterdir()}
    assert {one.path.name for one in files} == there
    assert files[0].path.name == "index.html"
    assert set(reader.links) == there - {"index.html"}
    assert all(one.what.endswith(".") for one in files)


def test_page_is_well_formed_and_self_contained(written: tuple) -> None:
    folder, _, reader = written
    page = (folder / "index.html").read_text(encoding="utf-8")
    assert reader.open == []
    assert "<script" not in page
    assert not re.findall(r"""(?:src|href)=["'](?:https?:)?//""", page)
    assert all((one["src"] or "").startswith("data:image/png") for one in reader.pictures)
    assert all(len(one["alt"] or "") > 30 for one in reader.pictures)
    assert len(reader.pictures) == 3


def test_answer_comes_first_and_cautions_come_at_all(written: tuple, hostile_case: tuple) -> None:
    plan, _, summary = hostile_case
    text = " ".join("".join(written[2].words).replace("\u00a0", " ").split())
    assert plan.name in text
    answer = text.index("NOT covered as wanted: 81.4 %")
    assert answer < text.index("Classes") < text.index("Files")
    for caution in style.CAUTIONS:
        assert caution in text
    for warning in summary.warnings:
        assert warning in text
    assert style.PREDICTION in text
    assert "SHA-256 " + plan.job_hash in text


def test_no_bare_safe_anywhere(written: tuple) -> None:
    folder, _, _ = written
    for path in folder.iterdir():
        if path.suffix in {".html", ".txt", ".json", ".kml", ".geojson"}:
            text = re.sub(
                r"<script>.*?</script>|<pre>.*?</pre>", "", path.read_text(encoding="utf-8"), flags=re.S
            )
            assert not re.search(r"\bsafe\b", text, re.I), path.name


def test_page_says_what_was_assumed(written: tuple) -> None:
    text = "".join(written[2].words).replace("\u00a0", " ")
    for words in (
        "P.1812-8", "vertical polarization", "EGM2008 geoid", "common practice", "bare ground is assumed",
        "noise figure 7.0 dB (assumed)", "45 N-units/km", "ETRS89 / UTM zone 32N",
    ):  # fmt: skip
        assert words in text


def test_second_run_writes_the_same_bytes(
    written: tuple, hostile_case: tuple, link: LinkResult, tmp_path: Path
) -> None:
    _, files, _ = written
    write_all(*hostile_case, [link, replace(link, to_name='Süd <i>"x"</i>')], tmp_path)
    for one in files:
        assert (tmp_path / one.path.name).read_bytes() == one.path.read_bytes(), one.path.name


def test_coverage_alone_has_no_figures(case: tuple, tmp_path: Path) -> None:
    names = [one.path.name for one in write_coverage(*case, tmp_path)]
    assert names == [
        "map.html", "coverage.kml", "coverage.gpkg", "coverage.tif", "coverage.geojson", "places.geojson",
        "summary.txt", "summary.json",
    ]  # fmt: skip
    assert sorted(names) == sorted(path.name for path in tmp_path.iterdir())


def test_covered_job_says_so(case: tuple, tmp_path: Path) -> None:
    plan, coverage, summary = case
    happy = replace(summary, all_covered=True, covered_share=1.0, gaps=(), gap_count=0, warnings=())
    write_all(plan, coverage, happy, [], tmp_path)
    page = (tmp_path / "index.html").read_text(encoding="utf-8")
    assert 'class="verdict yes">Covered as wanted: 100' in page
    assert "No gaps." in page
    assert "<h2>Paths</h2>" not in page


def test_all_unknown_is_drawn_as_unknown(case: tuple, tmp_path: Path) -> None:
    import numpy as np

    plan, coverage, summary = case
    nothing = np.full(coverage.class_index.shape, np.nan, dtype=np.float32)
    names = ("loss_db", "received_dbm", "margin_db", "chance", "line_of_sight", "fresnel_clearance")
    blank = replace(
        coverage, class_index=np.zeros_like(coverage.class_index), **dict.fromkeys(names, nothing)
    )
    empty = replace(
        summary,
        covered_share=0.0,
        class_shares=(0.0,) * 5,
        no_data_share=1.0,
        farthest_dependable=None,
        worst=None,
    )
    write_all(plan, blank, empty, [], tmp_path)
    assert "no data" in (tmp_path / "summary.txt").read_text(encoding="utf-8")


def test_figures_of_like_named_points_do_not_collide(link: LinkResult) -> None:
    names = profile_names([replace(link, to_name=name) for name in ("A 1", "a-1", "A/1", "***")])
    assert names == ["path-a-1.png", "path-a-1-2.png", "path-a-1-3.png", "path-point.png"]


def test_missing_folder_is_one_line(case: tuple, tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="the folder does not exist") as caught:
        write_coverage(*case, tmp_path / "nowhere")
    assert "\n" not in str(caught.value)
