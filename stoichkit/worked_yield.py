"""The percent yield, worked out step by step."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from .errors import ModelError
from .evidence import CandidateEvidence, Evidence, assess
from .figures import Figured, Token
from .sentences import yield_sentence
from .uncertain import nominal
from .worked_steps import MOL, guarded, remark_on, symbols_of
from .worked_styles import Equation, WorkedSection

__all__ = ["yield_section"]

_MOST = 3


def yield_section(
    evidence: Evidence, decimals: tuple[float, float], name: str | None = None
) -> WorkedSection:
    """Return the percent yield of the mean amounts for one candidate, or for those that fit.

    Parameters
    ----------
    evidence : Evidence
    decimals : (float, float)
        Decimals that count of the mean amounts consumed and produced, mol.
    name : str, optional
        A candidate; those that fit (at most 3), or the nearest, if left out.

    Raises
    ------
    ModelError
        If there is no such candidate.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> section = yield_section(assess(experiments.load("copper-silver")), (4, 4))
    >>> section.parts[-1]
    'For copper(II) the percent yield is 103 %; 96 % to 112 % fits these readings (95 % coverage).'
    """
    if name is not None and name not in evidence.candidates:
        raise ModelError(
            "There is no such candidate.", given=name, allowed=", ".join(evidence.candidates)
        )
    fitting = evidence.verdict.candidates or (evidence.nearest.name,)
    names = fitting[:_MOST] if name is None else (name,)
    measured = evidence
    if evidence.experiment.recovery != (1.0, 1.0):
        plain = replace(evidence.experiment, recovery=(1.0, 1.0))
        measured = assess(plain, coverage=evidence.coverage)
    means = (
        Figured(nominal(measured.n_consumed), decimals[0], MOL),
        Figured(nominal(measured.n_produced), decimals[1], MOL),
    )
    parts: list[str | Equation] = []
    if measured is not evidence:
        parts.append("The amounts as measured count here, without the recovery allowance.")
    for one in names:
        if means[0].value > 0:
            parts += _steps(measured, measured.candidates[one], *means)
        parts.append(yield_sentence(evidence, one))
    return WorkedSection("Percent yield", tuple(parts))


def _steps(
    evidence: Evidence, tested: CandidateEvidence, used: Figured, made: Figured
) -> Iterator[Equation]:
    consumed, produced = (Token("symbol", text) for text in symbols_of(evidence))
    times, slash = Token("sign", "×"), Token("sign", "/")
    ratio = tested.candidate.ratio
    factor = Token("number", str(ratio) if ratio.denominator == 1 else f"({ratio})")
    full = _with_figures(float(ratio) * used.value, used.figures, MOL)
    theoretical = (Token("words", "theoretical"), produced)
    yield Equation(
        (theoretical, (factor, times, consumed), (factor, times, guarded(used)), (guarded(full),)),
        remark_on(full, 0.0, f"what {tested.name} gives in full"),
    )
    percent = _with_figures(100 * made.value / full.value, min(made.figures, full.figures), "%")
    hundred = Token("number", "100 %")
    yield Equation(
        (
            (Token("words", "percent yield"),),
            (hundred, times, produced, slash, *theoretical),
            (hundred, times, guarded(made), slash, guarded(full)),
            (guarded(percent),),
        ),
        remark_on(percent, 0.0, f"if the product is that of {tested.name}"),
    )


def _with_figures(value: float, figures: float, unit: str) -> Figured:
    size = math.floor(math.log10(abs(value))) + 1 if value else 1
    return Figured(value, figures - size, unit)
