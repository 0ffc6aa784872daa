"""Which hazards must be told, from which strength on, and what care each of them asks for.

Sources, all from memory: Regulation (EC) No 1272/2008, annex VI table 3 (harmonised classes and
specific concentration limits) and annex I; GHS Rev. 9 (2021), annex 3 (wording and precautions);
where neither classifies a substance, usual safety data sheets. The limits are mass fractions: the
density beside each turns it into mol/L. Each row of the tables names its place. A reagent, a
statement or an acid that the tables do not have fails.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from stoichkit.bench.dilutions import dilute
from stoichkit.bench.reagent_data import _rows, _statements, advice, cautions_for, concentrated
from stoichkit.bench.recipes import prepare_solution
from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.measurement.concentration import KnownConcentration
from tests.reference.table import rows

ACIDS = ("HCl", "H2SO4", "HNO3", "H3PO4", "CH3COOH")
LIMITS = rows("ghs_limits")
SUBSTANCES = {row["formula"]: set(row["codes"].split()) for row in rows("ghs_substances")}
CARE = rows("ghs_care")
WORDING = {row["code"]: row["word"] for row in rows("ghs_wording")}
AT_LEAST = {
    "H315": {"H315", "H314"}, "H319": {"H319", "H318", "H314"}, "H318": {"H318", "H314"},
    "H272": {"H272", "H271"}, "H335": {"H335", "H330", "H331", "H332", "H314"},
    "H400": {"H400", "H410"}, "H312": {"H312", "H311", "H310"},
}  # fmt: skip
"""What a statement may be replaced by: one that says more (common practice, no source)."""


def codes(formula: str, mol_per_L: float | None = None) -> set[str]:
    found = cautions_for(formula, concentration_mol_per_L=mol_per_L)
    return {statement.split()[0] for statement in found.statements}


def strength(row: dict[str, str]) -> float:
    """Return the limit in mol/L: 10 w ρ / M."""
    figures = float(row["mass_percent"]), float(row["density_g_per_mL"])
    return 10 * figures[0] * figures[1] / molar_mass_value(row["formula"])


@pytest.mark.parametrize("row", LIMITS, ids=lambda r: f"{r['formula']} {r['code']}")
def test_a_solution_carries_a_statement_from_its_limit_on(row: dict[str, str]) -> None:
    limit = strength(row)
    for c in (limit, 1.01 * limit, 2 * limit, None):
        assert AT_LEAST.get(row["code"], {row["code"]}) & codes(row["formula"], c)


@pytest.mark.parametrize("formula", sorted({r["formula"] for r in LIMITS}))
def test_a_dilute_solution_is_not_called_corrosive(formula: str) -> None:
    """A tenth of the limit carries no burns: a warning that is always there is not read."""
    limit = min(strength(r) for r in LIMITS if (r["formula"], r["code"]) == (formula, "H314"))
    assert "H314" not in codes(formula, limit / 10)
    bands = [r.from_mol_per_L for r in _rows() if formula in r.formulas and r.form == "solution"]
    for stronger, weaker in pairwise(bands):  # each band begins where it says
        assert stronger is not None
        assert weaker is not None
        assert codes(formula, stronger) != codes(formula, stronger * (1 - 1e-9))


def test_every_reagent_has_a_row() -> None:
    assert {row.formulas[0] for row in _rows()} == set(SUBSTANCES)
    assert {row.formulas[0] for row in _rows() if row.from_mol_per_L} == {
        row["formula"] for row in LIMITS
    }


@pytest.mark.parametrize("formula", SUBSTANCES)
def test_the_strongest_form_carries_at_least_these(formula: str) -> None:
    found = codes(formula)
    for code in SUBSTANCES[formula]:
        assert AT_LEAST.get(code, {code}) & found, code
    if not SUBSTANCES[formula]:
        assert not found


def test_every_statement_has_its_words() -> None:
    assert set(_statements()) == set(WORDING)
    for code, words in _statements().items():
        assert WORDING[code] in words, code


@pytest.mark.parametrize("row", CARE, ids=lambda r: f"{r['code']} {r['care']}")
def test_a_hazard_brings_its_care(row: dict[str, str]) -> None:
    """A gas is held in a fume hood, where gloves and what burns are no matter."""
    for one in _rows():
        if row["code"] in one.codes:
            hood = one.form == "gas" and "hood" in one.care
            assert row["care"] in one.care or hood, one.formulas[0]


def test_eye_protection_goes_with_everything_but_water() -> None:
    """Common practice in a teaching laboratory, no source."""
    assert all("eyes" in row.care for row in _rows() if row.formulas != ("H2O",))


@pytest.mark.parametrize("formula", [*ACIDS[:4], "NaOH", "KOH"])
def test_mineral_acids_and_caustics_corrode_metals_at_any_strength(formula: str) -> None:
    """H290 on the data sheets of these solutions, common practice, no limit stated (memory)."""
    assert all("H290" in row.codes for row in _rows() if formula in row.formulas)


BANDS = {
    "HCl": [7.5, 1, 0], "H2SO4": [1.5, 0.4, 0], "HNO3": [13, 0.8, 0], "H3PO4": [2.5, 0],
    "CH3COOH": [15, 4, 0], "NaOH": [0.5, 0.05, 0], "KOH": [0.3, 0], "NH3": [2.5, 0],
    "H2O2": [8, 0],
}  # fmt: skip
"""From how many mol/L on each row holds, typed a second time: round figures below the limits."""
DILUTE = {
    "HCl": {"H290"}, "H2SO4": {"H290"}, "HNO3": {"H290", "H315", "H319"},
    "H3PO4": {"H290", "H315", "H319"}, "CH3COOH": {"H315", "H319"}, "NaOH": {"H290"},
    "KOH": {"H290", "H315", "H319"}, "NH3": {"H315", "H319", "H335", "H412"},
    "H2O2": {"H302", "H315", "H318"},
}  # fmt: skip
"""What the weakest solutions carry, on the cautious side of the limits (common practice)."""
CORRODES_METALS = {
    "HCl", "H2SO4", "HNO3", "H3PO4", "NaOH", "KOH", "NH3", "AgNO3", "FeCl2", "FeCl3", "SnCl2",
}  # fmt: skip
"""H290 in the strongest form (usual safety data sheets, memory)."""


def test_where_each_band_begins() -> None:
    found: dict[str, list[float]] = {}
    for row in _rows():
        if row.from_mol_per_L is not None:
            found.setdefault(row.formulas[0], []).append(row.from_mol_per_L)
    assert found == BANDS
    for formula, bands in BANDS.items():
        limits = [strength(r) for r in LIMITS if r["formula"] == formula]
        assert bands[0] <= max(limits)


@pytest.mark.parametrize("formula", DILUTE)
def test_what_the_weakest_solution_carries(formula: str) -> None:
    assert codes(formula, 1e-3) == DILUTE[formula]


def test_what_corrodes_metals() -> None:
    assert {r.formulas[0] for r in _rows() if "H290" in r.codes} == CORRODES_METALS


SENTENCES = {
    "eyes": ("eye protection",), "gloves": ("gloves",), "hood": ("fume hood",),
    "ignition": ("away from flames", "sparks"), "dust": ("Do not raise or breathe",),
    "acid": ("the acid goes into the water", "never the other way round"),
    "base": ("rinse at once",), "strong_heat": ("very hot with water", "small portions"),
    "combustibles": ("away from whatever burns",), "metal_fire": ("Never", "with water", "sand"),
    "stains": ("skin",), "gas": ("never close a vessel",),
    "lungs": ("hours later", "after breathing it in", "medical"),
    "ventilate": ("Ventilate",),
}  # fmt: skip

WASTE = {
    "acid": ("Dilute into much water, neutralise",),
    "base": ("Dilute into much water, neutralise",),
    "gas": ("Nothing is collected", "only what a fume hood or the room's air can take"),
    "toxic_gas": ("Only in a fume hood that works",), "halogen": ("with thiosulfate",),
    "oxidiser": ("apart from whatever burns",), "metal": ("rinsed and dry",),
    "ordinary": ("Small amounts", "where local rules allow it"),
    "heavy_metal": ("nothing goes down the sink",), "silver": ("nothing goes down the sink",),
    "chromate": ("nothing goes down the sink",),
    "solvent": ("away from flames", "nothing goes down the sink"),
}  # fmt: skip


def test_every_care_says_what_to_do() -> None:
    """The words that turn each sentence into its opposite if they are lost (common practice)."""
    assert set(SENTENCES) == set(advice("care"))
    for key, words in SENTENCES.items():
        assert all(word in advice("care")[key] for word in words), key
    assert set(WASTE) == set(advice("waste"))
    for key, words in WASTE.items():
        assert all(word in advice("waste")[key] for word in words), key


@pytest.mark.parametrize("acid", ACIDS)
def test_acid_goes_into_the_water(acid: str) -> None:
    """From 1 mol/L on at the latest, and wherever it burns; common practice, no source."""
    stock = concentrated(acid)
    assert stock is not None
    rule = "An acid goes into the water, slowly, with stirring, never the other way round"
    limit = min(strength(r) for r in LIMITS if (r["formula"], r["code"]) == (acid, "H314"))
    for c in (1.0, 1.5, 2.0, 5.0, 9.0, limit):
        known = KnownConcentration(mol_per_L=c, half_width_mol_per_L=0.0, name=acid)
        said = " ".join(dilute(known, c / 10).cautions)
        assert rule in said
        assert "eye protection and gloves" in said
    assert rule in " ".join(dilute(stock, 2.0, glassware="cylinder", glass_class="B").cautions)
    weak = KnownConcentration(mol_per_L=0.1, half_width_mol_per_L=0.0, name=acid)
    assert rule not in " ".join(dilute(weak, 0.01).cautions)


def test_the_order_of_pouring_in_the_steps() -> None:
    """Water is put in first, and what is strong is not begun in the flask."""
    for c, vessel in ((2.0, "a heat-proof beaker"), (0.1, "the 100 mL volumetric flask")):
        stock = KnownConcentration(mol_per_L=c, half_width_mol_per_L=0.0, name="stock")
        first, second, *_ = dilute(stock, c / 10).steps
        assert first.startswith("Put about 40 mL of pure water into")
        assert vessel in first
        assert "add it slowly to the water" in second


@pytest.mark.parametrize("purity", [0.5, 0.9, 0.98])
def test_what_is_weighed_allows_for_purity(purity: float) -> None:
    """c V M / w: 0.1 mol/L, 1 L, NaCl 58.44 g/mol (memory)."""
    recipe = prepare_solution("NaCl", 0.1, 1000, purity=purity)
    assert recipe.mass_g == pytest.approx(5.844 / purity, abs=0.006)
