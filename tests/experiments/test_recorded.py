"""Every answer of the room: ready, practice and own labs, files, refusals.

A change is seen, whatever it changes. That an answer is right is for the other tests here; see
:mod:`tests.recorded`.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from copy import deepcopy
from functools import partial
from pathlib import Path
from typing import Any

from stoichkit import experiments
from stoichkit.experiments import (
    address,
    candidate_spec,
    checks,
    dialogue,
    fields,
    looks,
    own,
    own_slots,
    own_ways,
    parts,
    practice_drawing,
    practice_labs,
    store,
)
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Balance
from stoichkit.uncertainty.readings import ErrorPool
from tests.every_lab import EVERY, READY
from tests.experiments.test_own import LABS as SAID
from tests.recorded import Record, cases, each, tried

RECORD = Record(__file__, leave=("recipe",))
KINDS = ("weighed", "gas", "titration", "charge")


# -- records ----------------------------------------------------------------------------------


def record(name: str) -> object:
    lab = EVERY[name]()
    trial, names = lab.trials[0], lab.reading_names()
    return {
        "roles": [
            f"{r.name}: {r.instrument}, {r.unit}, repeated {r.repeated}, averaged {r.averaged}, "
            f"once {r.once}"
            for r in lab.roles()
        ],
        "in the trial": [r.name for r in lab.roles_in(trial)],
        "names": names,
        "repeats": [lab.repeats(n) for n in names],
        "read on": {n: lab.read_on(n) for n in names},
        "instruments": lab.instruments_in_words(),
        "assumed": lab.assumptions(),
        "asked": lab.questions(),
        "coverage": [lab.coverage_each(), lab.coverage_each(0.9)],
        "example": lab.example().readings,
        "settings": [
            tried(lambda s=side: lab.produced.situation(lab.setting(s))) for side in ("produced",)
        ],
        "amounts": lab.amounts()[:4],
        "quantities": lab.quantities(trial, ErrorPool()),
    }


def written(name: str) -> object:
    lab = EVERY[name]()
    text = lab.to_toml()
    assert experiments.parse_experiment(text) == lab
    assert Experiment.from_json(lab.to_json()) == lab
    return [text, lab.to_json()[:200]]


def changed_records() -> object:
    lab = EVERY["good"]()
    empty = lab.with_trials([])
    balance = Balance(readability_g=0.1)
    return {
        "reading": lab.with_reading("1", "paper", "0.80").trials[0].readings,
        "no such": [
            tried(lab.with_reading, "9", "paper", "0.80"),
            tried(lab.with_reading, "1", "papyrus", "0.80"),
            tried(lab.with_reading, "1", "paper", "much"),
            tried(lab.with_reading, "1", "paper", "0.8"),
            tried(lab.with_reading, "1", "paper", ["0.80", "0.81"]),
            tried(lab.with_instrument, "scale", balance),
            tried(lab.with_instrument, "balance", "fine"),
            tried(lab.with_candidates, []),
            tried(lab.with_trials, ["1"]),
            tried(lab.coverage_each, 0.4),
        ],
        "columns": [
            tried(lambda c=c: [t.readings for t in empty.with_readings(c).trials])
            for c in (
                {n: ["1.00", "2.00"] for n in lab.reading_names()},
                {n: ["1.00"] * (2 - i % 2) for i, n in enumerate(lab.reading_names())},
                {n: ["1.00"] for n in lab.reading_names()[:3]},
                {"papyrus": ["1"]},
                dict.fromkeys(lab.reading_names(), "1.00"),
                {n: [] for n in lab.reading_names()},
                3,
            )
        ],
        "coarser": tried(lambda: lab.with_instrument("balance", balance).questions()),
        "empty": [empty.example().readings, empty.reading_names(), empty.questions()],
    }


# -- files ------------------------------------------------------------------------------------

ODD: tuple[Any, ...] = (None, True, -1, 0, 1e9, "", "x", [], {})


def places(table: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    if path:
        yield path
    items = table.items() if isinstance(table, dict) else enumerate(table[:1])
    if isinstance(table, dict | list):
        for key, value in items:
            yield from (
                places(value, (*path, key)) if isinstance(value, dict | list) else [(*path, key)]
            )


def faulty(name: str) -> object:
    """What is said of a file in which one field is another, is missing, or is one too many."""
    tables = fields.to_tables(EVERY[name]())
    said: dict[str, dict[str, str]] = {}
    seen: set[str] = set()
    for path in places(tables):
        for odd in (*ODD, "missing", "one too many"):
            changed = deepcopy(tables)
            inner = changed
            for step in path[:-1]:
                inner = inner[step]
            if odd == "missing":
                del inner[path[-1]]
            elif odd == "one too many":
                if not isinstance(inner, dict):
                    continue
                inner[f"{path[-1]}s"] = inner[path[-1]]
            else:
                inner[path[-1]] = odd
            found = tried(lambda c=changed: Experiment(**fields.from_tables(c)))
            message = found if isinstance(found, str) else "taken"
            if message == "taken" and odd not in ("missing", 0, ""):
                continue
            if message not in seen:
                seen.add(message)
                said.setdefault(".".join(map(str, path)), {})[repr(odd)] = message
    return said


def _with_own(tables: dict[str, Any], own: object) -> dict[str, Any]:
    tables["trials"][0]["instruments"] = own
    return tables


def files(folder: Path) -> object:
    lab = EVERY["good"]()
    text = lab.to_toml()
    (folder / "latin.toml").write_bytes(text.encode("utf-8").replace(b"Copper", b"Kupf\xe4r"))
    (folder / "broken.toml").write_text(text.replace("=", ":", 1), "utf-8")
    (folder / "empty.toml").write_text("", "utf-8")
    (folder / "marked.toml").write_text(text, "utf-8-sig")
    (folder / "long.toml").write_bytes(b"#" * 1_000_001)
    (folder / "fits.toml").write_bytes(text.encode() + b"#" * (1_000_000 - len(text.encode())))

    def said(answer: object) -> object:
        return str(answer).replace(str(folder), "…") if isinstance(answer, str) else "read"

    names = ("latin", "broken", "empty", "marked", "long", "fits", "none")
    return {
        **{n: said(tried(store.load_experiment, folder / f"{n}.toml")) for n in names},
        "folder": said(tried(store.load_experiment, folder)),
        "name": said(tried(store.load_experiment, "a\0b")),
        "number": said(tried(store.load_experiment, 3)),
        "saved": [
            said(tried(store.save_experiment, lab, folder / one, replace=again))
            for one, again in (
                ("new.toml", False),
                ("new.toml", False),
                ("new.toml", True),
                ("new.txt", False),
                ("nowhere/new.toml", False),
                ("new", False),
            )
        ],
        "not a lab": said(tried(store.save_experiment, 3, folder / "other.toml")),
        "texts": [
            said(tried(store.parse_experiment, t, "mine.toml"))
            for t in ("", "x", "title = 1", "title = 'a'\ntitle = 'b'", text, "[[trials]]\n" * 3, 3)
        ],
        "json": [
            tried(fields.parse_json, t)
            for t in ("", "[]", "{}", '{"a": 1, "a": 2}', "NaN", '{"a": NaN}', "[" * 5000)
        ],
        "toml": [
            tried(fields.toml_tables, t)
            for t in ("a = 1", "a = 1979-05-27", "a = nan", "a = 0x1F", "a.b = 1\na = 2", "=")
        ],
        "own instruments": [
            said(tried(lambda c=c: Experiment(**fields.from_tables(c))))
            for own in (3, [], "balance", {"balance": 3}, {"balance": "x"}, {"x": "balance"}, None)
            for c in [_with_own(fields.to_tables(lab), own)]
        ],
        "wide": [fields.write_toml({"list": ["x" * 9] * 7 + ["y" * n]}) for n in range(1, 12)],
        "written": [
            fields.write_toml(
                {"a": 'x"""y\n""', "b\n": "\x7f\x00\\", "c": True, "d": {}, "e": 1e-7}
            ),
            fields.write_toml({"list": [1, "two", [3.0]], "t": [{"a": 1}, {"b": [{"c": "d"}]}]}),
        ],
    }


