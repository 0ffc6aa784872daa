"""What the bench plan answers, recorded: says when an answer changes, not that it is right.

That it is right is for the other tests here, by hand and against tables. The cases go through
every branch: ready labs, odd ones, refusals. How to write the record anew: ``tests/recorded.py``.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from unittest.mock import patch

from stoichkit import experiments
from stoichkit.bench import (
    cards,
    cautions,
    datasheet,
    dilutions,
    expectations,
    reagent_data,
    reagents,
    recipes,
    room,
    supply,
)
from stoichkit.bench.plan import BenchPlan, bench_plan
from stoichkit.bench.supply import Supply
from stoichkit.experiments.parts import Caution
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.concentration import KnownConcentration
from stoichkit.measurement.displays import Balance
from stoichkit.measurement.glassware import GraduatedCylinder, VolumetricFlask
from stoichkit.planning import Balances, Plan, Room, RoomPlan, groups_in
from stoichkit.planning.room import AIMS
from tests.recorded import Record, by_name, cases, each, tried

RECORD = Record(
    __file__,
    brief=(Experiment, Plan, RoomPlan, BenchPlan),
    leave=("experiment", "sections", "parts", "opening"),
)
SILVER = experiments.load("copper-silver")
BURNT = experiments.unweighed("Mg", candidates=["MgO", "MgO2"])
COARSE = Balance(readability_g=0.1)


def iron(**given: object) -> Experiment:
    given = {"states": [2, 3]} | given
    return experiments.unweighed("Fe", "CuSO4.5H2O", **given)  # type: ignore[arg-type]


PLANS: dict[str, Callable[[], BenchPlan]] = {
    **{name: (lambda n=name: bench_plan(experiments.load(n))) for name in experiments.names()},  # type: ignore[misc]
    "silver, a class": lambda: bench_plan(SILVER, reacting_mass_g=0.12, groups=6, trials=4),
    "silver, plenty": lambda: bench_plan(
        SILVER, reacting_mass_g=3.0, groups=20, trials=2, excess=3
    ),
    "silver, one trial": lambda: bench_plan(SILVER, reacting_mass_g=0.01, trials=1),
    "silver, with chances": lambda: bench_plan(
        SILVER,
        reacting_mass_g=0.1,
        chances={"copper(I)": 0.93, "copper(II)": 0.9999},
        chances_text="Chances of a lab of three trials.",
    ),
    "silver, no cautions": lambda: bench_plan(replace(SILVER, cautions=())),
    "silver, full": lambda: bench_plan(
        SILVER.with_instrument("balance", Balance(readability_g=0.01, capacity_g=3))
    ),
    "silver, a solid": lambda: bench_plan(
        SILVER, supplies=[Supply(species="Ag^+", solute="AgNO3", form="solid")]
    ),
    "silver, strong": lambda: bench_plan(
        SILVER, supplies=[Supply(species="Ag^+", solute="AgNO3", concentration_mol_per_L=20)]
    ),
    "iron": lambda: bench_plan(iron(), reacting_mass_g=1.0, groups=12, trials=1),
    "iron, little": lambda: bench_plan(iron(), reacting_mass_g=0.05),
    "zinc": lambda: bench_plan(
        experiments.unweighed("Zn", "AgNO3", states=[1, 2]), reacting_mass_g=0.5, groups=8, trials=2
    ),
    "magnesium burnt": lambda: bench_plan(BURNT, reacting_mass_g=0.3),
    "gas, a large class": lambda: bench_plan(
        experiments.load("magnesium-gas"), reacting_mass_g=0.5, groups=40, trials=6
    ),
    "gypsum": lambda: bench_plan(
        experiments.unweighed("CaSO4", candidates=["1/2", "2"]), reacting_mass_g=1.3, trials=9
    ),
    "from a plan": lambda: bench_plan(
        Plan(experiment=SILVER, consumed_mol=0.002, trials=3), groups=2
    ),
    "practice, gas": lambda: bench_plan(experiments.practice(3, kind="gas").experiment),
    "practice, titration": lambda: bench_plan(experiments.practice(3, kind="titration").experiment),
    "practice, charge": lambda: bench_plan(experiments.practice(3, kind="charge").experiment),
}


@cache
def made(name: str) -> BenchPlan:
    return PLANS[name]()


ALIKE = {
    "silver": "copper-silver",
    "iron": "iron",
    "gas": "magnesium-gas",
    "from a plan": "copper-silver",
}


def of_plan(name: str) -> object:
    """Return a plan; of one that is like another only what differs from that."""
    like = ALIKE.get(name.partition(",")[0], name)
    known = {*made(like).text().split("\n")} if like != name else set[str]()
    if known:
        return "\n".join(line for line in made(name).text().split("\n") if line not in known)
    return {"text": made(name).text(), "reagents": made(name).reagents}


def once(text: str) -> str:
    """Return each line of a text once."""
    return "\n".join(dict.fromkeys(text.split("\n")))


def of_cards(name: str, groups: object = None) -> object:
    plan = made(name)
    return {
        "cards": once(cards.bench_cards(plan, groups=groups).text()),  # type: ignore[arg-type]
        "stock": cards.stock_card(plan, groups=groups).text(),  # type: ignore[arg-type]
        "labels": once(cards.labels(plan, groups=groups).text()),  # type: ignore[arg-type]
    }


def of_sheet(lab: Experiment, **given: object) -> object:
    return {
        "columns": datasheet.sheet_columns(lab),
        "text": datasheet.datasheet_bytes(lab, ".csv", **given).decode("utf-8-sig"),  # type: ignore[arg-type]
        "workbook": workbook(datasheet.datasheet_bytes(lab, ".xlsx", **given)),  # type: ignore[arg-type]
    }


def workbook(content: bytes) -> object:
    import io

    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(content))
    found = {}
    for sheet in book:
        found[sheet.title] = {
            "cells": [
                [str(c.value) for c in row if c.value is not None] for row in sheet.iter_rows()
            ],
            "checks": [
                [
                    str(v.sqref),
                    v.type,
                    v.operator,
                    v.formula1,
                    v.formula2,
                    v.errorStyle,
                    v.error,
                    v.promptTitle,
                    v.prompt,
                ]
                for v in sheet.data_validations.dataValidation
            ],
            "formats": sorted({c.number_format for row in sheet.iter_rows() for c in row}),
            "widths": [[k, d.width] for k, d in sorted(sheet.column_dimensions.items())],
            "frozen": sheet.freeze_panes,
            "bold": [c.coordinate for row in sheet.iter_rows() for c in row if c.font.b],
        }
    return found


def written(**given: object) -> object:
    with TemporaryDirectory() as folder:
        name = given.pop("name", "sheet.csv")
        place = Path(folder) / str(name)
        found = tried(datasheet.write_datasheet, SILVER, place, **given)
        return (
            found.read_bytes().decode("utf-8-sig")
            if isinstance(found, Path)
            else found.replace(folder, "")
        )


SHEETS: dict[str, Callable[[], object]] = {
    **{
        name: (lambda n=name: of_sheet(experiments.load(n), groups=2, trials=2))
        for name in experiments.names()
    },  # type: ignore[misc]
    "names": lambda: of_sheet(SILVER, groups=["red", "=1+1"], trials=["a", "b"], delimiter=";"),
    "written": lambda: written(groups=1, trials=1),
    "ending": lambda: written(name="sheet.txt"),
    "delimiter": lambda: written(delimiter="|"),
    "delimiter, number": lambda: written(delimiter=3),
    "too many": lambda: written(groups=200, trials=200),
    "no groups": lambda: written(groups=0),
    "names as text": lambda: written(groups="red"),
    "twice": lambda: written(groups=["red", "red"]),
    "blank": lambda: written(groups=["red "]),
    "long": lambda: [written(groups=["x" * n]) for n in (60, 61, 81, 121, 201)],
    "none": lambda: written(trials=[]),
    "form": lambda: tried(datasheet.datasheet_bytes, SILVER, ".ods"),
    "headers": lambda: each(
        datasheet.read_header,
        [
            "wire before / g",
            "group",
            "'=x / g",
            "a / b / mL",
            "",
            "  x  ",
            "time/s",
            "x / g (2)",
            "room temperature / °C",
        ],
    ),
}

SOLUTES = (
    "AgNO3",
    "CuSO4.5H2O",
    "CuSO4·5H2O",
    "CuSO4",
    "NaOH",
    "HCl",
    "HNO3",
    "H2SO4",
    "NH3",
    "KMnO4",
    "K2Cr2O7",
    "FeSO4.7H2O",
    "Zn",
    "Fe",
    "Cu",
    "Mg",
    "C3H6O",
    "C6H8O7",
    "NaCl",
    "Pb(NO3)2",
    "BaCl2.2H2O",
    "Na2S2O3.5H2O",
    "I2",
    "C2H6O",
    "CH3COOH",
    "H2O2",
    "XeF2",
    "Al",
    "MgSO4.7H2O",
    "e-",
)
CONCENTRATIONS = (None, 0.005, 0.02, 0.1, 0.5, 1.0, 2.0, 6.0, 12.0)

DATA: dict[str, Callable[[], object]] = {
    **{f"cautions for {s}": (lambda s=s: of_solute(s)) for s in SOLUTES},  # type: ignore[misc]
    "cautions, refused": lambda: (
        [tried(reagent_data.cautions_for, x) for x in ("", "  ", "xx", 3)]
        + [
            tried(reagent_data.cautions_for, "HCl", concentration_mol_per_L=c)
            for c in (0.0, -1.0, 50.0)
        ]
    ),
    "statements": lambda: each(
        reagent_data.hazard_statement,
        ["H314", "H290", "H314+H290", "H999", "", "h225", "H300+H310", "EUH032"],
    ),
    "bases": lambda: each(
        reagent_data.base_formula, ["CuSO4.5H2O", "NaCl", "H2O", "MgSO4·7H2O", "(NH4)2SO4", "xx"]
    ),
    "solubility": lambda: {
        f"{s} {c}": tried(reagent_data.solubility, s, c)
        for s in ("CuSO4.5H2O", "AgNO3", "KMnO4", "XeF2", "Ca(OH)2", "NaOH")
        for c in (0.01, 0.3, 1.3, 1.5, 1.8, 30.0)
    },
    "advice": lambda: each(
        lambda kind: dict(reagent_data.advice(kind)), ["wear", "waste", "care", "water", "air"]
    ),
    "concentrated": lambda: each(
        reagent_data.concentrated, ["HCl", "HNO3", "H2SO4", "NH3", "CH3COOH", "NaOH", "H2O2"]
    ),
    "heat": lambda: each(
        reagent_data.heat_caution, ["H2SO4", "NaOH", "NaCl", "HCl", "KOH", "CaCl2"]
    ),
}


def of_solute(solute: str) -> object:
    found: dict[str, object] = {}
    before = None
    for c in CONCENTRATIONS:
        now = tried(reagent_data.cautions_for, solute, concentration_mol_per_L=c)
        if RECORD.lines(now) != before:
            found[f"from {c}"] = now
        before = RECORD.lines(now)
    return found


def of_safety(lab: Experiment) -> object:
    it = cautions.lab_safety(lab)
    return {
        "safety": it,
        "said": [str(part) for part in it.section().parts],
    }


SAFETY: dict[str, Callable[[], object]] = {
    **{name: (lambda n=name: of_safety(experiments.load(n))) for name in experiments.names()},  # type: ignore[misc]
    "no cautions": lambda: of_safety(replace(SILVER, cautions=())),
    "iron": lambda: of_safety(iron()),
    "unknown": lambda: of_safety(BURNT),
    "lines": lambda: [
        [cautions.hazard_line(c), cautions.signal_of(c)]
        for c in (
            Caution(
                subject="x",
                statements=["H314 Causes severe skin burns and eye damage"],
                advice=["Gloves."],
                source="memory",
            ),
            Caution(
                subject="x",
                statements=["H319 Causes serious eye irritation"],
                advice=[],
                source="memory",
            ),
            Caution(subject="x", statements=[], advice=["Gloves."], source="memory"),
            Caution(
                subject="x",
                statements=["H225 Highly flammable liquid and vapour", "H336 May cause drowsiness"],
                advice=[],
                source="memory",
            ),
            Caution(
                subject="x",
                statements=["H411 Toxic to aquatic life with long lasting effects"],
                advice=[],
                source="memory",
            ),
            Caution(subject="x", statements=["H410 Very toxic"], advice=[], source="memory"),
        )
    ],
    "advice": lambda: [
        cautions.advice_of(s)
        for s in (
            [],
            ["Wear gloves."],
            ["Wear gloves.", "Wear gloves.", "No flame."],
            ["Ventilate.", "Collect as waste."],
        )
    ],
}


def recipe(*given: object, **more: object) -> object:
    it = tried(recipes.prepare_solution, *given, **more)
    return it if isinstance(it, str) else {"steps": it.steps, "recipe": it}


FLASK = VolumetricFlask(capacity_mL=100, glass_class="A")
STOCK = KnownConcentration(mol_per_L=0.1, half_width_mol_per_L=0.0001, name="stock")

RECIPES: dict[str, Callable[[], object]] = {
    "copper sulfate": lambda: recipe("CuSO4.5H2O", 0.1, 200),
    "silver nitrate": lambda: recipe(
        "AgNO3", 0.05, 250, glass_class="A", purity=0.99, purity_half_width=0.005
    ),
    "between sizes": lambda: recipe("NaCl", 0.5, 120),
    "a flask": lambda: recipe("NaCl", 0.5, 80, flask=FLASK, balance=Balance(readability_g=0.001)),
    "a cylinder": lambda: recipe(
        "NaCl", 0.5, 80, flask=GraduatedCylinder(capacity_mL=100, glass_class="B")
    ),
    "hot": lambda: recipe("NaOH", 2.0, 500),
    "too strong": lambda: recipe("CuSO4.5H2O", 2.0, 100),
    "too coarse": lambda: recipe("NaCl", 0.0001, 100, balance=COARSE),
    "too small a flask": lambda: recipe("NaCl", 0.1, 101, flask=FLASK),
    "too much": lambda: recipe("NaCl", 0.1, 100_000),
    "an ion": lambda: recipe("Na^+", 0.1, 100),
    "no concentration": lambda: recipe("NaCl", 0, 100),
    "class": lambda: recipe("NaCl", 0.1, 100, glass_class="C"),
    "purity": lambda: recipe("NaCl", 0.1, 100, purity=1.2),
    "sizes": lambda: {
        f"{k} {c}": tried(recipes.standard_sizes, k, c)
        for k in ("flask", "cylinder", "pipette", "burette", "cup")
        for c in "AB"
    },
    "typed": lambda: [
        recipes.typed(v, s).text
        for v, s in ((1.23456, 0.01), (0.05, 0.1), (0.15, 0.1), (12.0, 0.02), (3.0, 1.0))
    ],
    "percent": lambda: [
        recipes.percent(p) for p in (0.0, -1.0, 0.00123, 0.0149, 0.05, 0.0999, 0.5, 1.0)
    ],
    "three digits": lambda: [recipes.three_digits(v) for v in (1442.3, 0.01234, 19.09, 0.5, 100.0)],
    "cylinders": lambda: [
        [v, c and c.capacity_mL]
        for v in (1, 5, 5.1, 10, 50, 250, 999, 1000, 1001, 2000, 2001)
        for c in (recipes.smallest_cylinder(v),)
    ],
    "by glassware": lambda: ways(tried(dilutions.recipes_by_glassware, "AgNO3", 0.1, 100)),
    "by glassware, 250": lambda: ways(
        tried(dilutions.recipes_by_glassware, "AgNO3", 0.1, 250, balance=COARSE)
    ),
    "by glassware, no size": lambda: tried(dilutions.recipes_by_glassware, "AgNO3", 0.1, 33),
    "dilutions": lambda: ways(dilutions.dilutions_by_glassware(STOCK, 0.02)),
    "nothing to compare": lambda: tried(dilutions.good_enough, {}, 0.1),
    "round up": lambda: [
        reagents.round_up(v)
        for v in (0.1, 10, 10.1, 45.1, 99.9, 100, 100.1, 249, 250, 250.1, 251, 1320)
    ],
    "batches": lambda: {
        f"{k} {v}": reagents.batches(v, k)
        for k in ("flask", "cylinder")
        for v in (20, 50, 55, 100, 260, 1001, 1350, 2600, 7000)
    },
}


def ways(found: object) -> object:
    if isinstance(found, str):
        return found
    return [dilutions.good_enough(found, t) for t in (0.0001, 0.004, 0.006, 0.02)] + [  # type: ignore[arg-type]
        c.sentence
        for c in (dilutions.good_enough(found, t) for t in (0.0001, 0.005, 0.05))  # type: ignore[arg-type]
    ]


def dilution(stock: object, target: float, **given: object) -> object:
    it = tried(dilutions.dilute, stock, target, **given)
    if isinstance(it, str):
        return it
    return {
        "steps": it.steps,
        "glassware": it.glassware,
        "stages": it.stages,
        "limited": it.limited_by,
        "concentration": it.concentration_mol_per_L,
        "off": it.relative_uncertainty,
        "pieces": [piece.named for piece in it.pieces],
        "cautions": it.cautions,
    }


DILUTIONS: dict[str, Callable[[], object]] = {
    "tenth": lambda: dilution(STOCK, 0.01),
    "thousandth": lambda: dilution(STOCK, 0.00001),
    "odd": lambda: dilution(STOCK, 0.0137),
    "odd, close": lambda: dilution(STOCK, 0.0137, closeness=0.0001),
    "loose": lambda: dilution(STOCK, 0.0137, closeness=0.2),
    "class B": lambda: dilution(STOCK, 0.02, glass_class="B", volume_mL=250),
    "large": lambda: dilution(STOCK, 0.02, volume_mL=1000),
    "too large": lambda: dilution(STOCK, 0.02, volume_mL=5000),
    "cylinders": lambda: dilution(STOCK, 0.02, glassware="cylinder", glass_class="B"),
    "cylinders, 730": lambda: dilution(
        STOCK, 0.033, glassware="cylinder", glass_class="B", volume_mL=730
    ),
    "cylinders, little": lambda: dilution(STOCK, 0.0001, glassware="cylinder", glass_class="B"),
    "cylinders, too large": lambda: dilution(STOCK, 0.02, glassware="cylinder", volume_mL=5000),
    "acid": lambda: dilution(
        reagent_data.concentrated("HCl"), 2.0, glassware="cylinder", glass_class="B"
    ),
    "sulfuric acid": lambda: dilution(reagent_data.concentrated("H2SO4"), 0.5, volume_mL=500),
    "of a recipe": lambda: dilution(recipes.prepare_solution("CuSO4.5H2O", 0.1, 100), 0.01),
    "of a dilution": lambda: dilution(dilutions.dilute(STOCK, 0.01), 0.001),
    "not weaker": lambda: dilution(STOCK, 0.1),
    "nothing": lambda: dilution(STOCK, 0.0),
    "glassware": lambda: dilution(STOCK, 0.01, glassware="cup"),
    "closeness": lambda: dilution(STOCK, 0.01, closeness=1.0),
    "far": lambda: dilution(STOCK, 1e-12),
}

SOLUTIONS: dict[str, Callable[[], object]] = {
    f"{s} {c} {v} {t}": (lambda s=s, c=c, v=v, t=t: tried(card_text, s, c, v, t))  # type: ignore[misc]
    for s, c, v, t in (
        ("CuSO4.5H2O", 0.5, 250, 0.01),
        ("AgNO3", 0.1, 100, 0.002),
        ("HCl", 2.0, 500, 0.02),
        ("NaCl", 0.1, 33, 0.05),
        ("H2SO4", 1.0, 100, 0.001),
        ("NaCl", 0.0001, 5, 0.00001),
        ("CuSO4.5H2O", 5.0, 100, 0.01),
        ("NaCl", 0.1, 3000, 0.01),
        ("NaCl", 0.0, 100, 0.01),
        ("NaCl", 0.1, 100, 1.0),
        ("HCl", 20.0, 100, 0.01),
        ("xx", 1.0, 100, 0.01),
        ("NH3", 1.0, 250, 0.01),
    )
}


def card_text(solute: str, c: float, volume: float, target: float) -> str:
    return cards.solution_card(solute, c, volume, relative_target=target).text()


def setup(lab: Experiment, mol: float, there: Room, **given: object) -> object:
    plan = Plan(experiment=lab, consumed_mol=mol, trials=int(given.pop("trials", 1)))  # type: ignore[call-overload]
    it = room.setup_of(there, groups_in(there, plan), **given)  # type: ignore[arg-type]
    return {
        "setup": it,
        "orders": [o.words for o in it.orders],
        "chances": [it.found.bench_concludes, it.found.concluding, it.found.all_conclude],
    }


def compared(there: Room, *given: object, **more: object) -> object:
    heard: list[str] = []
    it = tried(room.compare_setups, there, *given, **({"progress": heard.append} | more))
    if isinstance(it, str):
        return it
    return {"heard": heard[:12], "found": shown(it)}


def of_trials() -> object:
    """Return which of two is said to be the least: 0.3 g once, or 0.2 g twice, which is more."""
    there = Room(2, [0.1])
    setups = [
        room.setup_of(
            there,
            room.at_mass(
                groups_in(there, Plan(experiment=SILVER, consumed_mol=1.0, trials=trials)), mass
            ),
        )
        for mass, trials in ((0.2, 2), (0.3, 1))
    ]
    found = room.SetupComparison(there, 0.9, tuple(setups))
    return [*room.setup_sentences(found)]


def compared_at(there: Room, *given: object, **more: object) -> object:
    """Compare set-ups at masses that are given here, as looking for them takes long."""

    def smallest(
        groups: object, *, aim: str, progress: Callable[[float], object], **_: object
    ) -> float:
        progress(0.5)
        alike = {one.plan.experiment.instruments["balance"].readability_g for one in groups}  # type: ignore[attr-defined]
        found = {AIMS[0]: 1.1, AIMS[1]: 0.31}[aim] / (1 if max(alike) == 0.1 else 10)
        return found if (aim, len(alike)) != (AIMS[1], 2) else math.nan

    with patch.object(room, "smallest_in_room", smallest):
        return compared(there, *given, **more)


def shown(it: room.SetupComparison) -> object:
    return {
        "text": it.document().text(),
        "said": [*room.setup_sentences(it), *room.drying_sentences(it)],
        "tables": [RECORD.lines(t) for t in it.tables()],
        "without": it.without,
        "setups": [
            [s.name, s.mass_g, s.waste_mL, s.waste_g, s.order_g, s.timing] for s in it.setups
        ],
        "cells": it.sorted("mass").cells(),
        "sheets": [s.rows for s in it._order_sheets()],
        "sorted": {by: [s.mass_g for s in it.sorted(by).setups] for by in room.ORDERS},
    }


def side_by_side(there: Room, lab: Experiment, masses_g: list[float], trials: int = 1) -> object:
    """Return set-ups at masses given, without the search for them."""
    plan = Plan(experiment=lab, consumed_mol=1.0, trials=trials)
    setups = [
        room.setup_of(there, room.at_mass(groups_in(there, plan, kind), mass), aim=aim)
        for kind, aim, mass in zip(
            (there.balances[0], there.balances[-1], None),
            (AIMS[0], AIMS[1], AIMS[1]),
            masses_g,
            strict=True,
        )
    ]
    setups.append(
        room.setup_of(
            there, room.at_mass(groups_in(there, plan, there.balances[0]), masses_g[1]), aim=AIMS[1]
        )
    )
    return shown(room.SetupComparison(there, 0.9, tuple(setups), ("Nothing else.",)))


STOCKED = {"Fe": 10.0, "CuSO4.5H2O": 500.0}
ROOMS: dict[str, Callable[[], object]] = {
    "silver": lambda: setup(SILVER, 0.002, Room(6, [0.01], minutes=60)),
    "silver, two trials": lambda: setup(
        SILVER,
        0.002,
        Room(6, [Balances(0.01, 2)], minutes=200, stock_g={"AgNO3": 30, "Cu": 0.5}),
        trials=2,
    ),
    "silver, little time": lambda: setup(
        SILVER, 0.002, Room(6, [0.1, Balances(0.01, 1)], minutes=5)
    ),
    "one bench": lambda: setup(SILVER, 0.002, Room(1, [0.01])),
    "hydrate": lambda: setup(
        experiments.load("hydrate-heating"), 0.01, Room(1, [0.01], minutes=100)
    ),
    "gas": lambda: setup(experiments.load("magnesium-gas"), 0.001, Room(1, [0.001], minutes=30)),
    "plating": lambda: setup(
        experiments.load("copper-plating"), 0.006, Room(3, [0.001], minutes=90)
    ),
    "acid": lambda: setup(experiments.load("acid-titration"), 0.0006, Room(1, [0.001])),
    "oxide": lambda: setup(
        experiments.load("tin-oxide"),
        0.005,
        Room(1, [0.001], minutes=10),
        times=room.Times(oven=5, acetone=3, weighing=2),
    ),
    "compared": lambda: compared_at(
        Room(2, [0.1, Balances(0.01, 1)], minutes=50, stock_g=STOCKED),
        ["Fe"],
        "CuSO4.5H2O",
        states=[2, 3],
    ),
    "two balances": lambda: side_by_side(
        Room(4, [0.1, Balances(0.01, 1)], minutes=75, stock_g=STOCKED), iron(), [0.9, 0.3, 0.3]
    ),
    "two balances, two trials": lambda: side_by_side(
        Room(6, [Balances(0.1, 2), Balances(0.01, 1)], minutes=30), SILVER, [0.2, 0.1, 0.1], 2
    ),
    "next to nothing": lambda: side_by_side(Room(2, [0.1]), SILVER, [1e-6, 1e-6, 1e-6]),
    "one trial or two": lambda: of_trials(),
    "a long day": lambda: side_by_side(
        Room(3, [Balances(0.01, 1)], minutes=1), SILVER, [0.2, 0.1, 0.1]
    ),
    "compared, one bench": lambda: compared(
        Room(1, [0.1], minutes=20), ["Zn"], "CuSO4.5H2O", states=[1, 2], bath_mol_per_L=0.5
    ),
    "compared, silver": lambda: compared(Room(1, [0.01]), [SILVER], target=0.5, excess=2),
    "compared, never": lambda: compared(
        Room(1, [0.1], minutes=40), ["Fe"], "CuSO4.5H2O", states=[2, 3], target=0.99
    ),
    "compared, gypsum": lambda: compared(
        Room(1, [0.01], minutes=90), ["CaSO4"], candidates=["1/2", "2"]
    ),
    "compared, burnt": lambda: compared(Room(1, [0.01], minutes=20), [BURNT]),
    "refused": lambda: [
        compared(Room(2, [0.1]), [], "CuSO4.5H2O"),
        compared(Room(2, [0.1]), [SILVER] * 13, trials=[1, 2, 3]),
        compared(Room(2, [0.1]), [SILVER], trials=[17]),
        compared(Room(2, [0.1]), [SILVER], trials=[]),
        compared(Room(2, [0.1]), [SILVER], target=1.0),
        compared(Room(2, [0.1]), [SILVER], bath_mol_per_L=21.0),
        compared(Room(2, [0.1]), [SILVER], excess=0.9),
        compared(Room(2, [0.1]), [SILVER], spread=1.0),
        tried(room.Times, weighing=-1),
        tried(room.Times, oven=10_001),
    ],
    "queue": lambda: {
        f"{n} {b} {t}": room.queue_minutes(n, b, *t)
        for n in (1, 4, 12)
        for b in (1, 2, 12)
        for t in ((2, 30, 3), (10, 1, 10), (1, 15, 1))
    },
    "orders": lambda: [
        [o.words, o]
        for o in room.orders_of(
            Room(3, [0.1], stock_g=STOCKED | {"AgNO3": 1.0}),
            made("silver, a class").reagents + made("iron").reagents,
            3,
        )
    ],
}

SUPPLIES: dict[str, Callable[[], object]] = {
    "usual": lambda: each(
        lambda s: [supply.default_supply(s)],
        [
            "Ag^+",
            "Cu^2+",
            "H^+",
            "OH^-",
            "O2",
            "HCl",
            "Zn",
            "CuSO4",
            "Na^+",
            "Cl^-",
            "Pb^2+",
            "SO4^2-",
            "Xx",
            "XeF2",
            "MnO4^-",
            "Og^+",
            "N2",
            "CO2",
        ],
    ),
    "stated": lambda: [
        tried(Supply, **given)
        for given in (
            {"species": "Ag^+", "solute": "AgNO3"},
            {"species": "Ag^+", "solute": "AgNO3", "form": "gas"},
            {"species": "Ag^+", "solute": "AgNO3", "units": 0},
            {"species": "Ag^+", "solute": "Ag2SO4", "units": Fraction(2)},
            {"species": "O2", "solute": "O2", "form": "air"},
            {"species": "Zn", "solute": "Zn", "form": "solid"},
            {"species": "x", "solute": "Zn"},
            {"species": "Ag^+", "solute": "AgNO3", "concentration_mol_per_L": 0},
            {"species": "XeF2", "solute": "XeF2", "form": "solid"},
        )
    ],
    "needs": lambda: {
        name: [supply.needs_of(c, lab.consumed.species) for c in lab.candidates[:4]]
        for name in experiments.names()
        for lab in (experiments.load(name),)
    },
    "shared": lambda: {
        name: supply.shared_supplies(
            [n for c in lab.candidates[:4] if (n := supply.needs_of(c, lab.consumed.species))], {}
        )
        for name in experiments.names()
        for lab in (experiments.load(name),)
    },
}

CHANGES: dict[str, Callable[[], object]] = {
    name: (
        lambda n=name: expectations.expectations_of(
            Plan(experiment=experiments.load(n), consumed_mol=0.001)
        )[:3]
    )  # type: ignore[misc]
    for name in experiments.names()
}

CARDED_TOO: dict[str, Callable[[], object]] = {
    "twenty trials": lambda: [
        [section.title, len(section.parts)]
        for section in cards.bench_cards(bench_plan(SILVER, trials=20)).sections
    ],
    "two names": lambda: [
        section.title
        for make in (cards.bench_cards, cards.labels, cards.stock_card)
        for section in make(bench_plan(SILVER, groups=2, trials=2), groups=["red", "blue"]).sections
    ],
    "of a lab": lambda: once(cards.bench_cards(SILVER, groups=3).text()),
}

REFUSED: dict[str, Callable[[], object]] = {
    "plans": lambda: (
        [
            tried(bench_plan, SILVER, **given)
            for given in (
                {"reacting_mass_g": 0},
                {"reacting_mol": -1.0},
                {"reacting_mass_g": 1, "reacting_mol": 1},
                {"excess": 0.9},
                {"excess": 21},
                {"groups": 0},
                {"trials": 0},
                {"groups": 1000, "trials": 1000},
                {"chances": {"gold": 0.5}},
                {"chances": {"copper(I)": 1.5}},
                {"supplies": [3]},
            )
        ]
        + [
            tried(bench_plan, experiments.load("copper-plating"), reacting_mass_g=1.0),
            tried(bench_plan, replace(SILVER, trials=())),
            tried(cards.bench_cards, made("silver, a class"), groups=5),
            tried(cards.bench_cards, made("silver, a class"), groups=["a", "a"]),
            tried(cards.labels, made("silver, a class"), groups=["x" * 300]),
        ]
    ),
}

CARDED: Mapping[str, object] = {
    "copper-silver": None,
    "acid-titration": None,
    "copper-plating": None,
    "hydrate-heating": None,
    "magnesium-gas": ["red"],
    "tin-oxide": None,
    "silver, a class": None,
    "iron": None,
    "zinc": None,
    "gypsum": None,
    "magnesium burnt": None,
    "silver, no cautions": None,
    "practice, titration": None,
}

CASES = cases(
    plan=by_name(of_plan, PLANS),  # type: ignore[misc]
    cards={name: (lambda n=name, g=g: of_cards(n, g)) for name, g in CARDED.items()} | CARDED_TOO,  # type: ignore[misc]
    sheet=SHEETS,
    data=DATA,
    safety=SAFETY,
    recipe=RECIPES,
    dilution=DILUTIONS,
    solution=SOLUTIONS,
    room=ROOMS,
    supply=SUPPLIES,
    changes=CHANGES,
    refused=REFUSED,
)

test_answers, test_nothing_else = RECORD.tests(CASES)
