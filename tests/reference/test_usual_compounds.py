"""What is suggested to a person setting up a lab, against outside tables.

* Oxidation states: the main ones of the Python package ``mendeleev`` 1.3.0 (``oxistates``), read in
  November 2026; and the states that ``periodictable`` knows, in the version installed.
* Hydrates and oxides: names with their CAS registry numbers in the database of the Python package
  ``chemicals`` 1.5.2, read in November 2026. Its formulas of hydrates are not always whole (it has
  Cl2CoH2O for the hexahydrate), so only names and numbers were taken from it.

``MEMORY`` lists the rows of ``data/usual_compounds.csv`` that were not found there by name.
"""

from __future__ import annotations

import pytest

from stoichkit.chemistry.formula import parse_formula
from stoichkit.chemistry.usual import state_in, usual_compounds, usual_states

MAIN = {
    "Ag": [1], "Al": [3], "Au": [3], "Ba": [2], "Ca": [2], "Cd": [2], "Ce": [3, 4], "Co": [2, 3],
    "Cr": [3, 6], "Cu": [2], "Fe": [2, 3], "Hg": [1, 2], "K": [1], "Li": [1], "Mg": [2],
    "Mn": [2, 4, 7], "Na": [1], "Ni": [2], "Pb": [2, 4], "Sn": [2, 4], "Ti": [4], "V": [5],
    "Zn": [2],
}  # fmt: skip
NO_SIMPLE_ION = {("Cr", 6), ("Mn", 4), ("Mn", 7), ("Pb", 4), ("Ti", 4), ("V", 5)}
"""Main states in which the metal is no simple ion in water (common practice, no source)."""
WATERS = {
    "hemi": "1/2", "mono": "1", "di": "2", "tri": "3", "tetra": "4", "penta": "5", "hexa": "6",
    "hepta": "7", "deca": "10", "dodeca": "12", "octadeca": "18",
}  # fmt: skip
HYDRATES = {
    "Al2(SO4)3": {"aluminum sulfate octadecahydrate": "7784-31-8"},
    "AlCl3": {"aluminum chloride hexahydrate": "7784-13-6"},
    "CaCl2": {"calcium chloride hexahydrate": "7774-34-7"},
    "CaSO4": {
        "calcium sulfate hemihydrate": "10034-76-1",
        "calcium sulfate dihydrate": "10101-41-4",
    },
    "CH3COONa": {"sodium acetate trihydrate": "6131-90-4"},
    "CoCl2": {"cobalt(II) chloride hexahydrate": "7791-13-1"},
    "CoSO4": {
        "cobalt sulfate monohydrate": "60459-08-7",
        "cobalt sulfate heptahydrate": "10026-24-1",
    },
    "Cu(NO3)2": {"copper nitrate trihydrate": "10031-43-3"},
    "CuCl2": {"copper chloride dihydrate": "10125-13-0"},
    "CuSO4": {"copper sulfate pentahydrate": "7758-99-8"},
    "FeSO4": {
        "iron(II) sulfate monohydrate": "13463-43-9",
        "iron(II) sulfate heptahydrate": "7782-63-0",
    },
    "KAl(SO4)2": {"aluminum potassium sulfate dodecahydrate": "7784-24-9"},
    "MgCl2": {"magnesium chloride hexahydrate": "7791-18-6"},
    "MgSO4": {
        "magnesium sulfate monohydrate": "14168-73-1",
        "magnesium sulfate heptahydrate": "10034-99-8",
    },
    "MnCl2": {"manganese chloride tetrahydrate": "13446-34-9"},
    "MnSO4": {
        "manganese sulfate monohydrate": "10034-96-5",
        "manganese(II) sulfate tetrahydrate": "10101-68-5",
    },
    "Na2B4O7": {"sodium tetraborate decahydrate": "1303-96-4"},
    "Na2CO3": {
        "sodium carbonate monohydrate": "5968-11-6",
        "sodium carbonate decahydrate": "6132-02-1",
    },
    "Na2HPO4": {
        "disodium hydrogen phosphate heptahydrate": "7782-85-6",
        "disodium hydrogen phosphate dodecahydrate": "10039-32-4",
    },
    "Na2S2O3": {"sodium thiosulfate pentahydrate": "10102-17-7"},
    "Na2SO4": {"sodium sulfate decahydrate": "7727-73-3"},
    "Na3PO4": {"trisodium phosphate dodecahydrate": "10101-89-0"},
    "NiSO4": {
        "nickel sulfate hexahydrate": "10101-97-0",
        "nickel(II) sulfate heptahydrate": "10101-98-1",
    },
    "SnCl2": {"tin(II) chloride dihydrate": "10025-69-1"},
    "ZnSO4": {"zinc sulfate monohydrate": "7446-19-7", "zinc sulfate heptahydrate": "7446-20-0"},
}
OXIDES = {
    "Ag": "Ag2O AgO", "Al": "Al2O3", "Ba": "BaO BaO2", "Ca": "CaO CaO2", "Cd": "CdO", "Co": "CoO",
    "Cr": "Cr2O3 CrO2 CrO3", "Cu": "Cu2O CuO", "Fe": "FeO Fe2O3", "Hg": "HgO", "Mg": "MgO MgO2",
    "Mn": "MnO Mn2O3 MnO2", "Mo": "MoO2 MoO3", "Ni": "NiO", "Pb": "PbO PbO2", "Sb": "Sb2O5",
    "Sn": "SnO SnO2", "Ti": "TiO Ti2O3 TiO2", "V": "V2O3 VO2 V2O5", "W": "WO2 WO3", "Zn": "ZnO",
}  # fmt: skip
"""Those for which the database has the formula itself."""
MEMORY = {
    "Al2(SO4)3 16", "BaCl2 2", "CaCl2 2", "CoCl2 2", "CoSO4 6", "CuSO4 1", "CuSO4 3", "FeCl3 6",
    "FeSO4 4", "Na2B4O7 5", "Na2CO3 7", "Na2HPO4 2", "NiCl2 6", "SrCl2 6", "ZnSO4 6",
    "Bi Bi2O3", "Co Co3O4", "Fe Fe3O4", "Mn Mn3O4", "Pb Pb3O4", "Sb Sb2O3",
}  # fmt: skip


