"""Every notebook runs, its named values are right, and it is committed with clean outputs.

``python -m tests.test_notebooks`` runs all of them and writes their outputs anew.
"""

from __future__ import annotations

import json
import os
import re
from pathlib import Path
from typing import Any

import pytest

nbformat = pytest.importorskip("nbformat", reason="nbformat is not installed")
nbclient = pytest.importorskip("nbclient", reason="nbclient is not installed")

ROOT = Path(__file__).parents[1]
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
MOST_BYTES = 300_000
VIEW = "application/vnd.jupyter.widget-view+json"

VALUES = {
    "readings-and-verdict.ipynb": {
        "evidence.verdict.kind.value": "singled_out",
        "list(evidence.verdict.candidates)": ["copper(II)"],
        "round(evidence.ratio, 2)": 2.07,
        "panel.lab.waits": "",
        "evidence.experiment.invented": True,
    },
    "can-the-balance-tell.ipynb": {"labs[0.01].counts.right > 360": True},
    "self-study.ipynb": {
        "ratio.answer": "2.0",
        "sorted(questions[-2].right)": ["copper(I)"],
        "coarse.verdict.kind.value": "not_told_apart",
        "panel.lab.study.progress": "0 of 14 answered",
        "[chosen.id, chosen.level]": ["86CAU28", 2],
    },
    "published-examples.ipynb": {"agreeing": 31, "len(everything)": 32},
    "toolkit.ipynb": {
        "panel.verdict.kind.value": "singled_out",
        "size_kB < 200": True,
    },
    "plan-a-lab.ipynb": {"answer.reached": False, "len(setups.setups)": 5},
    "why-is-it-off.ipynb": {
        "evidence.verdict.kind.value": "none_fits",
        "[cause.effect.key for cause in causes if cause.explains]": [
            "wet product",
            "residue salt",
            "product on metal",
            "damp metal",
        ],
        "stoichkit.find_slips(slipped)[0].corrected": ["3.14"],
        "sum(not one.verdict.candidates for one in found.values())": 7,
    },
    "class-results.ipynb": {
        "list(result.verdict.verdict.candidates)": ["copper(II)"],
        "[len(result.evidence), list(result.slips), list(result.verdict.outlying)]": [
            9,
            ["plum"],
            ["plum"],
        ],
        "[coded.coded, 'plum' in text]": [True, False],
        "[len(seconds), settled.verdict.verdict.kind.value]": [10, "singled_out"],
    },
    "worked-solution.ipynb": {
        "panel.lab.waits": "",
        "source.count('begin{longtable}')": 2,
        "[report.suffix, markdown.suffix]": [".html", ".md"],
        "coarse.verdict.kind.value": "not_told_apart",
    },
}
"""Expressions over the names of a notebook, and what they are after it has run."""
ONLY_TABLES = {"published-examples.ipynb"}


def executed(path: Path, *, more: str = "") -> Any:
    """Return a notebook with the outputs of running it, and of one more cell if given."""
    notebook = nbformat.read(path, as_version=4)
    if more:
        notebook.cells.append(nbformat.v4.new_code_cell(more))
    client = nbclient.NotebookClient(
        notebook,
        timeout=300,
        kernel_name="python3",
        store_widget_state=False,
        coalesce_streams=True,  # a busy machine sends one text in two
        resources={"metadata": {"path": str(path.parent)}},
    )
    with pytest.MonkeyPatch.context() as patch:
        paths = [str(ROOT), os.environ.get("PYTHONPATH", "")]
        patch.setenv("PYTHONPATH", os.pathsep.join(filter(None, paths)))
        client.execute()
    return notebook


def clean(notebook: Any) -> Any:
    """Leave out what only a running kernel gives meaning to: widget views, times, traces."""
    notebook.metadata.pop("widgets", None)
    notebook.metadata["kernelspec"] = {
        "display_name": "Python 3",
        "language": "python",
        "name": "python3",
    }
    notebook.metadata["language_info"] = {"name": "python"}
    for cell in notebook.cells:
        cell.metadata.pop("execution", None)
        for output in cell.get("outputs", ()):
            output.get("data", {}).pop(VIEW, None)
    return notebook


def refresh() -> None:
    """Run every notebook and write it with its outputs."""
    for path in NOTEBOOKS:
        nbformat.write(clean(executed(path)), path)
        print(f"{path.name}: {path.stat().st_size:,} bytes")


def test_every_notebook_has_its_values() -> None:
    assert {path.name for path in NOTEBOOKS} == set(VALUES)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
def test_notebook_runs_and_its_values_are_right(path: Path) -> None:
    wanted = VALUES[path.name]
    pairs = ", ".join(f"{expression!r}: {expression}" for expression in wanted)
    notebook = executed(path, more=f"import json; print(json.dumps({{{pairs}}}))")
    assert json.loads(notebook.cells[-1].outputs[-1].text) == wanted


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
def test_notebook_is_committed_with_clean_outputs(path: Path) -> None:
    notebook = nbformat.read(path, as_version=4)
    nbformat.validate(notebook)
    assert path.stat().st_size < MOST_BYTES
    assert "widgets" not in notebook.metadata
    text = path.read_text("utf-8")
    assert VIEW not in text
    assert str(Path.home()) not in text
    assert str(ROOT) not in text
    for cell in notebook.cells:
        if cell.cell_type == "code":
            assert cell.outputs, "run python -m tests.test_notebooks"
            assert all(output.output_type != "error" for output in cell.outputs)
            assert all(output.get("name") != "stderr" for output in cell.outputs)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
def test_every_picture_of_a_notebook_has_a_description(path: Path) -> None:
    notebook = nbformat.read(path, as_version=4)
    outputs = [o for cell in notebook.cells for o in cell.get("outputs", ())]
    data = [output.get("data", {}) for output in outputs]
    assert not any(kind.startswith("image/") for one in data for kind in one)
    pages = "".join("".join(one.get("text/html", "")) for one in data)
    pictures = re.findall(r"<img [^>]*>", pages)
    assert pictures or path.name in ONLY_TABLES
    assert all(re.search(r'alt="[^"]{40,}"', picture) for picture in pictures)


if __name__ == "__main__":
    refresh()
