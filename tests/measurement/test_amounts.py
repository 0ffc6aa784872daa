"""Amounts of substance from readings: values, sources, correlations, refusals, saving."""

from __future__ import annotations

import math
from collections.abc import Mapping
from fractions import Fraction

import pytest

from stoichkit.chemistry.elements import molar_mass, molar_mass_value
from stoichkit.errors import ExperimentError, ModelError, ReadingError
from stoichkit.measurement.base import (
    FARADAY_C_PER_MOL,
    GAS_CONSTANT_J_PER_MOL_K,
    AmountModel,
    Instrument,
)
from stoichkit.measurement.concentration import KnownConcentration, PreparedSolution, SolutionVolume
from stoichkit.measurement.displays import Ammeter, Balance, Barometer, Thermometer, Timer
from stoichkit.measurement.gas_and_charge import ElectricCharge, GasVolume
from stoichkit.measurement.glassware import Burette, GraduatedCylinder, Pipette, VolumetricFlask
from stoichkit.measurement.registry import MODELS, from_fields, to_fields, vessel_groups
from stoichkit.measurement.weighing import MassByDifference, Precipitate, constant_mass
from stoichkit.uncertainty.readings import ErrorPool, parse_number
from stoichkit.uncertainty.sources import (
    Number,
    Shape,
    budget,
    contributions,
    error_source,
    nominal,
    standard_uncertainty,
    uncertain_value,
)

INSTRUMENTS: dict[str, Instrument] = {
    "balance": Balance(readability_g=0.01, repeatability_g=0.005, calibration_relative=1e-4),
    "burette": Burette(capacity_mL=50.0, glass_class="A"),
    "cylinder": GraduatedCylinder(capacity_mL=100.0, temperature_C=0.0),
    "pipette": Pipette(capacity_mL=10.0, glass_class="A"),
    "flask": VolumetricFlask(capacity_mL=100.0, glass_class="A"),
    "thermometer": Thermometer(readability_C=0.5, tolerance_C=0.5),
    "barometer": Barometer(readability_kPa=0.1, tolerance_kPa=0.2),
    "ammeter": Ammeter(readability_A=0.01, tolerance_A=0.02),
    "timer": Timer(readability_s=1.0),
}


def measure(typed: Mapping[str, str], pool: ErrorPool, *models: AmountModel) -> dict[str, Number]:
    """Turn typed readings into the values the models ask for."""
    return {
        role.name: INSTRUMENTS[role.instrument].quantity(
            parse_number(typed[role.name]) if role.needs_reading else None,
            name=role.instrument,
            label=role.name,
            vessel=role.vessel_group,
            pool=pool,
            delivery=role.delivery,
        )
        for model in models
        for role in model.roles()
    }


def labels(value: Number) -> set[str]:
    return {source.label for source, _ in contributions(value)}


# -- mass by difference ----------------------------------------------------------------------

STRIP = MassByDifference(species="Cu", heavier="before", lighter="after")


def test_what_is_lost_is_told_by_the_order_of_the_readings() -> None:
    assert STRIP.loses_mass(("before", "after"))
    assert not STRIP.loses_mass(("after", "before"))


def test_mass_by_difference() -> None:
    pool = ErrorPool()
    values = measure({"before": "2.30", "after": "1.67"}, pool, STRIP)

    n = STRIP.amount(values, pool)

    assert nominal(n) == pytest.approx(0.63 / molar_mass_value("Cu"), rel=1e-12)
    u_mass = math.sqrt(2 * (0.005**2 + 0.01**2 / 12) + (0.63e-4) ** 2 / 3)
    u_weight = standard_uncertainty(molar_mass("Cu")) / molar_mass_value("Cu")
    assert standard_uncertainty(n) / nominal(n) == pytest.approx(
        math.hypot(u_mass / 0.63, u_weight), rel=1e-9
    )
    assert "atomic weight of Cu" in labels(n)


def test_a_tared_weighing_needs_one_reading() -> None:
    model = MassByDifference(species="Ag", heavier="product")

    assert [role.name for role in model.roles()] == ["product"]
    assert model.roles()[0].vessel_group == ""
    assert nominal(model.amount({"product": 1.0787}, ErrorPool())) == pytest.approx(0.01, rel=1e-4)


