"""The state of “Plan a lab” and its long calculations, without Jupyter."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from stoichkit import experiments
from stoichkit.errors import DataFileError, ExperimentError, ModelError
from stoichkit.measurement.displays import Balance
from stoichkit.planning.design import design_map
from stoichkit.planning.outcomes import Chances
from stoichkit.planning.plan import Plan, operating_characteristic
from stoichkit.planning.questions import fewest_trials, smallest_amount
from stoichkit.widgets.kit.work import Stopped, silent
from stoichkit.widgets.state import plan as plan_module
from stoichkit.widgets.state.plan import (
    FIELDS,
    PlanState,
    _row,
    _separate_weighings,
    _with_marks,
    design,
    first_texts,
    label_of_figure,
    read_figures,
)


@pytest.mark.parametrize("name", experiments.names())
def test_every_ready_experiment_begins_with_a_plan(name: str) -> None:
    state = PlanState(name)
    assert state.refusals == {}
    assert set(state.texts) == set(FIELDS)
    assert state.figures.plan.trials == len(state.base.trials)
    assert all(label_of_figure(field, state.base) for field in FIELDS)
    assert state.bench().trials == state.figures.plan.trials


def test_figures_are_read_with_commas_and_percents() -> None:
    state = PlanState("copper-silver")
    for name, text in (
        ("amount", "0,2"),
        ("spread", "5 %"),
        ("target", "95 %"),
        ("readability", "0.1"),
        ("repeatability", ""),
        ("recovery_low", "0,9"),
        ("recovery_high", "1.1"),
    ):
        state.set(name, text)
    figures = state.figures
    assert state.refusals == {}
    assert figures.plan.consumed_mass_g == pytest.approx(0.2)
    assert figures.plan.spread == pytest.approx(0.05)
    assert figures.target == pytest.approx(0.95)
    balance = figures.plan.experiment.instruments["balance"]
    assert (balance.readability_g, balance.repeatability_g) == (0.1, None)
    assert figures.plan.experiment.recovery == (0.9, 1.1)


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("amount", "0"),
        ("amount", "much"),
        ("trials", "2.5"),
        ("trials", "65"),
        ("spread", "10"),
        ("target", "1"),
        ("readability", ""),
        ("readability", "0"),
        ("repeatability", "-1"),
        ("recovery_low", "1.2"),
        ("recovery_high", "0.5"),
        ("excess", "0.5"),
        ("groups", "0"),
    ],
)
def test_what_cannot_be_used_is_refused_beside_its_field(name: str, text: str) -> None:
    state = PlanState("copper-silver")
    before = state.figures
    state.set(name, text)
    assert list(state.refusals) == ["recovery_high" if name == "recovery_low" else name]
    assert state.texts[name] == text
    assert state.figures is before
    state.set(name, first_texts(state.base)[name])
    assert state.refusals == {}


def test_several_refusals_stand_side_by_side() -> None:
    state = PlanState("copper-silver")
    state.set("trials", "four")
    state.set("target", "high")
    assert set(state.refusals) == {"trials", "target"}
    state.set("target", "0.8")
    assert set(state.refusals) == {"trials"}
    assert state.figures.target == 0.9  # nothing is taken over while a figure is refused


def test_characteristic_is_that_of_the_plan_and_says_its_steps() -> None:
    state, said = PlanState("copper-silver"), []
    found = state.characteristic(said.append)
    assert dict(found.chances) == dict(operating_characteristic(state.figures.plan).chances)
    assert len(said) == 2


def test_answers_are_those_of_the_questions_and_every_plan_tried_is_told() -> None:
    state, said = PlanState("copper-silver"), []
    state.set("amount", "0.03")
    state.set("trials", "1")
    plan = state.figures.plan
    amount = state.answer("amount", said.append)
    assert amount.value == smallest_amount(plan).value
    assert len(said) > 4
    assert all(words.startswith("Looking for the smallest amount: ") for words in said)
    assert state.answer("trials").value == fewest_trials(plan).value
    assert type(amount.at.plan) is type(plan)
    assert operating_characteristic(amount.at.plan).right == pytest.approx(amount.at.right)


def test_a_question_can_be_stopped_at_every_step() -> None:
    state, said = PlanState("copper-silver"), []

    def report(words: str) -> None:
        said.append(words)
        if len(said) == 5:
            raise Stopped

    with pytest.raises(Stopped):
        state.answer("recovery", report)
    assert len(said) == 5


def test_cost_of_a_coarser_balance_is_ten_times_the_sample() -> None:
    state = PlanState("copper-silver")
    cost = state.sample_cost()
    assert (cost.fine_g, cost.coarse_g) == (0.01, 0.1)
    assert cost.coarse.value == pytest.approx(10 * cost.fine.value, rel=0.02)


def test_quick_map_holds_the_marked_balances_and_agrees_with_the_design() -> None:
    state = PlanState("copper-silver")
    state.set("readability", "0.03")
    found = state.design()
    assert set(state.marked_g) == {0.001, 0.01, 0.03, 0.1}
    for step in state.marked_g:
        assert step in found.readabilities_g
    row = list(found.readabilities_g).index(0.03)
    again = design_map(
        state.figures.plan.experiment,
        masses_g=found.masses_g,
        readabilities_g=[0.03],
        trials=4,
    )
    np.testing.assert_allclose(found.chance[row], again.chance[0], atol=0.01)


def test_stepwise_map_agrees_with_the_plan_and_stops() -> None:
    state, said = PlanState("magnesium-gas"), []
    state.set("trials", "1")
    plan = state.figures.plan

    def report(words: str) -> None:
        said.append(words)

    found = design(plan, 0.9, (0.001,), report)
    rng = np.random.default_rng(1)
    for _ in range(4):
        i, j = rng.integers(3), rng.integers(16)
        experiment = plan.experiment.with_instrument(
            "balance",
            replace(
                plan.experiment.instruments["balance"],
                readability_g=float(found.readabilities_g[i]),
                repeatability_g=float(found.readabilities_g[i]) / 2,
            ),
        )
        amount = plan.consumed_mol * found.masses_g[j] / plan.consumed_mass_g
        exact = operating_characteristic(
            replace(plan, experiment=experiment, consumed_mol=float(amount))
        )
        assert found.chance[i, j] == pytest.approx(exact.right, abs=0.02)
    assert len(said) > 40

    def stop(words: str) -> None:
        if "mass 2 of 16" in words:
            raise Stopped

    with pytest.raises(Stopped):
        design(plan, 0.9, (0.001,), stop)


def test_electrons_have_no_map_of_masses() -> None:
    with pytest.raises(ModelError, match="needs a consumed amount that is weighed"):
        PlanState("copper-plating").design()


def test_bench_plan_carries_the_chances_of_this_plan_only() -> None:
    state = PlanState("copper-silver")
    found = state.characteristic(silent)
    assert dict(state.bench(found).chances) == {n: c.right for n, c in found.chances.items()}
    state.set("amount", "0.05")
    assert not state.bench(found).chances
    state.set("groups", "9")
    assert state.bench().groups == 9


@pytest.mark.parametrize("name", experiments.names())
def test_bench_plan_is_shown_with_everything_escaped(name: str) -> None:
    state = PlanState(replace(experiments.load(name), title="<script>x</script>"))
    text = state.file(".html")[1].decode()
    assert "<script" not in text
    assert "&lt;script&gt;" in text
    for part in ("Reagents", "eye protection", "<caption>"):
        assert part in text


def test_files_are_made_of_figures_that_can_be_used() -> None:
    state = PlanState("copper-silver")
    name, page = state.file(".html")
    assert name == "my-copper-silver-plan.html"
    assert page.startswith(b"<!DOCTYPE html>")
    _, bare = state.file(".md")
    _, notes = state.file(".md", state.characteristic(silent))
    assert notes.startswith(b"# Bench plan: ")
    assert b"Chance of the right verdict" in notes
    assert b"Chance" not in bare
    name, sheet = state.file(".csv")
    assert name == "my-copper-silver-sheet.csv"
    assert len(sheet.decode("utf-8-sig").splitlines()) == 2 + 6 * 4
    with pytest.raises(DataFileError, match="a name that ends in"):
        state.file(".exe")
    state.set("trials", "x")
    for ending in (".html", ".md", ".csv", ".xlsx"):
        with pytest.raises(ExperimentError, match="cannot be saved yet: Trials of each group"):
            state.file(ending)


def test_subscribers_hear_of_changes_only() -> None:
    state, heard = PlanState("copper-silver"), []
    stop = state.subscribe(heard.append)
    state.set("trials", state.texts["trials"])
    state.set("trials", "2")
    state.load("tin-oxide")
    stop()
    state.set("trials", "1")
    assert heard == [False, True]
    with pytest.raises(ExperimentError, match="no such figure"):
        state.set("colour", "red")


FIRST = {
    "amount": "0.11", "trials": "4", "spread": "10 %", "target": "0.9", "readability": "0.01",
    "repeatability": "0.005", "recovery_low": "1", "recovery_high": "1", "excess": "1.2",
    "groups": "6", "balances": "0.1; 0.01; 0.001", "minutes": "",
}  # fmt: skip


@pytest.mark.parametrize(
    ("name", "least", "below", "most", "above"),
    [
        ("amount", "1e-9", "0.9e-9", "1e6", "1.1e6"), ("trials", "1", "0", "64", "65"),
        ("spread", "0 %", "-1 %", "90 %", "91 %"), ("target", "0.05", "0.049", "0.999", "0.9991"),
        ("readability", "1e-6", "0.9e-6", "100", "101"),
        ("repeatability", "0", "-0.001", "100", "101"),
        ("recovery_low", "0.05", "0.049", "1", "1.01"),  # no more than the largest, 1
        ("recovery_high", "1", "0.99", "10", "10.1"), ("excess", "1", "0.99", "20", "20.1"),
        ("groups", "1", "0", "60", "61"), ("minutes", "1", "0.9", "10000", "10001"),
    ],
)  # fmt: skip
def test_each_figure_has_its_limits(
    name: str, least: str, below: str, most: str, above: str
) -> None:
    lab = experiments.load("copper-silver")
    for good in (least, most):
        found, refused = read_figures({**FIRST, name: good}, lab)
        assert found is not None, refused
    for bad in (below, above):
        found, refused = read_figures({**FIRST, name: bad}, lab)
        assert found is None
        assert list(refused) == ["recovery_high" if name == "recovery_low" and bad == above
                                 else name]  # fmt: skip
    if name in ("trials", "groups"):
        assert list(read_figures({**FIRST, name: "2.5"}, lab)[1]) == [name]


def test_figures_that_may_be_left_out() -> None:
    lab = experiments.load("copper-silver")
    for name in FIRST:
        found, _ = read_figures({**FIRST, name: " "}, lab)
        assert (found is not None) == (name in ("repeatability", "minutes")), name


def test_what_the_figures_mean() -> None:
    """0.11 g of copper, 63.546 g/mol; a balance of twice the step errs twice as much."""
    lab = experiments.load("copper-silver").with_instrument(
        "balance", Balance(readability_g=0.01, repeatability_g=0.005, linearity_g=0.02)
    )
    texts = {**FIRST, "readability": "0.02", "minutes": "90", "spread": "5 %", "trials": "3"}
    found, _ = read_figures(texts, lab)
    assert found is not None
    assert found.plan.consumed_mol == pytest.approx(0.11 / 63.546)
    assert (found.plan.trials, found.plan.spread) == (3, 0.05)
    assert (found.target, found.excess, found.groups) == (0.9, 1.2, 6)
    balance = found.plan.experiment.instruments["balance"]
    assert balance == Balance(readability_g=0.02, repeatability_g=0.005, linearity_g=0.04)
    assert found.room is not None
    assert (found.room.benches, found.room.minutes) == (6, 90)
    unsaid, _ = read_figures({**FIRST, "repeatability": ""}, lab)
    assert unsaid is not None
    assert unsaid.plan.experiment.instruments["balance"].repeatability_g is None


def test_the_first_figures_of_a_lab() -> None:
    """Ready: 0.113 g on average, four trials, 0.01 g. Without readings fifty steps, 0.5 g."""
    lab = experiments.load("copper-silver")
    assert first_texts(lab) == FIRST
    bare = first_texts(replace(lab, trials=(), recovery=(0.8, 1.0)))
    assert (bare["amount"], bare["trials"], bare["recovery_low"]) == ("0.5", "3", "0.8")
    many = lab.with_trials([replace(lab.trials[0], name=f"t{n}") for n in range(70)])
    assert first_texts(many)["trials"] == "64"
    coarse = lab.with_instrument("balance", Balance(readability_g=0.5))
    assert first_texts(coarse)["balances"] == "0.5; 0.1; 0.01; 0.001"
    assert first_texts(coarse)["repeatability"] == ""
    assert first_texts(coarse)["readability"] == "0.5"


def test_which_labs_have_a_quick_map() -> None:
    """Both substances are weighed, and no reading serves both."""
    lab = experiments.load("copper-silver")
    assert _separate_weighings(lab)
    assert not _separate_weighings(experiments.load("copper-plating"))
    assert not _separate_weighings(experiments.load("magnesium-gas"))
    shared = replace(lab, produced=replace(lab.produced, lighter="wire after"), trials=())
    assert not _separate_weighings(shared)


def test_the_nearest_step_is_moved_onto_each_balance() -> None:
    """Nearest by ratio: 0.03 lies nearer to 0.05 than to 0.01 (1.7 and 3 times)."""
    steps = np.array([0.001, 0.01, 0.05, 1.0])
    assert _with_marks(steps, (0.03,)).tolist() == [0.001, 0.01, 0.03, 1.0]
    assert _with_marks(steps, (0.02, 0.5)).tolist() == [0.001, 0.02, 0.05, 0.5]
    assert steps.tolist() == [0.001, 0.01, 0.05, 1.0]


def test_a_plan_is_moved_on_the_map() -> None:
    """Straight up or down to the next balance of the room; with another mass to the nearest."""
    state = PlanState("copper-silver")
    mass = state.figures.plan.consumed_mass_g
    assert (state.marked_g, state.balance_g) == ((0.001, 0.01, 0.1), 0.01)
    for step, found in ((0.011, "0.1"), (0.09, "0.01"), (0.0099, "0.001"), (1e-4, "0.001")):
        state.move(mass, step)
        assert state.texts["readability"] == found, step
        assert state.texts["amount"] == "0.11"
    state.move(mass, 0.001)
    assert state.texts["readability"] == "0.001"
    for step, found in ((0.03, "0.01"), (0.035, "0.1"), (0.004, "0.01"), (0.003, "0.001")):
        state.move(0.2, step)  # halfway between 0.01 and 0.1 by ratio is 0.0316
        assert state.texts["readability"] == found, step
        state.move(0.1, step)
    for mass, shown in ((0.1234, "0.12"), (1e-6, "0.0001"), (1e6, "10000")):
        state.move(mass, 0.01)
        assert state.texts["amount"] == shown


def test_masses_are_asked_for_and_read_in_grams() -> None:
    lab = experiments.load("copper-silver")
    assert label_of_figure("readability", lab) == "Readability of the balance, g"
    assert label_of_figure("balances", lab) == "Balances: step in g, and how many"
    found, _ = read_figures({**FIRST, "balances": "0.05: 2"}, lab)
    assert found is not None
    assert found.room is not None
    assert [(kind.readability_g, kind.number) for kind in found.room.balances] == [(0.05, 2)]


def test_the_least_fraction_recovered_is_at_most_10_too() -> None:
    lab = experiments.load("copper-silver")
    both = {**FIRST, "recovery_low": "10", "recovery_high": "10"}
    found, _ = read_figures(both, lab)
    assert found is not None
    assert found.plan.experiment.recovery == (10.0, 10.0)
    assert list(read_figures({**both, "recovery_low": "10.1"}, lab)[1]) == ["recovery_low"]


@pytest.mark.parametrize(
    ("amount", "marked_g", "masses", "steps"),
    [
        # half the finest step is less than a third of 0.11 g, thirty of the coarsest more than 3×
        ("0.11", (0.001, 0.01, 0.1), (0.0005, 3.0), (0.0001, 1.0)),
        ("0.006", (0.01,), (0.002, 0.3), (0.0001, 1.0)),  # a third of 0.006 g is the less
        ("6", (0.01,), (0.005, 18.0), (0.0001, 1.0)),  # three times 6 g is the more
        ("6", (0.00002, 2.0), (0.00001, 60.0), (0.00002, 2.0)),  # finer and coarser than usual
    ],
)
def test_how_far_a_quick_map_goes(
    monkeypatch: pytest.MonkeyPatch,
    amount: str,
    marked_g: tuple[float, ...],
    masses: tuple[float, float],
    steps: tuple[float, float],
) -> None:
    asked: list[dict[str, Any]] = []
    monkeypatch.setattr(plan_module, "design_map", lambda _, **how: asked.append(how))
    figures, _ = read_figures({**FIRST, "amount": amount}, experiments.load("copper-silver"))
    assert figures is not None
    design(figures.plan, 0.8, marked_g, silent)
    (how,) = asked
    assert (how["masses_g"][0], how["masses_g"][-1]) == pytest.approx(masses)
    assert (how["readabilities_g"][0], how["readabilities_g"][-1]) == pytest.approx(steps)
    assert set(marked_g) <= set(how["readabilities_g"])
    assert (how["trials"], how["spread"], how["target"]) == (4, 0.1, 0.8)


MAGNESIUM = 24.305
"""Standard atomic weight (IUPAC), g/mol."""


def weighed_out(cell: Plan) -> tuple[float, float]:
    """Return the mass of magnesium in a plan, and the step of its balance, g."""
    balance = cell.experiment.instruments["balance"]
    assert isinstance(balance, Balance)
    return cell.consumed_mol * MAGNESIUM, balance.readability_g


def test_every_cell_of_a_stepwise_map_is_of_its_mass_and_balance(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The made-up chance of a cell is its step and a hundredth of its mass.

    It is 0.2 more for all candidates but the second, and 0.1 more at the second recovery.
    """
    lab = experiments.load("magnesium-gas")

    def made_up(cell: Plan, truth: str) -> tuple[tuple[float, Chances], ...]:
        mass, step = weighed_out(cell)
        right = step + mass / 100 + (0.0 if truth == "magnesium(II)" else 0.2)
        return tuple((1.0, Chances(right + more, 0.0, 0.0, 0.0)) for more in (0.0, 0.1))

    monkeypatch.setattr(plan_module, "over_recovery", made_up)
    said: list[str] = []
    plan = Plan(experiment=lab, consumed_mol=0.05 / MAGNESIUM, trials=2)
    found = design(plan, 0.9, (0.002,), said.append)
    assert found.readabilities_g.tolist() == [0.001, 0.002, 0.01, 0.1]
    assert found.masses_g.size == 16  # three powers of ten, five steps to each
    assert found.masses_g[[0, 5, 10, 15]] == pytest.approx([0.0005, 0.005, 0.05, 0.5])
    for i, step in enumerate((0.001, 0.002, 0.01, 0.1)):
        assert found.chance[i, [0, 5, 10, 15]] == pytest.approx(
            [step + 0.000005, step + 0.00005, step + 0.0005, step + 0.005]
        )
    assert found.average == pytest.approx(found.chance + 0.05)
    assert (found.hardest == 1).all()
    assert (found.target, found.trials) == (0.9, 2)
    assert said[:2] == [
        "Working out the map …",
        "Map: balance read to 0.1 g, 1 of 4; mass 1 of 16 …",
    ]
    assert said[-1] == "Map: balance read to 0.001 g, 4 of 4; mass 16 of 16 …"


