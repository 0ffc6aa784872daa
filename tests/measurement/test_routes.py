"""One amount by several routes: by hand, in a file, in the verdict, and in the documents."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from stoichkit import assess
from stoichkit.decision.evidence import compare_routes
from stoichkit.decision.sentences import caveat_sentence, route_sentences
from stoichkit.decision.verdict import CaveatKind, VerdictKind
from stoichkit.errors import ExperimentError
from stoichkit.experiments.record import Experiment
from stoichkit.experiments.store import parse_experiment
from stoichkit.measurement.routes import Routes
from stoichkit.measurement.weighing import MassByDifference
from stoichkit.reports.lab import lab_report
from stoichkit.reports.worked import worked_solution
from stoichkit.uncertainty.readings import ErrorPool
from stoichkit.uncertainty.sources import contributions, nominal

LAB = """
title = "How much copper does zinc displace?"
invented = true

[instruments.balance]
kind = "balance"
readability_g = 0.001
repeatability_g = 0.0005
linearity_g = 0
calibration_relative = 0

[instruments.burette]
kind = "burette"
capacity_mL = 50
tolerance_mL = 0.05
resolution_mL = 0.01
repeatability_mL = 0.02

[consumed]
species = "Zn"

[[consumed.routes]]
kind = "mass by difference"
heavier = "strip before"
lighter = "strip after"

[[consumed.routes]]
kind = "solution"
final = "burette after"
initial = "burette before"

[consumed.routes.concentration]
kind = "known"
name = "EDTA solution"
mol_per_L = 0.25
standard_mol_per_L = 0.0005

[produced]
kind = "mass by difference"
species = "Cu"
heavier = "paper + copper"
lighter = "paper"

[candidates.ratios]
"one to one" = 1
"thirteen to fourteen" = "13/14"
"one to two" = "1/2"

[[trials]]
name = "1"
"strip before" = "4.182"
"strip after" = "3.855"
"burette before" = "0.12"
"burette after" = "20.14"
"paper" = "0.702"
"paper + copper" = "1.020"

