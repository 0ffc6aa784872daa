"""Small faults planted in every room and table: does a quick test notice each of them?

    python -m tests.studies.mutation --list                     # rooms, modules and their mutants
    python -m tests.studies.mutation bench.recipes              # every mutant of a module
    python -m tests.studies.mutation decision.evidence --every 3      # every third
    python -m tests.studies.mutation decision.evidence --lines 34 141    # those of two lines
    python -m tests.studies.mutation --room bench --sample 40   # so many of a room, drawn by a seed
    python -m tests.studies.mutation --changed main             # those of the lines changed since

One mutant at a time: the mutated source takes the place of the module in a forked process, which
runs the tests that reach the statement it stands in, the quickest first, and stops at the first
that fails. The tree itself is never changed. Which test reaches which statement is recorded once
for each test file (:mod:`tests.studies.reach`; ``--fresh`` does it anew). What survives and why is
in ``survivors.csv``: a survivor without a line there is printed with “no argument yet”. There
``same`` is a mutant that gives the same answers whatever is put in, ``tie`` one that differs only
where two computed numbers agree to the last bit, ``choice`` one of a number that might be another.
Rates are given of all mutants, and of all but those of the first two kinds, which no test can tell.
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
import math
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
from types import CodeType, FunctionType, ModuleType
from typing import NamedTuple

import pytest

from tests.studies.mutants import (
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
from tests.studies.reach import (
    KEPT,
    ROOMS,
    Quick,
    Reached,
    file_of,
    files_of,
    kept_of,
    record,
)

ARGUMENTS = Path(__file__).parent / "survivors.csv"
UNTOLD = ("same", "tie")
KINDS = (*UNTOLD, "choice")
BUDGET_S = 15.0
"""Seconds of tests for each mutant, the quickest first; measured while they were recorded."""
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


def reached(room: str, *, fresh: bool = False, only: Sequence[str] = ()) -> Reached:
    """Return what the tests of a room reach, from what is kept of each file or by running it."""
    KEPT.mkdir(parents=True, exist_ok=True)
    files = only or files_of(room)
    old = [file for file in files if fresh or _is_old(file)]
    if old:
        print(f"recording {', '.join(old)}", file=sys.stderr, flush=True)
        switches = [*(s for s in SWITCHES if s != "-x"), *MARKS]
        forked(functools.partial(record, old, switches), 3000)
    all_found = Reached()
    for file in files:
        if kept_of(file).exists():
            all_found.add(json.loads(kept_of(file).read_text("utf-8")))
    return all_found


def _is_old(file: str) -> bool:
    """Say whether a test file, or a module that it reaches, was written after its record."""
    kept = kept_of(file)
    if not kept.exists():
        return True
    found = json.loads(kept.read_text("utf-8"))
    modules = {module for what in found.values() for module in what["places"]}
    paths = [ROOT / file, *(path_of(m) for m in modules if path_of(m).exists())]
    return kept.stat().st_mtime < max(path.stat().st_mtime for path in paths)


# -- running ----------------------------------------------------------------------------------


class Argument(NamedTuple):
    """Why a survivor is left: its kind, one of ``KINDS``, and a sentence."""

    kind: str
    text: str


NO_ARGUMENT = Argument("", "no argument yet")


def arguments() -> dict[tuple[str, str], Argument]:
    """Return why each known survivor is left, by module and what is changed."""
    with ARGUMENTS.open(encoding="utf-8", newline="") as file:
        return {
            (row["module"], row["mutant"]): Argument(row["kind"], row["argument"])
            for row in csv.DictReader(file)
        }


@dataclass
class Tally:
    """What became of the mutants of a room."""

    counts: Counter[tuple[str, str, str]] = field(default_factory=Counter)  # module, sort, outcome
    survivors: list[tuple[Mutant, str]] = field(default_factory=list)

    def of(self, *sorts: str, module: str = "") -> Counted:
        """Return what became of the mutants of these sorts, or of all, in one module or in all."""
        found = Counter[str]()
        for (where, sort, result), n in self.counts.items():
            if (not sorts or sort in sorts) and module in ("", where):
                found[result] += n
        survived, untold = found["survived"], found["untold"]
        return Counted(found.total(), found.total() - survived - untold, untold)


class Counted(NamedTuple):
    """How many mutants, how many were noticed, and how many no test can notice."""

    mutants: int
    noticed: int
    untold: int

    def without(self) -> str:
        """Return how many were noticed of those that a test can notice."""
        return _share(self.noticed, self.mutants - self.untold)


def _share(noticed: int, of: int) -> str:
    return f"{noticed} of {of}" + (f" ({math.floor(100 * noticed / of)} %)" if of else "")


def run(
    mutants: Sequence[Mutant],
    reach: Reached,
    budget_s: float,
    why: Mapping[tuple[str, str], Argument],
) -> Tally:
    """Try mutants: those of functions in one session, the others with the package loaded anew."""
    tally = Tally()
    work = []
    for mutant in mutants:
        tests = reach.tests(mutant, budget_s)
        work.append((mutant, tests, _limit_s(tests, reach)))
    of_functions = [one for one in work if one[1] and one[0].owner]
    files = sorted({file_of(test) for _, tests, _ in of_functions for test in tests})
    found = iter(in_one_session(of_functions, files) if files else ())
    for one in work:
        mutant, tests, limit = one
        result = next(found) if one in of_functions else "" if tests else "survived"
        if not result or (result == "survived" and tests and mutant.module.startswith("data.")):
            result = outcome(mutant.module, source_of(mutant), tests, limit)
        loading = reach.while_loading(mutant, budget_s) if result == "survived" else []
        if loading:
            tests = [*tests, *loading]
            result = outcome(mutant.module, source_of(mutant), loading, _limit_s(loading, reach))
        argument = why.get((mutant.module, mutant.words), NO_ARGUMENT)
        if result == "survived":
            result = "untold" if argument.kind in UNTOLD else result
            note = "" if tests else "no quick test reaches it; "
            tally.survivors.append((mutant, note + argument.text))
            line = f"{mutant.module} line {mutant.line}: {mutant.words[:100]} [{mutant.sort}]"
            print(f"survived {line} {note}({len(tests)} tests)", file=sys.stderr, flush=True)
        tally.counts[mutant.module, mutant.sort, result] += 1
    return tally


def _limit_s(tests: Sequence[str], reach: Reached) -> float:
    return 10 + 1.5 * sum(reach.seconds[test] for test in tests)


def report(title: str, tally: Tally) -> str:
    """Return counts by sort and by module, and the survivors with their arguments, as Markdown."""
    whole, strict = tally.of(), tally.of(*STRICT)
    argued = sum(NO_ARGUMENT.text not in why for _, why in tally.survivors)
    said = [f"## {title}", ""]
    said += [
        f"{whole.mutants} mutants: {whole.noticed} killed or timed out, {len(tally.survivors)} "
        f"survived, {argued} of them with an argument; {whole.untold} no test can tell.",
        "",
        "| about | killed | of those that a test can tell |",
        "|---|---|---|",
    ]
    rows = [(sort, tally.of(sort)) for sort in SORTS]
    rows += [("*what people act on*", strict), ("*all*", whole)]
    for sort, n in rows:
        said += [f"| {sort} | {_share(n.noticed, n.mutants)} | {n.without()} |"] * bool(n.mutants)
    said.append("")
    modules = dict.fromkeys(key[0] for key in tally.counts)
    each = [(module, tally.of(module=module)) for module in modules]
    listed = ", ".join(f"{module} {n.noticed}/{n.mutants}" for module, n in each)
    said += [f"Killed by module: {listed}.", ""]
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
    parser.add_argument(
        "--only", metavar="FILE", nargs="+", default=(), help="run no tests but these: fewer find"
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
        reach = reached(room, fresh=options.fresh, only=options.only)
        started = time.monotonic()
        tally = run(mutants, reach, options.budget, why)
        print(report(room, tally), flush=True)
        print(f"{room}: {time.monotonic() - started:.0f} s", file=sys.stderr)
        left += sum(NO_ARGUMENT.text in text for _, text in tally.survivors)
    return 1 if options.changed and left else 0


if __name__ == "__main__":
    sys.exit(main())
