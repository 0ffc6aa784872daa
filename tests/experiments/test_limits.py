"""Small places of a record: answers by number, readings that count as one, one step apart."""

from __future__ import annotations

from dataclasses import replace

import pytest

from stoichkit import experiments
from stoichkit.errors import EquationError, ExperimentError
from stoichkit.experiments.candidate_spec import candidate_in
from stoichkit.experiments.checks import checked_order, checked_recovery, vessel_question
from stoichkit.experiments.dialogue import asked
from stoichkit.experiments.fields import _check_shapes, write_toml
from stoichkit.experiments.own_slots import formulas, state_suggestions
from stoichkit.experiments.parts import Between, Caution, Prior, Trial, Variation, trials_of
from stoichkit.experiments.record import Experiment
from stoichkit.experiments.store import parse_experiment
from stoichkit.measurement.base import Role
from stoichkit.measurement.displays import Balance, Thermometer
from stoichkit.measurement.weighing import MassByDifference
from tests.measurement.test_routes import LAB as ROUTES


def test_a_choice_is_answered_by_its_number() -> None:
    """Iron weighed alone is the second way, copper in a dish the second of its own."""
    answers = iter(
        ["1", "Fe", "2", "Cu", "", "2", "2, 3", "", "", "0.30", "1.40", "1.72", "", "", "", "", ""]
    )
    told: list[str] = []

    def answer(question: str) -> str:
        told.append(question)
        assert len(told) < 60, told
        return next(answers)

    lab = asked(answer, told.append)
    assert (lab.consumed.reading("heavier"), lab.consumed.reading("lighter")) == ("Fe", "")
    assert lab.produced.reading("lighter") == "dish for Cu"
    assert lab.trials[0].readings["Fe"] == ("0.30",)


def test_a_line_with_an_arrow_is_an_equation_not_a_ratio() -> None:
    with pytest.raises(EquationError, match="more than one arrow"):
        candidate_in("Cu->Cu2 = 2", "Cu", "Ag", "Cu", "Ag")
    with pytest.raises(EquationError, match="missing on the right side"):
        candidate_in("Cu + Ag = 2", "Cu", "Ag", "Cu", "Ag")
    assert candidate_in("Cu2 = 2", "Cu", "Ag", "Cu", "Ag").ratio == 2


def test_one_step_apart_is_one_vessel_even_without_noise() -> None:
    """0.76 less 0.75 is a little more than 0.01 in binary; no display shows that."""
    steady = Balance(readability_g=0.01, repeatability_g=0.0)
    assert vessel_question("paper", ["0.75", "0.76"], steady) == ""
    assert "0.75 g to 0.77 g" in vessel_question("paper", ["0.77", "0.75"], steady)


@pytest.mark.parametrize(
    ("repeatability_mg", "one_thing", "asked"),
    [
        # 5 · √2 · 10 mg and a step of 10 mg are 80.7 mg
        (10, "0.83", "0.84"),
        # 5 · √2 · 1.41 mg and a step are 19.97 mg, with 1.42 mg 20.04 mg: a step of 10 mg is 20 mg
        (1.41, "0.76", "0.77"),
        (1.42, "0.77", "0.78"),
    ],
)
def test_how_far_apart_two_weighings_of_one_thing_may_lie(
    repeatability_mg: float, one_thing: str, asked: str
) -> None:
    balance = Balance(readability_g=0.01, repeatability_g=repeatability_mg / 1000)
    assert vessel_question("paper", ["0.75", one_thing], balance) == ""
    assert f"0.75 g to {asked} g" in vessel_question("paper", ["0.75", asked], balance)


@pytest.mark.parametrize("wrong", ["pipette", ["pipette", "flask"], [["pipette", 1]], {"a": "b"}])
def test_dilutions_are_pairs_of_names(wrong: object) -> None:
    with pytest.raises(ExperimentError, match="not a list of dilutions"):
        _check_shapes({"dilutions": wrong}, "consumed")
    _check_shapes({"dilutions": [["pipette", "flask"]]}, "consumed")


def test_gases_are_suggested_with_their_names_and_salts_by_formula() -> None:
    gases = {one.text: one.label for one in formulas("gas")({})}
    assert gases["H2"] == "H₂, hydrogen"
    salts = {one.text: one.label for one in formulas("hydrate")({})}
    assert salts["CuSO4"] == "CuSO₄"


def averaged() -> Experiment:
    lab = experiments.load("copper-silver")
    produced = replace(lab.produced, averaged=("paper",))
    three = ("0.71", "0.72", "0.71")
    trials = []
    for trial in lab.trials:
        readings = {**trial.readings, "paper": three}
        trials.append(replace(trial, readings=readings))
    return replace(lab, produced=produced, trials=tuple(trials))


def test_of_how_many_readings_a_value_is_the_mean() -> None:
    """Three weighings to constant mass count once, three to be averaged thrice."""
    assert experiments.load("hydrate-heating").repeats("crucible + residue") == 1
    assert averaged().repeats("paper") == 3
    assert averaged().repeats("wire before") == 1
    assert averaged().repeats("no such reading") == 1
    assert averaged().with_trials([]).repeats("paper") == 1


