"""What is printed for a class: digits to write, totals, glassware, labels; nothing is cut."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from stoichkit import Plan, experiments
from stoichkit.bench import bench_cards, bench_plan, labels, solution_card, stock_card
from stoichkit.bench.cards import (
    _boxes,
    _expected,
    _good_enough,
    _grams,
    _label,
    _Made,
    _parts,
    _tables,
    _to_get_ready,
    _to_make,
    _ways,
)
from stoichkit.bench.dilutions import Comparison, Way
from stoichkit.bench.expectations import Change
from stoichkit.bench.reagent_data import cautions_for
from stoichkit.errors import DataFileError, FormulaError, ModelError
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Balance
from stoichkit.text.cards import BOX, Labels, type_size
from stoichkit.text.parts import Bullets, Section, Strong, Table
from tests.bench.paper import NAMES, crowded, many_candidates

READY = experiments.names()


def boxes_of(section: Section) -> dict[str, str]:
    """Return the boxes of a card by the name of the reading."""
    return {
        row[0]: row[1] for part in section.parts if isinstance(part, Table) for row in part.rows
    }


def words(section: Section) -> str:
    """Return everything that stands on a card."""
    found = [section.title]
    for part in section.parts:
        match part:
            case str(text) | Strong(text):
                found.append(text)
            case Bullets(items):
                found += items
            case Table(header, rows):
                found += [*header, *(cell for row in rows for cell in row)]
            case _:
                found.append(str(getattr(part, "label", getattr(part, "text", ""))))
    return " ".join(found)


# Bench cards


@pytest.mark.parametrize("name", READY)
def test_a_card_for_each_group_has_the_digits_that_the_record_wrote(name: str) -> None:
    """As many decimals as the readings of the record have, and room for their whole part."""
    lab = experiments.load(name)
    cards = bench_cards(lab, groups=["red", "mean"])
    assert [card.title for card in cards.sections] == ["red", "mean"]
    assert cards.sections[0].parts == cards.sections[1].parts
    boxes = boxes_of(cards.sections[0])
    units = {role.name: role.unit for role in lab.roles()}
    for reading in lab.reading_names():
        shown = boxes[f"{reading} / {units[reading]}"].lstrip("±")
        typed = lab.trials[0].readings.get(reading) or lab.shared_readings[reading]
        whole, _, decimals = typed[-1].partition(".")
        assert shown.partition(".")[2] == BOX * len(decimals)
        assert len(shown.partition(".")[0]) >= len(whole)


def test_a_card_says_what_to_take_to_write_and_to_look_out_for() -> None:
    plan = bench_plan(experiments.load("copper-silver"), reacting_mass_g=0.12, groups=6)
    text = " ".join(words(bench_cards(plan).sections[0]).split())
    assert "balance (reads to 0.01 g), its number" in text
    assert "about 50 mL of silver nitrate solution, 0.1 mol/L (50 mL measuring cylinder)" in text
    assert "wire before − wire after: about 0.12 g, 12 steps." in text
    # 0.12 g of Cu are 1.888 mmol; 107.87 g/mol × 1.888 mmol × 1 or 2 = 0.2037 g or 0.4074 g of Ag
    assert "paper + silver − paper: between 0.20 g and 0.41 g, 20.4 to 40.7 steps" in text
    assert "copper(II)" not in text.partition("Take care")[0], "it gives no candidate away"
    assert "eye protection" in text
    assert "Danger. H272 May intensify fire; oxidiser" in text
    assert "silver waste; nothing goes down the sink" in text
    assert "safety data sheets: they, local rules and licensed practice decide" in text


def test_what_is_weighed_to_constant_mass_or_averaged_has_a_line_each_time() -> None:
    crucible = boxes_of(bench_cards(experiments.load("hydrate-heating")).sections[0])
    assert [name for name in crucible if "residue" in name] == [
        "crucible + residue / g",
        "again, until it stays: crucible + residue / g",
    ]
    rows = [
        row[0]
        for part in bench_cards(experiments.load("hydrate-heating")).sections[0].parts
        if isinstance(part, Table)
        for row in part.rows
    ]
    assert sum("residue" in name for name in rows) == 3


def test_what_all_trials_share_is_written_once() -> None:
    card = bench_cards(experiments.load("magnesium-gas")).sections[0]
    once, each = (part for part in card.parts if isinstance(part, Table))
    assert once.header == ("Reading", "Once for all trials")
    assert once.rows[0] == ("room temperature / °C", f"±{BOX * 2}.{BOX}")
    assert each.header == ("Reading", "trial 1", "trial 2", "trial 3", "trial 4")


@pytest.mark.parametrize("trials", [1, 7, 30, 64])
def test_many_trials_stand_abreast_or_on_further_cards(trials: int) -> None:
    """No trial is lost, none is there twice, and every card fits."""
    plan = bench_plan(experiments.load("copper-silver"), trials=trials, groups=2)
    cards = bench_cards(plan)
    assert all(type_size(card) is not None for card in cards.sections)
    for name in ("Group 1", "Group 2"):
        own = [card for card in cards.sections if card.title.split(",")[0] == name]
        heads = [
            head
            for card in own
            for part in card.parts
            if isinstance(part, Table)
            for head in part.header[1:]
        ]
        assert heads == [f"trial {i + 1}" for i in range(trials)]


LONG = {
    "care": crowded(cautions=8, advice=4, notes=2),
    "notes": crowded(cautions=8, advice=4, notes=25),
    "all": crowded(cautions=60, advice=8, notes=60),
    "candidates": many_candidates(),
}


@pytest.mark.parametrize("name", LONG)
def test_what_is_too_long_for_a_card_stands_in_full_on_another(name: str) -> None:
    lab = LONG[name]
    cards = bench_cards(lab, groups=NAMES)
    assert [type_size(card) for card in cards.sections].count(None) == 0
    assert [card.title for card in cards.sections[: len(NAMES)]] == list(NAMES)
    whole = " ".join(" ".join(map(words, cards.sections)).split())
    for caution in lab.cautions:
        assert caution.subject in whole
        for text in caution.advice:
            assert text in whole
    for note in lab.notes:
        assert note in whole
    further = {card.title.partition(",")[0] for card in cards.sections[len(NAMES) :]}
    own = words(cards.sections[0])
    for title in further:
        assert title.split(",")[0] in own or title == "How it is done"


def test_a_sentence_that_fills_more_than_a_card_goes_on_on_the_next() -> None:
    long = " ".join(f"word{i}" for i in range(4000))
    cards = bench_cards(replace(experiments.load("copper-silver"), notes=(long,)))
    assert all(type_size(card) is not None for card in cards.sections)
    whole = " ".join(map(words, cards.sections))
    assert all(f"word{i}" in whole for i in range(4000))


@pytest.mark.parametrize("make", [bench_cards, stock_card, labels])
def test_a_plan_for_other_groups_and_bad_names_are_refused(make) -> None:
    lab = experiments.load("tin-oxide")
    with pytest.raises(ModelError, match="another number of groups"):
        make(bench_plan(lab, groups=3), groups=["a", "b"])
    with pytest.raises(DataFileError, match="only once"):
        make(lab, groups=["a", "a"])
    with pytest.raises(ModelError, match="nothing to plan for"):
        make("tin-oxide")
    assert make(Plan(experiment=lab, consumed_mol=0.01, trials=2), groups=2).title


def test_other_forms_have_the_same_content() -> None:
    cards = bench_cards(experiments.load("copper-silver"))
    for text in (cards.text(), cards.markdown(), cards.latex()):
        assert "silver nitrate" in text
    assert f"{BOX * 3}.{BOX * 2}" in cards.text()
    assert BOX not in cards.latex(), "no LaTeX installation needs a font for it"


@pytest.mark.parametrize("moved", range(4))
def test_from_a_full_card_care_leaves_first_then_the_procedure_then_hazards(moved: int) -> None:
    plan = bench_plan(experiments.load("copper-silver"))
    text = words(Section("x", tuple(_parts(plan, ["trial 1"], moved))))
    apart = "How it is done stands on cards of its own: read them before you begin."
    assert (apart in text) == (moved >= 2)
    for step in (*plan.drying, *plan.waiting, *plan.experiment.notes):
        assert (step in text) == (moved < 2)
    assert ("Notes of the record; where amounts differ, those above hold:" in text) == (moved < 2)
    assert "Take for each trial" in text
    assert "wire before / g" in text
    for line in ("H272 May intensify fire", *plan.waste):
        assert (line in text) == (moved < 3)
    read = {
        0: "",
        1: "Danger. Read the cards “Take care, in full” before you begin.",
        2: "Danger. Read the cards “Take care, in full” before you begin.",
        3: "Danger. Read the cards “Take care, in full” and “Waste and hazards” before you begin.",
    }[moved]
    assert read in text
    assert ("Read the cards" in text) == (moved > 0)


def test_a_lab_without_steps_or_notes_follows_its_procedure() -> None:
    plan = bench_plan(experiments.load("copper-silver"))
    bare = replace(plan, drying=(), waiting=(), experiment=replace(plan.experiment, notes=()))
    text = words(Section("x", tuple(_parts(bare, ["trial 1"], 0))))
    assert "Follow the procedure you were given." in text
    assert "Notes of the record" not in text


@pytest.mark.parametrize(("word", "hurt"), [("Danger", "AgNO3"), ("Warning", "CuO")])
def test_the_gravest_signal_word_stands_before_what_to_read(word: str, hurt: str) -> None:
    plan = bench_plan(experiments.load("copper-silver"))
    cautions = tuple(cautions_for(f).as_caution() for f in ("FeSO4", hurt))
    text = words(Section("x", tuple(_parts(replace(plan, cautions=cautions), ["trial 1"], 1))))
    assert f"{word}. Read the cards" in text
    none = words(Section("x", tuple(_parts(replace(plan, cautions=()), ["trial 1"], 1))))
    assert "Read the cards" in none
    assert "Danger" not in none
    assert "Warning" not in none


@pytest.mark.parametrize("trials", range(1, 14))
def test_trials_abreast_are_spread_evenly(trials: int) -> None:
    """Boxes of four to six places stand five abreast; six trials are three and three."""
    plan = bench_plan(experiments.load("copper-silver"))
    names = [f"trial {i + 1}" for i in range(trials)]
    found = [list(table.header[1:]) for table in _tables(plan, names)]
    assert [one for block in found for one in block] == names
    assert len(found) == {0: 1, 1: 2, 2: 3}[(trials - 1) // 5]
    widths = [len(block) for block in found]
    assert widths[0] == max(widths) == {1: trials, 2: (trials + 1) // 2, 3: (trials + 2) // 3}[
        len(found)
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("capacity_g", "places"), [(None, 2), (9.0, 2), (99.0, 2), (100.0, 3), (1200.0, 4)]
)
def test_boxes_hold_the_largest_reading_that_can_come(
    capacity_g: float | None, places: int
) -> None:
    """Tens at least; as many places as the capacity has. A balance shows nothing below zero."""
    lab = experiments.load("copper-silver").with_instrument(
        "balance", Balance(readability_g=0.01, capacity_g=capacity_g)
    )
    plan = bench_plan(lab)
    assert _boxes(plan, plan.record[0]) == f"{BOX * places}.{BOX * 2}"
    gas = bench_plan(experiments.load("magnesium-gas"))
    warm = next(c for c in gas.record if c.name == "room temperature")
    assert _boxes(gas, warm) == f"±{BOX * 2}.{BOX}"
    whole = bench_plan(experiments.load("copper-plating"))
    time = next(c for c in whole.record if c.name == "time")  # 3600 s and the like, no decimals
    assert _boxes(whole, time) == BOX * 4


def expected(*pairs: tuple[Change, Change]) -> list[str]:
    lines = [SimpleNamespace(consumed=a, produced=b, further=()) for a, b in pairs]
    return list(_expected(SimpleNamespace(expectations=lines)))  # type: ignore[arg-type]


def test_changes_to_expect_give_no_candidate_away() -> None:
    """The smallest and the largest of all candidates, in steps of 0.01 g; a pipette has none."""
    taken = Change("pipette", 25.0, "mL", 0.0)
    small, large = Change("loss", 0.2037, "g", 0.01), Change("loss", 0.4074, "g", 0.01)
    assert expected((taken, large), (taken, small)) == [
        "pipette: about 25 mL.",
        "loss: between 0.20 g and 0.41 g, 20.4 to 40.7 steps, whatever is formed.",
    ]
    assert expected((small, small), (small, small)) == ["loss: about 0.20 g, 20.4 steps."] * 2
    less = Change("pipette", 10.0, "mL", 0.0)
    assert expected((taken, less), (less, taken)) == [
        "pipette: between 10 mL and 25 mL, whatever is formed."
    ] * 2  # fmt: skip


# The stock card


def rows_of(lab: Experiment, **more: float) -> dict[str, tuple[str, ...]]:
    card = stock_card(bench_plan(lab, **more))  # type: ignore[arg-type]
    table = card.sections[0].parts[0]
    assert isinstance(table, Table)
    return {row[0]: row[1:] for row in table.rows}


def test_totals_by_hand() -> None:
    """Copper and silver nitrate, 6 groups of 4 trials, 0.12 g of Cu; molar masses of IUPAC.

    Neediest: Cu + 2 Ag⁺: 0.12/63.546 × 2 × 1.2 = 4.532 mmol: 45.3 mL of 0.1 mol/L, so 50 mL.
    24 runs × 1.1 × 50 mL = 1320 mL, in steps of 50 mL 1350 mL; × 0.1 × 169.87 g/mol = 22.93 g.
    """
    rows = rows_of(experiments.load("copper-silver"), reacting_mass_g=0.12, groups=6)
    assert rows["silver nitrate, AgNO₃"] == ("23 g", "for 3 × 450 mL at 0.1 mol/L")


def test_totals_of_a_diluted_acid_by_hand() -> None:
    """Magnesium in acid, 12 groups of 4: 48 × 1.1 × 10 mL = 528 mL, so 550 mL of 2 mol/L.

    Concentrated hydrochloric acid, 37 % and 1.18 g/mL: 11.97 to 12.1 mol/L; 550 × 2/12 = 92 mL.
    """
    rows = rows_of(experiments.load("magnesium-gas"), groups=12)
    amount, what_for = rows["concentrated hydrochloric acid (37 %)"]
    assert float(amount.split()[0]) == pytest.approx(92, rel=0.02)
    assert what_for == "for 1 × 550 mL at 2 mol/L"


def test_glassware_is_good_enough_and_no_better() -> None:
    text = " ".join(stock_card(experiments.load("copper-silver"), groups=6).text().split())
    assert "cylinder, class B, with a balance to 0.1 g is good enough" in text
    assert "Nothing better is needed: it is taken in excess, 1.2 times over." in text
    strict = bench_plan(experiments.load("copper-silver"), excess=1.0, groups=6)
    found = stock_card(strict)
    text = " ".join(found.text().split())
    assert "against the 0.50 % required" in text
    (table,) = (part for part in found.sections[1].parts if isinstance(part, Table))
    at = next(i for i, row in enumerate(table.rows) if row[2] == "yes")
    assert at > 0
    assert all(row[2] == "no" for row in table.rows[:at])
    name, known_to, _ = table.rows[at]
    assert f"{name} is good enough: {known_to} against" in text
    assert float(known_to.removesuffix(" %")) <= 0.5


def test_a_quarter_of_the_excess_is_known_well_enough() -> None:
    """Taken 1.1 times over, a solution may be off by a quarter of a tenth: 2.5 %."""
    for excess, known_to in ((1.1, "2.5 %"), (1.2, "5.0 %"), (3.0, "5.0 %"), (1.0, "0.50 %")):
        plan = bench_plan(experiments.load("copper-silver"), excess=excess, groups=6)
        text = " ".join(stock_card(plan).text().split())
        assert f"against the {known_to} required" in text or f"reaches {known_to}" in text


def test_how_many_runs_it_is_for() -> None:
    lab = experiments.load("copper-silver")
    one = stock_card(bench_plan(lab, groups=1, trials=1))
    assert one.opening[-1] == "For 1 group of 1 trial: 1 run, and a tenth more in every total."
    more = stock_card(bench_plan(lab, groups=6, trials=4, reacting_mass_g=0.12))
    assert more.opening[-1] == "For 6 groups of 4 trials: 24 runs, and a tenth more in every total."
    for groups, trials, said in (
        (2, 1, "2 groups of 1 trial: 2 runs"),
        (1, 2, "1 group of 2 trials: 2 runs"),
        (2, 2, "2 groups of 2 trials: 4 runs"),
    ):
        opening = stock_card(bench_plan(lab, groups=groups, trials=trials)).opening
        assert opening[0] == "The scenario is invented, for practice."
        assert opening[1] == f"For {said}, and a tenth more in every total."
    assert len(stock_card(bench_plan(replace(lab, invented=False))).opening) == 1
    text = " ".join(more.text().split())
    assert "1. silver nitrate solution, 0.1 mol/L: 1350 mL" in text
    assert "3 batches of 450 mL, each made in the same way." in text


def test_what_is_ordered_is_rounded_up_and_not_beyond() -> None:
    """Three digits: 22.91 g is ordered as 23 g, and 23 g as 23 g."""
    for mass_g, text in (
        (22.91, "23"), (23.0, "23"), (23.01, "23.1"), (0.1234, "0.124"), (23.0005, "23.1"),
        (23.0 * (1 + 1e-12), "23"), (1000.0, "1000"), (1001.0, "1010"), (9.995, "10"),
    ):  # fmt: skip
        assert _grams(mass_g) == text


def made(recipe: object, total_mL: float, compared: object = None, role: str = "") -> _Made:
    reagent = SimpleNamespace(name="bath", role=role, notes=("It is bought.",), formula="NaCl")
    return _Made(reagent, recipe, total_mL, compared)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("total_mL", "count"), [(50, 1), (450, 1), (450.0000001, 1), (451, 2), (900, 2), (1350, 3)]
)
def test_as_many_batches_as_hold_the_total(total_mL: float, count: int) -> None:
    assert made(SimpleNamespace(volume_mL=450.0), total_mL).batches == count
    assert made(None, total_mL).batches == 0


def test_the_ways_shown_end_with_the_first_that_does_and_the_best() -> None:
    """Of five ways the second does: the first two are shown, and the last, which is the best."""
    recipe = SimpleNamespace(volume_mL=500.0, cautions=("Stir.",), steps=("Weigh.",))
    plan = SimpleNamespace(excess=1.2)

    def shown(reaches: list[bool], total_mL: float = 900.0) -> tuple[list[Any], list[str]]:
        ways = [
            Way(f"way {i}", "", 0.05 / (i + 1), good, "the weighing")
            for i, good in enumerate(reaches)
        ]
        one = made(recipe, total_mL, Comparison(0.03, tuple(ways)), "in excess")
        parts = list(_to_make(plan, [one, made(None, 70.0)]))  # type: ignore[arg-type]
        (table,) = (part for part in parts if isinstance(part, Table))
        return parts, [row[0] for row in table.rows]

    parts, names = shown([False, True, True, True, True])
    assert names == ["way 0", "way 1", "way 4"]
    assert shown([True, True, True])[1] == ["way 0", "way 2"]
    assert shown([False, False, True])[1] == ["way 0", "way 1", "way 2"]
    assert shown([False, False, False])[1] == ["way 0", "way 1", "way 2"]
    said = [str(getattr(part, "text", part)) for part in parts]
    assert "1. bath: 900 mL" in said[0]
    assert said[1].startswith(
        "2 batches of 500 mL, each made in the same way. way 1 is good enough"
    )
    assert parts[2] == Bullets(("Weigh.", "Caution: Stir."))
    assert "2. bath: 70 mL" in said[-2]
    assert parts[-1] == Bullets(("It is bought.",))
    assert str(shown([True], 500.0)[0][1]).startswith("1 batch of 500 mL. way 0")


def test_a_salt_that_changes_the_temperature_is_made_first() -> None:
    """Sodium hydroxide heats the water strongly (general knowledge of the trade)."""
    recipe = SimpleNamespace(volume_mL=500.0, cautions=(), steps=("Weigh.",))
    one = made(recipe, 500.0)
    one.reagent.formula = "NaOH"  # type: ignore[misc]
    bullets = list(_to_make(SimpleNamespace(excess=1.2), [one]))[2]  # type: ignore[arg-type]
    assert isinstance(bullets, Bullets)
    assert bullets.items[0].startswith("Make it first: It heats the water strongly")
    assert bullets.items[1:] == ("Weigh.",)


def test_why_nothing_better_is_needed_is_said() -> None:
    plan: Any = SimpleNamespace(excess=1.2)
    alone = made(None, 1.0, None, "in excess")
    assert _good_enough(plan, alone) == "It is taken in excess, so that any glassware does."
    measured = _good_enough(plan, made(None, 1.0, None, "titrant"))
    assert measured.startswith("Its concentration enters the verdict: use the flask and balance")
    for reaches, words_ in ((True, "Nothing better is needed"), (False, "It will have to do")):
        ways = (Way("a flask", "", 0.02, reaches, "the weighing"),)
        text = _good_enough(plan, made(None, 1.0, Comparison(0.01, ways), "in excess"))
        assert text.endswith(f"{words_}: it is taken in excess, 1.2 times over.")


@pytest.mark.parametrize(("groups", "trials", "papers"), [(1, 1, 2), (2, 5, 11), (6, 4, 27)])
def test_vessels_for_each_run_and_a_tenth_more(groups: int, trials: int, papers: int) -> None:
    """1.1, 11 and 26.4, rounded up; 1.1 × 10 is not quite 11 in a computer."""
    plan = bench_plan(experiments.load("copper-silver"), groups=groups, trials=trials)
    said = list(_to_get_ready(plan, [f"g{i}" for i in range(groups)]))
    assert said[0] == f"paper: {papers}, one for each run and a tenth more."
    assert said[1].startswith(f"Beakers for the solutions: {papers}. Solutions of one trial:")
    assert said[2].startswith("balance, reads to 0.01 g: numbered, so that each group")
    many = "s" if groups > 1 else ""
    assert said[3] == f"A bench card for each of {groups} group{many}, and labels."
    assert said[4].endswith("Eye protection for everybody.")


def test_glassware_comes_before_a_finer_balance() -> None:
    """A cylinder is filled to what is needed, 263 mL, or to 300 mL; a flask to its mark."""
    step = [f"with a balance to {s} g" for s in ("0.1", "0.01", "0.001")]
    pieces = ("cylinder, class B", "cylinder, class A",
              "volumetric flask, class B", "volumetric flask, class A")  # fmt: skip
    for exact, filled_mL in ((True, 263.0), (False, 300.0)):
        found = _ways("CuSO4.5H2O", 0.5, 263.0, exact=exact)
        assert list(found) == [f"500 mL {piece}, {s}" for piece in pieces for s in step]
        assert [one.volume_mL for one in found.values()] == [filled_mL] * 6 + [500.0] * 6
    acid = _ways("HCl", 2.0, 500.0)
    assert list(acid) == ["cylinders, class B", "cylinders, class A"]
    assert {one.volume_mL for one in acid.values()} == {500.0}


def test_more_than_a_litre_is_made_in_batches() -> None:
    """Three batches of 1000 mL; 0.5 × 249.68 g are 124.84 g."""
    text = " ".join(solution_card("CuSO4.5H2O", 0.5, 3000).text().split())
    assert "Make 3 batches of 1000 mL." in text
    assert "Weigh about 124.8 g" in text
    assert "batches of" not in solution_card("CuSO4.5H2O", 0.5, 1000).text()


def test_what_enters_the_verdict_is_made_as_the_record_says() -> None:
    text = " ".join(stock_card(experiments.load("acid-titration")).text().split())
    assert "sodium hydroxide solution, 0.0987 mol/L" in text
    assert "standardise it, or buy it so" in text


@pytest.mark.parametrize("name", READY)
def test_the_stock_card_ends_with_cautions_and_waste(name: str) -> None:
    card = stock_card(experiments.load(name), groups=12)
    assert card.sections[-1].title == "Cautions"
    text = " ".join(card.text().split())
    assert "Everybody in the room wears eye protection." in text
    assert "licensed practice decide" in text


def test_a_solution_by_hand() -> None:
    """CuSO4·5H2O has 249.68 g/mol: 0.5 mol/L × 0.25 L × 249.68 g/mol = 31.21 g."""
    card = solution_card("CuSO4.5H2O", 0.5, 250)
    text = " ".join(card.text().split())
    assert "Weigh about 31.2 g of CuSO₄·5H₂O" in text
    assert "250 mL cylinder, class B, with a balance to 0.1 g is good enough" in text
    # class B, 250 mL: ±2 mL (ASTM E1272, in the table): 2/250/√3 = 0.46 % of the volume alone
    finer = " ".join(solution_card("CuSO4.5H2O", 0.5, 250, relative_target=0.002).text().split())
    assert "250 mL volumetric flask, class B, with a balance to 0.01 g is good enough" in finer
    assert "does not dissolve" in " ".join(solution_card("BaSO4", 0.5, 250).opening)
    drops = solution_card("NaCl", 0.5, 0.5).opening[0]
    assert drops.startswith("50 mL volumetric flask")  # the smallest that is good to a hundredth
    for none in ((0.0, 250), (0.5, 0.0)):
        with pytest.raises(ModelError, match="is out of range"):
            solution_card("NaCl", *none)
    for wrong, error in (("Cu^2+", ModelError), ("Cux", FormulaError)):
        with pytest.raises(error):
            solution_card(wrong, 0.5, 250)
    with pytest.raises(ModelError, match="below one step"):
        solution_card("AgNO3", 1e-7, 100)


# Labels


def test_labels_for_each_vessel_bottle_and_waste() -> None:
    plan = bench_plan(experiments.load("copper-silver"), groups=2, trials=2)
    made = labels(plan, groups=["red", "'b'"])
    titles = [label.title for label in made.sections]
    assert titles[:4] == [
        "red, trial 1: paper",
        "red, trial 1: beaker",
        "red, trial 2: paper",
        "red, trial 2: beaker",
    ]
    assert titles.count("'b', trial 2: beaker") == 1
    beaker = words(made.sections[1])
    assert "silver nitrate solution, 0.1 mol/L" in beaker
    assert "Danger H272 May intensify fire; oxidiser; H290 May be corrosive to metals" in beaker
    bottle = next(label for label in made.sections if label.title.startswith("silver nitrate"))
    assert "Made on, by" in words(bottle)
    assert "check the safety data sheet" in words(bottle)
    assert any(title.startswith("Waste: silver nitrate, silver") for title in titles)


def label(*formulas: str, bottle: bool = False) -> str:
    known = [cautions_for(f) for f in formulas]
    return words(Section("x", tuple(_label("for it", known, bottle=bottle))))


def test_a_label_has_the_gravest_word_and_each_statement_once() -> None:
    """Silver nitrate: danger; iron(II) sulfate: warning (GHS, from memory)."""
    both = label("FeSO4", "AgNO3")
    assert both.startswith("x for it Danger H")
    assert "Warning" not in both
    assert label("FeSO4").startswith("x for it Warning H")
    assert label("AgNO3", "AgNO3") == label("AgNO3")
    assert label("NaCl") == "x for it"
    unknown = "Hazards not known here: see the safety data sheet."
    assert unknown in label("OsO4")
    assert unknown in label("NaCl", "OsO4")
    assert unknown not in both
    memory = "From memory: check the safety data sheet. Made on, by"
    assert memory in label("NaCl", bottle=True)
    assert memory not in both


@pytest.mark.parametrize("lab", [*READY, *LONG])
def test_every_label_is_on_a_sheet_once(lab: str) -> None:
    made = labels(LONG[lab] if lab in LONG else experiments.load(lab), groups=NAMES)
    page = made.html()
    assert page.count('<section class="label"') == len(made.sections)
    assert "<b onclick" not in page
    for sheet in page.split('<div class="sheet"')[1:]:
        columns, rows = map(int, re.findall(r"repeat\((\d+),", sheet)[:2])
        assert sheet.count('<section class="label"') <= columns * rows


def test_a_label_larger_than_paper_is_refused() -> None:
    with pytest.raises(ModelError, match="larger than a sheet"):
        Labels("x", (), (Section("much", ("word " * 9000,)),)).html()


def test_few_labels_use_little_paper() -> None:
    made = Labels("x", (), tuple(Section(f"Group {i}", ("wire",)) for i in range(49)))
    assert made.html().count('class="sheet"') == math.ceil(49 / 24)
