"""The bench plan: complete for every ready experiment, right in its numbers, safe to print."""

from __future__ import annotations

import math
import re
from fractions import Fraction
from html.parser import HTMLParser

import pytest

from stoichkit import experiments
from stoichkit.bench.plan import BenchPlan, bench_plan
from stoichkit.bench.supply import Supply, default_supply, needs_of, usual_salts
from stoichkit.chemistry.candidates import from_equations
from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.chemistry.equation import parse_equation
from stoichkit.chemistry.formula import parse_formula
from stoichkit.errors import ExperimentError, ModelError
from stoichkit.experiments.record import Experiment
from stoichkit.experiments.store import parse_experiment
from stoichkit.measurement.displays import Balance
from stoichkit.measurement.weighing import constant_mass
from stoichkit.planning.plan import Plan
from stoichkit.uncertainty.readings import parse_number
from stoichkit.uncertainty.sources import nominal

ALL = experiments.names()
SECTIONS = [
    "What is to be told apart",
    "Reagents",
    "Expected readings",
    "Checks before the lab",
    "Drying, waiting and cooling",
    "What to record",
    "Cautions",
    "Waste",
    "Notes of the record",
]
VOID = {"meta", "link", "br", "img"}


class Page(HTMLParser):
    """Collect the structure of a page and complain about tags that do not nest."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.headings: list[tuple[str, str]] = []
        self.tables: list[dict[str, list[str]]] = []
        self.attributes: list[tuple[str, str, str | None]] = []
        self.words = ""
        self.feed(text)
        assert not self.open

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.attributes += [(tag, name, value) for name, value in attrs]
        if tag in VOID:
            return
        self.open.append(tag)
        if tag == "table":
            self.tables.append({"caption": [], "head": [], "cells": []})

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" in self.open:
            return
        self.words += data
        if self.open and self.open[-1] in ("h1", "h2"):
            self.headings.append((self.open[-1], data))
        if self.open and self.open[-1] == "caption":
            self.tables[-1]["caption"].append(data)
        if self.open and self.open[-1] in ("th", "td"):
            place = "head" if "thead" in self.open else "cells"
            self.tables[-1][place].append(data)


@pytest.fixture(scope="module")
def plans() -> dict[str, BenchPlan]:
    return {name: bench_plan(experiments.load(name), groups=6) for name in ALL}


# -- complete for every ready experiment ---------------------------------------------------


@pytest.mark.parametrize("name", ALL)
def test_the_plan_comes_out_complete(name: str, plans: dict[str, BenchPlan]) -> None:
    plan, lab = plans[name], experiments.load(name)

    assert plan.reagents
    assert any("limiting" in r.role or "used up" in r.role for r in plan.reagents)
    for reagent in plan.reagents:
        assert reagent.name
        assert reagent.measured_with
        assert reagent.for_class
        assert 0 < reagent.needed_mmol[0] <= reagent.needed_mmol[1]
        measured = reagent.mass_g, reagent.volume_mL
        assert any(m and m > 0 for m in measured) or reagent.notes, "an amount, or why not"
    assert [e.candidate for e in plan.expectations] == [c.name for c in lab.candidates]
    for expectation in plan.expectations:
        assert [n for n, _ in expectation.readings] == list(lab.reading_names())
        assert expectation.produced.size > 0
        assert expectation.apart_steps > 0
        assert math.isfinite(expectation.apart_uncertainties)
    assert [n for n, _ in plan.equations] == [c.name for c in lab.candidates]
    assert len(plan.checks) >= 3
    assert all(check.text.endswith(".") for check in plan.checks)
    assert plan.drying
    assert plan.waiting
    assert [c.name for c in plan.record] == list(lab.reading_names())
    subjects = {c.subject for c in plan.cautions}
    assert {c.subject for c in lab.cautions} <= subjects, "nothing of the record is lost"
    assert plan.waste


@pytest.mark.parametrize("name", ALL)
def test_the_page_has_headings_captions_and_nothing_from_elsewhere(
    name: str, plans: dict[str, BenchPlan]
) -> None:
    page = Page(plans[name].html())

    assert page.headings[0] == ("h1", plans[name].title)
    titles = [text for tag, text in page.headings if tag == "h2"]
    assert [t for t in titles if t != "Solutions to make up"] == SECTIONS
    assert ("html", "lang", "en") in page.attributes
    for table in page.tables:
        assert "".join(table["caption"]).strip()
        assert table["head"]
        assert len(table["cells"]) % len(table["head"]) == 0
        assert all(cell.strip() for cell in table["cells"])
    heads = [v for tag, a, v in page.attributes if tag == "th" and a == "scope"]
    assert set(heads) == {"col", "row"}
    assert not {a for _, a, _ in page.attributes} & {"src", "href", "onclick", "style"}
    assert "@page" in plans[name].html()
    assert "url(" not in plans[name].html()
    for phrase in ("nan", "inf ", "None", "e+0", "e-0"):
        assert phrase not in page.words, phrase


@pytest.mark.parametrize("name", ALL)
def test_markdown_says_the_same_sections(name: str, plans: dict[str, BenchPlan]) -> None:
    text = plans[name].markdown()
    titles = re.findall(r"^## (.+)$", text, re.MULTILINE)
    assert [t for t in titles if t != "Solutions to make up"] == SECTIONS
    assert "safety data sheet" in text
    assert "invented" in text


def test_user_text_is_escaped_everywhere() -> None:
    text = experiments.read("copper-silver")
    evil = "<script>alert(1)</script>|*x*"
    for old in ("wire before", "copper nitrate in the used solution", "Copper wire in silver"):
        text = text.replace(old, evil)
    plan = bench_plan(parse_experiment(text, "evil.toml"), chances_text=evil)

    page = plan.html()
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert evil in Page(page).words
    markdown = plan.markdown()
    assert "<script" not in markdown
    assert "*x*" not in markdown
    for line in markdown.splitlines():
        if line.startswith("|"):
            assert line.count("|") >= 3


# -- right in its numbers ------------------------------------------------------------------


def test_copper_and_silver_by_hand() -> None:
    """0.127 g of copper is 2.00 mmol: 2 to 4 mmol of silver ion, 0.216 or 0.431 g of silver."""
    plan = bench_plan(experiments.load("copper-silver"), reacting_mass_g=0.127092, excess=1.2)

    copper, silver = plan.reagents
    assert "used up is weighed" in copper.role
    assert silver.role == "in excess"
    assert silver.needed_mmol == pytest.approx((2.0, 4.0))
    assert silver.volume_mL == 50  # 1.2 × 4 mmol at 0.1 mol/L is 48 mL
    assert silver.volume_mL * 0.1 >= 1.2 * silver.needed_mmol[1]
    one, two = plan.expectations
    assert one.product_mass_g == pytest.approx(0.002 * 107.8682, rel=1e-6)
    assert two.product_mass_g == pytest.approx(0.004 * 107.8682, rel=1e-6)
    assert one.produced.steps == pytest.approx(21.57364, rel=1e-5)
    assert one.apart_steps == two.apart_steps == pytest.approx(21.57364, rel=1e-5)
    assert dict(two.readings)["wire before"] == "2.95 g"


def test_expected_readings_give_back_the_candidate() -> None:
    """Put the expected readings into the record: the ratio of the amounts is the candidate's."""
    for name in ALL:
        lab = experiments.load(name)
        plan = bench_plan(lab)
        for expectation in plan.expectations:
            changed = lab.with_trials(lab.trials[:1])
            for reading, text in expectation.readings:
                where = "" if reading in lab.shared_readings else lab.trials[0].name
                changed = changed.with_reading(where, reading, text.split()[0])
            ((consumed, produced),) = changed.amounts()
            steps = 1 / expectation.produced.steps + 1 / expectation.consumed.steps
            ratio = nominal(produced) / nominal(consumed)
            assert ratio == pytest.approx(expectation.ratio, rel=max(2 * steps, 1e-9))


