"""Sentences of a lab of one's own, word by word; lists, limits and figures worked out by hand."""

from __future__ import annotations

from typing import Any

import pytest

from stoichkit.errors import ExperimentError
from stoichkit.experiments import Sentence, suggestions, understood, ways
from stoichkit.experiments.dialogue import asked
from stoichkit.experiments.own import MAX_TEXT, Said, unweighed, weighed
from tests.experiments.test_own import LABS

SENTENCES = {
    "displacement": "[metal] was used up, weighed [weighed]; it made [product] out of a solution "
    "of [ion], weighed [product_weighed]. Which of [states] formed?",
    "hydrate": "Crystals of [salt] with water were heated until no water was left; the crucible "
    "was weighed [weighed]. Which of [waters] was it?",
    "oxide": "[metal] was turned into its oxide in a crucible, which was weighed [weighed]. Which "
    "of [oxides] formed?",
    "gas": "[substance] was used up, weighed [weighed]; it gave off [gas], collected [collected] "
    "at [temperature] °C and [pressure] kPa. Which of [candidates] is true?",
    "plating": "A measured current, for a measured time, plated [metal], weighed [weighed]. Which "
    "of [states] was discharged?",
    "titration": "[substance] was weighed [weighed] and titrated with [titrant] of [concentration] "
    "± [error] mol/L; the burette was read [volume]. How much for each: [candidates]?",
    "precipitate": "[substance] was used up, weighed [weighed]; its [species] came down as "
    "[precipitate], weighed [product_weighed]. How much for each: [candidates]?",
    "dissolved": "[substance] was used up out of a solution of [concentration] ± [error] mol/L; "
    "the burette was read [volume]. Its [species] came down as [precipitate], weighed "
    "[product_weighed]. How much for each: [candidates]?",
    "reaction": "[substance] was used up, weighed [weighed]; it made [product], weighed "
    "[product_weighed]. Which of [candidates] is true?",
}
INSTRUMENTS = {
    "balance": "readability of the balance, g: 0.01; repeatability of the balance, g",
    "gas tube": "capacity of the gas tube, mL: 50; graduation of the gas tube, mL: 0.2; tolerance "
    "of the gas tube, mL",
    "thermometer": "readability of the thermometer, °C: 0.1; tolerance of the thermometer, °C",
    "barometer": "readability of the barometer, kPa: 0.1; tolerance of the barometer, kPa",
    "ammeter": "readability of the ammeter, A: 0.01; tolerance of the ammeter, A",
    "timer": "readability of the timer, s: 0.01",
    "burette": "capacity of the burette, mL: 50; graduation of the burette, mL; tolerance of the "
    "burette, mL",
}
ON_THE_BENCH = {
    "displacement": "balance", "hydrate": "balance", "oxide": "balance",
    "gas": "balance, gas tube, thermometer, barometer", "plating": "balance, ammeter, timer",
    "titration": "balance, burette", "precipitate": "balance", "dissolved": "balance, burette",
    "reaction": "balance",
}  # fmt: skip


def said(way: str, slot: str, text: str, **others: str) -> Said:
    given = {**LABS[way][0], **others, slot: text}
    return understood(Sentence(way, given)).slots[slot]


@pytest.mark.parametrize("way", ways(), ids=lambda way: way.key)
def test_the_sentences_are_these(way: Any) -> None:
    words = "".join(part if isinstance(part, str) else f"[{part.name}]" for part in way.parts)
    assert words == SENTENCES[way.key]


@pytest.mark.parametrize("way", ways(), ids=lambda way: way.key)
def test_each_figure_of_an_instrument_has_its_unit_and_its_usual_value(way: Any) -> None:
    lines = [
        "; ".join(
            f"{slot.label}: {slot.default}" if slot.default else slot.label
            for slot in line
            if not isinstance(slot, str)
        )
        for line in way.instruments
    ]
    assert lines == [INSTRUMENTS[name] for name in ON_THE_BENCH[way.key].split(", ")]


# Multiplying prefixes of IUPAC (Red Book 2005, table IV), from memory
@pytest.mark.parametrize(
    ("word", "waters"),
    [
        ("hemi", "1/2"), ("sesqui", "3/2"), ("mono", "1"), ("di", "2"), ("tri", "3"),
        ("tetra", "4"), ("penta", "5"), ("hexa", "6"), ("hepta", "7"), ("octa", "8"),
        ("nona", "9"), ("deca", "10"), ("undeca", "11"), ("dodeca", "12"),
    ],
)  # fmt: skip
def test_hydrates_by_their_words(word: str, waters: str) -> None:
    found = understood(Sentence("hydrate", {"salt": "CaSO4", "waters": f"{word}hydrate"}))
    assert [str(one.ratio) for one in found.candidates] == [waters]
    bare = understood(Sentence("hydrate", {"salt": "CaSO4", "waters": word}))
    assert "no hydrate of CaSO4" in str(bare.refusals["waters"])


