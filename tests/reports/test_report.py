"""The report in words: golden texts, hostile names, and nothing that is not a number.

After an intended change of the words, write the golden texts anew and read the difference:

    STOICHKIT_UPDATE_GOLDEN=1 python -m pytest tests/test_report.py
"""

from __future__ import annotations

import os
import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from stoichkit import assess_class, experiments
from stoichkit.decision.evidence import Evidence, assess
from stoichkit.decision.sentences import (
    assumption_sentences,
    caveat_sentence,
    grouped_budget,
    ratio_sentence,
    recovery_sentence,
    second_opinion_sentence,
    yield_sentence,
)
from stoichkit.decision.statement import verdict_sentences
from stoichkit.decision.verdict import Caveat, CaveatKind, VerdictKind
from stoichkit.experiments.own import weighed
from stoichkit.experiments.parts import Caution, Trial, Variation
from stoichkit.measurement.weighing import SumOfMasses
from stoichkit.reports.classroom import group_report
from stoichkit.reports.hand_in import hand_in_page
from stoichkit.reports.lab import lab_report
from stoichkit.reports.sections import budget_table, candidate_table
from stoichkit.reports.worked import worked_solution
from stoichkit.text.document import Document
from stoichkit.text.parts import Picture, Table
from stoichkit.text.plain import escaped_markdown, markdown_part, text_part
from stoichkit.text.wording import p_text, shown_range
from tests.every_lab import COARSE, FINE, ODD, READY
from tests.labs import lab

GOLDEN = Path(__file__).parent / "golden"
LABS = ODD | READY


@cache
def evidence_of(name: str) -> Evidence:
    """Return the evidence of one of these labs, which is only looked at."""
    return assess(LABS[name]())


@cache
def report_of(evidence: Evidence) -> Document:
    """Return the report with nothing asked for, made once for all tests that read it."""
    return lab_report(evidence)


@pytest.fixture(scope="module", params=sorted(LABS))
def evidence(request: pytest.FixtureRequest) -> Evidence:
    return evidence_of(request.param)


def matches_golden(file: str, text: str) -> None:
    place = GOLDEN / file
    if os.environ.get("STOICHKIT_UPDATE_GOLDEN"):
        place.write_text(text, encoding="utf-8", newline="\n")
        pytest.skip(f"{file} written anew")
    assert text == place.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("file", "name"),
    [
        ("singled-out.txt", "copper-silver"),
        ("not-told-apart.txt", "copper-silver-coarse"),
        ("none-fits.txt", "none-fits"),
        ("no-upper-limit.txt", "no-upper-limit"),
        ("below-zero.txt", "reversed"),
        ("not-constant.txt", "drifting"),
        ("nothing-reacted.txt", "nothing-shown"),
        ("doubted.txt", "doubted"),
    ],
)
def test_golden_texts(file: str, name: str) -> None:
    matches_golden(file, report_of(evidence_of(name)).text())


def test_golden_markdown() -> None:
    text = lab_report(evidence_of("copper-silver"), picture_file="copper silver.png").markdown()
    matches_golden("singled-out.md", text)


