"""Candidates typed one a line."""

from __future__ import annotations

import pytest

from stoichkit import experiments
from stoichkit.errors import ExperimentError
from stoichkit.widgets.state.form import read_candidates, spec_of, write_candidates


@pytest.mark.parametrize("name", experiments.names())
def test_written_candidates_are_read_back_whole(name: str) -> None:
    lab = experiments.load(name)
    found = read_candidates(write_candidates(lab), lab)
    assert found == lab.candidates
    assert spec_of(found, lab) == lab.candidate_spec


@pytest.mark.parametrize(
    ("name", "line", "expected"),
    [
        ("copper-silver", "odd = 3/2", ("odd", "3/2")),
        ("copper-silver", "odd = 3 : 2", ("odd", "3/2")),
        ("copper-silver", "2", ("ratio 2", "2")),
        ("copper-silver", "Cu + AgNO3 -> Cu(NO3)2 + Ag", ("Cu(NO3)2", "2")),
        ("copper-silver", "Cu + Ag^+ = Cu^+ + Ag", ("Cu^+", "1")),
        ("copper-silver", "mine = Cu + Ag^+ → Cu^2+ + Ag", ("mine", "2")),
        ("copper-silver", "mine = Cu + Ag^+ = Cu^2+ + Ag", ("mine", "2")),
        ("tin-oxide", "SnO3", ("SnO3", "3")),
        ("tin-oxide", "tin(IV) oxide = SnO2", ("tin(IV) oxide", "2")),
        ("hydrate-heating", "MgSO4.7H2O", ("MgSO4·7H2O", "7")),
        ("hydrate-heating", "2MgSO4·H2O", ("2MgSO4·H2O", "1/2")),
    ],
)
def test_a_line_is_a_ratio_an_equation_or_a_formula(
    name: str, line: str, expected: tuple[str, str]
) -> None:
    (found,) = read_candidates(line, experiments.load(name))
    assert (found.name, str(found.ratio)) == expected


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("a = 1\nb = 0.67", "line 2.*Did you mean 2/3"),
        ("a = 1\n\nb =", "line 3.*not complete"),
        ("= 2", "line 1.*not complete"),
        ("a = two", "line 1.*neither a ratio nor an equation nor a formula"),
        ("Cu ->", "line 1.*right side"),
        ("Cu + Cl2 -> CuCl2", "line 1.*Ag"),
        ("a = 1\na = 2", "same name"),
        ("a = 1\nb = 2/2", "cannot be told apart"),
        (" \n", "no candidate"),
        ("__import__('os').getcwd()", "line 1"),
        ("x" * 5000, "line 1"),
    ],
)
def test_a_refusal_names_its_line(text: str, says: str) -> None:
    with pytest.raises(ExperimentError, match=says):
        read_candidates(text, experiments.load("copper-silver"))


def test_equations_stay_equations_when_one_is_added() -> None:
    lab = experiments.load("copper-plating")
    text = f"{write_candidates(lab)}\ncopper(III) = Cu^3+ + e- -> Cu"
    spec = spec_of(read_candidates(text, lab), lab)
    assert spec.kind == "equations"
    assert list(spec.fields) == ["copper(I)", "copper(II)", "copper(III)"]
