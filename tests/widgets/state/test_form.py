"""The texts of the readings screen: how each is read, and where a refusal stands."""

from __future__ import annotations

from dataclasses import replace

import pytest

from stoichkit import experiments
from stoichkit.errors import ExperimentError, Refusal, StoichkitError
from stoichkit.experiments.parts import Variation
from stoichkit.measurement.displays import Balance
from stoichkit.widgets.state.form import (
    ALL_TRIALS,
    WEIGHED_ON,
    BalanceTexts,
    Form,
    Outcome,
    Place,
    Row,
    TrialTexts,
    _numbers,
    _share,
    balances_to_choose,
    copy_form,
    describe_place,
    evaluate,
    form_of,
    next_trial_name,
    read_candidates,
    read_variation,
    spec_of,
    write_variation,
)

LAB = experiments.load("copper-silver")
TWO = LAB.with_instrument("fine", Balance(readability_g=0.001))


def outcome(lab: object = LAB, **texts: object) -> Outcome:
    """Return what follows from the form of a lab with some texts changed."""
    return evaluate(replace(form_of(lab), **texts), lab, None)  # type: ignore[arg-type, type-var]


@pytest.mark.parametrize(
    ("text", "value"),
    [("95 %", 0.95), ("95%", 0.95), (" 0.95 ", 0.95), ("0,5", 0.5), ("100 %", 1.0), ("1", 1.0)],
)
def test_a_share_may_be_given_in_percent(text: str, value: float) -> None:
    assert _share(text, "fraction") == value


@pytest.mark.parametrize(
    ("text", "several", "numbers"),
    [
        ("1.20", False, ("1.20",)), (" 1,2 ;", False, ("1,2",)), ("1.2;1.3", True, ("1.2", "1.3")),
        ("1.2\n1.3\n\n", True, ("1.2", "1.3")), ("1.2; ;1.3", True, None), ("1.2;1.3", False, None),
        ("", False, None), (" ; ", True, None), ("1.2 1.3", True, None), ("x", True, None),
    ],
)  # fmt: skip
def test_the_numbers_of_a_field(text: str, several: bool, numbers: tuple[str, ...] | None) -> None:
    row = Row("residue", "g", several=several)
    if numbers is None:
        with pytest.raises(StoichkitError):
            _numbers(text, row)
    else:
        assert _numbers(text, row) == numbers


def test_what_is_said_of_a_field_that_cannot_be_read() -> None:
    assert _numbers("", Row("blank", "g", optional=True)) == ()
    with pytest.raises(ExperimentError, match=r"missing.*a number in mL"):
        _numbers(" ", Row("flask", "mL"))
    with pytest.raises(ExperimentError, match="made once"):
        _numbers("1;2", Row("flask", "mL"))
    with pytest.raises(ExperimentError, match="semicolon or a new line"):
        _numbers("1.2 1.3", Row("residue", "g", several=True))
    with pytest.raises(StoichkitError) as found:
        _numbers("1.2 1.3", Row("residue", "g"))
    assert "semicolon" not in str(found.value)


@pytest.mark.parametrize(
    ("names", "new"),
    [
        (["bench 1", "bench 2"], "bench 3"), (["run 9"], "run 10"), (["a1", "a3", "a2"], "a4"),
        (["Monday"], "trial 2"), (["x", "y"], "trial 3"), (["trial 3", "trial 2"], "trial 4"),
        (["x 1234567"], "x 1234568"), (["trial 2", "late"], "trial 3"),
    ],
)  # fmt: skip
def test_the_name_of_a_new_trial_counts_on_from_the_last(names: list[str], new: str) -> None:
    assert next_trial_name([TrialTexts(name) for name in names]) == new


def test_variation_as_it_is_typed() -> None:
    for text, found in {
        "": None, "none": None, " NONE ": None, "Unknown": Variation(unknown=True),
        "2 %": Variation(relative=0.02), "0.02": Variation(relative=0.02),
        "2 % FROM 12 trials": Variation(relative=0.02, from_trials=12),
    }.items():  # fmt: skip
        assert read_variation(text) == found
    assert write_variation(None) == ""
    assert write_variation(Variation(unknown=True)) == "unknown"
    assert write_variation(Variation(relative=0.02)) == "2 %"
    assert write_variation(Variation(relative=0.02, from_trials=12)) == "2 % from 12 trials"
    # 100 times the binary number next to 0.029 is 2.9000000000000004
    assert write_variation(Variation(relative=0.029)) == "2.9 %"


