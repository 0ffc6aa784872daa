"""Every instrument, way to an amount and refusal of the room: a change is seen.

That an answer is right is for the other tests here; see :mod:`tests.recorded`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, fields
from fractions import Fraction
from functools import partial
from typing import Any

import numpy as np

from stoichkit.experiments.record import Experiment
from stoichkit.measurement import (
    base,
    buoyancy,
    concentration,
    displays,
    gas_and_charge,
    glassware,
    registry,
    routes,
    weighing,
)
from stoichkit.measurement.base import AmountModel, Instrument
from stoichkit.uncertainty.readings import ErrorPool, parse_number
from stoichkit.uncertainty.sources import Number, contributions, nominal
from tests.every_lab import EVERY
from tests.recorded import Record, cases, each, tried

RECORD = Record(__file__, brief=(Experiment,))
ODD: tuple[Any, ...] = (
    None,
    True,
    -1,
    0,
    1e-9,
    0.5,
    1.5,
    99.0,
    1e9,
    float("nan"),
    float("inf"),
    "",
    "x",
    "B",
    "a\nb",
    "rectangular",
    (),
    ("a", "a"),
    ("a", "zz"),
    3,
    [],
)


def sourced(value: Number) -> list[str]:
    """Return a number and what each of its sources does to it."""
    parts = [
        f"{s.label} [{s.kind}, {s.shape.value}, {s.reading or '-'}, {s.vessel or '-'}]: "
        f"{c * s.standard_uncertainty:.10g} (dof {s.dof:g})"
        for s, c in contributions(value)
    ]
    return [f"{nominal(value):.10g}", *sorted(parts)]


# -- instruments ------------------------------------------------------------------------------

INSTRUMENTS: dict[str, Instrument] = {
    "balance": displays.Balance(readability_g=0.01),
    "noisy balance": displays.Balance(
        readability_g=0.001,
        repeatability_g=0.002,
        linearity_g=0.003,
        calibration_relative=1e-4,
        capacity_g=50.0,
    ),
    "thermometer": displays.Thermometer(),
    "rough thermometer": displays.Thermometer(
        readability_C=0.5, tolerance_C=1.0, repeatability_C=0.2
    ),
    "barometer": displays.Barometer(),
    "sound barometer": displays.Barometer(tolerance_kPa=0.0, repeatability_kPa=0.05),
    "ammeter": displays.Ammeter(),
    "relative ammeter": displays.Ammeter(
        readability_A=0.001, tolerance_relative=0.01, tolerance_A=0.002
    ),
    "timer": displays.Timer(),
    "slow timer": displays.Timer(readability_s=1.0, reaction_s=0.5, repeatability_s=0.3),
    "pipette": glassware.Pipette(capacity_mL=25.0, glass_class="A"),
    "own pipette": glassware.Pipette(capacity_mL=3.0, tolerance_mL=0.02, repeatability_mL=0.01),
    "warm flask": glassware.VolumetricFlask(
        capacity_mL=250.0, temperature_C=6.0, expansion_per_C=1e-3
    ),
    "flask": glassware.VolumetricFlask(capacity_mL=100.0, temperature_C=0.0),
    "cylinder": glassware.GraduatedCylinder(capacity_mL=50.0),
    "own cylinder": glassware.GraduatedCylinder(
        capacity_mL=33.0,
        tolerance_mL=0.3,
        graduation_mL=1.0,
        resolution_mL=0.5,
        repeatability_mL=0.1,
        tolerance_shape="rectangular",
        temperature_C=0.0,
    ),
    "burette": glassware.Burette(),
    "burette A": glassware.Burette(capacity_mL=25.0, glass_class="A", resolution_mL=0.01),
}
READ = ("0", "0.00", "12.34", "12.3", "12.345", "-3.20", "49.99", "60.00", "1e3", "20.000", "99")


def instrument(name: str) -> object:
    one = INSTRUMENTS[name]
    pool = ErrorPool()

    def quantity(text: str | None, **more: Any) -> object:
        reading = None if text is None else parse_number(text)
        found = tried(one.quantity, reading, name="it", label="a", pool=pool, **more)
        return found if isinstance(found, str) else sourced(found)

    return {
        "record": one,
        "said": [one.describe(), one.assumptions(), registry.instrument_fields(one)],
        "class": {
            n: getattr(one, n)
            for n in (
                "unit",
                "noun",
                "needs_reading",
                "can_be_negative",
                "capacity_matters",
                "when_full",
                "least_share",
                "share_rule",
                "usual",
                "figures",
            )
        },
        "checked": {t: tried(one.check, parse_number(t)) for t in READ},
        "read": {t: quantity(t) for t in ("12.34", "-3.20", "1e3", "0")},
        "not read": quantity(None),
        "in a vessel": quantity("12.34", vessel="boat"),
        "of several": [quantity("12.34", repeats=n) for n in (1, 2, 5, 0)],
        "delivered": [quantity("12.34", delivery=d) for d in ("one", None)],
        "again": quantity("12.34"),
    }


def made_wrong(kind: type[Any], good: Mapping[str, Any]) -> object:
    """What is said of each field that is another; what is taken is not written."""
    seen: set[str] = set()
    said: dict[str, list[str]] = {"good": [str(tried(kind, **good))]}
    for one in fields(kind):
        found = {}
        for odd in ODD:
            answer = tried(kind, **{**good, one.name: odd})
            if isinstance(answer, str) and answer not in seen:
                seen.add(answer)
                found[answer] = repr(odd)
        said[one.name] = [f"{odd}: {message}" for message, odd in found.items()]
    return said


DIFFERENCE = {"species": "Cu", "heavier": "a", "lighter": "b"}
KNOWN = concentration.KnownConcentration(mol_per_L=0.1, standard_mol_per_L=0.001, name="silver")
WRONG: dict[str, tuple[type[Any], dict[str, Any]]] = {
    "balance": (displays.Balance, {"readability_g": 0.01}),
    "thermometer": (displays.Thermometer, {}),
    "barometer": (displays.Barometer, {}),
    "ammeter": (displays.Ammeter, {}),
    "timer": (displays.Timer, {}),
    "pipette": (glassware.Pipette, {"capacity_mL": 25.0}),
    "flask": (glassware.VolumetricFlask, {"capacity_mL": 100.0}),
    "cylinder": (glassware.GraduatedCylinder, {"capacity_mL": 50.0}),
    "burette": (glassware.Burette, {"capacity_mL": 50.0}),
    "difference": (weighing.MassByDifference, DIFFERENCE),
    "sum": (weighing.SumOfMasses, {"species": "Ag", "plus": ("a", "b"), "minus": ("c",)}),
    "precipitate": (
        weighing.Precipitate,
        {"species": "Cl^-", "precipitate": "AgCl", "heavier": "a", "lighter": "b"},
    ),
    "gas": (
        gas_and_charge.GasVolume,
        {"species": "H2", "final": "v", "temperature": "t", "pressure": "p"},
    ),
    "charge": (gas_and_charge.ElectricCharge, {"species": "Cu", "current": "i", "time": "s"}),
    "known": (concentration.KnownConcentration, {"mol_per_L": 0.1}),
    "prepared": (concentration.PreparedSolution, {"solute": "AgNO3", "heavier": "a"}),
    "titrated": (
        concentration.TitratedSolution,
        {"titrant_mol_per_L": 0.1, "final": "f", "aliquot": "pipette"},
    ),
    "volume": (
        concentration.SolutionVolume,
        {"species": "Ag^+", "concentration": KNOWN, "final": "f"},
    ),
    "routes": (
        routes.Routes,
        {
            "species": "Cu",
            "routes": (
                weighing.MassByDifference(**DIFFERENCE),
                weighing.MassByDifference(species="Cu", heavier="c"),
            ),
        },
    ),
}


# -- ways to an amount ------------------------------------------------------------------------


FIRST: dict[type[AmountModel], str] = {
    weighing.MassByDifference: "heavier",
    weighing.SumOfMasses: "lighter",
    weighing.Precipitate: "heavier",
    gas_and_charge.ElectricCharge: "current",
    routes.Routes: "heavier",
}


def way(name: str) -> object:
    lab = EVERY[name]()
    values = lab.quantities(lab.trials[0], ErrorPool())
    said = {}
    for side in ("consumed", "produced"):
        model: AmountModel = getattr(lab, side)
        setting = lab.setting(side)
        order = lab.reading_names()
        steps = model.explain(values)
        said[side] = {
            "steps": [
                f"{s.symbol} = {s.formula} = {nominal(s.value):.10g} {s.unit} ({s.words})"
                for s in steps
            ],
            "amount": sourced(steps[-1].value),
            "roles": model.roles(),
            "span": [model.span, model.span.what],
            "words": [
                model.substance,
                model.verb,
                model.excess_means,
                model.remarks(),
                model.weighs_species,
                model.plain_mass,
                model.electrons_passed,
                model.parts,
                model.unknown_air(),
                model.main_reading,
                model.empty_vessels,
                model.formulas(),
                model.loses_mass(order),
                model.loses_mass(order[::-1]),
                len(model.ways),
            ],
            "solution": model.solution,
            "solute": model.solute_mol(0.001),
            "masses": [model.expected_mass_g(0.002), tried(model.mass_to_take_g, 0.002)],
            "setting": [
                setting.is_product,
                model.portion(setting),
                model.care(setting),
                model.situation(setting),
                model.effects(setting),
            ],
            "reading": model.reading(FIRST.get(type(model), "final")),
            "set by": [model.set_by(one) for one in model.ways],
            "fields": registry.to_fields(model),
        }
    return said


VARIANTS: dict[str, AmountModel] = {
    "pure in part": weighing.MassByDifference(**DIFFERENCE, purity=0.98, purity_half_width=0.01),
    "dense": weighing.MassByDifference(**DIFFERENCE, density_g_per_cm3=8.96),
    "alone": weighing.MassByDifference(species="CuSO4.5H2O", heavier="a", vessel="boat"),
    "repeated": weighing.MassByDifference(**DIFFERENCE, repeated=("a",), same_vessel=("b",)),
    "averaged": weighing.MassByDifference(**DIFFERENCE, averaged=("a", "b")),
    "sum": weighing.SumOfMasses(
        species="Ag",
        plus=("a", "b"),
        minus=("c", "d"),
        repeated=("a",),
        purity=0.9,
        purity_half_width=0.05,
        density_g_per_cm3=10.5,
    ),
    "precipitate": weighing.Precipitate(
        species="Cl^-", precipitate="AgCl", heavier="a", lighter="b", factor=Fraction(1, 2)
    ),
    "gas over water": gas_and_charge.GasVolume(
        species="H2", final="v", initial="w", temperature="t", pressure="p", factor=2
    ),
    "dry gas": gas_and_charge.GasVolume(
        species="CO2", final="v", temperature="t", pressure="p", over_water=False
    ),
    "charge": gas_and_charge.ElectricCharge(species="Cu", current="i", time="s", electrons=2),
    "electrons": gas_and_charge.ElectricCharge(species="e-", current="i", time="s"),
    "volume": concentration.SolutionVolume(
        species="Ag^+", concentration=KNOWN, final="f", initial="g", factor=Fraction(3, 2)
    ),
    "pipetted": concentration.SolutionVolume(
        species="Ag^+", concentration=KNOWN, pipette="pipette"
    ),
    "made up": concentration.SolutionVolume(
        species="Ag^+",
        final="f",
        concentration=concentration.PreparedSolution(
            solute="AgNO3",
            heavier="a",
            lighter="b",
            purity=0.99,
            purity_half_width=0.005,
            dilutions=(("pipette", "flask 2"),),
        ),
    ),
    "titrated": concentration.SolutionVolume(
        species="Ag^+",
        final="f",
        concentration=concentration.TitratedSolution(
            titrant_mol_per_L=0.1,
            titrant_half_width_mol_per_L=0.001,
            final="h",
            initial="k",
            aliquot="pipette",
            factor=2,
        ),
    ),
}
BENCH: dict[str, Instrument] = {
    "balance": INSTRUMENTS["noisy balance"],
    "burette": INSTRUMENTS["burette"],
    "cylinder": INSTRUMENTS["cylinder"],
    "thermometer": INSTRUMENTS["thermometer"],
    "barometer": INSTRUMENTS["barometer"],
    "ammeter": INSTRUMENTS["ammeter"],
    "timer": INSTRUMENTS["timer"],
    "pipette": INSTRUMENTS["pipette"],
    "flask": INSTRUMENTS["flask"],
    "flask 2": INSTRUMENTS["warm flask"],
}
TYPED = {
    "a": "12.340",
    "b": "10.120",
    "c": "3.300",
    "d": "2.100",
    "v": "45.5",
    "w": "0.5",
    "t": "21.5",
    "p": "101.3",
    "i": "0.52",
    "s": "1800.00",
    "f": "22.40",
    "g": "0.10",
    "h": "20.50",
    "k": "0.30",
}


def variant(name: str) -> object:
    model = VARIANTS[name]

    def steps(*, brief: bool = True, **changes: str) -> object:
        pool = ErrorPool()
        typed = {**TYPED, **changes}
        values = {}
        for role in model.roles():
            glass = BENCH[role.instrument]
            values[role.name] = glass.quantity(
                parse_number(typed[role.name]) if role.needs_reading else None,
                name=role.instrument,
                label=role.name,
                vessel=role.vessel_group,
                pool=pool,
                delivery=role.delivery,
            )
        found = tried(model.explain, values, pool)
        if isinstance(found, str):
            return found
        if brief:
            return [f"{s.symbol} = {nominal(s.value):.10g}" for s in found]
        return [[f"{s.symbol} = {s.formula} [{s.unit}] {s.words}", sourced(s.value)] for s in found]

    return {
        "steps": steps(brief=False),
        "odd": [
            steps(**one)
            for one in (
                {"a": "9.000"},
                {"v": "0.2"},
                {"f": "0.05"},
                {"t": "-1.0"},
                {"t": "100.0"},
                {"t": "99.9"},
                {"t": "0.0"},
                {"t": "-273.15"},
                {"t": "-273.1"},
                {"p": "1.0"},
                {"i": "-0.10"},
                {"s": "0.00"},
                {"h": "0.10"},
            )
        ],
        "nothing": tried(model.explain, {}),
        "roles": model.roles(),
        "words": [
            model.remarks(),
            model.excess_means,
            model.verb,
            model.substance,
            model.formulas(),
            model.span,
            model.empty_vessels,
            model.weighs_species,
            model.plain_mass,
        ],
        "masses": [
            model.expected_mass_g(0.002),
            tried(model.mass_to_take_g, 0.002),
            model.solute_mol(0.001),
            model.unknown_air(),
        ],
        "fields": registry.to_fields(model),
    }


# -- the rest ---------------------------------------------------------------------------------


def tables() -> object:
    pool = ErrorPool()
    temperatures = (0.0, 0.01, 0.5, 3.98, 15.0, 20.0, 21.5, 25.0, 37.2, 60.0, 98.5, 99.0)
    sizes = (1, 2, 3, 5, 10, 20, 25, 50, 100, 200, 250, 500, 1000, 2000, 33)
    return {
        "vapour": [
            sourced(gas_and_charge.water_vapour_pressure_kPa(t, pool)) for t in temperatures
        ],
        "density": [sourced(gas_and_charge.water_density_g_per_mL(t, pool)) for t in temperatures],
        "beyond": [
            tried(f, t, pool)
            for f in (
                gas_and_charge.water_vapour_pressure_kPa,
                gas_and_charge.water_density_g_per_mL,
            )
            for t in (-0.1, 99.1, 100.0, 100.1, float("nan"))
        ],
        "tolerances": {
            f"{kind} {size}": [
                one if isinstance(one, str) else [one.tolerance_mL, one.graduation_mL, one.sentence]
                for c in "AB"
                for one in [tried(glassware.published_tolerance, kind, float(size), c)]
            ]
            + [tried(glassware.published_graduation, kind, float(size))]
            for kind in ("pipette", "flask", "cylinder", "burette")
            for size in sizes
        },
        "no such glass": [
            tried(glassware.published_tolerance, *a)
            for a in (("beaker", 50.0, "A"), ("pipette", 25.0, "C"), ("pipette", -1.0, "A"))
        ],
        "pressures": [
            f(p)
            for f in (
                displays.kPa_from_torr,
                displays.kPa_from_mmHg,
                displays.kPa_from_atm,
                displays.kPa_from_hPa,
            )
            for p in (1.0, 760.0)
        ],
        "air": [
            each(buoyancy.checked_density, [None, 0.1, 0.09, 25, 25.1, "8.96", True, 8960.0]),
            [buoyancy.air_factor(d) for d in (0.5, 1.0, 7.95, 8.0, 8.96, 19.3)],
            sourced(buoyancy.air_correction(1.0, ErrorPool())),
            buoyancy.unknown_factors(),
            buoyancy.NEGLIGIBLE,
            [
                bool(buoyancy.matters(m, s))
                for m in (0.1, 1.0, 4.0, 5.0, 10.0, 100.0)
                for s in (0.0001, 0.001, 0.01)
            ],
            buoyancy.matters(np.array([0.1, 10.0]), 0.001, 0.1),
            [v for n, v in vars(buoyancy).items() if n.isupper() and isinstance(v, float)],
        ],
        "constants": [base.GAS_CONSTANT_J_PER_MOL_K, base.FARADAY_C_PER_MOL],
        "shown": each(base.show, [0.1, 0.01, 1e-7, 1.0, 100.0, 2.5, 1e9, 1 / 3]),
        "times": [base.times(f) for f in (1, 2, Fraction(1, 2), Fraction(3, 2))],
    }


def weighings() -> object:
    readings = {
        t: [parse_number(x) for x in t.split()]
        for t in (
            "20.52 20.36 20.35",
            "20.52 20.36",
            "20.36 20.36",
            "20.35 20.36",
            "20.35 20.38",
            "20.38 20.35",
            "20.35 20.37",
            "20.352 20.358",
        )
    }
    balances = [
        displays.Balance(readability_g=s, repeatability_g=r)
        for s, r in ((0.01, 0.0), (0.01, 0.005), (0.01, 0.02), (0.001, 0.001), (0.1, None))
    ]
    return {
        "constant": {
            t: [weighing.constant_mass(r, b) for b in balances] for t, r in readings.items()
        },
        "rules": [weighing.constant_mass_rule(b) for b in balances],
        "both": [
            tried(weighing.MassByDifference, **DIFFERENCE, repeated=("a",), averaged=("a",)),
            tried(weighing.MassByDifference, **DIFFERENCE, repeated=("a",), averaged=("b",)),
        ],
        "one": tried(weighing.constant_mass, readings["20.36 20.36"][:1], balances[0]),
        "read to": [tried(balances[1].read_to, s) for s in (0.1, 0.001, 0, 0.02)],
        "ways": {
            k: [w, w.readings("Cu"), w.of("Cu"), tried(w.of, "Cl^-", precipitate="AgCl")]
            for k, w in weighing.WEIGHINGS.items()
        },
        "held": [
            tried(weighing.held_by, *a)
            for a in (
                ("AgCl", "Cl^-"),
                ("BaSO4", "SO4^2-"),
                ("Ag2CrO4", "Ag^+"),
                ("AgCl", "Br^-"),
                ("x", "Cl^-"),
                ("Mg(OH)2", "OH^-"),
            )
        ],
    }


def registered() -> object:
    good = {"heavier": "a", "lighter": "b", "species": "Cu"}
    return {
        "kinds": sorted(registry.KINDS),
        "models": sorted(registry.MODELS),
        "instruments": [
            tried(registry.make_instrument, kind, **values)
            for kind, values in (
                ("balance", {"readability_g": 0.01}),
                ("ballance", {}),
                ("balance", {"readibility_g": 1}),
                ("balance", {"readability_g": "x"}),
                (3, {}),
                ("burette", {"capacity_mL": 50}),
            )
        ],
        "from fields": [
            tried(registry.from_fields, kind, values)
            for kind, values in (
                ("mass by difference", good),
                ("mass by diference", good),
                ("mass by difference", {}),
                ("mass by difference", {**good, "heaver": "x"}),
                ("mass by difference", {**good, "purity": "x"}),
                ("solution", {"species": "Ag^+", "final": "f"}),
                ("solution", {"species": "Ag^+", "final": "f", "concentration": 3}),
                ("solution", {"species": "Ag^+", "final": "f", "concentration": {"kind": "known"}}),
                ("solution", {"species": "Ag^+", "final": "f", "concentration": {"kind": "knwon"}}),
                (
                    "solution",
                    {
                        "species": "Ag^+",
                        "final": "f",
                        "concentration": {"kind": "known", "mol_per_L": 0.1},
                    },
                ),
                (
                    "gas over water",
                    {"species": "H2", "final": "v", "temperature": "t", "pressure": "p"},
                ),
                ("precipitate", {**good, "precipitate": "AgCl", "factor": "1/0"}),
                (3, good),
            )
        ],
        "refused": [
            tried(registry.register, *a)
            for a in (
                ("balance", displays.Balance),
                ("", displays.Balance),
                ("mine", int),
                (3, displays.Balance),
            )
        ],
        "vessels": [
            tried(
                registry.vessel_groups,
                [
                    weighing.MassByDifference(species="Cu", heavier=h, lighter=low, vessel=v)
                    for h, low, v in rows
                ],
            )
            for rows in (
                (("a", "b", None), ("c", "d", None)),
                (("a", "b", "x"), ("b", "c", "y")),
                (("a", "b", "x"), ("c", "d", "x")),
            )
        ],
        "required": [f.name for f in fields(weighing.Precipitate) if f.default is MISSING],
    }


CASES = cases(
    instrument={name: partial(instrument, name) for name in INSTRUMENTS},
    wrong={name: partial(made_wrong, *one) for name, one in WRONG.items()},
    way={
        name: partial(way, name)
        for name in (
            "acid-titration",
            "copper-plating",
            "copper-silver",
            "hydrate-heating",
            "magnesium-gas",
            "tin-oxide",
            "routes",
            "averaged",
            "one-vessel",
            "shared-blank",
            "sum-of-masses",
            "titrated",
            "two-balances",
            "practice-gas-2",
            "practice-titration-3",
            "practice-charge-4",
        )
    },
    variant={name: partial(variant, name) for name in VARIANTS},
    alone={"tables": tables, "weighings": weighings, "registered": registered},
)

test_answers, test_nothing_else = RECORD.tests(CASES)