# -- parts ------------------------------------------------------------------------------------


def small_parts() -> object:
    trial = {"a": "1.00", "b": ["2.00", "2.01"]}
    prior = parts.Prior(weights={"a": 3, "b": 1}, none=0.1)
    good = EVERY["good"]()
    role = good.roles()[0]
    return {
        "trial": parts.Trial("1", trial),
        "trials": [
            tried(parts.Trial, *one)
            for one in (
                ("", trial),
                ("x" * 201, trial),
                ("1", {}),
                ("1", {"a": ""}),
                ("1", {"a": []}),
                ("1", {"": "1"}),
                ("1", {"a": 1.0}),
                ("1", 3),
                (1, trial),
                ("a\nb", trial),
                ("1", {"a": ["1"] * 101}),
                ("1", trial, "g\n"),
                ("1", trial, "g", {"b": 3}),
            )
        ],
        "caution": [
            tried(parts.Caution, **one)
            for one in (
                {"subject": "acid", "statements": ("H314",), "advice": ("Wear gloves.",)},
                {"subject": ""},
                {"subject": "a", "statements": "H314"},
                {"subject": "a", "advice": [3]},
                {"subject": "a", "source": 3},
                {"subject": "a", "source": "two\nlines"},
            )
        ],
        "variation": [
            tried(parts.Variation, **one)
            for one in (
                {"relative": 0.02},
                {"relative": 0.02, "from_trials": 5},
                {"unknown": True},
                {"relative": 0.02, "unknown": True},
                {"relative": -0.01},
                {"relative": 0.5},
                {"relative": 0.51},
                {"relative": 2.0},
                {"relative": 50},
                {"relative": 50.1},
                {"relative": 0.1, "from_trials": 1},
                {"relative": 0.1, "from_trials": 2},
                {"relative": 0.1, "from_trials": 10**7},
                {"from_trials": 3},
                {"unknown": 1},
                {"relative": "2 %"},
                {},
                {"relative": float("nan")},
            )
        ],
        "between": each(
            parts.checked_between, ["unknown", "none", 0.02, -1, 0, 0.5, 0.6, None, "x", 2]
        ),
        "prior": [
            prior,
            prior.among(["a"]),
            prior.shares(["a", "b", "c"]),
            tried(prior.shares, ["b"]),
        ],
        "priors": [
            tried(parts.Prior, **one)
            for one in (
                {},
                {"none": 0},
                {"none": 0.5},
                {"none": 0.99},
                {"none": 0.995},
                {"none": 1},
                {"none": -0.1},
                {"none": "x"},
                {"weights": {"a": -1}},
                {"weights": {"a": 0}},
                {"weights": {"a": 0, "b": 1}},
                {"weights": {"": 1}},
                {"weights": {"a": "x"}},
                {"weights": 3},
                {"weights": {"a": float("inf")}},
                {"weights": {"a": 1e9}},
            )
        ],
        "paths": [parts.field_path("trials", 2, "a b"), parts.field_path("a", "b", 1)],
        "checks": {
            "coverage": each(
                checks.checked_coverage, [0.5, 0.4999, 0.9999, 0.99991, "x", None, 95]
            ),
            "recovery": each(
                checks.checked_recovery,
                [
                    (0.5, 1.0),
                    (0.05, 1),
                    (0.01, 1),
                    (0, 1),
                    (1, 1.5),
                    (1, 2),
                    (1, 2.5),
                    (0.9, 0.8),
                    (1,),
                    "x",
                    1,
                    (1, 1, 1),
                    (None, 1),
                    (0.9, 0.9),
                    [0.9, 1.1],
                    (90, 100),
                ],
            ),
            "variation": each(checks.checked_variation, [None, parts.Variation(relative=0.1), 0.1]),
            "looks": each(checks.checked_looks, [None, looks.Looks(planned=2), 2]),
            "prior": [
                tried(checks.checked_prior, v, good.candidates)
                for v in (None, prior, 3, parts.Prior(weights={"copper(I)": 2}))
            ],
            "values": [
                tried(checks.read_value, role, t)
                for t in (
                    ("3.12",),
                    ("3.1", "3.12"),
                    ("much",),
                    ("",),
                    ("1e3",),
                    ("3,12",),
                    ("-1",),
                )
            ],
            "vessels": [
                checks.vessel_question("paper", t, Balance(readability_g=s))
                for t in (("0.71", "0.72", "0.73"), ("0.71", "0.71"), ("0.71", "0.95"))
                for s in (0.01, 0.1)
            ],
            "questions": [
                checks.questions_about(role, t, Balance(readability_g=0.01))
                for t in (("3.12",), ("3.1",), ("3.125",), ("3.120",), ("312",))
            ],
        },
        "looks": [
            tried(looks.Looks, **one)
            for one in (
                {"planned": 1},
                {"planned": 20},
                {"planned": 21},
                {"planned": 0},
                {"before": 1},
                {"before": 20},
                {"before": 21},
                {},
                {"planned": 2, "before": 1},
                {"planned": 2, "trials_each": 64},
                {"planned": 2, "trials_each": 65},
                {"planned": 2, "trials_each": 0},
                {"planned": 1.5},
                {"before": 2, "trials_each": 3},
            )
        ],
        "levels": {
            f"{n} at {alpha}": [looks.constant_level(n, alpha), looks.ever_excluded(n, alpha)]
            for n in (1, 2, 3, 5, 20)
            for alpha in (0.05, 0.01, 0.3)
        },
        "of looks": [
            [
                one.number(t),
                one.is_planned(t),
                one.most_trials,
                one.ever(t, 0.05),
                one.ever(t, 0.05, parts.Variation(unknown=True)),
                one.level(0.05),
                one.level(0.05, parts.Variation(unknown=True)),
                one.level(0.05, parts.Variation(relative=0.1, from_trials=4)),
            ]
            for one in (
                looks.Looks(planned=3, trials_each=2),
                looks.Looks(planned=1),
                looks.Looks(before=2),
            )
            for t in (1, 2, 3, 4, 6, 7, 8)
        ],
        "by student": each(
            looks.by_student,
            [
                None,
                parts.Variation(unknown=True),
                parts.Variation(relative=0.1),
                parts.Variation(relative=0.1, from_trials=4),
            ],
        ),
        "published": experiments.student_sets(),
        "ready": [
            experiments.names(),
            experiments.class_names(),
            len(experiments.class_file()),
            *(
                tried(f, n)
                for f in (
                    experiments.load,
                    experiments.read,
                    experiments.path,
                    experiments.class_file,
                )
                for n in ("tin", "TIN-OXIDE", 3, "")
            ),
        ],
    }


