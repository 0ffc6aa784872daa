"""Hostile names and files: shown, not obeyed; refused with a reason, not swallowed."""

from __future__ import annotations

import os
import resource
import time
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pytest

import stoichkit
from stoichkit import experiments, guide
from stoichkit.classroom import assess_class
from stoichkit.errors import StoichkitError
from stoichkit.reports.classroom import class_report
from stoichkit.reports.lab import lab_report

HOSTILE = (
    "<script>alert(1)</script>", "<img src=x onerror=alert(1)>", '"><svg onload=alert(1)>',
    "=HYPERLINK(\"http://x\",\"y\")", "+1+1", "@SUM(A1)", "-2+3", "\t=1", "a\u202ecba", "é" * 200,
    "${7*7}", "{{7*7}}", "$\\input{x}$", "](javascript:alert(1))", "'; DROP TABLE x; --",
    "\x07bell",
)  # fmt: skip
SHEET = "group,wire before,wire after,paper,paper + silver\n"


class Active(HTMLParser):
    """Collects whatever could act on a page."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("script", "iframe", "object", "embed", "link", "form", "base"):
            self.found.append(tag)
        for name, value in attrs:
            word = (value or "").strip().lower()
            if name.startswith("on") or word.startswith(("javascript:", "http:", "https:", "//")):
                if name.startswith("xmlns"):
                    continue
                self.found.append(f"{tag} {name}={value}")


def active_parts(page: str) -> list[str]:
    parser = Active()
    parser.feed(page)
    return parser.found


def quoted(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"'


@pytest.mark.parametrize("name", HOSTILE)
def test_names_in_a_lab_report_act_nowhere(name: str) -> None:
    text = experiments.read("copper-silver")
    lab = stoichkit.parse_experiment(text)
    first = lab.trials[0]
    try:
        lab = lab.with_trials([stoichkit.Trial(name, first.readings), *lab.trials[1:]])
    except StoichkitError:
        assert not name.isprintable() or name != name.strip() or len(name) > 80
        return
    page = lab_report(stoichkit.assess(lab)).html()
    assert active_parts(page) == []
    assert "\x07" not in page


def test_names_in_a_class_act_nowhere_and_are_all_there() -> None:
    rows = [f"{quoted(n)},2.94,2.82,0.75,1.15" for n in HOSTILE]
    found = assess_class((SHEET + "\n".join(rows)).encode(), "copper-silver")
    page = class_report(found).html()
    assert active_parts(page) == []
    assert len(found.evidence.names) == len(HOSTILE)


def test_no_cell_of_an_export_begins_a_formula(tmp_path: Path) -> None:
    rows = [f"{quoted(n)},2.94,2.82,0.75,1.15" for n in HOSTILE]
    data = stoichkit.load_class(
        (SHEET + "\n".join(rows)).encode(), experiments.load("copper-silver")
    )
    path = stoichkit.classroom.export_results(
        stoichkit.assess_class(data).evidence, tmp_path / "r.csv"
    )
    import csv

    with path.open(encoding="utf-8-sig", newline="") as file:
        cells = [row[0] for row in csv.reader(file)]
    assert len(cells) > len(HOSTILE)
    assert not any(cell.lstrip().startswith(("=", "+", "@", "-")) for cell in cells)


@pytest.mark.parametrize("ending", [".csv", ".xlsx", ".toml"])
def test_a_file_of_one_gigabyte_is_refused_at_once(ending: str, tmp_path: Path) -> None:
    """A file with a hole: one gigabyte long without taking the room."""
    path = tmp_path / f"huge{ending}"
    with path.open("wb") as file:
        file.truncate(1_000_000_000)
    lab = experiments.load("copper-silver")
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    with pytest.raises(StoichkitError, match=r"1,000,000,000 bytes|too large|at most"):
        stoichkit.load_experiment(path) if ending == ".toml" else stoichkit.load_class(path, lab)
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 100_000  # kB


def test_a_pipe_that_never_ends_is_refused(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.csv"
    os.mkfifo(pipe)
    with pytest.raises(StoichkitError):
        stoichkit.load_class(pipe, experiments.load("copper-silver"))
    with pytest.raises(StoichkitError):
        stoichkit.load_experiment(pipe)


@pytest.mark.parametrize(
    "name",
    ["../../etc/passwd", "/etc/passwd", "copper-silver/../tin-oxide", "", ".", "CON", "a\0b"],
)
def test_names_of_ready_things_are_no_paths(name: str) -> None:
    with pytest.raises(StoichkitError):
        experiments.load(name)
    with pytest.raises(StoichkitError):
        guide.page(name)
    with pytest.raises(StoichkitError):
        experiments.class_file(name)


def test_text_of_a_formula_or_equation_is_never_run() -> None:
    marker = "__import__('os').environ.__setitem__('STOICHKIT_RAN', 'yes')"
    for call in (
        stoichkit.molar_mass, stoichkit.balance_equation, stoichkit.parse_formula,
        stoichkit.parse_experiment,
    ):  # fmt: skip
        with pytest.raises(StoichkitError):
            call(marker)
    assert "STOICHKIT_RAN" not in os.environ


def test_deep_nesting_and_long_repeats_are_answered_at_once(
    measured: Callable[[str], None],
) -> None:
    texts = (
        "(" * 5000 + "H" + ")" * 5000, "H" * 9999, "[" * 10_000, "H2O + " * 3000 + "-> X",
        "a = " + "[" * 3000, "a." * 3000 + "b = 1", "\n".join(f"[t{i}]" for i in range(20_000)),
    )  # fmt: skip
    start = time.process_time()
    for text in texts:
        for call in (
            stoichkit.parse_formula, stoichkit.balance_equation, stoichkit.parse_experiment,
        ):  # fmt: skip
            try:
                call(text)
            except StoichkitError as refusal:
                assert len(str(refusal)) < 2000  # noqa: PT017
    measured(f"deep nesting and long repeats refused in {time.process_time() - start:.1f} s")
