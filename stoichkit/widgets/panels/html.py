"""Pieces of HTML.

The evidence as pieces of HTML: every user text is escaped, every sentence is the report's.

Plans as pieces of HTML: every text is escaped, every sentence is that of the library.

A class file and its groups as pieces of HTML: every text of the file is escaped.

Slips, yields, effects and potentials as pieces of HTML: every text is escaped.
"""

from __future__ import annotations

import base64
import html
import math
from collections.abc import Iterable, Sequence

from ...bench.plan import BenchPlan, plan_opening, plan_sections
from ...classroom.columns import GROUP, TRIAL, Preview
from ...classroom.tables import Problem
from ...decision.answers import ACCEPTED, AnswerLine, answer_lines
from ...decision.evidence import Evidence
from ...decision.sentences import assumption_sentences, caveat_sentence, ratio_sentence
from ...decision.verdict import CaveatKind
from ...diagnosis.causes import Cause
from ...diagnosis.sentences import check_sentence, redox_sentence, slip_sentence, spot_test_sentence
from ...diagnosis.slips import Slip
from ...diagnosis.stability import LIMITS, RedoxFinding, SpotTest
from ...experiments.record import Experiment
from ...planning.sentences import chance_text, step_text
from ...plots.budget import BudgetPicture
from ...plots.causes import EffectBar, EffectsPicture
from ...plots.render import svg
from ...plots.result import ResultPicture
from ...plots.scene import Picture as Plot
from ...reports.sections import candidate_table
from ...text.document import Bullets, Table
from ...text.equations import equation_html
from ...text.html import CaptionedTable, PagePart, PageSection, Picture, Strong, Subheading
from ...text.wording import capitalised, joined, shown_range, two_digits
from ..state.balance import Row
from ..state.classroom import GroupLine