@pytest.mark.parametrize(
    ("rights", "settled"),
    [
        ((0.91, 0.93, 0.933, 0.5), True),  # 0.003 apart: more changes it no further
        ((0.91, 0.93, 0.935, 0.5), False),  # 0.005 apart
        ((0.89, 0.891, 0.893, 0.5), False),  # near each other, but low
        ((0.91, 0.933, 0.93, 0.5), True),  # down by as little
        ((0.91, 0.95, 0.93, 0.5), False),
    ],
)
def test_a_row_of_the_map_ends_where_its_chances_settle(
    monkeypatch: pytest.MonkeyPatch, rights: tuple[float, ...], settled: bool
) -> None:
    """Masses of 1 g to 4 g; once two are high and alike, the last stands for all larger ones."""
    tried: list[int] = []

    def made_up(cell: Plan, _: str) -> tuple[tuple[float, Chances], ...]:
        mass = round(weighed_out(cell)[0])
        tried.append(mass)
        return ((1.0, Chances(rights[mass - 1], 0.0, 0.0, 0.0)),)

    monkeypatch.setattr(plan_module, "over_recovery", made_up)
    lab = experiments.load("magnesium-gas")
    plan = Plan(experiment=lab, consumed_mol=0.001)
    found = _row(plan, 0.01, np.array([1.0, 2.0, 3.0, 4.0]), silent, "")
    assert max(tried) == (3 if settled else 4)
    last = rights[2] if settled else rights[3]
    assert found[-1] == [[last]] * len(lab.candidates)
    assert [each[0][0] for each in found[:3]] == list(rights[:3])
