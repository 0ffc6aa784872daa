"""A document says the same in every form, acts in none, and is never written over a file."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Iterator
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import pytest

from stoichkit import experiments
from stoichkit.bench.plan import bench_plan
from stoichkit.classroom.result import assess_class
from stoichkit.decision.evidence import assess
from stoichkit.errors import DataFileError, ModelError, StoichkitError
from stoichkit.reports.classroom import class_report, group_report
from stoichkit.reports.lab import lab_report
from stoichkit.reports.worked import worked_solution
from stoichkit.text.document import FORMS, Document, form_of
from stoichkit.text.html import Cell, escaped, html_part, html_table, typed_fields
from stoichkit.text.latex import escaped_latex
from stoichkit.text.parts import (
    Bullets,
    Equation,
    Picture,
    Section,
    Strong,
    Subheading,
    Table,
    Token,
)
from tests.reports.test_lab_report import wet

Grid = list[list[str]]
SVG = '<svg role="img" aria-label="x"></svg>'
HOSTILE = (
    "<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "[a](javascript:alert(1))",
    "*b* _c_ `d`", "| e |", r"\input{f} $g$ %h & {i} #j ~k ^l", "\x1b[2J", "[m]", "1. n", "- o",
)  # fmt: skip


@cache
def documents() -> dict[str, Document]:
    found = {name: lab_report(assess(experiments.load(name))) for name in experiments.names()}
    found["wet"] = lab_report(assess(wet()))
    found["solution"] = worked_solution(experiments.load("acid-titration"))
    for name in ("tin-oxide", "acid-titration", "copper-plating"):
        found[f"plan {name}"] = bench_plan(experiments.load(name), groups=4)
    result = assess_class(experiments.class_file(), "copper-silver")
    found["class"] = class_report(result, note="A note.")
    found["group"] = group_report(result, "plum")
    return found


NAMES = [
    *experiments.names(),
    *("wet", "solution", "plan tin-oxide", "plan acid-titration", "plan copper-plating"),
    *("class", "group"),
]


def parts_of(document: Document) -> Iterator[dict[str, object]]:
    for section in document.data()["sections"]:
        yield from section["parts"]


class Page(HTMLParser):
    """Collects headings of the second level, the cells of tables, and all words."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.titles: list[str] = []
        self.tables: list[Grid] = []
        self.words: list[str] = []
        self.tags: set[str] = set()
        self._open = ""
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, _: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self._open = tag
        if tag == "h2":
            self.titles.append("")
        elif tag == "table":
            self.tables.append([])
        elif tag == "tr":
            self.tables[-1].append([])
        elif tag in ("th", "td"):
            self.tables[-1][-1].append("")

    def handle_endtag(self, tag: str) -> None:
        self._open = "" if tag == self._open else self._open

    def handle_data(self, data: str) -> None:
        if self._open == "style":
            return
        self.words.append(data)
        if self._open == "h2":
            self.titles[-1] += data
        elif self._open in ("th", "td"):
            self.tables[-1][-1][-1] += data

    @property
    def text(self) -> str:
        return " ".join("".join(self.words).split())


def columns_of_text(text: str) -> Iterator[list[str]]:
    """Yield for each table the text of each column without white space."""
    for block in text.split("\n\n"):
        lines = block.splitlines()
        rule = next((i for i, line in enumerate(lines) if re.fullmatch("-+(  -+)+", line)), 0)
        if rule:
            at = [m.span() for m in re.finditer("-+", lines[rule])]
            rows = [line for line in lines if line != lines[rule]]
            yield ["".join("".join(line[a:b] for line in rows).split()) for a, b in at]


def tables_of_latex(text: str) -> Iterator[Grid]:
    for body in re.findall(r"\\begin\{longtable\}\{.*?\}\n(.*?)\\end\{longtable\}", text, re.S):
        lines = [line for line in body.splitlines() if line != r"\hline\endhead"]
        yield [line.removesuffix(r" \\").removeprefix("{}").split(" & ") for line in lines]


