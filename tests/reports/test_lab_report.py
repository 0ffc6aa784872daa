"""The report on a lab: self-contained, readable by a screen reader, safe, and fit for paper."""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from stoichkit import experiments
from stoichkit.decision.evidence import Evidence, assess
from stoichkit.decision.statement import verdict_sentences
from stoichkit.decision.trust import overturning_sentence
from stoichkit.errors import DataFileError, ModelError, StoichkitError
from stoichkit.experiments.record import Experiment
from stoichkit.planning import next_trials
from stoichkit.reports.lab import lab_report, next_report
from stoichkit.reports.sections import causes_section, limiting_sentence, needs_causes
from stoichkit.reports.worked import conclusion_with, worked_solution
from stoichkit.text.document import Document, form_of
from tests.reports.test_worked import nasty

NASTY = '<script>alert(1)</script> & "q" <img src=x onerror=alert(1)> \x1b[2J'
VOID = {"meta", "br", "hr", "img", "input", "link"}
PAPER_MM = {"A4": (210, 297), "Letter": (215.9, 279.4)}
MARGIN_MM = 14


class Page(HTMLParser):
    """Collects what the tests look at."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.headings: list[tuple[int, str]] = []
        self.words: list[str] = []
        self._open: list[str] = []
        self.feed(text)
        self.close()
        assert self._open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if re.fullmatch("h[1-6]", tag):
            self.headings.append((int(tag[1]), ""))
        if tag not in VOID:
            self._open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self._open.pop() == tag

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        if not self._open or self._open[-1] in ("style", "script"):
            return
        self.words.append(data)
        if re.fullmatch("h[1-6]", self._open[-1]):
            level, text = self.headings[-1]
            self.headings[-1] = (level, text + data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


def wet() -> Experiment:
    """The ready lab with 0.06 g of water in the silver of every trial."""
    lab = experiments.load("copper-silver")
    for trial in lab.trials:
        value = float(trial.readings["paper + silver"][-1]) + 0.06
        lab = lab.with_reading(trial.name, "paper + silver", f"{value:.2f}")
    return replace(lab, title="Wet silver")


@cache
def report_of(evidence: Evidence) -> Document:
    """Return the report with nothing asked for, made once for all tests that read it."""
    return lab_report(evidence)


@pytest.fixture(scope="module")
def labs() -> dict[str, Evidence]:
    found = {name: assess(experiments.load(name)) for name in experiments.names()}
    return {**found, "wet": assess(wet())}


NAMES = [*experiments.names(), "wet"]


@pytest.mark.parametrize("name", NAMES)
def test_a_page_refers_to_nothing_outside(labs: dict[str, Evidence], name: str) -> None:
    text = report_of(labs[name]).html()
    for tag, attrs in Page(text).tags:
        assert tag not in ("script", "link", "iframe", "object", "img", "image", "use", "a", "base")
        assert not {"src", "href", "srcset", "data", "xlink:href", "action"} & set(attrs)
        assert not any(key.startswith("on") for key in attrs)
    assert "url(" not in text
    assert "@import" not in text
    addresses = set(re.findall(r"https?://[^\"' <]+", text))
    assert addresses <= {"http://www.w3.org/2000/svg"}  # names the language of the pictures


@pytest.mark.parametrize("name", NAMES)
def test_headings_are_in_order_and_pictures_are_described(
    labs: dict[str, Evidence], name: str
) -> None:
    page = Page(report_of(labs[name]).html())
    levels = [level for level, _ in page.headings]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b <= a + 1 for a, b in pairwise(levels))
    pictures = [attrs for tag, attrs in page.tags if tag == "svg"]
    assert len(pictures) == 2
    for attrs in pictures:
        assert attrs["role"] == "img"
        assert len(attrs["aria-label"] or "") > 60
    assert [tag for tag, _ in page.tags].count("caption") == [tag for tag, _ in page.tags].count(
        "table"
    )
    assert ("html", {"lang": "en"}) in page.tags


@pytest.mark.parametrize("name", NAMES)
def test_what_a_tired_instructor_reads_comes_first(labs: dict[str, Evidence], name: str) -> None:
    evidence = labs[name]
    page = Page(report_of(evidence).html())
    titles = [text for level, text in page.headings if level == 2]
    wanted = [
        "Verdict",
        "Candidates",
        "Mole ratio",
        "What would overturn it",
        "Slips in the readings",
        "Yield",
        "Amounts of substance",
        "Which reading limits the conclusion",
        "What could explain the discrepancy",
        "Is the candidate stable? (independent of the readings)",
        "Worked solution",
        "About the experiment",
        "What the verdict assumes",
        "Words used",
        "Cautions",
    ]
    assert [title for title in wanted if title in titles] == titles
    assert set(wanted) - set(titles) <= {wanted[8], wanted[9]}
    assert (wanted[8] in titles) == (name == "wet")
    conclusion = conclusion_with(evidence, evidence.diagnosis)
    for words in (verdict_sentences(evidence), conclusion, overturning_sentence(evidence)):
        assert " ".join(words.split()) in page.text
    for trial in evidence.experiment.trials:
        assert f"Trial {trial.name}" in page.text
    for caution in evidence.experiment.cautions:
        assert caution.subject in page.text
    assert "These notes do not replace the safety data sheet" in page.text
    assert "nan" not in page.text.split()


def test_causes_are_named_when_none_fits(labs: dict[str, Evidence]) -> None:
    page = Page(report_of(labs["wet"]).html())
    for name in ("Copper(I)", "Copper(II)"):
        assert (3, name) in page.headings
    assert "product not dry" in page.text
    assert "That an effect could explain it does not show that it happened." in page.text
    assert needs_causes(labs["wet"]) == ("copper(II)", "copper(I)")
    assert "What could explain" not in lab_report(labs["wet"], causes=False).html()


def test_causes_are_named_for_a_yield_that_is_off() -> None:
    """Only a recovery allowance lets copper(II) fit: the 20 % more are to be explained."""
    evidence = assess(replace(wet(), recovery=(1.0, 1.4)))
    assert evidence.verdict.candidates == ("copper(II)",)
    assert needs_causes(evidence) == ("copper(II)",)
    assert causes_section(evidence) is not None
    assert "product not dry" in lab_report(evidence).markdown()


def test_a_slip_is_told() -> None:
    lab = experiments.load("copper-silver").with_reading("bench 3", "wire before", "1.34")
    page = Page(lab_report(assess(lab)).html())
    assert "two digits may be transposed" in page.text
    assert "nothing was changed" in page.text


def test_what_limits_the_conclusion(labs: dict[str, Evidence]) -> None:
    said = limiting_sentence(labs["hydrate-heating"])
    assert said.startswith("The reading that limits the conclusion most is crucible + residue")
    charge = limiting_sentence(labs["copper-plating"])
    assert charge.startswith("What limits the conclusion most is calibration of ammeter")
    assert charge.endswith("Among the readings it is current.")


def test_parts_can_be_left_out(labs: dict[str, Evidence]) -> None:
    evidence = labs["copper-silver"]
    short = lab_report(evidence, title="Short", pictures=False, causes=False, worked=False).html()
    page = Page(short)
    assert page.headings[0] == (1, "Short")
    assert "<svg" not in short
    assert "Worked solution" not in short
    assert "Is the candidate stable" not in short
    assert (2, "Amounts of substance") in page.headings
    assert "Budget of the discrepancy from copper(II)" in page.text


def hostile() -> Experiment:
    typed = NASTY.partition(" \x1b")[0]
    made = nasty()
    one, *others = made.candidates
    return replace(
        made,
        about=typed,
        notes=(typed,),
        candidates=(replace(one, name=typed), *others),
        candidate_spec=None,
    )


def test_nothing_typed_acts_in_the_page() -> None:
    evidence = assess(hostile())
    for text in (
        lab_report(evidence, title=NASTY).html(),
        worked_solution(evidence).html(),
    ):
        page = Page(text)
        assert {tag for tag, _ in page.tags} <= {
            *("html", "head", "meta", "title", "style", "body", "main", "div"),
            *(
                "h1",
                "h2",
                "h3",
                "p",
                "strong",
                "ul",
                "li",
                "table",
                "caption",
                "thead",
                "tbody",
                "tr",
            ),
            *("th", "td", "figure", "svg", "rect", "text", "path", "circle", "polyline"),
            *("polygon", "i", "sub", "sup", "small", "span"),
        }
        assert "\x1b" not in text
        assert "<script>alert(1)</script>" in page.text
    markdown = lab_report(evidence, title=NASTY).markdown()
    assert "<" not in markdown
    assert "\x1b" not in markdown


def test_a_report_is_written_whole_and_never_over_a_file(
    labs: dict[str, Evidence], tmp_path: Path
) -> None:
    report = report_of(labs["copper-silver"])
    page = report.save(tmp_path / "r.html")
    assert page.read_text("utf-8") == report.html()
    other = lab_report(labs["copper-silver"], worked=False, title="New", note="On Tuesday.")
    with pytest.raises(StoichkitError, match="already"):
        other.save(page)
    assert page.read_text("utf-8") == report.html()
    other.save(page, replace=True)
    assert "<h1>New</h1>\n<p>On Tuesday.</p>" in page.read_text("utf-8")
    assert report.save(tmp_path / "r.MD").read_text("utf-8") == report.markdown()
    for name in ("r.pdf", "r"):
        with pytest.raises(DataFileError, match=r"\.html, \.htm, \.tex or \.json"):
            report.save(tmp_path / name)
    with pytest.raises(DataFileError, match="cannot be written"):
        report.save(tmp_path / "nowhere" / "r.html")
    assert sorted(os.listdir(tmp_path)) == ["r.MD", "r.html"]


@pytest.mark.parametrize(
    ("name", "start"),
    [
        ("w.html", "<!DOCTYPE html>"),
        ("w.md", "# Worked solution"),
        ("w.txt", "Worked solution"),
        ("w.tex", r"\documentclass"),
    ],
)
def test_a_worked_solution_is_written(
    labs: dict[str, Evidence], tmp_path: Path, name: str, start: str
) -> None:
    evidence = labs["magnesium-gas"]
    solution = worked_solution(evidence, trial="2", yield_of="magnesium(I)")
    text = solution.save(tmp_path / name).read_text("utf-8")
    assert text.startswith(start)
    assert text == solution.written(form_of(name))
    assert "Trial 2" in text
    assert "Trial 3" not in text
    with pytest.raises(ModelError, match="no such candidate"):
        worked_solution(evidence, yield_of="magnesium(V)")


def test_a_latex_document_is_closed() -> None:
    text = worked_solution(hostile()).latex()
    begun = re.findall(r"\\begin\{(\w+)\}", text)
    ended = re.findall(r"\\end\{(\w+)\}", text)
    assert sorted(begun) == sorted(ended)
    assert text.endswith("\\end{document}\n")


def test_print_rules(labs: dict[str, Evidence]) -> None:
    text = report_of(labs["copper-silver"]).html()
    rules = text[text.index("<style>") : text.index("</style>")]
    assert "@page { margin: 15mm 14mm; }" in rules
    assert "@media print" in rules
    for rule in ("table-header-group", "break-inside: avoid", "break-after: avoid"):
        assert rule in rules


# In Chromium


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    path = os.environ.get("CHROMIUM") or shutil.which("chromium")
    if not path:
        pytest.skip("no Chromium: install Debian's, or name one in CHROMIUM")
    playwright = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")
    with playwright.sync_playwright() as driver:
        switches = ["--no-sandbox", "--disable-gpu", "--no-first-run"]
        browser = driver.chromium.launch(executable_path=path, headless=True, args=switches)
        yield browser
        browser.close()


CUT_OFF = """(width) => [...document.querySelectorAll("body *")].filter((e) => {
  if (e instanceof SVGElement && e.tagName !== "svg") return false;
  const box = e.getBoundingClientRect();
  return box.width > 0 && (box.right > width + 1 || box.left < -1 ||
    (e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== "inline"
      && e.clientWidth > 0));
}).map((e) => e.outerHTML.slice(0, 120))"""


@pytest.mark.browser
@pytest.mark.parametrize("paper", PAPER_MM)
@pytest.mark.parametrize("name", ["hydrate-heating", "wet"])
def test_it_prints_on_paper_without_cutting_tables_off(
    labs: dict[str, Evidence], chromium: Any, tmp_path: Path, paper: str, name: str
) -> None:
    """Laid out at the width between the margins, nothing is wider; and the pages are the paper."""
    file = report_of(labs[name]).save(tmp_path / "r.html")
    width = round((PAPER_MM[paper][0] - 2 * MARGIN_MM) * 96 / 25.4)
    context = chromium.new_context(viewport={"width": width, "height": 900})
    try:
        page = context.new_page()
        asked: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        page.emulate_media(media="print")
        page.goto(file.as_uri())
        assert asked == [file.as_uri()]
        assert page.evaluate(CUT_OFF, width) == []
        data = page.pdf(format=paper)
    finally:
        context.close()
    assert data.startswith(b"%PDF")
    boxes = set(re.findall(rb"/MediaBox \[0 0 ([0-9.]+) ([0-9.]+)\]", data))
    assert len(boxes) == 1
    size = [float(v) * 25.4 / 72 for v in boxes.pop()]
    assert size == pytest.approx(PAPER_MM[paper], abs=0.5)
    assert 4 <= len(re.findall(rb"/Type /Page\b", data)) <= 12


def test_what_further_trials_would_come_to_stands_below_the_verdict() -> None:
    evidence = assess(experiments.load("copper-silver-coarse"))
    found = next_trials(evidence, most=1, labs=100)
    titles = [one.title for one in lab_report(evidence, following=found, worked=False).sections]
    assert titles[:3] == ["Verdict", "What next", "Candidates"]
    assert [one.title for one in next_report(found).sections] == [*titles[:2], "Cautions"]
    with pytest.raises(ModelError, match="about other readings"):
        lab_report(assess(experiments.load("copper-silver-coarse")), following=found)
    with pytest.raises(ModelError, match="following"):
        lab_report(evidence, following="soon")  # type: ignore[arg-type]
