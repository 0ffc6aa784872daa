"""Which quick test reaches which statement of the package, recorded once for each test file.

Every statement of a function is preceded by one that notes it (the source is changed while it is
loaded, never on the disk). Before each test what functions keep of earlier calls is forgotten, so
that a call is seen in every test that makes it. What a fixture of a module reaches counts for each
test that asks for it, and what a file reaches while it is loaded is kept under the file's own name.
The record is in ``.pytest_cache/reached`` until the file or the package changes its lines.
"""

from __future__ import annotations

import ast
import functools
import importlib.abc
import importlib.machinery
import itertools
import json
import re
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from types import CodeType, ModuleType
from typing import Any

import pytest
from _pytest.doctest import DoctestModule

from tests.studies.mutants import PACKAGE, ROOT, Mutant, modules_of, names_of, path_of

KEPT = ROOT / ".pytest_cache" / "reached"
LONGEST_S = 90.0
"""After so many seconds of the processor the rest of a test file is neither recorded nor run."""
_SECTION = 1 << 18

ROOMS = (
    "bench", "diagnosis", "planning", "measurement", "chemistry", "classroom", "experiments",
    "decision", "uncertainty", "text", "plots", "reports", "widgets", "cli", "data",
)  # fmt: skip
ELSEWHERE = {
    "cli": ("tests/test_cli.py", "tests/test_marking_way.py"),
    "decision": (
        "tests/test_core_edges.py", "tests/classroom/test_marking.py",
        "tests/reports/test_worked.py", "tests/reports/test_study.py",
    ),
    "uncertainty": (
        "tests/test_core_edges.py", "tests/decision/test_same_vessel.py",
        "tests/decision/test_arrays.py",
    ),
    "text": ("tests/bench/test_cards.py", "tests/reports/test_worked.py", "tests/test_files.py"),
    "measurement": ("tests/experiments/test_own.py", "tests/reports/test_worked.py"),
}  # fmt: skip
"""Tests of other rooms or of none that are quick, by the rooms that they are about."""
OF_TABLES = {
    "advice": ("test_hazards",), "concentrated": ("test_solubility_strength",),
    "effects": ("test_effect_signs",), "elements": ("test_atomic_weights",),
    "glassware": ("test_glassware_tolerances",), "hazard_statements": ("test_hazards",),
    "hazards": ("test_hazards", "test_ghs_signal_words"), "potentials": ("test_potentials",),
    "solubility": ("test_solubility_strength",), "spot_tests": (),
    "usual_compounds": ("test_usual_compounds",), "usual_salts": ("test_usual_salts",),
    "water": ("test_water",),
}  # fmt: skip
"""Tests of ``tests/reference`` that compare each table with one from outside."""
NOT_QUICK = ("test_latex_compiles.py", "test_golden_page.py")


# -- recording --------------------------------------------------------------------------------


class Marks(importlib.abc.MetaPathFinder):
    """Loads the package with a mark before each statement of a function."""

    def __init__(self) -> None:
        self.places: list[tuple[str, int]] = []
        self.hit = bytearray(_SECTION)

    def find_spec(
        self, fullname: str, path: Sequence[str] | None = None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        if fullname.partition(".")[0] != PACKAGE.name:
            return None
        spec = importlib.machinery.PathFinder.find_spec(fullname, path, target)
        if spec is not None and isinstance(spec.loader, importlib.machinery.SourceFileLoader):
            spec.loader = _Marking(fullname, str(spec.origin), self)
        return spec

    def marked(self, name: str, source: bytes) -> ast.Module:
        """Return the tree of a module with its marks."""
        tree = ast.parse(source)
        for function in ast.walk(tree):
            if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef):
                blocks = [function.body]
                while blocks:
                    block = blocks.pop()
                    for one in block:
                        blocks += list(_blocks(one))
                    block[:] = self._with_marks(name, block, block is function.body)
        return ast.fix_missing_locations(tree)

    def _with_marks(self, name: str, block: list[ast.stmt], of_function: bool) -> list[ast.stmt]:
        done = list(block[:1]) if of_function and _is_text(block[0]) else []
        for one in block[len(done) :]:
            mark = ast.parse(f"__hit__[{len(self.places)}] = 1").body[0]
            self.places.append((name, one.lineno))
            for node in ast.walk(mark):
                ast.copy_location(node, one)
            done += [mark, one]
        return done

    def since(self) -> set[int]:
        """Return the marks passed since this was asked last."""
        found = set(_ones(self.hit))
        self.hit[:] = bytes(_SECTION)
        return found


