"""Slips, yields, effects and potentials as pieces of HTML: every text is escaped."""

from __future__ import annotations

import html
import math
from collections.abc import Iterable, Sequence

from ..cause_sentences import check_sentence, redox_sentence, slip_sentence, spot_test_sentence
from ..causes import Cause
from ..evidence import Evidence
from ..layout import Table
from ..plots.causes import EffectBar, effects_data
from ..redox import LIMITS, RedoxFinding, SpotTest
from ..slips import Slip
from ..wording import capitalised, joined, shown_range, two_digits
from .plan_html import table_html

__all__ = ["effects_html", "slips_html", "spot_tests_html", "stability_html", "yields_html"]

_UNSEEN = (
    "A slip cannot be seen when it moves every trial alike, stays within the noise, or is made "
    "equally in two readings that are subtracted."
)
_TURNS = {1: "too large", -1: "too small", 0: "no different"}
_MEANT = {"product": "of the product measured", "consumed": "of what was consumed"}


def _list(items: Iterable[str]) -> str:
    return f"<ul>{''.join(f'<li>{html.escape(item)}</li>' for item in items)}</ul>"


def _paragraph(text: str, look: str = "") -> str:
    mark = f' class="{look}"' if look else ""
    return f"<p{mark}>{html.escape(text)}</p>"


def slips_html(slips: Sequence[Slip], *, trials: int) -> str:
    """List the readings that cannot be right as typed, and what cannot be seen.

    >>> slips_html((), trials=4)[:44]
    '<p>No slip was found: each trial can be righ'
    """
    if not slips:
        said = "No slip was found: each trial can be right as it was typed."
        return _paragraph(said) + _paragraph(_UNSEEN, "stoichkit-note")
    return _list(slip_sentence(slip, trials=trials) for slip in slips) + _paragraph(
        "Correct a reading only if the notebook shows that it was mistyped; what is true of a "
        "product is not a slip and is looked for below.",
        "stoichkit-note",
    )


def yields_html(yields: Sequence[tuple[str, str]], evidence: Evidence) -> str:
    """List the percent yield for each candidate, those that fit in bold."""
    items = []
    for name, sentence in yields:
        text = html.escape(sentence)
        fits = evidence.candidates[name].compatible
        items.append(f"<li><strong>{text}</strong></li>" if fits else f"<li>{text}</li>")
    kept = "In bold: candidates that the readings do not exclude."
    if not any(evidence.candidates[name].compatible for name, _ in yields):
        kept = "The readings exclude all of these candidates."
    note = _paragraph(kept, "stoichkit-note")
    return f"<ul>{''.join(items)}</ul>{note}"


def effects_html(causes: Sequence[Cause]) -> str:
    """Show for one candidate what each effect would have to amount to, as a table.

    >>> from stoichkit import assess, causes_for, experiments
    >>> causes = causes_for(assess(experiments.load("copper-silver")), "copper(I)")
    >>> effects_html(causes).count('<th scope="row">')
    9
    """
    if not causes:
        return _paragraph("No effect is known for this kind of lab.")
    header = (
        "Effect",
        "Amount in each trial that makes it fit",
        "Possible?",
        "Makes ratio and yield",
        "What it does, and what to check",
    )
    bars = effects_data(causes).bars
    rows = tuple(_row(cause, bar) for cause, bar in zip(causes, bars, strict=True))
    table = table_html(Table(header, rows), f"Effects on {causes[0].candidate}, one at a time")
    return (
        '<div class="stoichkit-causes" style="overflow-x:auto" tabindex="0" role="group" '
        f'aria-label="Table of effects">{table}</div>'
    )


def _row(cause: Cause, bar: EffectBar) -> tuple[str, ...]:
    unit = cause.effect.unit
    return (
        capitalised(cause.effect.name),
        _amounts(cause, bar, unit),
        _possible(cause, bar, unit),
        _TURNS[cause.ratio_change],
        check_sentence(cause),
    )


def _amounts(cause: Cause, bar: EffectBar, unit: str) -> str:
    """Say the exact amount, the range that fits, and what part of what was measured that is."""
    if math.isnan(cause.needed):
        return "any amount" if cause.fits_without else "no amount"
    if cause.high < 0:
        return f"−{two_digits(-cause.needed)} {unit}, which cannot be"
    exactly = f"{two_digits(cause.needed)} {unit} exactly" if cause.needed > 0 else "none exactly"
    low, high = shown_range(max(cause.low, 0.0), cause.high)
    text = f"{exactly}; {low} {unit} to {high} {unit} fits"
    if math.isfinite(bar.low) and math.isfinite(bar.high):
        ends = dict.fromkeys(f"{two_digits(end)} %" for end in (max(bar.low, 0.0), bar.high))
        text += f", {' to '.join(ends)} {_MEANT[bar.of]}"
    return text


def _possible(cause: Cause, bar: EffectBar, unit: str) -> str:
    most = "no end in sight" if math.isinf(cause.most) else f"{two_digits(cause.most)} {unit}"
    return {
        "possible": f"Yes: the masses allow up to {most}.",
        "free": f"Yes, but not needed: it fits without. The masses allow up to {most}.",
        "too much": f"No: the masses allow {most} at most.",
        "wrong way": "No: it acts in the wrong direction.",
        "unmoved": "It does not change how well the candidate fits.",
    }[bar.kind]


def stability_html(findings: Sequence[RedoxFinding]) -> str:
    """Show what standard potentials say about the candidates, with their limits and sources.

    >>> stability_html(())
    '<p>Standard potentials say nothing about these candidates.</p>'
    """
    if not findings:
        return _paragraph("Standard potentials say nothing about these candidates.")
    parts = []
    for name in dict.fromkeys(one.candidate for one in findings):
        parts.append(f"<h4>{html.escape(capitalised(name))}</h4>")
        parts.append(_list(redox_sentence(one) for one in findings if one.candidate == name))
    couples = {c for one in findings for c in (one.cell.cathode, one.cell.anode)}
    sources = sorted({f"{c.source} ({_status(c.status)})" for c in couples})
    parts.append("<h4>How far this can be trusted</h4>")
    parts.append(_list((*LIMITS, f"Potentials: {joined(sources)}.")))
    return "".join(parts)


def _status(status: str) -> str:
    return {"memory": "from memory"}.get(status, status)


def spot_tests_html(tests: Sequence[tuple[str, SpotTest]]) -> str:
    """List the spot tests that would confirm each candidate, with their cautions."""
    if not tests:
        return _paragraph("No spot test is known here for these candidates.")
    return _list(spot_test_sentence(name, test) for name, test in tests) + _paragraph(
        "Wear eye protection and gloves, work where the air is drawn off, and collect the waste. "
        "The safety data sheet, local rules and the person in charge have the last word."
    )