[[trials]]
name = "2"
"strip before" = "3.855"
"strip after" = "3.527"
"burette before" = "0.30"
"burette after" = "20.34"
"paper" = "0.710"
"paper + copper" = "1.028"
"""


@pytest.fixture
def lab() -> Experiment:
    return parse_experiment(LAB)


def _apart(lab: Experiment) -> Experiment:
    """Add 1.50 mL to each titration: 0.375 mmol, some twenty standard uncertainties."""
    return lab.with_reading("1", "burette after", "21.64").with_reading(
        "2", "burette after", "21.84"
    )


def test_the_amount_is_the_mean_with_weights_by_the_uncertainties(lab: Experiment) -> None:
    """By hand, trial 1: 0.327 g / 65.38 g/mol and 20.02 mL × 0.25 mol/L."""
    by_mass, by_volume = 0.327 / 65.38, 20.02 * 0.25e-3
    u_mass = math.sqrt(2 * (0.0005**2 + 0.001**2 / 12)) / 65.38
    u_volume_mL = math.sqrt(2 * 0.02**2 + 0.05**2 / 6 + 2 * 0.01**2 / 12)
    u_volume = by_volume * math.hypot(u_volume_mL / 20.02, 0.0005 / 0.25)
    weight = u_mass**-2 / (u_mass**-2 + u_volume**-2)
    (part, rest) = lab.consumed.parts
    assert part == pytest.approx(weight, abs=0.01)  # the table's Zn and the temperature add little
    assert part + rest == 1
    assert part == round(part, 3)
    found = nominal(lab.amounts()[0][0])
    assert found == pytest.approx(part * by_mass + rest * by_volume, rel=2e-6)
    assert min(by_mass, by_volume) < found < max(by_mass, by_volume)


def test_routes_that_agree_are_tested_by_the_errors_of_their_difference(lab: Experiment) -> None:
    """By hand, 2 trials, 0.1 mL more: mean difference over its uncertainty, nearly normal.

    The density of zinc, 7.14 g/cm³ (handbook value, from memory), leaves no buoyancy unknown.
    """
    weighed = 'lighter = "strip after"'
    lab = parse_experiment(LAB.replace(weighed, f"{weighed}\ndensity_g_per_cm3 = 7.14"))
    lab = lab.with_reading("1", "burette after", "20.24")
    lab = lab.with_reading("2", "burette after", "20.44")
    (one,) = compare_routes(lab)
    apart = (0.327 + 0.328) / 2 / 65.38 - (20.12 + 20.14) / 2 * 0.25e-3
    assert one.amounts_mol[0] - one.amounts_mol[1] == pytest.approx(apart, abs=2e-7)
    u_mass = math.sqrt(2 * (0.0005**2 + 0.001**2 / 12) / 2) / 65.38
    own_mL = math.sqrt((2 * 0.02**2 + 2 * 0.01**2 / 12) / 2)
    shared_mL = math.hypot(0.05 / math.sqrt(6), 20.13 * 0.002)  # tolerance and concentration
    u = math.hypot(u_mass, 0.25e-3 * math.hypot(own_mL, shared_mL))
    normal = math.erfc(abs(apart) / u / math.sqrt(2))
    assert one.p_value == pytest.approx(normal, abs=0.02)
    assert one.agree
    assert (one.side, one.routes) == ("consumed", (1, 2))


def test_agreeing_routes_are_combined(lab: Experiment) -> None:
    found = assess(lab)
    assert found.verdict.candidates == ("one to one",)
    assert all(c.kind is not CaveatKind.ROUTES_DISAGREE for c in found.warnings)
    u = found.candidates["one to one"].standard_uncertainty_mol
    for route in _routes(lab):
        assert u < assess(_only(lab, route)).candidates["one to one"].standard_uncertainty_mol


def test_disagreeing_routes_are_not_averaged(lab: Experiment) -> None:
    """Copper over zinc is 1.00 by weighing and 5.0042/5.3825 = 0.93 by titration."""
    found = assess(_apart(lab))
    (caveat,) = (c for c in found.warnings if c.kind is CaveatKind.ROUTES_DISAGREE)
    assert caveat.subject == "consumed"
    assert caveat.value < 1e-6
    assert found.verdict.kind is VerdictKind.NOT_TOLD_APART
    assert found.verdict.candidates == ("one to one", "thirteen to fourteen")
    for name, route in zip(found.verdict.candidates, _routes(lab), strict=True):
        alone = assess(_only(_apart(lab), route))
        assert alone.verdict.candidates == (name,)
        assert found.candidates[name].p_value == pytest.approx(alone.candidates[name].p_value)
    assert "disagree" in caveat_sentence(caveat, found)
    assert "Zn" in caveat_sentence(caveat, found)


def test_the_ratio_set_holds_what_any_route_allows(lab: Experiment) -> None:
    found = assess(_apart(lab))
    for candidate in found.candidates.values():
        assert (candidate.ratio in found.ratio_set) == candidate.compatible
    assert 1.0 in found.ratio_set
    assert 0.93 in found.ratio_set
    assert found.ratio_set.kind == "in pieces"  # 0.95 is far from either and from their mean
    assert 0.95 not in found.ratio_set
    assert 0.985 not in found.ratio_set
    assert found.p_value(0.95) < 0.05


def test_the_island_of_one_route_is_found_without_a_candidate_on_it(lab: Experiment) -> None:
    far = _apart(lab).with_candidates(parse_experiment(LAB.replace('"one to one" = 1\n', "")
                                                       ).candidates)  # fmt: skip
    assert 1.0 in assess(far).ratio_set


def _routes(lab: Experiment) -> tuple[object, ...]:
    return lab.consumed.ways


def _only(lab: Experiment, route: object) -> Experiment:
    """Return the lab with one route, and the readings of that one."""
    names = {role.name for model in (route, lab.produced) for role in model.roles()}  # type: ignore[attr-defined]
    trials = [
        replace(t, readings={n: v for n, v in t.readings.items() if n in names}) for t in lab.trials
    ]
    return replace(lab, consumed=route, trials=tuple(trials))  # type: ignore[arg-type]


@pytest.mark.parametrize("fault_mL", [pytest.param(0.0, marks=pytest.mark.slow), 1.5])
def test_the_truth_is_excluded_at_most_as_often_as_promised(
    lab: Experiment, fault_mL: float
) -> None:
    """Readings simulated from 5.003 mmol; with a fault the titration is too high in every trial."""
    rng = np.random.default_rng(20)
    labs, excluded, apart = 120, 0, 0
    for _ in range(labs):
        strength = 0.25 + rng.normal(0, 0.0005)
        tolerance = rng.triangular(-0.05, 0, 0.05)
        trials = []
        for trial in lab.trials:
            n = rng.uniform(4.95e-3, 5.05e-3)
            start, paper, zero = rng.uniform(3, 4), rng.uniform(0.6, 0.8), rng.uniform(0.1, 0.6)
            noise = rng.normal(0, 0.0005, 4)
            drops = rng.normal(0, 0.02, 2)
            volume = 1e3 * n / strength - tolerance + fault_mL
            masses = np.array([start, start - n * 65.38, paper, paper + n * 63.546]) + noise
            shown = [f"{m:.3f}" for m in masses]
            read = [f"{zero + drops[0]:.2f}", f"{zero + volume + drops[1]:.2f}"]
            names = ("strip before", "strip after", "paper", "paper + copper",
                     "burette before", "burette after")  # fmt: skip
            trials.append(replace(trial, readings=dict(zip(names, [*shown, *read], strict=True))))
        found = assess(lab.with_trials(trials))
        excluded += not found.candidates["one to one"].compatible
        apart += not found.agreements[0].agree
    three_sigma = 3 * math.sqrt(0.05 * 0.95 / labs)
    assert excluded / labs <= 0.05 + three_sigma
    if fault_mL:
        assert apart == labs
    else:
        assert apart / labs <= 0.01 + 3 * math.sqrt(0.01 * 0.99 / labs)


def test_what_two_routes_share_counts_once() -> None:
    """The strip is weighed once before and twice after: its first weighing leaves no trace."""
    text = LAB[: LAB.index('[[consumed.routes]]\nkind = "solution"')]
    text += """[[consumed.routes]]