class _Marking(importlib.machinery.SourceFileLoader):
    def __init__(self, fullname: str, path: str, marks: Marks) -> None:
        super().__init__(fullname, path)
        self.marks = marks

    def get_code(self, fullname: str) -> CodeType:
        path = self.get_filename(fullname)
        tree = self.marks.marked(fullname.partition(".")[2], self.get_data(path))
        return compile(tree, path, "exec", dont_inherit=True)

    def exec_module(self, module: ModuleType) -> None:
        module.__dict__["__hit__"] = self.marks.hit
        super().exec_module(module)


def _blocks(one: ast.stmt) -> Iterator[list[ast.stmt]]:
    """Yield the blocks of a statement, but for those of functions and classes in it."""
    if isinstance(one, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
        return
    for name in ("body", "orelse", "finalbody"):
        if block := getattr(one, name, None):
            yield block
    for inner in (*getattr(one, "handlers", ()), *getattr(one, "cases", ())):
        yield inner.body


def _is_text(one: ast.stmt) -> bool:
    return isinstance(one, ast.Expr) and isinstance(one.value, ast.Constant)


def _ones(hit: bytearray) -> Iterator[int]:
    at = hit.find(1)
    while at >= 0:
        yield at
        at = hit.find(1, at + 1)


class Quick:
    """Has hypothesis try few examples, the same each time, and keep none for the next mutant."""

    def pytest_configure(self) -> None:
        import hypothesis

        settings = hypothesis.settings
        settings.register_profile(
            "mutants", database=None, derandomize=True, max_examples=8, deadline=None
        )
        settings.load_profile("mutants")


class Recorder(Quick):
    """Notes for each test that passes which statements it reaches, and its seconds."""

    def __init__(self, marks: Marks) -> None:
        self.marks = marks
        self.found: dict[str, dict[str, dict[str, object]]] = {}
        self.spent: Counter[str] = Counter()
        self.of_fixtures: dict[int, set[int]] = {}
        self.asked: list[int] = []
        self.started = 0.0

    @pytest.hookimpl(wrapper=True)
    def pytest_make_collect_report(self, collector: pytest.Collector) -> Iterator[Any]:
        self.marks.since()
        report = yield
        if isinstance(collector, pytest.Module | DoctestModule):
            self._note(collector.nodeid, 0.0, self.marks.since())
        return report

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> bool | None:
        return True if self.spent[file_of(item.nodeid)] > LONGEST_S else None

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtest_setup(self, item: pytest.Item) -> None:
        forget_all()
        known = getattr(item, "_fixtureinfo", None)
        named = known.name2fixturedefs.values() if known is not None else ()
        self.asked = [id(one) for one in itertools.chain.from_iterable(named)]
        self.marks.since()
        self.started = time.process_time()

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any) -> Iterator[Any]:
        if fixturedef.scope == "function":
            return (yield)
        before = self.marks.since()
        result = yield
        self.of_fixtures[id(fixturedef)] = found = self.marks.since()
        for one in before | found:
            self.marks.hit[one] = 1
        return result

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.when == "call":
            seconds = time.process_time() - self.started
            self.spent[file_of(report.nodeid)] += seconds
            reached = self.marks.since()
            for one in self.asked:
                reached |= self.of_fixtures.get(one, set())
            if report.passed:
                self._note(report.nodeid, seconds, reached)

    def _note(self, name: str, seconds: float, reached: set[int]) -> None:
        places: dict[str, list[int]] = {}
        for module, line in sorted(self.marks.places[one] for one in reached):
            places.setdefault(module, []).append(line)
        of_file = self.found.setdefault(file_of(name), {})
        if places or name not in of_file:  # a file is loaded once, though asked for twice
            of_file[name] = {"seconds": round(seconds, 3), "places": places}

    def pytest_sessionfinish(self) -> None:
        for file, found in self.found.items():
            kept_of(file).write_text(json.dumps(found), "utf-8")


