"""Imports run in one direction, stay light, and the public names are what is documented."""

from __future__ import annotations

import ast
import dataclasses
import functools
import importlib
import inspect
import re
import subprocess
import sys
from pathlib import Path

import pytest

import stoichkit
from stoichkit.measurement.registry import CONCENTRATIONS, MODELS

PACKAGE = Path(stoichkit.__file__).parent
STOREYS = (
    ("errors",),
    ("_common",),
    ("uncertainty",),
    ("guide", "chemistry"),
    ("text",),
    ("measurement",),
    ("experiments",),
    ("decision",),
    ("planning", "diagnosis"),
    ("bench", "classroom"),
    ("plots",),
    ("reports",),
    ("widgets",),
    ("cli",),
)
"""A room imports only from lines above its own, never from a neighbour on its line."""
LEVEL = {room: i for i, rooms in enumerate(STOREYS) for room in rooms}
APART = {("text", "measurement"), ("bench", "diagnosis"), ("classroom", "planning")}
"""The first may not import the second, whatever the lines allow."""
TOP = {"__init__.py", "__main__.py", "_common.py", "errors.py"}
LONGEST = 1000
ONLY_IN = {
    "matplotlib": ("plots/render.py", "plots/result.py"),
    "ipywidgets": ("widgets/kit", "widgets/panels", "widgets/notebook.py", "widgets/screen.py"),
    "anywidget": ("widgets/kit", "widgets/panels", "widgets/notebook.py", "widgets/screen.py"),
    "traitlets": ("widgets/kit", "widgets/panels", "widgets/notebook.py", "widgets/screen.py"),
    "IPython": ("widgets/kit", "widgets/panels", "widgets/notebook.py", "widgets/screen.py"),
    "sympy": ("chemistry", "decision/sentences.py", "reports"),
    "periodictable": (),
    "pandas": (),
}


def room_of(path: Path) -> str:
    room = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
    return "cli" if room == "__main__" else room


@functools.cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text("utf-8"))


@functools.cache
def for_typing(path: Path) -> frozenset[str]:
    """Return the modules that a file imports for annotations alone."""
    return frozenset(
        n.module or ""
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
        for n in node.body
        if isinstance(n, ast.ImportFrom)
    )