def test_the_coarse_balance_is_pointed_out() -> None:
    fine = bench_plan(experiments.load("copper-silver"), reacting_mass_g=0.3)
    coarse = bench_plan(experiments.load("copper-silver-coarse"), reacting_mass_g=0.3)
    assert all(check.passed for check in fine.checks)
    assert [c.passed for c in coarse.checks if c.subject.startswith("size")] == [False, False]
    assert coarse.expectations[0].apart_uncertainties < 4 < fine.expectations[0].apart_uncertainties


@pytest.mark.parametrize("capacity_g", [None, 24.0, 25.0])
def test_the_capacity_of_the_balance_is_checked(capacity_g: float | None) -> None:
    """The largest reading expected is 24.34 g."""
    lab = experiments.load("hydrate-heating").with_instrument(
        "balance", Balance(readability_g=0.01, repeatability_g=0.005, capacity_g=capacity_g)
    )
    (found,) = [c for c in bench_plan(lab).checks if c.subject == "balance"]
    assert found.passed is (None if capacity_g is None else capacity_g > 24.4)
    assert found.mark == {None: "not known", 24.0: "LOOK", 25.0: "ok"}[capacity_g]


def test_a_gas_tube_that_is_too_small_for_one_candidate() -> None:
    lab = experiments.load("magnesium-gas")
    (tube,) = [c for c in bench_plan(lab).checks if c.subject == "gas tube"]
    assert tube.passed is False
    assert "magnesium(III)" in tube.text
    (tube,) = [c for c in bench_plan(lab, reacting_mass_g=0.030).checks if c.subject == "gas tube"]
    assert tube.passed is True


