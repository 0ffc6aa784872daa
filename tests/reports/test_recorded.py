"""What reports say, recorded: says when a page changes, not that it is right.

That it is right is for the other tests here. Pages are written as text; of a page like another
only the lines that the other has not. How to write the record anew: ``tests/recorded.py``.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

from stoichkit import experiments
from stoichkit.classroom.marking import mark_class
from stoichkit.classroom.review import review_class
from stoichkit.decision.evidence import Evidence
from stoichkit.experiments.record import Experiment
from stoichkit.planning.following import next_trials
from stoichkit.reports import (
    classroom,
    feedback,
    figures,
    following,
    gallery,
    hand_in,
    lab,
    question,
    review,
    study,
    worked,
)
from stoichkit.reports.progress import LabDone, Progress
from stoichkit.text.document import Document
from tests.classroom import test_marking
from tests.odd_classes import data_of, result_of
from tests.odd_labs import evidence_of, experiment_of
from tests.recorded import Record, by_name, cases, each, tried

RECORD = Record(__file__, brief=(Experiment, Evidence), leave=("experiment", "evidence", "working"))


def unlike(text: str, other: str) -> str:
    """Return the lines of a text that another has not."""
    known = {*other.split("\n")}
    return "\n".join(line for line in text.split("\n") if line not in known)


@cache
def report(name: str, **given: Any) -> str:
    return lab.lab_report(evidence_of(name), pictures=False, **given).text()


LIKE = "copper-silver"


def of_lab(name: str) -> object:
    """Return a report and the worked solution, but for what those of the ready lab have too."""
    own = report(name)
    shown = own if name == LIKE else unlike(own, report(LIKE))
    solution = text_of(tried(worked.worked_solution, evidence_of(name)))
    return {"report": shown, "worked": unlike(solution, own)}


def text_of(page: object) -> str:
    return page.text() if isinstance(page, Document) else str(page)


def of_parts(name: str) -> object:
    evidence = evidence_of(name)
    return {
        "conclusion": tried(worked.conclusion_paragraph, evidence),
        "ratios": tried(worked.trial_ratios, evidence),
        "question": feedback.question_of(evidence),
        "hand in": hand_in.hand_in_page(evidence, name="A. Name", date="today").text()[-1500:],
        "blank": hand_in.hand_in_page(evidence, blank=True).text()[-800:],
    }


LAB_PAGES: dict[str, Callable[[], object]] = {
    "pictures": lambda: unlike(lab.lab_report(evidence_of(LIKE)).text(), report(LIKE)),
    "picture in a file": lambda: unlike(
        lab.lab_report(evidence_of(LIKE), picture_file="a.png").markdown(),
        lab.lab_report(evidence_of(LIKE), pictures=False).markdown(),
    ),
    "without causes": lambda: len(report("none fits", causes=False).split("\n")),
    "without the solution": lambda: len(report(LIKE, worked=False).split("\n")),
    "title and note": lambda: unlike(report(LIKE, title="T", note="N."), report(LIKE)),
    "following": lambda: unlike(
        report("copper-silver-coarse", following=following_of("copper-silver-coarse")),
        report("copper-silver-coarse"),
    ),
    "next": lambda: lab.next_report(following_of("copper-silver-coarse")).text(),
    "next, settled": lambda: lab.next_report(following_of(LIKE)).text(),
    "one trial": lambda: text_of(
        tried(worked.worked_solution, experiment_of(LIKE), trial="bench 2")
    ),
    "no such trial": lambda: tried(worked.worked_solution, experiment_of(LIKE), trial="x"),
    "yield of": lambda: text_of(
        tried(worked.worked_solution, experiment_of(LIKE), yield_of="copper(I)")
    ),
    "yield of gold": lambda: tried(worked.worked_solution, experiment_of(LIKE), yield_of="gold"),
    "refused": lambda: [
        tried(lab.lab_report, 3),
        tried(lab.lab_report, evidence_of(LIKE), title=3),
        tried(hand_in.hand_in_page, 3),
    ],
}


@cache
def following_of(name: str) -> Any:
    return next_trials(evidence_of(name), most=2, labs=100)


def of_lesson(name: str) -> object:
    return study.lesson(experiment_of(name))


def of_answers(name: str) -> object:
    """Return what is said of typed answers to each question of a lesson."""
    found: dict[str, object] = {}
    for one in study.lesson(experiment_of(name)):
        if one.choices:
            typed = [*one.choices, "", "; ".join(sorted(one.right))]
        else:
            value = one.number.value
            typed = [f"{value * factor:.4g}" for factor in (1, -1, 2, 10, 0.001, 1.03, 0.5)] + [
                f"{1 / value:.4g}" if value else "0",
                f"{value:.9g}",
                f"{value:.1g}",
                "",
                "x",
                f"{value:.4g} ± 0.01",
            ]
        if one.uncertainty is not None:
            low, high = one.uncertainty
            sizes = (0.2 * low, 0.999 * low, low, high, 1.001 * high, 5 * high, -low)
            typed += [f"{one.number.value:.4g} ± {size:.4g}" for size in sizes]
            typed += [f"2 ± {high:.3g}", f"{one.number.value:.4g} +- x"]
        answers = [tried(question.check, one, text) for text in typed]
        found[one.key] = [
            a if isinstance(a, str) else f"{t!r} {a.kind.name}: {a.words}"
            for t, a in zip(typed, answers, strict=True)
        ]
    return found


def done() -> Progress:
    made = Progress()
    for i in range(6):
        one = LabDone(
            f"LAB{i}",
            1 + i % 5,
            questions=10,
            answered=10 if i != 2 else 4,
            hints=i % 3,
            predicted=("", "right", "wrong")[i % 3],
        )
        for kind in ("upside down", "unit")[: i % 3]:
            one = one.with_missed(kind)
        made = made.with_lab(one)
    return made


PROGRESS: dict[str, Callable[[], object]] = {
    "summary": lambda: done().summary().text(),
    "nothing": lambda: Progress().summary().text(),
    "record": lambda: [
        done().level,
        done().topics,
        done().to_json(),
        done().find("LAB3"),
        done().find("x"),
    ],
    "levels": lambda: [
        Progress()
        .with_lab(LabDone("a", level, questions=5, answered=answered, hints=hints, missed=missed))
        .level
        for level in (0, 1, 3, 5)
        for answered in (4, 5)
        for hints in (0, 1, 2, 5)
        for missed in ((), (("unit", 1),), (("unit", 4),), (("unit", 9),))
    ],
    "next": lambda: [done().next_lab(n, kind).id for n in (1, 2) for kind in ("", "gas")],
    "read": lambda: [
        tried(Progress.from_json, t)
        for t in (
            "",
            "{",
            "[]",
            "{}",
            '{"labs": 3}',
            Progress().to_json(),
            '{"labs": [{"lab": 3}]}',
        )
    ],
}


def of_class(name: str) -> object:
    result = result_of(name)
    own = classroom.class_report(result, pictures=False).text()
    shown = own if name == "ready" else unlike(own, class_page())
    first = next(iter(result.groups), "")
    group = text_of(tried(classroom.group_report, result, first, pictures=False))
    return {"report": shown, "group": unlike(group, own if name == "ready" else group_page())}


@cache
def class_page() -> str:
    return classroom.class_report(result_of("ready"), pictures=False).text()


@cache
def group_page() -> str:
    first = next(iter(result_of("ready").groups))
    return classroom.group_report(result_of("ready"), first, pictures=False).text()


CLASS_PAGES: dict[str, Callable[[], object]] = {
    "pictures": lambda: unlike(
        classroom.class_report(result_of("five rows")).text(),
        classroom.class_report(result_of("five rows"), pictures=False).text(),
    ),
    "title": lambda: unlike(
        classroom.class_report(result_of("five rows"), pictures=False, title="T", note="N.").text(),
        classroom.class_report(result_of("five rows"), pictures=False).text(),
    ),
    "without answers": lambda: len(
        classroom.group_report(result_of("five rows"), "red", answers=False).text().split("\n")
    ),
    "no such group": lambda: tried(classroom.group_report, result_of("five rows"), "pink"),
    "slips": lambda: [
        classroom.slip_lines(result_of("a slip"), n) for n in result_of("a slip").groups
    ],
    "reviewed": lambda: unlike(
        classroom.class_report(result_of("ready"), pictures=False, review=reviewed()).text(),
        class_page(),
    ),
    "side by side": lambda: [
        review.side_by_side(reviewed()).rows,
        review.decision_table(reviewed().decisions).rows,
    ],
    "decisions": lambda: [
        str(p) for p in review.decisions_section(reviewed().decisions, reviewed()).parts
    ],
    "following": lambda: following_class("not settled"),
    "following, coarse": lambda: following_class("coarse", groups=6, target=0.6),
    "following, settled": lambda: following_class("settled"),
    "following, refused": lambda: [
        tried(following.class_following, result_of("coarse"), **given)
        for given in ({"groups": 1}, {"target": 1.0}, {"most": 0}, {"labs": 1}, {"finer_g": -1})
    ],
}


@cache
def reviewed() -> Any:
    return review_class(data_of("ready"), "suggested", initials="EK")


def following_class(name: str, **given: Any) -> object:
    it = tried(
        following.class_following,
        result_of(name),
        **{"labs": 100, "most": 2, "most_groups": 2} | given,
    )
    if isinstance(it, str):
        return it
    return {
        "said": following.following_sentences(it),
        "section": [str(p) for p in following.following_section(it).parts],
    }


def pages(sheet: bytes, **given: Any) -> object:
    marks = mark_class(sheet, test_marking.the_class())
    return text_of(tried(feedback.feedback_pages, marks, **given))


FEEDBACK: dict[str, Callable[[], object]] = {
    "right": lambda: pages(test_marking.sheet()),
    "wrong": lambda: pages(
        test_marking.sheet(
            {"m(Cu)": "0.21", "n(Cu)": "0.5", "ratio": "0.51", "conclusion": "copper(I)"}
        ),
        groups=["red"],
    ),
    "no points": lambda: pages(
        test_marking.sheet({"m(Cu)": "120"}), groups=["red"], points=False, title="T", note="N."
    ),
    "with the result": lambda: pages(
        test_marking.sheet(), groups=["red"], result=result_of("five rows")
    ),
    "no such group": lambda: pages(test_marking.sheet(), groups=["pink"]),
}

SMALL: dict[str, Callable[[], object]] = {
    "written": lambda: [
        figures.written(v, d)
        for v in (0.12345, 123.45, 0.0018884, 0.0, -2.5, 1e-7, 6.02e23)
        for d in (0.0, 2.0, 4.0, -1.0, float("inf"))
    ],
    "guarded": lambda: [
        figures.guarded(figures.Figured(v, d, "g"), g)
        for v in (0.12345, 12.3, 0.0018884)
        for d in (2.0, 5.0, float("inf"))
        for g in (0, 1, 2)
    ],
    "as read": lambda: [worked.as_read(role, ["2.94"]) for role in experiment_of(LIKE).roles()],
    "comparisons": lambda: (
        [[c.agrees, c.matching, c.rounded] for c in rows()]
        + [gallery.comparison_table("T", rows()).rows]
    ),
    "refused comparisons": lambda: [
        tried(gallery.Comparison, "a", p, o, "s")
        for p, o in (("x", 1.0), ("1", float("nan")), ("", 1.0))
    ],
    "now you": lambda: [
        tried(
            question.now_you, "How much?", v, u, typed=t, figures=f, mistakes={"upside down": 1 / v}
        )
        for v, u in ((0.12, "g"), (2.04, ""))
        for f in (2, 3)
        for t in (
            "",
            "0.12",
            "0.12 g",
            "120 mg",
            "8.333",
            "8.33",
            "2.04",
            "2.0",
            "2.041",
            "x",
            "0.13",
        )
    ],
    "topics": lambda: each(
        lambda name: [[q.key, q.topic, q.unit] for q in study.lesson(experiment_of(name))],
        ["copper-silver", "acid-titration"],
    ),
}


def rows() -> list[gallery.Comparison]:
    return [
        gallery.Comparison("yield, %", p, o, "from memory", n)
        for p, o, n in (
            ("77.3", 77.291, ""),
            ("77.3", 77.4, "rounded"),
            ("1.3e42", 1.31e42, ""),
            ("−0.48", -0.4812, ""),
            ("0", 0.0, ""),
            ("100", 99.6, ""),
            ("77.3", -77.3, ""),
        )
    ]


SHOWN = (
    "none fits", "no upper limit", "in pieces", "nothing read", "less than nothing",
    "one candidate", "one that fails", "recovery", "excess scatter", "reversed", "drifting",
    "doubted", "unknown", "stated", "looks before", "prior", "transposed", "outlying",
    *experiments.names(),
)  # fmt: skip
SHOWN_OF = (
    "ready", "five rows", "a slip", "a gap", "coarse", "two balances", "a constant gain", "settled",
    "not settled", "one candidate", "below zero", "recovery", "two groups", "one group", "gas",
)  # fmt: skip
CASES = cases(
    lab=by_name(of_lab, SHOWN),
    parts=by_name(of_parts, SHOWN),
    page=LAB_PAGES,
    lesson=by_name(
        of_lesson,
        (
            "copper-silver",
            "acid-titration",
            "hydrate-heating",
            "magnesium-gas",
            "copper-plating",
            "doubted",
            "none fits",
        ),
    ),
    answers=by_name(
        of_answers,
        (
            "copper-silver",
            "tin-oxide",
            "magnesium-gas",
            "acid-titration",
            "recovery",
            "copper-silver-coarse",
        ),
    ),
    progress=PROGRESS,
    of=by_name(of_class, SHOWN_OF),
    classes=CLASS_PAGES,
    feedback=FEEDBACK,
    small=SMALL,
)

test_answers, test_nothing_else = RECORD.tests(CASES)
