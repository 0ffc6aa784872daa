"""The page to hand in says what the verdict says, in its three parts, and runs nothing."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from stoichkit import experiments
from stoichkit.decision.evidence import Evidence, assess
from stoichkit.decision.sentences import yield_words
from stoichkit.decision.statement import statement_of
from stoichkit.errors import StoichkitError
from stoichkit.experiments.parts import Trial
from stoichkit.reports.hand_in import hand_in_page
from stoichkit.reports.worked import trial_ratios, worked_solution
from stoichkit.text.document import Document
from stoichkit.text.parts import Field, Section
from tests.faults.test_hostile import active_parts
from tests.reports.test_lab_report import NASTY, Page, hostile, wet
from tests.reports.test_report import LABS, evidence_of

READY = assess(experiments.load("copper-silver"))


@cache
def page_of(evidence: Evidence) -> Document:
    return hand_in_page(evidence)


def parts(evidence: Evidence, title: str) -> list[dict[str, object]]:
    sections = page_of(evidence).data()["sections"]
    return next(s["parts"] for s in sections if s["title"] == title)  # type: ignore[no-any-return]


@pytest.mark.parametrize("name", LABS)
def test_claim_evidence_and_reasoning_say_what_the_verdict_says(name: str) -> None:
    evidence = evidence_of(name)
    said = statement_of(evidence)
    (claim,) = parts(evidence, "Claim")
    assert claim == {"kind": "strong", "text": said.headline}
    readings, candidates = (p for p in parts(evidence, "Evidence") if p["kind"] == "table")
    names = [one.name for one in evidence.experiment.trials]
    assert [row[0] for row in readings["rows"]] == names[:40]
    assert [(row[0], row[3]) for row in candidates["rows"]] == [
        (one.name, one.status) for one in said.standings.values()
    ]
    (picture,) = (p for p in parts(evidence, "Evidence") if p["kind"] == "picture")
    assert f"Amounts plane. {said.lead}".strip() in str(picture["alt_text"])
    reasons = [str(p.get("text", "")) for p in parts(evidence, "Reasoning")]
    assert evidence.diagnosis.sentence in reasons
    assert said.claim in reasons[-1]
    page = page_of(evidence).html()
    assert active_parts(page) == []
    assert len(re.findall("<h1>|<svg ", page)) == 2


def test_the_readings_stand_as_typed_with_the_ratio_of_each_trial() -> None:
    """The ratios by hand: 0.40/107.8682 over 0.12/63.546 is 1.96, of which two figures count."""
    readings = parts(READY, "Evidence")[0]
    assert readings["header"] == [
        *("Trial", "wire before, g", "wire after, g", "paper + silver, g", "paper, g"),
        "n(Ag)/n(Cu)",
    ]
    assert readings["rows"][0] == ["bench 1", "2.94", "2.82", "1.15", "0.75", "2.0"]  # type: ignore[index]
    gas = parts(assess(experiments.load("magnesium-gas")), "Evidence")
    assert gas[1]["text"] == (
        "The same in every trial: room temperature 21.4 °C and room pressure 100.8 kPa."
    )
    heated = parts(assess(experiments.load("hydrate-heating")), "Evidence")[0]
    assert heated["rows"][0][1] == "21.26, then 21.17, then 21.18"  # type: ignore[index]


def test_the_steps_are_those_of_the_worked_solution() -> None:
    full = worked_solution(READY).data()["sections"]
    steps = [p for p in parts(READY, "Reasoning") if p["kind"] == "equation"]
    first = [p for p in full[0]["parts"] if p["kind"] == "equation"]
    means = [p for s in full if s["title"] == "Amounts of the lab" for p in s["parts"]]
    assert steps == first + [p for p in means if p["kind"] == "equation"]
    assert len(steps) == 10


def test_yields_in_the_table() -> None:
    """103 % and its range are those of the sentence; 206.8/2 and 206.8/1 by the mean amounts."""
    assert yield_words(READY, "copper(I)") == "207 % (192 % to 224 %)"
    below = assess(LABS["reversed"]())
    assert all(yield_words(below, name) == "–" for name in below.candidates)
    nothing = experiments.load("copper-silver")
    for trial in nothing.trials:
        nothing = nothing.with_reading(trial.name, "wire after", trial.readings["wire before"][0])
    assert trial_ratios(assess(nothing)) == ("–",) * 4


def test_many_trials_are_counted() -> None:
    lab = experiments.load("copper-silver")
    texts = lab.trials[0].readings
    many = assess(lab.with_trials([Trial(f"t{i}", texts) for i in range(43)]))
    found = parts(many, "Evidence")
    assert len(found[0]["rows"]) == 40  # type: ignore[arg-type]
    assert found[1]["text"] == "3 more trials are judged but not in this table."


@pytest.mark.parametrize("typed", [NASTY, '"><script>1</script>', "Ada & “Bo”"])
def test_nothing_typed_acts(typed: str) -> None:
    page = hand_in_page(assess(hostile()), name=typed, date=typed, title=typed).html()
    assert active_parts(page) == []
    assert "\x1b" not in page
    fields = [dict(attributes) for tag, attributes in Page(page).tags if tag == "input"]
    assert [one["value"] for one in fields] == [
        typed.replace("\x1b", "\N{REPLACEMENT CHARACTER}")
    ] * 2


def test_it_loads_nothing() -> None:
    page = hand_in_page(assess(wet())).html().replace("http://www.w3.org/2000/svg", "")
    assert not re.findall(r"https?:|//|url\(|@import|<script|<link|<iframe|<img|\son\w+=", page)


def test_a_field_in_every_form(tmp_path: Path) -> None:
    page = Document("T", (), (Section("S", (Field("Name"), Field("Date", "May <1>"))),))
    assert "Name: ____________________\n\nDate: May <1>\n" in page.text()
    assert "Date: May &lt;1&gt;" in page.markdown()
    assert r"Date: May \textless{}1\textgreater{}" in page.latex()
    assert "Date: May <1>" in page.math()
    assert page.data()["sections"][0]["parts"][1] == {
        "kind": "field", "label": "Date", "value": "May <1>",
    }  # fmt: skip
    inputs = re.findall("<label>(.*?) <input (.*?)></label>", page.html())
    assert inputs == [
        ("Name", 'type="text" autocomplete="off" value=""'),
        ("Date", 'type="text" autocomplete="off" value="May &lt;1&gt;"'),
    ]
    assert page.save(tmp_path / "t.json").exists()


def test_what_it_refuses() -> None:
    with pytest.raises(StoichkitError):
        hand_in_page(READY, name=3)  # type: ignore[arg-type]
    with pytest.raises(StoichkitError):
        hand_in_page("copper-silver")  # type: ignore[arg-type]
    assert hand_in_page(READY, title="").title == READY.experiment.title
    own = replace(READY.experiment, invented=False)
    assert hand_in_page(assess(own)).opening == ()
