"""The page in a real browser: what a crew chief does, and that no request leaves the machine.

One server on a copy of the quarry demo and one browser for all; each test has a tab of its own. Every tab is
watched: requests to anywhere else, and anything written to the console, fail the test.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

CHROMIUM = Path("/usr/bin/chromium")
DEMO = Path(__file__).resolve().parents[2] / "dem_samples"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
]
WHOLE = "#pane-a .map[data-scale=full][aria-busy=false]"

playwright = pytest.importorskip("playwright.sync_api", reason="the page's browser tests need playwright")
if not CHROMIUM.exists():
    pytest.skip("the page's browser tests need chromium", allow_module_level=True)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of its own with the demo's job files."""
    there = tmp_path_factory.mktemp("jobs")
    for file in DEMO.iterdir():
        if file.name.startswith("quarry"):
            shutil.copy(file, there)
    return there


@pytest.fixture(scope="module")
def address(folder: Path) -> Iterator[str]:
    """Where the page is served, as the command prints it."""
    command = [
        sys.executable,
        "-m",
        "linkplan.cli.main",
        "page",
        "quarry.toml",
        "--no-browser",
        "--port",
        "0",
    ]
    with subprocess.Popen(command, cwd=folder, stdout=subprocess.PIPE, text=True) as server:
        assert server.stdout is not None
        found = re.search(r"http://127\.0\.0\.1:\d+/\S+/", server.stdout.readline())
        assert found is not None
        yield found[0]
        assert server.poll() is None, "the server died"
        server.send_signal(signal.SIGINT)
        assert server.wait(20) == 0


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=str(CHROMIUM), args=FLAGS)
        yield browser
        browser.close()


Open = Callable[..., Any]


@pytest.fixture
def visit(chromium: Any, address: str) -> Iterator[Open]:
    """Opens tabs, and looks at what they asked for and complained of when the test is over."""
    contexts, asked, complaints = [], [], []

    def visit(
        hash_: str = "", width: int = 1280, height: int = 800, scheme: str = "light", wait: bool = True,
        beside: Any = None,
    ) -> Any:  # fmt: skip
        """`beside`: a tab in whose window this one opens."""
        if beside is None:
            size = {"width": width, "height": height}
            contexts.append(chromium.new_context(viewport=size, color_scheme=scheme))
        context = beside.context if beside else contexts[-1]
        tab = context.new_page()
        tab.on("request", lambda request: asked.append(request.url))
        tab.on("console", lambda message: complaints.append(message.text))
        tab.on("pageerror", lambda error: complaints.append(str(error)))
        tab.set_default_timeout(60_000)  # the first map of a fresh environment compiles its kernels
        tab.goto(address + hash_)
        if wait:
            tab.wait_for_selector(WHOLE)
        return tab

    yield visit
    for context in contexts:
        context.close()
    assert asked
    assert [url for url in asked if not url.startswith((address, "data:", "blob:"))] == []
    assert complaints == []


def cells(tab: Any, pane: str = "a") -> list[int]:
    """The map as it is painted: width, height and a sum over all pixels that tells pictures apart."""
    found: list[int] = tab.evaluate(
        """(pane) => {
          const canvas = document.querySelector(`#pane-${pane} .cells`);
          const scratch = new OffscreenCanvas(canvas.width, canvas.height);
          const copy = scratch.getContext("2d", { willReadFrequently: true });
          copy.drawImage(canvas, 0, 0);
          const { data } = copy.getImageData(0, 0, canvas.width, canvas.height);
          let sum = 0, opaque = 0;
          for (let i = 0; i < data.length; i += 4) {
            opaque += data[i + 3] === 255;
            sum = (sum * 31 + data[i] * 65536 + data[i + 1] * 256 + data[i + 2] + data[i + 3]) % 1000003;
          }
          return [canvas.width, canvas.height, opaque, sum];
        }""",
        pane,
    )
    return found