def candidates() -> object:
    lines = (
        "copper(I) = 1",
        "a = 3/2",
        "1.5",
        "2:3",
        "0.67",
        "SnO2",
        "tin = SnO2",
        "MgSO4.7H2O",
        "Cu + Ag^+ -> Cu^+ + Ag",
        "x = Cu + 2Ag+ = Cu2+ + 2Ag",
        "",
        "=",
        "a =",
        "= 1",
        "a b",
        "0",
        "-1",
        "1e9",
        "Cu + Ag",
        "Cu -> Ag",
        "Xx",
        "1/0",
        "hemihydrate",
    )
    spec = candidate_spec.CandidateSpec
    built = (
        ("Zn", "Cu", "oxidation_states", {"metal": "Zn", "states": ["zinc(II)", "Zn^3+", 1]}),
        ("Zn", "Ag", "oxidation_states", {"metal": "Zn", "states": [2], "displaced": "Ag^+"}),
        ("Zn", "Ag", "oxidation_states", {"metal": "Fe", "states": [2]}),
        ("Zn", "Ag", "oxidation_states", {"states": [2]}),
        ("Zn", "Ag", "oxidation_states", {"metal": "Zn", "states": [0, 9]}),
        ("Zn", "Ag", "oxidation_states", {"metal": "Zn", "states": "2"}),
        ("CaSO4", "H2O", "hydrate", {"salt": "CaSO4", "waters": [2, "1/2"]}),
        ("CaSO4", "H2O", "hydrate", {"salt": "CaSO4"}),
        ("CaSO4", "H2O", "hydrate", {"salt": "CuSO4"}),
        ("CaSO4", "H2O", "hydrate", {"salt": "CaSO4", "waters": [0, -1, 99]}),
        ("Sn", "O", "formulas", {"list": ["SnO2", "SnO"], "consumed": "Sn", "produced": "O"}),
        ("Sn", "O", "formulas", {"list": ["SnO2", "SnO2"]}),
        ("Sn", "O", "formulas", {"list": []}),
        ("Sn", "O", "formulas", {"list": ["PbO"], "consumed": "Sn", "produced": "O"}),
        ("Sn", "O", "ratios", {"z": "3:2", "a": {"ratio": "2", "equation": "a -> b"}, "m": 4}),
        ("Sn", "O", "ratios", {"z": 0.6667}),
        ("Sn", "O", "ratios", {"z": 0, "y": -2}),
        ("Sn", "O", "ratios", {}),
        ("Zn", "Ag", "equations", {"a": "Zn + Ag^+ -> Zn^+ + Ag", "b": "Zn -> Ag"}),
        ("Zn", "Ag", "equations", {"a": "Zn + 2Ag^+ -> Zn^2+ + 2Ag"}),
        ("Zn", "Ag", "guesses", {"a": 1}),
    )
    return {
        "lines": [
            tried(candidate_spec.candidate_in, line, *species)
            for line in lines
            for species in (("Cu", "Ag", "Cu", "Ag"), ("MgSO4", "H2O", "Sn", "O"))
        ],
        "built": [tried(lambda b=b: spec(b[2], b[3]).build(b[0], b[1])) for b in built],
        "of": {n: spec.of(EVERY[n]().candidates) for n in READY},
    }


