"""Whether each effect makes what is measured too large or too small, argued without the code.

``tables/effect_signs.csv`` says for every effect, in a lab that can have it, what it does to the
amount consumed, to the amount produced and to their ratio, and why; common practice, no source,
except that the arguments with numbers use molar masses. An effect without a row fails.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from stoichkit import assess, experiments, weighed
from stoichkit.chemistry.candidates import from_formulas
from stoichkit.decision.verdict import DiagnosisKind
from stoichkit.diagnosis import sentences
from stoichkit.diagnosis.causes import causes_for
from stoichkit.diagnosis.effects import catalogue, effects_for, moved_amounts
from stoichkit.experiments.record import Experiment
from stoichkit.reports.sections import causes_section
from stoichkit.text.parts import Table
from tests.reference.table import rows

TABLE = {row["key"]: row for row in rows("effect_signs")}
SIGN = {"+": 1, "-": -1, "0": 0}
WORDS = {"+": "too large", "-": "too small"}
OTHER = {"+": "too small", "-": "too large"}


def lab_of(name: str) -> Experiment:
    """Return a lab by its name in the table; two are no ready ones."""
    if name == "iron filings":
        return weighed({"Fe": [["1.12"], ["1.14"]]}, {"Cu": [["0.80", "2.07"], ["0.81", "2.11"]]})
    if name == "magnesium ribbon":
        lab = experiments.load("tin-oxide")
        for trial in lab.trials:  # 0.300 g of Mg in each, with the 0.1975 g of O that it takes up
            empty = float(trial.readings["crucible"][0])
            lab = lab.with_reading(trial.name, "crucible + tin", f"{empty + 0.3:.3f}")
            lab = lab.with_reading(trial.name, "crucible + oxide", f"{empty + 0.4975:.3f}")
        return replace(
            lab,
            consumed=replace(lab.consumed, species="Mg"),
            candidates=from_formulas(["MgO", "MgO2"], consumed="Mg", produced="O"),
            candidate_spec=None,
        )
    return experiments.load(name)


def sign(value: float) -> int:
    return (value > 0) - (value < 0)


def test_every_effect_has_a_row_and_no_row_is_left_over() -> None:
    assert {effect.key for effect in catalogue()} == set(TABLE)
    for name in experiments.names():
        assert {effect.key for effect in effects_for(experiments.load(name))} <= set(TABLE)


@pytest.mark.parametrize("key", TABLE)
def test_what_an_effect_adds(key: str) -> None:
    row = TABLE[key]
    lab = lab_of(row["lab"])
    effect = next(one for one in effects_for(lab) if one.key == key)
    consumed, produced = moved_amounts(lab, effect)
    assert (sign(consumed), sign(produced)) == (SIGN[row["consumed"]], SIGN[row["produced"]])


@pytest.mark.parametrize("key", TABLE)
def test_what_an_effect_does(key: str) -> None:
    """To the ratio of the candidates, and in the words of both tables."""
    row = TABLE[key]
    lab = lab_of(row["lab"])
    evidence = assess(lab)
    for candidate in list(evidence.candidates)[:2]:
        causes = causes_for(evidence, candidate)
        cause = next(one for one in causes if one.effect.key == key)
        assert cause.ratio_change == SIGN[row["ratio"]]
        said = sentences.cause_sentence(cause)
        assert f"makes the ratio and the yield {WORDS[row['ratio']]}." in said
        assert OTHER[row["ratio"]] not in said
        place = next(i for i, one in enumerate(causes) if one is cause)
        assert sentences.effects_table(causes).rows[place][-1] == WORDS[row["ratio"]]


def test_what_helps_is_what_moves_the_other_way() -> None:
    """Too much silver for copper(I) is no loss: only what adds silver or hides copper can help."""
    evidence = assess(experiments.load("copper-silver"))  # twice as much silver as copper(I) makes
    able = {cause.effect.key for cause in causes_for(evidence, "copper(I)") if cause.explains}
    assert able
    assert {TABLE[key]["ratio"] for key in able} == {"+"}


def test_the_report_says_the_same() -> None:
    evidence = assess(experiments.load("copper-silver"))
    keys = {effect.name: effect.key for effect in effects_for(evidence.experiment)}
    section = causes_section(evidence, names=["copper(I)"])
    assert section is not None
    (table,) = (part for part in section.parts if isinstance(part, Table))
    assert table.header[2] == "Makes ratio and yield"
    assert table.rows
    for row in table.rows:
        assert row[2] == WORDS[TABLE[keys[row[0]]]["ratio"]]


def test_a_shift_is_called_by_its_side() -> None:
    """Half as much silver again as copper(II) allows is more, a third less is less."""
    for factor, word in ((1.5, "more"), (0.67, "less")):
        made = [0.47 / 63.546 * 2 * 107.868 * factor, 0.37 / 63.546 * 2 * 107.868 * factor]
        lab = weighed(
            {"Cu": [["3.12", "2.65"], ["2.98", "2.61"]]},
            {"Ag": [["0.71", f"{0.71 + made[0]:.2f}"], ["0.70", f"{0.70 + made[1]:.2f}"]]},
            states=[2],
        )
        found = assess(lab).diagnosis
        assert found.kind is DiagnosisKind.SHIFTED
        assert (found.shift > 0) == (word == "more")
        assert f" % {word} Ag than copper(II)" in found.sentence