def middle(tab: Any, selector: str) -> tuple[float, float]:
    box = tab.locator(selector).first.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def rested(tab: Any, serial_before: str) -> None:
    """Wait for a whole map that is newer."""
    tab.wait_for_selector(f"{WHOLE}:not([data-drawn='{serial_before}'])")


def drawn(tab: Any) -> str:
    return str(tab.get_attribute("#pane-a .map", "data-drawn"))


def shown_mast(tab: Any) -> float:
    return float(tab.get_by_label("Base antenna above ground, m").input_value())


def ask(tab: Any, place: str) -> None:
    tab.locator("#where").fill(place)
    tab.get_by_role("button", name="Ask", exact=True).click()
    tab.wait_for_selector("#panel-place .profile")


def test_page_shows_job_answer_and_prediction(visit: Open) -> None:
    tab = visit()
    assert tab.inner_text("h1") == "Quarry extension (invented demo)"
    assert "verify on site" in tab.inner_text("#prediction")
    assert re.search(r"\d\d\.\d\s% of the job has corrections", tab.inner_text("#pane-a .caption"))
    assert tab.evaluate("() => document.querySelector('.hillshade').naturalWidth") > 100
    width, height, opaque, _ = cells(tab)
    # the pond has no terrain: what lies behind it is not painted, and the hatch shows there
    assert 0.5 < opaque / (width * height) < 0.99
    assert "repeating-linear-gradient" in tab.evaluate(
        "() => getComputedStyle(document.querySelector('.cells')).backgroundImage"
    )
    assert tab.locator(".sign.control").count() == 7
    x, y = middle(tab, ".sign.control svg")
    tab.mouse.move(x + 40, y + 30)
    classes = "dependable|likely|uncertain|unlikely|out of reach"
    assert re.search(
        rf"E \d{{6}}\.\d, N \d{{7}}\.\d.*([1-5] ({classes})|no data)", tab.inner_text("#readout")
    )


def test_drag_follows_the_hand_and_its_address_gives_the_same_map(visit: Open) -> None:
    tab = visit()
    before, serial = cells(tab), drawn(tab)
    x, y = middle(tab, ".sign.base svg")
    tab.mouse.move(x, y)
    tab.mouse.down()
    tab.mouse.move(x + 120, y + 60, steps=8)
    tab.wait_for_selector(f"#pane-a .map:not([data-drawn='{serial}'])")  # a map before the hand lets go
    assert tab.locator("#undo").is_disabled()
    tab.mouse.move(x + 200, y + 150, steps=6)
    serial = drawn(tab)
    tab.mouse.up()
    rested(tab, serial)
    after = cells(tab)
    assert after != before
    assert middle(tab, ".sign.base svg") == pytest.approx((x + 200, y + 150), abs=2.0)
    assert "base=" in tab.url
    again = visit(tab.url.split("/")[-1])
    assert cells(again) == after
    assert middle(again, ".sign.base svg") == pytest.approx((x + 200, y + 150), abs=2.0)
    serial = drawn(tab)
    tab.keyboard.press("Control+z")  # the whole drag is one step
    rested(tab, serial)
    assert cells(tab) == before
    assert tab.locator("#undo").is_disabled()
    serial = drawn(tab)
    tab.keyboard.press("Control+Shift+z")
    rested(tab, serial)
    assert cells(tab) == after


