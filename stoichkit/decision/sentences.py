"""What the evidence says beside the verdict, sentence by sentence; the report puts them in order.

Nothing here is escaped: a renderer escapes every sentence as a whole.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ..chemistry.elements import molar_mass_value
from ..experiments.looks import by_student, ever_excluded
from ..measurement.base import Models
from ..measurement.buoyancy import (
    AIR_G_PER_CM3,
    AIR_HALF_WIDTH_G_PER_CM3,
    NOTHING,
    UNKNOWN_G_PER_CM3,
)
from ..text.wording import (
    joined,
    p_clause,
    shown_range,
    species_text,
    symbol,
)
from ..uncertainty import entry
from ..uncertainty.ratio_set import Interval
from ..uncertainty.sources import nominal
from .evidence import Evidence, air_of
from .routes import ROUTES_LEVEL, SIDES, Agreement
from .statement import concluded, would
from .verdict import Caveat, CaveatKind, Diagnosis, Reason, VerdictKind
from .yields import yield_for


def _symbols(evidence: Evidence) -> tuple[str, str]:
    """Return the symbols of the amounts produced and consumed."""
    experiment = evidence.experiment
    return symbol(experiment.produced.species), symbol(experiment.consumed.species)


def second_opinion_sentence(evidence: Evidence) -> str:
    """Say what the scatter of the trials alone leads to; "" where there is no such opinion.

    >>> from stoichkit import assess, experiments
    >>> print(second_opinion_sentence(assess(experiments.load("copper-silver"))))
    Judged by the scatter of the trials alone, the verdict is the same.
    >>> print(second_opinion_sentence(assess(experiments.load("copper-silver-coarse"))))
    Judged by the scatter of the trials alone, the readings single out copper(II). That is not
    enough: errors that act alike in all trials (display steps, calibration) do not show in it.
    """
    second = entry.record("evidence", evidence, Evidence).second_opinion
    if second is None:
        return ""
    found = concluded(second.candidates, len(evidence.candidates))
    first = f"Judged by the scatter of the trials alone, the readings {found}"
    if evidence.doubted:  # the verdict itself says what each leads to
        return (
            "Nothing was stated about how much the trials truly differ (in what is recovered, in "
            "drying): state it (variation), or make more trials."
        )
    if second.candidates == evidence.verdict.candidates:
        return "Judged by the scatter of the trials alone, the verdict is the same."
    # what stands there is the stricter one
    value = "is not enough" if second.candidates else "does not count against the verdict"
    return (
        f"{first}. That {value}: errors that act alike in all trials (display steps, "
        "calibration) do not show in it."
    )


def look_sentence(evidence: Evidence) -> str:
    """Say which of the planned looks this is, and what is judged at each; "" where none are.

    >>> from dataclasses import replace
    >>> from stoichkit import assess, experiments
    >>> lab = experiments.load("copper-silver")
    >>> plan = experiments.Looks(planned=3, trials_each=2)
    >>> print(look_sentence(assess(replace(lab, looks=plan))))
    Look 2 of 3 planned: each is judged at 2.2 %, so that over all of them a true candidate is
    excluded at most 5 % of the time.
    >>> look_sentence(assess(lab))
    ''
    """
    experiment = entry.record("evidence", evidence, Evidence).experiment
    looks, trials = experiment.looks, len(evidence.amounts)
    if looks is None or looks.planned is None or not looks.is_planned(trials):
        return ""  # a look that was not planned is a warning
    percent = f"{100 * (1 - evidence.together):.4g} %"
    if looks.planned == 1:
        return f"The one look planned: a true candidate is excluded at most {percent} of the time."
    return (
        f"Look {looks.number(trials)} of {looks.planned} planned: each is judged at "
        f"{100 * (1 - evidence.coverage):.3g} %, so that over all of them a "
        f"true candidate is excluded at most {percent} of the time."
    )


def unplanned_sentence(number: int, ever: float, level: float, alpha: float) -> str:
    """Say what asking again after adding trials does to the promise.

    ``number`` looks, each at ``level``, instead of ``alpha`` for all; ``ever`` is how often the
    truth is then excluded at one of them.

    >>> print(unplanned_sentence(3, 0.1073, 0.05, 0.05))
    Asked 3 times while trials are added, each time at 5 %, a true candidate is excluded at
    some time in up to 11 % of labs, not 5 %.
    """
    return (
        f"Asked {number} times while trials are added, each time at "
        f"{100 * level:.3g} %, a true candidate is excluded at some time in up to "
        f"{100 * ever:.2g} % of labs, not {100 * alpha:.4g} %."
    )


def asked_again_sentence(evidence: Evidence, before: int) -> str:
    """Say what it does to the promise if verdicts with fewer trials decided to go on; or "".

    ``before`` is how many were seen; where looks are planned or counted the verdict says it.

    >>> from stoichkit import assess, experiments
    >>> print(asked_again_sentence(assess(experiments.load("copper-silver")), 1))
    A verdict with fewer trials was shown before. If it decided whether to go on: asked 2 times
    while trials are added, each time at 5 %, a true candidate is excluded at some time in up to
    8.3 % of labs, not 5 %. Plan the looks in the experiment file ([looks]).
    """
    entry.record("evidence", evidence, Evidence)
    before = entry.whole("before", before, least=0, most=100)
    if not before or evidence.experiment.looks is not None:
        return ""
    alpha = 1 - evidence.together
    said = unplanned_sentence(before + 1, ever_excluded(before + 1, alpha), alpha, alpha)
    return (
        "A verdict with fewer trials was shown before. If it decided whether to go on: "
        f"{said[0].lower()}{said[1:]} Plan the looks in the experiment file ([looks])."
    )


def _unplanned_look(evidence: Evidence, ever: float) -> str:
    looks, trials = evidence.experiment.looks, len(evidence.amounts)
    level, alpha = 1 - evidence.coverage, 1 - evidence.together
    number = 1 if looks is None else looks.number(trials)
    if looks is None or looks.planned is None:
        said = unplanned_sentence(number, ever, level, alpha)
        return f"This is look {number}, and none was planned. {said} Plan the looks beforehand."
    if number > looks.planned:
        said = unplanned_sentence(number, ever, level, alpha)
        were = "1 was" if looks.planned == 1 else f"{looks.planned} were"
        return f"This is look {number}, and {were} planned. {said}"
    return (
        f"This look was not planned: stage {number} of {looks.planned} ends with "
        f"{number * looks.trials_each} trials, and there are {trials}. Wait for it; each look "
        f"between two stages may exclude a true candidate in {100 * level:.3g} % of labs more "
        f"({100 * ever:.3g} % with this one, not {100 * alpha:.4g} %)."
    )


def ratio_sentence(evidence: Evidence) -> str:
    """Say which mole ratios fit the readings.

    >>> from stoichkit import assess, experiments
    >>> print(ratio_sentence(assess(experiments.load("copper-silver"))))
    Mole ratios n(Ag)/n(Cu) from 1.92 to 2.24 fit these readings (95 % coverage); the mean
    amounts give 2.07.
    """
    said = _ratio_sentence(entry.record("evidence", evidence, Evidence))
    if evidence.verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
        return f"This is no result, since the readings cannot be judged. {said}"
    low, high = evidence.experiment.recovery
    if low < high:
        said += (
            f" A candidate fits where its ratio times a recovered part from {100 * low:.4g} % to "
            f"{100 * high:.4g} % is among them."
        )
    return said


def _ratio_sentence(evidence: Evidence) -> str:
    found = evidence.ratio_set
    produced, consumed = _symbols(evidence)
    ratio = f"{produced}/{consumed}"
    marks = [c.tested_ratio for c in evidence.candidates.values()]
    cover = f"{100 * evidence.coverage:g} % coverage"
    if not found.intervals:
        return (
            f"No mole ratio {ratio} from 0 up fits these readings ({cover}): check which reading "
            "is subtracted from which."
        )
    if len(found.intervals) > 1:
        pieces = joined([_stretch(piece, marks) for piece in found.intervals])
        return f"Mole ratios {ratio} {pieces} fit these readings, those between do not ({cover})."
    (whole,) = found.intervals
    low, high = shown_range(whole.low, whole.high, marks)
    if whole.low <= 0 and not high:
        return (
            f"These readings exclude no mole ratio {ratio}: every ratio from 0 up fits ({cover})."
        )
    if not high:
        return (
            f"These readings put no upper limit on the mole ratio {ratio}: every ratio from "
            f"{low} up fits ({cover})."
        )
    if whole.low <= 0:
        return (
            f"These readings put no lower limit on the mole ratio {ratio}: every ratio from 0 "
            f"to {high} fits ({cover})."
        )
    estimate = f"{evidence.ratio:.{len(low.partition('.')[2])}f}"
    return (
        f"Mole ratios {ratio} from {low} to {high} fit these readings ({cover}); the mean "
        f"amounts give {estimate}."
    )


def _stretch(piece: Interval, marks: Iterable[float], unit: str = "") -> str:
    low, high = shown_range(piece.low, piece.high, marks)
    low = low if piece.low > 0 else "0"
    return f"from {low}{unit} to {high}{unit}" if high else f"from {low}{unit} up"


_SENSIBLE = 1e5
"""Per cent: a stretch of yields that begins above this is left out beside another."""


def _yields(evidence: Evidence, name: str) -> tuple[Interval, ...]:
    """Return the percent yields of a candidate that fit the readings."""
    factor = 100 / entry.record("evidence", evidence, Evidence).named(name).ratio
    found = [Interval(factor * i.low, factor * i.high) for i in evidence.ratio_set.intervals]
    return tuple(i for i in found if i.low < _SENSIBLE) or tuple(found)


def yield_sentence(evidence: Evidence, name: str) -> str:
    """Say what the percent yield is if one candidate is true.

    >>> from stoichkit import assess, experiments
    >>> print(yield_sentence(assess(experiments.load("copper-silver")), "copper(II)"))
    For copper(II) the percent yield is 103 %; 96 % to 112 % fits these readings (95 % coverage).
    """
    pieces = _yields(evidence, name)
    if evidence.verdict.reason is Reason.BELOW_ZERO:
        return f"For {name} no percent yield can be stated: an amount comes out below zero."
    if not pieces:
        return f"For {name} no percent yield from 0 % up fits these readings."
    cover = f"{100 * evidence.coverage:g} % coverage"
    fits = f"{_stretches(pieces)} fits these readings ({cover})"
    found = yield_for(evidence, name)
    if not found.resolved:
        return (
            f"For {name} the percent yield is not told by one figure, because "
            f"{_symbols(evidence)[1]} is not told apart from zero; {fits}."
        )
    more = ""
    if pieces[0].low > 100 * max(evidence.allowed_parts[1], 1.0):
        more = " That is over 100 % beyond its uncertainty."
    elif pieces[0].low > 100:
        kept = ["recovery"] if evidence.experiment.recovery[1] > 1 else []
        kept += ["the buoyancy of air"] if evidence.allows_air else []
        more = f" That is over 100 %, but within the allowance for {joined(kept)}."
    return f"For {name} the percent yield is {_percent(found.estimate, pieces)}; {fits}.{more}"


def yield_words(evidence: Evidence, name: str) -> str:
    """Write the percent yield with what fits, for a table; "–" where there is none.

    >>> from stoichkit import assess, experiments
    >>> yield_words(assess(experiments.load("copper-silver")), "copper(II)")
    '103 % (96 % to 112 %)'
    """
    pieces = _yields(evidence, name)
    if evidence.verdict.reason is Reason.BELOW_ZERO or not pieces:
        return "–"
    found, fits = yield_for(evidence, name), _stretches(pieces)
    return f"{_percent(found.estimate, pieces)} ({fits})" if found.resolved else fits


def _percent(estimate: float, pieces: Sequence[Interval]) -> str:
    """Write a percent yield with the digits of what fits."""
    places = len(shown_range(pieces[0].low, pieces[0].high, [100.0])[0].partition(".")[2])
    return f"{estimate:.{places}f} %"


def compound_sentence(evidence: Evidence, name: str) -> str:
    """Say what part of the compound itself was made where an element is taken up; "" elsewhere.

    What is weighed there is the reactant with what it took up: that mass, against the mass which
    the reactant gives in full as this candidate.

    >>> from stoichkit import assess, experiments
    >>> compound_sentence(assess(experiments.load("tin-oxide")), "SnO2")
    'Of SnO2 itself the yield by mass is 99.99 %; 99.88 % to 100.10 % fits these readings.'
    >>> compound_sentence(assess(experiments.load("copper-silver")), "copper(II)")
    ''
    """
    experiment = evidence.experiment
    taken_up = "element taken up" in experiment.produced.situation(experiment.setting("produced"))
    if not taken_up or evidence.verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
        return ""
    pieces = _yields(evidence, name)
    bounded = len(pieces) == 1 and math.isfinite(pieces[0].high)
    if not bounded or not yield_for(evidence, name).resolved:
        return ""
    per_mole = molar_mass_value(experiment.produced.species)
    per_mole /= molar_mass_value(experiment.consumed.species)
    full = per_mole * evidence.named(name).ratio

    def of_compound(percent: float) -> float:
        return 100 * (1 + full * percent / 100) / (1 + full)

    low, high = shown_range(of_compound(pieces[0].low), of_compound(pieces[0].high), [100.0])
    places = len(low.partition(".")[2])
    estimate = of_compound(yield_for(evidence, name).estimate)
    return (
        f"Of {name} itself the yield by mass is {estimate:.{places}f} %; {low} % to {high} % fits "
        "these readings."
    )


def _stretches(pieces: Sequence[Interval]) -> str:
    """Write ranges of percentages that cannot be mistaken for holding 100 %."""
    shown = [_stretch(piece, [100.0], " %").removeprefix("from ") for piece in pieces]
    return joined([text.replace(" % up", " % or more") for text in shown], "or")


def recovery_sentence(evidence: Evidence, name: str) -> str:
    """Say which recovered part of the product would make a candidate fit, and what it means.

    >>> from stoichkit import assess, experiments
    >>> recovery_sentence(assess(experiments.load("copper-silver")), "copper(I)")
    'copper(I) would fit if 192 % to 224 % of the product had been weighed: residue or water.'
    """
    pieces = _yields(evidence, name)
    if not pieces:
        return f"{name} would fit at no recovery at all: check the readings."
    produced = evidence.experiment.produced
    if len(pieces) == 1 and pieces[0].low > 100:
        meaning = produced.excess_means
    elif len(pieces) == 1 and pieces[0].high < 100:
        meaning = "losses, or an unfinished reaction"
    else:
        meaning = "outside the recovery allowance stated"
    return (
        f"{name} would fit if {_stretches(pieces)} of the product had been {produced.verb}: "
        f"{meaning}."
    )


def caveat_sentence(caveat: Caveat, evidence: Evidence) -> str:
    """Say one warning of the verdict, and what to do about it.

    >>> from stoichkit import assess, experiments
    >>> evidence = assess(experiments.load("copper-silver"))
    >>> print(caveat_sentence(Caveat(CaveatKind.SINGLE_TRIAL), evidence))
    There is a single trial, so nothing shows whether trials agree: repeat the experiment.
    """
    produced, consumed = _symbols(entry.record("evidence", evidence, Evidence))
    subject, value = entry.record("caveat", caveat, Caveat).subject, caveat.value
    match caveat.kind:
        case CaveatKind.NOTHING_SHOWN:
            return (
                "These readings do not show that anything reacted: they could be those of a lab "
                "in which nothing did. See whether it did; let more react, or measure with a "
                "finer instrument."
            )
        case CaveatKind.NOT_RESOLVED if caveat.value < 0:
            return (
                f"{consumed} comes out below zero, beyond what the instruments explain: check "
                "which reading is subtracted from which before anything is concluded."
            )
        case CaveatKind.NOT_RESOLVED:
            return (
                f"{consumed} is not told apart from zero: let more react, or measure it with a "
                "finer instrument."
            )
        case CaveatKind.NOT_LINEAR:
            return (
                "First-order sensitivities do not describe the discrepancy well enough (the "
                f"comparison of JCGM 101:2008 clause 8 fails for {subject}): do not lean on a "
                "p-value near the limit, and look for the reading with a large relative error."
            )
        case CaveatKind.ROUTES_DISAGREE:
            what = consumed if subject == "consumed" else produced
            return routes_disagree(what, value)
        case CaveatKind.EXCESS_SCATTER:
            return _scatter_sentence(evidence, value)
        case CaveatKind.OVER_100:
            weighed = evidence.experiment.produced.weighed
            suspect = "residue, water" if weighed else "something else taken for it"
            return (
                f"{produced} is {value:.4g} % of what {subject}, the nearest candidate, gives in "
                f"full, which is over 100 % beyond its uncertainty: suspect {suspect} or a "
                "missing candidate."
            )
        case CaveatKind.OVER_RECOVERY:
            most = 100 * evidence.experiment.recovery[1]
            return (
                f"{produced} is {value:.4g} % of what {subject}, the nearest candidate, gives in "
                f"full, which is more than the recovery stated (at most {most:.4g} %): widen the "
                "allowance if more can be recovered, or suspect a missing candidate."
            )
        case CaveatKind.SINGLE_TRIAL:
            return (
                "There is a single trial, so nothing shows whether trials agree: repeat the "
                "experiment."
            )
        case CaveatKind.UNPLANNED_LOOK:
            return _unplanned_look(evidence, value)
        case CaveatKind.FINER_ALONE:
            return _finer_alone(evidence)
        case CaveatKind.UNKNOWN_VARIATION if len(evidence.amounts) > 1:
            return (
                "How much trials differ is unknown, and these read too much alike to show it: the "
                "readings alone decide here. Use a finer instrument, or state the variation."
            )
        case CaveatKind.UNKNOWN_VARIATION:
            return (
                "How much trials differ is unknown, and a single trial cannot show it: the "
                "readings alone decide here. Repeat the experiment."
            )
        case CaveatKind.STILL_CHANGING:
            return (
                f"The mass was still changing at {subject}; whatever is left to go, up to ten "
                "times the last change, leads to the same verdict."
            )
        case CaveatKind.DOMINANT_SOURCE:
            return (
                f"{100 * value:.0f} % of the variance comes from one source, {subject}: "
                f"{_advice(subject)}."
            )
        case CaveatKind.ASSUMPTION | CaveatKind.QUESTION:
            return subject


_AFTER_SLIPS = (
    CaveatKind.DOMINANT_SOURCE,
    CaveatKind.NOTHING_SHOWN,
    CaveatKind.NOT_RESOLVED,
    CaveatKind.OVER_100,
    CaveatKind.OVER_RECOVERY,
    CaveatKind.EXCESS_SCATTER,
)
"""Warnings whose advice is worth nothing while a reading looks mistyped."""


def warning_sentences(evidence: Evidence, diagnosis: Diagnosis | None = None) -> list[str]:
    """Say the warnings of a verdict, without what is assumed of the instruments.

    While a reading looks mistyped, none that advises another instrument or suspects an effect.
    ``diagnosis`` is that of the evidence if left out.

    >>> from stoichkit import assess, experiments
    >>> warning_sentences(assess(experiments.load("copper-silver")))
    []
    """
    entry.record("evidence", evidence, Evidence)
    mistyped = (diagnosis or evidence.diagnosis).mistyped
    return [
        caveat_sentence(one, evidence)
        for one in evidence.warnings
        if one.kind is not CaveatKind.ASSUMPTION and not (mistyped and one.kind in _AFTER_SLIPS)
    ]


def _finer_alone(evidence: Evidence) -> str:
    """Say what the trials on the finer instruments tell without the others."""
    alone = evidence.finer_alone
    if alone is None:  # asked of a lab of one set of instruments
        return "Every trial counts alike in the verdict, however fine its instruments."
    names = [trial.name for trial in alone.experiment.trials]
    one = len(names) == 1
    which = f"Trial {names[0]} alone leaves" if one else f"Trials {joined(names)} alone leave"
    found = concluded(alone.verdict.candidates, len(evidence.candidates))
    return (
        "Every trial counts alike in the verdict, however fine its instruments. "
        f"{which} less uncertain than all together and {would(found)}: judge by "
        f"{'it' if one else 'them'} alone if that was meant before the readings were seen."
    )


def _scatter_sentence(evidence: Evidence, ratio_of_spread: float) -> str:
    if not math.isfinite(ratio_of_spread):
        size = "The trials differ although no error of the instruments differs between them"
    else:
        size = f"The trials scatter {ratio_of_spread:.2g} times as much as the instruments explain"
    dof = evidence.scatter.dof if evidence.scatter is not None else 0
    word = "degree" if dof == 1 else "degrees"
    return (
        f"{size}; the p-values allow for that scatter (Student t, {dof} {word} of freedom). Find "
        "out what differs from trial to trial."
    )


_ADVICE = {
    "rounding": "let more react, or read a finer display",
    "repeatability": "let more react, make more trials, or use an instrument that repeats better",
    "linearity": "let more react, or use a balance with a better linearity",
    "calibration": "have the instrument calibrated; more trials do not help",
    "tolerance": "use a better class or a calibrated piece; more trials do not help",
    "temperature": "measure the temperature; more trials do not help",
    "concentration": "standardise the solution better; more trials do not help",
    "purity": "use a purer or assayed substance; more trials do not help",
    "reaction time": "run for longer",
    "variation": "make more trials, or work more alike from trial to trial",
    "atomic weight": "it cannot be reduced in this laboratory",
    "table": "it cannot be reduced in this laboratory",
}


def _advice(subject: str) -> str:
    kinds = (kind for kind in _ADVICE if subject.startswith(kind))
    return _ADVICE.get(next(kinds, ""), "that is where a better measurement helps most")


def assumption_sentences(evidence: Evidence) -> list[str]:
    """List what the verdict takes for granted.

    >>> from stoichkit import assess, experiments
    >>> assumption_sentences(assess(experiments.load("copper-silver")))[0]
    'Coverage probability 95 %: a true candidate is excluded at most 5 % of the time.'
    """
    produced, consumed = _symbols(entry.record("evidence", evidence, Evidence))
    percent = 100 * evidence.together
    low, high = evidence.experiment.recovery
    found = [
        f"Coverage probability {percent:g} %: a true candidate is excluded at most "
        f"{100 - percent:.4g} % of the time{_over_looks(evidence)}.",
        "Display readings are taken at their worst position between two display steps, so this "
        "holds at every amount and not only on average.",
        "Errors act to first order and have the sizes and shapes stated for the instruments.",
        f"All of {consumed} measured as used up went into the reaction of the candidate.",
    ]
    if (low, high) == (1.0, 1.0):
        found.append(f"All of {produced}, and nothing else, was measured as product.")
    else:
        found.append(
            f"Between {100 * low:g} % and {100 * high:g} % of the product was recovered and "
            f"measured as {produced}: any part in between, in each trial its own. The relative "
            "likelihoods are averaged over that range with equal weight."
        )
    found += _variation_sentences(evidence)
    found += route_sentences(evidence)
    found += air_sentences(evidence)
    experiment = evidence.experiment
    found += dict.fromkeys((*experiment.consumed.remarks(), *experiment.produced.remarks()))
    if evidence.verdict.kind is not VerdictKind.NONE_FITS:
        found.append("Only the candidates listed are weighed against each other.")
    return found


def _over_looks(evidence: Evidence) -> str:
    """Say, as a clause, that the promise is shared by planned looks, and by what bound."""
    looks, variation = evidence.experiment.looks, evidence.experiment.variation
    if looks is None or looks.planned is None or looks.planned == 1:
        return ""
    more = "1 trial" if looks.trials_each == 1 else f"{looks.trials_each} trials"
    each = f"{100 * (1 - evidence.coverage):.3g} %"
    how = (
        "that share of it (Bonferroni)"
        if by_student(variation)
        else "the constant level for equal stages (Pocock 1977)"
    )
    return (
        f" over the {looks.planned} planned looks together, one after each {more} "
        f"more; at each look it is {each}, {how}"
    )


def routes_disagree(what: str, p: float) -> str:
    """Say that the routes to an amount disagree, what that does to the verdict, and what to do.

    >>> print(routes_disagree("n(Zn)", 0.002))
    The routes to n(Zn) disagree (p = 0.0020): they are not simply averaged, and a candidate counts
    as compatible if it is by any one route or by all together. Find out which route is at fault.
    """
    return (
        f"The routes to {what} disagree ({p_clause(p, 0.99)}): they are not simply averaged, and "
        "a candidate counts as compatible if it is by any one route or by all together. Find out "
        "which route is at fault."
    )


def route_sentences(evidence: Evidence) -> list[str]:
    """Say of an amount found by several routes what each gives, and whether they agree.

    >>> from stoichkit import assess, experiments
    >>> route_sentences(assess(experiments.load("copper-silver")))
    []
    """
    experiment = entry.record("evidence", evidence, Evidence).experiment
    models = (experiment.consumed, experiment.produced)
    return agreement_sentences(evidence.agreements, models, *amount_unit(evidence))


def agreement_sentences(
    agreements: Sequence[Agreement], models: Models, factor: float, unit: str
) -> list[str]:
    """Say the same of a lab or a class, with amounts in a unit of so many to the mole."""
    found = []
    for side, model in zip(SIDES, models, strict=True):
        compared = [one for one in agreements if one.side == side]
        if not compared:
            continue
        what = symbol(model.species)
        by_route = {
            i: n for one in compared for i, n in zip(one.routes, one.amounts_mol, strict=True)
        }
        shown = [f"{factor * n:.4g} {unit} by route {i}" for i, n in sorted(by_route.items())]
        weights = joined([f"{part:.3g}" for part in model.parts])
        found.append(
            f"{what} {side} was found by {len(by_route)} routes: on average {joined(shown)}. The "
            f"amount is their mean with the fixed weights {weights}."
        )
        for one in compared:
            i, j = one.routes
            difference = factor * (one.amounts_mol[0] - one.amounts_mol[1])
            verdict = "they agree" if one.agree else "they disagree"
            found.append(
                f"Routes {i} and {j} to {what} differ by {difference:+.2g} {unit} ("
                f"{p_clause(one.p_value, 0.99)} if both are sound, from the exact distribution "
                f"of the errors of the difference): {verdict}, since routes count as apart with p "
                f"below {ROUTES_LEVEL / len(compared):.2g}."
            )
    return found


def air_sentences(evidence: Evidence) -> list[str]:
    """Say what is allowed for the buoyancy of air where a density is not stated and it matters.

    >>> from stoichkit import assess, experiments
    >>> air_sentences(assess(experiments.load("copper-silver")))
    []
    """
    if not entry.record("evidence", evidence, Evidence).allows_air:
        return []
    experiment = evidence.experiment
    models = (experiment.consumed, experiment.produced)
    (low, high), _ = air_of(experiment, evidence.amounts)
    names = joined([species_text(m.substance) for m in models if m.unknown_air() != NOTHING])
    densities = "{:g} to {:g} g/cm³".format(*UNKNOWN_G_PER_CM3)
    air = f"{1000 * AIR_G_PER_CM3:g} ± {1000 * AIR_HALF_WIDTH_G_PER_CM3:g} kg/m³"
    return [
        f"No density is stated of {names}, so the buoyancy of air may have changed the mole ratio "
        f"by {100 * (low - 1):+.2f} % to {100 * (high - 1):+.2f} % (densities of {densities}, air "
        f"of {air}): each candidate is tested at the value in that range that agrees best. State "
        "density_g_per_cm3 to narrow it."
    ]


def allowed_words(evidence: Evidence) -> str:
    """Say what lets a candidate be tested beside its own ratio; "" for nothing.

    >>> from stoichkit import assess, experiments
    >>> allowed_words(assess(experiments.load("copper-silver")))
    ''
    """
    entry.record("evidence", evidence, Evidence)
    found = []
    if evidence.experiment.recovery != (1.0, 1.0):
        found.append("the recovered part of the product")
    if evidence.allows_air:
        found.append("the change that the buoyancy of air may have made")
    return " times ".join(found)


def _variation_sentences(evidence: Evidence) -> list[str]:
    variation = evidence.experiment.variation
    if evidence.scatter is None and variation is None:
        return []
    if variation is None:
        if evidence.scatter is not None and evidence.scatter.excess:
            return [
                "The trials differ by more than the errors of their readings: no p-value is "
                "smaller than that by their scatter (Student t)."
            ]
        return ["The trials differ by nothing but the errors of their readings."]
    if evidence.unknown_but_alike:
        return [
            "Nothing is known of how much the trials truly differ, and there is no scatter to "
            "judge it by: the errors of the readings alone decide."
        ]
    if variation.unknown:
        return [
            "Nothing is known of how much the trials truly differ: no p-value is smaller than "
            "that by the scatter of the trials alone (Student t)."
        ]
    known = (
        "known exactly"
        if variation.from_trials is None
        else f"known from {variation.from_trials} earlier trials"
    )
    return [
        f"What is recovered differs from trial to trial by {100 * variation.relative:.3g} % "
        f"(standard deviation, {known})."
    ]


_SHOWN = 0.005
"""Shares below this are merged: they would read 0 %."""


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One class of error sources, merged over the trials.

    Attributes
    ----------
    label : str
        What the error is, e.g. ``"rounding of wire before"``; ``"others"`` for the rest.
    kind : str
        Class of source, e.g. ``"rounding"``; "" for the rest.
    trials : int
        In how many trials it occurs with an error of its own; 0 if all trials share one error.
    sources : int
        Number of elementary error sources merged.
    uncertainty_mmol : float
        Root sum of squares of their contributions to the discrepancy.
    share : float
        Part of the variance of the discrepancy, 0 to 1.
    """

    label: str
    kind: str
    trials: int
    sources: int
    uncertainty_mmol: float
    share: float

    @property
    def words(self) -> str:
        """The label with the number of trials or sources merged.

        >>> BudgetLine("rounding of paper", "rounding", 5, 5, 0.1, 0.2).words
        'rounding of paper (5 trials)'
        """
        if not self.kind:
            return f"{self.label} ({self.sources} sources)"
        return f"{self.label} ({self.trials} trials)" if self.trials > 1 else self.label


