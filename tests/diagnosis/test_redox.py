"""What standard potentials say about candidates, and that it stays beside the verdict."""

from __future__ import annotations

import csv
from importlib.resources import files

import pytest

from stoichkit import experiments
from stoichkit._common import data_table
from stoichkit.chemistry.candidates import Candidate, from_equations, oxidation_states
from stoichkit.chemistry.equation import is_balanced
from stoichkit.chemistry.formula import parse_formula
from stoichkit.diagnosis.sentences import redox_sentence, redox_sentences, spot_test_sentence
from stoichkit.diagnosis.stability import (
    cell,
    combined_potential_V,
    couple,
    couples,
    ion_formed,
    metals_present,
    redox_findings,
    spot_tests,
    suggested_tests,
)
from stoichkit.errors import ModelError
from stoichkit.experiments.parts import Trial
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Balance
from stoichkit.measurement.weighing import MassByDifference


def beside_copper(metal: str, states: list[int]) -> Experiment:
    """Return a lab in which a metal displaces copper."""
    return Experiment(
        title="Invented",
        consumed=MassByDifference(species=metal, heavier="before", lighter="after"),
        produced=MassByDifference(species="Cu", heavier="full", lighter="empty"),
        instruments={"balance": Balance()},
        candidates=oxidation_states(metal, states),
        trials=[Trial("1", {"before": "3.00", "after": "2.50", "full": "2.00", "empty": "1.40"})],
    )


def found_for(metal: str, states: list[int]) -> dict[tuple[str, str, str], object]:
    return {
        (f.candidate, f.kind, f.cell.anode.reduced): f
        for f in redox_findings(beside_copper(metal, states))
    }


def test_iron_reduces_iron_three() -> None:
    """2 Fe(3+) + Fe -> 3 Fe(2+): 0.771 − (−0.447) = 1.218 V, two electrons."""
    found = found_for("Fe", [2, 3])
    one = found["iron(III)", "reduction", "Fe"]
    assert one.cell.equation == "2 Fe^3+ + Fe -> 3 Fe^2+"
    assert one.cell.potential_V == pytest.approx(1.218)
    assert one.cell.electrons == 2
    assert one.cell.log10_K == pytest.approx(41.2, abs=0.05)
    assert one.against
    assert found["iron(III)", "reduction", "Cu"].against
    assert not any(f.against for key, f in found.items() if key[0] == "iron(II)")


def test_tin_reduces_tin_four_but_copper_does_not() -> None:
    found = found_for("Sn", [2, 4])
    assert found["tin(IV)", "reduction", "Sn"].against
    assert not found["tin(IV)", "reduction", "Cu"].against
    assert found["tin(II)", "formation", "Sn"].cell.potential_V == pytest.approx(0.4745)


def test_every_finding_has_a_balanced_equation_with_its_electrons() -> None:
    """The charge that the anode species loses in the equation equals the electrons passed."""
    for metal, states in (("Fe", [2, 3]), ("Sn", [2, 4]), ("Cr", [2, 3])):
        for found in redox_findings(beside_copper(metal, states)):
            one = found.cell
            assert is_balanced(one.equation)
            energy = one.gibbs_energy_kJ_per_mol
            assert energy == pytest.approx(-one.electrons * 96.48533 * one.potential_V, rel=1e-6)


def test_nothing_of_this_reaches_the_verdict() -> None:
    text = redox_sentences(redox_findings(experiments.load("copper-silver")))
    assert "not part of it" in text[-1]
    assert any("25 °C" in line for line in text)
    assert any("chloride" in line for line in text)
    assert any("slow" in line for line in text)


@pytest.mark.parametrize("name", experiments.names())
def test_every_ready_lab_has_sentences(name: str) -> None:
    lab = experiments.load(name)
    assert redox_sentences(redox_findings(lab))
    for candidate, test in suggested_tests(lab):
        text = spot_test_sentence(candidate, test)
        assert "safety data sheet" in text
        assert "Cautions" in text


def test_the_ion_is_read_from_salts_too() -> None:
    found = from_equations(
        ["Fe + CuSO4 -> FeSO4 + Cu", "Fe + CuCl2 -> FeCl3 + Cu"], consumed="Fe", produced="Cu"
    )
    assert [ion_formed(c) for c in found] == ["Fe^2+", "Fe^3+"]
    from fractions import Fraction

    assert ion_formed(Candidate("bare", Fraction(2))) == ""
    assert [ion_formed(c) for c in oxidation_states("Fe", [2, 3])] == ["Fe^2+", "Fe^3+"]
    nitrate = from_equations(["Cu + AgNO3 -> Cu(NO3)2 + Ag"], consumed="Cu", produced="Ag")
    assert ion_formed(*nitrate) == "Cu^2+"
    assert metals_present(experiments.load("copper-silver")) == ("Cu", "Ag")


def test_within_fifty_millivolts_nothing_is_decided() -> None:
    near = cell(couple("Sn^2+", "Sn"), couple("Pb^2+", "Pb"))
    assert near.direction == "undecided"
    clear = cell(couple("Ag^+", "Ag"), couple("Zn^2+", "Zn"))
    assert clear.direction == "forward"
    assert cell(couple("Zn^2+", "Zn"), couple("Ag^+", "Ag")).direction == "backward"


def test_the_table_can_be_read_row_by_row() -> None:
    rows = couples()
    assert len(rows) > 60
    for row in rows:
        parse_formula(row.oxidised)
        parse_formula(row.reduced)
        assert row.electrons >= 1
        assert row.source
        assert row.status in ("read", "memory")
    text = (files("stoichkit") / "data" / "potentials.csv").read_text(encoding="utf-8")
    assert len(list(csv.DictReader(text.splitlines()))) == len(rows)


def test_electrons_match_the_change_of_oxidation_state() -> None:
    """For one-element couples of ions and metals the electrons follow from the charges."""
    for row in couples():
        high, low = parse_formula(row.oxidised), parse_formula(row.reduced)
        if len(high.counts) == len(low.counts) == 1 and high.counts.keys() == low.counts.keys():
            (n_high,), (n_low,) = high.counts.values(), low.counts.values()
            per_atom = high.charge / n_high - low.charge / n_low
            assert row.electrons == pytest.approx(per_atom * max(n_high, n_low)), row


def test_spot_tests_name_real_ions_and_their_dangers() -> None:
    for row in data_table("spot_tests.csv"):
        assert parse_formula(row["ion"]).charge > 0
        assert "no source" in row["source"]
        assert row["cautions"].strip()
        if "ammonia" in row["reagent"] and row["ion"] in ("Ag^+", "Cu^2+", "Cu^+"):
            assert "explosive" in row["cautions"]
        if "hexacyanoferrate" in row["reagent"]:
            assert "acid" in row["cautions"]
    assert spot_tests("Xx^2+") == ()


def test_an_undecided_finding_says_so() -> None:
    found = redox_findings(beside_copper("Sn", [2, 4]))
    assert all(redox_sentence(one).endswith(".") for one in found)


def test_a_missing_couple_is_refused_with_the_list() -> None:
    with pytest.raises(ModelError, match=r"Ag\^\+/Ag"):
        couple("Xx^2+", "Xx")
    with pytest.raises(ModelError, match="electrons"):
        combined_potential_V([])
    assert combined_potential_V([(0.153, 1), (0.521, 1)]) == pytest.approx(0.337)
