"""Candidates as lines of text, one a line, the form in which they are typed and changed."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

from ..candidates import (
    Candidate,
    check_candidates,
    from_equations,
    from_formulas,
    hydrate_series,
    plain_ratios,
)
from ..errors import ExperimentError, StoichkitError
from ..experiment import CandidateSpec, Experiment
from ..experiment_parts import relocated
from ..formula import parse_formula

__all__ = ["read_candidates", "spec_of", "write_candidates"]

_NAMED_RATIO = re.compile(r"(.+?)\s*=\s*([0-9]+(?:\s?[/:]\s?[0-9]+)?)")
_EQUALS = re.compile(r"(?<![<=])=(?![=>])")
_ARROW = re.compile(r"->|=>|→|⟶|⇌|⇄")
_NUMBER_LIKE = re.compile(r"[0-9.,/:\s+-]+")
_HYDRATE = re.compile(r"([0-9]*)(.+)·([0-9]*)H2O")
_FORMS = "a line such as “copper(I) = 1”, “SnO2” or “copper(I) = Cu + Ag^+ -> Cu^+ + Ag”"


def write_candidates(experiment: Experiment) -> str:
    """Write the candidates of an experiment, one a line.

    Returns
    -------
    str
        ``name = equation`` where they were stated as equations, ``name = ratio`` otherwise.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> print(write_candidates(experiments.load("copper-silver")))
    copper(I) = 1
    copper(II) = 2
    """
    return "\n".join(_lines(experiment))


def _lines(experiment: Experiment) -> dict[str, Candidate]:
    """Return the candidates of a record by the line that stands for each."""
    spec = experiment.candidate_spec
    equations: Mapping[str, str] = spec.fields if spec and spec.kind == "equations" else {}
    return {
        f"{one.name} = {equations.get(one.name, str(one.ratio))}": one
        for one in experiment.candidates
    }


def read_candidates(text: str, experiment: Experiment) -> tuple[Candidate, ...]:
    """Read candidates typed one a line; a line that was not changed keeps its candidate whole.

    Parameters
    ----------
    text : str
        Lines such as ``copper(I) = 1``, ``iron(III) = 3/2``, ``CuNO3 = Cu + AgNO3 -> CuNO3 + Ag``
        (balanced or not, with or without the name), or ``SnO2`` (a formula of the product).
        Empty lines do not count.
    experiment : Experiment
        Gives the two species whose amounts are measured, and the candidates known so far.

    Returns
    -------
    tuple of Candidate

    Raises
    ------
    ExperimentError
        If a line cannot be read (``field`` is then its number), two candidates cannot be told
        apart, or there is none.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> lab = experiments.load("copper-silver")
    >>> found = read_candidates("copper(II) = 2\\nCu + AgNO3 -> CuNO3 + Ag\\nodd = 3/2", lab)
    >>> [(one.name, str(one.ratio)) for one in found]
    [('copper(II)', '2'), ('CuNO3', '1'), ('odd', '3/2')]
    >>> read_candidates("copper(II) = two", lab)
    Traceback (most recent call last):
    stoichkit.errors.ExperimentError: line 1: ...
    """
    known = _lines(experiment)
    consumed, produced = experiment.consumed.species, experiment.produced.species
    spec = experiment.candidate_spec
    elements = spec.fields if spec and spec.kind == "formulas" else {}
    found = []
    for number, line in enumerate(text.splitlines(), start=1):
        plain = line.strip()
        if not plain:
            continue
        try:
            found.append(
                known.get(plain)
                or _candidate(
                    plain,
                    consumed,
                    produced,
                    elements.get("consumed", consumed),
                    elements.get("produced", produced),
                )
            )
        except StoichkitError as error:
            raise relocated(error, field=f"line {number}") from error
    if not found:
        raise ExperimentError("There is no candidate.", allowed=_FORMS)
    try:
        return check_candidates(found)
    except StoichkitError as error:
        raise relocated(error) from error


def spec_of(candidates: tuple[Candidate, ...], experiment: Experiment) -> CandidateSpec:
    """Return how candidates are to be written down: as they were, if they are the same.

    >>> from stoichkit import experiments
    >>> lab = experiments.load("copper-silver")
    >>> spec_of(lab.candidates, lab).kind, spec_of(lab.candidates[:1], lab).kind
    ('oxidation_states', 'ratios')
    """
    before = experiment.candidate_spec
    if before is not None and candidates == experiment.candidates:
        return before
    if before is not None and before.kind == "equations" and all(c.equation for c in candidates):
        return CandidateSpec(
            "equations", {c.name: before.fields.get(c.name, c.equation) for c in candidates}
        )
    return CandidateSpec.of(candidates)


@lru_cache(maxsize=512)
def _candidate(
    line: str, consumed: str, produced: str, element_consumed: str, element_produced: str
) -> Candidate:
    """Read one line."""
    match = _NAMED_RATIO.fullmatch(line)
    if match and not _ARROW.search(match[1]) and " + " not in match[1]:
        return plain_ratios({match[1]: match[2]})[0]
    equals = _EQUALS.search(line)
    name, rest = ("", line)
    if equals and not _ARROW.search(line[: equals.start()]) and " + " not in line[: equals.start()]:
        name, rest = line[: equals.start()].strip(), line[equals.end() :].strip()
    if not rest or (equals and not name and rest is not line):
        raise ExperimentError("The line is not complete.", given=line, allowed=_FORMS)
    if _ARROW.search(rest) or _EQUALS.search(rest):
        equation: Mapping[str, str] | list[str] = {name: rest} if name else [rest]
        return from_equations(equation, consumed=consumed, produced=produced)[0]
    if _NUMBER_LIKE.fullmatch(rest):
        label = name or f"ratio {rest}"
        return plain_ratios({label: rest})[0]
    return _of_formula(name, rest, (consumed, produced), (element_consumed, element_produced))


def _of_formula(
    name: str, text: str, species: tuple[str, str], elements: tuple[str, str]
) -> Candidate:
    """Read a candidate given as the formula of the product, or of the hydrate heated."""
    try:
        plain = parse_formula(text).plain()
    except StoichkitError as error:
        raise ExperimentError(
            f"This is neither a ratio nor an equation nor a formula: {error.problem}",
            given=text,
            allowed=_FORMS,
        ) from error
    water = _HYDRATE.fullmatch(plain)
    if water and (water[2], "H2O") == species:
        count = Fraction(int(water[3] or 1), int(water[1] or 1))
        found = hydrate_series(water[2], waters=[count])[0]
    else:
        found = from_formulas([text], consumed=elements[0], produced=elements[1])[0]
    return replace(found, name=name) if name else found