kind = "mass by difference"
heavier = "strip before"
lighter = "strip again"

""" + LAB[LAB.index("[produced]") :]
    text = text.replace('"burette before" = "0.12"', '"strip again" = "3.856"')
    text = text.replace('"burette before" = "0.30"', '"strip again" = "3.529"')
    text = "\n".join(line for line in text.splitlines() if "burette after" not in line)
    lab = parse_experiment(text)
    (one,) = compare_routes(lab)
    moved = lab.with_reading("1", "strip before", "4.197")
    assert compare_routes(moved)[0].p_value == pytest.approx(one.p_value, rel=1e-3)
    n1, n2 = lab.amounts_by(*lab.consumed.ways, ErrorPool())[0]
    labels = {s.label for s, c in contributions(n1 - n2) if abs(c) > 1e-9}
    assert not any("strip before" in label for label in labels)
    assert lab.consumed.parts == (0.5, 0.5)
    # mean difference 1.5 steps; without noise at most 2 steps could be rounding alone
    assert 0.01 < one.p_value < 0.2


WEIGHED = """
title = "One loss of zinc, weighed three times"
invented = true

[instruments.balance]
kind = "balance"
readability_g = 0.00001
repeatability_g = 0.00003
linearity_g = 0
calibration_relative = 0

[consumed]
species = "Zn"

[[consumed.routes]]
kind = "mass by difference"
heavier = "a"
lighter = "b"
density_g_per_cm3 = 7.14

[[consumed.routes]]
kind = "mass by difference"
heavier = "c"
lighter = "d"

[[consumed.routes]]
kind = "mass by difference"
heavier = "e"
lighter = "f"
density_g_per_cm3 = 7.14

[produced]
kind = "mass by difference"
species = "Cu"
heavier = "g"

[candidates.ratios]
"one" = 1

[[trials]]
name = "1"
a = "5.00000"
b = "4.00000"
c = "5.00000"
d = "4.00080"
e = "5.00000"
f = "4.00000"
g = "0.97200"
"""


def test_an_unknown_buoyancy_is_no_disagreement() -> None:
    """0.8 mg of 1 g is 15 standard uncertainties, but air may add up to 1.3 mg to zinc's mass."""
    lab = parse_experiment(WEIGHED)
    assert all(one.agree for one in compare_routes(lab))
    text = 'lighter = "d"'
    known = parse_experiment(WEIGHED.replace(text, f"{text}\ndensity_g_per_cm3 = 7.14"))
    agree = {one.routes: one.agree for one in compare_routes(known)}
    assert agree == {(1, 2): False, (1, 3): True, (2, 3): False}


def test_one_chance_in_a_hundred_is_shared_by_all_pairs() -> None:
    """18 steps of the display or more, from 17.5 on; four weighings of 3 steps and 1/√12 each."""
    lab = parse_experiment(WEIGHED).with_reading("1", "f", "3.99982")
    (one,) = (one for one in compare_routes(lab) if one.routes == (1, 3))
    normal = math.erfc(17.5 / math.sqrt(4 * (3**2 + 1 / 12)) / math.sqrt(2))
    assert 0.01 / 3 < one.p_value < 0.01
    assert one.p_value == pytest.approx(normal, rel=0.03)
    assert one.agree
    assert "below 0.0033" in " ".join(route_sentences(assess(lab)))