__all__ = [
    "HIDDEN",
    "MOST_PROBLEMS",
    "about_html",
    "answers_html",
    "assumptions_html",
    "bench_html",
    "budget_html",
    "candidates_html",
    "cautions_html",
    "class_table_html",
    "comparison_html",
    "effects_html",
    "groups_html",
    "instruments_html",
    "list_html",
    "paragraph",
    "parts_html",
    "picture_html",
    "picture_img",
    "preview_html",
    "problems_html",
    "section_html",
    "slips_html",
    "spot_tests_html",
    "stability_html",
    "table_html",
    "warnings_html",
    "yields_html",
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
    data = BudgetPicture.of(evidence)
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
    picture = ResultPicture.of(evidence, budget=False)
    return _img(svg(picture), f"{picture.decision.alt_text} {picture.ratio.alt_text}")


_BENCH_LOOK = (
    "<style>.stoichkit-panel .stoichkit-bench td { white-space: normal; } "
    ".stoichkit-panel .stoichkit-bench h4 { font-size: 14px; margin: 10px 0 2px; color: #1a1a1a; } "
    ".stoichkit-bench { overflow-wrap: break-word; }</style>"
)


def table_html(table: Table, caption: str) -> str:
    """Write a table with a caption; the first cell of each row names the row.

    >>> table_html(Table(("a", "b"), (("<1>", "2"),)), "c")[-65:]
    '<tr><th scope="row">&lt;1&gt;</th><td>2</td></tr></tbody></table>'
    """
    head = "".join(f'<th scope="col">{html.escape(cell)}</th>' for cell in table.header)
    rows = []
    for name, *cells in table.rows:
        inner = "".join(f"<td>{html.escape(cell)}</td>" for cell in cells)
        rows.append(f'<tr><th scope="row">{html.escape(name)}</th>{inner}</tr>')
    return (
        f"<table><caption>{html.escape(caption)}</caption><thead><tr>{head}</tr></thead>"
        f"<tbody>{''.join(rows)}</tbody></table>"
    )


def comparison_html(rows: Sequence[Row], truth: str) -> str:
    """Show the same true masses on several balances, simulated labs beside exact chances."""
    if not rows:
        return ""
    total = rows[0].counts.labs
    parts = ("right", "not_told_apart", "none_fits", "wrong")
    cells = tuple(
        (
            step_text(row.readability_g),
            *(
                f"{getattr(row.counts, part)}; {chance_text(getattr(row.chances, part))}"
                for part in parts
            ),
        )
        for row in rows
    )
    header = ("balance reads to", f"{truth} singled out", "not told apart", "none fits", "wrong")
    caption = (
        f"The same true masses on several balances; in each cell: of {total} simulated labs; "
        "exact chance"
    )
    return table_html(Table(header, cells), caption)


def picture_img(picture: Plot, title: str) -> str:
    """Return a picture as an ``img`` element with its description, for a static page."""
    return _img(svg(picture, title=title), picture.alt_text)


def _img(picture: str, alt_text: str) -> str:
    """Return SVG as an ``img`` element."""
    data = base64.b64encode(picture.encode()).decode("ascii")
    alt = html.escape(alt_text, quote=True)
    return f'<img alt="{alt}" style="max-width:100%" src="data:image/svg+xml;base64,{data}">'


def cautions_html(experiment: Experiment) -> str:
    """Show the cautions of an experiment, and who has the last word.

    >>> from stoichkit import experiments
    >>> "silver nitrate" in cautions_html(experiments.load("copper-silver"))
    True
    """
    parts = []
    for caution in experiment.cautions:
        said = [*caution.statements, *caution.advice]
        parts.append(
            f"<p><strong>{html.escape(caution.subject)}</strong></p>{_list(said)}"
            f'<p class="stoichkit-note">{html.escape(caution.source)}</p>'
        )
    if not parts:
        parts = ["<p>No cautions are stated in this record, which does not mean that none are "
                 "needed.</p>"]  # fmt: skip
    last = (
        "Wear eye protection. The safety data sheet, local rules and the person in charge have "
        "the last word."
    )
    return "".join([*parts, f"<p>{last}</p>"])


def bench_html(plan: BenchPlan) -> str:
    """Show a bench plan within a panel, its headings below those of the panel."""
    parts = [f"<h3>{html.escape(plan.title)}</h3>"]
    parts += [f"<p>{html.escape(text)}</p>" for text in plan_opening(plan)]
    for section in plan_sections(plan):
        parts.append(f"<h4>{html.escape(section.title)}</h4>")
        parts += [_part(part) for part in section.parts]
    return f'{_BENCH_LOOK}<div class="stoichkit-bench">{"".join(parts)}</div>'


def _part(part: PagePart) -> str:
    if isinstance(part, str):
        return f"<p>{html.escape(part)}</p>"
    if isinstance(part, Bullets):
        return _list(part.items)
    if not isinstance(part, CaptionedTable):
        raise TypeError(f"a bench plan holds no {type(part).__name__}")
    table = table_html(Table(part.header, part.rows), part.caption)
    label = html.escape(part.caption, quote=True)
    return (
        f'<div style="overflow-x:auto" tabindex="0" role="group" aria-label="{label}">{table}</div>'
    )


HIDDEN = "(hidden)"
MOST_PROBLEMS = 200
_MOST_COLUMNS = 40
_MOST_CELL = 60
_MOST_LINES = 400


def paragraph(text: str, look: str = "") -> str:
    """Write a paragraph; text alone is escaped.

    >>> paragraph("1 < 2", "stoichkit-note")
    '<p class="stoichkit-note">1 &lt; 2</p>'
    """
    kind = f' class="{look}"' if look else ""
    return f"<p{kind}>{html.escape(text)}</p>"


def list_html(items: Iterable[str]) -> str:
    """Write a list of texts."""
    return f"<ul>{''.join(f'<li>{html.escape(item)}</li>' for item in items)}</ul>"


def class_table_html(
    caption: str, header: Sequence[str], rows: Iterable[Sequence[str]], *, scrolled: bool = False
) -> str:
    """Write a table that scrolls sideways where it is too wide; the first cell names its row.
    >>> class_table_html("c", ("a", "b"), [("<1>", "2")])[-71:]
    '<tr><th scope="row">&lt;1&gt;</th><td>2</td></tr></tbody></table></div>'
    """
    head = "".join(f'<th scope="col">{html.escape(cell)}</th>' for cell in header)
    body = []
    for name, *cells in rows:
        inner = "".join(f"<td>{html.escape(cell)}</td>" for cell in cells)
        body.append(f'<tr><th scope="row">{html.escape(name)}</th>{inner}</tr>')
    look = "stoichkit-wide stoichkit-long" if scrolled else "stoichkit-wide"
    label = html.escape(caption, quote=True)
    return (
        f'<div class="{look}" tabindex="0" role="group" aria-label="{label}">'
        f"<table><caption>{html.escape(caption)}</caption><thead><tr>{head}</tr></thead>"
        f"<tbody>{''.join(body)}</tbody></table></div>"
    )


def section_html(section: PageSection, *, static: bool = False) -> str:
    """Write a section of a report within a panel, its heading below those of the panel.
    >>> section_html(PageSection("A & B", ("<i>", Bullets(("x",)))))
    '<h4>A &amp; B</h4><p>&lt;i&gt;</p><ul><li>x</li></ul>'
    """
    return f"<h4>{html.escape(section.title)}</h4>{parts_html(section.parts, static=static)}"


def parts_html(parts: Iterable[PagePart], *, static: bool = False) -> str:
    """Write what stands below the heading of a section."""
    return "".join(
        _picture(p) if static and isinstance(p, Picture) else _class_part(p) for p in parts
    )


def _picture(part: Picture) -> str:
    data = base64.b64encode(part.svg.encode()).decode("ascii")
    alt = html.escape(part.alt_text, quote=True)
    return f'<img alt="{alt}" style="max-width:100%" src="data:image/svg+xml;base64,{data}">'


def _class_part(part: PagePart) -> str:
    if isinstance(part, str):
        return paragraph(part)
    if isinstance(part, Strong):
        return f"<p><strong>{html.escape(part.text)}</strong></p>"
    if isinstance(part, Subheading):
        return f"<h5>{html.escape(part.text)}</h5>"
    if isinstance(part, Bullets):
        return list_html(part.items)
    if isinstance(part, CaptionedTable):
        return class_table_html(part.caption, part.header, part.rows)
    if isinstance(part, Picture):
        return part.svg + (paragraph(part.caption, "stoichkit-note") if part.caption else "")
    return equation_html(part)


def preview_html(preview: Preview, *, codes: bool = False) -> str:
    """Show the first rows of a file below what each column is taken for.
    >>> from stoichkit import experiments
    >>> from stoichkit.classroom.data import preview_class
    >>> text = "bench,wire before,wire after,paper,paper + silver\\n<red>,2.94,2.82,0.75,1.15"
    >>> found = preview_class(text.encode(), experiments.load("copper-silver"))
    >>> "&lt;red&gt;" in preview_html(found), "red" in preview_html(found, codes=True)
    (True, False)
    """
    columns = preview.matched[:_MOST_COLUMNS]
    readings = [bool(c.field) and c.field != GROUP for c in columns]
    open_to_all = [r and c.field != TRIAL for r, c in zip(readings, columns, strict=True)]
    taken = []
    for column in columns:
        unit = f" ({column.unit.words})" if column.unit and not column.unit.same else ""
        taken.append(f"{column.field or 'not used'}{unit}")
    rows: list[tuple[str, ...]] = [("taken for", *taken)]
    for number, cells in enumerate(preview.sample, preview.first_row):
        padded = [*cells, *[""] * len(columns)][: len(columns)]
        shown = [
            HIDDEN if codes and cell.strip() and not seen else cell.strip()[:_MOST_CELL]
            for cell, seen in zip(padded, open_to_all, strict=True)
        ]
        rows.append((f"row {number}", *shown))
    head = [column.label[:_MOST_CELL] for column in columns]
    if codes:
        head = [c.label if c.field else c.letter for c in columns]
    more = len(preview.matched) - len(columns)
    caption = "First rows of the file" + (f"; {more} more columns are not shown" if more else "")
    return class_table_html(caption, ("Column", *head), rows)


def problems_html(problems: Sequence[Problem], shown: int = MOST_PROBLEMS) -> str:
    """List what a person should look at in a file, and what was done about it.

    >>> found = Problem(3, "C (paper)", "No number.", "<b>", "a number", "Set aside.")
    >>> problems_html([found]).count("<td>"), "&lt;b&gt;" in problems_html([found])
    (5, True)
    """
    if not problems:
        return paragraph("There is nothing to look at: every row was used as it stands.")
    rows = [
        (
            "file" if p.row is None else str(p.row),
            p.column or "–",
            p.text,
            p.given or "–",
            p.allowed or "–",
            _for_panel(p.done) or "–",
        )
        for p in problems[:shown]
    ]
    more = len(problems) - len(rows)
    caption = "What to look at in the file" + (f" (the first {len(rows)})" if more else "")
    header = ("Row", "Column", "Problem", "Given", "Allowed", "What was done")
    said = paragraph(f"{more} more are in the list of rows that can be saved.") if more else ""
    return class_table_html(caption, header, rows, scrolled=len(rows) > 12) + said


def _for_panel(text: str) -> str:
    """Name the controls of the panel instead of arguments of a function."""
    return text.replace("confirm with columns=…", "confirm or correct it above").replace(
        "give sheet=… for another one", "type the name of another one above"
    )


def groups_html(lines: Sequence[GroupLine], order: str, total: int, ratio: str) -> str:
    """Show groups as a table."""
    if not lines:
        return paragraph("No group has a name that holds this text.")
    sets = any(line.ratio_set for line in lines)
    header = ["Group", "Trials", "By itself", ratio, "Best p", "Yield", "Look at"]
    header[4:4] = ["Not excluded"] if sets else []
    rows = []
    for line in lines:
        row = [line.name, line.trials, line.verdict, line.ratio, line.p, line.percent_yield]
        row[4:4] = [line.ratio_set] if sets else []
        rows.append([cell or "–" for cell in (*row, line.remarks)])
    count = f"{len(rows)} of {total} groups" if len(rows) < total else f"{total} groups"
    return class_table_html(f"{count}, {order}", header, rows, scrolled=len(rows) > 12)


def answers_html(experiment: Experiment) -> str:
    """Show what a group should have calculated from its own readings, and what to accept.

    >>> from stoichkit import experiments
    >>> answers_html(experiments.load("tin-oxide")).count("<caption>")
    1
    """
    lines = answer_lines(experiment)
    header = ("Trial", "Step", "Calculation", "Answer", "Accepted")
    rows = [_answer(line) for line in lines[:_MOST_LINES]]
    more = len(lines) - len(rows)
    said = paragraph(f"{more} more lines are in the answer key that can be saved.") if more else ""
    return (
        class_table_html("What this group should have calculated", header, rows)
        + said
        + list_html(ACCEPTED)
    )


def _answer(line: AnswerLine) -> tuple[str, ...]:
    known = not math.isnan(line.value)
    unit = f" {line.unit}" if line.unit else ""
    answer = f"{line.answer or f'{line.value:.6g}'}{unit}" if known else line.note
    accepted = f"{line.low:.4g} to {line.high:.4g}{unit}" if known else "–"
    step = f"{line.symbol}, {line.words}" if line.symbol else line.words
    return (line.trial, step or "–", line.formula or "given", answer, accepted)


_UNSEEN = (
    "A slip cannot be seen when it moves every trial alike, stays within the noise, or is made "
    "equally in two readings that are subtracted."
)
_TURNS = {1: "too large", -1: "too small", 0: "no different"}
_MEANT = {"product": "of the product measured", "consumed": "of what was consumed"}


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
    bars = EffectsPicture.of(causes).bars
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
