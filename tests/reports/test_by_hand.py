"""Small parts of what reports say, on cases worked out by hand."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest

from stoichkit import assess, assess_class, experiments
from stoichkit.errors import ModelError
from stoichkit.measurement.base import Step
from stoichkit.reports.classroom import _MOST_PROBLEMS, class_report
from stoichkit.reports.feedback import _limits
from stoichkit.reports.figures import _CONSTANT_TEXT, Figured, followed, guarded, written
from stoichkit.reports.hand_in import hand_in_page
from stoichkit.reports.progress import LabDone, Progress
from stoichkit.reports.question import FeedbackKind, check
from stoichkit.reports.study import _standing_reply, lesson
from stoichkit.reports.worked import worked_in_short
from tests.classfiles import ROWS, csv_bytes
from tests.odd_labs import evidence_of


def test_constants_are_those_of_the_tables() -> None:
    """CODATA 2018: R = 8.314462618 J/(mol K), F = 96485.33212 C/mol (from memory).

    A kilopascal litre is a joule.
    """
    assert _CONSTANT_TEXT == {"R": "8.314463 kPa L/(mol K)", "F": "96485.33 C/mol"}


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [
        (1234.0, -5, "1 × 10³"), (1234.0, -3, "1 × 10³"), (1234.0, -2, "1.2 × 10³"),
        (0.00012, 5, "0.00012"), (0.0000994, 5, "1.0 × 10⁻⁴"), (0.0001, 4, "0.0001"),
        (-2.5, 0, "−3"), (2.45, 1, "2.5"), (0.0, -1, "0"),
    ],
)  # fmt: skip
def test_values_are_rounded_as_in_class(value: float, decimals: int, text: str) -> None:
    """Halves away from zero."""
    assert written(value, decimals) == text


def test_one_trial_has_no_others() -> None:
    ready = experiments.load("copper-silver")
    one = worked_in_short(assess(ready.with_trials(ready.trials[:1])))
    assert one[0] == "Trial bench 1."
    two = worked_in_short(assess(ready.with_trials(ready.trials[:2])))
    assert two[0] == "Trial bench 1; the others are worked out in the same way."


def test_only_invented_readings_are_said_to_be_invented() -> None:
    ready = experiments.load("copper-silver")
    assert hand_in_page(assess(ready)).opening == ("The readings are invented, for practice.",)
    assert hand_in_page(assess(replace(ready, invented=False))).opening == ()


def test_where_nothing_is_concluded_no_instrument_limits_it() -> None:
    said = "Nothing is concluded from these readings, so no instrument limits it."
    assert _limits(evidence_of("drifting"), ()) == said
    assert _limits(evidence_of("copper-silver"), ()) != said


def test_what_is_no_choice_is_not_read() -> None:
    question = next(q for q in lesson(experiments.load("copper-silver")) if q.choices)
    found = check(question, "gold")
    assert found.kind is FeedbackKind.UNREAD
    assert "Given: gold." in found.words


def test_ratios_without_end_are_said_so() -> None:
    evidence = evidence_of("no upper limit")
    (first, *_) = evidence.candidates.values()
    assert " without end: its ray " in _standing_reply(evidence, first)
    assert " without end" not in _standing_reply(evidence_of("copper-silver"), first)


def test_what_is_odd_in_a_file_beyond_the_most_is_counted() -> None:
    """Each row without paper is odd once."""
    bad = [(f"g{i}", "1", "2.94", "2.82", "", "1.15") for i in range(_MOST_PROBLEMS + 7)]
    result = assess_class(csv_bytes([*ROWS, *bad]), "copper-silver")
    more = len(result.data.problems) - _MOST_PROBLEMS
    assert more >= 7
    assert (
        f"{more} more problems are not listed here." in class_report(result, pictures=False).text()
    )


@pytest.mark.parametrize(
    "change",
    [{"level": -1}, {"level": 6}, {"questions": -1}, {"answered": 99}, {"predicted": "maybe"},
     {"missed": {"gold": 1}}, {"lab": ""}, {"lab": 3}, {"hints": True}],
)  # fmt: skip
def test_a_record_of_progress_that_cannot_be_is_refused(change: dict[str, object]) -> None:
    kept = json.loads(Progress().with_lab(LabDone("Copper", 0, 5, 5)).to_json())
    assert Progress.from_json(json.dumps(kept)).labs[0].answered == 5
    kept["labs"][0] |= change
    with pytest.raises(ModelError):
        Progress.from_json(json.dumps(kept))


@pytest.mark.parametrize(
    ("formula", "read", "value", "decimals"),
    [
        ("a", {"a": (0.0, 2)}, 0.0, 2), ("a", {"a": (0.9996, 3)}, 0.9996, 3),
        ("a", {"a": (120.0, -1)}, 120.0, -1),
        ("a − b", {"a": (2.94, 2), "b": (2.82, 2)}, 0.12, 2),
        ("a + b", {"a": (2.9, 1), "b": (0.123, 3)}, 3.023, 1),
        ("t + 273.15 K", {"t": (21.45, 2)}, 294.6, 2), ("t + 273.15 K", {"t": (21.4, 1)}, 294.5, 1),
        ("t + 273.15 K", {"t": (21.456, 3)}, 294.606, 2),
        ("a × b", {"a": (0.12, 2), "b": (63.546, 3)}, 7.62552, 1),
        ("a / b", {"a": (1.0, 2), "b": (3.0, 3)}, 1 / 3, 3),
    ],
)  # fmt: skip
def test_the_place_of_the_last_figure(
    formula: str, read: dict[str, tuple[float, int]], value: float, decimals: int
) -> None:
    """A value taken over keeps its decimals, a sum those of its coarsest term (0 °C: 273.15 K,
    two decimals), a product the figures of its coarsest factor: two of 7.6, three of 0.333.
    """
    given = {name: Figured(number, places, "g") for name, (number, places) in read.items()}
    (line,) = followed([Step("x", "x", formula, value, "g")], given)
    assert line.result.decimals == decimals


@pytest.mark.parametrize(
    ("value", "decimals", "figures"),
    [
        (0.12, 2, 2), (1.0, 2, 3), (0.9996, 2, 3), (0.9996, 4, 4), (4.0, -1, 1), (6.0, -1, 1),
        (120.0, -1, 2), (0.0, 3, 1), (0.004, 2, 2), (63.546, 3, 5), (1.5, math.inf, math.inf),
    ],
)  # fmt: skip
def test_how_many_figures_a_value_has(value: float, decimals: float, figures: float) -> None:
    assert Figured(value, decimals).figures == figures


@pytest.mark.parametrize(
    ("value", "decimals", "guard", "text"),
    [
        (0.1, 1, 2, "0.1"), (0.123456, 2, 2, "0.1235"), (0.123456, 2, 0, "0.12"),
        (0.125, 2, 2, "0.125"), (294.55, 1, 2, "294.55"), (294.5, 1, 2, "294.5"),
        (1 / 3, 1, 1, "0.33"), (120.0, -1, 0, "1.2 × 10²"), (2.0, math.inf, 2, "2"),
    ],
)  # fmt: skip
def test_guard_digits_are_written_if_they_are_no_zeros(
    value: float, decimals: float, guard: int, text: str
) -> None:
    assert guarded(Figured(value, decimals), guard) == text
