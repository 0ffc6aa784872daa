"""Small parts of what is said and asked of a class file, on cases worked out by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from stoichkit import assess_class, experiments, load_class
from stoichkit.classroom.amounts import amounts_from_arrays
from stoichkit.classroom.balances import Balances, step_of
from stoichkit.classroom.columns import converted, known_unit
from stoichkit.classroom.handed_in import Answer
from stoichkit.classroom.items import Item
from stoichkit.classroom.judging import Judgement, MarkKind
from stoichkit.classroom.line import class_diagnosis, group_diagnosis
from stoichkit.classroom.marking import (
    Mark,
    _placed,
    _remarks,
    _shown,
    _with_points,
    mark_class,
)
from stoichkit.classroom.questions import (
    _of_group_above,
    averages,
    copies,
    rows_text,
    thousandfold,
)
from stoichkit.classroom.rubric import Rubric
from stoichkit.classroom.sentences import line_sentence, outlying_sentence
from stoichkit.classroom.statement import _of_groups
from stoichkit.classroom.tables import Problem
from stoichkit.classroom.verdict import ClassCaveatKind, class_verdict
from stoichkit.decision.verdict import DiagnosisKind
from stoichkit.errors import ModelError
from stoichkit.experiments.parts import Trial
from tests.classfiles import HEADER, ROWS, csv_bytes
from tests.odd_classes import result_of
from tests.odd_labs import evidence_of


def test_one_thing_of_one_group_is_written_with_it() -> None:
    assert _of_groups([("Cu", "red")]) == "Cu of red"
    assert _of_groups([("Cu", "red"), ("Cu", "blue")]) == "Cu of red and blue"
    assert _of_groups([("Cu", "")]) == "Cu"


def test_rows_beyond_eight_are_counted() -> None:
    """1, 3, 5, …, 21 are eleven rows apart: eight are named, three more."""
    assert rows_text(range(1, 22, 2)) == "rows 1, 3, 5, 7, 9, 11, 13, 15 and 3 more"
    assert rows_text(range(1, 16, 2)) == "rows 1, 3, 5, 7, 9, 11, 13, 15"
    assert rows_text([4, 4, 5]) == "rows 4 to 5"


def test_one_group_alone_is_no_class() -> None:
    found = assess_class(csv_bytes(ROWS[:2]), "copper-silver")
    assert found.verdict is None
    assert found.no_verdict == (
        "Only red was assessed: its own readings decide, and one group cannot show how much groups "
        "differ."
    )


def test_one_group_alone_has_the_line_of_its_own_readings() -> None:
    """0.10 g of copper and 0.50 g of silver fit nothing."""
    alone = assess_class(csv_bytes([("red", "1", "2.94", "2.84", "0.75", "1.25")]), "copper-silver")
    said = class_diagnosis(alone)
    assert said == group_diagnosis(alone, "red")
    assert said.kind is not DiagnosisKind.CLEAR


def test_a_class_that_is_changed_by_nothing_is_the_same() -> None:
    one = amounts_from_arrays([1, 2, 3], [2, 4, 6], 0.01, 0.02)
    assert one.changed().produced.tolist() == [2, 4, 6]
    assert one.changed(times=2.0).produced.tolist() == [4, 8, 12]
    assert one.changed(0.5).produced.tolist() == [2.5, 4.5, 6.5]
    assert one.discrepancies(2.0, 1.0).tolist() == [0, 0, 0]
    assert one.discrepancies(1.0, 3.0).tolist() == [5, 10, 15]


@pytest.mark.parametrize(("spread", "asked"), [(0.01, []), (1.0, [6])])
def test_a_row_is_asked_about_only_if_it_is_hardly_a_mean_by_chance(
    spread: float, asked: list[int]
) -> None:
    """Seven rows of two readings to 0.01: the last is the mean of the three above it.

    One more reading lies within half a step of the mean by a chance of 0.4 × 0.01 / s (the height
    of a normal density, 0.4/s): both do in 16 % of rows where s is 0.01, in 16 of a million at 1.
    The first group, far off, has no part in it.
    """
    group = [5.0 - spread, 5.0, 5.0 + spread]
    table = np.array([[90.0, 100.0, 110.0, *group, 5.0], [10.0, 20.0, 30.0, *group, 5.0]])
    owner = np.array([0, 0, 0, 1, 1, 1, 2])
    step, limit = np.full(table.shape, 0.01), np.full(7, 0.05)
    assert _of_group_above(table, step, owner, limit).tolist() == asked


def test_where_all_slopes_are_excluded_the_nearest_is_named() -> None:
    """Slope 3.1 among ratios 1, 3 and 9, each with p = 0."""
    tested = {
        name: SimpleNamespace(name=name, p_slope=0.0, tested_ratio=ratio)
        for name, ratio in (("one", 1.0), ("three", 3.0), ("nine", 9.0))
    }
    line = SimpleNamespace(slope=3.1, u_slope_total=0.01, inflated=False)
    verdict = SimpleNamespace(line=line, coverage=0.95, candidates=tested)
    said = line_sentence(verdict)  # type: ignore[arg-type]
    assert "fits none of the candidates, not even three (p < 0.0001)" in said


def test_the_line_of_the_ready_class_fits_both() -> None:
    verdict = assess_class(experiments.class_file(), "copper-silver").verdict
    assert verdict is not None
    assert "which fits copper(II) (p = 0.26) and copper(I) (p = 0.055)." in line_sentence(verdict)


@pytest.mark.parametrize(
    "given",
    [([[1.0]], [[1.0]], 0.1, 0.1), ([1.0, 2.0], [1.0], 0.1, 0.1), ([1, 2], [1, 2], [0.1], 0.1)],
)
def test_amounts_of_other_lengths_are_no_class(given: tuple[object, ...]) -> None:
    with pytest.raises(ModelError, match="do not match"):
        amounts_from_arrays(*given)  # type: ignore[arg-type]


def test_the_outlook_asks_for_five_hundredths_less_than_the_coverage() -> None:
    """At 90 % coverage for a chance of 0.85; never for more than 0.9."""
    for coverage, target in ((0.9, 0.85), (0.99, 0.9), (0.8, 0.75)):
        found = assess_class(csv_bytes(), "copper-silver", coverage=coverage).outlook
        assert found is not None
        assert found.target == pytest.approx(target)


def test_a_step_of_a_balance_is_a_microgram_to_ten_grams() -> None:
    steps = [step_of(text) for text in ("1 µg", "0.5 µg", "10 g", "20 g", "5 g")]
    assert steps == [1e-6, None, 10.0, None, 5.0]


@pytest.mark.parametrize(
    ("name", "shift", "word"), [("wet", 0.25, "more"), ("lossy", -0.2, "less")]
)
def test_a_class_shifted_alike_is_said_so_with_its_size(name: str, shift: float, word: str) -> None:
    """Drawn with 2.5 and 1.6 mol of silver for each mole of copper, where copper(II) gives 2."""
    found = class_diagnosis(result_of(name))
    assert found.kind is DiagnosisKind.SHIFTED
    assert found.shift == pytest.approx(shift, abs=0.03)
    assert f" % {word} Ag than copper(II)" in found.sentence


@pytest.mark.parametrize(
    ("typed", "unit", "text"),
    [
        ("2940", "mg", "2.940"), ("2.5", "h", "9000.0"), ("25", "min", "1500"),
        ("298.15", "K", "25.00"), ("1013", "mbar", "101.3"), ("0.5", "L", "500"),
        ("1.25", "kg", "1250"), ("1", "torr", "0.133"), ("2,5", "mA", "0.0025"),
    ],
)  # fmt: skip
def test_units_are_converted_with_the_digits_typed(typed: str, unit: str, text: str) -> None:
    """SI prefixes; 0 °C is 273.15 K; 1 bar is 100 kPa; 760 torr are 101.325 kPa (memory)."""
    known = known_unit(unit)
    assert known is not None
    assert converted(typed, known) == text


def test_marking_stops_when_it_is_told_to() -> None:
    data = load_class(csv_bytes(), experiments.load("copper-silver"))
    answers = b"group,trial,m(Cu)\nred,1,0.12\n"
    told: list[tuple[int, int]] = []
    with pytest.raises(ModelError, match=r"stopped.*1 of 3 groups"):
        mark_class(answers, data, progress=lambda *n: bool(told.append(n)) or True)
    assert told == [(1, 3)]
    told.clear()
    mark_class(answers, data, progress=lambda *n: bool(told.append(n)))
    assert told == [(1, 3), (2, 3), (3, 3)]


def test_a_step_is_that_of_the_lab_or_another() -> None:
    balances = Balances(experiments.load("copper-silver"), "balance")
    assert balances.named("0.01 g") == "balance"
    assert balances.named("0.02 g") == "balance 0.02 g"
    assert balances.named("1 µg") == "balance 1e-06 g"
    assert balances.named("2 µg") == "balance 2e-06 g"
    assert balances.may_be_that_of_the_lab("10 mg")
    assert balances.may_be_that_of_the_lab("next to the window")
    assert not balances.may_be_that_of_the_lab("0.02 g")
    assert not balances.may_be_that_of_the_lab("5 mg")


def test_rows_of_one_balance_make_it_that_of_the_record() -> None:
    lab = experiments.load("copper-silver")
    balances = Balances.of(lab)
    coarse = balances.named("0.1 g")
    assert coarse == "balance 0.1 g"
    assert balances.record(["", ""]) == (lab, [{}, {}])
    one, each = balances.record([coarse, coarse])
    assert each == [{}, {}]
    assert one.instruments["balance"].readability == 0.1
    assert coarse not in one.instruments
    both, each = balances.record(["", coarse])
    assert each == [{}, {"balance": coarse}]
    assert both.instruments["balance"].readability == 0.01
    assert both.instruments[coarse].readability == 0.1
    balances.used = {2: coarse}
    assert balances.of_rows([1, 2, 3]) == ("", coarse, "")
    assert balances.balance("").readability_g == 0.01
    assert balances.balance(coarse).readability_g == 0.1


# What may be odd about rows


def averages_of(
    table: list[list[float]], groups: list[int], hinted: tuple[int, ...] = (), decimals: int = 2
) -> dict[int, str]:
    """Return rows that are means; one row of the table a reading."""
    values = {f"m{n}": np.array(row) for n, row in enumerate(table)}
    digits = {name: np.full(len(row), decimals) for name, row in values.items()}
    hint = np.zeros(len(groups), dtype=bool)
    hint[list(hinted)] = True
    return averages(values, digits, np.array(groups), hint)


def test_the_mean_of_a_group_is_found_by_its_digits() -> None:
    """(1.00 + 2.00 + 4.00) / 3 = 2.333, (7.00 + 3.00 + 1.00) / 3 = 3.667."""
    rows = [[1.0, 2.0, 4.0, 2.33], [7.0, 3.0, 1.0, 3.67]]
    assert averages_of(rows, [0, 0, 0, 0]) == {3: "the other rows of its group"}
    off = [[1.0, 2.0, 4.0, 2.34], [7.0, 3.0, 1.0, 3.67]]  # 0.007 is more than half of 0.01
    assert averages_of(off, [0, 0, 0, 0]) == {}
    assert averages_of(rows[:1], [0, 0, 0, 0]) == {}  # one reading says too little
    assert averages_of(rows, [0, 0, 0, -1]) == {}


def test_the_mean_of_the_group_above_or_of_all_above_is_found() -> None:
    """After two rows of each of two groups: 2.00 and 6.00 of those of red, then 3.50 of all."""
    red, blue = ([1.0, 3.0], [8.0, 4.0]), ([4.0, 6.0], [9.0, 1.0])
    rows = [[*a, *b] for a, b in zip(red, blue, strict=True)]
    of_group = [[*rows[0], 5.0], [*rows[1], 5.0]]
    assert averages_of(of_group, [0, 0, 1, 1, 2]) == {4: "the rows of the group above it"}
    of_all = [[*rows[0], 3.5], [*rows[1], 5.5]]
    assert averages_of(of_all, [0, 0, 1, 1, 2]) == {4: "all rows above it"}


def test_the_mean_of_the_averages_above_is_found() -> None:
    """Red 1 and 3, mean 2; blue 4, 6 and 8, mean 6: of both 4, of the five rows 22 / 5 = 4.4.

    The other reading: 6, then 9, 1 and 2 with mean 4: 5, and 24 / 5 = 4.8.
    """
    first, second = [1.0, 3.0, 2.0, 4.0, 6.0, 8.0, 6.0], [8.0, 4.0, 6.0, 9.0, 1.0, 2.0, 4.0]
    groups = [0, 0, 1, 2, 2, 2, 3, 4]
    found = {2: "the rows of the group above it", 6: "the rows of the group above it"}
    assert averages_of([[*first, 4.0], [*second, 5.0]], groups) == {
        **found, 7: "the averages above it",
    }  # fmt: skip
    assert averages_of([[*first, 4.4], [*second, 4.8]], groups) == {
        **found, 7: "all rows above it",
    }  # fmt: skip


def test_rows_that_lie_close_are_no_averages_unless_something_says_so() -> None:
    """By chance one more of 1.00, 1.05, 1.08 (scatter 0.040) lies within half of 0.01 of the mean
    in 0.4 · 0.01 / 0.040 of rows, both readings in 1 %: reported below 0.2 %, or below 10 % where
    a hint is given. With a scatter of 0.5 it is 6 in 100,000.
    """
    rows = [[1.0, 1.05, 1.08, 1.04], [2.0, 2.05, 2.08, 2.04]]
    assert averages_of(rows, [0] * 4) == {}
    assert averages_of(rows, [0] * 4, (3,)) == {3: "the other rows of its group"}
    assert averages_of(rows, [0] * 4, (1,)) == {}
    far = [[1.0, 1.6, 2.0, 1.53], [2.0, 2.6, 3.0, 2.53]]
    assert averages_of(far, [0] * 4) == {3: "the other rows of its group"}


@pytest.mark.parametrize(("trial", "kinds"), [("", ["average"]), ("4", [])])
@pytest.mark.parametrize("above", [[], list(ROWS[2:])])
def test_a_row_without_the_number_of_its_trial_may_be_an_average(
    trial: str, kinds: list[str], above: list[tuple[str, ...]]
) -> None:
    """Steps of 0.01 g, scatter 0.01 g: by chance 0.4⁴ = 2.6 % of rows are such means, which is
    asked about where a hint is given (below 10 %), and else not (0.2 %).
    """
    rows = [
        ("red", "1", "2.94", "2.82", "0.70", "1.10"), ("red", "2", "2.95", "2.83", "0.71", "1.11"),
        ("red", "3", "2.96", "2.84", "0.72", "1.12"),
        ("red", trial, "2.95", "2.83", "0.71", "1.11"),
    ]  # fmt: skip
    data = load_class(csv_bytes([*above, *rows]), experiments.load("copper-silver"))
    assert [one.kind.value for one in data.open_questions] == kinds


@pytest.mark.parametrize(("note", "kinds"), [("average", ["average"]), ("late", [])])
def test_a_note_may_say_that_a_row_is_an_average(note: str, kinds: list[str]) -> None:
    """As above: such a mean is asked about where something says so, here beside the readings."""
    rows = [
        ("red", "1", "2.94", "2.82", "0.70", "1.10", ""),
        ("red", "2", "2.95", "2.83", "0.71", "1.11", ""),
        ("red", "3", "2.96", "2.84", "0.72", "1.12", ""),
        ("red", "4", "2.95", "2.83", "0.71", "1.11", note),
    ]
    data = load_class(csv_bytes(rows, (*HEADER, "note")), experiments.load("copper-silver"))
    assert [one.kind.value for one in data.open_questions] == kinds


def test_copies_repeat_group_trial_and_every_reading() -> None:
    values = {"a": np.array([1.0, 2.0, 1.0, 1.0]), "b": np.array([np.nan, 3.0, np.nan, 2.0])}
    groups, trials = np.array([0, 0, 0, 0]), ["1", "1", "1", "1"]
    assert copies(values, groups, trials) == {2: 0}
    assert copies(values, groups, ["1", "1", "2", "1"]) == {}
    assert copies(values, np.array([0, 0, 1, 0]), trials) == {}
    assert copies(values, np.array([-1, 0, 0, 0]), trials) == {}
    assert copies(values, np.array([0, -1, 0, -1]), trials) == {2: 0}


@pytest.mark.parametrize(
    ("values", "usual", "most", "words", "rows"),
    [
        ([2.9, 3.0, 2900.0], 0.0, 200.0, "1000 times smaller", [2]),
        ([2.9, 3.0, 0.0029], 0.0, 200.0, "1000 times larger", [2]),
        ([2.9, 3.0, 290.0], 0.0, 200.0, "", []),
        ([1.0, 1.0, 2800.0], 0.0, 200.0, "1000 times smaller", [2]),  # 10^3.45 is 2818
        ([1.0, 1.0, 2850.0], 0.0, 200.0, "", []),
        ([1.0, 1.0, 357.0], 0.0, 200.0, "1000 times smaller", [2]),  # 10^2.55 is 354.8
        ([1.0, 1.0, 352.0], 0.0, 200.0, "", []),
        ([2900.0, 3000.0], 2.9, 9000.0, "1000 times smaller", [0, 1]),
        ([0.0029, 0.0030], 2.9, 9000.0, "1000 times larger", [0, 1]),
        ([2900.0, 3000.0], 290.0, 9000.0, "", []),
        ([2900.0, 3000.0], 0.0, 200.0, "1000 times smaller", [0, 1]),  # more than it can show
        ([150.0, 160.0], 0.0, 200.0, "", []),
        ([3e5, 3e5], 0.0, 200.0, "", []),  # nor a thousandth of it
        ([1.0, 1000.0], 0.0, 2000.0, "", []),  # half of them: which are off?
        ([1.0, 1.0, 1.0, 1000.0, 1000.0], 0.0, 2000.0, "1000 times smaller", [3, 4]),
        ([0.0, 1.0, 1.0, -1000.0, float("nan")], 0.0, 2000.0, "1000 times smaller", [3]),
        ([0.0, float("nan")], 2.9, 200.0, "", []),
    ],
)  # fmt: skip
def test_readings_a_thousand_times_off(
    values: list[float], usual: float, most: float, words: str, rows: list[int]
) -> None:
    said, found = thousandfold(np.array(values), usual or float("nan"), most)
    assert (said, found.tolist()) == (words, rows)


# Marks


def one_mark(item: str, kind: MarkKind, trial: str = "1", *, off: bool = False) -> Judgement:
    return Judgement(item, trial, "7", kind, figures_off=off)


def test_points_are_shared_by_the_trials_that_are_asked() -> None:
    """Six points on three trials of which one is not asked: three each; the item on its own two."""
    rubric = Rubric(
        points={"m": 6.0, "ratio": 2.0}, carried_forward=0.75, another_unit=0.5, known_mistake=0.25,
        figures_off=0.1,
    )  # fmt: skip
    kinds = MarkKind
    found = _with_points(
        [
            one_mark("m", kinds.RIGHT, "1"), one_mark("m", kinds.NOT_ASKED, "2"),
            one_mark("m", kinds.CARRIED, "3"), one_mark("ratio", kinds.FIGURES, off=True),
            one_mark("other", kinds.RIGHT),
        ],
        rubric,
    )  # fmt: skip
    assert [(m.points, m.out_of) for m in found] == [
        (3.0, 3.0), (0.0, 0.0), (2.25, 3.0), (pytest.approx(1.8), 2.0),
    ]  # fmt: skip
    parts = {
        kinds.RIGHT: 1.0, kinds.FIGURES: 1.0, kinds.CARRIED: 0.75, kinds.UNIT: 0.5,
        kinds.MISTAKE: 0.25, kinds.WRONG: 0.0, kinds.UNREAD: 0.0, kinds.EMPTY: 0.0,
    }  # fmt: skip
    for kind, part in parts.items():
        (mark,) = _with_points([one_mark("ratio", kind)], rubric)
        assert mark.points == pytest.approx(2 * part)
        (mark,) = _with_points([one_mark("ratio", kind, off=True)], rubric)
        assert mark.points == pytest.approx(2 * max(part - 0.1, 0.0))


ITEMS = (Item("m", "mass", "g", True), Item("conclusion", "in words", "", False))


def typed(item: str, text: str, trial: str = "") -> Answer:
    return Answer("red", trial, item, text, f"row {text}")


def test_answers_find_their_trials() -> None:
    """Without the name of a trial the next free one is meant; what is asked once has none."""
    trials = [Trial("Run A", {}), Trial("Run B", {})]
    found, odd = _placed(
        "red", [typed("m", "1"), typed("conclusion", "x", "Run B"), typed("m", "2")], trials, ITEMS
    )
    assert {key: one.text for key, one in found.items()} == {
        ("Run A", "m"): "1", ("", "conclusion"): "x", ("Run B", "m"): "2",
    }  # fmt: skip
    assert not odd
    found, odd = _placed("red", [typed("m", "1", "run b"), typed("m", "2")], trials, ITEMS)
    assert [key[0] for key in found] == ["Run B", "Run A"]
    assert not odd


def test_answers_for_no_trial_are_told_once_each() -> None:
    trials = [Trial("1", {})]
    answers = [typed("m", "1", "1"), typed("m", "2"), typed("m", "3", "9"), typed("m", "4", "9")]
    found, odd = _placed("red", answers, trials, ITEMS)
    assert list(found) == [("1", "m")]
    assert [(p.text, p.given, p.allowed, p.part) for p in odd] == [
        ("Group red has no such trial.", "", "1", "row 2"),
        ("Group red has no such trial.", "9", "1", "row 3"),
    ]
    assert {p.done for p in odd} == {"Its answers were not marked."}


def test_of_two_answers_the_first_counts() -> None:
    answers = [typed("m", "1", "1"), typed("m", "1", "1"), typed("m", "2", "1")]
    found, (odd,) = _placed("red", answers, [Trial("1", {})], ITEMS)
    assert found["1", "m"].text == "1"
    assert (odd.text, odd.given, odd.done) == (
        "Group red answered m twice.", "2", "The first counts: 1.",
    )  # fmt: skip


def test_amounts_below_zero_are_told_by_trial() -> None:
    evidence = evidence_of("copper-silver")

    def said(*kinds: tuple[MarkKind, str, str]) -> list[str]:
        marks = tuple(
            Mark(Judgement("m", trial, "7", kind, words=words), 0.0, 0.0)
            for kind, trial, words in kinds
        )
        return _remarks(evidence, marks)

    below = "It comes out below zero."
    two = said((MarkKind.NOT_ASKED, "2", below), (MarkKind.NOT_ASKED, "1", below))
    assert two == [
        "An amount comes out below zero in trial 1, 2: nothing that rests on it is asked. Look at "
        "the readings."
    ]
    assert said((MarkKind.NOT_ASKED, "1", "No ratio."), (MarkKind.RIGHT, "2", below)) == []
    assert said((MarkKind.NOT_ASKED, "", below)) == []
    unanswered = Mark(Judgement("m", "1", "", MarkKind.EMPTY), 0.0, 1.0)
    assert _remarks(evidence, (unanswered,)) == ["No answer was handed in."]
    assert _remarks(evidence_of("reversed"), (unanswered,))[0] == (
        "An amount comes out below zero: look at the readings."
    )


@pytest.mark.parametrize(("residual", "side"), [(6.94, "much"), (0.5, "much"), (-6.94, "little")])
@pytest.mark.parametrize("slips", [{}, {"red": ()}])
def test_a_group_stands_out_with_too_much_or_too_little(
    residual: float, side: str, slips: dict[str, tuple[object, ...]]
) -> None:
    result: Any = SimpleNamespace(verdict=SimpleNamespace(outlying={"red": residual}), slips=slips)
    said = outlying_sentence(result, "red")
    assert said.startswith(f"red stands out: too {side} product for what it consumed, by ")
    assert f"by {abs(residual):.1f} standard uncertainties" in said
    assert ("Look at its slips and at what it did" in said) is bool(slips)


def test_where_codes_stand_for_names_no_cell_of_a_file_is_told() -> None:
    """A column behind no row may be the name of a page, which may hold that of a person."""
    problems = [
        Problem(None, "Zora.html", "Odd.", "Zora", "a page", "Not used."),
        Problem(2, "B (m)", "Odd.", "Zora", "a number", "Not used.", part="Zora"),
    ]
    coded: Any = SimpleNamespace(key={"G01": "red"})
    assert _shown(problems, coded) == (
        Problem(None, "", "Odd.", done="Not used."), Problem(2, "B (m)", "Odd.", done="Not used."),
    )  # fmt: skip
    plain: Any = SimpleNamespace(key={})
    assert _shown(problems, plain) == tuple(problems)


@pytest.mark.parametrize(
    ("consumed", "shown"),
    [([0.5, 0.6, 0.7], True), ([0.005, 0.006, 0.007], True), ([0.0001, 0.0002, -0.0001], False),
     ([-0.5, -0.6, -0.7], False)],
)  # fmt: skip
def test_an_amount_is_told_apart_from_nothing_only_above_it(
    consumed: list[float], shown: bool
) -> None:
    """Means 600, 6, 0.07 and −600 times the standard uncertainty of one group, 1 mmol."""
    given = amounts_from_arrays(consumed, [2 * n for n in consumed], 0.001, 0.001)
    found = class_verdict(given, candidates={"one": 1, "two": 2}, variation="none")
    kinds = {caveat.kind for caveat in found.caveats}
    assert (ClassCaveatKind.NOT_RESOLVED not in kinds) is shown