def sections(text: str) -> dict[str, str]:
    """Split a text report into heading and body."""
    parts = re.split(r"^(.+)\n-+\n$", text, flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def test_a_text_report_is_complete_and_plain(evidence: Evidence) -> None:
    """No line is too wide, no section empty, and no number is missing."""
    text = report_of(evidence).text()
    found = sections(text)

    assert max(map(len, text.splitlines())) <= 88
    assert all(line == line.rstrip() for line in text.splitlines())
    titles = [
        "Verdict", "Candidates", "Mole ratio", "Slips in the readings", "Yield",
        "Amounts of substance", "Which reading limits the conclusion", "Worked solution",
        "What the verdict assumes", "Cautions",
    ]  # fmt: skip
    assert [title for title in found if title in titles] == titles
    for title, body in found.items():
        assert body.strip(), title
        # a heading, a list or a table alone is no section without words in it
        assert re.search(r"[a-z]{3}", body), title
    words = " ".join(text.split()).replace("None of ", "")
    assert not re.search(r"\b(nan|inf|None|True|False)\b", words)
    assert "Fraction" not in text
    assert not re.search(r"\de[-+−]\d", text)


def test_the_verdict_comes_first_and_is_the_only_one(evidence: Evidence) -> None:
    text = report_of(evidence).text()
    flat = " ".join(text.split())
    verdict = verdict_sentences(evidence)

    assert flat.count(verdict) == 1
    assert flat.index(verdict) < flat.index("Candidates ---")
    for name in evidence.candidates:
        assert name in flat


def test_every_warning_is_a_sentence(evidence: Evidence) -> None:
    text = " ".join(report_of(evidence).text().split())
    for caveat in evidence.warnings:
        said = caveat_sentence(caveat, evidence)

        assert said.endswith((".", "?"))
        left_out = evidence.diagnosis.mistyped and caveat.kind is not CaveatKind.ASSUMPTION
        assert said in text or left_out


def test_words_agree_with_the_verdict(evidence: Evidence) -> None:
    """Ranges, p-values and yields shown to the reader fall on the side the verdict says."""
    alpha = 1 - evidence.coverage
    for row, tested in zip(
        candidate_table(evidence).rows, evidence.candidates.values(), strict=True
    ):
        shown = float(row[3].removeprefix("< "))
        judged = evidence.verdict.kind is not VerdictKind.CANNOT_BE_JUDGED
        fits = "fits" if tested.compatible else "excluded"
        assert row[4].removeprefix("narrowly ") == (fits if judged else "not judged")
        if row[3].startswith("<"):
            assert alpha >= shown or not tested.compatible or evidence.coverage > 0.999
        else:
            assert (shown >= round(alpha, 12)) == tested.compatible
    found = evidence.ratio_set
    if len(found.intervals) == 1:
        low, high = shown_range(
            found.low, found.high, [c.tested_ratio for c in evidence.candidates.values()]
        )
        for tested in evidence.candidates.values():
            inside = float(low) <= tested.tested_ratio <= float(high or "inf")
            assert inside == tested.compatible


def test_markdown_holds_the_same_words(evidence: Evidence) -> None:
    mistune = pytest.importorskip("mistune")
    text = report_of(evidence).markdown()
    page = mistune.create_markdown(escape=False, plugins=["table"])(text)
    shown = " ".join(unescaped(re.sub(r"<[^>]+>", " ", page)).split())

    assert verdict_sentences(evidence) in shown
    assert ratio_sentence(evidence) in shown
    for sentence in assumption_sentences(evidence):
        assert sentence in shown
    assert page.count("<table>") == report_of(evidence).markdown().count("\n| --- |")


def unescaped(page: str) -> str:
    import html

    return html.unescape(page)


# hostile text

HOSTILE = (
    "a|b",
    "<script>alert(1)</script>",
    "*bold* _it_ `code` ~~no~~",
    "[x](javascript:alert(1))",
    "![i](x)",
    "$x^2$ \\(y\\)",
    "</td><td>",
    "&lt;b&gt; &amp;",
    "https://example.org www.example.org a@example.org",
    "1. one",
    "- two # three #",
    "#",
    "-",
    "+ plus",
    "~ tilde",
    ": colon",
    "1)",
    "=== ---",
    "<!-- hidden",
    "\\",
    "元素の名前" * 8,
    "x" * 80,
)


def hostile() -> Evidence:
    text = " ".join(HOSTILE)
    experiment = lab(
        [(2.94, 2.84, 0.75, 1.02)],
        FINE,
        {name: str(i) for i, name in enumerate(HOSTILE, 1)},
        about="# head\n\n    code\n\n- item\n\n" + text,
        notes=HOSTILE,
        cautions=[Caution(subject=text, advice=HOSTILE, source="<b>|")],
    )
    trials = [replace(experiment.trials[0], name=name, group="") for name in HOSTILE]
    experiment = experiment.with_trials(trials)
    return assess(replace(experiment, title=f"\x1b[31m# {text}\u202e"))


@pytest.fixture(scope="module")
def nasty() -> Evidence:
    return hostile()


def test_hostile_text_cannot_act_in_markdown(nasty: Evidence) -> None:
    """Rendered with raw HTML allowed, the page has only the tags that the report makes."""
    mistune = pytest.importorskip("mistune")
    text = lab_report(nasty, picture_file='x.png" onerror="alert(1)>)').markdown()
    plugins = ["table", "strikethrough", "url", "math", "footnotes", "task_lists", "def_list"]
    page = mistune.create_markdown(escape=False, plugins=plugins)(text)
    tags = set(re.findall(r"<\s*/?\s*([A-Za-z!][A-Za-z0-9]*)", page))

    assert tags == {
        "h1", "h2", "h3", "p", "strong", "img", "ul", "li",
        "table", "thead", "tbody", "tr", "th", "td",
    }  # fmt: skip
    assert page.count("<h1>") == page.count("<img") == 1
    assert "onerror=" not in re.sub(r'src="[^"]*"', "", page)
    shown = " ".join(unescaped(re.sub(r"<[^>]+>", " ", page)).split())
    for name in HOSTILE:
        assert name in shown
    rows = [row.count("<td") for row in re.findall(r"<tr>(.*?)</tr>", page, re.DOTALL)]
    assert set(rows) == {0, 3, 4, 7}
    assert rows.count(7) == len(HOSTILE)


def test_hostile_text_cannot_act_on_a_terminal(nasty: Evidence) -> None:
    text = lab_report(nasty).text()

    assert all(c.isprintable() or c == "\n" for c in text)
    assert max(map(len, text.splitlines())) <= 88
    assert "x" * 80 in text
    assert "元素の名前" in text


def test_cells_are_wrapped_and_nothing_is_lost() -> None:
    long = "abcdefghij" * 9
    table = Table(("name", "value"), ((long, "1"), ("b c", "2")))
    lines = text_part(table).splitlines()

    assert max(map(len, lines)) <= 88
    assert long in "".join(line.split("  ")[0] for line in lines[2:-1])


@pytest.mark.parametrize("text", HOSTILE)
def test_escaping_is_the_identity_once_rendered(text: str) -> None:
    mistune = pytest.importorskip("mistune")
    page = mistune.create_markdown(escape=False, plugins=["table", "url"])(escaped_markdown(text))

    assert unescaped(page) == f"<p>{' '.join(text.split())}</p>\n"


def test_a_picture_path_stays_a_path() -> None:
    picture = Picture('<svg aria-label="x">', "x]y", file="a b\\c(1).png")
    assert markdown_part(picture) == "![x&#93;y](<a%20b/c%281%29.png>)"


# sentences


def test_verdicts_of_a_single_candidate_claim_nothing() -> None:
    fits = verdict_sentences(assess(LABS["one-candidate"]()))
    fails = verdict_sentences(assess(LABS["one-that-fails"]()))

    assert fits.startswith("These readings fit copper(II)")
    assert "nothing could be excluded" in fits
    assert fails.startswith("The only candidate given, copper(I), does not fit")


def test_more_than_two_that_fit_are_all_named() -> None:
    three = lab([(2.9, 2.8, 0.7, 0.9)], COARSE, {"a": "1", "b": "2", "c": "3"})

    assert verdict_sentences(assess(three)) == (
        "These readings cannot tell a, b and c apart. No candidate is excluded."
    )


def test_many_that_are_excluded_are_counted() -> None:
    said = verdict_sentences(assess(experiments.load("hydrate-heating")))

    assert said.endswith("The other 11 candidates are excluded (each with p < 0.0001).")


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("no-upper-limit", "put no upper limit on the mole ratio n(Ag)/n(Cu): every ratio from"),
        ("every-ratio", "exclude no mole ratio n(Ag)/n(Cu): every ratio from 0 up fits"),
        ("no-lower-limit", "put no lower limit on the mole ratio n(Ag)/n(Cu): every ratio from 0"),
        ("in-pieces", "those between do not"),
        ("less-than-nothing", "No mole ratio n(Ag)/n(Cu) from 0 up fits"),
        ("copper-silver", "from 1.92 to 2.24 fit these readings"),
    ],
)
def test_ratio_sets_in_words(name: str, words: str) -> None:
    assert words in ratio_sentence(assess(LABS[name]()))