def waters_in(name: str) -> str:
    word = name.rpartition(" ")[2].removesuffix("hydrate")
    return WATERS[word]


def rows(kind: str) -> set[str]:
    return {f"{of} {one}" for of, formulas in usual_compounds(kind).items() for one in formulas}


def test_every_hydrate_and_oxide_was_found_by_name_or_is_from_memory() -> None:
    named = {f"{salt} {waters_in(name)}" for salt, names in HYDRATES.items() for name in names}
    named |= {f"{metal} {one}" for metal, formulas in OXIDES.items() for one in formulas.split()}
    assert rows("hydrate") | rows("oxide") == named | MEMORY
    assert not named & MEMORY


def test_registry_numbers_are_no_typing_errors() -> None:
    """The last digit of a CAS number checks the others (common practice, no source)."""
    for number in (n for names in HYDRATES.values() for n in names.values()):
        digits, check = number.replace("-", "")[:-1], int(number[-1])
        assert sum(i * int(d) for i, d in enumerate(reversed(digits), start=1)) % 10 == check


@pytest.mark.parametrize("metal", MAIN)
def test_the_main_states_that_are_ions_are_usual(metal: str) -> None:
    expected = {state for state in MAIN[metal] if (metal, state) not in NO_SIMPLE_ION}
    assert expected <= set(usual_states()[metal])


def test_the_states_are_those_that_periodictable_knows() -> None:
    periodictable = pytest.importorskip("periodictable")
    assert set(usual_states()) == set(MAIN)
    for metal, states in usual_states().items():
        assert set(states) <= set(getattr(periodictable, metal).ions)


def test_formulas_can_be_read_and_oxides_hold_their_metal() -> None:
    for metal, formulas in usual_compounds("oxide").items():
        for formula in formulas:
            assert set(parse_formula(formula).counts) == {metal, "O"}
    for salt, waters in usual_compounds("hydrate").items():
        assert parse_formula(salt).charge == 0
        assert waters
    for ion, (solid,) in usual_compounds("precipitate").items():
        shared = set(parse_formula(ion).counts) & set(parse_formula(solid).counts)
        assert shared
        assert parse_formula(solid).charge == 0


@pytest.mark.parametrize(
    ("metal", "salt", "state"),
    [
        ("Cu", "CuSO4.5H2O", 2), ("Ag", "AgNO3", 1), ("Fe", "Fe2(SO4)3", 3), ("Sn", "SnCl4", 4),
        ("Pb", "Pb(NO3)2", 2), ("Hg", "Hg2(NO3)2", 1), ("Cr", "KCr(SO4)2", 3),
        ("Cu", "NaCl", None), ("Cu", "Cu^2+", None), ("Fe", "FeWO4", None), ("Fe", "Fe3O4", None),
        ("Fe", "nonsense", None),
    ],
)  # fmt: skip
def test_the_state_in_a_salt_follows_from_the_other_ions(
    metal: str, salt: str, state: int | None
) -> None:
    """IUPAC rules for oxidation numbers, from memory."""
    assert state_in(metal, salt) == state
