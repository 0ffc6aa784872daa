"""The evidence as pieces of HTML: every user text is escaped, every sentence is the report's."""

from __future__ import annotations

import base64
import html
from collections.abc import Iterable

from ..evidence import Evidence
from ..experiment import Experiment
from ..plots import (
    budget_data,
    decision_alt_text,
    decision_data,
    live_svg,
    ratio_alt_text,
    ratio_data,
)
from ..report import candidate_table
from ..sentences import assumption_sentences, caveat_sentence, ratio_sentence
from ..verdict import CaveatKind

__all__ = [
    "about_html",
    "assumptions_html",
    "budget_html",
    "candidates_html",
    "instruments_html",
    "picture_html",
    "warnings_html",
]


def _list(items: Iterable[str]) -> str:
    return f"<ul>{''.join(f'<li>{html.escape(item)}</li>' for item in items)}</ul>"


def _percent(share: float) -> str:
    return f"{100 * share:.1f}&nbsp;%" if share >= 5e-4 else "&lt;&nbsp;0.1&nbsp;%"


def _unbroken(cell: str) -> str:
    """Escape a cell, and keep “< 0.0001” on one line."""
    return html.escape(cell.replace("< ", "<\N{NO-BREAK SPACE}"))


def about_html(experiment: Experiment) -> str:
    """Show the scenario of an experiment, and whether its readings are invented."""
    parts = ["<p><strong>The readings are invented.</strong></p>"] if experiment.invented else []
    if experiment.about.strip():
        parts.append(f"<p>{html.escape(' '.join(experiment.about.split()))}</p>")
    return "".join(parts)


def instruments_html(experiment: Experiment) -> str:
    """List the instruments as they are used.

    >>> from stoichkit import experiments
    >>> instruments_html(experiments.load("copper-silver"))
    '<p>In use:</p><ul><li>A balance reading to 0.01 g, repeatability 0.005 g, ...</li></ul>'
    """
    return f"<p>In use:</p>{_list(one.describe() for one in experiment.instruments.values())}"


def candidates_html(evidence: Evidence) -> str:
    """Show the candidates as a table with a caption, and the mole ratios that fit below it.

    >>> from stoichkit import assess, experiments
    >>> candidates_html(assess(experiments.load("copper-silver"))).count('<th scope="row">')
    2
    """
    table = candidate_table(evidence)
    head = "".join(f'<th scope="col">{html.escape(cell)}</th>' for cell in table.header)
    rows = []
    tested = evidence.candidates.values()
    for (name, *cells), one in zip(table.rows, tested, strict=True):
        inner = "".join(f"<td>{_unbroken(cell)}</td>" for cell in cells)
        look = "" if one.compatible else ' class="stoichkit-out"'
        rows.append(f'<tr{look}><th scope="row">{html.escape(name)}</th>{inner}</tr>')
    caption = f"Candidates, tested at {100 * evidence.coverage:g} % coverage"
    return (
        f'<div class="stoichkit-scroll" tabindex="0" role="region" aria-label="{caption}">'
        f"<table><caption>{caption}</caption><thead><tr>{head}</tr></thead>"
        f"<tbody>{''.join(rows)}</tbody></table></div>"
        f"<p>{html.escape(ratio_sentence(evidence))}</p>"
    )


def budget_html(evidence: Evidence) -> str:
    """Show where the uncertainty comes from, as a table with bars."""
    data = budget_data(evidence)
    if not data.lines:
        return "<p>No source of error is stated.</p>"
    rows = "".join(
        f'<tr><th scope="row">{html.escape(line.words)}</th>'
        f"<td>{_percent(line.share)}</td>"
        f'<td class="stoichkit-bar"><div style="width:{100 * line.share:.1f}%"></div></td></tr>'
        for line in data.lines
    )
    caption = f"Where the uncertainty of the discrepancy from {evidence.nearest.name} comes from"
    return (
        f'<table class="stoichkit-budget"><caption>{html.escape(caption)}</caption><thead><tr>'
        '<th scope="col">Source</th><th scope="col">Share of variance</th>'
        '<th scope="col">Share as a bar</th></tr></thead>'
        f"<tbody>{rows}</tbody></table>"
    )


def warnings_html(evidence: Evidence) -> str:
    """List the warnings of the verdict, without the assumptions about instruments."""
    said = [
        caveat_sentence(one, evidence)
        for one in evidence.warnings
        if one.kind is not CaveatKind.ASSUMPTION
    ]
    return _list(said) if said else "<p>There are no warnings.</p>"


def assumptions_html(evidence: Evidence) -> str:
    """List what the verdict takes for granted, first of all about the instruments."""
    said = [
        caveat_sentence(one, evidence)
        for one in evidence.warnings
        if one.kind is CaveatKind.ASSUMPTION
    ]
    return _list([*said, *assumption_sentences(evidence)])


def picture_html(evidence: Evidence) -> str:
    """Return the picture as an ``img`` element with its description, for a static page.

    >>> from stoichkit import assess, experiments
    >>> picture_html(assess(experiments.load("copper-silver")))[:10]
    '<img alt="'
    """
    data = base64.b64encode(live_svg(evidence).encode("utf-8")).decode("ascii")
    words = (decision_alt_text(decision_data(evidence)), ratio_alt_text(ratio_data(evidence)))
    alt = html.escape(" ".join(words), quote=True)
    return f'<img alt="{alt}" style="max-width:100%" src="data:image/svg+xml;base64,{data}">'