def test_rows_and_empty_trials() -> None:
    assert (Row("T", "°C").label, Row("T", "").label) == ("T, °C", "T")
    assert (Row("T", "°C").heading, Row(WEIGHED_ON, "").heading) == ("T", "weighed on")
    assert TrialTexts("1", readings={"a": " ", WEIGHED_ON: "fine"}).empty
    assert not TrialTexts("1", readings={"a": "1"}).empty


def test_a_lab_without_readings_has_three_trials_to_fill_in() -> None:
    form = form_of(LAB.with_trials([]))
    assert [one.name for one in form.trials] == ["trial 1", "trial 2", "trial 3"]
    assert all(one.empty for one in form.trials)


def test_the_balance_of_a_trial_is_asked_for_where_there_is_a_choice() -> None:
    assert balances_to_choose(TWO) == ("balance", "fine")
    form = form_of(TWO)
    assert form.rows[-1] == Row(WEIGHED_ON, "", optional=True)
    assert form.trials[0].readings[WEIGHED_ON] == "balance"
    assert form_of(LAB).rows[-1].name != WEIGHED_ON
    split = replace(TWO, produced=replace(TWO.produced, instrument="fine"))
    assert balances_to_choose(split) == ()


def weighed_on(text: str, lab: object = TWO) -> Outcome:
    form = form_of(lab)  # type: ignore[arg-type]
    form.trials[0].readings[WEIGHED_ON] = text
    return evaluate(form, lab, None)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "name"),
    [("fine", "fine"), ("FINE ", "fine"), ("2", "fine"), ("1", "balance"), ("0,001 g", "fine"),
     ("0.0010", "fine"), ("0.01", "balance"), ("balance", "balance")],
)  # fmt: skip
def test_a_balance_is_named_by_name_number_or_step(text: str, name: str) -> None:
    found = weighed_on(text)
    assert found.current
    used = {} if name == "balance" else {"balance": name}
    assert found.experiment.trials[0].instruments == used


def test_no_balance_named_is_that_of_the_lab() -> None:
    assert weighed_on("").experiment.trials[0].instruments == {}


@pytest.mark.parametrize("text", ["3", "0", "0.1", "coarse"])
def test_a_balance_that_is_not_there_is_refused(text: str) -> None:
    refused = weighed_on(text).refusals[Place("reading", 0, WEIGHED_ON)]
    assert refused.problem == "There is no balance of this name."
    assert refused.advice == "Allowed: 1 or balance, 2 or fine."


def test_a_step_of_two_balances_names_neither() -> None:
    three = TWO.with_instrument("other", Balance(readability_g=0.001))
    refused = weighed_on("0.001", three).refusals[Place("reading", 0, WEIGHED_ON)]
    assert refused.problem == "There are several balances of this step."
    assert weighed_on("0.01", three).current


def test_places_in_words() -> None:
    form = form_of(LAB)
    for place, words in {
        Place("reading", 1, "paper"): "bench 2, paper",
        Place("reading", ALL_TRIALS, "room temperature"): "all trials, room temperature",
        Place("reading", 0, WEIGHED_ON): "bench 1, weighed on",
        Place("trial", 2): "bench 3",
        Place("coverage"): "coverage probability",
        Place("recovery_low"): "least fraction recovered",
        Place("recovery_high"): "largest fraction recovered",
        Place("variation"): "variation between trials",
        Place("record"): "the experiment",
        Place("title"): "title",
        Place("readability", name="balance"): "balance, readability",
    }.items():
        assert describe_place(form, place) == words


@pytest.mark.parametrize(
    ("low", "high", "place"),
    [
        ("0.8", "1", None), ("1", "1", None), ("80 %", "0.9", None), ("10", "10", None),
        ("0", "1", "recovery_low"), ("0.8", "10.01", "recovery_high"), ("x", "1", "recovery_low"),
        ("0.9", "0.8", "recovery_high"), ("1", "", "recovery_high"),
    ],
)  # fmt: skip
def test_the_limits_of_a_recovery(low: str, high: str, place: str | None) -> None:
    """Above 0, at most 10, and the largest not below the least."""
    found = outcome(recovery_low=low, recovery_high=high)
    assert list(found.refusals) == ([] if place is None else [Place(place)])
    if place is None:
        assert found.experiment.recovery == (_share(low, ""), _share(high, ""))
    if (low, high) == ("0.9", "0.8"):
        assert found.refusals[Place("recovery_high")] == Refusal(
            "The largest fraction is below the least.", "Allowed: 0.9 or more."
        )


