"""Small faults planted in every room and table: does a quick test notice each of them?

    python -m tests.studies.mutation --list                     # rooms, modules and their mutants
    python -m tests.studies.mutation bench.recipes              # every mutant of a module
    python -m tests.studies.mutation decision.evidence --every 3      # every third
    python -m tests.studies.mutation decision.evidence --lines 34 141    # those of two lines
    python -m tests.studies.mutation --room bench --sample 40   # so many of a room, drawn by a seed
    python -m tests.studies.mutation --changed main             # those of the lines changed since

One mutant at a time: the mutated source takes the place of the module in a forked process, which
runs the tests that reach the function it stands in and stops at the first that fails. The tree
itself is never changed. Which test calls which function is found once for each test file, by
running it with a trace of calls, and kept in ``.pytest_cache/mutation`` until the file changes
(``--fresh`` finds it anew). What survives and why is in ``survivors.csv``: a survivor without a
line there is printed with “no argument yet”.
"""

from __future__ import annotations

import argparse
import csv
import functools
import gc
import importlib
import importlib.abc
import importlib.util
import json
import os
import pkgutil
import random
import re
import resource
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import CodeType, FrameType, FunctionType, ModuleType
from typing import TYPE_CHECKING

from tests.studies.mutants import (
    PACKAGE,
    ROOT,
    SORTS,
    STRICT,
    Mutant,
    modules_of,
    mutants_of,
    path_of,
    source_of,
    tree_of,
)

if TYPE_CHECKING:
    import pytest

ROOMS = (
    "bench", "diagnosis", "planning", "measurement", "chemistry", "classroom", "experiments",
    "decision", "uncertainty", "text", "plots", "reports", "widgets", "cli", "data",
)  # fmt: skip
TOP = {
    "cli": ("tests/test_cli.py", "tests/test_marking_way.py"),
    "decision": ("tests/test_core_edges.py",), "uncertainty": ("tests/test_core_edges.py",),
}  # fmt: skip
"""Tests of no room of their own that are quick, by the rooms that they are about."""
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
CALLS = ROOT / ".pytest_cache" / "mutation"
ARGUMENTS = Path(__file__).parent / "survivors.csv"
LONGEST_S = 15.0
"""After so many seconds of the processor the rest of a test file is not traced, and so not run."""
BUDGET_S = 4.0
"""Seconds of tests for each mutant, the quickest first; measured while the calls were traced."""
SWITCHES = (
    "-x",
    "-q",
    "-p",
    "no:cacheprovider",
    "-n",
    "0",
    "--no-header",
    "--assert=plain",
    "-o",
    "addopts=",
)
MARKS = ("--doctest-modules", "-m", "not slow and not browser")


_ASLEEP = 30
"""A process that takes so many times its limit by the clock waits for something."""
_NOT_SO = 9


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


class Quick:
    """Has hypothesis try few examples, the same each time, and keep none for the next mutant."""

    def pytest_configure(self) -> None:
        import hypothesis

        settings = hypothesis.settings
        settings.register_profile(
            "mutants", database=None, derandomize=True, max_examples=8, deadline=None
        )
        settings.load_profile("mutants")


class Traced(Quick):
    """Notes for each test that passes which functions of the package it calls, and its seconds."""

    def __init__(self, kept: Path) -> None:
        self.kept = kept
        self.found: dict[str, dict[str, object]] = {}
        self.codes: set[CodeType] = set()
        self.started = 0.0

    def _call(self, frame: FrameType, _event: str, _argument: object) -> None:
        self.codes.add(frame.f_code)

    def pytest_runtest_call(self) -> None:
        self.codes = set()
        self.started = time.process_time()
        sys.settrace(self._call)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        sys.settrace(None)
        if report.when == "call" and report.passed:
            seconds = round(time.process_time() - self.started, 3)
            calls = sorted({name for code in self.codes if (name := name_of(code))})
            self.found[report.nodeid] = {"seconds": seconds, "calls": calls}
            self.kept.write_text(json.dumps(self.found), "utf-8")  # if the file takes too long


