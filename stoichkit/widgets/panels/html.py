"""Pieces of HTML.

The evidence as pieces of HTML: every user text is escaped, every sentence is the report's.

Plans as pieces of HTML: every text is escaped, every sentence is that of the library.

A class file and its groups as pieces of HTML: every text of the file is escaped.

Slips, yields, effects and potentials as pieces of HTML: every text is escaped.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from ...bench.plan import BenchPlan
from ...classroom.columns import GROUP, TRIAL, Preview
from ...classroom.tables import Problem
from ...decision.answers import ACCEPTED, AnswerLine, answer_lines
from ...decision.evidence import Evidence
from ...decision.sentences import (
    assumption_sentences,
    caveat_sentence,
    ratio_sentence,
    warning_sentences,
)
from ...decision.statement import terms_used, verdict_sentences
from ...decision.trust import trust_sentences
from ...decision.verdict import CaveatKind, VerdictKind
from ...diagnosis.causes import Cause
from ...diagnosis.sentences import (
    check_sentence,
    effects_table,
    no_slip_sentence,
    redox_sentence,
    slip_sentence,
    spot_test_sentence,
)
from ...diagnosis.slips import Slip
from ...diagnosis.stability import LIMITS, RedoxFinding, SpotTest
from ...experiments.record import Experiment
from ...planning.sentences import chance_text, step_text
from ...plots.budget import BudgetPicture
from ...plots.render import svg
from ...plots.result import ResultPicture
from ...plots.scene import Picture as Plot
from ...reports.sections import candidate_table, trust_section
from ...text.html import Cell, escaped, html_heading, html_image, html_list, html_part, html_table
from ...text.parts import Part, Picture, Section
from ...text.wording import capitalised, joined
from ..state.balance import Row
from ..state.classroom import GroupLine


def _unbroken(cell: str, look: str = "") -> Cell:
    """Make a cell that keeps “< 0.0001” and “34.5 %” on one line."""
    text = cell.replace("< ", "<\N{NO-BREAK SPACE}").replace(" %", "\N{NO-BREAK SPACE}%")
    return Cell(escaped(text), look)


def about_html(experiment: Experiment) -> str:
    """Show the scenario of an experiment, and whether its readings are invented."""
    parts = ["<p><strong>The readings are invented.</strong></p>"] if experiment.invented else []
    if experiment.about.strip():
        parts.append(f"<p>{escaped(' '.join(experiment.about.split()))}</p>")
    return "".join(parts)


def instruments_html(experiment: Experiment) -> str:
    """List the instruments as they are used.

    >>> from stoichkit import experiments
    >>> instruments_html(experiments.load("copper-silver"))
    '<p>In use:</p><ul>\\n<li>A balance reading to 0.01 g, repeatability 0.005 g, ...</li>\\n</ul>'
    """
    return f"<p>In use:</p>{html_list(one.describe() for one in experiment.instruments.values())}"


def is_judged(evidence: Evidence | None) -> bool:
    """Return whether the readings can be judged; if not, the numbers are shown in grey."""
    return evidence is None or evidence.verdict.kind is not VerdictKind.CANNOT_BE_JUDGED


def verdict_look(evidence: Evidence | None, *, current: bool) -> str:
    """Return the classes of a verdict: older than what is typed, not judged, or neither.

    >>> verdict_look(None, current=False)
    'stoichkit-verdict stoichkit-stale'
    """
    look = "stoichkit-verdict" if current else "stoichkit-verdict stoichkit-stale"
    return look if is_judged(evidence) else f"{look} stoichkit-unjudged"


def candidates_html(evidence: Evidence) -> str:
    """Show the candidates as a table with a caption, and the mole ratios that fit below it.

    >>> from stoichkit import assess, experiments
    >>> candidates_html(assess(experiments.load("copper-silver"))).count('<th scope="row"')
    2
    """
    table = candidate_table(evidence)
    rows = []
    for row, one in zip(table.rows, evidence.candidates.values(), strict=True):
        look = "" if one.compatible and is_judged(evidence) else "stoichkit-out"
        rows.append([_unbroken(cell, look) for cell in row])
    return html_table(table.header, rows, table.caption, frame="stoichkit-scroll") + paragraph(
        ratio_sentence(evidence)
    )


def budget_html(evidence: Evidence) -> str:
    """Show where the uncertainty comes from, as a table with bars."""
    data = BudgetPicture.of(evidence)
    if not data.lines:
        return "<p>No source of error is stated.</p>"
    rows = [
        (
            line.words,
            _unbroken(f"{100 * line.share:.1f} %" if line.share >= 5e-4 else "< 0.1 %"),
            Cell(f'<div style="width:{100 * line.share:.1f}%"></div>', "stoichkit-bar"),
        )
        for line in data.lines
    ]
    caption = f"Where the uncertainty of the discrepancy from {evidence.nearest.name} comes from"
    header = ("Source", "Share of variance", "Share as a bar")
    return html_table(header, rows, caption, look="stoichkit-budget")


def trust_html(evidence: Evidence) -> str:
    """Show what would overturn a verdict, and how probable each candidate is.

    >>> from stoichkit import assess, experiments
    >>> shown = trust_html(assess(experiments.load("copper-silver")))
    >>> shown.count("<table"), "It stands unless" in shown
    (2, True)
    """
    section = trust_section(evidence)
    if section is None:
        return paragraph("Nothing can be judged, so there is nothing to trust.")
    said = "".join(paragraph(sentence) for sentence in trust_sentences(evidence))
    return said + section_html(section)


def warnings_html(evidence: Evidence) -> str:
    """List the warnings of the verdict, without the assumptions about instruments."""
    said = warning_sentences(evidence)
    if not said and not is_judged(evidence):
        return "<p>There are no other warnings.</p>"
    return html_list(said) if said else "<p>There are no warnings.</p>"


def words_html(evidence: Evidence) -> str:
    """Fold away one sentence of help for each term used beside the verdict.

    >>> from stoichkit import assess, experiments
    >>> words_html(assess(experiments.load("copper-silver")))[:44]
    '<details><summary>What the words mean</summa'
    """
    table = candidate_table(evidence)
    shown = [verdict_sentences(evidence), ratio_sentence(evidence), *table.header, "p = "]
    shown += [cell for row in table.rows for cell in row] + warning_sentences(evidence)
    said = [str(term) for term in terms_used("; ".join(shown))]
    return f"<details><summary>What the words mean</summary>{html_list(said)}</details>"


def assumptions_html(evidence: Evidence) -> str:
    """List what the verdict takes for granted, first of all about the instruments."""
    said = [
        caveat_sentence(one, evidence)
        for one in evidence.warnings
        if one.kind is CaveatKind.ASSUMPTION
    ]
    return html_list([*said, *assumption_sentences(evidence)])


def picture_html(evidence: Evidence) -> str:
    """Return the picture as an ``img`` element with its description, for a static page.

    >>> from stoichkit import assess, experiments
    >>> picture_html(assess(experiments.load("copper-silver")))[:10]
    '<img alt="'
    """
    picture = ResultPicture.of(evidence, budget=False)
    words = f"{picture.decision.alt_text} {picture.ratio.alt_text}"
    return html_image(svg(picture), words)


_BENCH_LOOK = (
    "<style>.stoichkit-panel .stoichkit-bench td { white-space: normal; } "
    ".stoichkit-panel .stoichkit-bench h4 { font-size: 14px; margin: 10px 0 2px; color: #1a1a1a; } "
    ".stoichkit-bench { overflow-wrap: break-word; }</style>"
)


def comparison_html(rows: Sequence[Row], truth: str) -> str:
    """Show the same true masses on several balances, simulated labs beside exact chances."""
    if not rows:
        return ""
    total = rows[0].counts.labs
    parts = ["right", "not_told_apart", "none_fits", "wrong"]
    header = ["balance reads to", f"{truth} singled out", "not told apart", "none fits", "wrong"]
    if any(row.counts.cannot_be_judged for row in rows):
        parts.append("cannot_be_judged")
        header.append("cannot be judged")
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
    caption = (
        f"The same true masses on several balances; in each cell: of {total} simulated labs; "
        "exact chance"
    )
    return html_table(header, cells, caption)


def picture_img(picture: Plot, title: str) -> str:
    """Return a picture as an ``img`` element with its description, for a static page."""
    return html_image(svg(picture, title=title), picture.alt_text)


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
            f"<p><strong>{escaped(caution.subject)}</strong></p>{html_list(said)}"
            f'<p class="stoichkit-note">{escaped(caution.source)}</p>'
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
    parts = [html_heading(plan.title, 3), *map(paragraph, plan.opening)]
    parts += [section_html(section) for section in plan.sections]
    return f'{_BENCH_LOOK}<div class="stoichkit-bench">{"".join(parts)}</div>'


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
    return f"<p{kind}>{escaped(text)}</p>"


def _class_table(
    caption: str, header: Sequence[str], rows: Iterable[Sequence[str]], *, scrolled: bool = False
) -> str:
    """Write a table that scrolls sideways where it is too wide."""
    frame = "stoichkit-wide stoichkit-long" if scrolled else "stoichkit-wide"
    return html_table(header, rows, caption, frame=frame)


def section_html(section: Section, *, static: bool = False) -> str:
    """Write a section of a report within a panel, its heading below those of the panel.

    >>> section_html(Section("A & B", ("<i>",)))
    '<h4>A &amp; B</h4><p>&lt;i&gt;</p>'
    """
    return html_heading(section.title, 4) + parts_html(section.parts, static=static)


def parts_html(parts: Iterable[Part], *, static: bool = False) -> str:
    """Write what stands below the heading of a section."""
    return "".join(
        html_image(p.svg, p.alt_text)
        if static and isinstance(p, Picture)
        else html_part(p, level=5)
        for p in parts
    )


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
    return _class_table(caption, ("Column", *head), rows)


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
    return _class_table(caption, header, rows, scrolled=len(rows) > 12) + said


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
    return _class_table(f"{count}, {order}", header, rows, scrolled=len(rows) > 12)


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
        _class_table("What this group should have calculated", header, rows)
        + said
        + html_list(ACCEPTED)
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


def slips_html(slips: Sequence[Slip], evidence: Evidence) -> str:
    """List the readings that cannot be right as typed, and what cannot be seen.

    >>> from stoichkit import assess, experiments
    >>> slips_html((), assess(experiments.load("copper-silver")))[:44]
    '<p>No slip was found: the readings of each t'
    """
    if not slips:
        said = no_slip_sentence(evidence.verdict)
        return paragraph(said) + paragraph(_UNSEEN, "stoichkit-note")
    trials = len(evidence.amounts)
    return html_list(slip_sentence(slip, trials=trials) for slip in slips) + paragraph(
        "Correct a reading only if the notebook shows that it was mistyped; what is true of a "
        "product is not a slip and is looked for below.",
        "stoichkit-note",
    )


def yields_html(yields: Sequence[tuple[str, str]], evidence: Evidence) -> str:
    """List the percent yield for each candidate, those that fit in bold."""
    items = []
    judged = is_judged(evidence)
    for name, sentence in yields:
        text = escaped(sentence)
        fits = evidence.candidates[name].compatible and judged
        items.append(f"<li><strong>{text}</strong></li>" if fits else f"<li>{text}</li>")
    kept = "In bold: candidates that the readings do not exclude."
    if not judged:
        kept = "None of these candidates is judged; see the verdict."
    elif not any(evidence.candidates[name].compatible for name, _ in yields):
        kept = "The readings exclude all of these candidates."
    note = paragraph(kept, "stoichkit-note")
    return f"<ul>{''.join(items)}</ul>{note}"


def effects_html(causes: Sequence[Cause]) -> str:
    """Show for one candidate what each effect would have to amount to, as a table.

    >>> from stoichkit import assess, causes_for, experiments
    >>> causes = causes_for(assess(experiments.load("copper-silver")), "copper(I)")
    >>> effects_html(causes).count('<th scope="row">')
    9
    """
    if not causes:
        return paragraph("No effect is known for this kind of lab.")
    table = effects_table(causes)
    rows = [(*row, check_sentence(cause)) for row, cause in zip(table.rows, causes, strict=True)]
    header = (*table.header, "What it does, and what to check")
    return html_table(header, rows, table.caption, frame="stoichkit-scroll stoichkit-causes")


def stability_html(findings: Sequence[RedoxFinding]) -> str:
    """Show what standard potentials say about the candidates, with their limits and sources.

    >>> stability_html(())
    '<p>Standard potentials say nothing about these candidates.</p>'
    """
    if not findings:
        return paragraph("Standard potentials say nothing about these candidates.")
    parts = []
    for name in dict.fromkeys(one.candidate for one in findings):
        parts.append(html_heading(capitalised(name), 4))
        parts.append(html_list(redox_sentence(one) for one in findings if one.candidate == name))
    couples = {c for one in findings for c in (one.cell.cathode, one.cell.anode)}
    sources = sorted({f"{c.source} ({_status(c.status)})" for c in couples})
    parts.append("<h4>How far this can be trusted</h4>")
    parts.append(html_list((*LIMITS, f"Potentials: {joined(sources)}.")))
    return "".join(parts)


def _status(status: str) -> str:
    return {"memory": "from memory"}.get(status, status)


def spot_tests_html(tests: Sequence[tuple[str, SpotTest]]) -> str:
    """List the spot tests that would confirm each candidate, with their cautions."""
    if not tests:
        return paragraph("No spot test is known here for these candidates.")
    return html_list(spot_test_sentence(name, test) for name, test in tests) + paragraph(
        "Wear eye protection and gloves, work where the air is drawn off, and collect the waste. "
        "The safety data sheet, local rules and the person in charge have the last word."
    )
