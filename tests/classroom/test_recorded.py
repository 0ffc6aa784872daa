"""What is said of a class, recorded: says when an answer changes, not that it is right.

That it is right is for the other tests here, by hand and by simulation. The cases go through
every branch: files with every kind of trouble, classes that come to every verdict, marks, exports,
refusals. How to write the record anew: ``tests/recorded.py``.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from stoichkit import assess_class, experiments, load_class
from stoichkit.bench.datasheet import datasheet_bytes
from stoichkit.classroom import (
    balances,
    choices,
    columns,
    conclusion,
    export,
    items,
    line,
    marking,
    names,
    outlook,
    pooled,
    privacy,
    questions,
    review,
    rubric,
    sentences,
    statement,
    tables,
    trust,
    verdict,
)
from stoichkit.classroom.amounts import ClassAmounts
from stoichkit.classroom.data import ClassData, preview_class
from stoichkit.classroom.result import ClassResult
from stoichkit.decision.evidence import Evidence
from stoichkit.experiments.record import Experiment
from stoichkit.experiments.store import parse_experiment
from stoichkit.text.wording import names_text
from tests.classfiles import HEADER, ROWS, csv_bytes
from tests.classroom import test_marking, test_messy
from tests.labs import iron_text
from tests.odd_classes import DATA, data_of, result_of
from tests.recorded import Record, by_name, cases, each, tried

RECORD = Record(
    __file__,
    brief=(Experiment, Evidence, ClassData, ClassAmounts, ClassResult),
    leave=("experiment", "evidence", "amounts", "pooled", "source", "key"),
)
LAB = experiments.load("copper-silver")
BROKEN = Path(__file__).parent / "broken"


def of_file(content: object, lab: Experiment = LAB, **given: Any) -> object:
    data = tried(load_class, content, lab, **given)
    return data if isinstance(data, str) else of_data(data)


def of_data(data: ClassData) -> object:
    return {
        "layout": data.layout,
        "columns": list(data.preview.columns),
        "rows": [[r.row, r.use.value, r.group, r.trial, r.reason] for r in data.rows[:12]],
        "uses": dict(data.uses),
        "problems": [str(p) for p in data.problems],
        "questions": list(data.questions),
        "readings": {
            name: [[t.name, *(f"{k}={v}" for k, v in t.readings.items())] for t in group.trials]
            for name, group in list(data.groups.items())[:4]
        },
        "waiting": [data.waiting, sentences.waiting_sentence(data)],
        "balances": sentences.balances_sentence(data),
    }


def of_preview(name: str) -> object:
    content = test_messy.READ[name][0]
    return tried(preview_class, content, LAB)


def of_class(name: str) -> object:
    result = result_of(name)
    found: dict[str, object] = {
        "file": sentences.file_sentence(result),
        "groups": sentences.groups_sentence(result),
        "headline": sentences.class_verdict_sentences(result),
        "not assessed": list(sentences.not_assessed_sentences(result)),
        "no verdict": result.no_verdict,
        "class": line.class_diagnosis(result),
        "lines": [line.group_diagnosis(result, one).sentence for one in list(result.groups)[:3]],
        "slips": {k: len(v) for k, v in result.slips.items()},
    }
    it = result.verdict
    if it is None:
        return found
    lab = result.experiment
    found |= {
        "verdict": it,
        "statement": statement.statement_of_class(it),
        "said": [
            sentences.heterogeneity_sentence(it),
            sentences.differ_sentence(it),
            sentences.outlying_rule(it),
            sentences.leave_one_out_sentence(it),
            sentences.line_sentence(it),
            sentences.class_ratio_sentence(it, lab),
            sentences.allowance_text(it),
            sentences.basis_sentence(it),
            sentences.by_route_sentence(it),
            statement.differ_p(it),
            statement.opinions_sentence(it),
        ],
        "blank": sentences.blank_sentences(it.blank, lab),
        "candidates": [sentences.candidate_class_sentence(c, it) for c in it.candidates.values()],
        "tested": [sentences.ratio_tested(c) for c in it.candidates.values()],
        "routes": sentences.class_route_sentences(it, lab),
        "caveats": [sentences.class_caveat_sentence(c, result) for c in it.caveats],
        "assumptions": list(sentences.class_assumptions(it, lab)),
        "outlook": tried(of_outlook, it),
        "trust": trust.class_trust_sentences(result),
        "ratios": pooled.pooled_ratios(it),
        "repairs": review.suggested_repairs(result),
    }
    return found


def of_outlook(it: verdict.ClassVerdict) -> object:
    made = outlook.class_outlook(it)
    more = outlook.class_outlook(it, groups=20)
    return {
        "outlook": made,
        "said": [
            *sentences.outlook_sentences(made),
            *sentences.outlook_sentences(more, instruments=False),
        ],
    }


def of_changed(name: str, **given: Any) -> object:
    result = tried(assess_class, data_of(name), **given)
    if isinstance(result, str):
        return result
    it = result.verdict
    return [
        sentences.class_verdict_sentences(result),
        it and [[c.p_value for c in it.candidates.values()], sentences.basis_sentence(it)],
    ]


def file_of(write: Callable[..., Path], what: object, name: str, **given: Any) -> object:
    """Return what is written into a file, without where."""
    with TemporaryDirectory() as folder:
        place = Path(folder) / name
        found = tried(write, what, place, **given)
        if isinstance(found, str):
            return found.replace(folder, "")
        if place.suffix == ".xlsx":
            return [list(t.rows[:6]) for t in tables.read_sheets(place.read_bytes())]
        return place.read_bytes().decode("utf-8-sig")


def marks_of(content: object, **given: Any) -> object:
    found = tried(marking.mark_class, content, test_marking.the_class(), **given)
    if isinstance(found, str):
        return found
    return {
        name: {
            "points": [group.points, group.out_of],
            "remarks": group.remarks,
            "marks": [
                f"{one.item} {one.trial}: {m.kind.value}, {m.points:.6g} – {one.words}"
                for m in group.marks
                for one in (m.judgement,)
            ],
        }
        for name, group in found.groups.items()
        if name == "red" or group.remarks
    }


ANSWERS = {
    "m(Cu)": "0.12 g; 120 mg; 120; -0.12; 2.94; 5.76; 1.79; 0.15; much; 12 cm; ; 0.1; 0.126",
    "n(Cu)": "0.0018884; 1.9e-3; 1.89 mmol; 7.6255; 529.6; 0.12; 0.00094; 0.0019; 0.002",
    "ratio": "0.51; 3.33; 1.9637; 2; 1.96; 1:2",
    "mean ratio": "2.0351; 2.04; 2.1; 0.49",
    "percent yield": "1.02; 101.8 %; 102; 98; 50; 150",
    "conclusion": "copper(I); copper(II); Cu2+; not copper(I); cannot tell; either; none; copper; ",
}
TYPED = [(item, typed.strip()) for item, some in ANSWERS.items() for typed in some.split(";")]


def own_sheet(names: tuple[str, ...]) -> bytes:
    """Return a data sheet of ours, filled in for groups of these names."""
    blank = datasheet_bytes(LAB, ".csv", groups=names, trials=1).decode("utf-8-sig")
    lines = blank.split("\r\n")
    filled = [
        line.rstrip(",") + "," + ",".join(row[2:])
        for line, row in zip(lines[2:], ROWS, strict=False)
        if line
    ]
    return "\r\n".join([*lines[:2], *filled, ""]).encode()


OWN: dict[str, Callable[[], object]] = {
    "plain": lambda: of_file(own_sheet(("red", "blue"))),
    "alike": lambda: of_file(own_sheet(("red", "Red", "r ed"))),
    "odd": lambda: of_file(own_sheet(("=red", "x-y", "group 1"))),
    "not ours": lambda: of_file(own_sheet(("red", "Red")).partition(b"\n")[2]),
    "a row above": lambda: of_file(b"our class\n" + csv_bytes()),
}


def on_balances(*named: str, header: str = "balance", lab: Experiment = LAB) -> object:
    rows = [(*row, name) for row, name in zip(ROWS, named, strict=False)]
    return of_file(csv_bytes(rows, (*HEADER, header)), lab)


COARSE = experiments.load("copper-silver-coarse")
AVERAGED = parse_experiment(iron_text(0.005, 'averaged = ["paper", "paper + copper"]'))
BALANCES: dict[str, Callable[[], object]] = {
    "steps": lambda: on_balances("0.01 g", "0.1 g", "10 mg", "0,01", "0.02"),
    "names": lambda: on_balances("balance", "Balance", "A", "", "2"),
    "unit in the header": lambda: on_balances(
        "10", "100", "10", "x", "1000", header="balance / mg"
    ),
    "coarser lab": lambda: on_balances("0.01", "0.1", "0.1", "0.1", "0.5", lab=COARSE),
    "all alike": lambda: on_balances("0.1", "0.1", "0.1", "0.1", "0.1"),
    "digits tell": lambda: of_file(
        csv_bytes(
            [tuple(c[:-1] if "." in c and r else c for c in row) for r, row in enumerate(ROWS)]
        )
    ),
    "averaged": lambda: of_file(
        b"group,nail before,nail after,paper 1,paper 2,paper + copper 1,paper + copper 2\n"
        b"red,3.00,2.44,0.80,0.81,1.44,1.45\nblue,3.01,2.50,0.80,,1.38,1.38\n",
        AVERAGED,
    ),
    "averaged, mg": lambda: of_file(
        b"group,nail before / mg,nail after / mg,paper / mg,paper + copper / mg\n"
        b"red,3000,2440,800; 810,1440; 1450\nblue,3010,2500,800,1380\n",
        AVERAGED,
    ),
    "no groups": lambda: of_file("\n".join(",".join(row[1:]) for row in (HEADER, *ROWS)).encode()),
    "no trials": lambda: of_file(
        "\n".join(",".join((row[0], *row[2:])) for row in (HEADER, *ROWS)).encode()
    ),
    "readings alone": lambda: of_file(
        "\n".join(",".join(row[2:]) for row in (HEADER, *ROWS)).encode()
    ),
    "no header": lambda: of_file("\n".join(",".join(row) for row in ROWS).encode()),
}


def marks_in(name: str, text: str) -> object:
    """Return the marks of answers to another class."""
    found = tried(marking.mark_class, text.encode(), data_of(name))
    if isinstance(found, str):
        return found
    return {
        "problems": [str(one) for one in found.problems],
        "groups": {
            key: [
                group.points, group.out_of, group.remarks,
                [f"{one.item} {one.trial}: {m.kind.value} – {one.words}" for m in group.marks
                 for one in (m.judgement,)],
            ]
            for key, group in list(found.groups.items())[:3]
        },
    }  # fmt: skip


MARKS_IN: dict[str, Callable[[], object]] = {
    "below zero": lambda: marks_in("below zero", "group,m(Cu),conclusion\ng1,0.1,none\n"),
    "no trial": lambda: marks_in(
        "five rows", "group,m(Cu)\nred,0.12\nred,0.10\nred,0.3\nblue,0.11\n"
    ),
    "no mean": lambda: marks_in(
        "five rows", "group,trial,conclusion,percent yield\nred,1,copper(II),102\n"
    ),
    "twice": lambda: marks_in(
        "five rows", "group,trial,m(Cu)\nred,1,0.12\nred,1,0.13\nred,1,0.12\n"
    ),
    "strange": lambda: marks_in(
        "five rows", "group,trial,m(Cu),gold\nred,7,0.12,1\npink,1,0.1,2\nRED,2,0.10,3\n"
    ),
    "a slip": lambda: marks_in("a slip", "group,trial,m(Cu),conclusion\nblue,1,0.38,none\n"),
    "gas": lambda: marks_in("gas", "group,trial,m(Mg),conclusion\nred,1,0.031,magnesium(II)\n"),
    "not told apart": lambda: marks_in(
        "coarse", "group,trial,conclusion\nred,1,cannot tell\nblue,1,copper(II)\n"
    ),
    "codes": lambda: marks_in("ready, coded", "group,trial,m(Cu)\nG01,1,0.12\nplum,1,0.1\n"),
    "nothing": lambda: marks_in("five rows", "group,trial,m(Cu)\n"),
}

MARKS: dict[str, Callable[[], object]] = {
    **{f"{item} {t}": (lambda i=item, t=t: of_one(i, t)) for item, t in TYPED},
    "all right": lambda: marks_of(test_marking.sheet()),
    "all wrong": lambda: marks_of(
        test_marking.sheet(
            dict.fromkeys(test_marking.COLUMNS, "7"), dict.fromkeys(test_marking.COLUMNS, "7")
        )
    ),
    "carried": lambda: marks_of(
        test_marking.sheet(
            {
                "m(Cu)": "0.21",
                "n(Cu)": "0.00330",
                "ratio": "1.12",
                "mean ratio": "1.44",
                "percent yield": "72",
            }
        )
    ),
    "empty": lambda: marks_of(
        test_marking.sheet(
            dict.fromkeys(test_marking.COLUMNS, ""), dict.fromkeys(test_marking.COLUMNS, "")
        )
    ),
    "rubric": lambda: marks_of(
        test_marking.sheet({"m(Cu)": "120", "ratio": "0.51"}),
        rubric=rubric.Rubric(points={"ratio": 3, "m(Cu)": 0.5}),
    ),
    "no such item": lambda: marks_of(
        test_marking.sheet(), rubric=rubric.Rubric(points={"mass": 3})
    ),
    "another group": lambda: marks_of(test_marking.sheet().replace(b"red", b"pink")),
    "twice": lambda: marks_of([test_marking.sheet(), test_marking.sheet({"m(Cu)": "0.2"})]),
    "not a table": lambda: marks_of(b"hello"),
    "no such trial": lambda: strange(),
    "coverage": lambda: marks_of(test_marking.sheet(), coverage=0.999),
    "grades": lambda: file_of(
        export.export_grades,
        marking.mark_class(test_marking.sheet({"m(Cu)": "120"}), test_marking.the_class()),
        "g.csv",
    ),
    "grades, workbook": lambda: file_of(
        export.export_grades,
        marking.mark_class(test_marking.sheet({"m(Cu)": "120"}), test_marking.the_class()),
        "g.xlsx",
    ),
}


def strange() -> object:
    found = marking.mark_class(
        test_marking.sheet().replace(b"red,2,", b"red,9,"), test_marking.the_class()
    )
    return [str(one) for one in found.problems]


def of_one(item: str, typed: str) -> object:
    later = {k: "" for k in ("n(Cu)", "n(Ag)", "ratio", "mean ratio", "percent yield") if k != item}
    given = (
        {item: typed}
        if item in ("conclusion", "percent yield", "mean ratio")
        else {**later, item: typed}
    )
    found = marking.mark_class(test_marking.sheet(given), test_marking.the_class()).groups["red"]
    return [
        [m.kind.value, m.points, m.judgement.words] for m in found.marks if m.judgement.item == item
    ]


EXPORTS: dict[str, Callable[[], object]] = {
    f"{kind}, {name}": (lambda k=kind, n=name: EXPORTED[k](n))
    for kind in ("results", "rows", "answers", "sheet", "code key")
    for name in (
        "five rows",
        "a gap",
        "ready, coded",
        "not settled",
        "below zero",
        "gas",
        "crystals",
    )
}
EXPORTED: dict[str, Callable[[str], object]] = {
    "results": lambda n: file_of(
        export.export_results, result_of(n).evidence, "r.csv", delimiter=";", decimal=","
    ),
    "rows": lambda n: file_of(export.export_rows, data_of(n), "r.xlsx"),
    "answers": lambda n: file_of(export.export_answer_key, data_of(n), "r.csv"),
    "sheet": lambda n: file_of(export.export_answer_sheet, data_of(n), "r.csv"),
    "code key": lambda n: file_of(export.export_code_key, data_of(n), "r.csv"),
}


def of_review(name: str, decisions: object = "suggested", **given: Any) -> object:
    it = tried(review.review_class, data_of(name), decisions, **{"initials": "EK"} | given)
    if isinstance(it, str):
        return it
    return {
        "decisions": it.decisions,
        "doubtful": it.doubtful,
        "why": it.why_none,
        "sides": [
            [n, side and sentences.class_verdict_sentences(side), why]
            for n, side, why in it.sides()
        ],
    }


def decision(**given: Any) -> object:
    base = {
        "group": "red",
        "trial": "1",
        "reading": "wire before",
        "typed": "2.94",
        "kind": "corrected",
        "corrected": "2.95",
        "reason": "notebook",
        "initials": "EK",
    }
    return tried(choices.Decision, **base | given)


REVIEWS: dict[str, Callable[[], object]] = {
    **by_name(of_review, ("ready", "a slip", "settled", "five rows", "one group")),
    "none": lambda: of_review("ready", None),
    "other": lambda: of_review("ready", "all"),
    "decisions": lambda: [
        decision(),
        decision(kind="left out"),
        decision(kind="used"),
        decision(kind="x"),
        decision(corrected="x"),
        decision(initials=""),
        decision(group=""),
        decision(typed=""),
        decision(kind="left out", corrected=""),
    ],
}

SMALL: dict[str, Callable[[], object]] = {
    "conclusions": lambda: {
        text: conclusion.read_conclusion(text, names_)
        for names_ in (
            ("copper(I)", "copper(II)"),
            ("SnO", "SnO2"),
            ("monoprotic", "diprotic", "triprotic"),
        )
        for text in (
            "copper(I)",
            "copper (II)",
            "Cu2+",
            "Copper II",
            "cupric",
            "SnO2",
            "sno",
            "not SnO",
            "SnO or SnO2",
            "cannot tell",
            "can't tell",
            "none",
            "none of them",
            "neither",
            "",
            "diprotic",
            "it is triprotic",
            "1",
            "both",
            "copper(I) or copper(II)",
            "I do not know",
            "excluded: copper(I)",
            "copper(II), not copper(I)",
            "not told apart",
            "not enough to tell",
        )
    },
    "units": lambda: each(
        columns.known_unit,
        [
            "g",
            "mg",
            "kg",
            "° C",
            "deg C",
            "mL",
            "L",
            "°C",
            "K",
            "kPa",
            "Pa",
            "mbar",
            "A",
            "mA",
            "s",
            "min",
            "h",
            "x",
            "",
            "µg",
            "mmHg",
        ],
    ),
    "headers": lambda: each(
        columns.split_header,
        [
            "wire before / g",
            "wire [mg]",
            "paper (g)",
            "time in s",
            "x",
            "",
            "a / b",
            "m(Cu)/g",
            "T, °C",
        ],
    ),
    "with unit": lambda: each(
        columns.number_and_unit,
        ["2.94 g", "2940mg", "2,94 g", "g", "2.94", "2.94 g g", "-5 °C", "1e3 mg"],
    ),
    "numbers": lambda: each(
        columns.is_number, ["2.94", "2,94", "x", "", "1e5", "−3", "1.2.3", "1 000"]
    ),
    "converted": lambda: [
        tried(columns.converted, t, u)
        for u in (columns.known_unit("mg"), columns.known_unit("K"), columns.known_unit("min"))
        if u
        for t in ("2940", "0.5", "298.15", "2,5")
    ],
    "alike": lambda: each(
        columns.alike, ["Wire before", "wire_before", "WIRE-BEFORE ", "wire  before"]
    ),
    "balance steps": lambda: each(
        balances.step_of, ["0.01", "0.01 g", "10 mg", "0,1 g", "x", "", "-1", "0"]
    ),
    "balance columns": lambda: each(
        balances.balance_column,
        ["balance", "Balance / g", "scale", "balance step (mg)", "wire", "weighed on"],
    ),
    "names": lambda: [
        names.distinct(["a", "A", "a ", "b"]),
        names.plain_names(["Anna B.", "x\n", "=1", "", "ok"]),
        names.codes_of(["a", "b", "c"]),
        [names.usable_name(t) for t in ("a b", " x ", "\t", "é", "a/b", "x" * 90)],
        [names.is_usable(t) for t in ("a", " a", "", "x" * 90)],
        names.all_usable(["a", "b"]),
        names.all_usable(["a", ""]),
    ],
    "without names": lambda: [
        privacy.without_names(t, {"Anna": "G01", "Ann": "G02"})
        for t in ("Anna and Ann", "annas", "Hannah", "ANNA", "", "Ann, Anna.")
    ],
    "rows in words": lambda: [
        questions.rows_text(r)
        for r in ([1], [1, 2], [1, 2, 3], [1, 3, 5], range(1, 30, 2), [4, 4, 5])
    ],
    "summary words": lambda: each(
        questions.summary_word,
        ["mean", "Average", "sum", "total", "red", "std", "SD", "Mittel", "median", "max"],
    ),
    "plain names": lambda: each(questions.plain_name, ["Red", "red ", "RED!", "red-1", "Rot"]),
    "places": lambda: [
        tables.place_in_words("", 3),
        tables.place_in_words("Data", 3, "B"),
        tables.place_in_words("Data", None),
        tables.place_in_words("", None, "x"),
        [tables.column_letter(i) for i in (0, 25, 26, 51, 52, 701, 702)],
    ],
    "groups in words": lambda: (
        [statement.groups_text(n) for n in (0, 1, 2, 12)]
        + [names_text([f"g{i}" for i in range(n)]) for n in (1, 2, 5, 9, 20)]
    ),
    "items": lambda: [
        [i.header for i in items.items_of(data_of(n))] for n in ("five rows", "gas", "crystals")
    ],
    "items in full": lambda: items.items_of(experiments.load("acid-titration")),
    "rubrics": lambda: [
        tried(rubric.Rubric, points=p)
        for p in ({}, {"ratio": 3}, {"ratio": -1}, {"ratio": "x"}, {"ratio": 0})
    ],
    "rubric files": lambda: [
        of_rubric(t)
        for t in (
            "",
            "[points]\nratio = 3\n",
            "[points]\nratio = -1\n",
            "[x]\n",
            "points = 3\n",
            "carried = 0.5\n[points]\nconclusion = 4\n",
            "[",
        )
    ],
    "choices": lambda: [
        tried(choices.parse_choices, t)
        for t in (
            "",
            "{",
            "{}",
            "[]",
            '{"columns": {"wire before": "a"}}',
            '{"answers": {"x": "y"}}',
            'sheet = "x"\n',
            '[columns]\n"wire before" = "A"\n',
        )
    ],
    "refused": lambda: (
        [tried(assess_class, csv_bytes(), "copper-silver", coverage=c) for c in (0.4, 1.0)]
        + [tried(assess_class, csv_bytes()), tried(assess_class, csv_bytes(), "gold")]
    ),
    "coded": lambda: of_data(data_of("ready, coded")),
}


def of_rubric(text: str) -> object:
    with TemporaryDirectory() as folder:
        place = Path(folder) / "rubric.toml"
        place.write_text(text, "utf-8")
        found = tried(rubric.load_rubric, place)
        return found.replace(folder, "") if isinstance(found, str) else found


def answered(name: str) -> object:
    case, answer, _ = test_messy.ANSWERED[name]
    content = test_messy.READ[case][0]
    asked = load_class(content, LAB).open_questions
    given = choices.Choices(answers={q.key: answer for q in asked})
    data = load_class(content, LAB, choices=given)
    return [[str(p) for p in data.problems], dict(data.uses), [q.text for q in data.questions]]


CASES = cases(
    read={name: (lambda n=name: of_file(test_messy.READ[n][0])) for name in test_messy.READ},
    refused={
        name: (lambda n=name: of_file(test_messy.REFUSED[n][0])) for name in test_messy.REFUSED
    },
    answered=by_name(answered, test_messy.ANSWERED),
    broken={p.stem: (lambda p=p: of_file(p.read_bytes())) for p in sorted(BROKEN.glob("*.csv"))},
    preview=by_name(of_preview, list(test_messy.READ)[:40:4]),
    of=by_name(of_class, DATA),
    changed={
        "coverage": lambda: of_changed("settled", coverage=0.999),
        "variation": lambda: of_changed("groups differ", variation="10 %"),
        "no variation": lambda: of_changed("groups differ", variation="none"),
        "unknown": lambda: of_changed("groups differ", variation="unknown"),
        "not read": lambda: of_changed("settled", variation="much"),
    },
    own=OWN,
    balances=BALANCES,
    marks_in=MARKS_IN,
    marks=MARKS,
    export=EXPORTS,
    review=REVIEWS,
    small=SMALL,
)

test_answers, test_nothing_else = RECORD.tests(CASES)
