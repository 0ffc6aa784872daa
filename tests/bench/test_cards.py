"""What is printed for a class: digits to write, totals, glassware, labels; nothing is cut."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest

from stoichkit import Plan, experiments
from stoichkit.bench import bench_cards, bench_plan, labels, solution_card, stock_card
from stoichkit.bench.cards import _grams
from stoichkit.errors import DataFileError, FormulaError, ModelError
from stoichkit.experiments.record import Experiment
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
    plan = bench_plan(experiments.load("copper-silver"), excess=1.1, groups=6)
    assert "against the 2.5 % required" in " ".join(stock_card(plan).text().split())


def test_how_many_runs_it_is_for() -> None:
    lab = experiments.load("copper-silver")
    one = stock_card(bench_plan(lab, groups=1, trials=1))
    assert one.opening[-1] == "For 1 group of 1 trial: 1 run, and a tenth more in every total."
    more = stock_card(bench_plan(lab, groups=6, trials=4, reacting_mass_g=0.12))
    assert more.opening[-1] == "For 6 groups of 4 trials: 24 runs, and a tenth more in every total."
    text = " ".join(more.text().split())
    assert "1. silver nitrate solution, 0.1 mol/L: 1350 mL" in text
    assert "3 batches of 450 mL, each made in the same way." in text


def test_what_is_ordered_is_rounded_up_and_not_beyond() -> None:
    """Three digits: 22.91 g is ordered as 23 g, and 23 g as 23 g."""
    for mass_g, text in ((22.91, "23"), (23.0, "23"), (23.01, "23.1"), (0.1234, "0.124")):
        assert _grams(mass_g) == text


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