def test_roles_say_what_to_read() -> None:
    before, after = STRIP.roles()

    assert (before.quantity, before.unit, before.instrument) == ("mass", "g", "balance")
    assert before.vessel_group == after.vessel_group == "after"
    assert not before.once
    assert before.needs_reading


def test_a_shared_weighing_keeps_the_amounts_of_a_hydrate_correlated() -> None:
    """The residue is in both differences with opposite signs."""
    water = MassByDifference(species="H2O", heavier="hydrate", lighter="residue")
    salt = MassByDifference(species="CuSO4", heavier="residue", lighter="empty")
    pool = ErrorPool()
    values = measure({"hydrate": "22.50", "residue": "21.60", "empty": "20.00"}, pool, water, salt)

    n_water, n_salt = water.amount(values, pool), salt.amount(values, pool)

    of_water = {s: c for s, c in contributions(n_water) if s.label == "rounding of residue"}
    of_salt = {s: c for s, c in contributions(n_salt) if s.label == "rounding of residue"}
    assert set(of_water) == set(of_salt)
    assert len(of_water) == 1
    assert next(iter(of_water.values())) < 0 < next(iter(of_salt.values()))
    oxygen = {s for s, _ in contributions(n_water)} & {s for s, _ in contributions(n_salt)}
    assert "atomic weight of O" in {s.label for s in oxygen}
    assert "calibration of balance" in {s.label for s in oxygen}


def test_purity_multiplies_and_is_one_source_in_all_trials() -> None:
    model = MassByDifference(species="Zn", heavier="m", purity=0.98, purity_half_width=0.01)
    pool = ErrorPool()

    first, second = model.amount({"m": 1.0}, pool), model.amount({"m": 2.0}, pool)

    assert nominal(first) == pytest.approx(0.98 / molar_mass_value("Zn"))
    purities = [{s for s, _ in contributions(n) if s.kind == "purity"} for n in (first, second)]
    assert purities[0] == purities[1] != set()
    assert next(iter(purities[0])).shape is Shape.RECTANGULAR


def test_zero_and_negative_amounts_pass() -> None:
    """The evidence warns about them; the arithmetic does not refuse them."""
    assert nominal(STRIP.amount({"before": 2.0, "after": 2.0}, ErrorPool())) == 0
    assert nominal(STRIP.amount({"before": 2.0, "after": 2.1}, ErrorPool())) < 0


def test_weighings_joined_by_a_shared_one_are_one_vessel() -> None:
    models = [
        MassByDifference(species="H2O", heavier="a", lighter="b"),
        MassByDifference(species="Cu", heavier="c", lighter="d"),
        MassByDifference(species="CuO", heavier="b", lighter="c"),
        MassByDifference(species="Ag", heavier="e"),
    ]

    groups = vessel_groups(models)

    assert set(groups) == {"a", "b", "c", "d"}
    assert len(set(groups.values())) == 1
    assert set(groups.values()) < {"b", "c", "d"}


def test_separate_weighings_stay_separate_and_a_named_vessel_joins() -> None:
    plate = MassByDifference(species="Cu", heavier="a", lighter="b")
    paper = MassByDifference(species="Ag", heavier="c", lighter="d")
    assert len(set(vessel_groups([plate, paper]).values())) == 2
    dish = MassByDifference(species="Ag", heavier="c", lighter="d", vessel="b")
    assert len(set(vessel_groups([plate, dish]).values())) == 1


# -- constant mass ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("texts", "reached"),
    [
        (("20.52", "20.36", "20.35"), True),
        (("20.36", "20.36"), True),
        (("20.35", "20.36"), True),
        (("20.38", "20.36"), False),
        (("20.35", "20.35", "20.31"), False),
    ],
)
def test_constant_mass_of_a_digits_only_balance(texts: tuple[str, ...], reached: bool) -> None:
    result = constant_mass(
        [parse_number(t) for t in texts], Balance(readability_g=0.01, repeatability_g=0.0)
    )

    assert result.reached is reached
    assert result.limit_g == 0.01
    assert ("Not yet" in result.sentence) is not reached