@pytest.mark.parametrize(
    ("name", "candidate", "words"),
    [
        ("over-100", "copper(II)", "That is over 100 % beyond its uncertainty."),
        ("no-upper-limit", "copper(II)", "is not told by one figure"),
        (
            "less-than-nothing",
            "copper(II)",
            "no percent yield can be stated: an amount comes out below zero",
        ),
        ("none-fits", "copper(II)", "For copper(II) the percent yield is 78 %; 69 % to 90 %"),
    ],
)
def test_yields_in_words(name: str, candidate: str, words: str) -> None:
    assert words in yield_sentence(assess(LABS[name]()), candidate)


@pytest.mark.parametrize(
    ("name", "candidate", "words"),
    [
        ("none-fits", "copper(I)", "had been weighed: residue or water."),
        ("none-fits", "copper(II)", "had been weighed: losses, or an unfinished reaction."),
        ("magnesium-gas", "magnesium(I)", "had been measured: something else was taken for it."),
        ("less-than-nothing", "copper(I)", "at no recovery at all"),
    ],
)
def test_recoveries_in_words(name: str, candidate: str, words: str) -> None:
    assert words in recovery_sentence(assess(LABS[name]()), candidate)


def test_a_candidate_kept_out_by_the_allowance_alone_is_told() -> None:
    evidence = assess(
        lab([(2.94, 2.84, 0.75, 1.09), (3.19, 3.09, 0.70, 1.04)], FINE, recovery=(0.5, 0.6))
    )

    assert not evidence.candidates["copper(II)"].compatible
    assert recovery_sentence(evidence, "copper(II)").endswith(
        "outside the recovery allowance stated."
    )


