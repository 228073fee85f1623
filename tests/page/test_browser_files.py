"""The page's own files: small modules, nothing from the web, no text that could become markup."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import linkplan

STATIC = Path(linkplan.__file__).parent / "page" / "static"
SCRIPTS = sorted(STATIC.glob("*.js"))
LONGEST_LINES = 290
SVG_NAMESPACE = "http://www.w3.org/2000/svg"


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.name)
def test_scripts_are_small_say_what_they_do_and_make_no_markup(script: Path) -> None:
    text = script.read_text(encoding="utf-8")
    assert text.startswith("/* ")
    assert len(text.splitlines()) <= LONGEST_LINES
    assert not re.search(
        r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function", text
    )
    for name in re.findall(r'from "\./([\w.]+)"', text):
        assert (STATIC / name).is_file(), f"imports {name}, which is not there"


def test_every_script_is_reached_from_the_page() -> None:
    reached, left = set(), ["page.js"]
    while left:
        name = left.pop()
        reached.add(name)
        found = re.findall(r'from "\./([\w.]+)"', (STATIC / name).read_text(encoding="utf-8"))
        left += [one for one in found if one not in reached]
    assert reached == {script.name for script in SCRIPTS}


def test_nothing_refers_to_the_web_or_stands_inline() -> None:
    for file in STATIC.iterdir():
        text = file.read_text(encoding="utf-8").replace(SVG_NAMESPACE, "")
        assert not re.search(r"(?:https?:)?//[\w.]+\.\w", text), file.name
        assert "@import" not in text
        assert not re.search(r"url\((?!#|\"?#)", text), file.name
    page = (STATIC / "index.html").read_text(encoding="utf-8")
    assert not re.search(r"\sstyle=|\son\w+=|<style|<script>", page)
    for address in re.findall(r'(?:src|href)="([^"]+)"', page):
        assert address.startswith(("static/", "leaflet/", "data:"))
        if address.startswith("static/"):
            assert (STATIC / address.removeprefix("static/")).is_file()
