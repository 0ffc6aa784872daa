"""Every public function with arguments that are right, so that each can be replaced by a wrong one.

A function stands here under its room and name; arguments that have a default are added from its
signature. Types of results, which users read and do not make, are listed with their maker.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np

import stoichkit
from stoichkit import (
    bench,
    classroom,
    decision,
    diagnosis,
    experiments,
    measurement,
    planning,
    plots,
    reports,
    text,
    uncertainty,
)
from stoichkit.measurement import MassByDifference
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
RESULT = stoichkit.assess_class(ROWS, LAB)
DECISION_MADE = classroom.Decision("a", "1", "used")
ANSWERS = b"group,m(Cu),conclusion\na,0.12,copper(II)\n"
MARKS = classroom.mark_class(ANSWERS, CLASS)
BALANCE = stoichkit.Balance(readability_g=0.01)
STOCK = measurement.KnownConcentration(mol_per_L=0.1)
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
POOLED = uncertainty.pool([1.98, 2.03, 2.01, 2.20], [0.0004, 0.0004, 0.0009, 0.0025])
MADE = uncertainty.monte_carlo(lambda rng, size: rng.normal(size=size), trials=1000)
FOUND = stoichkit.operating_characteristic(PLAN)
SENTENCE = experiments.Sentence("displacement", {"metal": "Fe", "product": "Cu"})
DRYING = [(0, "1.842"), (10, "1.571"), (20, "1.469")]


QUESTION = next(q for q in reports.lesson(LAB) if not q.choices)
DECISION = plots.DecisionPicture.of(EVIDENCE)
DESIGN = stoichkit.planning.design_map(LAB, masses_g=[0.02, 0.1], readabilities_g=[0.1, 0.01])
LABS = planning.simulate_labs(PLAN, "copper(I)", labs=9)
NEXT = planning.next_trials(EVIDENCE, most=1, labs=100)
GROUPS = [planning.Groups(PLAN, 3)]
ROOM = planning.Room(1, (0.01,))
FOLLOWING = reports.class_following(RESULT, most=1, labs=100, most_groups=1)
COMPARED = reports.Comparison("yield", "77.3", 77.29, "a table")


class Axes:
    """Stands for matplotlib axes, which are made when a call needs them."""


class Figure:
    """Stands for a matplotlib figure."""


def drawn(kind: type) -> Any:
    from matplotlib.figure import Figure as Drawn

    figure = Drawn(figsize=(6.0, 5.0))
    return figure.add_axes((0.0, 0.0, 1.0, 1.0)) if kind is Axes else figure


def _sample(rng: np.random.Generator, size: int) -> Any:
    return rng.normal(size=size)


def _made() -> Any:
    return uncertainty.uncertain_value(1.0, "x", kind="other", shape=Shape.NORMAL, scale=0.1)


def _progress(done: int, total: int) -> None:
    del done, total


def _file(**given: Any) -> dict[str, Any]:
    return {"path": "out.csv", "replace": True, **given}


GLASS = {"tolerance_mL": 0.1, "repeatability_mL": 0.02}
SCALE = {"graduation_mL": 1.0, "resolution_mL": 0.1}
CALLS: dict[str, dict[str, Any]] = {
    "bench.Supply": {"species": "Ag^+", "solute": "AgNO3"},
    "bench.bench_cards": {"plan_or_lab": LAB, "groups": ["red", "blue"]},
    "bench.bench_plan": {
        "experiment_or_design": LAB, "reacting_mass_g": 0.12, "reacting_mol": None, "trials": 2,
        "chances": {"copper(I)": 0.9},
    },
    "bench.cautions_for": {"reagent": "HCl", "concentration_mol_per_L": 2.0},
    "bench.dilute": {"stock": STOCK, "target_mol_per_L": 0.01},
    "bench.good_enough": {
        "recipes": {"a": bench.prepare_solution("NaCl", 0.1, 100.0)}, "relative_target": 0.01,
    },
    "bench.hazard_statement": {"code": "H314"},
    "bench.lab_safety": {"experiment": LAB},
    "bench.labels": {"plan_or_lab": LAB, "groups": ["red", "blue"]},
    "bench.prepare_solution": {
        "solute": "NaCl", "concentration_mol_per_L": 0.1, "volume_mL": 100.0,
        "flask": measurement.VolumetricFlask(capacity_mL=100.0), "balance": BALANCE,
    },
    "bench.read_header": {"header": "wire / g"},
    "bench.sheet_columns": {"experiment": LAB},
    "bench.solubility": {"formula": "NaCl", "mol_per_L": 0.1},
    "bench.solution_card": {
        "solute": "NaCl", "concentration_mol_per_L": 0.1, "volume_mL": 100.0,
        "relative_target": 0.01,
    },
    "bench.stock_card": {"plan_or_lab": LAB, "groups": ["red", "blue"]},
    "bench.write_datasheet": _file(experiment=LAB),
    "chemistry.Candidate": {"name": "a", "ratio": Fraction(2), "equation": "", "consumed": "Cu"},
    "chemistry.atomic_weight": {"symbol": "Cu"},
    "chemistry.balance_equation": {"text": "H2 + O2 -> H2O"},
    "chemistry.binary_series": {"metal": "Sn", "partner": "O"},
    "chemistry.element_name": {"symbol": "Cu"},
    "chemistry.from_equations": {"equations": ["Cu + AgNO3 -> CuNO3 + Ag"], "consumed": "Cu",
                       "produced": "Ag"},
    "chemistry.from_formulas": {"formulas": ["SnO", "SnO2"], "consumed": "Sn", "produced": "O"},
    "chemistry.hydrate_series": {"salt": "CuSO4", "waters": [1, 3, 5]},
    "chemistry.is_balanced": {"text": "H2 + O2 -> H2O"},
    "chemistry.limiting_reactant": {
        "reaction": "Si + N2 -> Si3N4", "amounts_mol": {"Si": 0.0712, "N2": 0.0535},
    },
    "chemistry.molar_mass": {"formula": "CuSO4"},
    "chemistry.oxidation_states": {"metal": "Fe", "states": [2, 3]},
    "chemistry.parse_equation": {"text": "H2 + O2 -> H2O"},
    "chemistry.parse_formula": {"text": "CuSO4"},
    "chemistry.plain_ratios": {"ratios": {"one": 1, "two": "2"}},
    "chemistry.theoretical_yield": {
        "reaction": "H2 + O2 -> H2O", "amounts_mol": {"H2": 2.0, "O2": 1.0}, "product": "H2O",
    },
    "chemistry.exact_ratio": {"value": "3/2"},
    "chemistry.oxidation_state": {"metal": "Fe", "spelled": "II"},
    "chemistry.understood": {"formula": "CuSO4"},
    "classroom.ClassAmounts": {"groups": {"a": EVIDENCE.amounts[:1], "b": EVIDENCE.amounts[1:2]}},
    "classroom.amounts_of": {"labs": EVIDENCE},
    "classroom.assess_class": {
        "path_or_data": ROWS, "experiment": LAB, "coverage": 0.95, "progress": _progress,
        "columns": {"paper": "paper"},
    },
    "classroom.class_diagnosis": {"result": RESULT},
    "classroom.class_line": {"amounts": RESULT.verdict.amounts},
    "classroom.class_outlook": {"found": RESULT.verdict, "truth": "copper(II)"},
    "classroom.class_trust_sentences": {"result": RESULT},
    "classroom.class_verdict": {
        "groups": {"a": EVIDENCE.amounts[:1], "b": EVIDENCE.amounts[1:2]},
        "candidates": {"copper(I)": 1, "copper(II)": 2}, "produced": "Ag",
    },
    "classroom.AnswerGiven": {"answer": "mean", "initials": "EK"},
    "classroom.Choices": {
        "columns": {"paper": "E"}, "sheet_columns": {"Monday": {"paper": "F"}},
        "sheets": ["Monday"], "left_out": ["Notes"], "answers": {"mean:7": "mean"},
        "decisions": [classroom.Decision("red", "1", "used")],
    },
    "classroom.Decision": {
        "group": "red", "trial": "1", "kind": "corrected", "reading": "paper", "typed": "7.0",
        "corrected": "0.70", "reason": "misread", "initials": "EK",
    },
    "classroom.choices_path": {"path": "class.csv"},
    "classroom.class_verdict_sentences": {"result": RESULT},
    "classroom.export_answer_key": _file(classdata=CLASS, groups=["a"]),
    "classroom.export_answer_sheet": _file(source=CLASS),
    "classroom.export_grades": _file(marks=MARKS),
    "classroom.items_of": {"source": LAB},
    "classroom.load_rubric": {"path": "rubric.toml"},
    "classroom.mark_class": {"answers": ANSWERS, "data": CLASS, "progress": _progress},
    "classroom.decided": {"data": CLASS, "decisions": [DECISION_MADE]},
    "classroom.review_class": {"data": CLASS, "decisions": [DECISION_MADE], "initials": "EK"},
    "classroom.suggested_repairs": {"result": RESULT},
    "classroom.Rubric": {"points": {"ratio": 1.0}},
    "reports.decision_table": {"decisions": [DECISION_MADE]},
    "reports.side_by_side": {"found": classroom.review_class(CLASS)},
    "reports.feedback_pages": {"marks": MARKS, "groups": ["a"], "title": "Feedback"},
    "classroom.export_code_key": _file(classdata=CODED),
    "classroom.export_results": _file(evidence=RESULT.evidence),
    "classroom.export_rows": _file(classdata=CLASS),
    "classroom.group_diagnosis": {"result": RESULT, "name": "a"},
    "classroom.groups_sentence": {"result": RESULT},
    "classroom.load_class": {
        "path_or_bytes": ROWS, "experiment": LAB, "columns": {"paper": "paper"},
    },
    "classroom.load_choices": {"path": "chosen.toml"},
    "classroom.parse_choices": {"text": "format = 1", "path": "class.choices.toml"},
    "classroom.pooled_ratios": {"verdict": RESULT.verdict},
    "classroom.preview_class": {
        "path_or_bytes": ROWS, "experiment": LAB, "columns": {"paper": "paper"},
    },
    "classroom.save_choices": {
        "choices": classroom.Choices(), "path": "saved.toml", "replace": True,
    },
    "classroom.scatter_test": {"amounts": RESULT.verdict.amounts, "x": 2.0, "y": 1.0},
    "decision.answer_lines": {"experiment": LAB},
    "decision.assess": {"experiment": LAB, "coverage": 0.95},
    "decision.assess_weighings": {**WEIGHED, "candidates": {"copper(I)": 1, "copper(II)": 2}},
    "decision.assumption_sentences": {"evidence": EVIDENCE},
    "decision.caveat_sentence": {
        "caveat": decision.Caveat(decision.CaveatKind.SINGLE_TRIAL), "evidence": EVIDENCE,
    },
    "decision.chance_sentence": {"evidence": EVIDENCE},
    "decision.chance_table": {"evidence": EVIDENCE},
    "decision.close_sentence": {"evidence": EVIDENCE},
    "decision.evidence_grade": {"likelihood_ratio": 12.0},
    "decision.fault_table": {"evidence": EVIDENCE},
    "decision.grouped_budget": {"evidence": EVIDENCE, "name": "copper(I)"},
    "decision.overturning_sentence": {"evidence": EVIDENCE},
    "decision.percent_error": {"measured": 6.86, "accepted": 7.0},
    "decision.percent_yield": {"actual": 0.392, "theoretical": 0.5072},
    "decision.prior_sentence": {"evidence": EVIDENCE},
    "decision.ratio_sentence": {"evidence": EVIDENCE},
    "decision.recovery_sentence": {"evidence": EVIDENCE, "name": "copper(I)"},
    "decision.asked_again_sentence": {"evidence": EVIDENCE, "before": 1},
    "decision.look_sentence": {"evidence": EVIDENCE},
    "decision.second_opinion_sentence": {"evidence": EVIDENCE},
    "decision.statement_of": {"evidence": EVIDENCE},
    "decision.terms_used": {"text": "p = 0.3"},
    "decision.trust_sentences": {"evidence": EVIDENCE},
    "decision.verdict_sentences": {"evidence": EVIDENCE},
    "decision.weighed_ratios": WEIGHED,
    "decision.yield_for": {"evidence": EVIDENCE, "name": "copper(II)"},
    "decision.yield_sentence": {"evidence": EVIDENCE, "name": "copper(I)"},
    "diagnosis.catalogue": {},
    "diagnosis.cause_sentence": {"cause": CAUSES[0]},
    "diagnosis.causes_for": {"evidence": EVIDENCE, "candidate": "copper(I)", "residue": "AgNO3",
                              "beyond_recovery": True},
    "diagnosis.causes_paragraph": {"causes": CAUSES},
    "diagnosis.cell": {
        "cathode": diagnosis.couple("Ag^+", "Ag"), "anode": diagnosis.couple("Fe^2+", "Fe"),
    },
    "diagnosis.combination_sentence": {"found": BOTH},
    "diagnosis.combine": {
        "evidence": EVIDENCE, "candidate": "copper(I)", "effect_a": WET, "effect_b": LOST,
    },
    "diagnosis.couple": {"oxidised": "Cu^2+", "reduced": "Cu"},
    "diagnosis.drying": {"weighings": DRYING, "balance": BALANCE},
    "diagnosis.drying_sentence": {"found": diagnosis.drying(DRYING, BALANCE)},
    "diagnosis.effect_named": {"experiment": LAB, "key": "wet product", "residue": "AgNO3"},
    "diagnosis.effects_for": {"experiment": LAB, "residue": "AgNO3"},
    "diagnosis.diagnose": {"evidence": EVIDENCE, "slips": ()},
    "diagnosis.find_slips": {"experiment": LAB},
    "diagnosis.no_slip_sentence": {"verdict": EVIDENCE.verdict, "beside": "the others"},
    "diagnosis.redox_findings": {"experiment": LAB},
    "diagnosis.redox_sentences": {"findings": diagnosis.redox_findings(LAB)},
    "diagnosis.slip_sentence": {
        "slip": stoichkit.find_slips(LAB.with_reading("bench 3", "wire before", "1.34"))[0],
    },
    "diagnosis.spot_test_sentence": {
        "candidate": "iron(II)", "test": diagnosis.spot_tests("Fe^2+")[0],
    },
    "diagnosis.spot_tests": {"ion": "Fe^2+"},
    "diagnosis.suggested_tests": {"experiment": LAB},
    "experiments.practice": {"lab": 7, "level": 1},
    "experiments.practice_of": {"experiment": LAB},
    "experiments.Caution": {"subject": "acid", "advice": ("Wear gloves.",), "source": "memory"},
    "experiments.Experiment": {
        name: getattr(LAB, name)
        for name in (
            "title", "consumed", "produced", "instruments", "candidates", "trials", "about",
            "invented", "candidate_spec", "recovery", "variation", "coverage", "shared_readings",
            "order", "cautions", "notes",
        )
    },
    "experiments.Prior": {"weights": {"copper(II)": 3.0}, "none": 0.05},
    "experiments.Looks": {"planned": 5, "trials_each": 2},
    "experiments.Sentence": {"way": "displacement", "slots": {"metal": "Fe"}},
    "experiments.Trial": {"name": "1", "readings": {"wire": "1.50"}},
    "experiments.Variation": {"relative": 0.015, "from_trials": 8},
    "experiments.class_file": {},
    "experiments.class_names": {},
    "experiments.load": {"name": "copper-silver"},
    "experiments.load_experiment": {"path": "lab.toml"},
    "experiments.names": {},
    "experiments.parse_experiment": {"text": experiments.read("copper-silver")},
    "experiments.path": {"name": "copper-silver"},
    "experiments.read": {"name": "copper-silver"},
    "experiments.save_experiment": _file(experiment=LAB),
    "experiments.student_sets": {},
    "experiments.suggestions": {"sentence": SENTENCE, "slot": "states"},
    "experiments.understood": {"sentence": SENTENCE},
    "experiments.ways": {},
    "experiments.weighed": {
        "consumed": {"Fe": ["7.3", "6.2"]}, "produced": {"Cu": ["53.4", "54.7"]},
        "states": [2, 3], "repeatability_g": 0.05,
    },
    "guide.copy_notebooks": {"folder": "notebooks", "replace": True},
    "guide.page": {"name": "limits"},
    "guide.pages": {},
    "measurement.Ammeter": {"tolerance_A": 0.02, "repeatability_A": 0.01},
    "measurement.Balance": {"repeatability_g": 0.01, "capacity_g": 200.0},
    "measurement.Barometer": {"tolerance_kPa": 0.1, "repeatability_kPa": 0.1},
    "measurement.Burette": {**GLASS, **SCALE},
    "measurement.ElectricCharge": {"species": "e-", "current": "I", "time": "t"},
    "measurement.GasVolume": {"species": "H2", "final": "V", "temperature": "t", "pressure": "p"},
    "measurement.GraduatedCylinder": {**GLASS, **SCALE},
    "measurement.KnownConcentration": {"mol_per_L": 0.1},
    "measurement.MassByDifference": {
        "species": "Cu", "heavier": "a", "lighter": "b", "vessel": "pan",
    },
    "measurement.Pipette": GLASS,
    "measurement.Precipitate": {
        "species": "Cl^-", "precipitate": "AgCl", "heavier": "a", "lighter": "b", "vessel": "pan",
    },
    "measurement.PreparedSolution": {
        "solute": "NaCl", "heavier": "a", "dilutions": (("pipette", "flask"),),
    },
    "measurement.SolutionVolume": {
        "species": "HCl", "concentration": STOCK, "final": "a", "initial": "b", "pipette": "",
    },
    "measurement.Routes": {
        "species": "Ag",
        "routes": (
            MassByDifference(species="Ag", heavier="a"),
            MassByDifference(species="Ag", heavier="b"),
        ),
    },
    "measurement.SumOfMasses": {"species": "Ag", "plus": ("a", "b"), "minus": ("c",)},
    "measurement.Thermometer": {"tolerance_C": 0.1, "repeatability_C": 0.1},
    "measurement.Timer": {"reaction_s": 0.2, "repeatability_s": 0.1},
    "measurement.TitratedSolution": {
        "titrant_mol_per_L": 0.1, "final": "a", "initial": "b", "aliquot": "pipette",
    },
    "measurement.VolumetricFlask": GLASS,
    "measurement.published_tolerance": {
        "kind": "burette", "capacity_mL": 50.0, "glass_class": "A",
    },
    "measurement.water_density_g_per_mL": {"temperature_C": 20.0, "pool": ErrorPool()},
    "measurement.water_vapour_pressure_kPa": {"temperature_C": 20.0, "pool": ErrorPool()},
    "bench.Times": {"weighing": 2.0},
    "bench.compare_setups": {"room": ROOM, "labs": ["Cu"], "bath": "AgNO3", "progress": print},
    "bench.queue_minutes": {
        "benches": 3, "balances": 2, "before": 2.0, "between": 10.0, "after": 3.0,
    },
    "bench.setup_of": {"room": ROOM, "groups": [planning.Groups(PLAN, 1)]},
    "experiments.unweighed": {"reactant": "Fe", "bath": "CuSO4", "states": [2, 3]},
    "planning.Balances": {"readability_g": 0.01, "number": 2},
    "planning.Groups": {"plan": PLAN, "number": 3},
    "planning.Room": {"benches": 3, "balances": (0.1,), "minutes": 50.0, "stock_g": {"Fe": 5.0}},
    "planning.class_chances": {"groups": GROUPS, "truth": "copper(I)", "classes": 100},
    "planning.class_characteristic": {"groups": GROUPS, "classes": 100},
    "planning.groups_in": {"room": ROOM, "plan": PLAN},
    "planning.room_plan": {"groups": GROUPS, "classes": 100},
    "planning.smallest_in_room": {"groups": GROUPS, "classes": 100, "progress": print},
    "reports.class_following": {"result": RESULT, "most": 1, "labs": 100, "most_groups": 1,
        "progress": _progress,
    },
    "reports.following_sentences": {"found": FOLLOWING},
    "planning.foretold": {"experiment": LAB, "consumed_mol": 0.002},
    "planning.next_sentences": {"found": NEXT},
    "planning.next_table": {"found": NEXT},
    "planning.next_trials": {"evidence": EVIDENCE, "most": 1, "labs": 100},
    "planning.Plan": {"experiment": LAB, "consumed_mol": 0.002},
    "planning.answer_sentences": {"answer": stoichkit.fewest_trials(PLAN, most=2)},
    "planning.chances": {"plan": PLAN, "truth": "copper(I)"},
    "planning.chances_table": {"chances": [*FOUND.chances.items()], "target": 0.9},
    "planning.coarsest_balance": {"plan": PLAN, "readabilities_g": (0.1, 0.01)},
    "planning.design_map": {
        "experiment": LAB, "masses_g": [0.02, 0.1], "readabilities_g": [0.1, 0.01],
    },
    "planning.fewest_trials": {"plan": PLAN, "most": 2},
    "planning.hardest_sentence": {"found": FOUND, "target": 0.9},
    "planning.largest_recovery": {"plan": PLAN},
    "planning.map_sentence": {
        "found": DESIGN, "experiment": LAB, "marked_g": [0.05],
    },
    "planning.meaning_sentence": {"labs": LABS},
    "planning.operating_characteristic": {"plan": PLAN},
    "planning.over_recovery": {"plan": PLAN, "truth": "copper(I)"},
    "planning.setting_sentence": {"plan": PLAN},
    "planning.simulate_labs": {"plan": PLAN, "truth": "copper(I)", "labs": 3},
    "planning.smallest_amount": {"plan": PLAN},
    "planning.with_readability": {"experiment": LAB, "readability_g": 0.1},
    "planning.single_answer_sentence": {"found": FOUND},
    "planning.wrong_sentence": {"found": FOUND},
    "plots.BudgetPicture.of": {"evidence": EVIDENCE},
    "plots.ChancesPicture.of": {"chances": [*FOUND.chances.items()], "target": 0.9},
    "plots.ClassGroupsPicture.of": {"result": RESULT, "progress": _progress},
    "plots.ClassLinePicture.of": {"result": RESULT},
    "plots.CombinationPicture.of": {"found": BOTH},
    "plots.CurvesPicture.of": {
        "found": DESIGN, "experiment": LAB, "marked_g": [0.1], "planned": (0.1, 0.01),
    },
    "plots.DecisionPicture.of": {"evidence": EVIDENCE},
    "plots.EffectsPicture.of": {"causes": CAUSES},
    "plots.LabsPicture.of": {"labs": LABS},
    "plots.MapPicture.of": {
        "found": DESIGN, "experiment": LAB, "marked_g": [0.1], "planned": (0.1, 0.01),
    },
    "plots.RatioPicture.of": {"evidence": EVIDENCE},
    "plots.ResultPicture.of": {"evidence": EVIDENCE},
    "plots.draw": {"ax": Axes, "picture": DECISION},
    "plots.live_svg": {"evidence": EVIDENCE},
    "plots.png_bytes": {"figure": Figure},
    "plots.result_figure": {"evidence": EVIDENCE},
    "plots.save_picture": {"evidence": EVIDENCE, "path": "out.svg", "replace": True},
    "plots.image_html": {"picture": DECISION, "title": "Lab"},
    "plots.svg": {"picture": DECISION, "height": 345.0, "title": "Lab"},
    "reports.Comparison": {"what": "yield", "printed": "77.3", "ours": 77.29, "source": "table"},
    "reports.check": {"question": QUESTION, "text": "1.5", "own": {"m(Cu)": 0.2}},
    "reports.now_you": {
        "words": "How much?", "value": 1.5, "unit": "g", "typed": "3.1", "figures": 2,
        "mistakes": {"Twice.": 3.0},
    },
    "reports.class_report": {"result": RESULT, "title": "Class", "progress": _progress},
    "reports.comparison_table": {"title": "Yields", "rows": [COMPARED]},
    "reports.conclusion_paragraph": {"evidence": EVIDENCE},
    "reports.group_report": {"result": RESULT, "group": "a", "title": "Group"},
    "reports.hand_in_page": {"evidence": EVIDENCE, "name": "A", "date": "May", "title": "Lab"},
    "reports.lab_report": {"evidence": EVIDENCE, "title": "Lab"},
    "reports.next_report": {"following": NEXT},
    "reports.lesson": {"experiment": LAB},
    "reports.worked_solution": {
        "evidence_or_experiment": EVIDENCE, "trial": "bench 1", "yield_of": "copper(II)",
    },
    "text.form_of": {"path": "lab.html"},
    "text.markdown_part": {"part": "Words."},
    "text.text_part": {"part": "Words."},
    "text.write_sheets": _file(sheets=[text.Sheet("a", ("b",), [("c",)])], check=len),
    "uncertainty.ErrorPool": {},
    "uncertainty.SumDistribution": {"terms": uncertainty.distribution_of(_made()).terms},
    "uncertainty.budget": {"value": _made()},
    "uncertainty.compare_first_order": {"value": _made(), "result": MADE},
    "uncertainty.contributions": {"value": _made()},
    "uncertainty.distribution_of": {"value": _made()},
    "uncertainty.error_source": {
        "label": "x", "kind": "other", "shape": Shape.NORMAL, "scale": 0.1,
    },
    "uncertainty.fit_line": {
        "x": [1, 2, 3, 4], "y": [2.1, 4.0, 6.1, 8.1], "u_x": [0.01] * 4, "u_y": [0.05] * 4,
        "correlation": [0.0] * 4, "shared_x": [[0.1] * 4], "shared_y": [[0.1] * 4],
    },
    "uncertainty.format_number": {"value": _made()},
    "uncertainty.leave_one_out": {"pooled": POOLED},
    "uncertainty.monte_carlo": {"sample": _sample, "trials": 1000},
    "uncertainty.nominal": {"value": _made()},
    "uncertainty.outlying": {"pooled": POOLED},
    "uncertainty.parse_number": {"text": "20.10"},
    "uncertainty.pool": {"estimates": [1.98, 2.03, 2.01], "variances": [0.0004, 0.0004, 0.0009]},
    "uncertainty.propagate": {"calculation": _made},
    "uncertainty.standard_uncertainty": {"value": _made()},
    "uncertainty.student_p": {"x": [0.5, 1.0], "reach": [0.1, 0.1], "scale": [1.0, 1.0], "dof": 3},
    "uncertainty.uncertain_value": {
        "value": 1.0, "label": "x", "kind": "other", "shape": Shape.NORMAL, "scale": 0.1,
    },
    "widgets.LabState": {"source": "copper-silver", "autosave": False},
    "widgets.ReadingsState": {"source": "copper-silver"},
    "widgets.amounts_picture": {"source": "copper-silver"},
    "widgets.balance_step": {"source": "copper-silver"},
    "widgets.causes_panel": {"source": "copper-silver", "autosave": False},
    "widgets.class_panel": {"source": "copper-silver", "autosave": False},
    "widgets.lab_settings": {"source": "copper-silver"},
    "widgets.plan_panel": {"source": "copper-silver", "autosave": False},
    "widgets.readings_panel": {"source": "copper-silver", "autosave": False},
    "widgets.readings_sheet": {"source": "copper-silver"},
    "widgets.study_panel": {"source": "copper-silver", "autosave": False},
    "widgets.trust_lines": {"source": "copper-silver"},
    "widgets.verdict_card": {"source": "copper-silver"},
    "widgets.worked_panel": {"source": "copper-silver", "autosave": False},
    "widgets.toolkit": {"source": "copper-silver", "autosave": False},
}  # fmt: skip
UNCHECKED = {
    "bench.BenchPlan": "made by bench_plan",
    "bench.LabSafety": "made by lab_safety",
    "decision.PercentError": "made by percent_error",
    "decision.PercentYield": "made by percent_yield",
    "measurement.Display": "a base class",
    "measurement.Meter": "a base class",
    "measurement.register": "takes a class; tests/measurement/test_registry.py",
    "measurement.unregister": "forgets what register made known",
    "text.Picture": "a part of a page, made by functions",
    "text.Table": "a part of a page, made by functions",
    "uncertainty.UncertainNumber": "a class of the uncertainties package",
}
"""Public functions, and classes that look at what they are given, without a call here, and why."""