def addresses() -> object:
    lab = EVERY["two-balances"]()
    fragment = address.fragment_of(lab)
    return {
        "of": [
            address.fragment_of(experiments.load("tin-oxide"), "tin-oxide"),
            address.fragment_of(experiments.load("tin-oxide"), "copper-silver")[:9],
            address.fragment_of(practice_labs.practice(7).experiment),
            fragment[:5],
            tried(address.fragment_of, 3),
        ],
        "same": address.lab_in(fragment) == lab,
        "in": [
            one if isinstance(one, str) else one.title
            for text in (
                "lab=tin-oxide",
                "lab=tin",
                "practice=86cau28",
                "practice=86cau29",
                "file=AAAA",
                "file=" + fragment[5:-9],
                fragment + "AAAA",
                "file=",
                "",
                "x",
                "a&b&c&d&e&f",
                "lab=",
                "x=1&lab=tin-oxide",
                "file=é",
                "x" * 400_001,
            )
            for one in [tried(address.lab_in, text)]
        ],
        "number": tried(address.lab_in, 3),
    }


# -- one sentence -----------------------------------------------------------------------------

TEXTS = (
    "",
    "x",
    "0",
    "-1",
    "1",
    "2",
    "1/2",
    "1-3",
    "2, 3",
    "1e9",
    "Fe",
    "copper",
    "Tc",
    "Na",
    "K",
    "Fe2+",
    "Cu(II)",
    "CuSO4",
    "AgNO3.5H2O",
    "H2",
    "CO2",
    "Fe2(SO4)3",
    "a\nb",
    "twice",
    "Hg",
    "Pb",
)