def test_the_share_of_the_burette_follows_usp_31() -> None:
    """At least 30 % of the burette: USP General Chapter 31 (read)."""
    lab = experiments.load("acid-titration")
    for mass_g, enough in ((0.25, False), (0.30, True)):
        (found,) = [
            c
            for c in bench_plan(lab, reacting_mass_g=mass_g).checks
            if c.subject == "burette: volume used"
        ]
        volume_mL = 1000 * mass_g / molar_mass_value("C6H8O7") / 0.0987
        assert (volume_mL >= 15) is enough
        assert found.passed is enough


@pytest.mark.parametrize("name", ALL)
def test_the_limit_of_constant_mass_is_that_of_the_check(name: str) -> None:
    """A change as large as the plan states passes `constant_mass`; one step more does not."""
    lab = experiments.load(name)
    rules = [text for text in bench_plan(lab).drying if "counts as constant" in text]
    if name == "acid-titration" or name == "magnesium-gas":
        assert rules == []
        return
    (rule,) = rules
    limit = re.search(r"no more than ([0-9.]+) g", rule)
    assert limit is not None
    balance = lab.instruments["balance"]
    assert isinstance(balance, Balance)
    for extra, settled in ((0.0, True), (balance.readability_g, False)):
        last = f"{20 + float(limit[1]) + extra:.6f}"
        pair = [parse_number("20.0"), parse_number(last)]
        assert constant_mass(pair, balance).reached is settled


def test_the_sample_of_a_hydrate_is_weighed_for_the_heaviest_candidate() -> None:
    plan = bench_plan(experiments.load("hydrate-heating"), reacting_mass_g=1.2037)
    (sample,) = plan.reagents
    moles = 1.2037 / molar_mass_value("MgSO4")
    assert sample.role == "limiting"
    assert sample.mass_g == pytest.approx(moles * molar_mass_value("MgSO4.12H2O"))
    assert f"{moles * molar_mass_value('MgSO4.H2O'):.3g} to" in sample.notes[0]


