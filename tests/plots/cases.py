"""The labs whose pictures the tests look at, and one picture of every kind."""

from __future__ import annotations

from functools import cache

from stoichkit import experiments
from stoichkit.classroom import assess_class
from stoichkit.decision.evidence import Evidence, assess
from stoichkit.diagnosis.causes import causes_for, combine
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Balance
from stoichkit.planning.design import design_map
from stoichkit.planning.plan import Plan, operating_characteristic
from stoichkit.planning.simulation import simulate_labs
from stoichkit.plots import (
    BudgetPicture,
    ChancesPicture,
    ClassGroupsPicture,
    ClassLinePicture,
    CombinationPicture,
    CurvesPicture,
    DecisionPicture,
    EffectsPicture,
    LabsPicture,
    MapPicture,
    Picture,
    RatioPicture,
    ResultPicture,
)
from tests.labs import REVERSED, crucible, lab, two

HOSTILE = {
    "<b>&\"'</b>]]> $x_1$ -->": "1",
    "a very very long name of a candidate that goes on and on": "2",
    "日本\U0001f600": "9/4",
    "&lt;img src=x onerror=alert(1)&gt;": "5/2",
}
EIGHT = {
    "one half": "1/2",
    "two thirds": "2/3",
    "copper(I)": "1",
    "three halves": "3/2",
    "copper(II)": "2",
    "five halves": "5/2",
    "copper(III)": "3",
    "copper(IV)": "4",
}
ALLOWED = {"recovery": (0.85, 1.0)}
_ROW = (3.12, 2.95, 0.71, 1.29)


def _experiment(name: str) -> Experiment:
    coarse = Balance(readability_g=0.1)
    made = {
        "none fits": lambda: lab([(3.12, 2.65, 0.71, 1.90), (2.95, 2.48, 0.70, 1.89)]),
        "open": lambda: lab([(3.1, 3.0, 0.7, 1.0)], coarse),
        "every ratio": lambda: lab([(3.1, 3.1, 0.7, 0.8)], coarse),
        "eight": lambda: lab([_ROW, (2.95, 2.76, 0.70, 1.33)], ratios=EIGHT),
        "sixty": lambda: lab([_ROW], ratios={f"no. {i}": f"{i}/20" for i in range(1, 61)}),
        "empty": lambda: lab([(3.12, 3.00, 0.80, 0.70)]),
        "negative": lambda: lab([(3.10, 3.12, 0.70, 0.69)]),
        "scatter": lambda: lab([(3.12 - 0.02 * i, 2.65, 0.71, 2.30 - 0.03 * i) for i in range(20)]),
        "shared fault": lambda: lab(
            [(3.12 - 0.02 * i, 2.65, 0.71, 2.30 - 0.03 * i) for i in range(8)],
            Balance(readability_g=0.01, calibration_relative=0.03),
        ),
        "hostile": lambda: lab([_ROW], ratios=HOSTILE),
        "reversed": lambda: lab(REVERSED),
        "drifting": lambda: crucible("22.7028", "22.7005", "22.6994"),
        "recovery": lambda: lab([(3.12, 2.65, 0.71, 2.10), (2.95, 2.48, 0.70, 2.14)], **ALLOWED),
        "doubted": lambda: two((0.64, 0.31), (0.56, 0.30)),
        "no noise": lambda: lab([_ROW], Balance(readability_g=0.01, repeatability_g=0.0)),
    }
    return made[name]() if name in made else experiments.load(name)


@cache
def evidence(name: str) -> Evidence:
    """Return the assessed lab of a name in ``NAMES``."""
    return assess(_experiment(name))


NAMES = (
    "copper-silver",
    "copper-silver-coarse",
    "none fits",
    "open",
    "every ratio",
    "eight",
    "sixty",
    "empty",
    "negative",
    "scatter",
    "shared fault",
    "hostile",
    "no noise",
    "reversed",
    "drifting",
    "recovery",
    "doubted",
    "hydrate-heating",
    "tin-oxide",
    "acid-titration",
)


@cache
def pictures() -> dict[str, Picture]:
    """Return one picture of every kind."""
    lab, coarse = evidence("copper-silver"), evidence("copper-silver-coarse")
    causes = causes_for(lab, "copper(I)")
    pair = combine(lab, "copper(I)", causes[0].effect, causes[1].effect)
    plan = Plan(experiment=lab.experiment, consumed_mol=0.002, trials=1)
    chances = operating_characteristic(plan).chances.items()
    found = design_map(lab.experiment, masses_g=[0.01, 0.1, 1.0], readabilities_g=[0.01, 0.1])
    group = assess_class(experiments.class_file(), "copper-silver")
    asked = {"marked_g": [0.01], "planned": (0.1, 0.01)}
    made: list[Picture] = [
        DecisionPicture.of(coarse),
        RatioPicture.of(evidence("open")),
        BudgetPicture.of(lab),
        ResultPicture.of(lab),
        EffectsPicture.of(causes),
        CombinationPicture.of(pair),
        LabsPicture.of(simulate_labs(plan, "copper(I)")),
        ChancesPicture.of(chances, 0.9),
        CurvesPicture.of(found, lab.experiment, **asked),
        MapPicture.of(found, lab.experiment, **asked),
        ClassGroupsPicture.of(group),
        ClassLinePicture.of(group),
    ]
    return {type(picture).__name__: picture for picture in made}


KINDS = (
    "DecisionPicture",
    "RatioPicture",
    "BudgetPicture",
    "ResultPicture",
    "EffectsPicture",
    "CombinationPicture",
    "LabsPicture",
    "ChancesPicture",
    "CurvesPicture",
    "MapPicture",
    "ClassGroupsPicture",
    "ClassLinePicture",
)
