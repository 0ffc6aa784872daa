"""Worked solutions and reports written as LaTeX are compiled, where pdflatex is to be had.

On Debian: texlive-latex-base and texlive-latex-recommended.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from stoichkit import assess, experiments
from stoichkit.reports.lab import lab_report
from stoichkit.reports.worked import worked_solution

PDFLATEX = shutil.which("pdflatex")
MOST_PT = 30.0
"""How far a line may run over; the margin is 57 pt, and a cell of a table has space beside it."""


@pytest.mark.skipif(PDFLATEX is None, reason="pdflatex is not installed")
@pytest.mark.parametrize("name", experiments.names())
def test_it_compiles_and_stays_on_the_page(name: str, tmp_path: Path) -> None:
    evidence = assess(experiments.load(name))
    written = {"worked": worked_solution(evidence), "report": lab_report(evidence)}
    for what, document in written.items():
        (tmp_path / f"{what}.tex").write_text(document.latex(), "utf-8")
        made = subprocess.run(
            [str(PDFLATEX), "-interaction=nonstopmode", "-halt-on-error", f"{what}.tex"],
            cwd=tmp_path, capture_output=True, check=False,
        )  # fmt: skip
        said = made.stdout.decode("utf-8", "replace")
        assert made.returncode == 0, said[-2000:]
        over = [float(size) for size in re.findall(r"Overfull \\hbox \(([0-9.]+)pt", said)]
        assert max(over, default=0.0) <= MOST_PT, (what, over)
        assert "Missing character" not in said