def grouped_budget(
    evidence: Evidence, name: str | None = None, *, most: int = 8
) -> tuple[BudgetLine, ...]:
    """Return the budget of the discrepancy from a candidate, merged over the trials.

    Errors of one kind at one reading count as one line however many trials there are.

    Parameters
    ----------
    evidence : Evidence
    name : str, optional
        A candidate; the nearest one if left out.
    most : int
        Lines before the rest is merged as "others", 1 or more; shares below half a percent are
        always merged.

    Returns
    -------
    tuple of BudgetLine
        Largest first, "others" last; shares add up to 1 unless there is no uncertainty at all.

    Raises
    ------
    ModelError
        If there is no candidate of that name.

    Examples
    --------
    >>> from stoichkit import assess, experiments
    >>> evidence = assess(experiments.load("copper-silver"))
    >>> grouped_budget(evidence)[0].words.split(" of ")[0]
    'repeatability'
    """
    entry.record("evidence", evidence, Evidence)
    most = entry.whole("most", most, least=1)
    lines = evidence.budget if name is None else evidence.budget_for(name)
    endings = [f", trial {trial.name}" for trial in evidence.experiment.trials]
    # a name may end like another one does: the longest ending is the right one
    endings.sort(key=len, reverse=True)
    groups: dict[tuple[str, str, bool], list[float]] = {}
    for line in lines:
        source = line.source
        ending = next((e for e in endings if source.label.endswith(e)), "")
        label = source.label.removesuffix(ending)
        sums = groups.setdefault((label, source.kind, bool(ending)), [0.0, 0.0, 0.0])
        sums[0] += 1.0
        sums[1] += line.uncertainty**2
        sums[2] += line.share
    merged = [
        BudgetLine(
            label,
            kind or "other",
            int(count) if own else 0,
            int(count),
            1000.0 * math.sqrt(variance),
            share,
        )
        for (label, kind, own), (count, variance, share) in groups.items()
    ]
    merged.sort(key=lambda line: -line.share)
    kept = [line for line in merged[:most] if line.share >= _SHOWN] or merged[:1]
    rest = merged[len(kept) :]
    if len(rest) < 2:  # one line more takes no more room than "others" would
        return tuple(merged)
    others = BudgetLine(
        "others",
        "",
        0,
        sum(line.sources for line in rest),
        math.sqrt(math.fsum(line.uncertainty_mmol**2 for line in rest)),
        math.fsum(line.share for line in rest),
    )
    return (*kept, others)


