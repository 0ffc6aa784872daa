"""Sentences about causes, combined effects, slips, drying and redox, as plain text.

Nothing here is escaped: a renderer escapes every sentence as a whole.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from ..decision.verdict import Reason, Verdict
from ..text.parts import Table
from ..text.wording import (
    capitalised,
    joined,
    number_text,
    power_of_ten,
    shown_range,
    species_text,
    two_digits,
)
from ..uncertainty import entry
from .causes import Cause, Combination
from .constant_mass import Drying
from .slips import TURNED_ROUND, Slip, SlipKind
from .stability import LIMITS, RedoxFinding, SpotTest

_WHERE = {"produced": "of what was measured as product", "consumed": "of what was consumed"}


def cause_sentence(cause: Cause) -> str:
    """Say how much of an effect would make a candidate fit, and whether that can be.

    Examples
    --------
    >>> from stoichkit import assess, experiments
    >>> from stoichkit.diagnosis.causes import causes_for
    >>> causes = causes_for(assess(experiments.load("copper-silver")), "copper(I)")
    >>> print(cause_sentence(causes[0]))
    Product not dry: copper(I) would fit with 0.187 g to 0.221 g of water in each trial, 47 % to
    56 % of what was measured as product. It makes the ratio and the yield too large.
    """
    effect, name = entry.record("cause", cause, Cause).effect, cause.candidate
    head = f"{capitalised(effect.name)}: "
    if math.isnan(cause.needed):
        return f"{head}it does not change how well {name} fits."
    turn = f" It makes the ratio and the yield {cause.turn}." if cause.ratio_change else ""
    if not cause.possible:
        return f"{head}{_impossible(cause)}{turn}"
    low, high = cause.possible_range
    if cause.fits_without:
        return (
            f"{head}{name} fits without it, and with up to {_amount(high, effect.unit)} of "
            f"{_substance(cause)} in each trial ({_part(cause, high)}).{turn}"
        )
    ends = shown_range(low, high)
    stretch = f"{ends[0]} {effect.unit} to {ends[1]} {effect.unit}"
    return (
        f"{head}{name} would fit with {stretch} of {_substance(cause)} in each trial, "
        f"{_part(cause, low, high)}.{turn}"
    )


def _impossible(cause: Cause) -> str:
    effect, name = cause.effect, cause.candidate
    if cause.high < 0:
        return f"it cannot make {name} fit, because it acts in the wrong direction."
    return (
        f"{name} would need at least {_amount(cause.low, effect.unit)} of {_substance(cause)} in "
        f"each trial, and no more than {_amount(cause.most, effect.unit)} is possible."
    )


def _substance(cause: Cause) -> str:
    text = cause.effect.substance
    words = {"H2O": "water", "O": "oxygen", "N": "nitrogen", "H2": "hydrogen"}
    return words.get(text) or (species_text(text) if text else "it")


def _amount(value: float, unit: str) -> str:
    return f"{two_digits(max(value, 0.0))} {unit}"


def _part(cause: Cause, *amounts: float) -> str:
    """Write amounts as a part of what was measured."""
    if not cause.needed or math.isnan(cause.fraction):
        return "a part that cannot be stated"
    each = cause.fraction / cause.needed
    shown = [f"{two_digits(100 * each * amount)} %" for amount in amounts]
    return f"{' to '.join(dict.fromkeys(shown))} {_WHERE[cause.fraction_of]}"


def check_sentence(cause: Cause) -> str:
    """Say what the effect does and how to find out.

    >>> from stoichkit import assess, experiments
    >>> from stoichkit.diagnosis.causes import causes_for
    >>> causes = causes_for(assess(experiments.load("copper-silver")), "copper(I)")
    >>> print(check_sentence(causes[0]))
    Water held by the silver or by what it is weighed on is weighed as silver. To check: dry, cool
    and weigh again until the mass no longer changes.
    """
    check = cause.effect.check
    return f"{cause.effect.mechanism} To check: {check[0].lower()}{check[1:]}"


def causes_paragraph(causes: Iterable[Cause]) -> str:
    """Sum up which effects could explain a candidate that is excluded.

    >>> from stoichkit import assess, experiments
    >>> from stoichkit.diagnosis.causes import causes_for
    >>> evidence = assess(experiments.load("copper-silver"))
    >>> print(causes_paragraph(causes_for(evidence, "copper(I)")))
    copper(I) does not fit as the readings stand. 4 of 9 effects could make it fit alone: product
    not dry, salt left by poor washing, product left on the metal and metal damp when weighed
    afterwards. That an effect could explain it does not show that it happened.
    """
    every = entry.listed("causes", causes, Cause)
    if not every:
        return "No effect is known for this kind of lab."
    name = every[0].candidate
    if every[0].fits_without:
        return f"{name} fits as the readings stand; no effect is needed."
    able = [cause.effect.name for cause in every if cause.explains]
    first = f"{name} does not fit as the readings stand."
    if not able:
        return (
            f"{first} None of the {len(every)} effects known for this kind of lab could make it "
            "fit alone."
        )
    return (
        f"{first} {len(able)} of {len(every)} effects could make it fit alone: {joined(able)}. "
        "That an effect could explain it does not show that it happened."
    )


_MEANT = {"produced": "of the product measured", "consumed": "of what was consumed"}


def effects_table(causes: Iterable[Cause]) -> Table:
    """Return for one candidate what each effect would have to amount to.

    Examples
    --------
    >>> from stoichkit import assess, experiments
    >>> from stoichkit.diagnosis.causes import causes_for
    >>> causes = causes_for(assess(experiments.load("copper-silver")), "copper(I)")
    >>> effects_table(causes).rows[2][:3]
    ('Product left in the vessel or the filtrate', '−0.20 g, which cannot be', 'No: it acts in the
    wrong direction.')
    """
    every = entry.listed("causes", causes, Cause)
    header = (
        "Effect",
        "Amount in each trial that makes it fit",
        "Possible?",
        "Makes ratio and yield",
    )
    rows = tuple((capitalised(c.effect.name), _needed(c), _possible(c), c.turn) for c in every)
    name = every[0].candidate if every else ""
    return Table(header, rows, f"Effects on {name}, one at a time" if name else "")


def _needed(cause: Cause) -> str:
    """Say the exact amount, the range that fits, and what part of what was measured that is."""
    unit = cause.effect.unit
    if cause.kind == "unmoved":
        return "any amount" if cause.fits_without else "no amount"
    if cause.high < 0:
        return f"−{two_digits(-cause.needed)} {unit}, which cannot be"
    exactly = f"{two_digits(cause.needed)} {unit} exactly" if cause.needed > 0 else "none exactly"
    low, high = shown_range(max(cause.low, 0.0), cause.high)
    text = f"{exactly}; {low} {unit} to {high} {unit} fits"
    parts = cause.fraction_low, cause.fraction_high
    if all(map(math.isfinite, parts)):
        ends = dict.fromkeys(f"{two_digits(100 * max(end, 0.0))} %" for end in parts)
        text += f", {' to '.join(ends)} {_MEANT[cause.fraction_of]}"
    return text


def _possible(cause: Cause) -> str:
    unit = cause.effect.unit
    most = "no end in sight" if math.isinf(cause.most) else f"{two_digits(cause.most)} {unit}"
    return {
        "possible": f"Yes: the masses allow up to {most}.",
        "free": f"Yes, but not needed: it fits without. The masses allow up to {most}.",
        "too much": f"No: the masses allow {most} at most.",
        "wrong way": "No: it acts in the wrong direction.",
        "unmoved": "It does not change how well the candidate fits.",
    }[cause.kind]


def combination_sentence(found: Combination) -> str:
    """Say which amounts of two effects together make a candidate fit.

    >>> from stoichkit import assess, experiments
    >>> from stoichkit.diagnosis.causes import combine
    >>> from stoichkit.diagnosis.effects import effect_named
    >>> lab = experiments.load("copper-silver")
    >>> pair = [effect_named(lab, key) for key in ("wet product", "lost product")]
    >>> print(combination_sentence(combine(assess(lab), "copper(I)", *pair)))
    copper(I) would fit exactly with 0.20 g (product not dry) and none (product left in the vessel
    or the filtrate), with 0.39 g and 0.19 g, or with any pair evenly in between.
    """
    a, b = entry.record("found", found, Combination).effects
    if not found.band:
        return (
            f"No possible amounts of {a.name} and {b.name} together would make {found.candidate} "
            "fit."
        )
    if not found.line or found.line[0] == found.line[1]:
        return (
            f"{found.candidate} would fit with some possible amounts of {a.name} and {b.name}, "
            "but with none exactly."
        )
    (a0, b0), (a1, b1) = found.line
    ends = [
        [_amount(amount, unit) if amount > 1e-9 else "none" for amount, unit in pair]
        for pair in (((a0, a.unit), (b0, b.unit)), ((a1, a.unit), (b1, b.unit)))
    ]
    return (
        f"{found.candidate} would fit exactly with {ends[0][0]} ({a.name}) and {ends[0][1]} "
        f"({b.name}), with {ends[1][0]} and {ends[1][1]}, or with any pair evenly in between."
    )


_SLIP_WORDS = {
    SlipKind.OFF_GRID: "the display cannot show this value",
    SlipKind.SWAPPED: "two readings may be swapped",
    SlipKind.TARE: "the vessel may have been tared off already",
    SlipKind.UNIT: "it may be in another unit",
    SlipKind.DECIMAL: "the decimal mark may be lost or misplaced",
    SlipKind.TRANSPOSED: "two digits may be transposed",
}
_SLIP_CHECK = {
    SlipKind.OFF_GRID: "Check it against the notebook, and which instrument was used",
    SlipKind.SWAPPED: "Check in the notebook which was read first",
    SlipKind.TARE: "Check whether the balance was set to zero with the vessel on it",
    SlipKind.UNIT: "Check the unit on the display",
    SlipKind.DECIMAL: "Check the decimal mark in the notebook",
    SlipKind.TRANSPOSED: "Check the digits in the notebook",
}


def no_slip_sentence(verdict: Verdict, *, beside: str = "") -> str:
    """Say that no slip was found; of readings below zero not that they can be right.

    Parameters
    ----------
    verdict : Verdict
    beside : str
        What the readings were compared with, such as ``"the other trials of the class"``.

    Examples
    --------
    >>> from stoichkit import assess, experiments
    >>> no_slip_sentence(assess(experiments.load("copper-silver")).verdict)
    'No slip was found: the readings of each trial can be right as they were typed.'
    """
    entry.text("beside", beside)
    if entry.record("verdict", verdict, Verdict).reason is Reason.BELOW_ZERO:
        return (
            "No single slip was found that would put these readings right: check which is "
            "subtracted from which, in the record of the experiment too (heavier and lighter, "
            "plus and minus, final and initial)."
        )
    compared = f"beside {beside}, " if beside else ""
    return (
        f"No slip was found: {compared}the readings of each trial can be right as they were typed."
    )


def slip_sentence(slip: Slip, *, trials: int = 2) -> str:
    """Say which reading cannot be right, what it might have been, and what to check.

    Parameters
    ----------
    slip : Slip
    trials : int
        Trials of the lab: with a single one the sentence says that an effect could do the same.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.diagnosis.slips import find_slips
    >>> lab = experiments.load("copper-silver").with_reading("bench 3", "wire before", "1.34")
    >>> print(slip_sentence(find_slips(lab)[0], trials=4))
    Trial bench 3, wire before: 1.34 does not agree with the other readings; two digits may be
    transposed. With 3.14 the trial fits copper(II). Check the digits in the notebook; nothing was
    changed.
    """
    trials = entry.whole("trials", trials, least=1)
    entry.record("slip", slip, Slip)
    place = f"Trial {slip.trial}" if slip.trial else "All trials"
    if slip.kind is SlipKind.OUTLYING:
        return (
            f"{place}: it stands apart from its fellows, and no single correction puts it right. "
            "Find out what was different in this trial before leaving it out."
        )
    if slip.kind is SlipKind.OVERWEIGHT:
        read = f", {slip.readings[0]} ({slip.typed[0]})" if slip.readings else ""
        suspect = "something else taken for it" if slip.rule else "water, residue"
        return (
            f"{place}{read}: more product than any candidate allows for what was consumed. Suspect "
            f"{suspect}, a lost reading of what was consumed, or a missing candidate."
        )
    names = joined(list(slip.readings))
    typed, right = joined(list(slip.typed)), joined(list(slip.corrected))
    words = _SLIP_WORDS[slip.kind]
    if slip.rule == TURNED_ROUND:
        words = "both differences may be the wrong way round"
    check = f"{_SLIP_CHECK[slip.kind]}; nothing was changed."
    if slip.kind is SlipKind.OFF_GRID:
        return f"{place}, {names}: {typed} cannot be right; {words}. Nearest: {right}. {check}"
    unit = f" ({slip.rule})" if slip.kind is SlipKind.UNIT else ""
    verb = "do" if len(slip.readings) > 1 else "does"
    fits = (
        "the trial fits" if slip.trial else "every trial fits (the values are those of the first)"
    )
    more = f" {slip.alternatives} corrections would do." if slip.alternatives > 1 else ""
    alone = (
        " There is a single trial, so a physical effect could do the same." if trials == 1 else ""
    )
    return (
        f"{place}, {names}: {typed} {verb} not agree with the other readings; {words}{unit}. "
        f"With {right} {fits} {slip.candidate}.{more}{alone} {check}"
    )


def drying_sentence(found: Drying) -> str:
    """Say whether the mass is constant, how much water may be left and when to weigh next.

    >>> from stoichkit.diagnosis.constant_mass import drying
    >>> from stoichkit.measurement.displays import Balance
    >>> print(drying_sentence(drying(
    ...     [(0, "1.842"), (10, "1.571"), (20, "1.469"), (30, "1.433"), (45, "1.416")],
    ...     Balance(readability_g=0.001))))
    Not yet constant: the last change was −0.017 g, and the balance resolves 0.002 g. About 0.005 g
    of water is left (95 % coverage). Weigh next at about 70 min.
    """
    entry.record("found", found, Drying)
    state = "Constant" if found.constant else "Not yet constant"
    size = number_text(found.change_g)
    limit = _in_steps(math.ceil(found.limit_g / found.step_g - 1e-9) * found.step_g, found.step_g)
    first = f"{state}: the last change was {size} g, and the balance resolves {limit}."
    if not found.consistent:
        middle = (
            "The weighings do not follow an even approach, so what is left cannot be told: look "
            "for spitting, moisture taken up while cooling, or a warm crucible."
        )
    elif math.isnan(found.water_high_g):
        middle = "Two weighings cannot tell how much water is left."
    elif math.isinf(found.water_high_g):
        middle = (
            "These weighings put no upper limit on the water left: they are too few or too close "
            "together to tell slow drying from dryness."
        )
    else:
        left, low, high = (
            _in_steps(value, found.step_g)
            for value in (found.water_left_g, found.water_low_g, found.water_high_g)
        )
        between = "" if low == high else f"{low} to {high}, "
        about = capitalised(left) if left.startswith("less") else f"About {left}"
        middle = f"{about} of water is left ({between}95 % coverage)."
    if found.settled:
        return f"{first} {middle} No further weighing is needed."
    return f"{first} {middle} Weigh next at about {found.next_min:.0f} min."


def _in_steps(value_g: float, step_g: float) -> str:
    """Write a mass with the digits that a balance shows.

    >>> _in_steps(0.0049, 0.001), _in_steps(0.00015, 0.01)
    ('0.005 g', 'less than 0.01 g')
    """
    places = max(0, math.ceil(-math.log10(step_g) - 1e-9))
    shown = f"{value_g:.{places}f}"
    return f"{shown} g" if float(shown) > 0 else f"less than {step_g:.12g} g"


def redox_sentence(found: RedoxFinding) -> str:
    """Say what standard potentials have for or against a candidate.

    >>> from stoichkit import experiments
    >>> from stoichkit.diagnosis.stability import redox_findings
    >>> print(redox_sentence(redox_findings(experiments.load("copper-silver"))[1]))
    Against copper(I): Cu⁺ would turn into a higher and a lower state (2 Cu⁺ → Cu + Cu²⁺, +0.368
    V, K about 10⁶).
    """
    one = found.cell
    ion = species_text(found.ion)
    equation = _arrow(one.equation) if one.equation else "equation needs water or acid"
    constant = power_of_ten(round(one.log10_K))
    numbers = f"{one.potential_V:+.3f} V, K about {constant}".replace("-", "−")
    inside = f"({equation}, {numbers})"
    if one.direction == "undecided":
        return f"{capitalised(found.candidate)}: the potentials decide nothing {inside}."
    metal = species_text(one.anode.reduced)
    text = {
        ("formation", True): f"its own reaction would not go {inside}",
        ("formation", False): f"its own reaction can go {inside}",
        ("reduction", True): f"{metal} would reduce {ion} {inside}",
        ("reduction", False): f"{metal} does not reduce {ion} {inside}",
        ("disproportionation", True): (
            f"{ion} would turn into a higher and a lower state {inside}"
        ),
        ("disproportionation", False): (
            f"{ion} does not turn into a higher and a lower state {inside}"
        ),
    }[found.kind, found.against]
    return f"{'Against' if found.against else 'Not against'} {found.candidate}: {text}."


def _arrow(equation: str) -> str:
    left, _, right = equation.partition(" -> ")
    sides = []
    for side in (left, right):
        terms = [term.split(" ") for term in side.split(" + ")]
        sides.append(" + ".join(" ".join([*t[:-1], species_text(t[-1])]) for t in terms))
    return " → ".join(sides)


def redox_sentences(findings: Iterable[RedoxFinding]) -> list[str]:
    """Return all findings with their limits; independent of the readings and of the verdict.

    >>> from stoichkit import experiments
    >>> from stoichkit.diagnosis.stability import redox_findings
    >>> redox_sentences(redox_findings(experiments.load("copper-silver")))[-1]
    'This stands beside the verdict from the readings and is not part of it.'
    """
    found = [redox_sentence(one) for one in entry.listed("findings", findings, RedoxFinding)]
    if not found:
        return ["Standard potentials say nothing about these candidates."]
    return [
        *found,
        *LIMITS,
        "This stands beside the verdict from the readings and is not part of it.",
    ]


def spot_test_sentence(candidate: str, test: SpotTest) -> str:
    """Say how to confirm a candidate by a spot test, with cautions.

    >>> from stoichkit.diagnosis.stability import spot_tests
    >>> print(spot_test_sentence("iron(III)", spot_tests("Fe^3+")[1])[:88])
    To confirm iron(III), test for Fe³⁺ with potassium thiocyanate solution: blood-red colou
    """
    entry.text("candidate", candidate)
    entry.record("test", test, SpotTest)
    return (
        f"To confirm {candidate}, test for {species_text(test.ion)} with {test.reagent}: "
        f"{test.seen}. Beware: {test.misled_by}. Cautions: {test.cautions} Check the safety data "
        f"sheet and local rules. ({capitalised(test.source)}.)"
    )