def test_constant_mass_allows_for_repeatability() -> None:
    balance = Balance(readability_g=0.001, repeatability_g=0.01)
    result = constant_mass([parse_number("5.020"), parse_number("5.000")], balance)

    assert result.reached
    assert result.limit_g == pytest.approx(2 * math.sqrt(2 * (1e-4 + 1e-6 / 12)))


def test_constant_mass_needs_two_weighings() -> None:
    with pytest.raises(ExperimentError, match="two weighings"):
        constant_mass([parse_number("5.0")], Balance())


# -- precipitate -----------------------------------------------------------------------------


def test_precipitate_uses_the_gravimetric_factor() -> None:
    model = Precipitate(
        species="Fe", precipitate="Fe2O3", heavier="gross", lighter="tare", factor=2
    )

    n = model.amount({"gross": 21.0, "tare": 20.0}, ErrorPool())

    assert nominal(n) == pytest.approx(2 / molar_mass_value("Fe2O3"))
    assert model.explain({"gross": 21.0, "tare": 20.0})[-1].formula == "m(Fe2O3) / M(Fe2O3) × 2"


# -- gas -------------------------------------------------------------------------------------

OVER_WATER = GasVolume(
    species="H2", final="V2", initial="V1", temperature="t", pressure="p", over_water=True
)


def test_gas_over_water_subtracts_the_vapour() -> None:
    values = {"V2": 50.0, "V1": 2.0, "t": 25.0, "p": 100.0}

    n = OVER_WATER.amount(values, ErrorPool())

    expected = (100.0 - 3.16975) * 48.0e-3 / (GAS_CONSTANT_J_PER_MOL_K * 298.15)
    assert nominal(n) == pytest.approx(expected, rel=1e-6)


def test_dry_gas_is_the_plain_gas_law() -> None:
    """1 mol at 273.15 K and 101.325 kPa is 22.413969545 L (CODATA 2022, read in scipy)."""
    model = GasVolume(species="N2", final="V", temperature="t", pressure="p", over_water=False)

    n = model.amount({"V": 22413.969545014137, "t": 0.0, "p": 101.325}, ErrorPool())

    assert n == pytest.approx(1.0, rel=1e-14)


def test_gas_factor_is_moles_of_the_species_for_each_mole_of_gas() -> None:
    common = {"final": "V", "temperature": "t", "pressure": "p", "over_water": False}
    values = {"V": 48.0, "t": 20.0, "p": 100.0}

    n_gas = GasVolume(species="H2", **common).amount(values, ErrorPool())
    metal = GasVolume(species="Al", factor=Fraction(2, 3), **common)

    assert metal.amount(values, ErrorPool()) == pytest.approx(n_gas * 2 / 3, rel=1e-14)


def test_the_temperature_acts_through_gas_law_and_vapour_pressure() -> None:
    pool, values = ErrorPool(), {"V2": 50.0, "V1": 2.0, "p": 100.0}
    t = 25.0 + error_source("t", kind="tolerance", shape=Shape.RECTANGULAR, scale=0.5)

    slope = dict(contributions(OVER_WATER.amount({**values, "t": t}, pool)))
    found = next(c for source, c in slope.items() if source.label == "t")

    high, low = (nominal(OVER_WATER.amount({**values, "t": 25.0 + d}, pool)) for d in (1e-3, -1e-3))
    assert found == pytest.approx((high - low) / 2e-3, rel=1e-5)


def test_the_vapour_table_is_one_source_in_all_trials() -> None:
    pool, values = ErrorPool(), {"V2": 50.0, "V1": 2.0, "t": 25.0, "p": 100.0}

    first, second = OVER_WATER.amount(values, pool), OVER_WATER.amount(values, pool)

    assert "table of water vapour pressure" in labels(first)
    assert standard_uncertainty(first - second) == pytest.approx(0.0, abs=1e-18)