@pytest.mark.parametrize("kind", CaveatKind)
def test_each_kind_of_warning_has_words(kind: CaveatKind) -> None:
    evidence = assess(LABS["excess-scatter"]())
    said = caveat_sentence(Caveat(kind, "calibration of balance.", 1.234), evidence)

    assert len(said) > 20
    assert said.endswith(".")
    assert "nan" not in said


def test_scatter_without_any_error_of_its_own() -> None:
    evidence = assess(LABS["excess-scatter"]())
    said = caveat_sentence(Caveat(CaveatKind.EXCESS_SCATTER, "", float("inf")), evidence)

    assert said.startswith("The trials differ although")


@pytest.mark.parametrize("kind", ["rounding", "tolerance", "concentration", "something else"])
def test_a_dominant_source_comes_with_advice(kind: str) -> None:
    evidence = assess(LABS["copper-silver"]())
    caveat = Caveat(CaveatKind.DOMINANT_SOURCE, f"{kind} of wire before", 0.61)

    said = caveat_sentence(caveat, evidence)

    assert said.startswith(f"61 % of the variance comes from one source, {kind} of wire before: ")
    assert len(said.split(": ")[1]) > 15


def test_the_budget_is_merged_over_trials(evidence: Evidence) -> None:
    lines = grouped_budget(evidence)

    assert sum(line.share for line in lines) == pytest.approx(1.0)
    assert sum(line.sources for line in lines) == len(evidence.budget)
    total = sum((line.uncertainty_mmol / 1000) ** 2 for line in lines)
    assert total == pytest.approx(sum(line.uncertainty**2 for line in evidence.budget))
    assert len(budget_table(evidence).rows) == len(lines) <= 9


def test_trials_beyond_the_table_are_counted() -> None:
    text = " ".join(report_of(evidence_of("many-trials")).text().split())

    assert "10 more trials are in the mean but not in this table." in text


def test_without_cautions_of_its_own_a_lab_shows_those_of_its_reagents() -> None:
    weighings = {"Fe": [["7.30", "6.21"]]}, {"Cu": [["0.75", "2.00"]]}
    lab = weighed(*weighings, states=[2, 3])
    assert not lab.cautions
    evidence = assess(lab)
    text = " ".join(lab_report(evidence).text().split())

    assert "Everybody in the room wears eye protection." in text
    assert "copper(II) sulfate: H302 Harmful if swallowed" in text
    assert "Signal word: Danger." in text
    assert "Collect as heavy-metal waste; nothing goes down the sink." in text
    assert "they, local rules and licensed practice decide." in text
    for other in (hand_in_page(evidence), worked_solution(evidence), worked_solution(lab)):
        short = " ".join(other.text().split())
        assert "Everybody in the room wears eye protection." in short
        assert "copper(II) sulfate: Danger. H302 Harmful if swallowed" in short
        assert "they, local rules and licensed practice decide." in short


def test_the_reader_is_told_what_is_invented() -> None:
    made_up = LABS["none-fits"]()

    assert "invented, for practice" in lab_report(assess(made_up)).text()
    assert "for practice" not in lab_report(assess(replace(made_up, invented=False))).text()