def reading_shares(evidence: Evidence) -> dict[str, float]:
    """Return the share of the variance that all errors of one reading make up, by its name.

    >>> from stoichkit import assess, experiments
    >>> found = reading_shares(assess(experiments.load("copper-silver")))
    >>> {name: round(share, 2) for name, share in found.items()}
    {'wire after': 0.46, 'wire before': 0.46, 'paper': 0.04, 'paper + silver': 0.04}
    """
    experiment = entry.record("evidence", evidence, Evidence).experiment
    endings = sorted((f", trial {t.name}" for t in experiment.trials), key=len, reverse=True)
    names = sorted(experiment.reading_names(), key=len, reverse=True)
    found: dict[str, float] = {}
    for line in evidence.budget:
        label = line.source.label
        label = label.removesuffix(next((e for e in endings if label.endswith(e)), ""))
        name = next((name for name in names if label.endswith(f" of {name}")), "")
        if name:
            found[name] = found.get(name, 0.0) + line.share
    return found


def amount_unit(evidence: Evidence) -> tuple[float, str]:
    """Return the factor and the unit in which the amounts have sensible digits.

    >>> from stoichkit import assess, experiments
    >>> amount_unit(assess(experiments.load("copper-silver")))
    (1000.0, 'mmol')
    """
    largest = max(max(abs(nominal(amount)) for amount in pair) for pair in evidence.amounts) or max(
        c.standard_uncertainty_mol for c in evidence.candidates.values()
    )
    for least, factor, unit in ((0.5, 1.0, "mol"), (5e-4, 1e3, "mmol"), (5e-7, 1e6, "µmol")):
        if largest >= least:
            return factor, unit
    return 1e9, "nmol"