def test_gas_readings_from_instruments() -> None:
    pool = ErrorPool()
    typed = {"V2": "50.0", "V1": "2.0", "t": "25.0", "p": "100.0"}

    n = OVER_WATER.amount(measure(typed, pool, OVER_WATER), pool)

    kinds = {source.kind for source, _ in contributions(n)}
    assert kinds == {"rounding", "repeatability", "tolerance", "table"}
    assert sum("tolerance of cylinder" in label for label in labels(n)) == 1


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"t": -300.0}, "below absolute zero"),
        ({"t": 120.0}, "outside the table"),
        ({"t": -5.0}, "outside the table"),
        ({"p": 3.0}, "not above the vapour pressure"),
    ],
)
def test_impossible_gas_readings_are_refused(change: dict[str, float], words: str) -> None:
    values = {"V2": 50.0, "V1": 2.0, "t": 25.0, "p": 100.0, **change}

    with pytest.raises(ReadingError, match=words) as caught:
        OVER_WATER.amount(values, ErrorPool())
    assert "Check" in str(caught.value)


def test_a_dry_gas_needs_a_positive_pressure_but_no_water_table() -> None:
    model = GasVolume(species="N2", final="V", temperature="t", pressure="p", over_water=False)
    assert nominal(model.amount({"V": 10.0, "t": 150.0, "p": 100.0}, ErrorPool())) > 0
    with pytest.raises(ReadingError, match="gauge"):
        model.amount({"V": 10.0, "t": 20.0, "p": 0.0}, ErrorPool())


# -- charge ----------------------------------------------------------------------------------


def test_charge() -> None:
    model = ElectricCharge(species="Cu", current="I", time="t", electrons=2)
    pool = ErrorPool()

    n = model.amount(measure({"I": "0.50", "t": "1200"}, pool, model), pool)

    assert nominal(n) == pytest.approx(0.5 * 1200 / (2 * FARADAY_C_PER_MOL), rel=1e-12)
    assert budget(n)[0].label == "tolerance of ammeter"


def test_constants_are_the_exact_products_of_the_defining_constants() -> None:
    """SI Brochure, 9th edition: N_A, k and e are exact (values read in CODATA 2022)."""
    avogadro, boltzmann, charge = 6.02214076e23, 1.380649e-23, 1.602176634e-19
    assert pytest.approx(avogadro * boltzmann, rel=1e-14) == GAS_CONSTANT_J_PER_MOL_K
    assert pytest.approx(avogadro * charge, rel=1e-14) == FARADAY_C_PER_MOL


# -- solutions -------------------------------------------------------------------------------


def test_volume_times_concentration_times_factor() -> None:
    acid = KnownConcentration(mol_per_L=0.2, half_width_mol_per_L=0.002)
    model = SolutionVolume(species="CaCO3", concentration=acid, final="end", factor=Fraction(1, 2))

    n = model.amount({"end": 25.0}, ErrorPool())

    assert nominal(n) == pytest.approx(0.2 * 0.025 / 2)
    assert standard_uncertainty(n) / nominal(n) == pytest.approx(0.01 / math.sqrt(3))


def test_a_known_concentration_is_one_source_in_all_trials() -> None:
    base = KnownConcentration(mol_per_L=0.1, standard_mol_per_L=0.0002)
    model = SolutionVolume(species="HCl", concentration=base, final="end")
    pool = ErrorPool()

    first, second = model.amount({"end": 20.0}, pool), model.amount({"end": 20.0}, pool)

    assert standard_uncertainty(first - second) == pytest.approx(0.0, abs=1e-18)
    ((source, _),) = contributions(first)
    assert (source.shape, source.kind) == (Shape.NORMAL, "concentration")


def test_two_solutions_with_different_names_have_independent_errors() -> None:
    pool = ErrorPool()
    first, second = (
        SolutionVolume(
            species="HCl",
            final="end",
            concentration=KnownConcentration(mol_per_L=0.1, standard_mol_per_L=0.001, name=name),
        ).amount({"end": 20.0}, pool)
        for name in ("bottle 1", "bottle 2")
    )

    assert standard_uncertainty(first - second) == pytest.approx(math.sqrt(2) * 2e-5)


