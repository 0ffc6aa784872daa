"""Small faults planted in the decision core: does a test notice each of them?

    python -m tests.studies.mutation uncertainty.pooling              # one module, prints Markdown
    python -m tests.studies.mutation --list
    python -m tests.studies.mutation evidence --every 3   # every third mutant
    python -m tests.studies.mutation evidence --lines 34 141   # those of two lines

One mutant at a time: the mutated source takes the place of the module in a forked process, which
runs the tests of that module and stops at the first that fails. The tree itself is never changed.
"""

from __future__ import annotations

import argparse
import ast
import copy
import importlib
import importlib.abc
import importlib.util
import os
import signal
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).parents[2]
TESTS = {
    "uncertainty.pooling": ("tests/test_core_edges.py", "tests/uncertainty/test_pooling.py",
                            "tests/reference/test_pooling_published.py",
                            "tests/reference/test_nist.py", "stoichkit/uncertainty/pooling.py"),
    "decision.verdict": ("tests/test_core_edges.py", "tests/decision/test_evidence.py",
                         "tests/reference/test_evidence_scale.py",
                         "tests/reports/test_report.py", "stoichkit/decision/verdict.py"),
    "uncertainty.ratio_set": ("tests/test_core_edges.py", "tests/uncertainty/test_ratio_set.py",
                              "tests/decision/test_evidence.py",
                              "stoichkit/uncertainty/ratio_set.py"),
    "decision.evidence": ("tests/test_core_edges.py", "tests/decision/test_evidence.py",
                          "tests/reference/test_student_data.py",
                          "tests/reference/test_evidence_scale.py",
                          "tests/decision/test_yields.py", "tests/reports/test_report.py",
                          "stoichkit/decision/evidence.py"),
    "uncertainty.sources": ("tests/test_core_edges.py", "tests/uncertainty/test_uncertain.py",
                            "tests/reference/test_gum.py", "tests/reference/test_resolution.py",
                            "stoichkit/uncertainty/sources.py"),
    "uncertainty.distribution": ("tests/uncertainty/test_distribution.py",
                                 "tests/reference/test_jcgm101.py",
                                 "stoichkit/uncertainty/distribution.py"),
    "uncertainty.straight_line": ("tests/test_core_edges.py", "tests/uncertainty/test_york.py",
                                  "tests/reference/test_york_published.py",
                                  "stoichkit/uncertainty/straight_line.py"),
}  # fmt: skip
COMPARISONS = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}  # fmt: skip
ARITHMETIC = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Div, ast.Mod: ast.Mult,
}  # fmt: skip
CALLS = {"min": "max", "max": "min", "any": "all", "all": "any"}
LIMIT_S = 90


def sites(tree: ast.Module) -> Iterator[tuple[int, str, str]]:
    """Yield (number of the node, kind, what is changed) of every mutant."""
    docstrings = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    for number, node in enumerate(ast.walk(tree)):
        if isinstance(node, ast.Compare) and type(node.ops[0]) in COMPARISONS:
            yield number, "compare", f"{ast.unparse(node)} (comparison)"
        elif isinstance(node, ast.BinOp) and type(node.op) in ARITHMETIC:
            yield number, "operator", f"{ast.unparse(node)} (operator)"
        elif isinstance(node, ast.BoolOp):
            yield number, "bool", f"{ast.unparse(node)} (and/or)"
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
            yield number, "unary", f"{ast.unparse(node)} (sign or not dropped)"
        elif isinstance(node, ast.Constant) and id(node) not in docstrings:
            if isinstance(node.value, bool):
                yield number, "flag", f"{node.value} (flipped), line {node.lineno}"
            elif isinstance(node.value, int | float) and node.value is not None:
                yield number, "number", f"{node.value} (number), line {node.lineno}"
        elif isinstance(node, ast.Call) and getattr(node.func, "id", "") in CALLS:
            yield number, "call", f"{ast.unparse(node)} (min/max, any/all)"
        elif isinstance(node, ast.If):
            yield number, "if", f"if {ast.unparse(node.test)} (never)"