def name_of(code: CodeType) -> str:
    """Return module and function of a code of the package, ``""`` for another."""
    if not code.co_filename.startswith(str(PACKAGE)):
        return ""
    module = ".".join(Path(code.co_filename).relative_to(PACKAGE).with_suffix("").parts)
    return f"{module}:{code.co_qualname.partition('.<locals>')[0]}"


def forked(work: Callable[[], int], limit_s: float) -> int | None:
    """Return what a function returns in a forked process without output; None if it hangs.

    The limit is in seconds of the processor, whatever else the machine does.
    """
    child = os.fork()
    if child == 0:
        code = 1
        try:
            null = os.open(os.devnull, os.O_WRONLY)
            if not os.environ.get("MUTATION_LOUD"):
                os.dup2(null, 1)
                os.dup2(null, 2)
            os.setsid()
            os.chdir(ROOT)
            resource.setrlimit(resource.RLIMIT_CPU, (int(limit_s) + 1, int(limit_s) + 2))
            code = work()
        except BaseException:  # noqa: BLE001 - whatever a mutant does
            if os.environ.get("MUTATION_LOUD"):
                traceback.print_exc()
        finally:
            os._exit(code)
    end = time.monotonic() + _ASLEEP * limit_s
    while time.monotonic() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            found = os.waitstatus_to_exitcode(status)
            return None if found in (-signal.SIGXCPU, -signal.SIGKILL) else found
        time.sleep(0.01)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return None


def plant(module: str, source: str) -> None:
    """Put a source in the place of a module or a table of the package, which is not loaded yet."""
    if module.startswith("data."):
        name, read = f"data/{path_of(module).name}", pkgutil.get_data

        def get_data(package: str, resource: str) -> bytes | None:
            same = (package, resource) == ("stoichkit", name)
            return source.encode() if same else read(package, resource)

        pkgutil.get_data = get_data
        return
    sys.meta_path.insert(0, Planted(f"stoichkit.{module}", path_of(module), source))
    importlib.import_module(f"stoichkit.{module}")  # before pytest, which would read the file


def outcome(module: str, source: str, tests: Sequence[str], limit_s: float) -> str:
    """Run tests on a mutant in a forked process."""

    def work() -> int:
        plant(module, source)
        import pytest

        return int(pytest.main([*SWITCHES, *MARKS, *tests], plugins=[Quick()]))

    code = forked(work, limit_s)
    return "timed out" if code is None else "survived" if code == 0 else "killed"


class Loop(Quick):
    """In place of running the tests collected, plants mutants of functions, each in a fork.

    Everything is loaded by then, so that only the code of the function is exchanged.
    """

    def __init__(
        self, work: Sequence[tuple[Mutant, Sequence[str], float]], kept: Path, errors: int
    ) -> None:
        self.work, self.kept, self.errors = work, kept, errors

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        items = {item.nodeid: item for item in session.items}
        found: list[str] = []
        some = [items[test] for _, tests, _ in self.work for test in tests[:1] if test in items]
        some = list(dict.fromkeys(some))
        if forked(lambda: _tried(session, None, some), 300) != 0:
            os.write(self.errors, b"the tests do not pass without a mutant\n")
            return True
        for mutant, tests, limit in self.work:
            chosen = [items[test] for test in tests if test in items]
            code = forked(lambda m=mutant, c=chosen: _tried(session, m, c), limit)  # type: ignore[misc]
            names = {None: "timed out", 0: "survived", _NOT_SO: ""}
            found.append(names.get(code, "killed"))
            said = f"{found[-1] or 'later'} {mutant.module} line {mutant.line}\n"
            os.write(self.errors, said.encode())
            self.kept.write_text(json.dumps(found), "utf-8")
        return True


def _tried(session: pytest.Session, mutant: Mutant | None, chosen: Sequence[pytest.Item]) -> int:
    if mutant is not None and not exchanged(mutant):
        return _NOT_SO
    for item, following in zip(chosen, [*chosen[1:], None], strict=True):
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
        if session.testsfailed:
            return 1
    return 0