def test_copper_ions_of_either_charge_come_from_one_bath() -> None:
    plan = bench_plan(experiments.load("copper-plating"), reacting_mol=0.008)
    current, bath = plan.reagents
    assert current.role == "limiting, measured"
    assert bath.provides == "Cu⁺ or Cu²⁺"
    assert bath.needed_mmol == pytest.approx((4.0, 8.0))
    assert bath.preparation is not None
    assert math.isnan(plan.reacting_mass_g)


def test_oxygen_can_be_said_to_come_from_nitric_acid() -> None:
    """Sn + 4 HNO3 -> SnO2 + 4 NO2 + 2 H2O: a quarter of an O2 for each HNO3."""
    supply = Supply(species="O2", solute="HNO3", units=Fraction(1, 4), concentration_mol_per_L=8.0)
    plan = bench_plan(experiments.load("tin-oxide"), reacting_mass_g=1.1871, supplies=[supply])
    acid = plan.reagents[1]
    assert acid.needed_mmol == pytest.approx((20.0, 40.0), rel=1e-3)
    assert acid.name == "nitric acid, 8 mol/L"
    assert any("acid goes into the water" in c for c in acid.preparation.cautions)
    assert "nitric acid" not in plan.also
    assert "nitric acid" in bench_plan(experiments.load("tin-oxide")).also


def test_a_titration_of_a_pipetted_solution() -> None:
    """Hydrochloric acid, 10 mL of 0.1 mol/L, with sodium hydroxide: 10 or 20 mL are expected."""
    lab = parse_experiment(
        """
title = "Acid by the pipette"
[instruments.pipette]
kind = "pipette"
capacity_mL = 10
[instruments.burette]
kind = "burette"
capacity_mL = 50
[consumed]
kind = "solution"
species = "H2SO4"
pipette = "pipette"
concentration = { kind = "known", mol_per_L = 0.1, half_width_mol_per_L = 0.0002, name = "acid" }
[produced]
kind = "solution"
species = "OH^-"
final = "after"
initial = "before"
concentration = { kind = "known", mol_per_L = 0.1, half_width_mol_per_L = 0.0002, name = "base" }
[candidates.ratios]
"one" = "1"
"two" = "2"
[[trials]]
name = "1"
"before" = "0.00"
"after" = "20.05"
""",
        "lab.toml",
    )
    plan = bench_plan(lab)
    assert [round(e.produced.size, 6) for e in plan.expectations] == [10.0, 20.0]
    assert [r.role for r in plan.reagents] == ["limiting, measured", "measured, titrant"]
    assert Page(plan.html()).headings


def test_a_solution_made_by_the_students_brings_its_recipe() -> None:
    text = experiments.read("acid-titration").replace(
        """kind = "known"
name = "sodium hydroxide solution"
mol_per_L = 0.0987
standard_mol_per_L = 0.0003
""",
        """kind = "prepared"
name = "sodium hydroxide solution"
solute = "NaOH"
heavier = "pellets"
""",
    )
    text = text.replace("[[trials]]", '[shared]\n"pellets" = "3.948"\n\n[[trials]]', 1)
    text = text.replace(
        "[consumed]", '[instruments.flask]\nkind = "flask"\ncapacity_mL = 1000\n[consumed]'
    )
    plan = bench_plan(parse_experiment(text, "lab.toml"))
    base = plan.reagents[1]
    assert base.preparation is not None
    assert base.preparation.mass_g == pytest.approx(3.948)
    assert "1000 mL volumetric flask" in base.preparation.glassware
    assert "heats the water strongly" in plan.markdown()


