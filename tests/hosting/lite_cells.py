"""What the tests run in the in-browser kernel, as the cells of a notebook."""

from __future__ import annotations

import json

__all__ = ["CALCULATED", "WIDGETS", "notebook_text"]

CALCULATED = """
import json, sys, tempfile, threading
from pathlib import Path

import stoichkit
from stoichkit.uncertainty.sources import format_number

lab = stoichkit.experiments.load("copper-silver")
again = stoichkit.parse_experiment(lab.to_toml())
with tempfile.TemporaryDirectory() as folder:
    kept = stoichkit.save_experiment(lab, Path(folder) / "lab.toml").read_text("utf-8")
try:
    threading.Thread(target=int).start()
    threads = True
except RuntimeError:
    threads = False
consumed, produced = lab.amounts()[0]
print("RESULT" + json.dumps({
    "python": sys.version_info[:2],
    "platform": sys.platform,
    "molar_mass": format_number(stoichkit.molar_mass("CuSO4.5H2O"), unit="g/mol"),
    "equation": stoichkit.balance_equation("Cu + Ag^+ -> Cu^2+ + Ag").text(),
    "candidates": [candidate.name for candidate in lab.candidates],
    "amounts": [format_number(1000 * one, unit="mmol") for one in (consumed, produced)],
    "same": again == lab,
    "kept": kept == lab.to_toml(),
    "threads": threads,
}))
"""
WIDGETS = """
import ipywidgets
from IPython.display import display

from stoichkit.uncertainty.readings import parse_number
from stoichkit.widgets.kit.controls import Field, LiveText, style_sheet
from stoichkit.widgets.kit.controls import Slider
from stoichkit.widgets.kit.work import Work

alert, line, worked = LiveText(role="alert"), LiveText(look="stoichkit-verdict"), LiveText()
work = Work()

def typed(text):
    line.text = f"read {parse_number(text, 'reading').value}"

def moved(value):
    def count(report):
        for i in range(3):
            report(f"step {i}")
        return value
    work.start(count, done=lambda v: setattr(worked, "text", f"worked out for {v}"),
               failed=lambda e: setattr(worked, "text", str(e)), delay_s=0.05)

box = ipywidgets.VBox([
    style_sheet(), ipywidgets.HTML("<h2>In the browser</h2>"), alert,
    Field("Reading, g", "", typed, alert).box, line,
    Slider("Readability", [0.001, 0.01, 0.1], 0.01, moved, unit="g"), worked,
])
box.add_class("stoichkit-panel")
display(box)
"""


def notebook_text() -> str:
    """Return the notebook, to be written into a file."""
    cells = [
        {
            "cell_type": "code",
            "id": f"cell-{i}",
            "metadata": {},
            "execution_count": None,
            "outputs": [],
            "source": source.strip(),
        }
        for i, source in enumerate((CALCULATED, WIDGETS))
    ]
    kernel = {"display_name": "Python 3", "language": "python", "name": "python3"}
    whole = {"cells": cells, "metadata": {"kernelspec": kernel}, "nbformat": 4, "nbformat_minor": 5}
    return json.dumps(whole)