def test_two_hundred_rapid_drags_end_on_the_right_map(visit: Open) -> None:
    tab = visit()
    flying: set[Any] = set()
    counts = [0]

    def takes_off(request: Any) -> None:
        if "/cover" in request.url:
            flying.add(request)
            counts.append(len(flying))

    tab.on("request", takes_off)
    for event in ("requestfinished", "requestfailed"):
        tab.on(event, lambda request: flying.discard(request))
    x, y = middle(tab, ".sign.base svg")
    serial = drawn(tab)
    tab.evaluate(
        """() => {
          const map = document.querySelector("#pane-a .map");
          window.drawn = [];
          const watch = new MutationObserver(() => window.drawn.push(Number(map.dataset.drawn)));
          watch.observe(map, { attributeFilter: ["data-drawn"] });
        }"""
    )
    tab.mouse.move(x, y)
    tab.mouse.down()
    tab.mouse.move(x + 20, y + 20, steps=3)
    # by the mouse each step would wait for a frame; a hand's events come faster than answers do
    tab.evaluate(
        """async ([x, y]) => {
          for (let step = 0; step < 200; step += 1) {
            const at = { clientX: x + 20 + 1.5 * (step % 67), clientY: y + 20 + step % 50, buttons: 1 };
            document.dispatchEvent(new MouseEvent("mousemove", at));
            await new Promise((wake) => setTimeout(wake, 5));
          }
        }""",
        [x, y],
    )
    tab.mouse.up()
    rested(tab, serial)
    tab.wait_for_timeout(300)
    serials = tab.evaluate("() => window.drawn")
    assert serials == sorted(set(serials))  # never an older one over a newer one
    assert len(serials) < 200
    assert 1 <= max(counts) <= 2  # one, and one that is being broken off
    assert cells(visit(tab.url.split("/")[-1])) == cells(tab)


def test_click_tells_why_and_what_would_cure_it(visit: Open) -> None:
    tab = visit()
    ask(tab, "500800.0, 5299300.0")
    panel = tab.locator("#panel-place")
    assert re.search(r"wanted 98\s%", panel.inner_text())
    assert tab.locator("#panel-place .verdict.no").count() == 1
    # gains and losses add up to the level, the level less the need is the margin
    rows = tab.evaluate(
        """() => [...document.querySelectorAll(".budget tbody tr")].map((row) =>
        [row.className, Number(row.cells[1].textContent.replace("\\u2212", "-"))])"""
    )
    total, level = 0.0, 0.0
    for kind, value in rows:
        if kind in {"start", "gain", "loss"}:
            total += value
        elif kind == "level":
            assert value == pytest.approx(total, abs=0.051 * len(rows))
            level = value
        elif kind == "need":
            need = value
    assert rows[-1][0] == "margin"
    assert rows[-1][1] == pytest.approx(level - need, abs=0.11)
    assert tab.locator(".profile path.ray").count() == 1
    assert tab.locator(".profile path.zone").count() == 1
    cure = tab.locator(".cures li", has_text="more mast").get_by_role("button")
    serial = drawn(tab)
    cure.click()
    rested(tab, serial)
    tab.wait_for_selector("#panel-place .verdict.yes")  # the cure that was offered cures it
    assert shown_mast(tab) > 3.0
    tab.mouse.click(*middle(tab, "#pane-a .map"))
    tab.wait_for_selector("#panel-place h3:has-text(' to E 50'):not(:has-text('500800'))")


def test_sliders_and_base_by_keys_alone(visit: Open) -> None:
    tab = visit()
    slider = tab.get_by_label("Base antenna above ground", exact=True)
    serial = drawn(tab)
    slider.focus()
    tab.keyboard.press("ArrowRight")
    tab.keyboard.press("ArrowRight")
    rested(tab, serial)
    assert shown_mast(tab) == pytest.approx(3.0 + 2 * float(slider.get_attribute("step")))
    tab.locator("#undo").click()  # steps of one slider soon after one another are one change
    assert shown_mast(tab) == 3.0
    entry = tab.get_by_label("Base antenna above ground, m")
    entry.fill("9999")
    entry.press("Tab")
    assert tab.locator(".slider .fault:visible").count() == 1
    entry.fill("6.5")
    entry.press("Tab")
    assert "antenna_height_m=6.5" in tab.url
    base = tab.locator(".sign.base")
    x, y = middle(tab, ".sign.base svg")
    base.focus()
    tab.keyboard.press("Shift+ArrowRight")
    tab.keyboard.press("Shift+ArrowDown")
    moved = middle(tab, ".sign.base svg")
    assert moved[0] > x + 5
    assert moved[1] > y + 5
    tab.locator("#pane-a .map").focus()
    tab.keyboard.press("Enter")
    tab.wait_for_selector("#panel-place .profile")
    tab.locator("#tab-place").focus()
    tab.keyboard.press("ArrowRight")
    assert tab.locator("#panel-search").is_visible()


