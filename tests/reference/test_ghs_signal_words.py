"""Signal words beside hazard statements, against the GHS.

Source: United Nations, Globally Harmonized System of Classification and Labelling of Chemicals
(GHS), Rev. 9 (2021), annex 3, table A3.1 (codification of hazard statements, with the categories)
and chapters 2 to 4 (label elements of each category). From memory, not read for this test.
"""

from __future__ import annotations

import csv
from importlib.resources import files

import pytest

from stoichkit import experiments
from stoichkit.bench import bench_plan, labels
from stoichkit.text.parts import Strong

DANGER = {
    "H220", "H222", "H224", "H225", "H250", "H251", "H260", "H270", "H271", "H300", "H301", "H304",
    "H310", "H311", "H314", "H318", "H330", "H331", "H334", "H340", "H350", "H360", "H370", "H372",
}  # fmt: skip
"""Codes of which every category has the signal word Danger."""
WARNING = {
    "H226", "H252", "H280", "H290", "H302", "H312", "H315", "H317", "H319", "H332", "H335", "H336",
    "H341", "H351", "H361", "H371", "H373", "H400", "H410",
}  # fmt: skip
EITHER = {"H228", "H261", "H272"}
"""Danger or Warning, by the category (flammable solid, water-reactive, oxidiser)."""
NEITHER = {"H362", "H402", "H411", "H412", "H413"}
TABLE = list(
    csv.DictReader((files("stoichkit") / "data" / "hazards.csv").read_text("utf-8").splitlines())
)


def word_of(codes: set[str]) -> set[str]:
    """Return the signal words that a label with these statements may carry: one, the strongest."""
    if codes & DANGER:
        return {"Danger"}
    if codes & EITHER:
        return {"Danger", "Warning"}
    return {"Warning"} if codes & WARNING else {""}


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row['formula']} {row['from_mol_per_L']}")
def test_the_signal_word_of_each_row(row: dict[str, str]) -> None:
    codes = set(row["codes"].split())
    assert codes <= DANGER | WARNING | EITHER | NEITHER, codes
    assert row["signal"] in word_of(codes)


@pytest.mark.parametrize("name", experiments.names())
def test_labels_carry_one_signal_word_the_strongest_of_their_statements(name: str) -> None:
    for label in labels(bench_plan(experiments.load(name), groups=2)).sections:
        codes = {
            statement.split()[0]
            for part in label.parts
            if isinstance(part, str) and part[:1] == "H" and part[1:4].isdigit()
            for statement in part.split("; ")
            if statement[:1] == "H" and statement[1:4].isdigit()
        }
        words = [part.text for part in label.parts if isinstance(part, Strong)]
        assert len(words) == bool(codes - NEITHER)
        assert set(words or [""]) <= word_of(codes)
