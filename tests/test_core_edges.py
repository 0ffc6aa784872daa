"""Edges of the decision core that mutants showed to be untested."""

from __future__ import annotations

import dataclasses

import pytest

from stoichkit.verdict import Verdict, VerdictKind, evidence_grade


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