def forget_all() -> None:
    """Have every function of the package that keeps what it returned forget it."""
    for name, module in list(sys.modules.items()):
        if name.partition(".")[0] == PACKAGE.name and module is not None:
            for value in list(vars(module).values()):
                inside = list(vars(value).values()) if isinstance(value, type) else ()
                for one in (value, *inside):
                    one = getattr(one, "__func__", one)
                    if isinstance(one, functools._lru_cache_wrapper):
                        one.cache_clear()


def kept_of(file: str) -> Any:
    """Return the file in which the record of a test file is kept."""
    return KEPT / f"{file.replace('/', '+')}.json"


def record(files: Sequence[str], switches: Sequence[str]) -> int:
    """Run test files and keep what each of their tests reaches; in a process of its own."""
    marks = Marks()
    sys.meta_path.insert(0, marks)
    pytest.main([*switches, *files], plugins=[Recorder(marks)])
    return 0


# -- choosing ---------------------------------------------------------------------------------


def files_of(room: str) -> list[str]:
    """Return the test files of a room: its own, those of outside sources, its examples."""
    if room == "data":
        return [f"tests/reference/{name}.py" for names in OF_TABLES.values() for name in names]
    own = (ROOT / "tests" / room).rglob("test_*.py")
    outside = [
        p
        for p in (ROOT / "tests" / "reference").glob("test_*.py")
        if re.search(rf"stoichkit\.{room}\b", p.read_text("utf-8"))
    ]
    found = [p for p in (*own, *outside) if p.name not in NOT_QUICK]
    examples = [p for p in (PACKAGE / room).rglob("*.py") if ">>>" in p.read_text("utf-8")]
    files = [str(p.relative_to(ROOT)) for p in (*sorted(found), *sorted(examples))]
    return [*files, *ELSEWHERE.get(room, ())]


