"""Every public function with arguments that are right, so that each can be replaced by a wrong one.

A function stands here under its room and name; arguments that have a default are added from its
signature. Types of results, which users read and do not make, are listed with their maker.
"""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from typing import Any

import numpy as np

import stoichkit
from stoichkit import (
    decision,
    diagnosis,
    experiments,
    plots,
    reports,
    text,
    uncertainty,
)
from stoichkit.uncertainty import ErrorPool, Shape

LAB = experiments.load("copper-silver")
EVIDENCE = stoichkit.assess(LAB)
PLAN = stoichkit.Plan(experiment=LAB, consumed_mol=0.002)
ROWS = (
    b"group,wire before,wire after,paper,paper + silver\n"
    b"a,2.94,2.82,0.75,1.15\nb,3.1,3.0,0.7,1.04\nc,3.2,2.9,0.7,1.72\n"
)
CLASS = stoichkit.load_class(ROWS, LAB)
CODED = stoichkit.load_class(ROWS, LAB, codes=True)
RESULT = stoichkit.assess_class_file(ROWS, LAB)
BALANCE = stoichkit.Balance(readability_g=0.01)
STOCK = stoichkit.KnownConcentration(mol_per_L=0.1)
WEIGHED = {
    "consumed_before_g": [3.12, 2.87],
    "consumed_after_g": [2.65, 2.85],
    "tare_g": [0.71, 0.70],
    "gross_g": [2.30, 0.75],
    "consumed": "Cu",
    "produced": "Ag",
    "balance": BALANCE,
}
CAUSES = stoichkit.causes_for(EVIDENCE, "copper(I)")
WET, LOST = (diagnosis.effect_named(LAB, key) for key in ("wet product", "lost product"))
BOTH = diagnosis.combine(EVIDENCE, "copper(I)", WET, LOST)
POOLED = stoichkit.pool([1.98, 2.03, 2.01, 2.20], [0.0004, 0.0004, 0.0009, 0.0025])
MADE = uncertainty.monte_carlo(lambda rng, size: rng.normal(size=size), trials=1000)
NUMBER = uncertainty.uncertain_value(1.0, "x", kind="other", shape=Shape.NORMAL, scale=0.1)
FOUND = stoichkit.operating_characteristic(PLAN)
DRYING = [(0, "1.842"), (10, "1.571"), (20, "1.469")]
QUESTION = next(q for q in stoichkit.lesson(LAB) if not q.choices)
DECISION, RATIO = plots.decision_data(EVIDENCE), plots.ratio_data(EVIDENCE)
BUDGET, EFFECTS = plots.budget_data(EVIDENCE), plots.effects_data(CAUSES)


@cache
def axes() -> Any:
    from matplotlib.figure import Figure

    return Figure(figsize=(6.0, 4.0)).add_axes((0.0, 0.0, 1.0, 1.0))


def error() -> Any:
    """Return an error source made anew, as a calculation that is rerun needs it."""
    return uncertainty.error_source("x", kind="other", shape=Shape.NORMAL, scale=0.1)


def _sample(rng: np.random.Generator, size: int) -> Any:
    return rng.normal(size=size)


def _progress(done: int, total: int) -> None:
    del done, total


def _file(**given: Any) -> dict[str, Any]:
    return {"path": "out.csv", **given}