@pytest.mark.parametrize(
    "between",
    [
        None, "none", Variation(unknown=True), Variation(relative=0.02),
        Variation(relative=0.02, from_trials=6),
    ],
)  # fmt: skip
def test_a_file_keeps_how_much_groups_differ(between: Between) -> None:
    lab = replace(experiments.load("copper-silver"), between_groups=between)
    again = parse_experiment(lab.to_toml())
    assert again.between_groups == between
    assert again == lab


def test_several_routes_are_weighted_on_either_side() -> None:
    """The weights follow from the readings, the same whether the zinc is used up or made."""
    lab = parse_experiment(ROUTES)
    assert len(lab.consumed.ways) == 2
    turned = replace(
        lab,
        consumed=lab.produced,
        produced=replace(lab.consumed, weights=()),
        candidates=[replace(one, ratio=1 / one.ratio) for one in lab.candidates],
        candidate_spec=None,
    )
    assert isinstance(turned.consumed, MassByDifference)
    assert turned.produced.parts == lab.consumed.parts
    assert sum(turned.produced.parts) == pytest.approx(1.0)
    assert min(turned.produced.parts) > 0


def test_one_weighing_and_another_instrument_ask_nothing_of_a_vessel() -> None:
    assert vessel_question("paper", ["0.75"], Balance(readability_g=0.01)) == ""
    assert vessel_question("room", ["20.0", "25.0"], Thermometer()) == ""


def test_an_unknown_reading_is_refused_with_those_there_are() -> None:
    lab = experiments.load("copper-silver")
    with pytest.raises(ExperimentError, match=r"no such reading.*vessel.*wire before, wire after"):
        lab.read_on("vessel")


def test_no_columns_are_no_trials() -> None:
    assert trials_of({}, [], ()) == ()
    assert [one.name for one in trials_of({"a": ["1", "2"]}, [], ())] == ["1", "2"]
    with pytest.raises(ExperimentError, match=r"trials\[2\]\.b: “b” is given for 1 trials"):
        trials_of({"a": ["1", "2"], "b": ["1"]}, [], ())


def test_a_caution_says_what_of_and_where_from() -> None:
    whole = {"subject": "silver nitrate", "source": "From memory."}
    for left_out in whole:
        with pytest.raises(ExperimentError) as refused:
            Caution(advice=("Wear gloves.",), **{**whole, left_out: " "})  # type: ignore[arg-type]
        assert refused.value.field == left_out
    for name, second in (("advice", ""), ("statements", "Burns the skin")):
        first = {"advice": "Wear gloves.", "statements": "H315 Causes skin irritation"}[name]
        with pytest.raises(ExperimentError) as refused:
            Caution(**{**whole, name: (first, second)})  # type: ignore[arg-type]
        assert refused.value.field == f"{name}[2]"
    text = experiments.read("tin-oxide") + '\n[[cautions]]\nsubject = "a"\nsource = "b"\n'
    with pytest.raises(ExperimentError, match=r"cautions\[[0-9]\]\.advice\[2\]"):
        parse_experiment(text + 'advice = ["Wear gloves.", [1]]\n')


def test_a_list_is_written_on_one_line_of_ninety_six_letters() -> None:
    """`a = ["` and `"]` are eight letters: 88 more make 96."""
    assert write_toml({"a": ["x" * 88]}) == f'a = ["{"x" * 88}"]\n'
    assert write_toml({"a": ["x" * 89]}) == f'a = [\n    "{"x" * 89}",\n]\n'


def test_a_line_that_is_not_toml_is_quoted() -> None:
    """Of three lines the second, and the last one where the file ends too early."""
    for text, line, quoted in (
        ("a = 1\nb == 2\nc = 3\n", "line 2", "b == 2"),
        ("a = 1\nb = 2\nc = [3,\n", "line 3", "c = [3,"),
    ):
        with pytest.raises(ExperimentError, match="not TOML") as refused:
            parse_experiment(text)
        assert (refused.value.field, refused.value.given) == (line, quoted)


@pytest.mark.parametrize(
    ("name", "left_out", "field"),
    [
        ("hydrate-heating", 'salt = "MgSO4"\n', "candidates.hydrate.salt"),
        ("copper-silver", 'metal = "Cu"\n', "candidates.oxidation_states.metal"),
    ],
)
def test_candidates_are_not_guessed_without_their_substance(
    name: str, left_out: str, field: str
) -> None:
    text = experiments.path(name).read_text("utf-8")
    assert text.count(left_out) == 1
    with pytest.raises(ExperimentError, match="missing") as refused:
        parse_experiment(text.replace(left_out, ""))
    assert refused.value.field == field


def test_all_product_may_be_recovered_ten_times_or_a_thousandth_of_it() -> None:
    for ends in ((0.001, 10.0), [0.001, 10]):
        assert checked_recovery(ends) == (0.001, 10.0)
    for wrong in ((0.0009, 1.0), (1.0, 10.1)):
        with pytest.raises(ExperimentError, match=r"0\.001 <= least <= largest <= 10"):
            checked_recovery(wrong)


