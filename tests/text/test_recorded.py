"""Every form of every part of a page, words for numbers, cards and sheets: a change is seen.

That an answer is right is for the other tests here; see :mod:`tests.recorded`.
"""

from __future__ import annotations

import itertools
import math
import zipfile
from functools import partial
from pathlib import Path
from typing import Any

from stoichkit.text import cards, document, html, latex, plain, sheets, wording
from stoichkit.text.parts import (
    Bullets,
    Equation,
    Field,
    Part,
    Picture,
    Section,
    Strong,
    Subheading,
    Table,
    Token,
    one_line,
)
from stoichkit.uncertainty.sources import Shape, uncertain_value
from tests.recorded import Record, cases, each, tried

RECORD = Record(__file__)
SVG = '<svg role="img" aria-label="A line"><path d="M0 0"/></svg>'
ODD = "a_b <b> & $5 {x} \\n #1 50 % ~ ^2 *x* [y](z) `q` |r| 'H₂O' → 10⁻³ µ \x1b[2J “é” −1 ± × ½ ≥ Δ"
LONG = "a sentence that goes on and on until it has to be broken somewhere, " * 4


def tokens(text: str) -> tuple[Token, ...]:
    kinds = {"+": "sign", "−": "sign", "×": "sign", "/": "sign", "(": "sign", ")": "sign"}
    found = []
    for piece in text.split(" "):
        piece = piece.replace("_", " ")
        if piece in kinds:
            found.append(Token("sign", piece))
        elif piece[0].isdigit():
            found.append(Token("number", piece))
        elif "(" in piece or piece in ("R", "F"):
            found.append(Token("symbol", piece))
        else:
            found.append(Token("name", piece))
    return tuple(found)


EQUATIONS = {
    "difference": Equation(
        (
            tokens("m(Cu)"),
            tokens("wire_before − wire_after"),
            tokens("3.12 − 2.65"),
            tokens("0.47"),
        ),
        "g, two figures",
    ),
    "quotient": Equation((tokens("n(Ag)"), tokens("m(Ag) / M(Ag)"), tokens("1.59 / 107.8682"))),
    "brackets": Equation(
        (
            tokens("r"),
            tokens("( a − b ) / ( c + d ) × 1/2"),
        ),
        "± 0.1",
    ),
    "signs in names": Equation((tokens("paper_+_silver − paper"), tokens("2 × ( 3 + x/y )"))),
    "ions": Equation((tokens("n(Cu^2+)"), tokens("n(SO4^2-) × 3/2"), tokens("1.9e-3"))),
    "long": Equation(
        (
            tokens("p(H2)"),
            tokens(
                "( pressure − p(H2O) ) × ( gas_volume_after − gas_volume_before ) / R / "
                "( temperature "
                "+ 273.15 )"
            ),
        ),
        "Pa",
    ),
    "odd": Equation(((Token("name", ODD), Token("symbol", "Δ(x)"), Token("symbol", "T")),)),
}
PARTS: dict[str, Part] = {
    "paragraph": "Words.",
    "long paragraph": LONG,
    "odd paragraph": ODD,
    "strong": Strong("Read this."),
    "odd strong": Strong(ODD),
    "subheading": Subheading("Below"),
    "odd subheading": Subheading(ODD),
    "list": Bullets(("one", LONG, ODD)),
    "table": Table(("who", "how much / g"), (("red", "1.50"), ("blue", "10.25"), (ODD, "—"))),
    "wide table": Table(("a", "b", "c", "d"), ((LONG, LONG, "x", ""),), "A caption"),
    "no rows": Table(("a", "b"), (), "Nothing"),
    "one column": Table(("a",), (("1",), ("2",))),
    "picture": Picture(SVG, "A line.", "The line", "line 1.png"),
    "bare picture": Picture(SVG, ODD),
    "field": Field("Name"),
    "filled field": Field("Name", ODD),
    "typed field": Field("Ratio", "2.1", "ratio", "1"),
    "typed group": Field("Group", "", "group"),
    "boxes": Table(("Reading", "1", "2"), (("wire", "□□.□□", "□.□"), ("paper", "x", "")), "Boxes"),
    **EQUATIONS,
}


def part(name: str) -> object:
    one = PARTS[name]
    return {
        "text": plain.text_part(one),
        "markdown": plain.markdown_part(one),
        "html": html.html_part(one),
        "html, level 4": html.html_part(one, level=4),
        "latex": latex.latex_part(one),
        "math": latex.math_part(one),
        "data": document._part_data(one),
    }


