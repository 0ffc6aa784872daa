"""A column of balances: honoured row by row, to the verdict of each group and of the class."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from stoichkit import assess, assess_class, experiments, load_class
from stoichkit.classroom import review_class
from stoichkit.classroom.amounts import joined
from stoichkit.classroom.balances import Balances, balance_column, step_of
from stoichkit.classroom.choices import Choices
from stoichkit.classroom.data import ClassData
from stoichkit.classroom.verdict import class_verdict
from stoichkit.experiments.parts import Trial
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Balance
from stoichkit.reports import class_report, group_report
from tests.classfiles import HEADER, csv_bytes

LAB = experiments.load("copper-silver")
WITH = (*HEADER, "balance")
COARSE = Balance(readability_g=0.1)
RED = ("red", "1", "3.0", "2.4", "0.8", "2.8")
BLUE = ("blue", "1", "3.14", "3.03", "0.73", "1.12")
CU, AG = 63.546, 107.868
"""Standard atomic weights (IUPAC), from memory."""


def the_class(*rows: tuple[str, ...], header: tuple[str, ...] = WITH, **more: Any) -> ClassData:
    return load_class(csv_bytes(rows, header), more.pop("lab", LAB), **more)


def drawn(seed: int, groups: int = 8) -> list[tuple[str, ...]]:
    """Return a class at random: some groups on 0.1 g, some on 0.01 g, one in both ways."""
    rng = np.random.default_rng(seed)
    rows = []
    for group in range(groups):
        steps = [("0.1", "0.01")[group % 2]] * int(rng.integers(1, 4))
        if group == groups - 1:
            steps = ["0.1", "0.01", "0.01"]
        for number, step in enumerate(steps, 1):
            copper = rng.uniform(0.05, 0.6)
            true = np.array(
                [3.0, 3.0 - copper, 0.7, 0.7 + rng.uniform(1.2, 2.1) * copper / CU * AG]
            )
            size = float(step)
            shown = np.round((true + rng.normal(0, size / 2, 4)) / size) * size
            texts = [f"{one:.{len(step) - 2}f}" for one in shown]
            rows.append((f"g{group}", str(number), *texts, f"{step} g"))
    return rows


def alone(rows: list[tuple[str, ...]], group: str) -> Experiment:
    """Return the record of one group, made without the reader of class files."""
    names = ("wire before", "wire after", "paper", "paper + silver")
    own = [row for row in rows if row[0] == group]
    lab = LAB.with_instrument("coarse", COARSE)
    if {row[-1] for row in own} == {"0.1 g"}:
        lab = LAB.with_instrument("balance", COARSE)
        own = [(*row[:-1], "") for row in own]
    return lab.with_trials(
        Trial(row[1], dict(zip(names, row[2:6], strict=True)),
              instruments={"balance": "coarse"} if row[-1] == "0.1 g" else {})
        for row in own
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(12))
def test_each_group_has_the_verdict_of_its_lab_alone(seed: int) -> None:
    rows = drawn(seed)
    data = the_class(*rows)
    assert data.waiting == 0
    assert data.weighed_on == ("balance 0.1 g", "") * 3 + ("balance 0.1 g", None)
    evidence = assess_class(data).evidence
    for place, name in enumerate(data.names):
        expected = assess(alone(rows, name))
        assert evidence.verdict(name).kind == expected.verdict.kind
        assert evidence.verdict(name).candidates == expected.verdict.candidates
        assert evidence.p_value[place].tolist() == pytest.approx(
            [one.p_value for one in expected.candidates.values()], abs=1e-9
        )
        again = assess(data.groups[name])
        assert (again.verdict.kind, again.verdict.candidates) == (
            expected.verdict.kind, expected.verdict.candidates,
        )  # fmt: skip


@pytest.mark.parametrize("seed", range(3))
def test_the_class_is_pooled_as_one_record_of_two_balances(seed: int) -> None:
    """The pooled p-values are those of a record written by hand, with a second balance."""
    rows = drawn(seed)
    result = assess_class(the_class(*rows))
    by_hand = LAB.with_instrument("coarse", COARSE).with_trials(
        Trial(f"{row[0]} {row[1]}", dict(zip(LAB.reading_names(), row[2:6], strict=True)), row[0],
              {"balance": "coarse"} if row[-1] == "0.1 g" else {})
        for row in rows
    )  # fmt: skip
    expected = class_verdict(by_hand)
    assert result.verdict is not None, result.no_verdict
    for name, one in expected.candidates.items():
        found = result.verdict.candidates[name]
        assert found.p_common == pytest.approx(one.p_common, abs=1e-9)
        assert found.p_value == pytest.approx(one.p_value, abs=1e-9)
    assert result.verdict.amounts.linear.several_displays


def test_what_entries_mean() -> None:
    lab = LAB.with_instrument("Fine one", Balance(readability_g=0.001))
    for text, name in {
        "balance": "balance", "0.01": "balance", "10 mg": "balance", "1 cg": "balance",
        "fine  ONE": "Fine one", "0,001 g": "Fine one", "d = 0.1 g": "balance 0.1 g",
        "0.1 g balance": "balance 0.1 g", "5e-1": None, "A": None, "1": None, "0.03 g": None,
        "200 g": None, "0.1 mL": None, "": None, "0": None,
    }.items():  # fmt: skip
        assert Balances.of(lab).named(text) == name, text
    twice = lab.with_instrument("other", Balance(readability_g=0.001))
    assert Balances.of(twice).named("0.001 g") is None  # which of the two is not said
    assert step_of("2", balance_column("balance / mg")[1]) == 0.002
    assert not balance_column("balance after")[0]


def test_a_balance_that_the_lab_lacks_errs_as_many_steps() -> None:
    lab = LAB.with_instrument("balance", Balance(readability_g=0.01, repeatability_g=0.002))
    data = the_class((*RED, "0.1 g"), (*BLUE, ""), lab=lab)
    assert data.groups["red"].instruments["balance"] == Balance(
        readability_g=0.1, repeatability_g=0.02
    )
    assert data.groups["blue"].instruments["balance"].readability_g == 0.01


def test_a_group_names_its_balance_once() -> None:
    """Empty cells are like the one above in the group, and without any like the lab."""
    second = ("red", "2", "3.2", "2.9", "0.7", "1.7")
    data = the_class((*RED, "0.1 g"), (*second, ""), (*BLUE, ""))
    assert data.weighed_on == ("balance 0.1 g", "")
    said = " ".join(map(str, data.problems))
    assert "balance 0.1 g: 2 rows" in said
    assert "fewer decimals" not in said  # one decimal is all that 0.1 g shows


def test_decimals_are_asked_about_by_the_balance_of_the_row() -> None:
    said = " ".join(map(str, the_class((*RED, "0.01 g"), (*BLUE, "0.1 g")).problems))
    assert "Row 2" in said
    assert "fewer decimals" in said
    assert "Row 3" in said


def test_what_is_not_understood_waits_and_the_rest_counts() -> None:
    data = the_class((*RED, "0.1 g"), (*BLUE, "B"))
    (asked,) = data.open_questions
    assert (asked.rows, asked.answers) == ((3,), ("as the record says", "leave out"))
    assert "“B”" in asked.text
    assert data.names == ("red",)
    choices = Choices(answers={asked.key: "leave out"})
    assert the_class((*RED, "0.1 g"), (*BLUE, "B"), choices=choices).waiting == 0
    coded = the_class((*RED, "0.1 g"), (*BLUE, "next to Zora"), codes=True)
    assert "Zora" not in f"{coded.problems} {coded.questions}"


def test_it_is_told_in_reports_and_survives_decisions() -> None:
    rows = drawn(3)
    data = the_class(*rows)
    result = assess_class(data)
    text = class_report(result, pictures=False).text()
    assert (
        "Weighed on a balance reading to 0.1 g: g0, g2, g4 and g6; on several balances: g7. All "
        "others: on that of the lab, to 0.01 g."
    ) in " ".join(text.split())
    page = " ".join(group_report(result, "g7", pictures=False).text().split())
    assert "g7" in page
    said = " ".join(data.groups["g7"].instruments_in_words())
    assert "Trial 1: read on “balance 0.1 g” in place of" in said
    assert "reading to 0.1 g" in " ".join(data.groups["g0"].instruments_in_words())
    assert review_class(data, "suggested").typed is not None
    assert joined(dict(data.groups)).trials


def test_several_balances_of_a_lab_are_asked_about() -> None:
    """Where copper and silver have each their balance, an entry does not say for which it is."""
    other = LAB.with_instrument("other", Balance(readability_g=0.01))
    lab = replace(other, produced=replace(LAB.produced, instrument="other"))
    data = the_class((*RED, "0.1 g"), (*BLUE, "0.01 g"), lab=lab)
    assert [one.kind.value for one in data.open_questions] == ["balance"]


def test_rows_keep_their_balance_in_other_forms() -> None:
    """A table that stands turned round names the balance in a row."""
    rows = [WITH, (*RED, "0.1 g"), (*BLUE, "0.01 g")]
    turned = io.StringIO()
    csv.writer(turned).writerows(zip(*rows, strict=True))
    data = load_class(turned.getvalue().encode(), LAB)
    assert data.weighed_on == ("balance 0.1 g", "")