def test_no_map_gives_no_shares(visit: Open) -> None:
    tab = visit()
    shares = tab.locator("#layers .row .number")
    assert shares.count() == 6
    at = tab.locator("#set-up-fields input").first
    at.fill("400000, 5000000")
    at.press("Enter")
    tab.wait_for_selector("#pane-a .verdict:has-text('302 km')")
    assert shares.count() == 0, "those of the set-up before"
    assert "302 km" in tab.inner_text("#spoken")
    tab.click("#undo")
    tab.wait_for_selector(WHOLE)
    shares.first.wait_for()


def test_an_address_that_says_what_the_job_says_is_no_change(visit: Open) -> None:
    tab = visit("#job=quarry.toml&base=Q1&power_w=0.5&antenna_height_m=3")
    assert not tab.get_by_text("not saved").is_visible()
    other = visit("#job=quarry.toml&base=Q1&power_w=0.6&antenna_height_m=3")
    assert other.get_by_text("not saved").is_visible()
    assert "antenna_height_m" not in other.url


def test_control_point_takes_the_base(visit: Open) -> None:
    tab = visit()
    serial = drawn(tab)
    tab.locator(".sign.control[aria-label$=Q6]").click()
    tab.get_by_role("button", name="Put the base here").click()
    rested(tab, serial)
    assert tab.get_by_label("Base on").input_value() == "point:Q6"
    assert middle(tab, ".sign.base svg") == pytest.approx(
        middle(tab, ".sign.control[aria-label$=Q6] svg"), abs=1.5
    )
    tab.get_by_label("Base on").select_option("point:Q1")  # as the job has it: nothing left to save
    assert tab.locator("#not-saved").is_hidden()


def test_slow_layer_shows_progress_and_can_be_stopped(visit: Open) -> None:
    tab = visit()
    tab.route("**/cover", lambda _: None)  # an answer that never comes
    tab.get_by_label("Open sky above the rover's mask").check()
    bar = tab.locator("#pane-a .bar")
    bar.wait_for(state="visible")
    bar.get_by_role("button", name="Cancel").click()
    assert "nothing is claimed" in tab.inner_text("#pane-a .caption")
    assert tab.evaluate("() => document.querySelector('#pane-a .cells').style.opacity") == "0"
    tab.unroute_all(behavior="ignoreErrors")
    tab.get_by_role("button", name="Compute").click()
    tab.wait_for_selector(WHOLE)
    tab.wait_for_selector(".legend:has-text('95 % or more')")


def test_faulty_job_is_told_and_another_can_be_chosen(visit: Open, folder: Path) -> None:
    job = (folder / "quarry.toml").read_text()
    (folder / "faulty.toml").write_text(job.replace("power_w = 0.5", "power_w = -3"))
    tab = visit("#job=faulty.toml", wait=False)
    tab.wait_for_selector("#start .verdict.no")
    said = tab.inner_text("#start")
    assert "radio.power_w = -3" in said
    assert "null" not in said
    tab.get_by_role("button", name="Another job").click()
    tab.get_by_role("button", name="quarry.toml").click()
    tab.wait_for_selector(WHOLE)
    (folder / "faulty.toml").unlink()


def test_names_of_a_job_never_become_markup(visit: Open, folder: Path) -> None:
    evil = "<img src=x onerror=alert(1)>"
    control = (folder / "quarry_control.csv").read_text().replace("Q6", evil)
    (folder / "quarry_evil.csv").write_text(control)
    job = (folder / "quarry.toml").read_text()
    job = job.replace("quarry_control.csv", "quarry_evil.csv").replace("(invented demo)", evil)
    (folder / "evil.toml").write_text(job.replace('name = "haul road"', f'name = "{evil}"'))
    tab = visit("#job=evil.toml")
    assert evil in tab.inner_text("h1")
    ask(tab, evil)
    assert f"to {evil}" in tab.inner_text("#panel-place h3")
    assert evil in tab.inner_text(".sign.control .label:text('onerror')")
    assert tab.locator("img:not(.hillshade)").count() == 0
    (folder / "evil.toml").unlink()


