"""The worked solution: one text for every way of measuring, classroom figures, safe to show."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from types import SimpleNamespace
from typing import Any

import pytest

from stoichkit import experiments
from stoichkit.decision.evidence import Evidence, assess
from stoichkit.decision.formulas import tokens_of
from stoichkit.decision.trust import fault_words
from stoichkit.decision.verdict import Caveat, CaveatKind, VerdictKind
from stoichkit.errors import ModelError
from stoichkit.experiments.parts import Trial
from stoichkit.experiments.record import Experiment
from stoichkit.experiments.store import parse_experiment
from stoichkit.measurement.concentration import KnownConcentration, PreparedSolution, SolutionVolume
from stoichkit.measurement.displays import Balance
from stoichkit.measurement.glassware import VolumetricFlask
from stoichkit.reports.figures import Figured, followed, written
from stoichkit.reports.lab import lab_report
from stoichkit.reports.worked import _reservations, conclusion_paragraph, worked_solution
from stoichkit.text.document import FORMS, Document
from stoichkit.text.latex import escaped_latex
from stoichkit.text.parts import Section
from stoichkit.uncertainty.sources import nominal
from tests.labs import REVERSED, crucible, lab
from tests.reports.test_study import ZINC

GOOD = [(3.12, 2.65, 0.71, 2.30), (2.98, 2.61, 0.70, 1.96), (3.40, 2.80, 0.72, 2.76)]
RAISED = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹", "0123456789")
NASTY = r'<script>alert(1)</script> & \input{x} $5 _a_ *b* |c| [d](e) "q" %'


def flat(text: str) -> str:
    return " ".join(text.split())


@cache
def ready(name: str) -> tuple[Evidence, Document]:
    """Return the evidence of a ready lab, and its worked solution."""
    evidence = assess(experiments.load(name))
    return evidence, worked_solution(evidence)


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("name", experiments.names())
def test_every_ready_lab_is_worked_in_every_form(name: str, form: str) -> None:
    text = ready(name)[1].written(form)
    assert text.endswith("\n")
    assert "nan" not in text
    assert "None" not in text
    for trial in experiments.load(name).trials:
        assert trial.name in text


@pytest.mark.parametrize("name", experiments.names())
def test_the_numbers_shown_are_those_of_the_evidence(name: str) -> None:
    """Each amount in the table of the lab agrees with the evidence to its guard digits."""
    evidence, solution = ready(name)
    text = flat(solution.text())
    found = re.findall(r"(\d+\.\d+(?: × 10⁻[⁰¹²³⁴⁵⁶⁷⁸⁹]+)?) mol", text)
    for pair in evidence.amounts:
        for amount in pair:
            value = nominal(amount)
            shown = [float(t.replace(" × 10⁻", "e-").translate(RAISED)) for t in found]
            assert any(abs(v - value) <= 5e-3 * abs(value) for v in shown)


def test_classroom_figures_of_a_weighing() -> None:
    """2.94 − 2.82 = 0.12 (two figures), / 63.546 = 0.0019 (two figures), uncertainty beside."""
    text = flat(worked_solution(experiments.load("copper-silver"), trial="bench 1").text())
    assert "2.94 g − 2.82 g = 0.12 g (mass of Cu; 2 significant figures: 0.12 g;" in text
    assert "0.12 g / 63.546 g/mol = 0.001888 mol (amount of Cu; 2 significant" in text
    assert "± 0.0082 g" in text
    assert "guard digits" in text


def test_classroom_figures_of_a_gas() -> None:
    text = flat(worked_solution(experiments.load("magnesium-gas"), trial="1").text())
    assert "21.4 °C + 273.15 K = 294.55 K (temperature; 4 significant figures: 294.6 K" in text
    assert "8.314463 kPa L/(mol K)" in text


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [
        (0.125, 2, "0.13"),
        (2.675, 2, "2.68"),
        (-0.004, 3, "−0.004"),
        (1250.0, -2, "1.3 × 10³"),
        (5e-06, 7, "5.0 × 10⁻⁶"),
        (63.546, 3, "63.546"),
        (0.0, 2, "0.00"),
    ],
)
def test_numbers_are_rounded_as_in_class(value: float, decimals: int, text: str) -> None:
    """Halves go away from zero; powers of ten where trailing zeros would mislead."""
    assert written(value, decimals) == text


@pytest.mark.parametrize(
    ("formula", "operands", "value", "figures"),
    [
        ("a − b", {"a": (12.34, 2), "b": (1.2, 1)}, 11.14, 3),  # decimals: 11.1
        ("a × b", {"a": (2.5, 1), "b": (3.456, 3)}, 8.64, 2),  # figures: 8.6
        ("a / b", {"a": (0.0120, 4), "b": (2.0, 1)}, 0.006, 2),
        ("a − b", {"a": (10.02, 2), "b": (9.98, 2)}, 0.04, 1),  # loses three figures
        ("a", {"a": (0.500, 3)}, 0.5, 3),
    ],
)
def test_the_two_rules(formula: str, operands: dict, value: float, figures: int) -> None:
    from stoichkit.measurement.base import Step

    read = {name: Figured(v, d, "g") for name, (v, d) in operands.items()}
    (line,) = followed([Step("x", "x", formula, value, "g")], read)
    assert line.result.figures == figures


def test_names_with_signs_are_not_taken_apart() -> None:
    names = ["a", "a + b", "a + b − c"]
    found = tokens_of("a + b − c − a + b", names, [])
    assert [t.text for t in found] == ["a + b − c", "−", "a + b"]
    text = flat(worked_solution(experiments.load("hydrate-heating"), trial="1").text())
    assert "“crucible + crystals” − “crucible + residue” = 22.52 g − 21.18 g" in text


def test_a_prepared_solution_is_followed_through_its_glassware() -> None:
    silver = SolutionVolume(
        species="Cl^-",
        final="end",
        initial="start",
        concentration=PreparedSolution(solute="AgNO3", heavier="salt", name="stock"),
    )
    base = experiments.load("acid-titration")
    made = replace(
        base,
        produced=replace(silver, species="OH^-"),
        instruments={**base.instruments, "flask": VolumetricFlask(capacity_mL=100)},
        shared_readings={"salt": "1.699"},
        trials=[Trial("1", {"crystals": "0.119", "start": "1.40", "end": "20.26"})],
    )
    text = flat(worked_solution(made).text())
    assert "m(AgNO₃) = salt = 1.699 g" in text
    assert "c = m(AgNO₃) × w(AgNO₃) / (M(AgNO₃) × flask of stock)" in text


def test_a_stated_concentration_is_said_to_be_stated() -> None:
    assert isinstance(experiments.load("acid-titration").produced.concentration, KnownConcentration)
    text = flat(worked_solution(experiments.load("acid-titration"), trial="1").text())
    assert "c = 0.0987 mol/L (concentration of sodium hydroxide solution, as stated;" in text


def nasty() -> Experiment:
    made = lab(GOOD)
    names = {"paper": "paper <b> & $x$", "paper + silver": r"paper + \silver{}"}
    trials = [
        Trial(f"t{i} <i>", {names.get(k, k): v for k, v in t.readings.items()})
        for i, t in enumerate(made.trials)
    ]
    produced = replace(
        made.produced, heavier=names["paper + silver"], lighter=names["paper"], vessel=None
    )
    return replace(made, title=NASTY, produced=produced, trials=trials)


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list) -> None:
        self.tags.add(tag)
        if tag not in ("html", "meta"):
            known = ("class", "scope", "tabindex", "role", "aria-label")
            assert all(name in known for name, _ in attrs)


def test_user_text_cannot_act_in_html() -> None:
    text = worked_solution(nasty()).html()
    parser = _Tags()
    parser.feed(text)
    page = {"html", "head", "meta", "title", "style", "body", "main", "div", "caption"}
    known = {"h1", "h2", "p", "ul", "li", "table", "thead", "tbody", "tr", "th", "td"}
    assert parser.tags <= page | known | {"i", "sub", "sup", "small", "span"}
    assert "<script" not in text
    assert html.escape(NASTY) in text


def test_user_text_cannot_act_in_latex() -> None:
    text = worked_solution(nasty()).latex()
    text = text[text.index(r"\begin{document}") :]
    assert r"\input{x}" not in text
    assert r"\silver" not in text
    allowed = (
        r"\\(section\*|subsection\*|begin|end|item|hline|text|mathrm|times|cdot|ensuremath|pm"
        r"|rightarrow|textless|textgreater|textbar|textbackslash|textasciicircum|textasciitilde"
        r"|textquotedbl|textasciigrave|textquotesingle|geq|mu|chi|Delta|circ|textbf|nopagebreak"
        r"|endhead)"
    )
    for command in re.findall(r"\\[A-Za-z]+\*?", text):
        assert re.fullmatch(allowed, command), command
    without = re.sub(r"\\[{}$&#%_]", "", text)
    assert without.count("{") == without.count("}")
    assert "$" not in without


def test_latex_escapes_every_active_character() -> None:
    assert escaped_latex("#$%&_{}") == r"\#\$\%\&\_\{\}"
    assert escaped_latex("~^\\") == r"\textasciitilde{}\textasciicircum{}\textbackslash{}"
    assert escaped_latex("H₂O") == r"H\ensuremath{_{2}}O"


def test_user_text_cannot_act_in_markdown_and_text() -> None:
    marked = worked_solution(nasty()).markdown()
    assert "<script" not in marked
    assert "<b>" not in marked
    plain = worked_solution(replace(nasty(), title="a\x1b[31mb")).text()
    assert "\x1b" not in plain


def test_conclusions_claim_no_more_than_the_verdict() -> None:
    single = conclusion_paragraph(assess(lab(GOOD)))
    assert "only copper(II) agrees" in single
    assert "does not prove it" in single
    unclear = conclusion_paragraph(assess(experiments.load("copper-silver-coarse")))
    assert "do not tell them apart" in unclear
    assert "No choice between them is claimed" in unclear
    wet = [(a, b, c, d + 0.5) for a, b, c, d in GOOD]
    none = conclusion_paragraph(assess(lab(wet)))
    assert "No product is claimed" in none
    assert "copper(II) agrees" not in none
    alone = conclusion_paragraph(assess(lab(GOOD[:1])))
    assert "single trial" in alone
    only = conclusion_paragraph(assess(lab(GOOD, ratios={"copper(II)": "2"})))
    assert "the only candidate considered" in only
    allowed = conclusion_paragraph(assess(lab(GOOD, recovery=(0.9, 1.1))))
    assert "90 % to 110 %" in allowed


def test_a_conclusion_names_what_would_overturn_it() -> None:
    """The nearest fault as the evidence has it; it is not said twice where a report says it."""
    for rows, begun in ((GOOD, "This verdict stands unless"), (GOOD[:1], "This verdict")):
        evidence = assess(lab(rows))
        said = conclusion_paragraph(evidence)
        nearest = fault_words(evidence.overturned_by[0], evidence)
        assert begun in said
        assert nearest in said
        assert nearest in flat(worked_solution(evidence.experiment).text())
        assert lab_report(evidence).text().count("This verdict") == 0
    reversed_readings = assess(lab(REVERSED))
    assert reversed_readings.verdict.kind is VerdictKind.CANNOT_BE_JUDGED
    assert "unless" not in conclusion_paragraph(reversed_readings)


def test_nothing_consumed_gives_no_ratio_but_a_solution() -> None:
    text = flat(worked_solution(lab([(3.0, 3.0, 0.7, 0.7)], Balance(readability_g=0.1))).text())
    assert "mole ratio" not in text
    assert "n(Cu) =" in text


def test_many_trials_are_cut_and_said() -> None:
    text = flat(worked_solution(lab(GOOD * 20)).text())
    assert text.count("Trial ") < 30
    assert "12 more trials are in the means" in text


def test_faults_are_refused() -> None:
    with pytest.raises(ModelError, match="bench 1"):
        worked_solution(experiments.load("copper-silver"), trial="bench 9")
    with pytest.raises(ModelError, match="latex"):
        worked_solution(experiments.load("copper-silver")).written("docx")


def test_a_formula_for_a_notebook_is_one_formula() -> None:
    """MathJax ends a line at a percent sign even among words, and \\text at an open brace."""
    text = worked_solution(nasty()).math()
    assert text.startswith("$$\\begin{array}{l}\n")
    assert text.endswith("\\end{array}$$\n")
    inside = text[2:-3]
    bare = re.sub(r"\\\\|\\[{}$%]", "", inside)
    assert "$" not in bare
    assert "%" not in bare
    depth = 0
    for brace in re.findall("[{}]", bare):
        depth += 1 if brace == "{" else -1
        assert depth >= 0
    assert depth == 0
    words = re.sub(r"\\\\input", "", inside)
    assert r"\input" not in words
    assert inside.count(r"\begin{array}") == inside.count(r"\end{array}")


def test_fractions_stand_upright_in_a_notebook() -> None:
    text = worked_solution(experiments.load("copper-silver"), trial="bench 1").math()
    assert r"n(\mathrm{Cu}) = \dfrac{m(\mathrm{Cu})}{M(\mathrm{Cu})}" in text
    assert r"\text{For copper(II) the percent yield is 103 }\%\text{;" in text


def test_a_mean_keeps_the_figures_of_the_sum() -> None:
    """0.0059 + 0.0076 + 0.0081 + 0.010 = 0.032 (two figures); a quarter of it has two as well."""
    text = flat(worked_solution(experiments.load("copper-plating")).text())
    assert "/ 4 = 0.008015 mol (2 significant figures: 0.0080 mol;" in text


def test_the_percent_yield_is_worked_out() -> None:
    lab_ = experiments.load("copper-silver")
    text = flat(worked_solution(lab_, yield_of="copper(I)").text())
    evidence = assess(lab_)
    full = nominal(evidence.n_consumed)
    percent = 100 * nominal(evidence.n_produced) / full
    assert f"theoretical n(Ag) = 1 × n(Cu) = 1 × {full:.6f} mol" in text
    assert f"= {percent:.1f} % (if the product is that of copper(I)" in text
    assert "For copper(II) the percent yield" not in text
    with pytest.raises(ModelError, match="no such candidate"):
        worked_solution(lab_, yield_of="copper(V)")


def test_a_yield_leaves_the_recovery_allowance_out() -> None:
    lab_ = replace(experiments.load("copper-silver"), recovery=(0.8, 1.0))
    text = flat(worked_solution(lab_).text())
    assert "It is assumed that 80 % to 100 % of the product was weighed." in text
    assert "For copper(II) the percent yield is 103 %" in text
    assert "= 103.4 %" in text


def test_a_recovery_allowance_stands_in_the_discrepancy_by_hand() -> None:
    """0.94 g of copper and 2.83 g of silver: 13.118 / (2 × 7.396) = 88.68 % was recovered."""

    found = assess(lab(LOST, recovery=(0.85, 1.0)))
    part = (2.83 / 107.868) / (2 * 0.94 / 63.546)
    assert part == pytest.approx(0.8868, abs=5e-5)
    text = flat(worked_solution(found).text())
    assert "the recovered part of the product, at the value allowed" in text
    (factor,) = re.findall(r"D = n\(Ag\) − ([\d.]+) × 2 × n\(Cu\)", text)
    assert float(factor) == pytest.approx(part, abs=1e-5)
    assert re.search(r"= 0\.0+ mol \(copper\(II\)", text)
    # copper(I) would need more than was made: its nearest end is all of it
    assert "D = n(Ag) − 1.00000 × 1 × n(Cu)" in text


@pytest.mark.parametrize("make", [lambda: lab(REVERSED), lambda: crucible("22.7072", "22.7062")])
def test_what_cannot_be_judged_is_worked_out_and_no_more(make: Callable[[], Experiment]) -> None:
    found = assess(make())
    text = flat(worked_solution(found).text())
    assert "Here that is worked out but not judged; see the verdict." in text
    assert text.count(": not judged)") == len(found.candidates)
    assert ": fits)" not in text
    assert ": excluded)" not in text
    assert "No product is claimed and none is excluded" in text


LOST = [(3.12, 2.65, 0.71, 2.10), (2.95, 2.48, 0.70, 2.14)]
FINE_IN_AIR = [(4.9412, 3.8212, 0.7512, 4.5561), (5.1912, 4.0912, 0.7012, 4.4381)]
TENTH_MG = Balance(readability_g=0.0001, repeatability_g=0.0001)


@pytest.mark.parametrize(
    ("experiment", "words"),
    [
        (lab(LOST, recovery=(0.85, 1.0)), "the recovered part of the product"),
        (lab(FINE_IN_AIR, TENTH_MG), "the change that the buoyancy of air may have made"),
        (
            lab(FINE_IN_AIR, TENTH_MG, recovery=(0.9, 1.0)),
            "the recovered part of the product times the change that the buoyancy of air may "
            "have made",
        ),
    ],
)
def test_printed_discrepancies_come_out(experiment: Experiment, words: str) -> None:
    """Worked again from the figures printed, each right side is the one printed."""
    text = flat(worked_solution(experiment).text())
    assert f"The factor put before a ratio is {words}, at the value allowed" in text
    number = r"(−?[\d.]+)"
    line = rf"= {number} mol − ((?:{number} × )?{number}) × {number} mol = {number} mol"
    found = re.findall(line, text)
    assert len(found) == 2
    for made, _, part, ratio, used, result in found:
        right = float(made) - float(part or 1) * float(ratio) * float(used)
        last = 10.0 ** -len(result.partition(".")[2])
        assert right == pytest.approx(float(result.replace("−", "-")), abs=2.5 * last)
    report = flat(lab_report(assess(experiment)).text())
    tested = assess(experiment).candidates["copper(II)"].tested_ratio
    assert f"tested at its ratio times {words}, at the value allowed that agrees best" in report
    assert f"copper(II) at {tested:.{6 if 'air' in words else 4}g}" in report


def test_how_much_a_worked_solution_shows() -> None:
    """Twelve trials worked through, 48 in the table of amounts, 15 candidates, three yields."""

    def parts(trials: int) -> tuple[int, str]:
        sections = worked_solution(lab(GOOD[:1] * trials)).sections
        amounts = next(s for s in sections if s.title == "Amounts of the lab")
        return sum(s.title.startswith("Trial ") for s in sections), text_of(amounts)

    assert parts(12)[0] == parts(13)[0] == 12
    assert "more trials" not in parts(48)[1]
    many = parts(50)[1]
    assert "2 more trials are in the means but not in this table." in many
    assert (many.count("\n48 "), many.count("\n49 ")) == (1, 0)

    def candidates(number: int, name: str) -> str:
        ratios = {f"c{n}": str(n) for n in range(1, number + 1)}
        coarse = lab([(2.9, 2.8, 0.7, 1.1)], Balance(readability_g=0.1), ratios)
        found = next(s for s in worked_solution(coarse).sections if s.title == name)
        return text_of(found)

    assert "further off" not in candidates(15, "Candidates")
    assert "2 more candidates are further off still." in candidates(17, "Candidates")
    assert candidates(2, "Percent yield").count("\ntheoretical n(Ag) =") == 2
    assert candidates(7, "Percent yield").count("\ntheoretical n(Ag) =") == 3


def text_of(section: Section) -> str:
    return Document("T", (), (section,)).text()


def test_what_a_conclusion_depends_on() -> None:
    """Each reservation of a made-up verdict, alone."""
    plain = assess(experiments.load("copper-silver"))
    assert list(_reservations(plain)) == []

    def of(kind: CaveatKind, value: float = 1.0) -> list[str]:
        made: Any = SimpleNamespace(
            warnings=(Caveat(kind, "x", value),), doubted=False, experiment=plain.experiment
        )
        return list(_reservations(made))

    for kind, words in {
        CaveatKind.NOTHING_SHOWN: "Nothing shows that anything reacted.",
        CaveatKind.STILL_CHANGING: "A mass was still changing",
        CaveatKind.ROUTES_DISAGREE: "Routes to one amount disagree",
        CaveatKind.SINGLE_TRIAL: "With a single trial nothing shows whether the result repeats.",
        CaveatKind.EXCESS_SCATTER: "The trials scatter more than the instruments explain",
        CaveatKind.NOT_RESOLVED: "The amount consumed is too small to be told apart from zero.",
    }.items():
        (said,) = of(kind)
        assert said.startswith(words)
    (below,) = of(CaveatKind.NOT_RESOLVED, -1.0)
    assert below.startswith("The amount consumed comes out below zero")
    (zero,) = of(CaveatKind.NOT_RESOLVED, 0.0)
    assert "too small" in zero


def test_p_below_one_less_the_coverage_is_excluded() -> None:
    for coverage, limit in ((0.95, "0.05"), (0.99, "0.01"), (0.9, "0.1")):
        text = flat(worked_solution(lab(GOOD, coverage=coverage)).text())
        assert f"a candidate with p below {limit} is excluded." in text


def test_a_reading_that_is_an_amount_by_itself_is_written_once() -> None:
    text = flat(worked_solution(parse_experiment(ZINC)).text())
    assert "= 1.274 g (" in text
    assert "1.274 g = 1.274 g" not in text