def test_a_reading_is_in_the_order_of_the_bench_once() -> None:
    weighing = Role(name="dish", instrument="balance", quantity="mass", unit="g")
    assert checked_order(["dish"], [weighing]) == ("dish",)
    with pytest.raises(ExperimentError, match="A reading is named twice") as refused:
        checked_order(["dish", "dish"], [weighing])
    assert (refused.value.given, refused.value.fix) == ("dish", "Name it once.")


def test_a_reading_made_once_is_asked_again_if_there_are_two() -> None:
    answers = iter(
        ["1", "Fe", "", "Cu", "", "", "2, 3", "", "", "7.30; 7.31", "7.30", "6.20", "1.40", "2.66"]
    )
    said: list[str] = []

    def answer(question: str) -> str:
        said.append(question)
        assert len(said) < 60, said
        return next(answers, "")

    lab = asked(answer, said.append)
    refused = said.index("  Not taken: This reading is made once. Given: 7.30; 7.31.")
    assert said[refused - 1] == said[refused + 1]
    assert [trial.readings["Fe before"] for trial in lab.trials] == [("7.30",)]


def test_a_weight_outside_its_table_is_told_where_weights_stand() -> None:
    text = experiments.read("tin-oxide") + '\n[prior]\n"tin(II)" = 3\n'
    with pytest.raises(ExperimentError) as refused:
        parse_experiment(text)
    assert refused.value.field == 'prior."tin(II)"'
    assert refused.value.fix == "Weights of candidates stand below [prior.weights]."


def test_the_line_of_a_long_name_is_counted_from_one() -> None:
    name = ".".join("a" * 22)
    for before, line in (("", 1), ("\n", 2), ("\na = 1\n", 3)):
        with pytest.raises(ExperimentError, match="too many parts") as refused:
            parse_experiment(f"{before}{name} = 1\n")
        assert refused.value.field == f"line {line}"


def test_the_name_given_twice_is_named_not_the_first() -> None:
    with pytest.raises(ExperimentError, match="given twice") as refused:
        Experiment.from_json('{"about": "", "title": "a", "notes": [], "title": "b"}')
    assert refused.value.given == "title"


def test_a_name_has_eighty_letters_at_most() -> None:
    assert Trial("x" * 80, {}).name == "x" * 80
    with pytest.raises(ExperimentError, match="1 to 80 printable"):
        Trial("x" * 81, {})


def test_weights_that_add_up_to_nothing_or_to_no_number_are_refused() -> None:
    """The largest number there is is 1.8 · 10^308."""
    assert Prior({"a": 0, "b": 1e-300}).shares("ab") == {"a": 0.0, "b": 1.0}
    with pytest.raises(ExperimentError, match="All weights are 0"):
        Prior({"a": 0, "b": 0}).shares("ab")
    assert Prior({"a": 8e307, "b": 8e307}).shares("ab") == {"a": 0.5, "b": 0.5}
    with pytest.raises(ExperimentError, match="too large to be added") as refused:
        Prior({"a": 1e308, "b": 1e308}).shares("ab")
    assert refused.value.field == "prior.weights"


def test_a_state_that_is_not_usual_is_suggested_after_the_usual_ones() -> None:
    """Gold is usually gold(I) or gold(III) (common knowledge, no source)."""
    assert [one.label for one in state_suggestions("Au")] == [
        "gold(I), Au⁺",
        "gold(III), Au³⁺",
        "gold(II), Au²⁺, to compare with",
        "gold(IV), Au⁴⁺, to compare with",
    ]


def test_a_record_has_a_hundred_cautions_at_most() -> None:
    lab = experiments.load("tin-oxide")
    one = lab.cautions[0]
    assert len(replace(lab, cautions=(one,) * 100).cautions) == 100
    with pytest.raises(ExperimentError) as refused:
        replace(lab, cautions=(one,) * 101)
    assert refused.value.field == "cautions"


def test_trials_on_another_balance_are_named_together() -> None:
    lab = experiments.load("tin-oxide").with_instrument("fine", Balance(readability_g=1e-4))
    first, second, *_ = (replace(one, instruments={"balance": "fine"}) for one in lab.trials)
    places = "read on “fine” in place of “balance”."
    for own, said in (([first], "Trial 1: "), ([first, second], "Trials 1, 2: ")):
        changed = lab.with_trials([*own, *lab.trials[len(own) :]])
        assert changed.instruments_in_words()[-1] == f"{said}{places}"


def test_what_is_no_way_of_measuring_is_named_by_its_side() -> None:
    lab = experiments.load("copper-silver")
    for side, models in (("consumed", ("Cu", lab.produced)), ("produced", (lab.consumed, "Ag"))):
        with pytest.raises(ExperimentError, match="not an amount model") as refused:
            lab.amounts_by(*models)  # type: ignore[arg-type]
        assert refused.value.field == side