@pytest.mark.parametrize(
    ("p", "coverage", "shown"),
    [
        (0.0, 0.95, "< 0.0001"),
        (0.0499, 0.95, "0.0499"),
        (0.04999, 0.95, "0.04999"),
        (0.05, 0.95, "0.050"),
        (0.0501, 0.95, "0.050"),
        (0.999, 0.95, "1.00"),
        (0.00012, 0.9999, "0.00012"),
        (0.5, 0.95, "0.50"),
    ],
)
def test_p_values_keep_to_their_side(p: float, coverage: float, shown: str) -> None:
    assert p_text(p, coverage) == shown


@pytest.mark.parametrize(
    ("low", "high", "marks", "shown"),
    [
        (0.0, 5.3, (), ("0.0", "5.3")),
        (1.0, 1.0, (), ("1.0", "1.0")),
        (0.9996, 1.3, (0.9998,), ("0.9996", "1.3000")),
        (2.0, float("inf"), (), ("2.0", "")),
        (648385.3, float("inf"), (), ("648000", "")),
    ],
)
def test_ranges_keep_their_marks(low: float, high: float, marks: Any, shown: Any) -> None:
    assert shown_range(low, high, marks) == shown


def test_a_stricter_second_opinion_is_not_called_too_little() -> None:
    """Ratios of 1.982, 1.986 and 1.978 scatter about 1.982, which is neither 1 nor 2."""
    rows = [(4.94, 3.82, 0.75, 4.52), (5.19, 4.09, 0.70, 4.41), (5.14, 4.03, 0.73, 4.46)]
    text = second_opinion_sentence(assess(lab(rows, FINE)))
    assert "the readings fit none of the candidates. That does not count against the" in text
    assert "not enough" not in text


def test_readings_below_zero_are_not_said_to_be_right_as_typed() -> None:
    """Silver on two filters, 3.77 g, with the empty ones first."""
    made = SumOfMasses(species="Ag", plus=("f1", "f2"), minus=("f1 + Ag", "f2 + Ag"))
    readings = {
        "wire before": "4.94", "wire after": "3.82",
        "f1": "0.70", "f2": "0.71", "f1 + Ag": "2.60", "f2 + Ag": "2.58",
    }  # fmt: skip
    trials = [Trial("1", readings), Trial("2", readings)]
    turned = replace(lab([(3.0, 2.0, 1.0, 2.0)], FINE), produced=made, trials=trials)
    text = " ".join(sections(lab_report(assess(turned)).text())["Slips in the readings"].split())
    assert "can be right" not in text
    assert "in the record of the experiment too (heavier and lighter, plus and minus," in text
    rows = "".join(f"\n{group},{','.join(readings.values())}" for group in ("red", "blue"))
    result = assess_class(f"group,{','.join(readings)}{rows}".encode(), turned)
    group = group_report(result, "red", pictures=False, answers=False).text()
    said = " ".join(sections(group)["Slips in the readings"].split())
    assert said.startswith("No single slip was found that would put these readings right")
    right = replace(turned, produced=replace(made, plus=made.minus, minus=made.plus))
    assert "can be right" in lab_report(assess(right)).text()


def test_a_variation_that_dominates_is_met_by_more_trials() -> None:
    varied = lab([(4.94, 3.82, 0.75, 4.56)] * 3, FINE, variation=Variation(relative="5 %"))
    evidence = assess(varied)
    (one,) = (c for c in evidence.warnings if c.kind is CaveatKind.DOMINANT_SOURCE)
    assert one.subject.startswith("variation between trials")
    text = caveat_sentence(one, evidence)
    assert text.endswith("make more trials, or work more alike from trial to trial.")


def test_what_cannot_be_judged_has_no_nearest_candidate_and_nothing_to_confirm() -> None:
    """Copper has spot tests, and a lab turned round names none of them."""
    ready = experiments.load("copper-silver")
    turned = ready
    for trial in ready.trials:
        for one, other in (("wire before", "wire after"), ("paper", "paper + silver")):
            first, second = trial.readings[one], trial.readings[other]
            turned = turned.with_reading(trial.name, one, second[-1])
            turned = turned.with_reading(trial.name, other, first[-1])
    for experiment, judged in ((ready, True), (turned, False)):
        evidence = assess(experiment)
        text = " ".join(lab_report(evidence).text().split())
        assert (evidence.verdict.kind is not VerdictKind.CANNOT_BE_JUDGED) == judged
        assert ("Spot tests that would confirm it" in text) == judged
        assert ("the nearest candidate" in text) == judged
        assert "Budget of the discrepancy from copper" in text
