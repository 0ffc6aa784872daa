"""Standard potentials, cell potentials and equilibrium constants against published numbers.

OpenStax Chemistry 2e (CC BY 4.0), Appendix L and chapter 17, inputs and answers read in the book's
source; "CYL" is the answer to "check your learning". The book rounds Cu2+/Cu to 0.34 V in Example
17.4. Constants: CODATA 2022 as in scipy.
"""

from __future__ import annotations

import math

import pytest
import scipy.constants

from stoichkit.diagnosis.stability import cell, combined_potential_V, couple, couples
from stoichkit.errors import ModelError
from stoichkit.measurement.base import FARADAY_C_PER_MOL, GAS_CONSTANT_J_PER_MOL_K
from tests.reference.digits import like
from tests.reference.table import rows


def volts(cathode: tuple[str, str], anode: tuple[str, str]) -> float:
    return cell(couple(*cathode), couple(*anode)).potential_V


SILVER, COPPER, LEAD = ("Ag^+", "Ag"), ("Cu^2+", "Cu"), ("Pb^2+", "Pb")
IRON, CHROMIUM = ("Fe^2+", "Fe"), ("Cr^3+", "Cr")


def test_example_17_4_silver_and_copper() -> None:
    """+0.46 V."""
    assert like("0.46", volts(SILVER, COPPER)) == "0.46"


def test_example_17_4_cyl_lead_and_copper() -> None:
    """−0.47 V (copper oxidised, lead(II) reduced), with the book's 0.34 V for copper.

    With the 0.337 V of its own Appendix L it would be −0.463.
    """
    lead = couple(*LEAD).potential_V
    assert like("-0.47", lead - 0.34) == "-0.47"
    assert like("-0.463", volts(LEAD, COPPER)) == "-0.463"


def test_example_17_5_iron_and_chromium() -> None:
    """Fe2+ and Cr: +0.297 V, spontaneous."""
    found = cell(couple(*IRON), couple(*CHROMIUM))
    assert like("0.297", found.potential_V) == "0.297"
    assert found.direction == "forward"
    assert found.equation == "3 Fe^2+ + 2 Cr -> 3 Fe + 2 Cr^3+"


def test_example_17_5_cyl_iodine_and_bromide() -> None:
    """I2 and Br−: −0.5518 V, not spontaneous."""
    found = cell(couple("I2", "I^-"), couple("Br2", "Br^-"))
    assert like("-0.5518", found.potential_V) == "-0.5518"
    assert found.direction == "backward"


def test_example_17_6_silver_and_iron() -> None:
    """+1.247 V, −240.6 kJ/mol, K = 1.3e42; unrounded 1.2466 V gives −240.6 and 1.4e42.

    The book goes on with log K = 2 × 1.247 / 0.0592 = 42.128.
    """
    found = cell(couple(*SILVER), couple(*IRON))
    assert found.electrons == 2
    assert like("1.247", found.potential_V) == "1.247"
    assert like("-240.6", found.gibbs_energy_kJ_per_mol) == "-240.6"
    assert found.log10_K == pytest.approx(math.log10(1.3e42), abs=0.05)


def test_example_17_6_cyl_tin_and_copper_two() -> None:
    """Sn + 2 Cu2+ -> Sn2+ + 2 Cu+: +0.291 V, −56.2 kJ/mol, K = 6.8e9."""
    found = cell(couple("Cu^2+", "Cu^+"), couple("Sn^2+", "Sn"))
    assert found.equation == "2 Cu^2+ + Sn -> 2 Cu^+ + Sn^2+"
    assert found.electrons == 2
    assert like("0.291", round(found.potential_V, 6) + 1e-9) == "0.291"  # 0.2905, halves up
    assert found.gibbs_energy_kJ_per_mol == pytest.approx(-56.2, abs=0.15)
    assert found.log10_K == pytest.approx(math.log10(6.8e9), abs=0.02)


def test_example_17_7_cobalt_and_iron() -> None:
    """Co2+ 0.15 mol/L, Fe2+ 1.94 mol/L: Q = 0.077; −0.134 V.

    The book prints −0.14 V, because it rounds the standard potential to −0.17 V on the way.
    """
    found = cell(couple("Fe^2+", "Fe"), couple("Co^2+", "Co"))
    assert like("0.077", 0.15 / 1.94) == "0.077"
    assert like("-0.134", found.potential_at_V(0.15 / 1.94)) == "-0.134"
    rounded = -0.17 + (found.potential_at_V(0.15 / 1.94) - found.potential_V)
    assert like("-0.14", rounded) == "-0.14"


