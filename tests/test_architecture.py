"""The house rules that a machine can hold: who imports whom, what is loaded when, and how long things are."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import linkplan

PACKAGE = Path(linkplan.__file__).parent
MODULES = sorted(PACKAGE.rglob("*.py"))

# A room imports from rooms of smaller rows only; rooms of one row never import each other.
ROW = {
    "": 0,
    "errors": 0,
    "units": 1,
    "ranges": 1,
    "sources": 1,
    "tables": 1,
    "terrain": 2,
    "propagation": 2,
    "radio": 2,
    "gnss": 2,
    "plan": 3,
    "coverage": 4,
    "sky": 4,
    "airtime": 5,
    "channels": 5,
    "evidence": 5,
    "agreement": 5,
    "safety": 5,
    "siting": 5,
    "fieldcheck": 5,
    "workable": 5,
    "study": 6,
    "outputs": 7,
    "page": 8,
    "cli": 9,
}
ROW_1_HELPERS = {"units", "ranges", "sources", "tables"}

# Heavy libraries, and the only places that may load them at all.
HEAVY = {
    "rasterio": ("terrain/", "outputs/"),
    "numba": ("propagation/sweep", "terrain/horizon_kernels"),
    "matplotlib": ("outputs/",),
    "folium": ("outputs/",),
    "branca": ("outputs/",),
    "geopandas": ("plan/", "outputs/"),
    "pyogrio": ("plan/", "outputs/"),
    "PIL": ("outputs/", "page/pictures"),
    "scipy": ("channels/", "coverage/", "fieldcheck/", "safety/", "siting/", "sky/", "terrain/"),
    "distributed": ("siting/cluster",),
    "tomlkit": ("plan/write",),
    "starlette": ("page/",),
    "uvicorn": ("page/",),
    "typst": ("outputs/brief/",),
}
LONGEST_MODULE_LINES = 400
LONGEST_FUNCTION_LINES = 60


def room_of(module: Path) -> str:
    parts = module.relative_to(PACKAGE).with_suffix("").parts
    return "" if parts[0] == "__init__" else parts[0]


def imports_of(tree: ast.AST) -> Iterator[tuple[str, ast.stmt]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for name in node.names:
                yield name.name, node
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are absolute"
            module = node.module or ""
            if module == "linkplan":
                for name in node.names:
                    yield f"linkplan.{name.name}", node
            else:
                yield module, node


def identify(module: Path) -> str:
    return module.relative_to(PACKAGE).as_posix()


@pytest.mark.parametrize("module", MODULES, ids=identify)
def test_imports_run_down_the_rows(module: Path) -> None:
    here = room_of(module)
    assert here in ROW, f"room {here} has no row: give it one here and in DEVELOPERS.md"
    for name, node in imports_of(ast.parse(module.read_text())):
        if not name.startswith("linkplan"):
            continue
        there = name.split(".")[1] if "." in name else ""
        if there == "__version__" or there == here:
            continue
        assert there in ROW, f"line {node.lineno}: {name} is in no room"
        allowed = ROW[there] < ROW[here] or (here in ROW_1_HELPERS and there in ROW_1_HELPERS)
        assert allowed, f"line {node.lineno}: {here} (row {ROW[here]}) imports {there} (row {ROW[there]})"


@pytest.mark.parametrize("module", MODULES, ids=identify)
def test_heavy_libraries_stay_in_their_places(module: Path) -> None:
    path = identify(module)
    for name, node in imports_of(ast.parse(module.read_text())):
        places = HEAVY.get(name.split(".")[0])
        if places is not None:
            assert path.startswith(places), f"line {node.lineno}: {path} may not load {name}"


@pytest.mark.parametrize("module", MODULES, ids=identify)
def test_modules_and_functions_stay_short(module: Path) -> None:
    text = module.read_text()
    assert len(text.splitlines()) <= LONGEST_MODULE_LINES
    lines = text.splitlines()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef):
            first = node.body[0]
            documented = (
                isinstance(first, ast.Expr)
                and isinstance(first.value, ast.Constant)
                and isinstance(first.value.value, str)
            )
            start = (first.end_lineno or 0) if documented else first.lineno - 1
            code = [
                line
                for line in lines[start : node.end_lineno]
                if line.strip() and not line.strip().startswith("#")
            ]
            assert len(code) <= LONGEST_FUNCTION_LINES, f"{node.name} has {len(code)} lines of code"


@pytest.mark.parametrize("module", [m for m in MODULES if room_of(m) != "cli"], ids=identify)
def test_only_the_command_line_prints(module: Path) -> None:
    for node in ast.walk(ast.parse(module.read_text())):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            assert node.func.id != "print", f"line {node.lineno} prints"


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys; from linkplan.cli.main import build_parser; build_parser().format_help(); "
        f"print(sorted({set(HEAVY) | {'numpy', 'pyproj', 'shapely'}!r} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
