"""What is drawn, recorded: says when a picture changes, not that it is right.

That it is right is for the other tests here, which measure positions by hand. Each picture is
written as data, then item by item with its places in points; at other widths as one line. How to
write the record anew: ``tests/recorded.py``.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

from stoichkit.classroom.result import ClassResult
from stoichkit.decision.evidence import CandidateEvidence, Evidence
from stoichkit.diagnosis.causes import causes_for, combine
from stoichkit.experiments import load
from stoichkit.experiments.record import Experiment
from stoichkit.planning.design import design_map
from stoichkit.planning.outcomes import Chances
from stoichkit.planning.plan import Plan, operating_characteristic
from stoichkit.planning.simulation import simulate_labs
from stoichkit.plots import (
    budget,
    causes,
    cells,
    class_groups,
    class_line,
    decision,
    labs,
    plane,
    planning,
    ratio,
    render,
    result,
    scene,
    shapes,
    writing,
)
from tests.odd_classes import DATA, result_of
from tests.odd_labs import ODD
from tests.odd_labs import evidence_of as evidence_of_odd
from tests.plots.cases import NAMES, evidence
from tests.recorded import Record, by_name, cases, number, tried

RECORD = Record(__file__, brief=(Experiment, Evidence, CandidateEvidence, ClassResult))
SILVER, COARSE = load("copper-silver"), load("copper-silver-coarse")
OTHER_WIDTHS = ((320.0, None), (760.0, 420.0))


def evidence_of(name: str) -> Evidence:
    return evidence(name) if name in NAMES else evidence_of_odd(name)


def of_picture(make: Callable[[], Any]) -> object:
    """Return the data of a picture, its words, and what is drawn at some widths."""
    picture = tried(make)
    if isinstance(picture, str):
        return picture
    drawn = picture.scene()
    return {
        "title": picture.title,
        "alt text": picture.alt_text,
        "size": [drawn.width, drawn.height, *drawn.x_limits, *drawn.y_limits],
        "items": [line_of(item) for item in drawn.items[:160]],
        "mixed": mixed(drawn),
        **{f"{w} × {h}": mixed(picture.scene(w, h)) for w, h in OTHER_WIDTHS},
    }


def line_of(item: object) -> str:
    """Return an item as a line: what it is, and its fields to a hundredth of a point."""
    parts = []
    for part in item:  # type: ignore[attr-defined]
        if isinstance(part, list | tuple) and part and isinstance(part[0], list | tuple):
            some = part if len(part) <= 6 else [*part[:3], part[len(part) // 2], *part[-2:]]
            parts.append(f"{len(part)} points " + " ".join(f"{x:.2f},{y:.2f}" for x, y in some))
        elif isinstance(part, list | tuple):
            parts.append(" ".join(f"{x:.2f}" for x in part))
        else:
            parts.append(f"{part:.4g}" if isinstance(part, float) else str(part))
    return f"{type(item).__name__} " + "; ".join(parts)


def numbers(value: object) -> Iterator[float]:
    if isinstance(value, str):
        yield float(sum(map(ord, value)) % 1009)
    elif isinstance(value, int | float):
        yield float(value)
    elif value is not None:
        for part in value:  # type: ignore[attr-defined]
            yield from numbers(part)


def mixed(drawn: scene.Scene) -> str:
    """Return one number that any place, size, colour or word has a part in."""
    total = math.fsum(n * math.cos(i) for i, n in enumerate(numbers(drawn.items)))
    places = [drawn.width, drawn.height, *drawn.x_limits, *drawn.y_limits]
    return f"{len(drawn.items)} items, {total:.2f}; {' '.join(number(p) for p in places)}"


def of_lab(name: str) -> object:
    it = evidence_of(name)
    return {
        "decision": of_picture(lambda: decision.DecisionPicture.of(it)),
        "ratio": of_picture(lambda: ratio.RatioPicture.of(it)),
        "budget": of_picture(lambda: budget.BudgetPicture.of(it)),
    }


def in_short(make: Callable[[], Any], *, words: bool = True) -> object:
    picture = tried(make)
    if isinstance(picture, str):
        return picture
    if not words:
        return mixed(picture.scene())
    return [picture.title, picture.alt_text, mixed(picture.scene())]


def of_odd(name: str) -> object:
    it = evidence_of(name)
    return {
        "decision": in_short(lambda: decision.DecisionPicture.of(it)),
        "cells": in_short(lambda: decision.DecisionPicture.of(it, cells=True), words=False),
        "ratio": in_short(lambda: ratio.RatioPicture.of(it)),
        "budget": in_short(lambda: budget.BudgetPicture.of(it)),
        "result": in_short(lambda: result.ResultPicture.of(it), words=False),
        "no budget": in_short(lambda: result.ResultPicture.of(it, budget=False), words=False),
        "fan": in_short(lambda: cells.CellsPicture.of(it)),
        "no fan": in_short(lambda: cells.CellsPicture.of(it, fan=False), words=False),
        "no rays": in_short(lambda: cells.CellsPicture.of(it, rays=False), words=False),
    }


def of_effects(name: str, candidate: str) -> object:
    found = causes_for(evidence_of(name), candidate)
    pairs = [(a, b) for a in (0, 1) for b in (1, 2, 3) if a < b < len(found)]
    return {
        "effects": of_picture(lambda: causes.EffectsPicture.of(found)),
        "pairs": [
            in_short(lambda p=p: causes.CombinationPicture.of(
                combine(evidence_of(name), candidate, found[p[0]].effect, found[p[1]].effect)
            ))
            for p in pairs
        ],
        "pair": of_picture(lambda: causes.CombinationPicture.of(
            combine(evidence_of(name), candidate, found[0].effect, found[1].effect)
        )),
    }  # fmt: skip


def of_simulated(lab: Experiment, mol: float, trials: int, truth: str) -> object:
    plan = Plan(experiment=lab, consumed_mol=mol, trials=trials)
    return of_picture(lambda: labs.LabsPicture.of(simulate_labs(plan, truth, labs=40)))


def of_map(lab: Experiment, **given: Any) -> object:
    masses = given.pop("masses_g", [0.01, 0.1, 1.0])
    steps = given.pop("readabilities_g", [0.001, 0.01, 0.1])
    found = design_map(lab, masses_g=masses, readabilities_g=steps, **given)
    asked = {"marked_g": [0.01, 0.1], "planned": (0.1, 0.01)}
    return {
        "curves": of_picture(lambda: planning.CurvesPicture.of(found, lab, **asked)),
        "map": of_picture(lambda: planning.MapPicture.of(found, lab, **asked)),
        "plain curves": in_short(lambda: planning.CurvesPicture.of(found, lab)),
        "plain map": in_short(lambda: planning.MapPicture.of(found, lab)),
    }


def of_chances(lab: Experiment, mol: float, target: float) -> object:
    found = operating_characteristic(Plan(experiment=lab, consumed_mol=mol)).chances
    return of_picture(lambda: planning.ChancesPicture.of(found.items(), target))


def of_class(name: str) -> object:
    it = result_of(name)
    return {
        "groups": of_picture(lambda: class_groups.ClassGroupsPicture.of(it)),
        "line": of_picture(lambda: class_line.ClassLinePicture.of(it)),
    }


def of_class_in_short(name: str) -> object:
    it = result_of(name)
    return {
        "groups": in_short(lambda: class_groups.ClassGroupsPicture.of(it)),
        "line": in_short(lambda: class_line.ClassLinePicture.of(it)),
    }


def painted(make: Callable[[], Any]) -> object:
    """Return what matplotlib is given to draw."""
    from matplotlib.figure import Figure

    axes = Figure(figsize=(5, 4)).add_subplot()
    render.draw(axes, make())
    found = []
    for artist in axes.get_children():
        kind = type(artist).__name__
        if kind in ("Line2D", "Polygon", "Text", "PathPatch", "Ellipse", "FancyBboxPatch"):
            given = artist.properties()
            shown = {
                key: given.get(key)
                for key in (
                    "linewidth",
                    "linestyle",
                    "alpha",
                    "fontsize",
                    "ha",
                    "rotation",
                    "zorder",
                )
            }
            box = given["text"] if kind == "Text" else artist.get_path().vertices.mean(axis=0)
            found.append(f"{kind} {box} {shown}")
    return found[:50]


DRAWN: dict[str, Callable[[], object]] = {
    "svg": lambda: render.svg(ratio.RatioPicture.of(evidence_of("copper-silver"))),
    "svg, document": lambda: render.svg(
        budget.BudgetPicture.of(evidence_of("hostile")),
        document=True,
        title="<T>",
        width=360.0,
        height=200.0,
        width_px=500,
    ),
    "svg, decision": lambda: render.svg(decision.DecisionPicture.of(evidence_of("copper-silver")))[
        :6000
    ],
    "html": lambda: render.image_html(ratio.RatioPicture.of(evidence_of("doubted")), title="x"),
    "live": lambda: result.live_svg(evidence_of("copper-silver"))[:2000],
    "painted, decision": lambda: painted(
        lambda: decision.DecisionPicture.of(evidence_of("copper-silver"))
    ),
    "painted, ratio": lambda: painted(lambda: ratio.RatioPicture.of(evidence_of("open"))),
    "painted, line": lambda: painted(lambda: class_line.ClassLinePicture.of(result_of("ready"))),
    "refused": lambda: (
        [
            tried(render.svg, ratio.RatioPicture.of(evidence_of("open")), **given)
            for given in (
                {"width_px": 0},
                {"width": 0.5},
                {"height": 0},
                {"title": 3},
                {"document": "yes"},
            )
        ]
        + [tried(render.svg, 3)]
    ),
}

SMALL: dict[str, Callable[[], object]] = {
    "ticks": lambda: {
        f"{a} {b} {m}": [[number(t) for t in found], plane.tick_labels(found)]
        for a, b in (
            (0.0, 1.0),
            (0.0, 0.0123),
            (-3.0, 7.0),
            (99.9, 100.1),
            (0.0, 4321.0),
            (1e-6, 2e-6),
        )
        for m in (4, 7)
        for found in (plane.ticks(a, b, most=m),)
    },
    "spread": lambda: [
        plane.spread(w, g, 0.0, 100.0)
        for w in ([10, 11, 12], [1, 99], [50, 50, 50, 50], [-5, 120], [])
        for g in (5.0, 30.0)
    ],
    "marks": lambda: [
        [line_of(i) for i in plane.marks_below([(3.0, "a"), (40.0, "b")], 10.0)],
        [line_of(i) for i in plane.marks_left([(3.0, "a"), (40.0, "b")], 10.0)],
    ],
    "shapes": lambda: [
        [line_of(i) for i in shapes.cross(10, 20, 3, 1.0)],
        [line_of(i) for i in shapes.remarks(["a", "b"], 5, 50)],
        line_of(shapes.tip(10, 20, 3, 6, "#000")),
        [shapes.widened(a, b, 4.0, 20.0) for a, b in ((1, 2), (1, 9), (19, 19.5), (0, 0))],
        shapes.in_rows([10, 20, 30, 40], 45),
        shapes.in_rows([100], 45),
        shapes.box(1, 2, 3, 4),
        [line_of(i) for i in shapes.hatching(0, 30, 5, 20, "#000", 6.0)],
    ],
    "writing": lambda: [
        writing.wrapped("a label that goes on and on, in two lines or three", 90.0, 9.0),
        writing.wrapped("日本", 5.0, 9.0),
        [writing.number(v) for v in (0.0, 1.0, 0.012345, -2.5, 123456.0, 1e-9)],
        [writing.with_uncertainty(*v) for v in ((1.2345, 0.0123), (12.0, 3.0), (0.1, 0.0))],
        [writing.percent(v) for v in (0.0, 0.004, 0.0999, 0.1, 0.5, 0.996, 1.0)],
        [writing.listed("abcdefgh"[:n], most=4) for n in (1, 2, 4, 5, 8)],
        [writing.shown_species(v) for v in ("e-", "Cu^2+", "H2O", "xx")],
    ],
    "stacked": lambda: mixed(
        scene.stacked(
            [ratio.RatioPicture.of(evidence_of(n)).scene() for n in ("open", "doubted")], 7.0
        )
    ),
}

CHANCES = [
    ("copper(I)", Chances(0.93, 0.004, 0.046, 0.02)),
    ("copper(II)", Chances(0.2, 0.1, 0.5, 0.1, 0.1, 400)),
]
PLANS: dict[str, Callable[[], object]] = {
    "chances": lambda: of_picture(lambda: planning.ChancesPicture.of(CHANCES, 0.9)),
    "chances, one": lambda: of_picture(lambda: planning.ChancesPicture.of(CHANCES[:1], 0.5)),
    "chances of a hydrate": lambda: of_chances(load("hydrate-heating"), 0.02, 0.8),
    "labs": lambda: of_simulated(SILVER, 0.0006, 2, "copper(II)"),
    "labs, coarse": lambda: of_simulated(COARSE, 0.003, 1, "copper(I)"),
    "labs, nothing": lambda: of_simulated(COARSE, 0.003, 1, "nothing reacted"),
    "labs, losses": lambda: of_simulated(
        replace(SILVER, recovery=(0.7, 1.0)), 0.002, 1, "copper(II)"
    ),
    "labs, plating": lambda: of_simulated(load("copper-plating"), 0.0002, 1, "copper(II)"),
    "map": lambda: of_map(SILVER),
    "map, losses": lambda: of_map(replace(SILVER, recovery=(0.85, 1.0)), trials=3, target=0.8),
    "map, never": lambda: of_map(SILVER, masses_g=[0.001, 0.002], readabilities_g=[0.1, 1.0]),
    "map, five balances": lambda: of_map(
        SILVER, readabilities_g=[0.0001, 0.001, 0.01, 0.1, 1.0], masses_g=[0.01, 0.05, 0.2, 1.0]
    ),
    "map, tin": lambda: of_map(load("tin-oxide"), trials=2),
}

CASES = cases(
    lab=by_name(
        of_lab,
        (
            "copper-silver",
            "copper-silver-coarse",
            "open",
            "eight",
            "recovery",
            "doubted",
            "reversed",
            "hydrate-heating",
        ),
    ),
    odd=by_name(of_odd, dict.fromkeys((*NAMES, *ODD))),
    effects={
        f"{n}, {c}": (lambda n=n, c=c: of_effects(n, c))
        for n, c in (
            ("copper-silver", "copper(I)"),
            ("copper-silver", "copper(II)"),
            ("tin-oxide", "SnO"),
            ("hydrate-heating", "MgSO4·6H2O"),
        )
    },
    plan=PLANS,
    of=by_name(
        of_class, ("ready", "settled", "a constant gain", "groups differ", "recovery", "gas")
    ),
    classes=by_name(of_class_in_short, DATA),
    drawn=DRAWN,
    small=SMALL,
)

test_answers, test_nothing_else = RECORD.tests(CASES)