def exchanged(mutant: Mutant) -> bool:
    """Put the code of a mutant into the function it stands in; say whether that was possible."""
    path = str(path_of(mutant.module))
    if mutant.module.startswith("data."):  # read anew, as what is kept of tables is forgotten
        plant(mutant.module, source_of(mutant))
        forget()
        return True
    new: dict[tuple[str, int], CodeType] = {}
    left = [compile(tree_of(mutant), path, "exec")]
    while left:
        code = left.pop()
        new[code.co_qualname, code.co_firstlineno] = code
        left += [one for one in code.co_consts if isinstance(one, CodeType)]
    done = False
    forget()
    for one in gc.get_objects():
        if isinstance(one, FunctionType) and one.__code__.co_filename == path:
            code = new.get((one.__code__.co_qualname, one.__code__.co_firstlineno))
            if code is None or len(code.co_freevars) != len(one.__code__.co_freevars):
                continue
            done = done or code.co_qualname == mutant.owner
            one.__code__ = code
    return done


def forget() -> None:
    """Have every function that keeps what it returned work it out again."""
    for one in gc.get_objects():
        if isinstance(one, functools._lru_cache_wrapper):
            one.cache_clear()


def in_one_session(
    work: Sequence[tuple[Mutant, Sequence[str], float]], files: Sequence[str]
) -> list[str]:
    """Return what becomes of each mutant of a function; "" where it could not be planted so."""
    with tempfile.TemporaryDirectory() as folder:
        kept, errors = Path(folder) / "found.json", os.dup(2)

        def session() -> int:
            import pytest

            switches = [switch for switch in SWITCHES if switch != "-x"]
            return int(
                pytest.main([*switches, "-s", *MARKS, *files], plugins=[Loop(work, kept, errors)])
            )

        forked(session, 3000)
        if not kept.exists():
            raise SystemExit("No mutant was planted: do the tests pass without one?")
        found = json.loads(kept.read_text("utf-8"))
    return found + [""] * (len(work) - len(found))


# -- which tests reach what -------------------------------------------------------------------


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
    return [*files, *TOP.get(room, ())]


@dataclass
class Reached:
    """Tests by the function they call, and how long each takes."""

    by_function: dict[str, list[str]] = field(default_factory=dict)
    seconds: dict[str, float] = field(default_factory=dict)

    def add(self, found: dict[str, dict[str, object]]) -> None:
        for test, what in found.items():
            self.seconds[test] = float(what["seconds"])  # type: ignore[arg-type]
            for call in what["calls"]:  # type: ignore[attr-defined]
                self.by_function.setdefault(call, []).append(test)

    def tests(self, mutant: Mutant, budget_s: float) -> list[str]:
        """Return the tests to run: those that reach the place, then others of the same files.

        The others matter where what a function returned is kept: the call is then seen in the
        first test alone. Examples of the module come first, then the quickest.
        """
        module, owner = mutant.module, mutant.owner
        if module.startswith("data."):
            names = OF_TABLES[module.removeprefix("data.")]
            able = {test for test in self.seconds if Path(_file(test)).stem in names}
        elif owner:
            able = set(self.by_function.get(f"{module}:{owner}", ()))
        else:
            calls = [call for call in self.by_function if call.startswith(f"{module}:")]
            able = {test for call in calls for test in self.by_function[call]}
        files = {_file(test) for test in able}
        beside = {test for test in self.seconds if _file(test) in files} - able
        own = str(path_of(module).relative_to(ROOT))

        def order(test: str) -> tuple[bool, bool, float]:
            return test in beside, not test.startswith(own), self.seconds[test]

        chosen, left = [], budget_s
        for test in sorted(able | beside, key=order):
            if self.seconds[test] <= left:
                chosen.append(test)
                left -= self.seconds[test]
        return chosen


def _file(test: str) -> str:
    return test.partition("::")[0]


def reached(room: str, *, fresh: bool = False) -> Reached:
    """Return what the tests of a room call, from what is kept of each file or by running it."""
    CALLS.mkdir(parents=True, exist_ok=True)
    all_found = Reached()
    for file in files_of(room):
        kept = CALLS / f"{file.replace('/', '+')}.json"
        written = (ROOT / file).stat().st_mtime
        if fresh or not kept.exists() or kept.stat().st_mtime < written:
            print(f"tracing {file}", file=sys.stderr, flush=True)
            forked(lambda file=file, kept=kept: _trace(file, kept), LONGEST_S)  # type: ignore[misc]
        if kept.exists():
            all_found.add(json.loads(kept.read_text("utf-8")))
    return all_found