@pytest.mark.parametrize("name", NAMES)
def test_every_form_has_the_same_sections_and_cells(name: str) -> None:
    mistune = pytest.importorskip("mistune")
    document = documents()[name]
    data = document.data()
    titles = [section["title"] for section in data["sections"]]
    found = [part for part in parts_of(document) if part["kind"] == "table"]
    grids: list[Grid] = [[part["header"], *part["rows"]] for part in found]  # type: ignore[misc, list-item]
    assert len(titles) == len(set(titles)) > 3
    assert grids

    text = document.text()
    assert re.findall(r"\n\n([^\n]+)\n-+\n", text) == titles
    assert list(columns_of_text(text)) == [
        ["".join("".join(column).split()) for column in zip(*grid, strict=True)] for grid in grids
    ]
    page = Page(document.html())
    assert page.titles == titles
    assert page.tables == grids
    marked = Page(mistune.create_markdown(escape=False, plugins=["table"])(document.markdown()))
    assert marked.titles == titles
    assert marked.tables == grids
    latex = document.latex()
    assert re.findall(r"\\subsection\*\{(.*)\}", latex) == [escaped_latex(t) for t in titles]
    assert list(tables_of_latex(latex)) == [
        [[escaped_latex(cell) for cell in row] for row in grid] for grid in grids
    ]


@pytest.mark.parametrize("name", NAMES)
def test_every_form_has_the_same_sentences(name: str) -> None:
    """Paragraphs, lists, captions and remarks stand in each form; pictures in words in three."""
    document = documents()[name]
    text, latex = "".join(document.text().split()), document.latex()
    page, marked = Page(document.html()).text, html.unescape(document.markdown())
    for part in parts_of(document):
        items = part.get("items", [part.get(key) for key in ("text", "caption", "remark")])
        for item in filter(None, items):  # type: ignore[call-overload]
            line = " ".join(item.split())
            assert "".join(line.split()) in text
            assert line in page
            assert line in marked
            assert escaped_latex(line) in latex
        if part["kind"] == "picture":
            assert str(part["svg"]) in document.html()
            assert "".join(str(part["alt_text"]).split()) in text
            assert part["alt_text"] in marked
            assert escaped_latex(str(part["alt_text"])) in latex


@pytest.mark.parametrize("name", NAMES)
def test_latex_is_a_whole_document_in_plain_characters(name: str) -> None:
    latex = documents()[name].latex()
    assert latex.startswith("\\documentclass")
    assert latex.endswith("\\end{document}\n")
    assert latex.isascii()
    assert latex.count("\\begin{") == latex.count("\\end{")
    bare = re.sub(r"\\\\|\\[{}$&#%_]", "", latex)
    depth = 0
    for brace in re.findall("[{}]", bare):
        depth += 1 if brace == "{" else -1
        assert depth >= 0
    assert depth == 0
    assert set(re.findall(r"\\usepackage(?:\[.*\])?\{(.*)\}", latex)) == {
        "fontenc", "textcomp", "amsmath", "array", "longtable", "geometry",
    }  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_data_is_json_that_holds_every_part(name: str) -> None:
    document = documents()[name]
    assert json.loads(document.written("json")) == document.data()
    kinds = {part["kind"] for part in parts_of(document)}
    assert kinds <= {
        "paragraph", "strong", "subheading", "list", "table", "equation", "picture",
    }  # fmt: skip
    for part in parts_of(document):
        if part["kind"] == "equation":
            assert len(part["sides"]) >= 2  # type: ignore[arg-type]
            assert part["latex"]


def everything(text: str) -> Document:
    """Return a document with a text in each place where one can be."""
    side = (Token("name", text), Token("sign", "×"), Token("symbol", text), Token("number", text))
    parts = (
        text, Strong(text), Subheading(text), Bullets((text, text)),
        Table((text, "b"), ((text, text), (text, text)), text),
        Equation((side, side), text), Picture(SVG, text, text), Picture(SVG, text, text, text),
    )  # fmt: skip
    return Document(text, (text,), (Section(text, parts),))


@pytest.mark.parametrize("text", HOSTILE)
def test_no_text_acts_in_any_form(text: str) -> None:
    mistune = pytest.importorskip("mistune")
    document, plain = everything(text), everything("plain")
    line = " ".join(text.split()).replace("\x1b", "\N{REPLACEMENT CHARACTER}")

    assert all(c.isprintable() or c == "\n" for c in document.text())
    for page, other in (
        (document.html(), plain.html()),
        (document._repr_html_(), plain._repr_html_()),
    ):
        assert Page(page).tags <= Page(other).tags
        assert line in Page(page).text
    plugins = ["table", "strikethrough", "url", "math"]
    marked = mistune.create_markdown(escape=False, plugins=plugins)
    assert Page(marked(document.markdown())).tags <= Page(marked(plain.markdown())).tags
    commands = [
        re.findall(r"\\(?:begin|end|section|input|item|hline)\b", d.latex())
        for d in (document, plain)
    ]
    assert commands[0] == commands[1]
    assert not re.search(r"\\\\\n[\[*]", document.latex())  # would belong to the end of the row
    assert json.loads(document.written("json"))["title"] == text


