"""A fixed set of defects that people would act on, each with the test that must notice it.

    python -m tests.studies.planted

Every defect is planted in a forked process, in which its test is called and must fail; without any
defect all of these tests must pass. ``tests/test_planted.py`` does this in the ordinary run. Larger
sets are drawn by :mod:`tests.studies.mutation`.
"""

from __future__ import annotations

import importlib
import sys
from dataclasses import dataclass

from tests.studies.mutants import path_of
from tests.studies.mutation import forked, plant, preload

LIMIT_S = 60.0
FAILED, PASSED, GONE = 3, 0, 4


@dataclass(frozen=True, slots=True)
class Defect:
    """What stands in a module or table, what is put in its place, and which test must fail."""

    what: str
    module: str
    right: str
    wrong: str
    test: str  # module under tests, and function
    given: tuple[object, ...] = ()


UNITS, HAZARDS = "reference.test_units:", "reference.test_hazards:"
EFFECTS, SLIPS = "reference.test_effect_signs:", "reference.test_slip_signs:"
DEFECTS = (
    Defect("1 cL = 100 mL", "classroom.columns", "cL=10 ", "cL=100 ",
           UNITS + "test_a_unit_in_a_header_and_in_a_cell", ("mL", "cL")),
    Defect("1 MPa = 100 kPa", "classroom.columns", "MPa=1e3", "MPa=1e2",
           UNITS + "test_a_unit_in_a_header_and_in_a_cell", ("kPa", "MPa")),
    Defect("1 L of an answer = 100 mL", "decision.typed", '"cm3": 1.0, "L": 1e3',
           '"cm3": 1.0, "L": 1e2', UNITS + "test_every_unit_of_an_answer", ("mL",)),
    Defect("1 mg of a slip = 0.01 g", "diagnosis.slips", '("mg", "0.001")', '("mg", "0.01")',
           UNITS + "test_every_unit_that_a_slip_may_be_in"),
    Defect("760 torr = 1 bar", "measurement.displays", "(101.325 / 760)", "(100.0 / 760)",
           UNITS + "test_every_function_that_turns_a_pressure_into_kilopascals", ("torr",)),
    Defect("too large and too small exchanged", "diagnosis.causes",
           '{1: "too large", -1: "too small"', '{1: "too small", -1: "too large"',
           EFFECTS + "test_what_an_effect_does", ("lost product",)),
    Defect("what an effect does to ratio and yield turned round", "diagnosis.causes",
           "ratio_change=(beta * n_a > alpha * n_b) - (beta * n_a < alpha * n_b)",
           "ratio_change=(beta * n_a < alpha * n_b) - (beta * n_a > alpha * n_b)",
           EFFECTS + "test_the_report_says_the_same"),
    Defect("more and less exchanged in the line under a verdict", "diagnosis.line",
           '"more" if shift > 0', '"more" if shift < 0',
           EFFECTS + "test_a_shift_is_called_by_its_side"),
    Defect("a loss counted as a gain", "data.effects", 'once more.",produced.heavier:-1',
           'once more.",produced.heavier:+1',
           EFFECTS + "test_what_an_effect_adds", ("lost product",)),
    Defect("purity ignored in the mass to weigh", "bench.recipes",
           "molar_mass_value(formula) / stock.purity", "molar_mass_value(formula)",
           HAZARDS + "test_what_is_weighed_allows_for_purity", (0.9,)),
    Defect("acid into water ten times too late", "bench.dilutions", "_BURNS_MOL_PER_L = 0.8",
           "_BURNS_MOL_PER_L = 8.0", HAZARDS + "test_acid_goes_into_the_water", ("H2SO4",)),
    Defect("water into acid", "data.advice", "the acid goes into the water",
           "the water goes into the acid", HAZARDS + "test_every_care_says_what_to_do"),
    Defect("caustic soda that does not burn", "data.hazards", "0.5,Danger,H290 H314",
           "0.5,Danger,H290", HAZARDS + "test_a_solution_carries_a_statement_from_its_limit_on",
           ({"formula": "NaOH", "mass_percent": "2", "density_g_per_mL": "1.021",
             "code": "H314"},)),
    Defect("rows given silently to the group above", "classroom.rows", "if taken_over:",
           "if False:",
           "classroom.test_messy:test_rows_without_a_group_are_told_of_never_taken_silently"),
    Defect("the slip threshold doubled", "diagnosis.slips", "level / (2 * len(", "level / (len(",
           SLIPS + "test_a_trial_is_accused_below_one_hundredth_shared_by_all", (1.6, False)),
    Defect("the level of slips doubled", "diagnosis.slips", "LEVEL = 0.01", "LEVEL = 0.02",
           SLIPS + "test_a_trial_is_accused_below_one_hundredth_shared_by_all", (1.6, False)),
    Defect("a vessel's mass taken off instead of added", "diagnosis.slips",
           "_exact(self.typed[n]) + added", "_exact(self.typed[n]) - added",
           SLIPS + "test_the_right_value_is_given_back",
           ({"kind": "TARE", "changes": "paper + silver=1.26",
             "rule": "paper + silver without paper"},)),
    Defect("zinc nobler than hydrogen", "data.potentials", "Zn,2,-0.7618", "Zn,2,0.7618",
           "reference.test_potentials:test_a_couple_against_the_table", (("Zn^2+", "Zn"),)),
    Defect("a pipette ten times as far off", "data.glassware", "pipette,10,A,0.02,,\"ASTM",
           "pipette,10,A,0.2,,\"ASTM",
           "reference.test_glassware_tolerances:test_the_tolerance", (("pipette", 10.0, "A"),)),
    Defect("copper as heavy as zinc", "data.elements", "Cu,copper,63.546", "Cu,copper,65.38",
           "reference.test_gravimetric_factors:test_the_factor",
           ({"sought": "Cu", "units": "1", "weighed": "CuO", "factor": "0.7989"},)),
    Defect("a percentage taken for a tenth", "experiments.parts", "number / 100 if percent",
           "number / 10 if percent",
           "experiments.test_variation:test_a_percentage_is_a_hundredth"),
    Defect("absolute zero a degree off", "measurement.gas_and_charge", "ZERO_CELSIUS_K = 273.15",
           "ZERO_CELSIUS_K = 272.15", UNITS + "test_zero_degrees_celsius_wherever_it_stands"),
)  # fmt: skip


def call(defect: Defect) -> bool:
    """Call the test of a defect; say whether it passes."""
    module, _, name = defect.test.partition(":")
    try:
        getattr(importlib.import_module(f"tests.{module}"), name)(*defect.given)
    except AssertionError:
        return False
    return True


def with_defect(defect: Defect) -> int:
    """Plant a defect and call its test."""
    text = path_of(defect.module).read_text("utf-8")
    if text.count(defect.right) != 1:
        return GONE
    plant(defect.module, text.replace(defect.right, defect.wrong))
    return PASSED if call(defect) else FAILED


def without() -> int:
    """Call every test with no defect; return how many fail."""
    return sum(not call(defect) for defect in DEFECTS)


def main() -> int:
    preload()
    said = {FAILED: "noticed", PASSED: "NOT NOTICED", GONE: "the text to change is gone"}
    faults = 0
    for defect in DEFECTS:
        code = forked(lambda defect=defect: with_defect(defect), LIMIT_S)  # type: ignore[misc]
        faults += code != FAILED
        print(f"{said.get(code, 'its test stopped with an error')}: {defect.what} ({defect.test})")
    failing = forked(without, LIMIT_S)
    print(f"{failing} of these tests fail without a defect")
    return 1 if faults or failing else 0


if __name__ == "__main__":
    sys.exit(main())
