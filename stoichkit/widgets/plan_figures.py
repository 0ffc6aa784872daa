"""The figures of a plan: as typed, and as numbers."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

from ..errors import ModelError, StoichkitError
from ..evidence import assess
from ..experiment import Experiment
from ..instruments import Balance
from ..plan_sentences import amount_label, consumed_molar_mass
from ..planning import Plan
from ..readings import parse_number
from ..uncertain import nominal
from .evaluation import Refusal, refusal_of

__all__ = ["FIELDS", "Figures", "first_texts", "label_of_figure", "read_figures"]

FIELDS = (
    "amount",
    "trials",
    "spread",
    "target",
    "readability",
    "repeatability",
    "recovery_low",
    "recovery_high",
    "excess",
    "groups",
)
"""Names of the figures, in the order of the panel."""
_PERCENT = re.compile(r"(.*?)\s*%\s*")


@dataclass(frozen=True, slots=True)
class Figures:
    """The figures of a plan, read from the texts.

    Attributes
    ----------
    plan : Plan
    target : float
        Chance of a right conclusion asked for.
    excess : float
        How many times over reagents in excess are taken.
    groups : int
    """

    plan: Plan
    target: float
    excess: float
    groups: int


def first_texts(base: Experiment) -> dict[str, str]:
    """Return the figures of an experiment as texts: its usual amount, trials and balance.

    >>> from stoichkit import experiments
    >>> first_texts(experiments.load("copper-silver"))["amount"]
    '0.11'
    """
    amount = abs(nominal(assess(base).n_consumed)) * consumed_molar_mass(base)
    balance = _balance_of(base)
    stated = None if balance is None else balance.repeatability_g
    low, high = base.recovery
    return {
        "amount": _short(float(f"{amount:.2g}")),
        "trials": str(min(len(base.trials), 64)),
        "spread": "10 %",
        "target": "0.9",
        "readability": "" if balance is None else _short(balance.readability_g),
        "repeatability": "" if stated is None else _short(stated),
        "recovery_low": _short(low),
        "recovery_high": _short(high),
        "excess": "1.2",
        "groups": "6",
    }


def label_of_figure(name: str, base: Experiment) -> str:
    """Return the label of a figure."""
    text = amount_label(base)
    return {
        "amount": text[:1].upper() + text[1:],
        "trials": "Trials of each group",
        "spread": "Each amount is met to within",
        "target": "Target: chance of a right conclusion",
        "readability": "Readability of the balance, g",
        "repeatability": "Repeatability of the balance, g",
        "recovery_low": "Least fraction of the product recovered",
        "recovery_high": "Largest fraction (above 1: water or residue)",
        "excess": "Reagents in excess, times over",
        "groups": "Groups",
    }[name]


def read_figures(
    texts: Mapping[str, str], base: Experiment
) -> tuple[Figures | None, dict[str, Refusal]]:
    """Read all texts of a plan.

    Returns
    -------
    (Figures or None, dict of str to Refusal)
        The figures, or why texts cannot be used.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> lab = experiments.load("copper-silver")
    >>> texts = first_texts(lab)
    >>> read_figures(texts, lab)[0].plan.trials
    4
    >>> print(read_figures({**texts, "spread": "10"}, lab)[1]["spread"])
    This figure cannot be used. Given: 10. Allowed: 0 to 90 %.
    """
    weighed = _balance_of(base) is not None
    refusals: dict[str, Refusal] = {}
    numbers: dict[str, float] = {}
    for name in FIELDS:
        optional = name == "repeatability" or (name == "readability" and not weighed)
        try:
            numbers[name] = _number(name, texts[name], optional)
        except StoichkitError as error:
            refusals[name] = refusal_of(error)
    if refusals:
        return None, refusals
    low, high = numbers["recovery_low"], numbers["recovery_high"]
    if low > high:
        advice = f"Allowed: {low:g} or more."
        return None, {"recovery_high": Refusal("The largest fraction is below the least.", advice)}
    try:
        experiment = replace(base, recovery=(low, high))
        for name, instrument in experiment.instruments.items():
            if isinstance(instrument, Balance):
                experiment = experiment.with_instrument(name, _changed(instrument, numbers))
        plan = Plan(
            experiment=experiment,
            consumed_mol=numbers["amount"] / consumed_molar_mass(base),
            trials=int(numbers["trials"]),
            spread=numbers["spread"],
        )
    except StoichkitError as error:
        return None, {"amount": refusal_of(error)}
    return Figures(plan, numbers["target"], numbers["excess"], int(numbers["groups"])), {}


def _balance_of(experiment: Experiment) -> Balance | None:
    found = (i for i in experiment.instruments.values() if isinstance(i, Balance))
    return next(found, None)


def _changed(balance: Balance, numbers: Mapping[str, float]) -> Balance:
    step, noise = numbers["readability"], numbers["repeatability"]
    return replace(
        balance,
        readability_g=step,
        repeatability_g=None if math.isnan(noise) else noise,
        linearity_g=balance.linearity_g * step / balance.readability_g,
    )


def _number(name: str, text: str, optional: bool) -> float:
    """Read one text; nan where it may be empty and is."""
    low, high, words = _LIMITS[name]
    if optional and not text.strip():
        return math.nan
    match = _PERCENT.fullmatch(text)
    value = parse_number(match[1] if match else text, "figure").value
    if match:
        value /= 100
    whole = name in ("trials", "groups")
    if not low <= value <= high or (whole and value != int(value)):
        raise ModelError("This figure cannot be used.", given=text, allowed=words)
    return value


_LIMITS = {
    "amount": (1e-9, 1e6, "above 0"),
    "trials": (1, 64, "a whole number, 1 to 64"),
    "spread": (0.0, 0.9, "0 to 90 %"),
    "target": (0.05, 0.999, "0.05 to 0.999"),
    "readability": (1e-6, 100.0, "0.000001 to 100 g"),
    "repeatability": (0.0, 100.0, "0 to 100 g, or empty: half the readability is assumed"),
    "recovery_low": (0.05, 10.0, "0.05 to 10"),
    "recovery_high": (0.05, 10.0, "0.05 to 10"),
    "excess": (1.0, 20.0, "1 to 20"),
    "groups": (1, 60, "a whole number, 1 to 60"),
}


def _short(value: float) -> str:
    """Write a number without a power of ten."""
    text = f"{value:.9f}".rstrip("0").rstrip(".")
    return text or "0"