@pytest.mark.parametrize(
    ("texts", "place"),
    [
        ({"title": " "}, Place("title")), ({"coverage": "2"}, Place("coverage")),
        ({"coverage": "0.5"}, None), ({"coverage": "0.49"}, Place("coverage")),
        ({"coverage": "0.9999"}, None), ({"coverage": "0.99995"}, Place("coverage")),
        ({"variation": "much"}, Place("variation")), ({"candidates": " \n"}, Place("candidates")),
        ({"candidates": "a = 1\na = 2"}, Place("candidates")),
        ({"balances": {"balance": BalanceTexts("0", "")}}, Place("readability", name="balance")),
        ({"balances": {"balance": BalanceTexts("0.01", "-1")}},
         Place("repeatability", name="balance")),
        ({"balances": {"balance": BalanceTexts("0.01", "")}}, None),
    ],
)  # fmt: skip
def test_a_refusal_stands_beside_its_field(texts: dict[str, object], place: Place | None) -> None:
    assert list(outcome(**texts).refusals) == ([] if place is None else [place])


def test_a_balance_may_leave_its_repeatability_unstated() -> None:
    (one,) = outcome(balances={"balance": BalanceTexts("0,1", " ")}).experiment.instruments.values()
    assert one == replace(LAB.instruments["balance"], readability_g=0.1, repeatability_g=None)  # type: ignore[type-var]


def test_readings_are_refused_at_their_trial() -> None:
    form = form_of(LAB)
    form.trials[0].readings = dict.fromkeys(form.trials[0].readings, "")
    form.trials[2].readings["paper"] = "x"
    found = evaluate(form, LAB, None)
    assert found.left_out == ("bench 1",)
    assert list(found.refusals) == [Place("reading", 2, "paper")]
    assert not found.current
    assert found.experiment is LAB
    assert found.evidence is None
    before = outcome()
    again = evaluate(form, LAB, before)
    assert (again.experiment, again.evidence) == (before.experiment, before.evidence)
    form.trials[2].readings["paper"] = "0.71"
    form.trials[1].name = form.trials[2].name
    assert next(iter(evaluate(form, LAB, None).refusals)).part in ("trial", "record")
    for one in form.trials:
        one.readings = dict.fromkeys(one.readings, " ")
    assert Place("trial", 0) in evaluate(form, LAB, None).refusals


def test_a_copy_of_a_form_stays_when_the_first_changes() -> None:
    form = form_of(experiments.load("magnesium-gas"))
    kept = copy_form(form)
    form.trials[0].readings["x"] = "1"
    form.shared["y"] = "2"
    for texts in form.balances.values():
        texts.readability_g = "9"
    assert kept == form_of(experiments.load("magnesium-gas"))
    assert isinstance(kept, Form)


def test_candidates_are_read_line_by_line() -> None:
    found = read_candidates("\ncopper(I) = 1\n\n odd = 3/2 \n", LAB)
    assert found[0] is LAB.candidates[0]
    assert [str(one.ratio) for one in found] == ["1", "3/2"]
    with pytest.raises(ExperimentError, match="line 3"):
        read_candidates("copper(I) = 1\n\nodd", LAB)
    with pytest.raises(ExperimentError, match="no candidate"):
        read_candidates(" \n", LAB)
    assert spec_of(LAB.candidates, LAB) is LAB.candidate_spec
    assert spec_of(found, LAB).kind == "ratios"


def test_a_trial_that_cannot_be_is_refused_beside_it_and_the_record_stays() -> None:
    trials = form_of(LAB).trials
    for bad in (replace(trials[1], name=" "), replace(trials[1], group="\ud83d")):
        found = outcome(trials=[trials[0], bad, *trials[2:]])
        assert list(found.refusals) == [Place("trial", 1)]
        assert found.experiment is LAB