def test_layers_change_with_their_legend(visit: Open) -> None:
    tab = visit()
    before = cells(tab)
    for name, words in (
        ("Link margin", "+20 dB"),
        ("Line of sight", "in line of sight"),
        ("Chance of corrections", "dependable"),
    ):
        serial = drawn(tab)
        tab.get_by_label(name, exact=True).check()
        rested(tab, serial)
        assert words in tab.inner_text(".legend").replace("\u00a0", " ")
    assert cells(tab) == before


def place_of_q7(tab: Any, pane: str) -> list[float]:
    """Of a control point, from the upper left corner of a map."""
    sign = tab.locator(f"#pane-{pane} .sign.control[aria-label$=Q7]").bounding_box()
    frame = tab.locator(f"#pane-{pane} .map").bounding_box()
    return [sign["x"] - frame["x"], sign["y"] - frame["y"]]


def test_two_set_ups_side_by_side(visit: Open) -> None:
    tab = visit()
    before = cells(tab)
    tab.click("#compare")
    tab.wait_for_selector("#pane-b .map[data-scale=full][aria-busy=false]")
    assert cells(tab, "b") == before
    serial = tab.get_attribute("#pane-b .map", "data-drawn")
    tab.get_by_label("Base on").select_option("point:Q5")
    tab.wait_for_selector(f"#pane-b .map[data-scale=full][aria-busy=false]:not([data-drawn='{serial}'])")
    assert cells(tab) == before
    assert cells(tab, "b") != before
    tab.mouse.move(*middle(tab, "#pane-a .map"))
    tab.mouse.wheel(0, -300)
    tab.wait_for_timeout(500)
    assert place_of_q7(tab, "a") == pytest.approx(place_of_q7(tab, "b"), abs=1.5)
    serial = drawn(tab)
    tab.get_by_label("Served by which").check()
    rested(tab, serial)
    assert tab.locator("#pane-b").is_hidden()
    shares = [
        float(share) for share in re.findall(r"([\d.]+) %", tab.inner_text(".legend").replace("\u00a0", " "))
    ]
    assert sum(shares) == pytest.approx(100.0, abs=0.3)
    again = visit(tab.url.split("/")[-1])
    assert cells(again) == cells(tab)
    tab.get_by_role("button", name="Keep B").click()
    assert "base=Q5" in tab.url
    assert "compare" not in tab.url


def test_save_shows_the_change_and_asks(visit: Open, folder: Path) -> None:
    file = folder / "quarry.toml"
    before = file.read_text()
    tab = visit("#antenna_height_m=4.5")
    tab.keyboard.press("Control+s")
    tab.wait_for_selector("dialog[open]")
    assert "antenna_height = 3.0" in tab.inner_text("dialog .was")
    assert "antenna_height = 4.5" in tab.inner_text("dialog .now")
    tab.get_by_role("button", name="Leave it").click()
    assert file.read_text() == before
    tab.click("#save")
    tab.get_by_role("button", name="Overwrite the job file").click()
    tab.wait_for_selector("#told:visible")
    # one line of the file, comments and all else as they were
    assert file.read_text() == before.replace("antenna_height = 3.0", "antenna_height = 4.5", 1)
    assert tab.locator("#not-saved").is_hidden()
    assert shown_mast(tab) == 4.5
    # somebody else puts the file back: the page reads it again, and says so
    file.write_text(before)
    slider = tab.get_by_label("Power", exact=True)
    slider.focus()
    tab.keyboard.press("ArrowRight")
    tab.wait_for_selector("#told:has-text('changed on disk')")
    tab.wait_for_selector(WHOLE)
    assert shown_mast(tab) == 3.0


