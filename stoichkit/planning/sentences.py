"""What a plan promises, and the answers to its questions, sentence by sentence, as plain text.

Nothing here is escaped: a renderer escapes every sentence as a whole.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace

from ..chemistry.elements import molar_mass_value
from ..decision.sentences import unplanned_sentence
from ..experiments.looks import ever_excluded
from ..experiments.record import Experiment
from ..measurement.displays import Balance
from ..text.parts import Table
from ..text.wording import capitalised, joined, species_text
from ..uncertainty import entry
from .design import DesignMap
from .following import FurtherTrials, NextTrials
from .outcomes import Chances
from .plan import NOTHING, OperatingCharacteristic, Plan
from .questions import RECOVERY, Answer
from .simulation import Counts, SimulatedLabs

_SMALLEST = 5e-4
_RARE = 0.02
_VERDICTS = (
    ("right", "right: singled out"),
    ("not_told_apart", "not told apart"),
    ("none_fits", "none fits"),
    ("wrong", "wrong: another singled out"),
    ("cannot_be_judged", "cannot be judged"),
)


def chance_text(chance: float, target: float = 0.0) -> str:
    """Write a chance so that the digits shown stand on the right side of a target.

    >>> chance_text(0.4177), chance_text(0.8973, 0.9), chance_text(0.004)
    ('0.42', '0.897', '0.004')
    >>> chance_text(0.0), chance_text(0.99987)
    ('below 0.001', 'above 0.999')
    """
    if chance < _SMALLEST:
        return "below 0.001"
    if chance > 1 - _SMALLEST:
        return "above 0.999"
    decimals = 2 if 0.01 <= chance <= 0.99 else 3
    while decimals < 9 and (float(f"{chance:.{decimals}f}") >= target) != (chance >= target):
        decimals += 1
    return f"{chance:.{decimals}f}"


def step_text(value_g: float) -> str:
    """Write the step of a display in g.

    >>> step_text(0.0001), step_text(1.0), step_text(0.02)
    ('0.0001 g', '1 g', '0.02 g')
    """
    decimals = max(-math.floor(math.log10(value_g) + 1e-9), 0)
    text = f"{value_g:.{decimals + 2}f}".rstrip("0").rstrip(".")
    return f"{text} g"


def amount_label(experiment: Experiment) -> str:
    """Name the amount to react and its unit: a mass, or the amount of electrons.

    >>> from stoichkit import experiments
    >>> [amount_label(experiments.load(n)) for n in ("copper-silver", "copper-plating")]
    ['mass of Cu to react in each trial, g', 'amount of electrons to pass in each trial, mmol']
    """
    species = experiment.consumed.species
    if species == "e-":
        return "amount of electrons to pass in each trial, mmol"
    return f"mass of {species_text(species)} to react in each trial, g"


def amount_text(plan: Plan, *, up: bool = False) -> str:
    """Write the amount of a plan, rounded up if it is the least that will do.

    >>> from stoichkit import experiments
    >>> amount_text(Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.002))
    '0.127 g of Cu'
    """
    if plan.experiment.consumed.species == "e-":
        return f"{three_digits(1000 * plan.consumed_mol, up=up)} mmol of electrons"
    species = species_text(plan.experiment.consumed.species)
    return f"{three_digits(plan.consumed_mass_g, up=up)} g of {species}"


def three_digits(value: float, *, up: bool = False) -> str:
    """Write a number above 0 with three significant digits, without zeros at the end.

    >>> three_digits(0.06174), three_digits(0.06174, up=True), three_digits(250.0)
    ('0.0617', '0.0618', '250')
    """
    decimals = max(2 - math.floor(math.log10(value)), 0)
    if up:
        value = math.ceil(value * 10**decimals * (1 - 1e-9)) / 10**decimals
    text = f"{value:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def setting_sentence(plan: Plan) -> str:
    """Say what is planned.

    >>> from stoichkit import experiments
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.002, trials=3)
    >>> setting_sentence(plan)
    '3 trials, each with 0.127 g of Cu to within 10 %, on a balance that reads to 0.01 g, at 95 %
    coverage.'
    """
    entry.record("plan", plan, Plan)
    number = "1 trial" if plan.trials == 1 else f"{plan.trials} trials, each"
    how = f"to within {100 * plan.spread:g} %" if plan.spread else "exactly"
    cover = f"{100 * plan.experiment.coverage_each():g} % coverage"
    allowed = ""
    low, high = plan.experiment.recovery
    if (low, high) != (1.0, 1.0):
        allowed = (
            f" Between {three_digits(low)} and {three_digits(high)} of the product is recovered: "
            "any part in between."
        )
    allowed += _variation_words(plan)
    steps = {
        i.readability_g for i in plan.experiment.instruments.values() if isinstance(i, Balance)
    }
    balance = f", on a balance that reads to {step_text(min(steps))}" if len(steps) == 1 else ""
    return f"{number} with {amount_text(plan)} {how}{balance}, at {cover}.{allowed}"


def _variation_words(plan: Plan) -> str:
    """Say how much the trials truly differ, if anything is said of it."""
    variation = plan.experiment.variation
    if variation is None:
        return ""
    if variation.unknown:
        return (
            " How much the trials truly differ is unknown: each lab is judged by its own scatter "
            "as well, and they are planned to differ by nothing but their readings."
        )
    known = "" if variation.from_trials is None else f", known from {variation.from_trials} trials"
    return (
        f" What is recovered differs from trial to trial by {100 * variation.relative:.3g} % "
        f"(standard deviation{known})."
    )


def chances_sentence(truth: str, found: Chances) -> str:
    """Say what labs of a plan come to if one candidate is true.

    >>> chances_sentence("SnO2", Chances(0.93, 0.004, 0.046, 0.02))
    'If SnO2 is true, the chance that a lab singles it out is 0.93; that it cannot tell, 0.05;
    that it finds no candidate to fit, 0.02; that it names the wrong one, 0.004.'
    """
    last = found.cannot_be_judged
    more = f"; that it cannot be judged, {chance_text(last)}" if last >= _SMALLEST else ""
    return (
        f"If {truth} is true, the chance that a lab singles it out is "
        f"{chance_text(found.right)}; that it cannot tell, {chance_text(found.not_told_apart)}; "
        f"that it finds no candidate to fit, {chance_text(found.none_fits)}; that it names the "
        f"wrong one, {chance_text(found.wrong)}{more}."
    )


def hardest_sentence(found: OperatingCharacteristic, target: float) -> str:
    """Say whether a plan reaches its target, for the candidate that is hardest to single out.

    >>> from stoichkit import experiments
    >>> from stoichkit.planning.plan import operating_characteristic
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.0005, trials=2)
    >>> hardest_sentence(operating_characteristic(plan), 0.9)
    'Not enough: if copper(I) is true, the hardest to single out, the chance of a right
    conclusion is 0.67; 0.9 is wanted.'
    """
    entry.record("found", found, OperatingCharacteristic)
    target = entry.number("target", target, least=0, most=1)
    shown = chance_text(found.right, target)
    most = found.plan.experiment.coverage_each()
    some = found.plan.experiment.recovery
    worst = "" if some[0] == some[1] else ", at the worst of what may be recovered,"
    text = (
        f"if {found.hardest} is true, the hardest to single out, the chance of a right "
        f"conclusion is{worst} {shown}{_on_average(found)}; {target:g} is wanted."
    )
    text += _precision(found)
    if found.right >= target:
        return f"Enough: {text}"
    if target > most:
        text += (
            f" The test itself keeps the true candidate in only {100 * most:g} % of labs at "
            "worst: a higher chance needs a higher coverage probability."
        )
    return f"Not enough: {text}"


def _on_average(found: OperatingCharacteristic) -> str:
    """Write the chance averaged over what may be recovered, in brackets, if anything may be."""
    low, high = found.plan.experiment.recovery
    return "" if low == high else f" (on average {chance_text(found.average_right)})"


def _precision(found: OperatingCharacteristic) -> str:
    """Say how precise the chances are where they were simulated."""
    simulated = [c for c in found.chances.values() if c.labs]
    if not simulated:
        return ""
    error = max(c.standard_error for c in simulated)
    return (
        f" The chances are those of {simulated[0].labs:,} simulated labs for each candidate and "
        f"recovery (standard error up to {max(error, 1e-4):.1g})."
    )


def wrong_sentence(found: OperatingCharacteristic) -> str:
    """Say how often a lab of the plan would name a wrong candidate, at most.

    >>> from stoichkit import experiments
    >>> from stoichkit.planning.plan import operating_characteristic
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.002, trials=2)
    >>> wrong_sentence(operating_characteristic(plan))
    'The chance that a lab names the wrong candidate is below 0.001, whichever is true.'
    """
    entry.record("found", found, OperatingCharacteristic)
    bound = chance_text(found.wrong)
    words = bound if bound.startswith("below") else f"at most {bound}"
    return f"The chance that a lab names the wrong candidate is {words}, whichever is true."


def single_answer_sentence(found: OperatingCharacteristic) -> str:
    """Say how many of the labs that single out a candidate name the true one.

    >>> from stoichkit import experiments
    >>> from stoichkit.planning.plan import operating_characteristic
    >>> lab = experiments.load("copper-silver-coarse")
    >>> single_answer_sentence(operating_characteristic(Plan(experiment=lab, consumed_mol=0.002)))
    'Of 100 labs of this plan that single out a candidate, about 91 name the true one, if it is
    among the candidates.'
    """
    part = entry.record("found", found, OperatingCharacteristic).right_of_single
    if math.isnan(part):
        return "No lab of this plan would single out a candidate."
    right = 100 * part
    if right >= 99.95:
        words = "more than 99.9"
    elif right > 99:
        words = f"about {right:.1f}"
    else:
        words = f"about {right:.0f}"
    return (
        f"Of 100 labs of this plan that single out a candidate, {words} name the true one, if it "
        "is among the candidates."
    )


def chances_table(
    chances: Iterable[tuple[str, Chances]],
    target: float = 0.0,
    *,
    average: Mapping[str, Chances] | None = None,
) -> Table:
    """Return the chance of each verdict for each candidate taken as true.

    Parameters
    ----------
    chances : iterable of (str, Chances)
        Such as ``operating_characteristic(plan).chances.items()``.
    target : float
    average : mapping of str to Chances, optional
        The chances averaged over what may be recovered: the right one has a column of its own.

    Examples
    --------
    >>> table = chances_table([("SnO2", Chances(0.93, 0.004, 0.046, 0.02))])
    >>> table.header[:2], table.rows[0][:5]
    (('if this is true', 'right: singled out'), ('SnO2', '0.93', '0.05', '0.02', '0.004'))
    """
    target = entry.number("target", target, least=0, most=1)
    chances = entry.listed("chances", chances, tuple)
    if average is not None:
        entry.mapping("average", average, "{candidate: chances}")
        for name, _ in chances:
            entry.record(f"average of {name}", average.get(name), Chances)
    rows = tuple(
        (
            name,
            chance_text(found.right, target),
            *([] if average is None else [chance_text(average[name].right, target)]),
            *(chance_text(getattr(found, part)) for part, _ in _VERDICTS[1:]),
        )
        for name, found in chances
    )
    first, *others = (words for _, words in _VERDICTS)
    mean = [] if average is None else ["right, on average over the recovery"]
    return Table(("if this is true", first, *mean, *others), rows, "Chance of each verdict")


def meaning_sentence(labs: SimulatedLabs) -> str:
    """Say what the simulated labs of a plan mean for a class.

    >>> from stoichkit import experiments
    >>> from stoichkit.planning.simulation import simulate_labs
    >>> plan = Plan(experiment=experiments.load("copper-silver-coarse"), consumed_mol=0.0015)
    >>> meaning_sentence(simulate_labs(plan, "copper(II)"))
    'Most labs cannot tell: 348 of 400 fit more than one candidate. The candidates lie closer
    together than these readings can see. Copper(II) is true, but only 34 labs can say so. 11
    would name the wrong candidate.'
    """
    counts, truth = entry.record("labs", labs, SimulatedLabs).counts, labs.truth
    total = counts.labs
    if truth == NOTHING:
        first = (
            f"Nothing reacted in these labs, and {_some(counts.wrong)} of {total} single out a "
            f"candidate all the same; {counts.not_told_apart} cannot tell."
        )
        return " ".join([first, *_mistaken(replace(counts, wrong=0), 0.0)])
    if counts.right >= 0.9 * total:
        first = f"Nearly all labs find the truth: {counts.right} of {total} single out {truth}."
    elif counts.right >= 0.5 * total:
        first = (
            f"More labs than not find the truth: {counts.right} of {total} single out {truth}; "
            f"{counts.not_told_apart} cannot tell."
        )
    elif counts.not_told_apart >= 0.5 * total:
        few = _only(counts.right)
        first = (
            f"Most labs cannot tell: {counts.not_told_apart} of {total} fit more than one "
            "candidate. The candidates lie closer together than these readings can see. "
            f"{capitalised(truth)} is true, but {few} can say so."
        )
    else:
        first = (
            f"Labs disagree: {counts.right} of {total} single out {truth}, "
            f"{counts.not_told_apart} cannot tell."
        )
    return " ".join([first, *_mistaken(counts, labs.plan.experiment.coverage_each())])


def _some(number: int) -> str:
    return str(number) if number else "none"


def _only(number: int) -> str:
    if number == 0:
        return "no lab"
    return "only 1 lab" if number == 1 else f"only {number} labs"


def _mistaken(counts: Counts, coverage: float) -> list[str]:
    said = []
    if counts.wrong > _RARE * counts.labs:
        said.append(f"{counts.wrong} would name the wrong candidate.")
    if counts.none_fits > _RARE * counts.labs:
        reason = (
            f": the test may exclude the true candidate by chance in up to "
            f"{100 * (1 - coverage):.2g} % of labs"
        )
        said.append(f"{counts.none_fits} find that none fits{reason if coverage else ''}.")
    if counts.cannot_be_judged:
        said.append(
            f"{counts.cannot_be_judged} cannot be judged: an amount comes out below zero, beyond "
            "what the readings explain."
        )
    return said


def map_sentence(found: DesignMap, experiment: Experiment, marked_g: Iterable[float]) -> str:
    """Say what the map shows for the balances at hand.

    Parameters
    ----------
    found : DesignMap
    experiment : Experiment
    marked_g : iterable of float
        Display steps of the balances at hand, g.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.planning.design import design_map
    >>> lab = experiments.load("copper-silver")
    >>> found = design_map(lab, masses_g=[0.01, 0.1, 1.0], readabilities_g=[0.001, 0.01, 0.1])
    >>> map_sentence(found, lab, [0.01, 0.1])
    'To reach a chance of 0.9 with 1 trial, react at least 0.1 g of Cu on a balance that reads to
    0.01 g and 1 g on one that reads to 0.1 g, as far as this map is fine enough to tell.'
    """
    entry.record("found", found, DesignMap)
    species = species_text(entry.record("experiment", experiment, Experiment).consumed.species)
    marks = entry.array("marked_g", marked_g, ndim=(1,), empty=True, above=0)
    trials = f"{found.trials} trial{'s' if found.trials > 1 else ''}"
    enough: list[tuple[float, float]] = []
    never: list[tuple[float, float]] = []
    for step in sorted(marks.tolist()):
        mass = found.smallest_mass_g(step)
        (never if math.isnan(mass) else enough).append((step, mass))
    said = []
    if enough:
        (step, mass), *others = enough
        parts = [
            f"{three_digits(mass)} g of {species} on a balance that reads to {step_text(step)}"
        ]
        parts += [f"{three_digits(m)} g on one that reads to {step_text(s)}" for s, m in others]
        said.append(
            f"To reach a chance of {found.target:g} with {trials}, react at least "
            f"{joined(parts)}, as far as this map is fine enough to tell."
        )
        less = found.smallest_mass_g(step, average=True)
        if less < mass:
            said.append(
                "That holds at the worst of what may be recovered; on average over it "
                f"{three_digits(less)} g is enough on a balance that reads to {step_text(step)}."
            )
    if never:
        steps = joined([step_text(step) for step, _ in never], "or")
        least, most = float(found.masses_g[0]), float(found.masses_g[-1])
        said.append(
            f"On a balance that reads to {steps} no mass from {three_digits(least)} g to "
            f"{three_digits(most)} g reaches a chance of {found.target:g}."
        )
    return " ".join(said) or f"Target: a chance of {found.target:g} with {trials}."


def consumed_molar_mass(experiment: Experiment) -> float:
    """Return grams in a mole of the consumed species, or 1000 (mmol in a mole) for electrons."""
    species = experiment.consumed.species
    return 1000.0 if species == "e-" else molar_mass_value(species)


_SHARED = 0.5
"""Part of the variance from shared sources above which trials are said to level off."""


def noise_limited(answer: Answer) -> bool:
    """Return whether more trials would go on helping, since little is shared by all of them."""
    return answer.shared_share < _SHARED


def answer_sentences(answer: Answer) -> str:
    """Answer a planning question, with the chance at the answer and one step short of it.

    >>> from stoichkit import experiments
    >>> from stoichkit.planning.plan import Plan
    >>> from stoichkit.planning.questions import fewest_trials
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
    }[entry.record("answer", answer, Answer).question]
    return said(answer)