def test_waters_left_empty_are_one_to_twelve_and_the_usual_first() -> None:
    """Gypsum is CaSO4·2H2O, plaster the hemihydrate."""
    found = understood(Sentence("hydrate", {"salt": "CaSO4"})).candidates
    assert [str(one.ratio) for one in found] == ["1/2", *(str(n) for n in range(1, 13))]
    offered = suggestions(Sentence("hydrate", {"salt": "CaSO4"}), "waters")
    usual_first = ["1/2", "2", "1", *(str(n) for n in range(3, 13))]
    assert [one.text for one in offered] == usual_first
    assert suggestions(Sentence("hydrate"), "waters") == ()


@pytest.mark.parametrize(
    ("metal", "oxides"),
    [
        ("Al", "Al2O3 Al2O AlO AlO2"),  # Al2O3 is usual: 3/2 of those from 1/2 to 2 is there
        ("Zn", "ZnO Zn2O Zn2O3 ZnO2"),
        ("Tl", "Tl2O TlO Tl2O3 TlO2"),  # none is in the table
        ("Fe", "FeO Fe3O4 Fe2O3"),
        ("Cu", "Cu2O CuO"),  # two are enough
    ],
)
def test_oxides_left_empty_have_something_to_be_compared_with(metal: str, oxides: str) -> None:
    sentence = Sentence("oxide", {"metal": metal})
    assert " ".join(one.name for one in understood(sentence).candidates) == oxides
    assert " ".join(one.text for one in suggestions(sentence, "oxides")) == oxides


def test_what_is_not_usual_is_suggested_to_compare_with_and_no_violent_metal() -> None:
    offered = suggestions(Sentence("oxide", {"metal": "Zn"}), "oxides")
    assert [one.label for one in offered][:2] == ["ZnO", "Zn₂O, to compare with"]
    assert suggestions(Sentence("oxide"), "oxides") == ()
    metals = {one.text for one in suggestions(Sentence("oxide"), "metal")}
    assert {"Mg", "Cu", "Fe"} <= metals
    assert not metals & {"Ca", "Ba", "Hg", "Na"}


def test_an_oxide_by_the_state_of_the_metal() -> None:
    """n(O)/n(Sn) is half the state: SnO for II, Sn2O3 for III, SnO2 for IV."""
    found = understood(Sentence("oxide", {"metal": "Sn", "oxides": "I; II; III; IV"}))
    assert [one.name for one in found.candidates] == ["Sn2O", "SnO", "Sn2O3", "SnO2"]


@pytest.mark.parametrize(
    ("way", "slot", "text", "words"),
    [
        ("titration", "concentration", "0.1 mol/L", "0.1 mol/L"),
        ("titration", "concentration", "0.0000001", "0.0000001 mol/L"),
        ("titration", "error", "0 mol/L", "0 mol/L"),
        ("titration", "error", "", "its error is left out"),
        ("gas", "temperature", "20 °C", "20 °C"),
        ("gas", "temperature", "-50", "-50 °C"),
        ("gas", "temperature", "", "read in each trial"),
        ("gas", "pressure", "101.3 kPa", "101.3 kPa"),
        ("gas", "pressure", "0", "0 kPa"),
        ("gas", "pressure", "", "read in each trial"),
    ],
)
def test_numbers_are_said_with_their_units(way: str, slot: str, text: str, words: str) -> None:
    found = said(way, slot, text)
    assert found.refusal is None
    assert found.items == (words,)


@pytest.mark.parametrize(
    ("way", "slot", "text", "allowed"),
    [
        ("titration", "concentration", "0", "above 0 mol/L"),
        ("titration", "error", "-0.0001", "0 mol/L or more"),
        ("gas", "temperature", "-50.1", "-50 °C or more"),
        ("gas", "pressure", "-0.1", "0 kPa or more"),
    ],
)
def test_numbers_below_their_limits_are_refused(
    way: str, slot: str, text: str, allowed: str
) -> None:
    refusal = str(said(way, slot, text).refusal)
    assert f"is too small. Given: {text}. Allowed: {allowed}." in refusal