def _trace(file: str, kept: Path) -> int:
    import pytest

    kept.write_text("{}", "utf-8")
    switches = [s for s in SWITCHES if s != "-x"]
    pytest.main([*switches, *MARKS, file], plugins=[Traced(kept)])
    return 0


# -- running ----------------------------------------------------------------------------------


def arguments() -> dict[tuple[str, str], str]:
    """Return why each known survivor is left, by module and what is changed."""
    if not ARGUMENTS.exists():
        return {}
    with ARGUMENTS.open(encoding="utf-8", newline="") as file:
        return {(row["module"], row["mutant"]): row["argument"] for row in csv.DictReader(file)}


@dataclass
class Tally:
    """What became of the mutants of a room."""

    counts: Counter[tuple[str, str, str]] = field(default_factory=Counter)  # module, sort, outcome
    survivors: list[tuple[Mutant, str]] = field(default_factory=list)

    def of(self, **wanted: str) -> tuple[int, int]:
        """Return mutants and those killed (or timed out) with this module or sort."""
        names = ("module", "sort", "result")
        chosen = {
            key: n
            for key, n in self.counts.items()
            if all(dict(zip(names, key, strict=True))[k] == v for k, v in wanted.items())
        }
        return sum(chosen.values()), sum(n for k, n in chosen.items() if k[2] != "survived")


def run(
    mutants: Sequence[Mutant], reach: Reached, budget_s: float, why: Mapping[tuple[str, str], str]
) -> Tally:
    """Try mutants: those of functions in one session, the others with the package loaded anew."""
    tally = Tally()
    work = []
    for mutant in mutants:
        tests = reach.tests(mutant, budget_s)
        work.append((mutant, tests, 5 + 2 * sum(reach.seconds[t] for t in tests)))
    of_functions = [one for one in work if one[1] and one[0].owner]
    files = sorted({test.split("::")[0] for _, tests, _ in of_functions for test in tests})
    found = iter(in_one_session(of_functions, files) if files else ())
    for one in work:
        mutant, tests, limit = one
        result = next(found) if one in of_functions else "" if tests else "survived"
        if not result or (result == "survived" and tests and mutant.module.startswith("data.")):
            result = outcome(mutant.module, source_of(mutant), tests, limit)
        tally.counts[mutant.module, mutant.sort, result] += 1
        if result == "survived":
            note = "" if tests else "no quick test reaches it; "
            argument = why.get((mutant.module, mutant.words), "no argument yet")
            tally.survivors.append((mutant, note + argument))
            line = f"{mutant.module} line {mutant.line}: {mutant.words[:100]} [{mutant.sort}]"
            print(f"survived {line} {note}({len(tests)} tests)", file=sys.stderr, flush=True)
    return tally


def report(title: str, tally: Tally) -> str:
    """Return counts by sort and by module, and the survivors with their arguments, as Markdown."""
    all_, killed = tally.of()
    argued = sum("no argument yet" not in why for _, why in tally.survivors)
    said = [f"## {title}", ""]
    said += [
        f"{all_} mutants: {killed} killed or timed out, {all_ - killed} survived, {argued} of them "
        "with an argument.",
        "",
        "| about | mutants | killed |",
        "|---|---|---|",
    ]
    for sort in SORTS:
        n, dead = tally.of(sort=sort)
        said += [f"| {sort} | {n} | {dead} |"] if n else []
    strict = [tally.of(sort=sort) for sort in STRICT]
    n, dead = sum(a for a, _ in strict), sum(b for _, b in strict)
    share = f" ({100 * dead / n:.0f} %)" if n else ""
    said += [f"| *what people act on* | {n} | {dead}{share} |", ""]
    modules = dict.fromkeys(key[0] for key in tally.counts)
    each = [f"{m} {tally.of(module=m)[1]}/{tally.of(module=m)[0]}" for m in modules]
    said += ["Killed by module: " + ", ".join(each) + ".", ""]
    for mutant, why in sorted(tally.survivors, key=lambda pair: (pair[0].module, pair[0].line)):
        said.append(f"- {mutant.module}, line {mutant.line}: `{shown(mutant)}` – {why}")
    return "\n".join(said) + "\n"