def mutated(tree: ast.Module, number: int, kind: str) -> tuple[str, int]:
    """Return the source with one node changed, and its line."""
    changed = copy.deepcopy(tree)
    node = next(n for i, n in enumerate(ast.walk(changed)) if i == number)
    line = getattr(node, "lineno", 0)
    if kind == "compare":
        node.ops[0] = COMPARISONS[type(node.ops[0])]()
    elif kind == "operator":
        node.op = ARITHMETIC[type(node.op)]()
    elif kind == "bool":
        node.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
    elif kind == "unary":
        node.op = ast.UAdd() if isinstance(node.op, ast.USub) else ast.Not()
        if isinstance(node.op, ast.Not):
            node.operand = ast.UnaryOp(ast.Not(), node.operand)
    elif kind == "flag":
        node.value = not node.value
    elif kind == "number":
        node.value = node.value + 1 if isinstance(node.value, int) else node.value * 1.5 + 0.01
    elif kind == "call":
        node.func.id = CALLS[node.func.id]
    elif kind == "if":
        node.test = ast.Constant(False)
    return ast.unparse(ast.fix_missing_locations(changed)), line


class Planted(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives one module another source."""

    def __init__(self, name: str, path: Path, source: str) -> None:
        self.name, self.path, self.source = name, path, source

    def find_spec(self, fullname: str, *_: object) -> object:
        if fullname != self.name:
            return None
        return importlib.util.spec_from_file_location(fullname, self.path, loader=self)

    def create_module(self, _: object) -> None:
        return None

    def exec_module(self, module: ModuleType) -> None:
        exec(compile(self.source, str(self.path), "exec"), module.__dict__)


class Forgetful:
    """Keeps no example that one mutant fails for the next."""

    def pytest_configure(self) -> None:
        import hypothesis

        hypothesis.settings.register_profile("mutants", database=None)
        hypothesis.settings.load_profile("mutants")


def outcome(module: str, source: str) -> str:
    """Run the tests of a module on a mutant in a forked process."""
    path = ROOT / "stoichkit" / f"{module.replace('.', '/')}.py"
    child = os.fork()
    if child == 0:
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, 1)
        os.dup2(null, 2)
        os.setsid()
        os.chdir(ROOT)
        sys.meta_path.insert(0, Planted(f"stoichkit.{module}", path, source))
        try:  # before pytest, whose own importer would read the file
            importlib.import_module(f"stoichkit.{module}")
        except BaseException:  # noqa: BLE001 - whatever a mutant does
            os._exit(1)
        import pytest

        switches = ["-x", "-q", "-p", "no:cacheprovider", "--no-header", "-n", "0"]
        os._exit(int(pytest.main([*switches, *TESTS[module]], plugins=[Forgetful()])))
    end = time.monotonic() + LIMIT_S
    while time.monotonic() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return "survived" if os.waitstatus_to_exitcode(status) == 0 else "killed"
        time.sleep(0.02)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return "timed out"


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__, prog="python -m tests.studies.mutation")
    parser.add_argument("modules", nargs="*", choices=[*TESTS, []])
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--lines", type=int, nargs="+", default=())
    parser.add_argument("--list", action="store_true")
    options = parser.parse_args(argv)
    if options.list or not options.modules:
        print("\n".join(TESTS))
        return 0
    import numpy  # noqa: F401 - loaded once, before the forks
    import pytest  # noqa: F401
    import scipy.optimize
    import scipy.special
    import scipy.stats  # noqa: F401
    import uncertainties  # noqa: F401

    assert not [m for m in sys.modules if m == "stoichkit"], "the package must not be loaded yet"
    for module in options.modules:
        text = (ROOT / "stoichkit" / f"{module.replace('.', '/')}.py").read_text("utf-8")
        tree = ast.parse(text)
        assert outcome(module, text) == "survived", f"{module}: its tests fail without a mutant"
        counts = {"killed": 0, "timed out": 0, "survived": 0}
        survivors = []
        chosen = list(sites(tree))[:: options.every]
        for number, kind, words in chosen:
            source, line = mutated(tree, number, kind)
            if options.lines and line not in options.lines:
                continue
            result = outcome(module, source)
            counts[result] += 1
            if result == "survived":
                survivors.append(f"- line {line}: `{' '.join(words.split())[:110]}`")
        assert outcome(module, text) == "survived", f"{module}: its tests no longer pass"
        print(f"## {module}\n\n{sum(counts.values())} mutants: {counts['killed']} killed, ", end="")
        print(f"{counts['timed out']} timed out, {counts['survived']} survived.\n")
        print("\n".join(survivors), flush=True)
        print()
    return 0


if __name__ == "__main__":
    sys.exit(main())