def test_prepared_and_diluted_solution() -> None:
    stock = PreparedSolution(
        solute="AgNO3",
        heavier="gross",
        lighter="tare",
        purity=0.999,
        purity_half_width=0.001,
        dilutions=(("pipette", "flask"),),
        name="silver solution",
    )
    model = SolutionVolume(species="Ag^+", concentration=stock, pipette="pipette")
    pool = ErrorPool()

    n = model.amount(measure({"gross": "18.45", "tare": "1.46"}, pool, model), pool)

    expected = 16.99 * 0.999 / molar_mass_value("AgNO3") / 0.1 * 0.1 * 0.010
    assert nominal(n) == pytest.approx(expected)
    kinds = {source.kind for source, _ in contributions(n)}
    assert kinds == {
        "rounding",
        "repeatability",
        "calibration",
        "purity",
        "atomic weight",
        "tolerance",
        "temperature",
    }


def test_one_pipette_used_for_diluting_and_for_the_aliquot_is_one_tolerance() -> None:
    """c·V holds V_pipette twice, so its relative tolerance counts double."""
    stock = PreparedSolution(
        solute="NaCl", heavier="m", dilutions=(("pipette", "flask"),), name="salt water"
    )
    model = SolutionVolume(species="Cl^-", concentration=stock, pipette="pipette")
    pool = ErrorPool()

    n = model.amount(measure({"m": "5.84"}, pool, model), pool)

    relative = {s.label: c / nominal(n) for s, c in contributions(n)}
    assert relative["tolerance of pipette"] == pytest.approx(2 / 10.0)
    assert "tolerance of flask" in relative
    assert relative["tolerance of flask"] == pytest.approx(-2 / 100.0)
    fillings = [label for label in relative if label.startswith("repeatability of pipette")]
    assert len(fillings) == 2


def test_the_stock_solution_is_made_once_and_the_aliquot_in_each_trial() -> None:
    stock = PreparedSolution(solute="NaCl", heavier="m", name="salt water")
    model = SolutionVolume(species="Cl^-", concentration=stock, pipette="pipette")

    once = {role.name: role.once for role in model.roles()}

    assert once == {
        "pipette of salt water for Cl^-": False,
        "m": True,
        "flask of salt water": True,
    }


def test_a_burette_used_as_two_full_readings_is_refused() -> None:
    """Else its tolerance would cancel in the difference without a word."""
    model = SolutionVolume(
        species="HCl",
        concentration=KnownConcentration(mol_per_L=0.1),
        final="end",
        initial="start",
    )
    burette, pool = INSTRUMENTS["burette"], ErrorPool()
    values = {
        name: burette.quantity(parse_number(text), name="burette", label=name, pool=pool)
        for name, text in (("end", "20.00"), ("start", "0.10"))
    }

    with pytest.raises(ModelError, match="would cancel") as caught:
        model.amount(values, pool)
    assert "delivery=None" in str(caught.value)


# -- refusals common to all models -----------------------------------------------------------


def test_a_missing_value_is_named() -> None:
    with pytest.raises(ExperimentError, match="after") as caught:
        STRIP.amount({"before": 2.0}, ErrorPool())
    assert caught.value.field == "after"