def _then(answer: Answer, what_is_short: str) -> str:
    at = chance_text(answer.at.right, answer.target)
    text = f"The chance of a right conclusion is then {at}{_on_average(answer.at)}"
    if answer.short is None or not what_is_short:
        return f"{text}."
    short = chance_text(answer.short.right, answer.target)
    return f"{text}; {what_is_short} it is {short}, short of {answer.target:g}."


def _reason(answer: Answer) -> str:
    """Say which source stands in the way, and whether it is shared by all trials."""
    coverage = answer.at.plan.experiment.coverage_each()
    if answer.target > coverage:
        return (
            f"at {100 * coverage:g} % coverage the test may exclude the truth in up to "
            f"{100 * (1 - coverage):.4g} % of labs (ask for a smaller chance or more coverage)"
        )
    if answer.limiting == RECOVERY:
        return "what may be recovered makes one candidate look like another, whatever is read"
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
        levels = f"stays {best}" if best.startswith("below") else f"levels off at {best}"
        return f"No number of trials is enough: {_reason(answer)}; the chance {levels}."
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
    verb = answer.at.plan.experiment.produced.verb
    text = (
        f"Largest recovery allowance: ±{100 * answer.value:.1f} %, product {verb} between "
        f"{low:g} and {high:g} times what was made."
    )
    short = "with 0.5 % more" if answer.short else ""
    return f"{text} {_then(answer, short)}"