@functools.cache
def imports(path: Path) -> list[tuple[str, int, bool]]:
    """Return (dotted name, relative level, inside a function) of every import in a file."""
    tree = tree_of(path)
    inner = {
        node
        for function in ast.walk(tree)
        if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef)
        for node in ast.walk(function)
    }
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [(alias.name, 0, node in inner) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            if node.module:
                found.append((node.module, node.level, node in inner))
            else:
                found += [(alias.name, node.level, node in inner) for alias in node.names]
    return found


SOURCES = sorted(p for p in PACKAGE.rglob("*.py") if p.name != "__init__.py" or p.parent != PACKAGE)


def targets(path: Path) -> list[str]:
    """Return the rooms that a file imports from, other than its own."""
    here, depth = room_of(path), len(path.relative_to(PACKAGE).parts)
    found = []
    for name, level, _ in imports(path):
        if level == depth or (level == 0 and name.split(".")[0] == "stoichkit"):
            found.append(name.removeprefix("stoichkit.").split(".")[0])
    return [room for room in found if room not in ("stoichkit", "__version__", here)]


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_point_downwards(path: Path) -> None:
    here = room_of(path)
    assert here in LEVEL, f"give {here} a place in STOREYS"
    for room in targets(path):
        assert LEVEL[room] < LEVEL[here], f"{here} may not import {room}"
        assert (here, room) not in APART, f"{here} may not import {room}"


def test_no_files_import_each_other_in_a_circle() -> None:
    known = {".".join(p.relative_to(PACKAGE).with_suffix("").parts): p for p in SOURCES}
    edges: dict[str, set[str]] = {name: set() for name in known}
    for name, path in known.items():
        for module, level, _ in imports(path):
            if module in for_typing(path):
                continue
            parts = name.split(".")[:-1]
            base = parts[: len(parts) - level + 1] if level else None
            if base is None and not module.startswith("stoichkit."):
                continue
            target = ".".join([*base, module]) if base is not None else module[10:]
            edges[name] |= {target} & (set(known) - {name})
    while leaves := [name for name, after in edges.items() if not after]:
        for name in leaves:
            del edges[name]
        for after in edges.values():
            after -= set(leaves)
    assert not edges, f"in a circle: {', '.join(sorted(edges))}"


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_heavy_packages_stay_where_they_belong(path: Path) -> None:
    here = path.relative_to(PACKAGE).as_posix()
    for name, level, inside in imports(path):
        top = name.split(".")[0]
        if level == 0 and top in ONLY_IN and name not in for_typing(path):
            assert here.startswith(ONLY_IN[top]), f"{here} may not import {top}"
        if level == 0 and top in ("scipy", "sympy"):
            assert inside, f"{here}: import {top} inside the function that needs it"


def test_the_top_is_small_and_no_file_runs_user_text() -> None:
    assert {path.name for path in PACKAGE.glob("*.py")} == TOP
    for path in SOURCES:
        text = path.read_text("utf-8")
        assert text.count("\n") <= LONGEST, f"{path.name} is over {LONGEST} lines"
        for word in ("matplotlib.pyplot", "sympify(", "parse_expr(", " eval("):
            assert word not in text, f"{path.name} uses {word}"
        if path.name != "sources.py":
            assert "ufloat(" not in text, f"{path.name} makes its own uncertain numbers"


def test_nothing_leaves_the_machine() -> None:
    """No file imports what opens a connection (names of the standard library)."""
    apart = {"socket", "ssl", "ftplib", "smtplib", "requests", "telnetlib", "webbrowser"}
    for path in SOURCES:
        for name, level, _ in imports(path):
            if level == 0:
                assert name.split(".")[0] not in {*apart, "http"}, path.name
                assert not name.startswith(("urllib.request", "urllib.robot")), path.name


@functools.cache
def strings(path: Path) -> list[str]:
    """Return the strings in a file that are no docstrings."""
    tree = tree_of(path)
    said = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    constants = [node for node in ast.walk(tree) if isinstance(node, ast.Constant)]
    return [n.value for n in constants if isinstance(n.value, str) and id(n) not in said]


def test_html_is_escaped_and_tables_are_begun_in_one_module() -> None:
    for path in SOURCES:
        packages = {name.split(".")[0] for name, level, _ in imports(path) if level == 0}
        tables = [text for text in strings(path) if "<table" in text]
        entities = [text for text in strings(path) if re.search("&(lt|gt|amp|quot|#)", text)]
        if path == PACKAGE / "text" / "html.py":
            assert "html" in packages
            assert tables
        else:
            assert not {"html", "markupsafe"} & packages, f"{path.name}: use text.html.escaped"
            assert not tables, f"{path.name}: use text.html.html_table"
            markdown = path == PACKAGE / "text" / "plain.py"
            assert markdown or not entities, f"{path.name}: use text.html.escaped"


def test_import_is_light() -> None:
    code = (
        "import sys, stoichkit; "
        "heavy = {'matplotlib','sympy','ipywidgets','scipy','pandas','numpy'} & set(sys.modules); "
        "assert not heavy, heavy; assert 'assess' in dir(stoichkit)"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_every_public_name_loads_and_says_what_it_is() -> None:
    for name in stoichkit.__all__:
        if name != "__version__":
            assert getattr(stoichkit, name).__doc__, name
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        stoichkit.nothing  # noqa: B018


@functools.cache
def of_measuring() -> set[str]:
    """Return the names of all classes of amounts and concentrations."""
    made = {*MODELS.values(), *CONCENTRATIONS.values()}
    return {one.__name__ for way in made for one in way.__mro__} - {"ABC", "Stock", "object"}


def asks_for_the_kind(tree: ast.AST) -> list[str]:
    """Return uses of those classes other than making one and annotating, and of their fields.

    ``isinstance``, ``type(…) is``, ``match``, a table by class: all of them name the class;
    ``hasattr`` and ``getattr`` name a field that only some of them have.
    """
    classes = of_measuring()
    own = {f.name for way in MODELS.values() for f in dataclasses.fields(way)} - {"species"}
    allowed: set[ast.AST] = set()
    for node in ast.walk(tree):
        for field in ("annotation", "returns"):
            if isinstance(getattr(node, field, None), ast.AST):
                allowed.update(ast.walk(getattr(node, field)))
        if isinstance(node, ast.Call):
            allowed.add(node.func)
    found = []
    for node in ast.walk(tree):
        name = getattr(node, "id", "") or getattr(node, "attr", "")
        if name in classes and node not in allowed:
            found.append(f"{name}, line {node.lineno}")
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in ("hasattr", "getattr"):
            field = getattr(node.args[1], "value", "")
            if field in own:
                found.append(f"{ast.unparse(node)}, line {node.lineno}")
        if isinstance(node, ast.Compare) and any(
            "__name__" in (getattr(one, "attr", ""), getattr(one, "id", ""))
            for one in ast.walk(node)
        ):
            texts = {c.value for c in ast.walk(node) if isinstance(c, ast.Constant)}
            found += [f"{text}, line {node.lineno}" for text in texts & classes]
    return found


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_no_room_asks_how_an_amount_is_measured(path: Path) -> None:
    """A way of measuring owns what others ask of it, so that a new one touches one file."""
    if room_of(path) not in ("measurement", "experiments"):
        assert not asks_for_the_kind(tree_of(path))


@pytest.mark.parametrize(
    "code",
    [
        "isinstance(model, ElectricCharge)",
        "isinstance(model, GasVolume | SolutionVolume)",
        "issubclass(kind, (weighing.Precipitate, int))",
        "type(model) is MassByDifference",
        "match model:\n    case KnownConcentration():\n        pass",
        "{ElectricCharge: 1}[type(model)]",
        "model.__class__ == PreparedSolution",
        "type(model).__name__ == 'ElectricCharge'",
        "hasattr(model, 'heavier')",
        "getattr(model, 'pipette', '')",
    ],
)
def test_that_would_be_seen(code: str) -> None:
    assert asks_for_the_kind(ast.parse(code))
    made = "def stock(of: KnownConcentration) -> GasVolume:\n    return GasVolume(species='H2')"
    assert not asks_for_the_kind(ast.parse(made))


ROOMS = sorted({p.parent.relative_to(PACKAGE).as_posix() for p in SOURCES} - {"."})


@pytest.mark.parametrize("room", ROOMS)
def test_every_name_of_a_room_loads_and_none_is_also_a_module(room: str) -> None:
    """A name with a module of its own name is lost when that module is imported."""
    module = importlib.import_module(f"stoichkit.{room.replace('/', '.')}")
    for path in sorted((PACKAGE / room).glob("*.py")):
        importlib.import_module(f"{module.__name__}.{path.stem}")
    public = list(getattr(module, "__all__", ()))
    assert public == sorted(set(public)) or room == "experiments"
    for name in public:
        assert not inspect.ismodule(getattr(module, name)), name
        assert name in dir(module)