def shown(mutant: Mutant) -> str:
    """Return what is changed, as a report writes it."""
    return mutant.words.replace("`", "'")[:120]


def changed_lines(since: str) -> dict[str, set[int]]:
    """Return the lines of each module or table that differ from a commit."""
    command = ["git", "diff", "--merge-base", "-U0", "--no-color", since, "--", "stoichkit"]
    out = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    found: dict[str, set[int]] = {}
    module = ""
    for line in out.splitlines():
        if line.startswith("+++ b/stoichkit/"):
            path = Path(line.removeprefix("+++ b/stoichkit/"))
            module = ".".join(path.with_suffix("").parts) if path.suffix in (".py", ".csv") else ""
        elif module and (match := re.match(r"@@ \S+ \+(\d+)(?:,(\d+))? @@", line)):
            first, count = int(match[1]), int(match[2] or 1)
            found.setdefault(module, set()).update(range(first, first + count))
    return found


def preload() -> None:
    """Load what every test needs once, before the forks; the package itself must not be."""
    import hypothesis  # noqa: F401
    import numpy  # noqa: F401
    import pytest  # noqa: F401
    import scipy.optimize
    import scipy.special
    import scipy.stats  # noqa: F401
    import uncertainties  # noqa: F401

    assert "stoichkit" not in sys.modules, "the package must not be loaded yet"


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__, prog="python -m tests.studies.mutation")
    parser.add_argument("modules", nargs="*", help="such as bench.recipes or data.hazards")
    parser.add_argument("--room", choices=ROOMS, action="append", default=[])
    parser.add_argument("--sample", type=int, help="so many mutants of each room")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--strict", action="store_true", help="only what people act on")
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--lines", type=int, nargs="+", default=())
    parser.add_argument("--again", metavar="REPORT", help="the survivors that a report lists")
    parser.add_argument("--changed", metavar="COMMIT")
    parser.add_argument(
        "--budget", type=float, default=BUDGET_S, help="seconds of tests for each mutant"
    )
    parser.add_argument("--fresh", action="store_true", help="trace the calls of the tests anew")
    parser.add_argument("--list", action="store_true")
    options = parser.parse_args(argv)
    if options.list:
        for room in ROOMS:
            for module in modules_of(room):
                print(module, len(mutants_of(module)))
        return 0
    chosen: dict[str, list[Mutant]] = {}
    for room in options.room:
        every = [m for module in modules_of(room) for m in mutants_of(module)]
        every = [m for m in every if not options.strict or m.sort in STRICT]
        some = options.sample is not None and options.sample < len(every)
        drawn = random.Random(f"{room} {options.seed}")
        chosen[room] = drawn.sample(every, options.sample) if some else every
    for module in options.modules:
        chosen.setdefault(module.split(".")[0], []).extend(mutants_of(module)[:: options.every])
    if options.again:
        listed = re.findall(r"^- (\S+), line \d+: `(.*?)` –", Path(options.again).read_text(), re.M)
        for module, words in listed:
            found = [m for m in mutants_of(module) if shown(m) == words]
            chosen.setdefault(module.split(".")[0], []).extend(found)
    if options.changed:
        for module, lines in changed_lines(options.changed).items():
            room = module.split(".")[0]
            if room in ROOMS:
                found = [m for m in mutants_of(module) if m.line in lines]
                chosen.setdefault(room, []).extend(found)
    preload()
    why, left = arguments(), 0
    for room, mutants in chosen.items():
        if options.lines:
            mutants = [m for m in mutants if m.line in options.lines]
        mutants = sorted(mutants, key=lambda m: (m.module, m.line, m.node))
        reach = reached(room, fresh=options.fresh)
        started = time.monotonic()
        tally = run(mutants, reach, options.budget, why)
        print(report(room, tally), flush=True)
        print(f"{room}: {time.monotonic() - started:.0f} s", file=sys.stderr)
        left += sum("no argument yet" in text for _, text in tally.survivors)
    return 1 if options.changed and left else 0


if __name__ == "__main__":
    sys.exit(main())
