"""What to take care of is said of every lab, whether its record says anything or not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from stoichkit import assess, experiments
from stoichkit.bench import bench_plan, cautions_for, lab_safety
from stoichkit.bench.cautions import EYES, LAST_WORD, LabSafety, hazard_line
from stoichkit.errors import ModelError
from stoichkit.experiments.own import weighed
from stoichkit.experiments.parts import Caution
from stoichkit.experiments.store import parse_experiment
from stoichkit.text.parts import Bullets, Section
from stoichkit.widgets.state.lab import LabState
from stoichkit.widgets.view.frame import Frame
from stoichkit.widgets.view.plan import PlanScreen
from stoichkit.widgets.view.readings import ReadingsScreen
from stoichkit.widgets.view.still import still_html
from stoichkit.widgets.view.study import StudyScreen

IRON = weighed({"Fe": [["7.30", "6.21"]]}, {"Cu": [["0.75", "2.00"]]}, states=[2, 3])


def said(section: Section) -> str:
    """Return the words of a section, none broken."""
    lines = (part.items if isinstance(part, Bullets) else (str(part),) for part in section.parts)
    return " ".join(text for texts in lines for text in texts)


@pytest.mark.parametrize("name", experiments.names())
def test_nothing_that_a_ready_record_says_is_lost(name: str) -> None:
    lab = experiments.load(name)
    found = lab_safety(lab)
    assert found.left_out == ""
    whole, short = said(found.section()), said(found.in_short())
    for caution in lab.cautions:
        for text in (caution.subject, *caution.statements, *caution.advice):
            assert text in whole
        assert all(text in short for text in (caution.subject, *caution.statements))
    for text in (whole, short):
        assert text.startswith(EYES)
        assert text.endswith(LAST_WORD)


@pytest.mark.parametrize("name", experiments.names())
def test_without_its_own_cautions_the_hazards_of_its_reagents_stay(name: str) -> None:
    """Each reagent and stock solution of the bench plan that the table knows is named."""
    lab = replace(experiments.load(name), cautions=())
    short = said(lab_safety(lab).in_short())
    for reagent in bench_plan(lab).reagents:
        if reagent.formula:
            c = reagent.concentration_mol_per_L
            known = cautions_for(reagent.formula, concentration_mol_per_L=c)
            assert all(text in short for text in known.statements)
    assert "Waste:" in short


def test_a_lab_typed_by_hand_shows_what_its_salt_does() -> None:
    assert not IRON.cautions
    section = said(lab_safety(IRON).section())
    assert "copper(II) sulfate: H302 Harmful if swallowed" in section
    assert "Signal word: Danger." in section
    assert "Collect as heavy-metal waste; nothing goes down the sink." in section


def test_other_readings_need_no_other_cautions_but_other_substances_do() -> None:
    assert lab_safety(IRON) is lab_safety(replace(IRON, trials=()))
    lead = weighed({"Mg": [["7.30", "6.21"]]}, {"Pb": [["0.75", "2.00"]]}, states=[2])
    assert "lead" in said(lab_safety(lead).in_short())


def test_the_signal_word_is_said_once() -> None:
    """A file may hold cautions that an earlier version wrote into it, signal word and all."""
    typed = cautions_for("AgNO3").as_caution()
    lab = replace(experiments.load("copper-silver"), cautions=(typed,))
    (silver,) = (c for c in lab_safety(lab).cautions if c.subject == "silver nitrate")
    assert sum("Signal word" in text for text in silver.advice) == 1
    assert hazard_line(silver).startswith("silver nitrate: Danger. H272")


def test_the_unknown_is_said_to_be_unknown() -> None:
    found = lab_safety(experiments.load("magnesium-gas"))
    assert found.unknown == ("Mg⁺", "Mg³⁺")
    for section in (found.section(), found.in_short()):
        assert "does not mean that there are none" in said(section)


def test_why_reagents_are_left_out_is_said_and_who_decides_comes_last() -> None:
    for left_out in ("", "No source is known."):
        found = LabSafety(cautions=(), left_out=left_out)
        for section in (found.section(), found.in_short()):
            assert section.parts == (EYES, *([left_out] if left_out else []), LAST_WORD)


def test_what_most_cautions_rest_on_is_said_once() -> None:
    """The source of two of three stands below them; that of the third beside it."""
    one, two = (Caution(subject=s, advice=("Gloves.",), source="Memory.") for s in ("a", "b"))
    stated = ("H315 Causes skin irritation", "H319 Causes serious eye irritation")
    other = Caution(subject="c", statements=stated, advice=("Rinse.",), source="Label.")
    found = LabSafety(cautions=(other, one, two), waste=("a: Gloves.", "c: Collect it."))
    _, bullets, source, waste, collected, last = found.section("Care").parts
    irritates = (
        "c: H315 Causes skin irritation; H319 Causes serious eye irritation. Rinse. (Label.)"
    )
    assert bullets == Bullets((irritates, "a: Gloves.", "b: Gloves."))
    assert source == "Source, where none is named: Memory."
    assert (waste, collected, last) == ("Waste:", Bullets(("c: Collect it.",)), LAST_WORD)
    short = found.in_short().parts
    assert short[2:4] == ("Waste:", Bullets(found.waste))


def test_substances_without_an_equation_are_looked_up_all_the_same() -> None:
    text = experiments.read("copper-silver")
    start, end = text.index("[candidates"), text.index("[[trials]]")
    cautions = text.index("[[cautions]]")
    text = f'{text[:start]}[candidates.ratios]\none = "1"\ntwo = "2"\n\n{text[end:cautions]}'
    lab = parse_experiment(text, "lab.toml")
    assert any("silver" in c.subject for c in lab_safety(lab).cautions)


def test_what_is_no_experiment_is_refused() -> None:
    with pytest.raises(ModelError, match="experiment"):
        lab_safety("copper-silver")  # type: ignore[arg-type]


def test_advice_of_a_step_stays_in_the_short_form() -> None:
    step = Caution(
        subject="heating in an open crucible", advice=("Use tongs.",), source="Practice."
    )
    lab = replace(IRON, cautions=(step,))
    assert "heating in an open crucible: Use tongs." in said(lab_safety(lab).in_short())


@pytest.mark.parametrize("screen", [ReadingsScreen, StudyScreen, PlanScreen])
def test_every_screen_that_shows_a_lab_shows_it(screen) -> None:
    page = still_html(Frame([screen(LabState(IRON, autosave=False))]))
    assert EYES in page
    assert "H318 Causes serious eye damage" in page
    assert "licensed practice decide" in page


def test_a_verdict_is_there_without_it() -> None:
    assert assess(IRON).verdict.candidates