@pytest.mark.parametrize(
    ("make", "field"),
    [
        (lambda: MassByDifference(species="", heavier="a"), "species"),
        (lambda: MassByDifference(species="Cu", heavier=" "), "heavier"),
        (lambda: MassByDifference(species="Cu", heavier="a", lighter="a"), "lighter"),
        (lambda: MassByDifference(species="Cu", heavier="a", lighter=None), "lighter"),
        (lambda: MassByDifference(species="Cu", heavier="a", repeated=("b",)), "repeated"),
        (lambda: MassByDifference(species="Cu", heavier="a", purity=1.2), "purity"),
        (lambda: MassByDifference(species="Cu", heavier="a", purity="1"), "purity"),
        (lambda: MassByDifference(species="Cu", heavier="a", purity=math.nan), "purity"),
        (
            lambda: MassByDifference(species="Cu", heavier="a", purity_half_width=-1),
            "purity_half_width",
        ),
        (lambda: Precipitate(species="Cl", precipitate="", heavier="a"), "precipitate"),
        (lambda: Precipitate(species="Cl", precipitate="AgCl", heavier="a", factor=0), "factor"),
        (
            lambda: Precipitate(species="Cl", precipitate="AgCl", heavier="a", factor=0.5),
            "factor",
        ),
        (lambda: ElectricCharge(species="Cu", current="I", time="t", electrons=0), "electrons"),
        (lambda: ElectricCharge(species="Cu", current="I", time="t", electrons=1.5), "electrons"),
        (lambda: ElectricCharge(species="Cu", current="I", time="t", electrons=True), "electrons"),
        (
            lambda: GasVolume(
                species="H2", final="V", temperature="t", pressure="p", over_water="yes"
            ),
            "over_water",
        ),
        (lambda: SolutionVolume(species="H", concentration=0.1, final="V"), "concentration"),
        (lambda: KnownConcentration(mol_per_L=0), "mol_per_L"),
        (lambda: KnownConcentration(mol_per_L=math.inf), "mol_per_L"),
        (
            lambda: KnownConcentration(mol_per_L=1, half_width_mol_per_L=-0.1),
            "half_width_mol_per_L",
        ),
        (
            lambda: KnownConcentration(
                mol_per_L=1, half_width_mol_per_L=0.1, standard_mol_per_L=0.1
            ),
            "standard_mol_per_L",
        ),
        (
            lambda: PreparedSolution(solute="NaCl", heavier="m", dilutions=(("p",),)),
            "dilutions",
        ),
        (lambda: PreparedSolution(solute="NaCl", heavier="m", dilutions=("pf",)), "dilutions"),
    ],
)
def test_a_field_that_cannot_be_used_is_named(make: object, field: str) -> None:
    with pytest.raises(ExperimentError) as caught:
        make()  # type: ignore[operator]
    assert caught.value.field == field


@pytest.mark.parametrize(
    "volume",
    [
        {},
        {"final": "a", "pipette": "p"},
        {"pipette": "p", "initial": "b"},
    ],
)
def test_a_solution_needs_one_way_to_measure_its_volume(volume: dict[str, str]) -> None:
    with pytest.raises(ExperimentError, match="scale or from a pipette"):
        SolutionVolume(species="H", concentration=KnownConcentration(mol_per_L=1), **volume)


# -- worked solution -------------------------------------------------------------------------


def test_every_model_explains_itself_up_to_the_amount() -> None:
    values = {"a": 30.0, "b": 10.0, "t": 20.0, "p": 100.0, "flask of solution": 100.0}
    models: list[AmountModel] = [
        MassByDifference(species="Cu", heavier="a", lighter="b", purity=0.9),
        Precipitate(species="Cl^-", precipitate="AgCl", heavier="a", lighter="b"),
        GasVolume(species="H2", final="a", initial="b", temperature="t", pressure="p"),
        ElectricCharge(species="e-", current="a", time="b"),
        SolutionVolume(
            species="Cl^-",
            concentration=PreparedSolution(solute="NaCl", heavier="b"),
            final="a",
        ),
    ]
    for model in models:
        pool = ErrorPool()
        steps = model.explain(values, pool)

        assert steps[-1].unit == "mol"
        assert steps[-1].symbol == f"n({model.species})"
        assert nominal(steps[-1].value) == nominal(model.amount(values, pool))
        assert all(step.words for step in steps)
        assert nominal(model.explain(values)[-1].value) == nominal(steps[-1].value)


# -- by name ---------------------------------------------------------------------------------

