"""The ready experiments: they load, mean what they say, and carry their cautions."""

from __future__ import annotations

import re
from fractions import Fraction
from functools import partial
from pathlib import Path

import pytest

from stoichkit import experiments
from stoichkit.errors import ExperimentError, StoichkitError
from stoichkit.experiments.store import load_experiment, parse_experiment, save_experiment
from stoichkit.measurement.displays import Balance
from stoichkit.uncertainty.readings import parse_number
from stoichkit.uncertainty.sources import nominal, standard_uncertainty

TRUTH = {
    "acid-titration": "triprotic",
    "copper-plating": "copper(II)",
    "copper-silver": "copper(II)",
    "copper-silver-coarse": "copper(II)",
    "hydrate-heating": "MgSO4·7H2O",
    "magnesium-gas": "magnesium(II)",
    "tin-oxide": "SnO2",
}
RATIOS = {
    "acid-titration": [1, 2, 3],
    "copper-plating": [1, Fraction(1, 2)],
    "copper-silver": [1, 2],
    "copper-silver-coarse": [1, 2],
    "hydrate-heating": list(range(1, 13)),
    "magnesium-gas": [Fraction(1, 2), 1, Fraction(3, 2)],
    "tin-oxide": [1, 2],
}
HAZARD = re.compile(r"H[2-4][0-9]{2} [A-Z].*[^.]")


def deviation(lab, ratio):
    """Mean discrepancy n(produced) − ratio·n(consumed) in units of its standard uncertainty."""
    total = sum(b - float(ratio) * a for a, b in lab.amounts())
    return nominal(total) / standard_uncertainty(total)


def mean_ratio(lab):
    pairs = lab.amounts()
    return sum(nominal(b) for _, b in pairs) / sum(nominal(a) for a, _ in pairs)


def truth(name):
    lab = experiments.load(name)
    return lab, next(c for c in lab.candidates if c.name == TRUTH[name])


def test_the_list_is_the_folder():
    folder = Path(experiments.__file__).parent
    assert experiments.names() == tuple(sorted(p.stem for p in folder.glob("*.toml")))
    assert set(experiments.names()) == set(TRUTH)


def test_an_unknown_name_is_refused_with_the_nearest():
    with pytest.raises(ExperimentError, match=r"copper-silvr.*Did you mean “copper-silver"):
        experiments.load("copper-silvr")
    with pytest.raises(ExperimentError, match="no ready experiment"):
        experiments.read("../experiment")


@pytest.mark.parametrize("name", sorted(TRUTH))
def test_it_is_a_complete_record(name):
    lab = experiments.load(name)

    assert lab.invented
    assert "invented scenario with invented readings" in lab.about
    assert 3 <= len(lab.trials) <= 5
    assert [c.ratio for c in lab.candidates] == RATIOS[name]
    assert lab.questions() == (), "no reading looks odd"
    assert "\n" not in lab.title
    assert lab.notes


@pytest.mark.parametrize("name", sorted(TRUTH))
def test_it_survives_saving(name, tmp_path):
    lab = experiments.load(name)

    assert parse_experiment(lab.to_toml()) == lab
    assert load_experiment(save_experiment(lab, tmp_path / "copy.toml")) == lab
    assert type(lab).from_json(lab.to_json()) == lab


@pytest.mark.parametrize("name", sorted(set(TRUTH) - {"copper-silver-coarse"}))
def test_the_readings_point_to_the_intended_product(name):
    """Within 5 % of its ratio, within its uncertainty, and far from every other candidate."""
    lab, true = truth(name)

    assert mean_ratio(lab) == pytest.approx(float(true.ratio), rel=0.05)
    assert abs(deviation(lab, true.ratio)) < 1.96
    for other in lab.candidates:
        if other != true:
            assert abs(deviation(lab, other.ratio)) > 5, other.name