def sentence(way: str) -> object:
    """A whole sentence, each choice in it, and odd texts in each slot."""
    whole = own.Sentence(way, SAID[way][0])
    found = own.understood(whole)
    slots = own.way_named(way).slots
    said: dict[str, Any] = {
        "way": own.way_named(way),
        "understood": {
            "slots": found.slots,
            "candidates": found.candidates,
            "equations": found.equations,
            "lab": found.experiment and found.experiment.to_toml(),
        },
        "empty": own.understood(own.Sentence(way)),
        "suggested": {
            slot.name: [f"{one.text}: {one.label}" for one in own.suggestions(whole, slot.name)]
            for slot in slots
        },
    }
    for slot in slots:
        offered = own.suggestions(whole, slot.name) if slot.kind == "choice" else ()
        texts = (
            (*(one.text for one in offered), *TEXTS)
            if not offered
            else [*(one.text for one in offered), "by eye"]
        )
        answers = {}
        for text in texts:
            other = own.understood(whole.with_text(slot.name, text))
            read = other.slots[slot.name]
            answers[repr(text)] = (
                f"{'; '.join(read.items)} {read.refusal or ''} "
                f"{'missing ' * read.missing}{', '.join(other.refusals)} | "
                f"{'; '.join(f'{c.name} {c.ratio}' for c in other.candidates)} | "
                f"{', '.join(other.experiment.reading_names()) if other.experiment else '-'}"
            )
        said[slot.name] = answers
    return said