def pages() -> object:
    some = tuple(PARTS[n] for n in ("paragraph", "strong", "list", "table", "difference", "field"))
    page = document.Document(
        f"Title {ODD}", ("First.", ODD), (Section("One", some), Section("Two", ("x",), kept=True))
    )
    return {
        **{form: tried(page.written, form) for form in (*document.FORMS, "pdf")},
        "math": page.math(),
        "shown": page._repr_html_(),
        "repr": repr(page),
        "forms": each(
            document.form_of,
            ["a.txt", "a.md", "a.html", "a.htm", "a.TEX", "a.json", "a.pdf", "a", ".md", "a.docx"],
        ),
        "headings": [
            [write(t, level) for level in (1, 2, 3)]
            for write in (
                plain.text_heading,
                plain.markdown_heading,
                html.html_heading,
                latex.latex_heading,
                latex.math_heading,
            )
            for t in ("Title", ODD)
        ],
    }


def small() -> object:
    ends = list(itertools.product((0.0, 1.0004, 0.012, 99.96, 1.5e5), (1.2, 100.0, 2e5, math.inf)))
    numbers = (
        0.0,
        1e-9,
        0.00009,
        0.0001,
        0.049,
        0.04996,
        0.05,
        0.0500004,
        0.4177,
        0.995,
        0.9999,
        1.0,
    )
    return {
        "joined": [
            wording.joined(list("abcd"[:n]), last) for n in (1, 2, 3, 4) for last in ("and", "or")
        ],
        "p": [
            [wording.p_text(p, c), wording.p_clause(p, c)]
            for p in numbers
            for c in (0.95, 0.99, 0.9999, 0.5)
        ],
        "plus minus": [
            wording.plus_minus(a, u)
            for a in (1.89151, -250.4, 1e-7, 0.0)
            for u in (0.0745638, 12.3, 1e-9, 0.0, 0.0996)
        ],
        "numbers": [
            wording.number_text(v)
            for v in (
                -0.5,
                0.0,
                1e7,
                uncertain_value(-2.5, "x", kind="o", shape=Shape.NORMAL, scale=0.12),
            )
        ],
        "magnitude": [
            wording.magnitude(v, f)
            for v in (0.9996, 0.9994, -250.0, 0.0, 9.96, 99.6)
            for f in (0, 1, 2, 3)
        ],
        "two digits": each(
            wording.two_digits,
            [0.0000973, 0.0999, 0.0994, 1.0, 9.96, 12.34, 123.4, 0.0, -1.0, 99.6],
        ),
        "ranges": [
            [
                low,
                high,
                wording.shown_range(low, high),
                wording.shown_range(low, high, [1.0]),
                wording.shown_range(low, high, [1.00041, 100.0]),
            ]
            for low, high in ends
        ],
        "narrow": [
            wording.shown_range(1.0, 1.0),
            wording.shown_range(-1.0, -0.5, [-0.7501]),
            wording.shown_range(1.0, 1.0 + 1e-12, [1.0]),
        ],
        "species": each(wording.species_text, ["OH^-", "H2O", "CuSO4.5H2O", "?", "Fe^3+", "e^-"]),
        "reactions": each(
            wording.reaction_text, ["Cu + 2 Ag^+ -> Cu^2+ + 2 Ag", "a -> b", "2H2+O2=2H2O"]
        ),
        "symbols": each(wording.symbol, ["H2O", "x y", "Cu^2+"]),
        "capitals": each(
            wording.capitalised, ["copper(I)", "x = 2", "pH is", "é", "", "NaCl", "a"]
        ),
        "lines": [one_line(ODD), one_line(ODD, "?"), one_line(" a\n\tb ")],
        "tokens": [
            [t.words, t.species and t.species[0]]
            for e in EQUATIONS.values()
            for s in e.sides
            for t in s
        ],
        "escaped": [
            html.escaped(ODD),
            html.unescaped(html.escaped(ODD)),
            html.shown_text(ODD),
            latex.escaped_latex(ODD),
            plain.escaped_markdown(ODD),
            plain.escaped_markdown("1. a"),
            plain.escaped_markdown("- a"),
            plain.escaped_markdown("# a"),
            plain.escaped_markdown("> a"),
        ],
        "sides": {n: plain.equation_sides(e) for n, e in EQUATIONS.items()},
        "equations": {n: latex.equation_latex(e) for n, e in EQUATIONS.items()},
        "widths": [
            plain.text_widths([["a", "bb"], ["ccc", "d"]]),
            plain.text_widths([[LONG, LONG], ["x", "y"]]),
            plain.text_widths([[LONG, "x", "y" * 30]]),
        ],
        "short tables": [
            html.html_part(Table(("a",), (("1",),) * n)).partition(">")[0] for n in range(1, 30)
        ],
        "lists": [
            html.html_list(["a", ODD]),
            html.html_kept("<p>x</p>"),
            html.html_image(SVG, ODD),
        ],
        "tables": [
            html.html_table(("a", "b"), [("1", html.Cell("<i>2</i>", "n"))], c, named=n, look=look)
            for c in ("", "Caption")
            for n in (True, False)
            for look in ("", "boxed")
        ],
        "page": [html.html_page("T", "<p>x</p>"), html.html_page(ODD, "", style="p{}")],
        "fields": [
            html.typed_fields(markup)
            for markup in (
                html.html_part(PARTS["typed field"]),
                html.html_part(PARTS["typed group"]),
                "".join(html.html_part(p) for p in PARTS.values() if isinstance(p, Field)),
                html.html_part(PARTS["typed field"]).replace("2.1", "3<br>4&amp;<b>5</b>"),
                '<p><span data-item="a">1<b>2<i>3</i></b></span>4<b data-item="b">5</b></p>',
                '<input data-item="a" value="3">4<input data-item="b"><br data-item="c"/>',
                '<i data-item="a"/>5<i data-item="b">6<br/>7<br>8<u/>9</i>10',
                '<i data-item="a" data-trial="2">6<i>7</i></i></i><i data-item>8</i>',
                "<span",
                "",
                "<p>x</p>",
            )
        ],
        "refused": [
            tried(Table, ("a", "b"), (("1",),)),
            tried(Picture, "<b>", "x"),
            tried(Picture, "<svg x>", "x"),
            tried(Picture, "<svg x><a aria-label=''>", "x"),
        ],
        "latex": [latex.latex_document("x")[:400], latex.math_document("x")],
    }


