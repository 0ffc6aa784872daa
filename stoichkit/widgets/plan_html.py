"""Plans as pieces of HTML: every text is escaped, every sentence is that of the library."""

from __future__ import annotations

import base64
import html
from collections.abc import Iterable, Sequence

from ..bench import BenchPlan
from ..bench_document import plan_opening, plan_sections
from ..experiment import Experiment
from ..layout import Bullets, Table
from ..page import CaptionedTable, PagePart
from ..plan_sentences import chance_text, step_text
from ..plots.scene import Scene
from ..plots.svg import scene_svg
from .balance_state import Row

__all__ = [
    "bench_html",
    "cautions_html",
    "comparison_html",
    "picture_img",
    "picture_svg",
    "table_html",
]

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


def picture_svg(scene: Scene, alt_text: str, title: str, *, width_px: int = 640) -> str:
    """Return a picture as inline SVG, for a live pane."""
    return scene_svg((scene,), alt_text=alt_text, title=title, width_px=width_px)


def picture_img(scene: Scene, alt_text: str, title: str) -> str:
    """Return a picture as an ``img`` element with its description, for a static page."""
    data = base64.b64encode(picture_svg(scene, alt_text, title).encode()).decode("ascii")
    alt = html.escape(alt_text, quote=True)
    return f'<img alt="{alt}" style="max-width:100%" src="data:image/svg+xml;base64,{data}">'


def _list(items: Iterable[str]) -> str:
    return f"<ul>{''.join(f'<li>{html.escape(item)}</li>' for item in items)}</ul>"


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
