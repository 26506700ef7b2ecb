"""The rooms: imports go down the levels only, every outside library has its door, every module says what it is."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "prospect"

LEVELS: tuple[tuple[str, ...], ...] = (
    ("errors", "issues", "types"),
    ("records", "definitions", "cache", "text", "guard", "grid", "scoring"),
    ("settings", "palette", "layerfile", "clay", "windows"),
    (
        "catalogue",
        "rock",
        "terrain",
        "hydrology",
        "criteria",
        "evidence",
        "sites",
        "land",
        "store",
        "cartography",
        "charts",
    ),
    ("sources", "favourability"),
    ("share", "testing"),
    ("pipeline",),
    ("cli", "ui"),
)
LEVEL = {unit: number for number, units in enumerate(LEVELS) for unit in units}

DOORS: dict[str, tuple[str, ...]] = {
    "rasterio": ("grid/", "layerfile.py", "sources/", "share/"),
    "pyogrio": ("grid/", "layerfile.py", "sources/", "share/"),
    "sqlite3": ("store/", "guard/"),
    "folium": ("ui/show_map.py", "share/field_map.py"),
    "branca": ("ui/show_map.py", "share/field_map.py"),
    "streamlit_folium": ("ui/show_map.py",),
    "streamlit": ("ui/",),
    "matplotlib": ("charts/", "share/"),
    "dask": ("windows/",),
    "distributed": ("windows/",),
    "fpdf": ("share/paper.py",),
    "socket": ("cli/app.py", "cli/network.py", "ui/listening.py"),
    "urllib.request": (),
    "http.client": (),
    "requests": (),
    "pickle": (),
    "time": ("cli/", "ui/", "store/"),
    "platformdirs": ("cli/", "ui/", "store/"),
    "fiona": (),
    "osgeo": (),
}


def modules() -> list[Path]:
    return sorted(
        path
        for path in PACKAGE.rglob("*.py")
        if not {"_layers", "_demo"} & set(path.relative_to(PACKAGE).parts) and path.name != "_app.py"
    )


def place(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


def unit_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imports(path: Path) -> Iterator[str]:
    """Yield the dotted names that a module imports when it runs (not those for type checkers only)."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in _running(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{place(path)} imports relatively"
            yield node.module or ""


def _running(node: ast.AST) -> Iterator[ast.AST]:
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.If) and "TYPE_CHECKING" in ast.dump(child.test):
            continue
        yield child
        yield from _running(child)


def test_every_unit_has_a_level() -> None:
    found = {unit_of(path) for path in modules()} - {"__init__"}
    assert found == set(LEVEL), "a room that the list of levels does not know, or the reverse"


@pytest.mark.parametrize("path", modules(), ids=place)
def test_imports_go_down_the_levels(path: Path) -> None:
    unit = unit_of(path)
    for name in imports(path):
        if not name.startswith("prospect"):
            continue
        if unit == "__init__":
            assert name == "prospect.guard.drivers"
            continue
        assert name != "prospect", f"{place(path)} imports the package itself"
        other = name.split(".")[1]
        allowed = other == unit or LEVEL[other] < LEVEL[unit]
        assert allowed, f"{place(path)} (level {LEVEL[unit]}) imports {name} (level {LEVEL[other]})"


@pytest.mark.parametrize("path", modules(), ids=place)
def test_outside_libraries_come_in_by_their_doors(path: Path) -> None:
    here = place(path)
    for name in imports(path):
        root = name.split(".")[0]
        if root == "numba":
            assert path.name == "_kernels.py", f"{here} imports numba"
        for library in {root, name} & set(DOORS):
            assert here.startswith(DOORS[library]), f"{here} imports {library}"


@pytest.mark.parametrize("path", modules(), ids=place)
def test_every_module_says_what_it_is_in_one_sentence(path: Path) -> None:
    words = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    assert words, f"{place(path)} has no sentence at its top"
    first = words.split("\n\n")[0].replace("\n", " ")
    assert first.endswith((".", ":", "…")), f"{place(path)}: {first!r}"


@pytest.mark.parametrize("path", modules(), ids=place)
def test_no_module_is_named_for_nothing(path: Path) -> None:
    assert not {"util", "utils", "helper", "helpers", "misc", "manager", "common"} & set(
        path.relative_to(PACKAGE).with_suffix("").parts
    )


@pytest.mark.parametrize("path", [path for path in modules() if path.name == "_kernels.py"], ids=place)
def test_every_kernel_is_compiled(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in tree.body:
        if isinstance(node, (ast.Import, ast.ImportFrom, ast.Assign, ast.AnnAssign)):
            continue
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            continue
        assert isinstance(node, ast.FunctionDef), f"{place(path)}, line {node.lineno}: only kernels live here"
        marks = [ast.unparse(mark) for mark in node.decorator_list]
        assert any("njit" in mark or "vectorize" in mark for mark in marks), f"{node.name} is not compiled"


def test_clock_and_environment_are_read_only_at_the_edges() -> None:
    allowed = ("cli/", "ui/", "store/", "guard/drivers.py")
    for path in modules():
        text = path.read_text(encoding="utf-8")
        for word in ("os.environ", "Path.home", "expanduser", ".today(", "datetime.now(", "monotonic("):
            assert word not in text or place(path).startswith(allowed), f"{place(path)}: {word}"
