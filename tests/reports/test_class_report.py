"""Reports on a class and on one group: complete, safe, self-contained, and fit to print."""

from __future__ import annotations

import csv
import io
import os
import re
import shutil
import time
from collections.abc import Callable, Iterator
from functools import cache
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from stoichkit import experiments
from stoichkit.classroom.export import export_answer_key, export_results
from stoichkit.classroom.result import ClassResult, assess_class
from stoichkit.errors import DataFileError, ModelError, StoichkitError
from stoichkit.reports.classroom import class_report, group_report
from stoichkit.text.document import Document
from tests.classfiles import HEADER, ROWS, class_bytes, csv_bytes

HOSTILE = ("<script>alert(1)</script>", '"><img src=x onerror=1>', "=1+2", "[a](http://b) *c*")
VOID = {"meta", "br", "img", "link", "input", "hr"}


class Page(HTMLParser):
    """What a page holds: tags with attributes, headings, text, and whether tags are closed."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.headings: list[tuple[int, str]] = []
        self.words = ""
        self._open: list[str] = []
        self.feed(text)
        self.close()
        assert not self._open

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self._open.append(tag)
        if re.fullmatch("h[1-6]", tag):
            self.headings.append((int(tag[1]), ""))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self._open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" in self._open:
            return
        self.words += data
        if self._open and re.fullmatch("h[1-6]", self._open[-1]):
            level, text = self.headings[-1]
            self.headings[-1] = (level, text + data)


@cache
def demo(*, codes: bool = False) -> ClassResult:
    return assess_class(experiments.class_file(), "copper-silver", codes=codes)


@cache
def demo_report() -> Document:
    return class_report(demo())


def named(*names: str) -> ClassResult:
    out = io.StringIO(newline="")
    rows = [(names[i % len(names)], str(i), *rest) for i, (_, _, *rest) in enumerate(ROWS)]
    csv.writer(out).writerows([HEADER, *rows])
    return assess_class(out.getvalue().encode(), "copper-silver")


@cache
def pages() -> tuple[tuple[str, str], ...]:
    slate = group_report(demo(), "slate")
    return ("class", demo_report().html()), ("group", slate.html())


@pytest.mark.parametrize("which", ["class", "group"])
def test_a_page_loads_nothing_and_describes_every_picture(which: str) -> None:
    text = dict(pages())[which]
    page = Page(text)
    for tag, attributes in page.tags:
        assert tag not in ("script", "link", "iframe", "object", "embed", "img", "use", "base")
        for name, value in attributes.items():
            assert not name.startswith("on")
            if name in ("src", "href", "xlink:href", "action", "data"):
                pytest.fail(f"{tag} {name}={value}")
    outside = re.sub(r'xmlns(:\w+)?="[^"]*"', "", text)
    assert "http:" not in outside
    assert "https:" not in outside
    assert "url(" not in text
    assert "@import" not in text
    pictures = [a for tag, a in page.tags if tag == "svg"]
    assert len(pictures) == 2
    for picture in pictures:
        assert picture["role"] == "img"
        assert len(picture["aria-label"] or "") > 100


@pytest.mark.parametrize("which", ["class", "group"])
def test_headings_are_in_order(which: str) -> None:
    levels = [level for level, _ in Page(dict(pages())[which]).headings]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))


def test_the_class_report_begins_with_what_an_instructor_needs() -> None:
    page = Page(class_report(demo(), note="Tuesday, invented").html())
    titles = [text for level, text in page.headings if level == 2]
    assert titles[:4] == [
        "Verdict of the class",
        "Groups to look at",
        "The groups beside the candidates",
        "Group by group",
    ]
    assert titles[-1] == "Cautions"
    assert "Tuesday, invented" in page.words
    for word in (
        "single out copper(II)",
        "DerSimonian-Laird",
        "Paule-Mandel",
        "Hartung-Knapp",
        "two digits may be transposed",
        "plum stands out",
        "row 20",
        "safety data sheet",
    ):
        assert word in page.words


def test_every_group_has_a_row_and_every_problem_of_the_file_too() -> None:
    result = demo()
    text = class_report(result).html()
    rows = re.findall(r'<tr><th scope="row">(.*?)</th>', text)
    assert [name for name in rows if name in result.evidence.names] == list(result.evidence.names)
    for problem in result.data.problems:
        assert problem.place in rows


def test_the_group_report_has_worked_solution_slips_and_key_and_no_other_group() -> None:
    page = Page(group_report(demo(), "plum").html())
    titles = [text for level, text in page.headings if level == 2]
    for title in ("Verdict", "Slips in the readings", "Worked solution", "Answer key", "Cautions"):
        assert title in titles
    assert "With 3.23 the trial fits copper(II)" in page.words
    assert "stands out" in page.words
    for other in demo().evidence.names:
        assert (re.search(rf"\b{other}\b", page.words) is not None) is (other == "plum")


def test_the_answers_can_be_kept_back() -> None:
    page = Page(group_report(demo(), "teal", answers=False).html())
    titles = [text for _, text in page.headings]
    assert "Answer key" not in titles
    assert "Worked solution" not in titles
    assert "No slip was found" in page.words


def test_a_group_that_fits_nothing_is_told_what_could_be_the_cause() -> None:
    titles = [text for _, text in Page(group_report(demo(), "slate").html()).headings]
    assert "What could explain the discrepancy" in titles


def test_hostile_names_act_nowhere(tmp_path: Path) -> None:
    result = named(*HOSTILE)
    plain = Page(class_report(named("a", "b", "c", "d")).html())
    report = class_report(result)
    page = Page(report.html())
    assert [tag for tag, _ in page.tags] == [tag for tag, _ in plain.tags]
    for name in HOSTILE:
        assert name in page.words
        group = Page(group_report(result, name).html())
        assert not [tag for tag, _ in group.tags if tag in ("script", "img")]
    markdown = report.markdown()
    assert "<script" not in markdown
    assert "](http" not in markdown
    assert "*c*" not in markdown
    written = (
        export_results(result.evidence, tmp_path / "results.csv"),
        export_answer_key(result.data, tmp_path / "key.csv"),
    )
    for path in written:
        cells = path.read_text("utf-8-sig")
        assert "'=1+2" in cells
        assert not re.search(r"(^|,)=1", cells, re.MULTILINE)


def test_codes_leave_no_name_in_any_output() -> None:
    coded = demo(codes=True)
    report = class_report(coded)
    names = demo().evidence.names
    outputs = [
        report.html(),
        report.markdown(),
        report.text(),
        *(group_report(coded, name).html() for name in coded.evidence.names),
        group_report(coded, "G01").markdown(),
        repr(coded),
    ]
    for text in outputs:
        for name in names:
            assert not re.search(rf"\b{name}\b", text), name
    assert "Groups go by codes" in outputs[0]
    assert "G09" in outputs[0]
    assert not coded.data.key


def test_markdown_and_text_say_what_the_page_says() -> None:
    report, teal = demo_report(), group_report(demo(), "teal")
    markdown, text = report.markdown(), report.text()
    assert "Picture. Mole ratios" in markdown
    for words in ("plum stands out", "Groups to look at", "copper(II)"):
        assert words in markdown
        assert words in text
    assert max(map(len, text.splitlines())) <= 90
    assert "<" not in re.sub(r"<\d|\]\(<", "", teal.markdown())
    assert "Answer key" in teal.text()


def test_a_class_without_a_verdict_still_has_a_report() -> None:
    one = assess_class(csv_bytes(ROWS[:2]), "copper-silver")
    page = Page(class_report(one).html())
    assert "There is no verdict of the class" in page.words
    assert "red" in page.words
    assert "no verdict" in Page(group_report(one, "red").html()).words


def test_a_class_that_fits_no_candidate_is_told_possible_causes() -> None:
    rows = [(g, t, a, b, c, f"{float(c) + 0.06:.2f}") for g, t, a, b, c, _ in ROWS]
    page = Page(class_report(assess_class(csv_bytes(rows), "copper-silver")).html())
    titles = [text for _, text in page.headings]
    assert "What could explain the discrepancy, if it is alike in all groups" in titles
    assert "product left in the vessel" in page.words
    assert not [t for _, t in Page(demo_report().html()).headings if "explain" in t]


@pytest.mark.parametrize(
    "name", ["tin-oxide", "acid-titration", "magnesium-gas", "copper-plating", "hydrate-heating"]
)
def test_every_way_of_measuring_has_a_report(name: str) -> None:
    lab = experiments.load(name)
    header = ("group", *lab.reading_names())
    rows = []
    for trial in lab.trials:
        readings = {**lab.shared_readings, **trial.readings}
        if all(reading in readings for reading in header[1:]):
            rows.append((trial.name, *(readings[reading][-1] for reading in header[1:])))
    assert len(rows) >= 2
    result = assess_class(csv_bytes(rows, header), lab)
    assert "Group by group" in class_report(result).html()
    assert "Answer key" in group_report(result, rows[0][0]).html()


def test_writing_never_replaces_a_file_silently(tmp_path: Path) -> None:
    place = tmp_path / "class.html"
    assert demo_report().save(place) == place
    before = place.read_bytes()
    other = class_report(demo(), note="other")
    with pytest.raises(StoichkitError, match="already"):
        other.save(place)
    assert place.read_bytes() == before
    other.save(place, replace=True)
    assert place.read_bytes() != before
    with pytest.raises(DataFileError, match=r"\.txt, \.md, \.html"):
        group_report(demo(), "teal").save(tmp_path / "teal.docx")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["class.html"]


def test_progress_is_told_and_a_report_can_be_stopped() -> None:
    told: list[tuple[int, int]] = []
    class_report(demo(), progress=lambda done, total: told.append((done, total)))
    assert told[-1] == (9, 9)
    with pytest.raises(ModelError, match="stopped"):
        class_report(demo(), progress=lambda done, _total: done >= 3)


def test_an_unknown_group_is_refused_with_the_known_ones() -> None:
    with pytest.raises(ModelError, match="amber"):
        group_report(demo(), "nobody")


def test_a_page_of_thirty_groups_stays_small(measured: Callable[[str], None]) -> None:
    start = time.process_time()
    result = assess_class(class_bytes(30), "copper-silver")
    page = class_report(result).html()
    took = time.process_time() - start
    measured(f"report of 30 groups: {took:.1f} s of processor time, {len(page) / 1000:.0f} kB")
    assert len(page) < 300_000


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    path = os.environ.get("CHROMIUM") or shutil.which("chromium")
    if not path:
        pytest.skip("no Chromium: install Debian's, or name one in CHROMIUM")
    playwright = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")
    with playwright.sync_playwright() as driver:
        found = driver.chromium.launch(
            executable_path=path, headless=True, args=["--no-sandbox", "--disable-gpu"]
        )
        yield found
        found.close()


@pytest.mark.browser
@pytest.mark.parametrize(("paper", "width_mm"), [("A4", 210.0), ("Letter", 215.9)])
def test_pages_print_without_anything_cut_off(
    chromium: Any, tmp_path: Path, paper: str, width_mm: float
) -> None:
    printable_px = (width_mm - 2 * 14.0) / 25.4 * 96  # the margins of the page's own rules
    long_names = named(*(f"{word} " + "bench of the evening course" * 2 for word in "abcd"))
    texts = [*(text for _, text in pages()), class_report(long_names).html()]
    for i, text in enumerate(texts):
        place = tmp_path / f"{i}.html"
        place.write_text(text, "utf-8")
        context = chromium.new_context(viewport={"width": int(printable_px), "height": 900})
        page = context.new_page()
        asked: list[str] = []
        page.on("request", lambda request, asked=asked: asked.append(request.url))
        page.goto(place.as_uri())
        page.emulate_media(media="print")
        assert asked == [place.as_uri()]
        beyond = page.evaluate(
            """() => [...document.querySelectorAll("table, svg, p, li, h1, h2, td, th")]
            .filter(e => e.getBoundingClientRect().right > innerWidth + 1
                || e.scrollWidth > e.clientWidth + 1 && e.tagName != "svg" && e.clientWidth > 0)
            .map(e => e.tagName + ": " + e.textContent.slice(0, 60))"""
        )
        assert beyond == []
        document = page.pdf(format=paper, prefer_css_page_size=False)
        assert document.startswith(b"%PDF")
        sheets = len(re.findall(rb"/Type\s*/Page\b", document))
        assert 2 <= sheets <= 9
        context.close()
