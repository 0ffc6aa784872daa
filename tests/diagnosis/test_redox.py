"""What standard potentials say about candidates, and that it stays beside the verdict."""

from __future__ import annotations

import csv
from dataclasses import replace
from fractions import Fraction
from importlib.resources import files

import pytest

from stoichkit import experiments
from stoichkit._common import data_table
from stoichkit.chemistry.candidates import Candidate, from_equations, oxidation_states
from stoichkit.chemistry.equation import is_balanced
from stoichkit.chemistry.formula import parse_formula
from stoichkit.diagnosis import stability
from stoichkit.diagnosis.sentences import redox_sentence, redox_sentences, spot_test_sentence
from stoichkit.diagnosis.stability import (
    Couple,
    RedoxFinding,
    _cation,
    _disproportionation,
    _known,
    _reduction,
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


def test_a_cell_by_hand() -> None:
    """Copper and zinc, 0.337 and −0.763 V (made up to the table's size), two electrons, 1.100 V.

    log K = 2 × 1.100 / 0.059160 = 37.19; ΔG = −2 × 96.485 × 1.100 = −212.27 kJ/mol; at Q = 100 the
    potential is 1.100 − 0.059160 / 2 × 2 = 1.0408 V, at 0.01 1.1592 V. F 96485 C/mol, R T ln 10 / F
    = 0.059160 V at 298.15 K (any table).
    """
    daniell = cell(
        Couple("Cu^2+", "Cu", 2, 0.337, "", "", ""), Couple("Zn^2+", "Zn", 2, -0.763, "", "", "")
    )
    assert daniell.potential_V == pytest.approx(1.100)
    assert daniell.electrons == 2
    assert daniell.log10_K == pytest.approx(37.19, abs=0.01)
    assert daniell.gibbs_energy_kJ_per_mol == pytest.approx(-212.27, abs=0.01)
    assert daniell.potential_at_V(100.0) == pytest.approx(1.04084, abs=1e-5)
    assert daniell.potential_at_V(0.01) == pytest.approx(1.15916, abs=1e-5)
    with pytest.raises(ModelError):
        daniell.potential_at_V(0.0)
    silver = Couple("Ag^+", "Ag", 1, 0.8, "", "", "")
    three = cell(silver, Couple("Fe^3+", "Fe", 3, 0.0, "", "", ""))
    assert (three.electrons, three.equation) == (3, "3 Ag^+ + Fe -> 3 Ag + Fe^3+")
    assert cell(silver, silver).equation == ""  # the same on both sides
    acid = Couple("MnO4^-", "Mn^2+", 5, 1.5, "", "", "")
    assert cell(acid, silver).equation == ""  # water takes part


def test_steps_are_weighted_by_their_electrons() -> None:
    """(0.771 × 1 − 0.447 × 2) / 3 = −0.041 V; (−0.44 × 2 + 0.77) / 3 = −0.0367 V."""
    assert combined_potential_V([(0.771, 1), (-0.447, 2)]) == pytest.approx(-0.041)
    assert combined_potential_V([(-0.44, 2), (0.77, 1)]) == pytest.approx(-0.03667, abs=1e-5)
    iron = couple("Fe^3+", "Fe")
    assert (iron.electrons, iron.potential_V) == (3, pytest.approx(-0.041))
    assert iron.source.startswith("from Fe^3+/Fe^2+ and Fe^2+/Fe, ")


BEST = stability.PREFERRED


def table(
    monkeypatch: pytest.MonkeyPatch, *rows: tuple[str, str, int, float, str, str, str]
) -> None:
    stability._best.cache_clear()
    made = tuple(Couple(*row) for row in rows)
    monkeypatch.setattr(stability, "couples", lambda: made)


def test_which_row_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    """The preferred table, then what was read, then what is for no medium of its own."""
    rows = [
        ("X^2+", "X", 2, 1.0, "in acid", "other", "memory"),
        ("X^2+", "X", 2, 2.0, "", "other", "memory"),
        ("X^2+", "X", 2, 3.0, "in acid", "other", "read"),
        ("X^2+", "X", 2, 4.0, "", "other", "read"),
        ("X^2+", "X", 2, 5.0, "in acid", BEST, "memory"),
    ]
    for count in range(1, 6):
        table(monkeypatch, *rows[:count])
        found = _known("X^2+", "X")
        assert found is not None
        assert found.potential_V == count
        assert couple("X^2+", "X") == found
    assert _known("X", "X^2+") is None


def test_two_steps_of_one_table_are_better_than_a_value_from_memory(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    up, down = ("X^3+", "X^2+", 1, 0.6, "", BEST, "read"), ("X^2+", "X", 2, -0.3, "", BEST, "read")
    direct = ("X^3+", "X", 3, 0.5, "", "other", "memory")
    table(monkeypatch, up, down, direct)
    found = couple("X^3+", "X")
    assert (found.status, found.electrons) == ("calculated", 3)
    assert found.potential_V == pytest.approx(0.0)  # (0.6 − 2 × 0.3) / 3
    elsewhere = [(*row[:5], "other", "read") for row in (up, down)]
    for steps in ((elsewhere[0], down), (up, elsewhere[1])):
        table(monkeypatch, *steps, direct)
        assert couple("X^3+", "X").potential_V == 0.5
    table(monkeypatch, up, down)
    assert couple("X^3+", "X").status == "calculated"
    own = ("X^3+", "X", 3, 0.4, "", BEST, "read")
    table(monkeypatch, up, down, own)
    assert couple("X^3+", "X").potential_V == 0.4


def test_the_best_way_to_a_lower_ion_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    """X³⁺ to X²⁺ at 0.6 V and to X⁺ at 0.1 V; the metal gives up one electron or two."""
    table(
        monkeypatch,
        ("X^3+", "X^2+", 1, 0.6, "", "", "read"), ("X^3+", "X^+", 2, 0.1, "", "", "read"),
        ("X^3+", "X", 3, 2.0, "", "", "read"), ("M^+", "M", 1, -0.2, "", "", "read"),
        ("M^2+", "M", 2, -0.5, "", "", "read"), ("X^4+", "X^3+", 1, 0.2, "", "", "read"),
        ("X^4+", "X^2+", 2, 9.0, "in acid", "", "read"),
    )  # fmt: skip
    found = _reduction("X^3+", "M")
    assert found is not None
    assert (found.cathode.reduced, found.anode.oxidised) == ("X^2+", "M^2+")
    assert found.potential_V == pytest.approx(1.1)
    assert _reduction("X^2+", "M") is None  # only to the metal, or not known
    assert _reduction("X^3+", "N") is None
    turned = _disproportionation("X^3+")
    assert turned is not None
    assert (turned.cathode.reduced, turned.anode.oxidised) == ("X", "X^4+")
    assert turned.potential_V == pytest.approx(1.8)
    assert _disproportionation("X^4+") is None
    assert _disproportionation("M^2+") is None
    stability._best.cache_clear()


@pytest.mark.parametrize("other", ["KCl", "Fe2Cl", "FeClNO3", "FeSO4Cl", "FeCl2^+", "Fe(OH)2"])
def test_what_is_no_simple_salt_of_it_tells_no_ion(other: str) -> None:
    """Half a charge each, two kinds of anion, a complex, an anion that is not looked through."""
    assert _cation(parse_formula(other), "Fe") == ""


def test_what_has_no_charge_or_a_negative_one_is_no_cation() -> None:
    """Sulfur as a ring of eight atoms is an element still; sulfide and iodide are anions."""
    assert ion_formed(Candidate("ring", Fraction(1, 8), "8 S -> S8", "S", "S8")) == ""
    for other, element in (("Fe", "Fe"), ("S^2-", "S"), ("I3^-", "I")):
        assert _cation(parse_formula(other), element) == ""


def test_no_equation_tells_no_ion() -> None:
    assert ion_formed(Candidate("bare", Fraction(2), consumed="Cu", produced="Ag")) == ""
    discharged = Candidate("x", Fraction(1, 2), "Cu^2+ + 2 e- -> Cu", consumed="e-", produced="Cu")
    assert ion_formed(discharged) == "Cu^2+"


def found_of(kind: str, potential_V: float, against: bool) -> RedoxFinding:
    daniell = cell(couple("Cu^2+", "Cu"), couple("Zn^2+", "Zn"))
    return RedoxFinding(
        "zinc(II)", "Zn^2+", kind, replace(daniell, potential_V=potential_V), against
    )


@pytest.mark.parametrize(
    ("kind", "against", "words"),
    [
        ("formation", True, "Against zinc(II): its own reaction would not go ("),
        ("formation", False, "Not against zinc(II): its own reaction can go ("),
        ("reduction", True, "Against zinc(II): Zn would reduce Zn²⁺ ("),
        ("reduction", False, "Not against zinc(II): Zn does not reduce Zn²⁺ ("),
        ("disproportionation", True,
         "Against zinc(II): Zn²⁺ would turn into a higher and a lower state ("),
        ("disproportionation", False,
         "Not against zinc(II): Zn²⁺ does not turn into a higher and a lower state ("),
    ],
)  # fmt: skip
def test_what_potentials_say_is_written(kind: str, against: bool, words: str) -> None:
    """2 × 1.1 / 0.05916 = 37.2; the equation stands in the brackets."""
    text = redox_sentence(found_of(kind, 1.1, against))
    assert text == f"{words}Cu²⁺ + Zn → Cu + Zn²⁺, +1.100 V, K about 10³⁷)."
    assert "−1.100 V, K about 10⁻³⁷)" in redox_sentence(found_of(kind, -1.1, against))
    near = redox_sentence(found_of(kind, 0.04, against))
    assert near.startswith("Zinc(II): the potentials decide nothing (")
