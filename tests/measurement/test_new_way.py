"""Ways of measuring that nobody here has heard of: defined and registered below, and nowhere else.

One takes an amount from the length of a ribbon, read on a ruler; the other from the absorbance of a
solution, with a stated molar absorptivity. Both bring an instrument with a unit of its own. Their
labs are read from a file, judged, planned, explained and written up like any other.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import ClassVar

import pytest

from stoichkit import assess
from stoichkit.bench.datasheet import read_header, write_datasheet
from stoichkit.bench.plan import bench_plan
from stoichkit.chemistry.elements import molar_mass, molar_mass_value
from stoichkit.classroom import assess_class
from stoichkit.classroom.data import load_class
from stoichkit.decision.evidence import linearity_fails
from stoichkit.decision.sentences import caveat_sentence, recovery_sentence
from stoichkit.decision.verdict import Caveat, CaveatKind, VerdictKind
from stoichkit.diagnosis.causes import causes_for
from stoichkit.diagnosis.effects import effects_for, moved_amounts, situation
from stoichkit.diagnosis.sentences import cause_sentence, causes_paragraph, slip_sentence
from stoichkit.diagnosis.slips import find_slips
from stoichkit.errors import ModelError
from stoichkit.experiments.record import Experiment
from stoichkit.experiments.store import parse_experiment
from stoichkit.measurement.base import (
    AmountModel,
    Care,
    Portion,
    Role,
    Setting,
    Step,
    get,
    shared_limit,
)
from stoichkit.measurement.displays import Meter
from stoichkit.measurement.registry import KINDS, MODELS, register, unregister
from stoichkit.planning.plan import Plan, operating_characteristic
from stoichkit.planning.questions import fewest_trials
from stoichkit.planning.sentences import answer_sentences, setting_sentence
from stoichkit.planning.simulation import simulate_labs
from stoichkit.reports.lab import lab_report
from stoichkit.reports.worked import worked_solution
from stoichkit.uncertainty.readings import ErrorPool
from stoichkit.uncertainty.sources import Number, nominal
from stoichkit.widgets.state.readings import ReadingsState

# -- the new file: all there is to a new way -------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruler(Meter):
    """A ruler, in centimetres."""

    unit: ClassVar[str] = "cm"
    suffix: ClassVar[str] = "cm"
    noun: ClassVar[str] = "ruler"
    capacity_matters: ClassVar[bool] = True
    when_full: ClassVar[str] = "Cut it in two"

    readability_cm: float = 0.1
    tolerance_cm: float | None = None
    repeatability_cm: float | None = None
    length_cm: float = 30.0

    @property
    def capacity(self) -> float:
        return self.length_cm


@dataclass(frozen=True, slots=True, kw_only=True)
class Ribbon(AmountModel):
    """Amount from the length of a ribbon: n = l · (m/l) / M."""

    species: str
    length: str
    g_per_m: float
    half_width_g_per_m: float = 0.0
    instrument: str = "ruler"

    def roles(self) -> tuple[Role, ...]:
        return (Role(name=self.length, instrument=self.instrument, quantity="length", unit="cm"),)

    def _steps(self, values: Mapping[str, Number], pool: ErrorPool) -> tuple[Step, ...]:
        s = self.species
        error = shared_limit(
            pool, ("ribbon", self), "mass of a metre of ribbon", "purity", self.half_width_g_per_m
        )
        each = self.g_per_m + error
        mass = get(values, self.length) / 100 * each
        molar = molar_mass(s)
        return (
            Step("m1", "mass of a metre of ribbon", "", each, "g/m"),
            Step(f"m({s})", f"mass of {s}", f"{self.length} × m1", mass, "g"),
            Step(f"M({s})", f"molar mass of {s}", "", molar, "g/mol"),
            Step(f"n({s})", f"amount of {s}", f"m({s}) / M({s})", mass / molar, "mol"),
        )

    def expected_mass_g(self, amount_mol: float) -> float | None:
        return amount_mol * molar_mass_value(self.species)

    def portion(self, setting: Setting) -> Portion | None:
        found = AmountModel.portion(self, setting)
        note = f"It is cut to length: a metre of ribbon is {self.g_per_m:g} g."
        return found and replace(found, role="limiting", solid=True, notes=(note,))

    def care(self, setting: Setting) -> Care:
        del setting
        return Care(waiting=("Lay the ribbon flat and straight along the ruler.",))

    def situation(self, setting: Setting) -> frozenset[str]:
        del setting
        return frozenset({"cut to length"})

    def effects(self, setting: Setting) -> tuple[Mapping[str, str], ...]:
        return (
            {
                "key": "oxide skin",
                "applies_to": "cut to length",
                "name": "oxide skin on the ribbon",
                "mechanism": "The skin of the {metal} ribbon weighs in with its length.",
                "check": "Rub it bright; weigh a metre of it.",
                "actions": f"{setting.side}.mass:+1",
                "substance": "oxide skin",
                "unit": "g",
            },
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Photometer(Meter):
    """A photometer, in units of absorbance."""

    unit: ClassVar[str] = "AU"
    suffix: ClassVar[str] = "AU"
    noun: ClassVar[str] = "photometer"

    readability_AU: float = 0.001
    tolerance_AU: float | None = None
    repeatability_AU: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Absorbance(AmountModel):
    """Amount from the absorbance of a solution in a flask: n = A · V / (ε · d)."""

    species: str
    absorbance: str
    epsilon_L_per_mol_cm: float
    path_cm: float = 1.0
    flask: str = "flask"
    instrument: str = "photometer"

    @property
    def _filling(self) -> str:
        return f"flask of {self.species}"

    def roles(self) -> tuple[Role, ...]:
        return (
            Role(
                name=self._filling,
                instrument=self.flask,
                quantity="volume",
                unit="mL",
                needs_reading=False,
            ),
            Role(
                name=self.absorbance,
                instrument=self.instrument,
                quantity="absorbance",
                unit="AU",
            ),
        )

    def _steps(self, values: Mapping[str, Number], pool: ErrorPool) -> tuple[Step, ...]:
        del pool
        s, epsilon, path = self.species, self.epsilon_L_per_mol_cm, self.path_cm
        c = get(values, self.absorbance) / (epsilon * path)
        volume = get(values, self._filling)
        return (
            Step("ε", f"molar absorptivity of {s}", "", epsilon, "L/(mol cm)"),
            Step("d", "path of the light", "", path, "cm"),
            Step(f"c({s})", f"concentration of {s}", f"{self.absorbance} / (ε × d)", c, "mol/L"),
            Step("V", "volume of the flask", self._filling, volume, "mL"),
            Step(f"n({s})", f"amount of {s}", f"c({s}) × V", c * volume / 1000, "mol"),
        )


RIBBON = """
title = "Magnesium ribbon in acid"
invented = true
recovery = [0.98, 1.0]
[instruments.ruler]
kind = "ruler"
[instruments."gas tube"]
kind = "cylinder"
capacity_mL = 100
tolerance_mL = 0.5
temperature_C = 0
[instruments.thermometer]
kind = "thermometer"
[instruments.barometer]
kind = "barometer"
[consumed]
kind = "ribbon"
species = "Mg"
length = "ribbon"
g_per_m = 0.96
half_width_g_per_m = 0.01
[produced]
kind = "gas over water"
species = "H2"
final = "gas"
temperature = "room temperature"
pressure = "room pressure"
instrument = "gas tube"
[candidates.equations]
"magnesium(I)" = "2 Mg + 2 H^+ -> 2 Mg^+ + H2"
"magnesium(II)" = "Mg + 2 H^+ -> Mg^2+ + H2"
[shared]
"room temperature" = "21.0"
"room pressure" = "100.9"
[[trials]]
name = "1"
"ribbon" = "3.1"
"gas" = "30.1"
[[trials]]
name = "2"
"ribbon" = "3.3"
"gas" = "32.1"
"""
"""Readings made up: 3.1 cm are 29.8 mg or 1.22 mmol, and 30.1 mL of gas are 1.21 mmol."""
COLOUR = """
title = "How many copper ions does the ligand bind?"
invented = true
recovery = [0.95, 1.05]
[instruments.balance]
kind = "balance"
readability_g = 0.001
[instruments.flask]
kind = "flask"
capacity_mL = 100
glass_class = "A"
[instruments.photometer]
kind = "photometer"
[consumed]
kind = "mass by difference"
species = "C10H16N2O8"
heavier = "ligand"
[produced]
kind = "absorbance"
species = "Cu^2+"
absorbance = "absorbance"
epsilon_L_per_mol_cm = 90
path_cm = 1
[candidates.ratios]
"one for two" = "1/2"
"one" = "1"
"two" = "2"
[[trials]]
name = "1"
"ligand" = "0.146"
"absorbance" = "0.450"
[[trials]]
name = "2"
"ligand" = "0.175"
"absorbance" = "0.540"
"""
"""Readings made up: 0.146 g are 0.500 mmol; 0.450 / 90 L/(mol cm) × 0.1 L are 0.500 mmol."""
NEW = {"ruler": Ruler, "photometer": Photometer, "ribbon": Ribbon, "absorbance": Absorbance}


@pytest.fixture(autouse=True)
def _known() -> Iterator[None]:
    for words, made in NEW.items():
        register(words, made)
    yield
    for words in NEW:
        unregister(words)
    assert not {*NEW} & {*MODELS, *KINDS}


@pytest.fixture(params=[RIBBON, COLOUR], ids=["ribbon", "absorbance"])
def lab(request: pytest.FixtureRequest) -> Experiment:
    return parse_experiment(request.param, "lab.toml")


def ribbon() -> Experiment:
    return parse_experiment(RIBBON, "ribbon.toml")


def colour() -> Experiment:
    return parse_experiment(COLOUR, "colour.toml")


def amount_mol(lab: Experiment) -> float:
    return nominal(lab.amounts()[0][0])


# -- numbers ---------------------------------------------------------------------------------


def test_amounts_by_hand() -> None:
    """3.1 cm of 0.96 g/m are 29.76 mg; Mg 24.305 g/mol. A/(ε d) V is 0.45/90 × 0.1."""
    assert amount_mol(ribbon()) == pytest.approx(0.02976 / 24.305, rel=1e-6)
    assert nominal(colour().amounts()[0][1]) == pytest.approx(0.45 / 90 * 0.1)


def test_the_file_is_written_and_read_back(lab: Experiment) -> None:
    assert parse_experiment(lab.to_toml(), "again.toml") == lab
    assert Experiment.from_json(lab.to_json()) == lab


def test_the_verdict(lab: Experiment) -> None:
    evidence = assess(lab)
    assert evidence.verdict.kind is VerdictKind.SINGLED_OUT
    assert evidence.verdict.candidates == (lab.candidates[1].name,)
    labels = {line.label for line in evidence.budget}
    assert any("ribbon" in label or "absorbance" in label for label in labels)
    assert not linearity_fails(lab, 1.0, 0.95)


# -- planning --------------------------------------------------------------------------------


def test_the_plan(lab: Experiment) -> None:
    plan = Plan(experiment=lab, consumed_mol=amount_mol(lab), trials=2)
    found = operating_characteristic(plan)
    assert found.right > 0.9
    assert set(found.chances) == {c.name for c in lab.candidates}
    words = setting_sentence(plan)
    assert ("on a balance" in words) is ("balance" in lab.instruments)
    labs = simulate_labs(plan, lab.candidates[1].name, labs=100)
    expected = found.chances[lab.candidates[1].name].right
    assert labs.counts.right / 100 == pytest.approx(expected, abs=0.1)
    answer = fewest_trials(plan, target=0.8)
    assert answer.reached
    for question, unit in (("trials", "trials"), ("amount", "g"), ("recovery", "")):
        words = answer_sentences(replace(answer, question=question, unit=unit))
        assert "weighed" not in words


def test_the_expected_reading_follows_the_amount() -> None:
    plan = Plan(experiment=ribbon(), consumed_mol=0.002)
    expected = plan.expected_readings("magnesium(II)")
    assert expected["ribbon"] == pytest.approx(100 * 0.002 * 24.305 / 0.96, rel=1e-6)
    assert Plan(experiment=colour(), consumed_mol=0.0005).expected_readings("one")[
        "absorbance"
    ] == pytest.approx(0.45, rel=0.01)


# -- the bench -------------------------------------------------------------------------------


def test_the_bench_plan_of_the_ribbon() -> None:
    plan = bench_plan(ribbon(), reacting_mol=0.00125, groups=4)
    metal, acid = plan.reagents
    assert metal.name == "magnesium ribbon, Mg"
    assert metal.role == "limiting"
    assert metal.measured_with == "ruler"
    assert metal.mass_g == pytest.approx(0.00125 * 24.305, rel=1e-4)
    assert metal.notes == ("It is cut to length: a metre of ribbon is 0.96 g.",)
    assert acid.role == "in excess"
    one = plan.expectations[0]
    assert one.consumed.what == "ribbon"
    assert one.consumed.unit == "cm"
    assert one.product_mass_g == pytest.approx(0.000625 * 2.016, rel=1e-3)
    checks = {check.subject: check for check in plan.checks}
    assert checks["ruler"].passed
    assert "within 30 cm" in checks["ruler"].text
    long = bench_plan(ribbon(), reacting_mol=0.0125)
    (ruler,) = (check for check in long.checks if check.subject == "ruler")
    assert "Cut it in two, or use a larger one." in ruler.text
    assert plan.waiting[0].startswith("Lay the ribbon flat")
    assert plan.drying == ()
    assert {c.unit for c in plan.record} == {"cm", "mL", "°C", "kPa"}


def test_the_bench_plan_of_the_absorbance() -> None:
    plan = bench_plan(colour(), groups=4)
    assert [r.formula for r in plan.reagents] == ["C10H16N2O8"]
    assert plan.expectations[1].produced.what == "absorbance"
    assert plan.expectations[1].product_mass_g is None
    assert "Wait until the display of the balance is still" in plan.waiting[0]


def test_the_printed_plan_says_nothing_untrue(lab: Experiment) -> None:
    plan = bench_plan(lab, groups=4)
    page = re.sub(r"<style>.*?</style>", "", plan.html(), flags=re.DOTALL)
    for text in (plan.markdown(), page):
        assert next(iter(lab.trials[0].readings)) in text
        for word in ("titrant", "precipitate", "electric current", "nan", "None", "burette"):
            assert not re.search(rf"\b{word}\b", text), word
    assert ("balance" in plan.markdown()) is ("balance" in lab.instruments)


def test_the_data_sheet_and_a_class(tmp_path: Path) -> None:
    lab = ribbon()
    sheet = write_datasheet(lab, tmp_path / "sheet.csv", groups=2, trials=1)
    header = sheet.read_text("utf-8-sig").splitlines()[1]
    assert header == "group,trial,room temperature / °C,room pressure / kPa,ribbon / cm,gas / mL"
    assert read_header("ribbon / cm") == ("ribbon", "cm")
    file = tmp_path / "class.csv"
    file.write_text(f"{header}\nred,1,21.0,100.9,3.1,30.1\nblue,1,21.0,100.9,3.4,33.0", "utf-8")
    data = load_class(file, lab)
    assert data.names == ("red", "blue")
    assert list(assess_class(data).evidence.kinds) == ["singled_out", "singled_out"]


# -- what went wrong -------------------------------------------------------------------------


def test_effects_of_its_own() -> None:
    lab = ribbon()
    assert situation(lab) == {"cut to length", "gas collected"}
    keys = [effect.key for effect in effects_for(lab)]
    assert keys == ["gas lost", "air in tube", "oxide skin"]
    (skin,) = (effect for effect in effects_for(lab) if effect.key == "oxide skin")
    assert skin.mechanism == "The skin of the magnesium ribbon weighs in with its length."
    assert moved_amounts(lab, skin) == (pytest.approx(1 / 24.305, rel=1e-5), 0.0)
    causes = causes_for(assess(lab), "magnesium(I)")
    assert "oxide skin on the ribbon" in cause_sentence(causes[-1]).lower()
    assert not causes[-1].possible  # the ratio would have to fall, and a skin raises it


def test_a_way_without_effects_says_so() -> None:
    causes = causes_for(assess(colour()), "two")
    assert [cause.effect.key for cause in causes] == ["impure metal"]
    assert "two does not fit" in causes_paragraph(causes)


def test_slips_of_its_readings() -> None:
    lab = ribbon().with_reading("1", "ribbon", "31")
    slip = find_slips(lab)[0]
    assert slip.readings == ("ribbon",)
    assert "3.1" in slip.corrected
    heavy = colour()
    for trial in ("1", "2"):
        heavy = heavy.with_reading(trial, "absorbance", "3.917")
    said = [slip_sentence(found) for found in find_slips(heavy)]
    assert said
    assert all("water" not in text for text in said)


# -- words -----------------------------------------------------------------------------------


def test_sentences_do_not_call_it_weighed() -> None:
    evidence = assess(colour())
    words = recovery_sentence(evidence, "one for two")
    assert "of the product had been measured: something else was taken for it" in words
    over = caveat_sentence(Caveat(CaveatKind.OVER_100, "one", 130.0), evidence)
    assert "suspect something else taken for it or a missing candidate" in over


def test_reports_and_worked_solutions(lab: Experiment) -> None:
    evidence = assess(lab)
    report = lab_report(evidence)
    texts = [report.text(), report.markdown(), report.html()]
    solution = worked_solution(evidence)
    texts += [solution.text(), solution.markdown(), solution.latex()]
    produced = lab.produced.species
    assert produced in ("H2", "Cu^2+")
    for text in texts:
        assert "product weighed" not in text
        assert not re.search(r"product\s+was\s+weighed", text)
        assert not re.search(r"product\s+had\s+been\s+weighed", text)
        assert not re.search(r"\bnan\b|\bNone\b", text)
    assert re.search(r"product\s+was\s+measured", texts[3])
    worked = " ".join(texts[3].split())
    for words in (
        ["ribbon × m1 = 3.1 cm × 0.960 g/m = 0.02976 g"]
        if "ruler" in lab.instruments
        else ["ε = 90", "absorbance / (ε × d) = 0.450 AU /", "= 0.00500 mol/L"]
    ):
        assert words in worked, words


def test_a_panel_takes_it(lab: Experiment) -> None:
    state = ReadingsState(lab)
    name = next(iter(lab.trials[0].readings))
    assert state.evidence is not None
    assert state.evidence.verdict.kind is VerdictKind.SINGLED_OUT
    assert name in {row.name for row in state.form.rows}


# -- the register ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "made"),
    [
        ("ribbon", Ribbon),
        ("mass by difference", Ribbon),
        ("balance", Ruler),
        ("", Ribbon),
        (3, Ribbon),
        ("other", dict),
        ("other", AmountModel),
        ("other", Ribbon(species="Mg", length="l", g_per_m=1.0)),
    ],
)
def test_what_cannot_be_registered(words: str, made: type) -> None:
    with pytest.raises(ModelError):
        register(words, made)


def test_what_is_built_in_stays() -> None:
    unregister("mass by difference")
    unregister("balance")
    assert "mass by difference" in MODELS
    assert "balance" in KINDS
    assert math.isclose(molar_mass_value("Mg"), 24.305)