GLASS = {"tolerance_mL": 0.1, "repeatability_mL": 0.02}
SCALE = {"graduation_mL": 1.0, "resolution_mL": 0.1}
CALLS: dict[str, dict[str, Any]] = {
    "Ammeter": {"tolerance_A": 0.02, "repeatability_A": 0.01},
    "Balance": {"repeatability_g": 0.01, "capacity_g": 200.0},
    "Barometer": {"tolerance_kPa": 0.1, "repeatability_kPa": 0.1},
    "Burette": {**GLASS, **SCALE},
    "Candidate": {"name": "a", "ratio": Fraction(2), "equation": "", "consumed": "Cu"},
    "Charge": {"species": "e-", "current": "I", "time": "t"},
    "Experiment": {
        name: getattr(LAB, name)
        for name in (
            "title", "consumed", "produced", "instruments", "candidates", "trials", "about",
            "invented", "candidate_spec", "recovery", "coverage", "shared_readings", "cautions",
            "notes",
        )
    },
    "GasVolume": {"species": "H2", "final": "V", "temperature": "t", "pressure": "p"},
    "GraduatedCylinder": {**GLASS, **SCALE},
    "KnownConcentration": {"mol_per_L": 0.1},
    "MassByDifference": {"species": "Cu", "heavier": "a", "lighter": "b", "vessel": "pan"},
    "Pipette": GLASS,
    "Plan": {"experiment": LAB, "consumed_mol": 0.002},
    "Precipitate": {
        "species": "Cl^-", "precipitate": "AgCl", "heavier": "a", "lighter": "b", "vessel": "pan",
    },
    "PreparedSolution": {"solute": "NaCl", "heavier": "a", "dilutions": (("pipette", "flask"),)},
    "SolutionVolume": {
        "species": "HCl", "concentration": STOCK, "final": "a", "initial": "b", "pipette": "",
    },
    "Thermometer": {"tolerance_C": 0.1, "repeatability_C": 0.1},
    "Timer": {"reaction_s": 0.2, "repeatability_s": 0.1},
    "Trial": {"name": "1", "readings": {"wire": "1.50"}},
    "VolumetricFlask": GLASS,
    "assess": {"experiment": LAB, "coverage": 0.95},
    "assess_class": {"classdata": CLASS, "coverage": 0.95, "progress": _progress},
    "assess_class_file": {
        "path_or_bytes": ROWS, "experiment": LAB, "coverage": 0.95, "progress": _progress,
        "columns": {"paper": "paper"},
    },
    "assess_weighings": {**WEIGHED, "candidates": {"copper(I)": 1, "copper(II)": 2}},
    "balance_equation": {"text": "H2 + O2 -> H2O"},
    "bench_plan": {
        "experiment_or_design": LAB, "reacting_mass_g": 0.12, "reacting_mol": None, "trials": 2,
        "chances": {"copper(I)": 0.9},
    },
    "binary_series": {"metal": "Sn", "partner": "O"},
    "causes_for": {"evidence": EVIDENCE, "candidate": "copper(I)", "residue": "AgNO3"},
    "cautions_for": {"reagent": "HCl", "concentration_mol_per_L": 2.0},
    "class_verdict": {
        "groups": {"a": EVIDENCE.amounts[:1], "b": EVIDENCE.amounts[1:2]},
        "candidates": {"copper(I)": 1, "copper(II)": 2}, "produced": "Ag",
    },
    "coarsest_balance": {"plan": PLAN, "readabilities_g": (0.1, 0.01)},
    "conclusion_paragraph": {"evidence": EVIDENCE},
    "copy_notebooks": {"folder": "notebooks", "replace_file": True},
    "design_map": {"experiment": LAB, "masses_g": [0.02, 0.1], "readabilities_g": [0.1, 0.01]},
    "dilute": {"stock": STOCK, "target_mol_per_L": 0.01},
    "drying": {"weighings": DRYING, "balance": BALANCE},
    "export_answer_key": _file(classdata=CLASS, groups=["a"]),
    "export_results": _file(evidence=RESULT.evidence),
    "fewest_trials": {"plan": PLAN, "most": 2},
    "find_slips": {"experiment": LAB},
    "fit_line": {
        "x": [1, 2, 3, 4], "y": [2.1, 4.0, 6.1, 8.1], "u_x": [0.01] * 4, "u_y": [0.05] * 4,
        "correlation": [0.0] * 4, "shared_x": [[0.1] * 4], "shared_y": [[0.1] * 4],
    },
    "from_equations": {"equations": ["Cu + AgNO3 -> CuNO3 + Ag"], "consumed": "Cu",
                       "produced": "Ag"},
    "from_formulas": {"formulas": ["SnO", "SnO2"], "consumed": "Sn", "produced": "O"},
    "good_enough": {
        "recipes": {"a": stoichkit.prepare_solution("NaCl", 0.1, 100.0)}, "relative_target": 0.01,
    },
    "hydrate_series": {"salt": "CuSO4", "waters": [1, 3, 5]},
    "lab_report_html": {"evidence": EVIDENCE, "title": "Lab"},
    "lab_report_markdown": {"evidence": EVIDENCE, "title": "Lab"},
    "largest_recovery": {"plan": PLAN},
    "lesson": {"experiment": LAB},
    "limiting_reactant": {
        "reaction": "Si + N2 -> Si3N4", "amounts_mol": {"Si": 0.0712, "N2": 0.0535},
    },
    "load_class": {
        "path_or_bytes": ROWS, "experiment": LAB, "columns": {"paper": "paper"},
    },
    "load_experiment": {"path": "lab.toml"},
    "molar_mass": {"formula": "CuSO4"},
    "monte_carlo": {"sample": _sample, "trials": 1000},
    "operating_characteristic": {"plan": PLAN},
    "oxidation_states": {"metal": "Fe", "states": [2, 3]},
    "parse_experiment": {"text": experiments.read("copper-silver")},
    "parse_formula": {"text": "CuSO4"},
    "percent_error": {"measured": 6.86, "accepted": 7.0},
    "percent_yield": {"actual": 0.392, "theoretical": 0.5072},
    "plain_ratios": {"ratios": {"one": 1, "two": "2"}},
    "pool": {"estimates": [1.98, 2.03, 2.01], "variances": [0.0004, 0.0004, 0.0009]},
    "prepare_solution": {
        "solute": "NaCl", "concentration_mol_per_L": 0.1, "volume_mL": 100.0,
        "flask": stoichkit.VolumetricFlask(capacity_mL=100.0), "balance": BALANCE,
    },
    "preview_class": {
        "path_or_bytes": ROWS, "experiment": LAB, "columns": {"paper": "paper"},
    },
    "redox_findings": {"experiment": LAB},
    "report_markdown": {"evidence": EVIDENCE, "picture": "a.svg", "alt_text": "A picture."},
    "report_text": {"evidence": EVIDENCE},
    "save_experiment": _file(experiment=LAB),
    "simulate_labs": {"plan": PLAN, "truth": "copper(I)", "labs": 3},
    "smallest_amount": {"plan": PLAN},
    "student_sets": {},
    "theoretical_yield": {
        "reaction": "H2 + O2 -> H2O", "amounts_mol": {"H2": 2.0, "O2": 1.0}, "product": "H2O",
    },
    "weighed_ratios": WEIGHED,
    "worked_solution": {
        "experiment_or_evidence": EVIDENCE, "trial": "bench 1", "yield_of": "copper(II)",
    },
    "write_class_report": {
        "result": RESULT, "path": "class.md", "replace_file": True, "title": "Class",
        "progress": _progress,
    },
    "write_datasheet": _file(experiment=LAB),
    "write_group_report": {
        "result": RESULT, "group": "a", "path": "group.md", "replace_file": True, "title": "Group",
    },
    "write_lab_report": {
        "evidence": EVIDENCE, "path": "lab.md", "replace_file": True, "title": "Lab",
    },
    "write_worked_solution": {
        "evidence": EVIDENCE, "path": "worked.md", "trial": "bench 1", "yield_of": "copper(II)",
        "replace_file": True,
    },
    "yield_for": {"evidence": EVIDENCE, "name": "copper(II)"},
    "bench.Supply": {"species": "Ag^+", "solute": "AgNO3"},
    "bench.hazard_statement": {"code": "H314"},
    "bench.read_header": {"header": "wire / g"},
    "bench.sheet_columns": {"experiment": LAB},
    "bench.solubility": {"formula": "NaCl", "mol_per_L": 0.1},
    "chemistry.atomic_weight": {"symbol": "Cu"},
    "chemistry.element_name": {"symbol": "Cu"},
    "chemistry.is_balanced": {"text": "H2 + O2 -> H2O"},
    "chemistry.parse_equation": {"text": "H2 + O2 -> H2O"},
    "classroom.ClassAmounts": {"groups": {"a": EVIDENCE.amounts[:1], "b": EVIDENCE.amounts[1:2]}},
    "classroom.amounts_of": {"assessed": EVIDENCE},
    "classroom.assess_class_data": {"data": CLASS, "coverage": 0.95, "progress": _progress},
    "classroom.class_line": {"amounts": RESULT.verdict.amounts},
    "classroom.class_outlook": {"found": RESULT.verdict, "truth": "copper(II)"},
    "classroom.class_verdict_sentences": {"result": RESULT},
    "classroom.export_code_key": _file(classdata=CODED),
    "classroom.export_rows": _file(classdata=CLASS),
    "classroom.groups_sentence": {"result": RESULT},
    "classroom.pooled_ratios": {"verdict": RESULT.verdict},
    "classroom.random_effects": {"amounts": RESULT.verdict.amounts, "x": 2.0, "y": 1.0},
    "decision.answer_lines": {"experiment": LAB},
    "decision.assumption_sentences": {"evidence": EVIDENCE},
    "decision.caveat_sentence": {
        "caveat": decision.Caveat(decision.CaveatKind.SINGLE_TRIAL), "evidence": EVIDENCE,
    },
    "decision.evidence_grade": {"likelihood_ratio": 12.0},
    "decision.grouped_budget": {"evidence": EVIDENCE, "name": "copper(I)"},
    "decision.ratio_sentence": {"evidence": EVIDENCE},
    "decision.recovery_sentence": {"evidence": EVIDENCE, "name": "copper(I)"},
    "decision.verdict_sentences": {"evidence": EVIDENCE},
    "decision.yield_sentence": {"evidence": EVIDENCE, "name": "copper(I)"},
    "diagnosis.catalogue": {},
    "diagnosis.cause_sentence": {"cause": CAUSES[0]},
    "diagnosis.causes_paragraph": {"causes": CAUSES},
    "diagnosis.cell": {
        "cathode": diagnosis.couple("Ag^+", "Ag"), "anode": diagnosis.couple("Fe^2+", "Fe"),
    },
    "diagnosis.combination_sentence": {"found": BOTH},
    "diagnosis.combine": {
        "evidence": EVIDENCE, "candidate": "copper(I)", "effect_a": WET, "effect_b": LOST,
    },
    "diagnosis.couple": {"oxidised": "Cu^2+", "reduced": "Cu"},
    "diagnosis.drying_sentence": {"found": stoichkit.drying(DRYING, BALANCE)},
    "diagnosis.effect_named": {"experiment": LAB, "key": "wet product", "residue": "AgNO3"},
    "diagnosis.effects_for": {"experiment": LAB, "residue": "AgNO3"},
    "diagnosis.redox_sentences": {"findings": stoichkit.redox_findings(LAB)},
    "diagnosis.slip_sentence": {
        "slip": stoichkit.find_slips(LAB.with_reading("bench 3", "wire before", "1.34"))[0],
    },
    "diagnosis.spot_test_sentence": {
        "candidate": "iron(II)", "test": diagnosis.spot_tests("Fe^2+")[0],
    },
    "diagnosis.spot_tests": {"ion": "Fe^2+"},
    "diagnosis.suggested_tests": {"experiment": LAB},
    "experiments.Caution": {"subject": "acid", "advice": ("Wear gloves.",), "source": "memory"},
    "experiments.class_file": {},
    "experiments.class_names": {},
    "experiments.load": {"name": "copper-silver"},
    "experiments.names": {},
    "experiments.path": {"name": "copper-silver"},
    "experiments.read": {"name": "copper-silver"},
    "guide.page": {"name": "limits"},
    "guide.pages": {},
    "measurement.Role": {"name": "a", "instrument": "balance", "quantity": "mass", "unit": "g"},
    "measurement.published_tolerance": {
        "kind": "burette", "capacity_mL": 50.0, "glass_class": "A",
    },
    "measurement.water_density_g_per_mL": {"temperature_C": 20.0, "pool": ErrorPool()},
    "measurement.water_vapour_pressure_kPa": {"temperature_C": 20.0, "pool": ErrorPool()},
    "planning.answer_sentences": {"answer": stoichkit.fewest_trials(PLAN, most=2)},
    "planning.chances": {"plan": PLAN, "truth": "copper(I)"},
    "planning.chances_table": {"chances": [*FOUND.chances.items()], "target": 0.9},
    "planning.hardest_sentence": {"found": FOUND, "target": 0.9},
    "planning.map_sentence": {
        "found": stoichkit.design_map(LAB, masses_g=[0.02, 0.1], readabilities_g=[0.1, 0.01]),
        "experiment": LAB, "marked_g": [0.05],
    },
    "planning.meaning_sentence": {"labs": stoichkit.simulate_labs(PLAN, "copper(I)", labs=9)},
    "planning.setting_sentence": {"plan": PLAN},
    "planning.with_readability": {"experiment": LAB, "readability_g": 0.1},
    "planning.wrong_sentence": {"found": FOUND},
    "plots.budget_alt_text": {"data": BUDGET},
    "plots.budget_data": {"evidence": EVIDENCE},
    "plots.combination_alt_text": {"data": plots.combination_data(BOTH)},
    "plots.combination_data": {"found": BOTH},
    "plots.combination_scene": {
        "data": plots.combination_data(BOTH), "width": 480.0, "height": 345.0,
    },
    "plots.decision_alt_text": {"data": DECISION},
    "plots.decision_data": {"evidence": EVIDENCE},
    "plots.draw_budget": {"ax": axes, "data": BUDGET},
    "plots.draw_combination": {"ax": axes, "data": plots.combination_data(BOTH)},
    "plots.draw_decision": {"ax": axes, "data": DECISION},
    "plots.draw_effects": {"ax": axes, "data": EFFECTS},
    "plots.draw_ratio": {"ax": axes, "data": RATIO},
    "plots.effects_alt_text": {"data": EFFECTS},
    "plots.effects_data": {"causes": CAUSES},
    "plots.effects_scene": {"data": EFFECTS, "width": 480.0},
    "plots.live_svg": {"evidence": EVIDENCE},
    "plots.picture_svg": {"decision": DECISION, "ratio": RATIO},
    "plots.png_bytes": {"figure": lambda: axes().figure},
    "plots.ratio_alt_text": {"data": RATIO},
    "plots.ratio_data": {"evidence": EVIDENCE},
    "plots.result_alt_text": {"evidence": EVIDENCE},
    "plots.result_figure": {"evidence": EVIDENCE},
    "plots.save_picture": {"evidence": EVIDENCE, "path": "picture.svg"},
    "plots.svg_of": {"picture": lambda: axes().figure, "alt_text": "A picture."},
    "reports.Comparison": {"what": "yield", "printed": "77.3", "ours": 77.29, "source": "table"},
    "reports.check": {"question": QUESTION, "text": "1.5"},
    "reports.class_report_html": {"result": RESULT, "title": "Class", "progress": _progress},
    "reports.class_report_markdown": {"result": RESULT, "title": "Class", "progress": _progress},
    "reports.class_report_text": {"result": RESULT, "progress": _progress},
    "reports.comparison_table": {
        "title": "Yields", "rows": [reports.Comparison("yield", "77.3", 77.29, "table")],
    },
    "reports.group_report_html": {"result": RESULT, "group": "a", "title": "Group"},
    "reports.group_report_markdown": {"result": RESULT, "group": "a", "title": "Group"},
    "reports.group_report_text": {"result": RESULT, "group": "a"},
    "reports.worked_document": {
        "evidence": EVIDENCE, "style": "text", "trial": "bench 1", "yield_of": "copper(II)",
    },
    "text.html_page": {
        "title": "Page", "opening": ["Words."], "sections": [text.PageSection("First", ("a",))],
    },
    "text.write_sheets": _file(sheets=[text.Sheet("a", ("b",), [("c",)])]),
    "uncertainty.ErrorPool": {},
    "uncertainty.SumDistribution": {"terms": uncertainty.distribution_of(NUMBER).terms},
    "uncertainty.budget": {"value": NUMBER},
    "uncertainty.compare_first_order": {"value": NUMBER, "result": MADE},
    "uncertainty.contributions": {"value": NUMBER},
    "uncertainty.distribution_of": {"value": NUMBER},
    "uncertainty.error_source": {
        "label": "x", "kind": "other", "shape": Shape.NORMAL, "scale": 0.1,
    },
    "uncertainty.format_number": {"value": NUMBER},
    "uncertainty.leave_one_out": {"pooled": POOLED},
    "uncertainty.nominal": {"value": NUMBER},
    "uncertainty.outlying": {"pooled": POOLED},
    "uncertainty.parse_number": {"text": "20.10"},
    "uncertainty.propagate": {"calculation": lambda: 2.0 + error()},
    "uncertainty.standard_uncertainty": {"value": NUMBER},
    "uncertainty.student_p": {"x": [0.5, 1.0], "reach": [0.1, 0.1], "scale": [1.0, 1.0], "dof": 3},
    "uncertainty.uncertain_value": {
        "value": 1.0, "label": "x", "kind": "other", "shape": Shape.NORMAL, "scale": 0.1,
    },
    "widgets.ReadingsState": {"source": "copper-silver"},
    "widgets.balance_panel": {},
    "widgets.causes_panel": {},
    "widgets.class_panel": {},
    "widgets.plan_panel": {},
    "widgets.readings_panel": {},
    "widgets.study_panel": {},
    "widgets.toolkit": {"experiment_or_name": "copper-silver", "autosave": False},
    "widgets.worked_panel": {},
}  # fmt: skip
