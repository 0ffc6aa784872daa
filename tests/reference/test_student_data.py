"""Readings that students and forum users published, tested with display resolution alone.

Fifteen sets of raw masses, read on public pages (named at each); the ratio beside each was
calculated from them with the 2021 conventional atomic weights, and its standard uncertainty from
the resolution of the readings alone by simulation. Balances here have a readability and no
repeatability, as stated there. Where a page gives only a mass lost or gained, it is taken as a
difference of two readings.

What they show: with resolution as the only uncertainty, most of these labs fit no candidate at
all. Real results hold incomplete reactions, side products and losses, so a test must be able to
say "none fits".
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest
from digits import like

from stoichkit.chemistry.candidates import (
    Candidate,
    binary_series,
    from_formulas,
    hydrate_series,
    oxidation_states,
)
from stoichkit.chemistry.elements import molar_mass
from stoichkit.decision.arrays import assess_weighings
from stoichkit.decision.evidence import Evidence, assess
from stoichkit.decision.linear import LinearAmounts
from stoichkit.decision.verdict import VerdictKind
from stoichkit.experiments.parts import Trial
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.base import AmountModel, Instrument
from stoichkit.measurement.displays import Balance, Barometer, Thermometer, kPa_from_torr
from stoichkit.measurement.gas_and_charge import GasVolume
from stoichkit.measurement.glassware import GraduatedCylinder
from stoichkit.measurement.weighing import MassByDifference
from stoichkit.uncertainty.readings import ErrorPool, parse_number
from stoichkit.uncertainty.sources import nominal, standard_uncertainty


def mass(species: str, heavier: str, lighter: str = "", vessel: str | None = None) -> Any:
    return MassByDifference(species=species, heavier=heavier, lighter=lighter, vessel=vessel)


def judged(
    consumed: AmountModel,
    produced: AmountModel,
    candidates: tuple[Candidate, ...],
    readings: Mapping[str, str],
    *,
    d: float,
    **instruments: Instrument,
) -> Evidence:
    """Test candidates on one trial, each mass read to the step d with no other error, in g."""
    balance = Balance(readability_g=d, repeatability_g=0.0)
    lab = Experiment(
        title="Published readings",
        consumed=consumed,
        produced=produced,
        instruments={"balance": balance, **instruments},
        candidates=candidates,
        trials=(Trial("1", readings),),
    )
    return assess(lab)


IRON = oxidation_states("Fe", [2, 3])
IRON_RATIOS = {"iron(II)": 1, "iron(III)": "3/2"}
COPPER_OXIDES = from_formulas(["Cu2O", "CuO"], consumed="Cu", produced="O")
ZINC_IODIDES = binary_series("Zn", "I", max_metal=2, max_partner=4)


def iron_copper(d: float) -> Evidence:
    return judged(
        mass("Fe", "paper + iron", "paper"),
        mass("Cu", "beaker + product", "beaker"),
        IRON,
        {
            "paper": "0.710",
            "paper + iron": "2.255",
            "beaker": "110.765",
            "beaker + product": "112.340",
        },
        d=d,
    )


def hydrate(salt: str, readings: Mapping[str, str], *, d: float) -> Evidence:
    """Crucible empty, with hydrate, and after heating; candidates of 1 to 12 waters."""
    return judged(
        mass(salt, "after", "empty" if "empty" in readings else "", "crucible"),
        mass("H2O", "before", "after", "crucible"),
        hydrate_series(salt),
        readings,
        d=d,
    )


def copper_oxide(readings: Mapping[str, str], *, d: float) -> Evidence:
    return judged(
        mass("Cu", "copper", "tube" if "tube" in readings else "", "tube"),
        mass("O", "oxide", "copper", "tube"),
        COPPER_OXIDES,
        readings,
        d=d,
    )


def case_a() -> Evidence:
    """Iron and copper sulfate; studylib 8811691."""
    return iron_copper(0.001)


def case_a_coarse() -> Evidence:
    """The same: every reading ends in 0 or 5, as on a display with steps of 0.005 g."""
    return iron_copper(0.005)


def case_b() -> Evidence:
    """Iron nails: 0.28 g lost, 0.39 g of copper gained; an essay on majortests."""
    return judged(
        mass("Fe", "nails before", "nails after"),
        mass("Cu", "beaker after", "beaker before"),
        IRON,
        {
            "nails before": "0.28",
            "nails after": "0.00",
            "beaker before": "0.00",
            "beaker after": "0.39",
        },
        d=0.01,
    )


def case_c() -> Evidence:
    """Copper oxide reduced by methane; coursehero 6485981."""
    return copper_oxide({"tube": "17.47", "oxide": "19.42", "copper": "19.03"}, d=0.01)


def case_d() -> Evidence:
    """Magnesium oxide; qammunity 7949452."""
    return judged(
        mass("Mg", "with Mg", "crucible", "crucible"),
        mass("O", "with oxide", "with Mg", "crucible"),
        binary_series("Mg", "O", max_metal=3, max_partner=3),
        {"crucible": "27.30", "with Mg": "27.60", "with oxide": "27.80"},
        d=0.01,
    )


def case_e() -> Evidence:
    """CuSO4·xH2O, accepted x is 5; jiskha 1349936538."""
    return hydrate("CuSO4", {"empty": "15.12", "before": "15.67", "after": "15.43"}, d=0.01)


def case_f() -> Evidence:
    """BaCl2·xH2O, accepted x is 2; a byjus question page."""
    return hydrate("BaCl2", {"empty": "31.623", "before": "33.632", "after": "33.376"}, d=0.001)


def case_g() -> Evidence:
    """A salt of 159.609 g/mol, which CuSO4 has; questions.llc 1459432."""
    return hydrate("CuSO4", {"empty": "24.330", "before": "31.571", "after": "29.002"}, d=0.001)


def case_h() -> Evidence:
    """BaCl2·xH2O from 428.3 mg to 356.2 mg, printed answer 4; assignmentexpert 33358."""
    return hydrate("BaCl2", {"before": "0.4283", "after": "0.3562"}, d=0.0001)


def case_i() -> Evidence:
    """MgSO4·xH2O; geocities mirror cfAndSt50."""
    return hydrate("MgSO4", {"before": "5.061", "after": "2.472"}, d=0.001)


def case_j() -> Evidence:
    """MgSO4·xH2O given as hydrate and water lost; askanewquestion 968609."""
    return judged(
        mass("MgSO4", "hydrate", "water lost"),
        mass("H2O", "water lost"),
        hydrate_series("MgSO4"),
        {"hydrate": "4.02", "water lost": "2.06"},
        d=0.01,
    )


def case_k() -> Evidence:
    """Zinc iodide; coursehero 9023145."""
    return judged(
        mass("Zn", "with zinc", "with zinc left", "tube"),
        mass("I", "with iodine", "with zinc", "tube"),
        ZINC_IODIDES,
        {"with zinc": "19.341", "with iodine": "21.305", "with zinc left": "18.825"},
        d=0.001,
    )


def case_l() -> Evidence:
    """Zinc iodide; coursehero 58404."""
    return judged(
        mass("Zn", "zinc", "zinc left"),
        mass("I", "iodine"),
        ZINC_IODIDES,
        {"zinc": "0.500", "zinc left": "0.353", "iodine": "0.504"},
        d=0.001,
    )


def case_m() -> Evidence:
    """Copper oxide by carbon monoxide, as if both were read to 0.01 g; easyelimu qa 656."""
    return copper_oxide({"oxide": "4.10", "copper": "3.29"}, d=0.01)


def case_n() -> Evidence:
    """Copper oxide; scienceaq 1005298841."""
    return copper_oxide({"oxide": "2.81", "copper": "2.50"}, d=0.01)


def case_o(syringe_tolerance_mL: float = 0.0) -> Evidence:
    """Magnesium in acid, 70 cm³ of gas; a markedbyteachers molar-volume report."""
    return judged(
        mass("Mg", "magnesium"),
        GasVolume(species="H2", final="gas", temperature="t", pressure="p", instrument="syringe"),
        oxidation_states("Mg", [1, 2, 3], displaced="H^+"),
        {"magnesium": "0.068", "gas": "70", "t": "21.9", "p": "98.992"},
        d=0.001,
        syringe=GraduatedCylinder(
            capacity_mL=100.0,
            graduation_mL=1.0,
            resolution_mL=1.0,
            repeatability_mL=0.0,
            tolerance_mL=syringe_tolerance_mL,
            tolerance_shape="rectangular",
            temperature_C=0.0,
        ),
        thermometer=Thermometer(readability_C=0.1, tolerance_C=0.0, repeatability_C=0.0),
        barometer=Barometer(
            readability_kPa=kPa_from_torr(0.1), tolerance_kPa=0.0, repeatability_kPa=0.0
        ),
    )


NONE: tuple[str, ...] = ()
CASES: list[Any] = [
    # ratio and its standard uncertainty as calculated before, candidates that may stay
    pytest.param(case_a, "0.8959", "0.0003", NONE, id="a"),
    pytest.param(case_a_coarse, "0.8959", "0.0017", NONE, id="a in steps of 0.005 g"),
    pytest.param(case_b, "1.224", "0.022", NONE, id="b"),
    pytest.param(case_c, "0.993", "0.012", ("CuO",), id="c"),
    pytest.param(case_d, "1.013", "0.030", ("MgO",), id="d"),
    pytest.param(case_e, "6.86", "0.18", ("CuSO4·7H2O",), id="e"),
    pytest.param(case_f, "1.688", "0.003", NONE, id="f"),
    pytest.param(case_g, "4.872", "0.001", NONE, id="g"),
    pytest.param(case_h, "2.340", "0.0015", NONE, id="h"),
    pytest.param(case_i, "6.997", "0.002", ("MgSO4·7H2O",), id="i"),
    pytest.param(case_j, "7.022", "0.023", ("MgSO4·7H2O",), id="j"),
    pytest.param(case_k, "1.961", "0.002", NONE, id="k"),
    pytest.param(case_l, "1.766", "0.005", NONE, id="l"),
    pytest.param(case_m, "0.978", "0.006", NONE, id="m read to 0.01 g"),
    pytest.param(case_n, "0.493", "0.007", ("Cu2O",), id="n"),
]


@pytest.mark.parametrize(("case", "ratio", "u", "fitting"), CASES)
def test_verdict(case: Any, ratio: str, u: str, fitting: tuple[str, ...]) -> None:
    """The ratio and its uncertainty agree as printed; exactly the named candidates fit."""
    evidence = case()

    unit = 10.0 ** -len(ratio.partition(".")[2])
    assert evidence.ratio == pytest.approx(float(ratio), abs=0.55 * unit)
    found = evidence.n_produced / evidence.n_consumed
    assert like(u, standard_uncertainty(found)) == u
    assert evidence.verdict.candidates == fitting
    kind = VerdictKind.SINGLED_OUT if fitting else VerdictKind.NONE_FITS
    assert evidence.verdict.kind is kind
    assert evidence.ratio_set.kind == "bounded"
    assert evidence.ratio in evidence.ratio_set


def test_a_and_b_in_one_call() -> None:
    """The same two labs as arrays, one balance each."""
    a = assess_weighings(
        [2.255], [0.710], [110.765], [112.340], consumed="Fe", produced="Cu",
        candidates=IRON_RATIOS, balance=Balance(readability_g=0.001, repeatability_g=0.0),
    )  # fmt: skip
    b = assess_weighings(
        [0.28], [0.00], [0.00], [0.39], consumed="Fe", produced="Cu",
        candidates=IRON_RATIOS, balance=Balance(readability_g=0.01, repeatability_g=0.0),
    )  # fmt: skip

    assert a.kinds == b.kinds == ["none_fits"]
    assert like("0.8959", float(a.n_produced[0] / a.n_consumed[0])) == "0.8959"
    assert like("1.224", float(b.n_produced[0] / b.n_consumed[0])) == "1.224"


def test_e_fits_seven_waters_and_not_the_accepted_five() -> None:
    evidence = case_e()

    assert [n for n in (1, 3, 5, 7) if n in evidence.ratio_set] == [7]


def test_h_excludes_the_printed_answer() -> None:
    """4 comes from dividing the water alone by 18; the readings exclude it."""
    assert not case_h().candidates["BaCl2·4H2O"].compatible


@pytest.mark.parametrize("case", [case_a, case_b, case_f, case_g, case_h, case_k, case_l])
def test_none_fits_at_any_usual_coverage(case: Any) -> None:
    """The verdict does not hang on 95 %: at 99.99 % nothing fits either."""
    evidence = assess(case().experiment, coverage=0.9999)

    assert evidence.verdict.kind is VerdictKind.NONE_FITS


def test_m_with_the_oxide_read_to_a_tenth_of_a_gram() -> None:
    """4.1 g was read to 0.1 g and 3.29 g to 0.01 g: CuO cannot be excluded, Cu2O is."""
    pool = ErrorPool()

    def read(text: str, step: float, label: str) -> Any:
        balance = Balance(readability_g=step, repeatability_g=0.0)
        return balance.quantity(
            parse_number(text), name=label, label=label, vessel="tube", pool=pool
        )

    oxide, copper = read("4.1", 0.1, "oxide"), read("3.29", 0.01, "copper")
    n_copper, n_oxygen = copper / molar_mass("Cu"), (oxide - copper) / molar_mass("O")

    linear = LinearAmounts([(n_copper, n_oxygen)])

    assert like("0.978", nominal(n_oxygen / n_copper)) == "0.978"
    assert like("0.035", standard_uncertainty(n_oxygen / n_copper)) == "0.035"
    assert linear.p_value(1.0, 1.0) > 0.05
    assert linear.p_value(0.5, 1.0) < 1e-6


def test_o_needs_the_tolerance_of_the_syringe() -> None:
    """H2/Mg is 0.983, a charge of 1.97; whether 1 fits depends on what the syringe is allowed.

    Read to 1 cm³ and otherwise perfect, the readings just exclude magnesium(II). With a tolerance
    of one division, ±1 cm³ rectangular (common practice, no source), they cannot.
    """
    perfect, usual = case_o(), case_o(syringe_tolerance_mL=1.0)

    assert like("0.983", perfect.ratio) == "0.983"
    assert like("1.97", 2 * perfect.ratio) == "1.97"
    assert perfect.verdict.kind is VerdictKind.NONE_FITS
    assert 0.99 < perfect.ratio_set.high < 1
    assert usual.verdict.candidates == ("magnesium(II)",)


def test_o_pressure_of_the_hydrogen() -> None:
    """Printed: water 19.707 mmHg, hydrogen 96 348 Pa; 3 and 3.5 digits agree."""
    lab, pool = case_o().experiment, ErrorPool()
    values = lab.quantities(lab.trials[0], pool)
    steps = {step.symbol: nominal(step.value) for step in lab.produced.explain(values, pool)}

    assert steps["p(H2O)"] == pytest.approx(kPa_from_torr(19.707), rel=1e-3)
    assert steps["p(H2)"] == pytest.approx(96.348, rel=3e-4)