DROP = """(files) => {
  const data = new DataTransfer();
  for (const [name, text] of files) data.items.add(new File([text], name));
  document.body.dispatchEvent(new DragEvent("dragenter", { dataTransfer: data, bubbles: true }));
  document.body.dispatchEvent(new DragEvent("drop", { dataTransfer: data, bubbles: true, cancelable: true }));
}"""


def test_dropped_sheets_show_their_faults_beside_them(visit: Open) -> None:
    tab = visit()
    faulty = '[[sets]]\nname = "rover 1"\nrole = "rover"\nfrequency_mhz = "many"\n'
    tab.evaluate(DROP, [["rover.toml", faulty], ["<img src=x onerror=alert(1)>.bin", "\x00\x01"]])
    tab.wait_for_selector(".files li:nth-child(2)")
    first = tab.locator(".files li").first
    assert "rover.toml" in first.inner_text()
    assert first.locator(".faults li, .fault").count() > 0
    assert tab.locator(".files img").count() == 0
    assert "onerror" in tab.inner_text(".files")
    assert tab.get_by_role("button", name="Compare the sheets").is_disabled()


def test_air_time_says_a_fault_beside_its_field(visit: Open) -> None:
    tab = visit()
    tab.click("#tab-airtime")
    cell = tab.get_by_label("messages, row 1, interval s")
    cell.fill("-3")
    tab.get_by_role("button", name="Does it fit?").click()
    tab.wait_for_selector("#panel-airtime .field .fault:visible")
    assert cell.get_attribute("aria-invalid") == "true"
    cell.fill("1")
    tab.get_by_role("button", name="Does it fit?").click()
    tab.wait_for_selector("#panel-airtime .answer")
    assert "DOES NOT FIT" in tab.inner_text("#panel-airtime .text")


def test_every_question_answers(visit: Open) -> None:
    tab = visit()
    for key, ask_words in (("channels", "Which channel?"), ("safety", "Work it out")):
        tab.click(f"#tab-{key}")
        tab.get_by_role("button", name=ask_words).click()
        tab.wait_for_selector(f"#panel-{key} .answer .text")
    tab.click("#tab-agreement")
    sheets = [str(DEMO / "sheets" / name) for name in ("base.toml", "rover-1.toml", "rover-2.csv")]
    tab.get_by_label("Files", exact=True).set_input_files(sheets)
    tab.wait_for_selector("#panel-agreement .files li:nth-child(3)")
    tab.get_by_role("button", name="Compare the sheets").click()
    tab.wait_for_selector("#panel-agreement .answer .text")
    assert "AGREES: 2 rovers and the base" in tab.inner_text("#panel-agreement .text")


def test_an_answer_for_another_set_up_says_so(visit: Open) -> None:
    tab = visit()
    tab.click("#tab-safety")
    tab.get_by_role("button", name="Work it out").click()
    tab.wait_for_selector("#panel-safety .answer .text")
    verdict = tab.locator("#panel-safety .answer .verdict")
    old = tab.get_by_text("something has changed since")
    assert verdict.is_visible()
    assert "as far as computed" in verdict.inner_text()
    assert not old.is_visible()
    power = tab.get_by_label("Power", exact=True).first
    power.fill("35")
    power.press("Enter")
    old.wait_for()
    assert not verdict.is_visible(), "35 W are judged by nobody yet"
    tab.click("#undo")
    verdict.wait_for()
    assert not old.is_visible()
    tab.click("#tab-channels")
    tab.get_by_role("button", name="Which channel?").click()
    tab.wait_for_selector("#panel-channels .answer .text")
    tab.locator("#panel-channels input[type=number], #panel-channels input[type=text]").first.fill("7")
    assert not tab.locator("#panel-channels .answer .verdict").is_visible()


