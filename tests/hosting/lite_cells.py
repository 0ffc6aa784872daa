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
from stoichkit.uncertainty.readings import parse_number
from stoichkit.widgets.kit.work import Work
from stoichkit.widgets.notebook import PageWidget
from stoichkit.widgets.view.blocks import heading, words
from stoichkit.widgets.view.frame import Region

class Probe:
    key, title, frame = "probe", "Probe", None
    text = read = worked = ""
    place = 1
    work = Work()

    def regions(self):
        return [Region("all", "wide", self.build)]

    def build(self, make):
        return [
            heading("In the browser", 2),
            make.field("reading", "Reading, g", self.text, self.typed),
            words(self.read, "status"),
            make.step("step", "Readability", self.place, ["1 mg", "10 mg", "100 mg"], self.moved),
            words(self.worked, "status"),
        ]

    def typed(self, text):
        self.text = text
        self.read = f"read {parse_number(text, 'reading').value}"

    def moved(self, place):
        self.place = place
        def count(report):
            for i in range(3):
                report(f"step {i}")
            return place
        def done(value):
            self.worked = f"worked out for {value}"
            self.frame.changed()
        self.work.start(count, done=done, failed=print, delay_s=0.05)

PageWidget([Probe()])
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