def test_example_17_7_cyl_aluminium_and_copper() -> None:
    """Al3+ 0.15 mol/L, Cu2+ 0.025 mol/L: n = 6, Q = 1440, +1.97 V."""
    found = cell(couple("Cu^2+", "Cu"), couple("Al^3+", "Al"))
    quotient = 0.15**2 / 0.025**3
    assert found.electrons == 6
    assert like("1440", quotient) == "1440"
    assert like("1.97", found.potential_at_V(quotient)) == "1.97"
    with pytest.raises(ModelError):
        found.potential_at_V(0.0)


@pytest.mark.parametrize(
    ("steps", "whole", "printed"),
    [
        ([("Cu^2+", "Cu^+"), ("Cu^+", "Cu")], ("Cu^2+", "Cu"), "0.337"),
        ([("Cr^3+", "Cr^2+"), ("Cr^2+", "Cr")], ("Cr^3+", "Cr"), "-0.744"),
    ],
)
def test_steps_add_up_to_the_whole(steps, whole, printed) -> None:
    """Latimer: Σ z E / Σ z of the steps in Appendix L gives its own whole, to the last digit."""
    rows = [couple(*pair) for pair in steps]
    found = combined_potential_V([(row.potential_V, row.electrons) for row in rows])
    assert like(printed, found) == printed
    assert couple(*whole).potential_V == float(printed)


def test_mercury_does_not_add_up_in_the_table_itself() -> None:
    """(0.92 + 0.7973)/2 = 0.8587 against the printed 0.851: the table is not consistent there."""
    pairs = [("Hg^2+", "Hg2^2+"), ("Hg2^2+", "Hg")]
    steps = [(couple(*pair).potential_V, 1) for pair in pairs]
    assert like("0.8587", combined_potential_V(steps) + 1e-9) == "0.8587"
    assert couple("Hg^2+", "Hg").potential_V == 0.851


def test_iron_three_to_iron_and_gold() -> None:
    """From memory, CRC Handbook: Fe3+/Fe −0.037; from Appendix L −0.041. Au3+/Au+ 1.401."""
    iron = couple("Fe^3+", "Fe")
    assert like("-0.041", iron.potential_V) == "-0.041"
    assert abs(iron.potential_V - (-0.037)) < 0.005
    gold = combined_potential_V([(couple("Au^3+", "Au").potential_V, 3), (1.692, -1)])
    assert like("1.401", gold) == "1.401"


def test_tables_differ_by_what_is_said() -> None:
    """For manganese by 0.16 V; for all others of the rows read by 0.05 V or less."""
    values: dict[tuple[str, str], list[float]] = {}
    for row in couples():
        if row.status == "read" and not row.medium:
            values.setdefault((row.oxidised, row.reduced), []).append(row.potential_V)
    spread = {pair: max(v) - min(v) for pair, v in values.items()}
    assert spread.pop(("Mn^2+", "Mn")) == pytest.approx(0.156)
    assert max(spread.values()) <= 0.05


def test_constants_are_those_of_codata() -> None:
    assert pytest.approx(scipy.constants.R, rel=1e-15) == GAS_CONSTANT_J_PER_MOL_K
    faraday = scipy.constants.value("Faraday constant")
    assert faraday == pytest.approx(FARADAY_C_PER_MOL, rel=1e-9)


TABLE = {(row["oxidised"], row["reduced"]): row for row in rows("potentials")}


def test_every_couple_has_a_row() -> None:
    assert {(row.oxidised, row.reduced) for row in couples()} == set(TABLE)


@pytest.mark.parametrize("pair", TABLE, ids=lambda pair: f"{pair[0]}/{pair[1]}")
def test_a_couple_against_the_table(pair: tuple[str, str]) -> None:
    """The value that is used, its sign and its electrons; other rows within 0.16 V of it."""
    printed = TABLE[pair]
    found = couple(*pair)
    assert found.electrons == int(printed["electrons"])
    assert found.potential_V == pytest.approx(float(printed["potential_V"]), abs=0.0006)
    for row in couples():
        if (row.oxidised, row.reduced) == pair:
            assert abs(row.potential_V - float(printed["potential_V"])) <= 0.16
            assert row.electrons == found.electrons