FIELDS: list[tuple[str, dict[str, object]]] = [
    ("mass by difference", {"species": "Cu", "heavier": "a", "lighter": "b", "repeated": ["a"]}),
    ("sum of masses", {"species": "Ag", "plus": ["a", "b"], "minus": ["c"], "repeated": ["b"]}),
    (
        "solution",
        {
            "species": "HCl",
            "concentration": {"kind": "known", "mol_per_L": 0.1},
            "final": "end",
            "factor": "1/2",
        },
    ),
    (
        "solution",
        {
            "species": "Ag^+",
            "concentration": {
                "kind": "prepared",
                "solute": "AgNO3",
                "heavier": "m",
                "dilutions": [["pipette", "flask"]],
            },
            "pipette": "pipette",
        },
    ),
    ("gas over water", {"species": "H2", "final": "V", "temperature": "t", "pressure": "p"}),
    ("gas", {"species": "H2", "final": "V", "temperature": "t", "pressure": "p", "factor": 2}),
    ("charge", {"species": "Cu", "current": "I", "time": "t", "electrons": 2}),
    ("precipitate", {"species": "Cl^-", "precipitate": "AgCl", "heavier": "a"}),
    (
        "several routes",
        {
            "species": "Zn",
            "routes": [
                {"kind": "mass by difference", "species": "Zn", "heavier": "a", "lighter": "b"},
                {
                    "kind": "solution",
                    "species": "Zn",
                    "concentration": {"kind": "known", "mol_per_L": 0.1},
                    "final": "end",
                },
            ],
            "weights": [0.75, 0.25],
        },
    ),
]


@pytest.mark.parametrize(("kind", "fields"), FIELDS)
def test_models_are_made_from_fields_and_saved_again(kind: str, fields: dict[str, object]) -> None:
    model = from_fields(kind, fields)

    assert type(model) is MODELS[kind]
    assert to_fields(model) == {"kind": kind, **fields}
    assert hash(model) == hash(from_fields(kind, fields))


def test_every_kind_is_covered() -> None:
    assert {kind for kind, _ in FIELDS} == set(MODELS)


@pytest.mark.parametrize(
    ("kind", "fields", "field", "words"),
    [
        ("mass", {}, "kind", "mass by difference"),
        ("charge", {"species": "Cu", "current": "I"}, "time", "missing"),
        (
            "charge",
            {"species": "Cu", "curent": "I", "time": "t"},
            "curent",
            "Did you mean “current”",
        ),
        (
            "precipitate",
            {"species": "Cl", "precipitate": "AgCl", "heavier": "a", "factor": "1/0"},
            "factor",
            "1/2",
        ),
        (
            "precipitate",
            {"species": "Cl", "precipitate": "AgCl", "heavier": "a", "factor": "__import__"},
            "factor",
            "1/2",
        ),
        (
            "precipitate",
            {"species": "Cl", "precipitate": "AgCl", "heavier": "a", "factor": 0.333},
            "factor",
            "exact",
        ),
        ("solution", {"species": "H", "final": "a"}, "concentration", "missing"),
        (
            "solution",
            {"species": "H", "final": "a", "concentration": {"mol_per_L": 1}},
            "concentration.kind",
            "known, prepared",
        ),
        (
            "solution",
            {"species": "H", "final": "a", "concentration": {"kind": "known", "mol_per_L": -1}},
            "concentration.mol_per_L",
            "above 0",
        ),
        (
            "solution",
            {"species": "H", "final": "a", "concentration": {"kind": "known", "molar": 1}},
            "concentration.molar",
            "mol_per_L",
        ),
        (
            "gas",
            {
                "species": "H2",
                "final": "V",
                "temperature": "t",
                "pressure": "p",
                "over_water": True,
            },
            "over_water",
            "contradicts",
        ),
    ],
)
def test_fields_that_cannot_be_used_are_named(
    kind: str, fields: dict[str, object], field: str, words: str
) -> None:
    with pytest.raises(ExperimentError) as caught:
        from_fields(kind, fields)
    assert caught.value.field == field
    assert words in str(caught.value)


def test_only_a_model_can_be_saved() -> None:
    with pytest.raises(ExperimentError, match="not a way"):
        to_fields("mass")  # type: ignore[arg-type]


def test_values_given_directly_keep_their_own_uncertainty() -> None:
    mass = uncertain_value(1.0, "given", kind="other", shape=Shape.NORMAL, scale=0.01)

    n = MassByDifference(species="Cu", heavier="m").amount({"m": mass}, ErrorPool())

    assert standard_uncertainty(n) / nominal(n) == pytest.approx(0.01, rel=1e-4)