def test_a_gas_that_is_no_hydrogen_of_a_metal_is_asked_by_its_ratio() -> None:
    """CaCO3 gives one CO2; only of a metal in acid is the oxidation state asked."""
    carbonate = {"substance": "CaCO3", "gas": "CO2", "candidates": ""}
    sentence = Sentence("gas", {**LABS["gas"][0], **carbonate})
    empty = understood(sentence).refusals["candidates"]
    assert "It is not said what may have happened" in str(empty)
    offered = [one.text for one in suggestions(sentence, "candidates")]
    assert offered == ["1/2", "1", "3/2", "2"]
    (one,) = understood(sentence.with_text("candidates", "1")).candidates
    assert (one.name, one.ratio) == ("1 CO2 per CaCO3", 1)
    sulfur = sentence.with_text("substance", "S").with_text("gas", "H2")
    assert [one.text for one in suggestions(sulfur, "candidates")] == offered
    metal = sentence.with_text("substance", "Zn").with_text("gas", "H2")
    assert [str(one.ratio) for one in understood(metal).candidates] == ["1/2", "1", "3/2"]


def test_what_was_made_is_not_what_was_used_up() -> None:
    refusal = said("reaction", "product", "NaHCO3").refusal
    assert "This is what was used up" in str(refusal)


def test_plating_names_the_ion_by_its_charge() -> None:
    """One electron a silver atom, three an indium atom."""
    for metal, names in (("Ag", ["silver(I)", "silver(II)"]), ("In", ["indium(I)", "indium(III)"])):
        states = "I, II" if metal == "Ag" else "I, III"
        found = understood(Sentence("plating", {"metal": metal, "states": states})).candidates
        assert [one.name for one in found] == names
        assert [str(one.ratio) for one in found] == ["1", "1/2" if metal == "Ag" else "1/3"]


def test_a_list_has_fifty_items_at_most_and_a_text_two_thousand_letters() -> None:
    assert said("displacement", "states", "2; " * 50).refusal is None
    assert "too long. Given: 51" in str(said("displacement", "states", "2; " * 51).refusal)
    assert MAX_TEXT == 2000
    assert said("displacement", "metal", "Fe".ljust(2000)).refusal is None
    assert "Given: 2001" in str(said("displacement", "metal", "Fe".ljust(2001)).refusal)


TOLERANCE = "gas tube.tolerance_mL"


def test_glass_of_another_size_can_be_used_once_its_tolerance_is_typed() -> None:
    """No table lists a tube of 30 mL; the figure printed on the glass is what counts."""
    refused = said("gas", "gas tube.capacity_mL", "30").refusal
    assert "Or give tolerance_mL" in str(refused)
    sentence = Sentence("gas", {**LABS["gas"][0], "gas tube.capacity_mL": "30", TOLERANCE: "0,3"})
    found = understood(sentence)
    assert not found.refusals
    assert found.experiment is not None
    tube = found.experiment.instruments["gas tube"]
    assert (tube.capacity_mL, tube.tolerance_mL) == (30, 0.3)  # type: ignore[attr-defined]
    assert "30 mL" in found.slots["gas tube.capacity_mL"].items[0]
    burette = said("titration", "burette.capacity_mL", "30", **{"burette.tolerance_mL": "0.1"})
    assert "Give graduation_mL" in str(burette.refusal)


def test_figures_that_do_not_fit_together_are_refused_at_the_first() -> None:
    """±6 mL is less than the usual 50 mL, and more than a tube of 5 mL holds."""
    assert said("gas", TOLERANCE, "6").refusal is None
    found = understood(
        Sentence("gas", {**LABS["gas"][0], "gas tube.capacity_mL": "5", TOLERANCE: "6"})
    )
    assert found.experiment is None
    assert list(found.refusals) == ["gas tube.capacity_mL"]
    assert "tolerance_mL" in str(found.refusals["gas tube.capacity_mL"])
    both = understood(
        Sentence("gas", {**LABS["gas"][0], "gas tube.capacity_mL": "-1", TOLERANCE: "99"})
    )
    assert list(both.refusals) == ["gas tube.capacity_mL", TOLERANCE]


@pytest.mark.parametrize("side", ["consumed", "produced"])
@pytest.mark.parametrize("wrong", [{}, {"Fe": ["1.0", "2.0", "3.0"]}, {"Fe": []}, 3])
def test_what_was_weighed_wrongly_is_named_by_its_side(side: str, wrong: object) -> None:
    right: dict[str, Any] = {"consumed": {"Fe": ["7.3", "6.2"]}, "produced": {"Cu": ["1.4", "2.7"]}}
    with pytest.raises(ExperimentError) as refused:
        weighed(**{**right, side: wrong})
    assert refused.value.field == side