# -- cards and labels -------------------------------------------------------------------------


def printed() -> object:
    def section(title: str, *names: str) -> Section:
        return Section(title, tuple(PARTS[n] for n in names))

    plain_card = section(
        "Group 1",
        "paragraph",
        "strong",
        "subheading",
        "list",
        "boxes",
        "field",
        "filled field",
        "field",
        "field",
        "table",
    )
    sizes = {
        f"{n} {kind}": [
            tried(cards.type_size, Section("Group", (one,) * n)),
            str(tried(cards._field_of, Section("Group", (one,) * n))),
        ]
        for kind, one in {
            "paragraphs": "Read the balance.",
            "long": LONG,
            "strong": Strong(LONG[:150]),
            "subheadings": Subheading("Below"),
            "lists": Bullets(("a", "b", LONG[:120])),
            "tables": Table(("a", "b"), (("x", "□□.□"), ("y" * 40, LONG[:90]))),
            "fields": Field("Name"),
        }.items()
        for n in (1, 3, 6, 10, 20, 35, 50)
    }
    many = tuple(Section(f"Group {i}", ("wire", "paper")) for i in range(26))
    mixed = (*many[:25], section("Large", "list", "table", "strong"), section("Other", "list"))
    return {
        "heights": {n: tried(cards._height_mm, (p,), 184.0, 10.0) for n, p in PARTS.items()},
        "narrow": {n: tried(cards._height_mm, (p,), 55.5, 7.0) for n, p in PARTS.items()},
        "sizes": sizes,
        "letters": "".join(f"{c}{cards._em(c):g} " for c in "amMwWil.,:;'|!()[] -@%—…AZ09é漢jftrI"),
        "boxes": [
            [b, cards.boxes_mm(b), cards.columns_for(b)]
            for b in ("□□.□□", "□", "□□□□.□□□□", "", "□" * 40)
        ],
        "packed": [
            [
                [s.title, [len(p.items) for p in s.parts if isinstance(p, Bullets)]]
                for s in cards.packed("Steps", items)
            ]
            for items in ([], ["a"], [LONG] * 40, ["word " * 3000, "x"], ["x" * 40_000])
        ],
        "cards": cards.Cards("Cards", ("First.",), (plain_card, Section("2", ("x",)))).html(),
        "labels": cards.Labels("Labels", (), mixed).html().split("</style>")[1],
        "sheets": [
            [page.count('class="sheet"'), page.count('class="label"'), page.count("repeat(3,")]
            for n in (1, 8, 24, 25, 26)
            for page in [cards.Labels("Labels", (), many[:n]).html()]
        ],
        "refused": [
            tried(cards.Cards("C", (), (Section("A", (LONG * 99,)),)).html),
            tried(cards.Labels("C", (), (Section("A", (LONG * 99,)),)).html),
            tried(cards._height_mm, (PARTS["picture"],), 184.0, 10.0),
        ],
        "text": cards.Cards("Cards", (), (plain_card,)).text(),
    }


