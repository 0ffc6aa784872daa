"""Edges of the decision core that mutants showed to be untested: its records, and the verdict."""

from __future__ import annotations

import dataclasses
import importlib
from typing import Any

import pytest

from stoichkit.decision.verdict import Verdict, VerdictKind, evidence_grade

CORE = (
    "uncertainty.sources",
    "uncertainty.ratio_set",
    "uncertainty.pooling",
    "uncertainty.straight_line",
    "decision.verdict",
    "decision.evidence",
    "decision.linear",
)
RECORDS = [
    thing
    for module in map(importlib.import_module, (f"stoichkit.{name}" for name in CORE))
    for name, thing in vars(module).items()
    if isinstance(thing, type)
    and dataclasses.is_dataclass(thing)
    and thing.__module__ == module.__name__
    and not name.startswith("_")
]


@pytest.mark.parametrize(
    ("ratio", "words"),
    [
        (1.0, "not worth more than a bare mention"),
        (3.0, "not worth more than a bare mention"),
        (3.0001, "positive"),
        (20.0, "positive"),
        (20.0001, "strong"),
        (150.0, "strong"),
        (150.0001, "very strong"),
    ],
)
def test_an_edge_of_the_printed_scale_belongs_to_the_weaker_word(ratio: float, words: str) -> None:
    """R. E. Kass and A. E. Raftery (1995): 1 to 3, 3 to 20, 20 to 150; edges by our choice."""
    assert evidence_grade(ratio) == words


def test_a_verdict_cannot_be_changed() -> None:
    verdict = Verdict(VerdictKind.NONE_FITS, (), 0.95)
    with pytest.raises(dataclasses.FrozenInstanceError):
        verdict.coverage = 0.5  # type: ignore[misc]


def test_the_core_has_records() -> None:
    names = {record.__name__ for record in RECORDS}
    assert names >= {"Source", "Contribution", "Interval", "RatioSet", "Caveat", "Verdict"}
    assert names >= {"CandidateEvidence", "Evidence", "Pooled", "Outlying", "Line", "Scatter"}


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: record.__name__)
def test_no_field_of_a_result_can_be_set_or_deleted(record: Any) -> None:
    made = object.__new__(record)
    for field in dataclasses.fields(record):
        with pytest.raises(dataclasses.FrozenInstanceError):
            setattr(made, field.name, 0)
        with pytest.raises(dataclasses.FrozenInstanceError):
            delattr(made, field.name)