def test_the_coarse_balance_cannot_tell():
    """Both products fit the digits, though one of them is nearer."""
    coarse, true = truth("copper-silver-coarse")
    fine = experiments.load("copper-silver")

    for candidate in coarse.candidates:
        assert abs(deviation(coarse, candidate.ratio)) < 1.96
    assert coarse.candidates == fine.candidates
    assert true in coarse.candidates
    assert coarse.instruments["balance"] == Balance(
        readability_g=0.1, repeatability_g=0.05, capacity_g=500.0
    )
    for rough, sharp in zip(coarse.trials, fine.trials, strict=True):
        for name, texts in rough.readings.items():
            apart = parse_number(texts[0]).value - parse_number(sharp.readings[name][0]).value
            assert abs(apart) < 0.2, "the same masses, four standard deviations apart at most"


@pytest.mark.parametrize("name", sorted(TRUTH))
def test_every_reading_shows_the_decimals_of_its_instrument(name):
    lab = experiments.load(name)
    instruments = {role.name: lab.instruments[role.instrument] for role in lab.roles()}
    tables = [lab.shared_readings, *(trial.readings for trial in lab.trials)]
    typed = [(reading, text) for t in tables for reading, texts in t.items() for text in texts]

    assert len(typed) >= 8
    for reading, text in typed:
        step = instruments[reading].readability
        decimals = len(f"{step:.10f}".rstrip("0").partition(".")[2])
        assert parse_number(text).decimals == decimals, (reading, text)
        assert f'"{text}"' in experiments.read(name)


@pytest.mark.parametrize("name", sorted(TRUTH))
def test_it_carries_cautions_that_defer_to_the_data_sheet(name):
    lab = experiments.load(name)
    words = " ".join(text for c in lab.cautions for text in (*c.advice, c.source)).lower()

    assert len(lab.cautions) >= 2
    for topic in ("eye protection", "local rules", "safety data sheet", "waste", "memory"):
        if topic == "waste" and name == "acid-titration":
            topic = "sink"
        assert topic in words, topic
    assert any(word in words for word in ("ventilate", "fume hood"))
    for caution in lab.cautions:
        for statement in caution.statements:
            assert HAZARD.fullmatch(statement), statement


def test_nitric_acid_is_for_the_fume_hood():
    lab = experiments.load("tin-oxide")
    subjects = {c.subject: " ".join(c.advice) for c in lab.cautions}

    assert "fume hood" in subjects["nitric acid, concentrated"]
    assert "fume hood" in subjects["nitrogen dioxide, the brown gas given off"]


def test_the_form_is_documented_field_by_field():
    """FORMAT.md names every field of every kind of instrument, amount and candidate."""
    from dataclasses import fields

    from stoichkit.experiments.candidate_spec import SPEC_KINDS
    from stoichkit.measurement.registry import CONCENTRATIONS, KINDS, MODELS

    text = (Path(experiments.__file__).parent / "FORMAT.md").read_text(encoding="utf-8")
    for words, kind in {**KINDS, **MODELS, **CONCENTRATIONS}.items():
        assert f'`"{words}"`' in text
        for field in fields(kind):
            if field.name != "over_water":  # said by the kind, "gas over water" or "gas"
                assert f"`{field.name}`" in text, (words, field.name)
    for kind in SPEC_KINDS:
        assert f"`[candidates.{kind}]`" in text


def test_the_spellings_of_the_form_are_as_it_says():
    """In FORMAT.md every example under “written” is read, the first under “not taken” refused."""
    from stoichkit.chemistry import exact_ratio, oxidation_state, parse_formula

    text = (Path(experiments.__file__).parent / "FORMAT.md").read_text(encoding="utf-8")
    rows = text[text.index("| what is meant") :].partition("\n\n")[0].splitlines()[2:]
    assert len(rows) == 8
    for row in rows:
        meant, written, refused = row.strip("|").split("|")
        read = parse_formula
        if "stated metal iron" in meant:
            read = partial(oxidation_state, "Fe")
        elif "ratio" in meant:
            read = exact_ratio
        for example in re.findall('`"?([^`"]+)"?`', written):
            assert read(example), example
        with pytest.raises(StoichkitError):
            read(re.findall('`"?([^`"]+)"?`', refused)[0])