def test_partners_without_a_known_source_are_said_to_be_unknown() -> None:
    lab = experiments.load("copper-silver")
    odd = from_equations({"odd": "Cu + 2 Tl^+ -> Cu^2+ + 2 Tl"}, consumed="Cu", produced="Tl")
    from stoichkit.measurement.weighing import MassByDifference

    lab = Experiment(
        title="Thallium",
        consumed=lab.consumed,
        produced=MassByDifference(species="Tl", heavier="paper + silver", lighter="paper"),
        instruments=lab.instruments,
        candidates=odd,
        trials=lab.trials,
    )
    plan = bench_plan(lab)
    assert "source not known here" in plan.reagents[1].name
    assert {"Tl⁺", "Tl"} <= set(plan.unknown)
    assert "does not mean that there are none" in " ".join(Page(plan.html()).words.split())
    with pytest.raises(ExperimentError, match="supplies"):
        default_supply("Tl^+")


def test_usual_salts_hold_their_ion() -> None:
    for ion, (solute, units, c) in usual_salts().items():
        held = parse_formula(solute).counts
        for element, count in parse_formula(ion).counts.items():
            if ion != "H^+":
                assert held[element] >= count * units
        assert c > 0
        assert default_supply(ion).words


@pytest.mark.parametrize("name", ALL)
def test_needs_follow_the_balanced_equations(name: str) -> None:
    lab = experiments.load(name)
    for candidate in lab.candidates:
        needs = needs_of(candidate, lab.consumed.species)
        if not candidate.equation:
            assert needs is None
            continue
        assert needs is not None
        left = {t.formula.plain(): t.coefficient for t in parse_equation(candidate.equation).left}
        sample = needs.sample[0] if needs.sample else parse_formula(lab.consumed.species).plain()
        taken = {*needs.partners, sample}
        assert taken == set(left)


def test_a_plan_gives_its_amount_and_trials_and_chances_are_shown() -> None:
    design = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.003, trials=2)
    plan = bench_plan(
        design, chances={"copper(I)": 0.987, "copper(II)": 0.9}, chances_text="For two trials."
    )
    assert plan.consumed_mol == 0.003
    assert plan.trials == 2
    words = Page(plan.html()).words
    assert "99 %" in words
    assert "90 %" in words
    assert "For two trials." in words


def test_a_class_gets_a_tenth_more() -> None:
    plan = bench_plan(experiments.load("tin-oxide"), reacting_mass_g=1.0, trials=2, groups=10)
    assert plan.reagents[0].for_class == "22 g"


@pytest.mark.parametrize(
    ("name", "keywords", "says"),
    [
        ("tin-oxide", {"reacting_mass_g": 0}, "`reacting_mass_g`"),
        ("tin-oxide", {"reacting_mass_g": float("nan")}, "`reacting_mass_g`"),
        ("tin-oxide", {"reacting_mol": -1}, "`reacting_mol`"),
        ("tin-oxide", {"reacting_mass_g": 1, "reacting_mol": 1}, "given twice"),
        ("copper-plating", {"reacting_mass_g": 1}, "no mass"),
        ("tin-oxide", {"excess": 0.9}, "excess"),
        ("tin-oxide", {"excess": 21}, "excess"),
        ("tin-oxide", {"trials": 0}, "`trials`"),
        ("tin-oxide", {"trials": 1.5}, "`trials`"),
        ("tin-oxide", {"groups": 0}, "`groups`"),
        ("tin-oxide", {"groups": 2000, "trials": 2}, "all groups"),
        ("tin-oxide", {"chances": {"SnO3": 0.5}}, "no such candidate"),
        ("tin-oxide", {"chances": {"SnO": 1.5}}, "chance"),
    ],
)
def test_impossible_plans_are_refused(name: str, keywords: dict, says: str) -> None:
    with pytest.raises(ModelError, match=says):
        bench_plan(experiments.load(name), **keywords)


def test_what_is_no_lab_is_refused() -> None:
    with pytest.raises(ModelError, match="nothing to plan"):
        bench_plan("copper-silver")  # type: ignore[arg-type]
    with pytest.raises(ExperimentError, match="two supplies"):
        bench_plan(
            experiments.load("copper-silver"),
            supplies=[default_supply("Ag^+"), Supply(species="Ag+", solute="AgNO3")],
        )