def in_one_call() -> object:
    iron = {"consumed": {"Fe": ["7.30", "6.20"]}, "produced": {"Cu": ["53.40", "54.66"]}}
    changes: tuple[dict[str, Any], ...] = (
        {},
        {"states": [2, 3]},
        {"states": ["II", "Fe3+"]},
        {"states": [2.5]},
        {"states": 2},
        {"states": ["much"]},
        {"candidates": ["1", "half = 1/2", "Fe + Cu2+ -> Fe2+ + Cu"]},
        {"candidates": "1"},
        {"candidates": [1]},
        {"ion": "CuSO4"},
        {"ion": "Ag+"},
        {"ion": 3},
        {"balance_g": 0.1},
        {"balance_g": "0.001"},
        {"balance_g": 0},
        {"balance_g": "x"},
        {"balance_g": [0.01]},
        {"balance_g": [0.01, 0.1]},
        {"repeatability_g": 0.02},
        {"repeatability_g": -1},
        {"title": "Mine"},
        {"title": "a\nb"},
        {"title": 3},
        {"consumed": {"Fe": ["1.10"]}},
        {"consumed": {"Fe": []}},
        {"consumed": {}},
        {"consumed": {"Fe": ["1", "2", "3"]}},
        {"consumed": {"Fe": [1.1]}},
        {"consumed": "Fe"},
        {"consumed": {"Fe": [["7.30", "6.20"], ["7.10", "6.00"]]}},
        {"consumed": {"Fe": [["7.30", "6.20"], ["7.10"]]}},
        {"consumed": {"Xx": ["7.30", "6.20"]}},
        {"consumed": {"Cu": ["7.30", "6.20"]}},
        {"produced": {"Cu": ["1.26"]}},
        {"produced": {"CuO": ["1.26"]}},
        {"consumed": {"Fe": ["7.30", "much"]}},
    )
    both = {
        "consumed": {"Fe": [["7.30", "6.20"], ["7.1", "6.0"]]},
        "produced": {"Cu": [["53.40", "54.66"], ["53.4", "54.7"]]},
    }

    def shown(answer: Any) -> object:
        if isinstance(answer, str):
            return answer
        steps = [b.readability_g for b in answer.instruments.values()]
        return [
            answer.title,
            answer.reading_names(),
            [c.name for c in answer.candidates],
            steps,
            [[t.name, dict(t.readings), dict(t.instruments)] for t in answer.trials],
        ]

    return {
        "weighed": {
            str(i): shown(tried(own.weighed, **{**iron, **one})) for i, one in enumerate(changes)
        },
        "several balances": shown(tried(own.weighed, **both, balance_g=[0.01, 0.1])),
        "unweighed": [
            shown(tried(own.unweighed, *given, **more))
            for given, more in (
                (("Fe", "CuSO4.5H2O"), {"states": [2, 3]}),
                (("CaSO4",), {"candidates": ["1/2"]}),
                (("Sn",), {"candidates": ["SnO", "SnO2"]}),
                (("Sn",), {}),
                (("CuSO4",), {}),
                (("Fe", "NaCl"), {}),
                (("Fe", "HCl"), {}),
                (("Fe", "x"), {}),
                (("",), {}),
                (("x",), {}),
                (("Fe", "CuSO4"), {"balance_g": -1}),
                ((3,), {}),
                (("Fe", "CuFeS2"), {}),
                (("Sn",), {"candidates": ["PbO"]}),
                (("Zn", "AgNO3"), {"states": ["much"]}),
                (("Zn", "AgNO3"), {"title": "a\nb"}),
            )
        ],
        "metal of": each(own.metal_of, ["CuSO4", "AgNO3", "NH4Cl", "KAl(SO4)2", "x", "HCl", 3]),
        "ways": [tried(own.way_named, k) for k in ("displacment", 3)],
        "sentences": [
            tried(own.Sentence, *a)
            for a in (("oxide", {"x": "1"}), ("oxide", {"metal": 3}), ("x",), ("oxide", 3))
        ],
        "slots": [tried(own.suggestions, own.Sentence("oxide"), s) for s in ("x", "metal")],
        "metals": {
            m: [own_slots.named_state(m, s) for s in (1, 2, 3)]
            + [own_slots.shown_ion(m, s) for s in (1, 2)]
            + [f"{o.text} {o.label}" for o in own_slots.state_suggestions(m)]
            + [str(tried(own_slots.blank_states, m))]
            for m in ("Fe", "Cu", "Ag", "Al", "Zn", "Sn", "Cr", "W", "Na")
        },
        "items": each(
            own_slots.items_of,
            ["a, b", "a; b", "a and b", "a or b", "a\nb", "1,5; 2", "", " , ", "1,5, 2"],
        ),
        "recipes": list(own_ways.RECIPES),
    }


