"""Answers to the questions of planning, sentence by sentence, with the reason where there is none.

Nothing here is escaped: a renderer escapes every sentence as a whole.
"""

from __future__ import annotations

from .plan_sentences import amount_text, chance_text, step_text
from .planning_questions import Answer

__all__ = ["answer_sentences", "noise_limited", "sample_cost_sentence"]

_SHARED = 0.5
"""Part of the variance from shared sources above which trials are said to level off."""


def noise_limited(answer: Answer) -> bool:
    """Return whether more trials would go on helping, since little is shared by all of them."""
    return answer.shared_share < _SHARED


def answer_sentences(answer: Answer) -> str:
    """Answer a planning question, with the chance at the answer and one step short of it.

    >>> from stoichkit import experiments
    >>> from stoichkit.planning import Plan
    >>> from stoichkit.planning_questions import fewest_trials
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.0005)
    >>> answer_sentences(fewest_trials(plan))
    'Fewest trials: 4. The chance of a right conclusion is then 0.93; with 3 trials it is 0.84,
    short of 0.9.'
    """
    said = {
        "amount": _amount_answer,
        "trials": _trials_answer,
        "balance": _balance_answer,
        "recovery": _recovery_answer,
    }[answer.question]
    return said(answer)


def _then(answer: Answer, what_is_short: str) -> str:
    at = chance_text(answer.at.right, answer.target)
    text = f"The chance of a right conclusion is then {at}"
    if answer.short is None or not what_is_short:
        return f"{text}."
    short = chance_text(answer.short.right, answer.target)
    return f"{text}; {what_is_short} it is {short}, short of {answer.target:g}."


def _reason(answer: Answer) -> str:
    """Say which source stands in the way, and whether it is shared by all trials."""
    coverage = answer.at.plan.experiment.coverage
    if answer.target > coverage:
        return (
            f"at {100 * coverage:g} % coverage the test may exclude the truth in up to "
            f"{100 * (1 - coverage):.4g} % of labs (ask for a smaller chance or more coverage)"
        )
    limiting = answer.limiting or "the width of the test"
    share = f"{100 * answer.limiting_share:.0f} %" if answer.limiting_share < 0.995 else "over 99 %"
    text = f"{limiting} makes up {share} of the variance"
    return f"{text} and is shared by all trials" if not noise_limited(answer) else text


def _amount_answer(answer: Answer) -> str:
    what = "amount of electrons" if answer.unit == "mol" else "mass to react"
    if not answer.reached:
        return (
            f"No {what} is enough: {_reason(answer)}; the chance at the largest tried, "
            f"{amount_text(answer.at.plan)}, is {chance_text(answer.at.right, answer.target)}, "
            f"short of {answer.target:g}."
        )
    short = f"with {amount_text(answer.short.plan)}" if answer.short else ""
    trials = answer.at.plan.trials
    each = " in each trial" if trials > 1 else ""
    return f"Smallest {what}: {amount_text(answer.at.plan, up=True)}{each}. {_then(answer, short)}"


def _trials_answer(answer: Answer) -> str:
    best = chance_text(answer.at.right, answer.target)
    if not answer.reached:
        tried = answer.at.plan.trials
        if noise_limited(answer):
            return (
                f"{tried} trials are not enough: the chance is then {best}, and "
                f"{_reason(answer)}. More of the reactant or a finer balance helps sooner."
            )
        return f"No number of trials is enough: {_reason(answer)}; the chance levels off at {best}."
    fewer = int(answer.value) - 1
    short = f"with {fewer} trial{'s' if fewer > 1 else ''}"
    return f"Fewest trials: {int(answer.value)}. {_then(answer, short)}"


def _balance_answer(answer: Answer) -> str:
    if not answer.reached:
        return (
            "No balance is fine enough: even with the finest tried the chance is "
            f"{chance_text(answer.at.right, answer.target)}, since {_reason(answer)}."
        )
    short = "with the next coarser one" if answer.short else ""
    text = f"Coarsest balance: one that reads to {step_text(answer.value)}. {_then(answer, short)}"
    return text if answer.short else f"{text} Nothing coarser was tried."


def _recovery_answer(answer: Answer) -> str:
    if not answer.reached:
        return (
            "No recovery allowance can be afforded: even without any the chance is "
            f"{chance_text(answer.at.right, answer.target)}, short of {answer.target:g}."
        )
    low, high = answer.at.plan.experiment.recovery
    if (low, high) == (1.0, 1.0):
        return f"No allowance for losses can be afforded. {_then(answer, 'with the least')}"
    text = (
        f"Largest recovery allowance: ±{100 * answer.value:.1f} %, product weighed between "
        f"{low:g} and {high:g} times what was made."
    )
    short = "with 0.5 % more" if answer.short else ""
    return f"{text} {_then(answer, short)}"


def sample_cost_sentence(fine: Answer, coarse: Answer, fine_g: float, coarse_g: float) -> str:
    """Say how much more of the reactant a coarser balance needs for the same chance.

    >>> from stoichkit import experiments
    >>> from stoichkit.design_grid import with_readability
    >>> from stoichkit.planning import Plan
    >>> from stoichkit.planning_questions import smallest_amount
    >>> fine = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.001)
    >>> lab = with_readability(fine.experiment, 0.1)
    >>> coarse = Plan(experiment=lab, consumed_mol=0.01)
    >>> sample_cost_sentence(smallest_amount(fine), smallest_amount(coarse), 0.01, 0.1)
    'A balance that reads to 0.1 g instead of 0.01 g needs 10 times the sample for the same
    chance: 0.618 g of Cu instead of 0.0618 g of Cu.'
    """
    tool = f"A balance that reads to {step_text(coarse_g)} instead of {step_text(fine_g)}"
    if not fine.reached:
        return f"With a balance that reads to {step_text(fine_g)} no sample is large enough."
    if not coarse.reached:
        return f"{tool} cannot be made up for by a larger sample: {_reason(coarse)}."
    ratio = coarse.value / fine.value
    amounts = f"{_least(coarse)} instead of {_least(fine)}"
    if ratio < 1.05:
        return f"{tool} needs no larger sample: other errors matter more ({amounts})."
    return f"{tool} needs {_two(ratio)} times the sample for the same chance: {amounts}."


def _least(answer: Answer) -> str:
    return amount_text(answer.at.plan, up=True)


def _two(value: float) -> str:
    """Write a number above 1 with two significant digits, or all before the decimal point."""
    return f"{value:.0f}" if value >= 9.95 else f"{value:.1f}"