def sample_cost_sentence(fine: Answer, coarse: Answer, fine_g: float, coarse_g: float) -> str:
    """Say how much more of the reactant a coarser balance needs for the same chance.

    >>> from stoichkit import experiments
    >>> from stoichkit.planning.design import with_readability
    >>> from stoichkit.planning.plan import Plan
    >>> from stoichkit.planning.questions import smallest_amount
    >>> fine = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.001)
    >>> lab = with_readability(fine.experiment, 0.1)
    >>> coarse = Plan(experiment=lab, consumed_mol=0.01)
    >>> sample_cost_sentence(smallest_amount(fine), smallest_amount(coarse), 0.01, 0.1)
    'A balance that reads to 0.1 g instead of 0.01 g needs 10 times the sample for the same
    chance: 0.7 g of Cu instead of 0.07 g of Cu.'
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


def next_sentences(found: NextTrials) -> list[str]:
    """Say how many more trials, and of what kind, would settle the answer.

    >>> from stoichkit import assess, experiments
    >>> from stoichkit.planning import next_trials
    >>> found = next_trials(assess(experiments.load("copper-silver-coarse")), most=2)
    >>> print(next_sentences(found)[2])
    On a balance that reads to 0.01 g, without the trials so far: 1 trial (chance 0.97).
    """
    evidence = entry.record("found", found, NextTrials).evidence
    if found.right_now >= found.target:
        return [
            f"Nothing more is needed: if one of the candidates is true, it is "
            f"{evidence.verdict.candidates[0]} with a chance of {chance_text(found.right_now)}."
        ]
    labels = [
        f"For a chance of {found.target:g} of a right answer, with more trials like these, judged "
        "together with them",
        f"With {found.larger_by:g} times the amount ({_further_amount(found)}), judged together",
    ]
    if found.finer is not None:
        step = step_text(found.finer.readability_g)
        labels.append(f"On a balance that reads to {step}, without the trials so far")
    said = [f"{label}: {_fewest(way)}." for label, way in zip(labels, found.ways, strict=True)]
    return [*said, *_asking(found)]


def _further_amount(found: NextTrials) -> str:
    experiment = found.evidence.experiment
    return amount_text(Plan(experiment=experiment, consumed_mol=found.larger.consumed_mol))


def _fewest(way: FurtherTrials) -> str:
    """Say how many trials reach the target, or how far the most looked at come."""
    if way.fewest is None:
        best = max(way.chances, key=lambda one: one.right)
        number = _trials(way.trials[-1])
        return f"not within {number} (chance at most {chance_text(best.right, way.target)})"
    at = way.chances[way.trials.index(way.fewest)]
    return f"{_trials(way.fewest)} (chance {chance_text(at.right, way.target)})"


def _trials(number: int) -> str:
    return "1 trial" if number == 1 else f"{number} trials"


def _asking(found: NextTrials) -> list[str]:
    """Say what it takes to ask again, and how sure these chances are."""
    evidence = found.evidence
    looks, made = evidence.experiment.looks, len(evidence.amounts)
    planned = looks is not None and looks.is_planned(made + found.alike.trials[0])
    if planned:
        again = (
            "The chances are those of one planned look after so many trials, at the level that the "
            "plan leaves to each."
        )
    else:
        number = 2 if looks is None else looks.number(made) + 1
        level, alpha = 1 - evidence.coverage, 1 - evidence.together
        again = "Decide on a number and ask once, after the last of them. " + unplanned_sentence(
            number, ever_excluded(number, level), level, alpha
        )
    off = max(one.standard_error for way in found.ways for one in way.chances)
    labs = max(one.labs for one in found.alike.chances)
    return [
        again,
        "One of the candidates is taken to be true, each as probable as the readings make it; the "
        f"trials to come are like those made. Simulated: {labs:,} continuations from a fixed seed "
        f"(standard error up to {off:.1g}).",
    ]


def next_table(found: NextTrials) -> Table:
    """Return the chance of a right answer by the number of further trials and their kind.

    >>> from stoichkit import assess, experiments
    >>> from stoichkit.planning import next_trials
    >>> found = next_trials(assess(experiments.load("copper-silver-coarse")), most=2)
    >>> [row[0] for row in next_table(found).rows], len(next_table(found).header)
    (['1', '2'], 4)
    """
    entry.record("found", found, NextTrials)
    names = ["like these", f"{found.larger_by:g} times the amount"]
    if found.finer is not None:
        names.append(f"balance to {step_text(found.finer.readability_g)}, begun anew")
    rows = []
    for number in sorted({n for way in found.ways for n in way.trials}):
        cells = [
            chance_text(way.chances[way.trials.index(number)].right, way.target)
            if number in way.trials
            else "–"
            for way in found.ways
        ]
        rows.append((str(number), *cells))
    return Table(
        ("Further trials", *names), tuple(rows), "Chance of a right answer after further trials"
    )