def test_two_solutions_of_one_name_are_refused() -> None:
    cut = LAB.index("[produced]")
    second = """[[consumed.routes]]
kind = "solution"
final = "other"
[consumed.routes.concentration]
kind = "prepared"
solute = "KCl"
heavier = "salt"
name = "standard"

"""
    first = (
        second.replace('"other"', '"again"').replace("KCl", "NaCl").replace("salt", "other salt")
    )
    with pytest.raises(ExperimentError, match="same name"):
        parse_experiment((LAB[:cut] + first + second + LAB[cut:]).replace(
            "[consumed]", '[instruments.flask]\nkind = "flask"\ncapacity_mL = 100\n\n[consumed]', 1
        ))  # fmt: skip


def test_the_file_keeps_it(lab: Experiment) -> None:
    text = lab.to_toml()
    assert "[[consumed.routes]]" in text
    assert "[consumed.routes.concentration]" in text
    assert parse_experiment(text) == lab == Experiment.from_json(lab.to_json())
    stated = LAB.replace('species = "Zn"', 'species = "Zn"\nweights = [0.25, 0.75]', 1)
    assert parse_experiment(stated).consumed.parts == (0.25, 0.75)
    assert _apart(lab).consumed.parts == lab.consumed.parts  # fixed: readings do not move them


def test_the_documents_explain_both_routes(lab: Experiment) -> None:
    first, second = lab.consumed.parts
    solution = " ".join(worked_solution(lab, trial="1").text().split())
    assert "n1(Zn) = m(Zn) / M(Zn)" in solution
    assert "n2(Zn) = c × V" in solution or "n2(Zn) =" in solution
    assert f"n(Zn) = {first:.4g} × n1(Zn) + {second:.4g} × n2(Zn)" in solution
    said = " ".join(route_sentences(assess(lab)))
    assert "they agree" in said
    assert f"fixed weights {first:.3g} and {second:.3g}" in said
    assert "they agree" in solution
    far = " ".join(worked_solution(_apart(lab), trial="1").text().split())
    # 5.00425 − 5.00918 = −0.0049 mmol, by the masses alone
    assert "1 × 0.00500918 mol = −4.93 × 10⁻⁶ mol (one to one, with n(Zn) by route 1 alone" in far
    assert "Routes to one amount disagree" in far
    assert "From 2 trials: mole ratios n(Cu)/n(Zn) from 0.92" in far
    assert "not bounded" not in far
    report = " ".join(lab_report(assess(_apart(lab))).text().split())
    assert "they disagree" in report
    assert "Find out which route is at fault" in report


@pytest.mark.parametrize(
    ("old", "new", "field", "words"),
    [
        ('kind = "solution"', 'kind = "solution"\nspecies = "Cu"', "routes[2].species", "Zn"),
        ('kind = "solution"', 'kind = "dissolution"', "routes[2].kind", "not known"),
        ('final = "burette after"', 'finnal = "x"', "routes[2].finnal", "Did you mean"),
        ("mol_per_L = 0.25", "mol_per_L = -1", "routes[2].concentration.mol_per_L", "above 0"),
        ('final = "burette after"\ninitial = "burette before"', 'pipette = "burette"',
         "routes[2]", "no reading of its own"),
        ('species = "Zn"', 'species = "Zn"\nweights = [0.5, 0.6]', "weights", "make 1 together"),
        ('species = "Zn"', 'species = "Zn"\nweights = "half"', "weights", "list of numbers"),
        ('species = "Zn"', 'species = "zn"', "routes[1].species", ""),
    ],
)  # fmt: skip
def test_a_fault_is_named_with_its_place(old: str, new: str, field: str, words: str) -> None:
    assert old in LAB
    with pytest.raises(ExperimentError) as caught:
        parse_experiment(LAB.replace(old, new, 1))
    if new != 'species = "zn"':
        assert caught.value.field == f"consumed.{field}"
    assert words in str(caught.value)


def test_a_single_route_is_refused() -> None:
    start, end = LAB.index('[[consumed.routes]]\nkind = "solution"'), LAB.index("[produced]")
    with pytest.raises(ExperimentError, match="2 to 5 routes") as caught:
        parse_experiment(LAB[:start] + LAB[end:])
    assert caught.value.field == "consumed.routes"


def test_a_route_without_readings_or_like_another_is_refused() -> None:
    one = MassByDifference(species="Zn", heavier="a", lighter="b")
    with pytest.raises(ExperimentError, match="no reading of its own"):
        Routes(species="Zn", routes=(one, one))
    with pytest.raises(ExperimentError, match="no list of routes itself"):
        Routes(species="Zn", routes=(one, "by titration"))  # type: ignore[arg-type]
    inner = Routes(species="Zn", routes=(one, replace(one, heavier="c")))
    with pytest.raises(ExperimentError, match="no list of routes itself"):
        Routes(species="Zn", routes=(inner, replace(one, heavier="d")))