def test_substances_of_other_ways_are_named_by_their_argument() -> None:
    pair = ["5.00", "3.32"]
    for consumed, produced, field in (("Xx", "CuO", "consumed"), ("Cu", "Xx", "produced")):
        with pytest.raises(ExperimentError) as refused:
            weighed({consumed: pair}, {produced: pair}, candidates=["1"])
        assert refused.value.field == field
    with pytest.raises(ExperimentError) as missing:
        weighed({"": pair}, {"Cu": pair})
    assert (missing.value.field or "").startswith("consumed")
    assert unweighed("CuCl2").title == "Water in crystals of CuCl₂"
    assert unweighed("Cu").title == "Which oxide does copper form?"


@pytest.mark.parametrize("wrong", [0, 10, 2.5])
def test_a_state_that_is_none_is_named_by_its_place(wrong: float) -> None:
    fe, cu = {"Fe": ["7.3", "6.2"]}, {"Cu": ["1.4", "2.7"]}
    with pytest.raises(ExperimentError, match=r"states\[2\]"):
        weighed(fe, cu, states=[2, wrong])  # type: ignore[list-item]
    with pytest.raises(ExperimentError, match=r"states\[3\]"):
        unweighed("Fe", "CuSO4", states=[1, 9, wrong])  # type: ignore[list-item]


def test_balances_by_trial() -> None:
    """One step a trial; the usual balance is the first, and the same step is the same balance."""
    fe, cu = {"Fe": [["7.3", "6.2"]] * 4}, {"Cu": [["1.4", "2.7"]] * 4}
    lab = weighed(fe, cu, balance_g=[0.1, 0.01, 0.1, 0.001])
    steps = {name: one.readability for name, one in lab.instruments.items()}
    assert steps == {"balance": 0.1, "balance 2": 0.01, "balance 3": 0.001}
    used = [dict(trial.instruments).get("balance", "balance") for trial in lab.trials]
    assert used == ["balance", "balance 2", "balance", "balance 3"]
    assert weighed(fe, cu).instruments["balance"].readability == 0.01
    assert unweighed("Fe", "CuSO4").instruments["balance"].readability == 0.01
    with pytest.raises(ExperimentError, match="3 for 4 trials"):
        weighed(fe, cu, balance_g=[0.1, 0.1, 0.1])


# -- question by question ---------------------------------------------------------------------


def spoken(*answers: str) -> list[str]:
    """Return all that is asked and told in a conversation."""
    left, told = iter(answers), list[str]()

    def ask(question: str) -> str:
        told.append(question)
        assert len(told) < 90
        return next(left, "")

    asked(ask, told.append)
    return told


def test_a_trial_that_cannot_be_is_asked_once_more() -> None:
    """Water boils at 20 °C under 2.3 kPa: at 1 kPa no gas stands over it."""
    told = spoken(
        "4", "Mg", "", "H2", "", "", "", "", "", "",
        "0.036", "36.5", "20.0", "1.0",
        "0.036", "36.5", "20.0", "101.3",
    )  # fmt: skip
    assert "  Trial 1 once more." in told
    assert "Trial 1, Mg, g: " in told[told.index("  Trial 1 once more.") :]
    assert "Trial 2, Mg, g: " in told


def test_of_many_suggestions_eight_are_shown_and_of_five_states_the_ends() -> None:
    told = spoken("1", "Fe", "", "Cu", "", "", "2, 3", "", "")
    (metals,) = [line for line in told if line.startswith("Metal used up, such as")]
    assert metals.endswith(" / ...")
    assert metals.count(" / ") == 8  # between eight, and before the dots
    gas = spoken("4", "Mg", "", "H2", "", "", "", "", "", "")
    (used,) = [line for line in gas if line.startswith("Substance used up, such as")]
    assert used.endswith(" / H₂O₂")
    ends = spoken("oxide", "Fe", "", "", "", "")
    assert any("[FeO, Fe₃O₄, Fe₂O₃]" in line for line in ends)
    four = spoken("oxide", "Zn", "", "", "", "")
    assert any("[ZnO, Zn₂O, Zn₂O₃, ZnO₂]" in line for line in four)
    twelve = spoken("hydrate", "CuSO4", "", "", "", "")
    assert any("[CuSO4·H2O, ..., CuSO4·12H2O]" in line for line in twelve)


def test_a_choice_has_its_numbers_from_one() -> None:
    told = spoken("1", "Fe", "0", "5", "4", "Cu", "", "", "2, 3", "", "")
    first = told.index("How the metal was weighed")
    assert [line[:5].strip() for line in told[first + 1 : first + 5]] == ["1", "2", "3", "4"]
    refused = [line for line in told if line.startswith("  Not taken: This is none of the choices")]
    assert len(refused) == 2
    assert told[told.index("Metal made: ") - 2].startswith("  = by difference")