@dataclass
class Reached:
    """Tests by the statement they reach, and how long each takes."""

    by_place: dict[tuple[str, int], set[str]] = field(default_factory=dict)
    by_module: dict[str, set[str]] = field(default_factory=dict)
    seconds: dict[str, float] = field(default_factory=dict)

    def add(self, found: dict[str, dict[str, Any]]) -> None:
        """Take in the record of a test file."""
        for test, what in found.items():
            self.seconds[test] = float(what["seconds"])
            for module, lines in what["places"].items():
                self.by_module.setdefault(module, set()).add(test)
                for line in lines:
                    self.by_place.setdefault((module, line), set()).add(test)

    def tests(self, mutant: Mutant, budget_s: float) -> list[str]:
        """Return the tests to run: those that reach the statement, the quickest first.

        A constant, a field or a default is reached where its name is used, and by the tests of
        a file that holds its name, as reading an attribute leaves no mark. After those come
        tests that reach another place of its module; for other faults those of the same files,
        where a test may keep for the next what it made.
        """
        able = self._reaching(mutant)
        beside = self.by_module.get(mutant.module, set()) - able
        if mutant.owner:
            files = {file_of(test) for test in able}
            beside = {test for test in beside if file_of(test) in files}
        elif not mutant.module.startswith("data."):
            able |= {t for t in self.seconds if "::" in t and _names(file_of(t), mutant.names)}
        own = str(path_of(mutant.module).relative_to(ROOT))

        def order(test: str) -> tuple[bool, bool, float]:
            return test in beside, not test.startswith(own), self.seconds[test]

        return self._within(sorted((t for t in able | beside if "::" in t), key=order), budget_s)

    def while_loading(self, mutant: Mutant, budget_s: float) -> list[str]:
        """Return tests of the module, and of files that reach the statement while loading it."""
        files = {test for test in self._reaching(mutant) if "::" not in test}
        if not files:
            return []
        beside = self.by_module.get(mutant.module, set())
        tests = [t for t in self.seconds if "::" in t and (t in beside or file_of(t) in files)]
        tests.sort(key=lambda test: (test not in beside, self.seconds[test]))
        return self._within(tests, budget_s)

    def _reaching(self, mutant: Mutant) -> set[str]:
        module = mutant.module
        if module.startswith("data."):
            names = OF_TABLES[module.removeprefix("data.")]
            tests = (test for test in self.seconds if "::" in test)
            return {t for t in tests if file_of(t).rpartition("/")[2].removesuffix(".py") in names}
        places = {(module, mutant.statement)} if mutant.owner else uses(mutant.names)
        return set().union(*(self.by_place.get(place, set()) for place in places))

    def _within(self, tests: Sequence[str], budget_s: float) -> list[str]:
        chosen, left = [], budget_s
        for test in tests:
            if self.seconds[test] <= left:
                chosen.append(test)
                left -= self.seconds[test]
        return chosen


def file_of(test: str) -> str:
    """Return the file of a test."""
    return test.partition("::")[0]


@functools.cache
def _names(file: str, names: tuple[str, ...]) -> bool:
    """Say whether a test file holds one of these names."""
    text = (ROOT / file).read_text("utf-8")
    return any(re.search(rf"\b{re.escape(name)}\b", text) for name in names)


@functools.cache
def uses(names: tuple[str, ...]) -> set[tuple[str, int]]:
    """Return the statements of functions in which a name of a module or a class is used.

    A name used by another constant is used where that one is.
    """
    found: set[tuple[str, int]] = set()
    wanted, left = set(names), list(names)
    while left:
        name = left.pop()
        for module in _every_module():
            if name not in _text_of(module):
                continue
            for places, users in _uses_in(module).get(name, ()):
                found |= {(module, line) for line in places}
                left += users - wanted
                wanted |= users
        if len(wanted) > 40:  # a name as common as that says nothing
            break
    return found


@functools.cache
def _every_module() -> list[str]:
    return [m for room in ROOMS if room != "data" for m in modules_of(room)]


@functools.cache
def _text_of(module: str) -> str:
    return path_of(module).read_text("utf-8")


@functools.cache
def _uses_in(module: str) -> dict[str, list[tuple[set[int], set[str]]]]:
    """Return for each name the lines of statements that use it, and constants that do."""
    found: dict[str, list[tuple[set[int], set[str]]]] = {}

    def note(name: str, lines: set[int], users: set[str]) -> None:
        found.setdefault(name, []).append((lines, users))

    def visit(node: ast.AST, line: int, inside: bool, names: frozenset[str]) -> None:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            if not inside:
                note(node.name, {one.lineno for one in node.body}, set())
                names = frozenset({node.name})
            inside_now = True
        else:
            inside_now = inside
            if isinstance(node, ast.stmt) and not inside and not isinstance(node, ast.ClassDef):
                names = frozenset(names_of(node))
        if isinstance(node, ast.stmt):
            line = node.lineno
        name = getattr(node, "id", None) or getattr(node, "attr", None)
        if isinstance(name, str) and isinstance(getattr(node, "ctx", None), ast.Load):
            note(name, {line} if inside else set(), set() if inside else set(names))
        for child in ast.iter_child_nodes(node):
            visit(child, line, inside_now, names)

    visit(ast.parse(_text_of(module)), 0, False, frozenset())
    return found