def test_a_notebook_takes_no_text_for_a_formula() -> None:
    shown = everything("$x$")._repr_html_()
    assert shown.startswith('<article class="mathjax_ignore tex2jax_ignore">\n<h2>$x$</h2>')
    assert "<h1>" not in shown
    assert re.findall("<h[34]>", shown) == ["<h3>", "<h4>"]


@pytest.mark.parametrize("svg", ["<svg onload=alert(1)></svg>", "<b>", ""])
def test_only_pictures_with_a_description_get_into_a_document(svg: str) -> None:
    with pytest.raises(ModelError, match="not a picture"):
        Picture(svg, "words")


def test_a_table_may_be_empty_and_its_rows_are_as_long_as_its_header() -> None:
    document = Document("t", (), (Section("s", (Table(("a", "b"), ()),)),))
    for form in FORMS:
        assert document.written(form)
    with pytest.raises(ModelError, match="not as long"):
        Table(("a", "b"), (("1", "2"), ("1", "2", "3")))


def test_the_ending_decides_the_form_and_a_file_is_not_replaced(tmp_path: Path) -> None:
    document = everything("x")
    for form, endings in FORMS.items():
        for ending in endings:
            place = tmp_path / f"page{ending}"
            assert document.save(place) == place
            assert place.read_text("utf-8") == document.written(form)
            with pytest.raises(StoichkitError, match="already"):
                document.save(place)
            document.save(place, replace=True)
    for name in ("page.pdf", "page", "page.docx", ".html"):
        with pytest.raises(DataFileError, match=r"\.txt, \.md, \.html, \.htm, \.tex or \.json"):
            document.save(tmp_path / name)
    assert form_of("PAGE.HTM") == "html"
    with pytest.raises(ModelError, match="markdown"):
        document.written("pdf")


def test_cells_of_html_stand_as_they_are_and_empty_ones_head_nothing() -> None:
    table = html_table(("", "b"), [("", Cell("<i>2</i>", "n", 2)), ("<x>", "y")], "c", frame="f")
    assert '<div class="f" tabindex="0" role="group" aria-label="c">' in table
    assert '<tr><td></td><th scope="col">b</th></tr>' in table
    assert '<tr><td></td><td class="n" colspan="2"><i>2</i></td></tr>' in table
    assert '<tr><th scope="row">&lt;x&gt;</th><td>y</td></tr>' in table
    assert html_table(("a",), [("b",)], named=False).count("<td>b</td>") == 1
    assert escaped("a\n\x07<'") == "a\n\N{REPLACEMENT CHARACTER}&lt;&#x27;"


def test_short_tables_and_short_cells_are_kept_together() -> None:
    """Up to six rows on one page; up to eight characters beside the name of a row on one line."""
    for rows, short in ((6, True), (7, False)):
        page = html_part(Table(("a", "b"), (("name", "< 0.0001"),) * rows))
        assert ('class="stoichkit-wide short"' in page) == short
    page = html_part(Table(("a", "b", "c"), (("12345678", "12345678", "123456789"),)))
    assert '<th scope="row">12345678</th>' in page
    assert '<td class="whole">12345678</td><td>123456789</td>' in page


@pytest.mark.parametrize(
    ("kind", "text", "written"),
    [
        ("symbol", "V", "<i>V</i>"), ("symbol", "V1", "<i>V1</i>"), ("symbol", "5 mL", "5 mL"),
        ("symbol", "273.15 K", "273.15 K"), ("number", "V", "V"), ("words", "a", "a"),
    ],
)  # fmt: skip
def test_quantities_are_in_italics_and_numbers_with_units_upright(
    kind: str, text: str, written: str
) -> None:
    """As in IUPAC's Green Book (3rd edition, 1.3; from memory)."""
    page = html_part(Equation(((Token(kind, text),), (Token("number", "7"),))))
    assert f"<span>{written}</span> <span>= 7</span>" in page


@pytest.mark.parametrize(("fields", "read"), [(5000, 5000), (5001, 5000)])
def test_five_thousand_fields_of_a_page_are_read(fields: int, read: int) -> None:
    assert len(typed_fields('<b data-item="a"></b>' * fields)) == read