TALKS: dict[str, tuple[str, ...]] = {
    "to the end": ("1", "Fe", "", "Cu", "", "", "2, 3", "", "", "7.30", "6.20", "1.40", "2.66"),
    "refused on the way": (
        "12",
        "x",
        "1",
        "rust",
        "Fe",
        "9",
        "1",
        "Fe",
        "Cu",
        "",
        "Ag+",
        "",
        "",
        "2, x",
        "2, 3",
        "",
        "",
        "7.30",
        "much",
        "6.20",
        "1.40",
        "2.66",
        "",
    ),
    "hydrate": ("2", "CuSO4", "4, 5", "", "", "20.00", "22.50", "21.60", "21.60", "", ""),
    "by name": ("oxide", "Sn", "", "", "", "", ""),
    "left empty": ("1", "", "Fe", "", "", "Cu", "", "", "", "", "", ""),
    "ends early": ("1", "Fe"),
    "nothing": (),
}


def talk(name: str) -> object:
    answers, told = iter(TALKS[name]), []

    def ask(question: str) -> str:
        told.append(f"? {question}")
        try:
            answer = next(answers)
        except StopIteration:
            raise EOFError from None
        told.append(f"> {answer}")
        return answer

    found = tried(dialogue.asked, ask, told.append)
    return [*told, found if isinstance(found, str) else found.to_toml()]


# -- practice ---------------------------------------------------------------------------------