def written_sheets(folder: Path) -> object:
    rows: list[Any] = [
        ("=1+1", 1.5, 3),
        ("-5", math.nan, 0),
        ("a\tb\nc\x00", 1234567.891, -2),
        (" +x", 1e-7, 10**7),
        ("'=x", math.inf, 1),
        ("x" * 40_000, 0.1 + 0.2, 2),
    ]
    sheet = sheets.Sheet(
        "A [sheet]: of / * words that is far too long for a tab", ("=group", "ratio", "n"), rows
    )
    typed = sheets.Sheet("", ("a",), [("007",), (7,)], typed=True)

    def shown(answer: object) -> str:
        return str(answer).replace(str(folder), "…").replace("x" * 1000, "x…")

    def save(name: str, some: Any = (sheet, typed), **more: Any) -> object:
        found = tried(sheets.write_sheets, folder / name, some, **more)
        if isinstance(found, str):
            return shown(found)
        data = found.read_bytes()
        if name.endswith("xlsx"):
            with zipfile.ZipFile(found) as package:
                return [
                    [n, str(package.getinfo(n).date_time)]
                    + ([shown(package.read(n).decode())] if "sheet" in n or "core" in n else [])
                    for n in package.namelist()
                ]
        return shown(data.decode("utf-8"))

    def refuse(data: bytes) -> None:
        raise sheets.DataFileError(f"Refused: {data[:3]!r}.")

    return {
        "csv": [
            save(f"{i}.csv", delimiter=d, decimal=m)
            for i, (d, m) in enumerate(itertools.product((",", ";", "\t", "|"), (".", ",", "x")))
        ],
        "xlsx": save("a.xlsx"),
        "html": save("a.html"),
        "again": [save("a.csv"), save("a.csv"), save("a.csv", replace=True) == save("b.csv")],
        "refused": [
            save("a.txt"),
            save("c.csv", []),
            save("c.csv", [3]),
            save("c.csv", check=refuse),
            save("c.csv", check=3),
            save("c.csv", delimiter=3),
            save("c.csv", private=3),
            (folder / "c.csv").exists(),
        ],
        "private": [save("d.csv", private=True), oct((folder / "d.csv").stat().st_mode)],
        "neutral": each(
            sheets.neutralised, ["=1", "+1", "-1", "@x", " =1", "\t=1", "a", "'=1", "＝1", ""]
        ),
        "defused": [
            [sheets.defused(t), sheets.undefused(t), sheets.undefused(sheets.defused(t))]
            for t in ("=1", "+1", "-1", "@x", "'x", "'=x", "a", "", "'", "\t1", "\r1")
        ],
        "mark": sheets.sheet_mark(),
        "how far the mark is looked for": [
            [
                sheets.header_of_own([["x"]] * n + [[sheets.sheet_mark()], ["group"]]),
                sheets.delimiter_of_own(["x"] * n + [sheets.sheet_mark(), "group;trial;x"]),
            ]
            for n in range(6)
        ],
        "header": [
            sheets.header_of_own(rows)
            for rows in (
                [[sheets.sheet_mark()], ["group"]],
                [["x"], [sheets.sheet_mark()], ["group"]],
                [["x"]] * 30 + [[sheets.sheet_mark()], ["group"]],
                [],
                [[]],
                [[sheets.sheet_mark()]],
            )
        ],
        "delimiters": [
            sheets.delimiter_of_own([sheets.sheet_mark() + tail, line])
            for tail, line in (
                ("", "group;trial;x"),
                (";;", '"group","trial","x"'),
                ("", "group\ttrial\tx"),
                ("", "x"),
            )
        ],
    }


CASES = cases(
    part={name: partial(part, name) for name in PARTS},
    alone={"pages": pages, "small": small, "printed": printed},
)


def test_sheets(tmp_path: Path) -> None:
    RECORD.check("sheets", lambda: written_sheets(tmp_path))


test_answers, test_nothing_else = RECORD.tests(CASES, also=("sheets",))