def test_candidates_rank_as_they_finish_and_a_search_can_be_cancelled(visit: Open) -> None:
    tab = visit()
    tab.click("#tab-search")
    tab.get_by_role("button", name="Start the search").click()
    tab.wait_for_selector(".candidates li:nth-child(2)")
    assert tab.locator("#panel-search progress").is_visible()
    shares = [
        float(words.split()[0])
        for words in tab.locator(".candidate .number").all_inner_texts()
        if words[0].isdigit()
    ]
    assert shares == sorted(shares, reverse=True)
    tab.locator("#panel-search").get_by_role("button", name="Cancel").click()
    assert "Cancelled" in tab.inner_text("#panel-search")
    serial = drawn(tab)
    tab.locator(".candidate").first.click()
    rested(tab, serial)
    assert tab.locator("#undo").is_enabled()
    assert not tab.get_by_text("something has changed since").is_visible(), "it is one of the search's own"


@pytest.mark.parametrize(("scheme", "width", "height"), [("light", 1600, 900), ("dark", 800, 1100)])
def test_nothing_keeps_people_out(visit: Open, scheme: str, width: int, height: int) -> None:
    """axe-core finds no serious or critical fault: names, roles, contrast, keys."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="needs axe-playwright-python")
    tab = visit(width=width, height=height, scheme=scheme)
    assert tab.evaluate("() => document.documentElement.scrollWidth <= innerWidth")

    def check(what: str) -> None:
        found = axe.Axe().run(tab).response
        assert len(found["passes"]) > 15
        bad = [one for one in found["violations"] if one["impact"] in {"serious", "critical"}]
        assert [(what, one["id"], one["nodes"][0]["html"]) for one in bad] == []

    ask(tab, "500800.0, 5299300.0")
    check("a place")
    tab.click("#tab-airtime")
    tab.wait_for_selector("#panel-airtime .rows")
    check("a form")
    tab.click("#compare")
    tab.wait_for_selector("#pane-b .map[data-scale=full]")
    check("two maps")
    tab.click("#keys")
    check("a dialog")


def test_older_answers_never_overwrite_newer_ones(visit: Open) -> None:
    """Answers that come late, broken off or twice, straight at the part that orders them."""
    tab = visit(wait=False)
    shown = tab.evaluate(
        """async () => {
          const { Follower } = await import("./static/follow.js");
          const shown = [], asked = [];
          let serial = 0;
          const rest = (ms) => new Promise((wake) => setTimeout(wake, ms));
          const follower = new Follower({
            ask: async (wish, scale, signal) => {
              const mine = (serial += 1);
              asked.push([wish, scale]);
              await rest(scale === "full" ? 150 : 10);  // whole maps take long and answer although broken off
              return { serial: mine };
            },
            ready: async (answer, wish) => () => shown.push(wish),
            busy: () => {},
          });
          for (let i = 1; i <= 30; i += 1) { follower.want(i, { settled: i === 30 }); await rest(15); }
          await rest(500);
          return [shown, asked];
        }"""
    )
    order, asked = shown
    assert order == sorted(order)
    assert order[-1] == 30
    assert asked[-1] == [30, "full"]
    assert len([1 for _, scale in asked if scale == "coarse"]) > 5


def test_eight_tabs_and_a_killed_browser_leave_the_server_alive(
    visit: Open, address: str, chromium: Any
) -> None:
    tabs = [visit("#antenna_height_m=2", 800, 600, wait=False)]
    tabs += [visit(f"#antenna_height_m={3 + i}", wait=False, beside=tabs[0]) for i in range(7)]
    for tab in tabs:
        tab.wait_for_selector(WHOLE)
    assert len({tuple(cells(tab)) for tab in tabs}) == 8
    browser = chromium.browser_type.launch(executable_path=str(CHROMIUM), args=FLAGS)
    processes = browser.new_browser_cdp_session().send("SystemInfo.getProcessInfo")["processInfo"]
    doomed = browser.new_page()
    doomed.goto(address)
    doomed.wait_for_selector(WHOLE, timeout=20_000)
    doomed.click("#tab-search")
    doomed.get_by_role("button", name="Start the search").click()
    doomed.wait_for_selector("#panel-search progress")
    os.kill(next(one["id"] for one in processes if one["type"] == "browser"), signal.SIGKILL)
    serial = drawn(tabs[0])
    tabs[0].get_by_label("Base on").select_option("point:Q2")
    rested(tabs[0], serial)