def practised(kind: str, level: int) -> object:
    def line(number: int) -> str:
        lab = practice_labs.practice(number, level=level, kind=kind)
        trial = lab.experiment.trials[-1]
        true = {name: f"{value:.8g}" for name, value in lab.true_values[-1].items()}
        return (
            f"{lab.id} {lab.scene} {lab.truth} {lab.consumed_mol:.8g} "
            f"{lab.fault or '-'} {dict(trial.readings)} {true}"
        )

    first = practice_labs.practice(3, level=level, kind=kind)
    return [
        first.experiment.to_toml() if level == 4 else first.experiment.title,
        [line(number) for number in range(6)],
        practice_labs.practice_of(first.experiment) == first,
    ]


def drawing() -> object:
    lot = practice_drawing.Lot("a lot")
    return {
        "lot": [
            [lot.below(n), lot.between(5, 5 + n), lot.normal(n), lot.even(n), lot.pointed(n)]
            for n in (1, 2, 7, 1000, 10**9)
            for _ in range(3)
        ],
        "nearest": [
            practice_drawing.nearest(practice_drawing.Fraction(n, 2)) for n in range(-5, 6)
        ],
        "written": [
            practice_drawing.written(v, s)
            for v in (0, 5_000, 21_140_000, 1_497_000_000)
            for s in (10, 10_000, 1_000_000)
        ],
        "shown": [practice_drawing.shown(v, 10) for v in (4, 5, 14, 15, -5)],
        "molar": [practice_drawing.molar(s) for s in ("Cu", "H2O")],
        "rise": [
            practice_drawing.Rise("a", s).of(
                {"a": practice_drawing.Fraction(3), "b": practice_drawing.Fraction(1)}
            )
            for s in ("", "b")
        ],
        "ids": [
            practice_labs.new_id(level, n, kind)
            for kind in KINDS
            for level in (1, 5)
            for n in (0, 7, 10**12)
        ],
        "refused": [
            tried(practice_labs.practice, *a, **k)
            for a, k in (
                (("86CAU29",), {}),
                (("86CAU2",), {}),
                (("",), {}),
                (("86CAU280",), {}),
                ((-1,), {}),
                ((10**12 + 1,), {}),
                ((1,), {"level": 0}),
                ((1,), {"level": 6}),
                ((1,), {"kind": "x"}),
                (("86CAU28",), {"level": 2}),
                (("86CAU28",), {"kind": "gas"}),
                (("86O0AU2",), {}),
                ((1.5,), {}),
            )
        ],
        "written ids": each(
            practice_labs.checked_id,
            ["86cau28", "86-CAU 28", "B6CAU28", "ZJGBGNS", "zjgbgn5", "!!"],
        ),
        "new": [tried(practice_labs.new_id, 1, 1, "x")],
        "of": [practice_labs.practice_of(EVERY[n]()) for n in ("tin-oxide", "good")],
    }


LABS = [
    name for name in EVERY if name not in ("many-trials", "over-100", "strict", "one-candidate")
]
CASES = cases(
    record={name: partial(record, name) for name in LABS},
    written={
        name: partial(written, name)
        for name in (
            *READY,
            "two-balances",
            "routes",
            "titrated",
            "sum-of-masses",
            "prior",
            "from-trials",
            "looks-by-student",
            "recovery",
            "averaged",
        )
    },
    faulty={
        name: partial(faulty, name)
        for name in ("acid-titration", "magnesium-gas", "copper-plating", "routes", "prior")
    },
    sentence={way: partial(sentence, way) for way in SAID},
    talk={name: partial(talk, name) for name in TALKS},
    practice={
        f"{kind} {level}": partial(practised, kind, level)
        for kind, level in itertools.product(KINDS, range(1, 6))
    },
    alone={
        "changed": changed_records,
        "parts": small_parts,
        "candidates": candidates,
        "addresses": addresses,
        "in one call": in_one_call,
        "drawing": drawing,
    },
)


def test_files(tmp_path: Path) -> None:
    RECORD.check("files", lambda: files(tmp_path))


test_answers, test_nothing_else = RECORD.tests(CASES, also=("files",))
