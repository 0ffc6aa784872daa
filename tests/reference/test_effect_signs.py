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


SOLID, TAKEN_UP, LEFT_OVER = "solid collected", "element taken up", "metal left over"
NEEDS = {
    "wet product": {SOLID}, "residue salt": {SOLID},
    "lost product": {SOLID, "filtered"},  # a plated strip has no filtrate
    "deposit lost": {"plated"},
    "product on metal": {SOLID, LEFT_OVER},  # a gas does not stick to the ribbon
    "metal in product": {SOLID, LEFT_OVER},
    "unreacted solid": {SOLID, "weighed in"},  # none is found in a gas
    "oxidised product": {SOLID, "product tarnishes"},  # silver takes up no oxygen
    "damp vessel": {"filtered", "empty vessel weighed"},  # a crucible has been heated
    "metal dissolved": {LEFT_OVER}, "damp metal": {LEFT_OVER}, "impure metal pieces": {LEFT_OVER},
    "impure metal": {"weighed in"},
    "nitride": {TAKEN_UP, "nitride forms"},
    "unfinished oxidation": {TAKEN_UP}, "wet oxide": {TAKEN_UP}, "smoke": {TAKEN_UP},
    "water left": {"driven off"}, "spitting": {"driven off"}, "dried out": {"driven off"},
    "damp crystals": {"driven off"},
    "decomposed": {"driven off", "residue decomposes"},  # citric acid that is titrated is not
    "gas lost": {"gas collected"}, "air in tube": {"gas collected"},
    "hydrogen evolved": {"charge passed"}, "overshot": {"titrated"},
}  # fmt: skip
"""What a lab must have for an effect to occur; common practice, no source."""
OF_LAB = {
    "acid-titration": {"impure metal", "overshot"},
    "copper-plating": {
        "wet product", "residue salt", "deposit lost", "oxidised product", "hydrogen evolved",
    },
    "copper-silver": {
        "wet product", "residue salt", "lost product", "product on metal", "metal in product",
        "damp vessel", "metal dissolved", "damp metal", "impure metal pieces",
    },
    "hydrate-heating": {
        "impure metal", "water left", "decomposed", "spitting", "dried out", "damp crystals",
    },
    "magnesium-gas": {"impure metal", "gas lost", "air in tube"},
    "tin-oxide": {"impure metal", "unfinished oxidation", "wet oxide", "smoke"},
    "magnesium ribbon": {"impure metal", "nitride", "unfinished oxidation", "wet oxide", "smoke"},
    "iron filings": {
        "wet product", "residue salt", "lost product", "unreacted solid", "oxidised product",
        "damp vessel", "impure metal",
    },
}  # fmt: skip


def test_an_effect_needs_what_makes_it_possible() -> None:
    assert {effect.key: set(effect.applies_to) for effect in catalogue()} == NEEDS


@pytest.mark.parametrize("name", OF_LAB)
def test_a_lab_has_these_effects_and_no_others(name: str) -> None:
    assert {effect.key for effect in effects_for(lab_of(name))} == OF_LAB[name]


def test_current_that_makes_hydrogen_counts_as_consumed() -> None:
    """The charge was passed, so that it is counted, by however many moles a gram of it takes."""
    (action,) = next(e for e in catalogue() if e.key == "hydrogen evolved").actions
    assert (action.side, action.place, action.per_unit) == ("consumed", "moles", 1.0)
