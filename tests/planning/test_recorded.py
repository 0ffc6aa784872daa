"""What planning answers, recorded: says when an answer changes, not that it is right.

That it is right is for ``test_by_hand.py`` and the simulated labs beside it. The cases go through
every branch: ready labs, odd ones, refusals. How to write the record anew: ``tests/recorded.py``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np

from stoichkit import assess, experiments
from stoichkit.decision.evidence import Evidence
from stoichkit.experiments.looks import Looks
from stoichkit.experiments.parts import Prior, Trial, Variation
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Balance
from stoichkit.planning import (
    classes,
    design,
    draws,
    following,
    outcomes,
    questions,
    room,
    simulation,
    strips,
    telling,
)
from stoichkit.planning import plan as plans
from stoichkit.planning import sentences as said
from stoichkit.planning.classes import Groups
from stoichkit.planning.plan import NOTHING, Plan
from stoichkit.planning.room import AIMS, Balances, Room
from tests import labs as made_labs
from tests.recorded import Record, by_name, cases, tried

RECORD = Record(__file__, brief=(Experiment, Evidence), leave=("experiment", "evidence"))
SILVER = experiments.load("copper-silver")
COARSE = experiments.load("copper-silver-coarse")
FINE = SILVER.with_instrument("balance", Balance(readability_g=0.001, repeatability_g=0.0005))
EXACT = SILVER.with_instrument("balance", Balance(readability_g=0.01, repeatability_g=0.0))
LOSSES = replace(SILVER, recovery=(0.8, 1.0))
VARIED = replace(SILVER, variation=Variation(relative=0.03))
SEEN = replace(SILVER, variation=Variation(relative=0.03, from_trials=6))
UNKNOWN = replace(SILVER, variation=Variation(unknown=True))
GAINS = replace(SILVER, recovery=(0.9, 1.1))
LOOKED = replace(SILVER, looks=Looks(planned=2, trials_each=2))
PRIOR = replace(COARSE, prior=Prior({"copper(I)": 3, "copper(II)": 1}))
AIR = made_labs.as_dense_as_weights(FINE)
MIXED = COARSE.with_candidates(
    made_labs.lab([], ratios={"a": "1", "b": "3/2", "c": "2"}).candidates
)
NARROW = replace(SILVER, recovery=(0.5, 1.0))
ONE_VESSEL = replace(EXACT, produced=replace(EXACT.produced, same_vessel=("paper",)))
SAME = replace(SILVER, produced=replace(SILVER.produced, same_vessel=("paper",)))
BETWEEN = replace(COARSE, between_groups=Variation(relative=0.05))


def plan(
    lab: Experiment = SILVER, mol: float = 0.0006, trials: int = 1, spread: float = 0.1
) -> Plan:
    return Plan(experiment=lab, consumed_mol=mol, trials=trials, spread=spread)


PLANS: dict[str, Plan] = {
    "one trial": plan(),
    "two trials": plan(trials=2),
    "four trials": plan(mol=0.0003, trials=4),
    "exact amount": plan(mol=0.0004, spread=0.0),
    "wide amount": plan(mol=0.0008, trials=3, spread=0.9),
    "coarse": plan(COARSE, 0.003, 2),
    "without noise": plan(EXACT, 0.0003, 2),
    "without noise, exact": plan(EXACT, 0.0003, 1, 0.0),
    "fine": plan(FINE, 0.0001, 2),
    "fine, large": plan(FINE, 0.02, 2),
    "losses": plan(LOSSES, 0.001, 2),
    "gains": plan(GAINS, 0.0008),
    "half lost": plan(NARROW, 0.005),
    "varied": plan(VARIED, 0.0007, 2),
    "varied, unknown": plan(UNKNOWN, 0.0009, 3),
    "looks": plan(LOOKED, 0.0004, 2),
    "prior": plan(PRIOR, 0.002),
    "as dense as weights": plan(AIR, 0.0001),
    "three candidates": plan(MIXED, 0.004, 2),
    "acid": plan(experiments.load("acid-titration"), 0.0003, 2),
    "plating": plan(experiments.load("copper-plating"), 0.0002, 1),
    "plating, two": plan(experiments.load("copper-plating"), 0.0002, 2),
    "hydrate": plan(experiments.load("hydrate-heating"), 0.02, 2),
    "gas": plan(experiments.load("magnesium-gas"), 0.0006),
    "gas, three": plan(experiments.load("magnesium-gas"), 0.0004, 3),
    "oxide": plan(experiments.load("tin-oxide"), 0.0006, 1),
    "hopeless": plan(COARSE, 0.00001),
    "many trials": plan(COARSE, 0.003, 5),
    "one vessel": plan(ONE_VESSEL, 0.0003, 2),
    "same vessel": plan(SAME, 0.0004, 2),
}


@cache
def found(name: str) -> plans.OperatingCharacteristic:
    return plans.operating_characteristic(PLANS[name])


@cache
def simulated(name: str, truth: str = "") -> simulation.SimulatedLabs:
    one = PLANS[name]
    truth = truth or one.experiment.candidates[-1].name
    return simulation.simulate_labs(one, truth, labs=60, seed=3)


def of_plan(name: str) -> object:
    one = PLANS[name]
    names = [c.name for c in one.experiment.candidates]
    first, last = names[0], names[-1]
    it = found(name)
    return {
        "chances": it,
        "setting": said.setting_sentence(one),
        "hardest": [said.hardest_sentence(it, target) for target in (0.2, 0.9, 0.99)],
        "wrong": said.wrong_sentence(it),
        "single": said.single_answer_sentence(it),
        "table": said.chances_table(it.chances.items(), 0.9),
        "with average": said.chances_table(it.chances.items(), 0.9, average=it.average),
        "each": [said.chances_sentence(n, c) for n, c in it.chances.items()],
        "expected": {n: one.expected_readings(n) for n in (first, last, NOTHING)},
        "pipette": one.expected_readings(last, fixed=True, recovered=0.9),
        "nothing": tried(plans.chances, one, NOTHING),
        "recovered": tried(plans.chances, one, first, recovered=0.95),
        "amount": [
            said.amount_label(one.experiment),
            said.amount_text(one),
            said.amount_text(one, up=True),
        ],
        "molar mass": said.consumed_molar_mass(one.experiment),
    }


def within(name: str) -> object:
    """Return the parts from which the chances of a plan are made."""
    one, lab = PLANS[name], PLANS[name].experiment
    ratios = [float(c.ratio) for c in lab.candidates]
    linear = plans.nominal_lab(one, lab.candidates[0].name)
    sides = [linear.side_blocks(side)[:1] for side in (0, 1)]
    joint, consumed, produced = plans._split(one, linear, ratios[0], nothing=False)
    rows = outcomes.Rows(joint, consumed, produced)
    recovery, air = draws.allowance_of(lab, linear)
    made = strips.strips_of(
        linear, ratios, recovery, 0.05, air=air, band=rows.band, uneven=one.spread
    )
    middle = rows.band.consumed[:: max(rows.band.consumed.size // 5, 1)]
    return {
        "displays": outcomes.displays_of(linear, (sides[0][0], sides[1][0]), one.trials)
        if all(sides)
        else None,
        "joint": joint,
        "errors": [outcomes.cells_of(error, 4) for error in (consumed, produced)],
        "band": rows.band,
        "rows": rows.cdf(np.array([0]), rows.band.high[:1, None] * [[0.99, 1.0]]),
        "recovery, air": [*recovery, *air],
        "strips": made,
        "edges": made.edges(middle),
        "averaged": strips.strips_of(
            linear, ratios, recovery, 0.05, band=rows.band, averaged=True
        ).limits_mol,
        "limits": [strips.limit_mol(linear, r, a) for r in ratios for a in (0.05, 0.01)],
        "worst": strips.fits_at_worst(linear, [ratios[0]], middle, ratios[0] * middle * 1.04, 0.05),
        "alarm": strips.alarm_limits(linear, np.array(ratios), 0.05) if one.trials > 1 else None,
        "alarm share": [strips.alarm_share(linear, ratios[0], w) for w in (0.0, 0.02, 0.2)]
        if one.trials > 1
        else None,
    }


def of_questions(name: str, targets: tuple[float, ...] = (0.9,)) -> object:
    one = PLANS[name]
    found: dict[str, object] = {}
    for target in targets:
        asked = {
            "amount": tried(questions.smallest_amount, one, target=target),
            "trials": tried(questions.fewest_trials, one, target=target, most=12),
            "balance": tried(questions.coarsest_balance, one, target=target),
        }
        for key, answer in asked.items():
            found[f"{key} {target}"] = answer if isinstance(answer, str) else brief(answer)
    return found


def brief(answer: questions.Answer) -> object:
    return {
        "answer": [answer.value, answer.unit, answer.target, answer.at.right, answer.reached],
        "at": [answer.at.plan.consumed_mol, answer.at.plan.trials, answer.at.wrong],
        "short": None
        if answer.short is None
        else [answer.short.plan.consumed_mol, answer.short.right],
        "limits": [answer.limiting, answer.limiting_share, answer.shared_share],
        "noise": said.noise_limited(answer),
        "said": said.answer_sentences(answer),
    }


def of_recovery(name: str, side: str) -> object:
    return brief(questions.largest_recovery(PLANS[name], side=side))


def of_labs(name: str) -> object:
    one = PLANS[name]
    last = one.experiment.candidates[-1].name
    return {
        truth: {
            "counts": labs.counts,
            "kinds": labs.kinds[:12],
            "compatible": labs.compatible[:6],
            "amounts": [labs.consumed_mol, labs.produced_mol, labs.recovered],
            "readings": labs.readings,
            "limits": labs.limits_mol,
            "said": said.meaning_sentence(labs),
        }
        for truth in (last, NOTHING)
        for labs in (simulated(name, truth),)
    }


def of_map(lab: Experiment, **given: object) -> object:
    masses, steps = [0.02, 0.1, 0.6], [0.1, 0.01]
    given = {"masses_g": masses, "readabilities_g": steps} | given
    it = design.design_map(lab, **given)  # type: ignore[arg-type]
    return {
        "map": it,
        "smallest": [[it.smallest_mass_g(s, average=a) for s in steps] for a in (False, True)],
        "said": [said.map_sentence(it, lab, marks) for marks in ([0.1, 0.01], [0.001], [])],
    }


MAPS: dict[str, Callable[[], object]] = {
    "one trial": lambda: of_map(SILVER),
    "two trials": lambda: of_map(SILVER, trials=2, spread=0.2, target=0.8),
    "many trials": lambda: of_map(SILVER, trials=9, target=0.99),
    "exact": lambda: of_map(SILVER, spread=0.0),
    "losses": lambda: of_map(LOSSES),
    "varied": lambda: of_map(VARIED, masses_g=[0.06], readabilities_g=[0.01]),
    "as dense as weights": lambda: of_map(AIR),
    "acid": lambda: of_map(experiments.load("acid-titration")),
    "oxide": lambda: of_map(experiments.load("tin-oxide")),
    "hydrate": lambda: of_map(experiments.load("hydrate-heating"), masses_g=[0.5, 3.0]),
    "without noise": lambda: of_map(EXACT, trials=2),
    "many candidates": lambda: of_map(MIXED),
    "plating": lambda: tried(of_map, experiments.load("copper-plating")),
    "no mass": lambda: tried(design.design_map, SILVER, masses_g=[], readabilities_g=[0.1]),
    "no step": lambda: tried(design.design_map, SILVER, masses_g=[0.1], readabilities_g=[0.0]),
    "target": lambda: tried(of_map, SILVER, target=1.1),
}


@cache
def evidence(name: str) -> Evidence:
    rows = [(2.94, 2.84, 0.75, 1.05), (2.90, 2.82, 0.70, 0.96)]
    of = {
        "coarse": lambda: COARSE,
        "coarse, two": lambda: replace(COARSE, trials=COARSE.trials[:2]),
        "settled": lambda: SILVER,
        "varied": lambda: replace(COARSE, variation=Variation(unknown=True)),
        "losses": lambda: replace(COARSE, recovery=(0.7, 1.0)),
        "looks": lambda: replace(COARSE, looks=Looks(planned=2, trials_each=4)),
        "unplanned": lambda: replace(COARSE, looks=Looks(before=2)),
        "none fits": lambda: made_labs.lab(rows),
        "one": lambda: COARSE.with_candidates(COARSE.candidates[:1]),
        "nothing": lambda: made_labs.lab([(2.9, 2.9, 0.7, 0.7)]),
        "gas": lambda: gas(),
        "acid": lambda: experiments.load("acid-titration"),
        "plating": lambda: coarse_plating(),
    }
    return assess(of[name]())


def gas() -> Experiment:
    ready = experiments.load("magnesium-gas")
    instruments = {**ready.instruments, "balance": Balance(readability_g=0.01)}
    return replace(
        ready,
        instruments=instruments,
        trials=(Trial("1", {"ribbon": "0.02", "gas volume": "15.0"}),),
    )


def coarse_plating() -> Experiment:
    ready = experiments.load("copper-plating")
    lab = ready.with_instrument("balance", Balance(readability_g=0.01))
    readings = {"current": "0.38", "time": "60", "strip before": "9.17", "strip after": "9.18"}
    return replace(lab, trials=(Trial("1", readings),))


def of_next(name: str, **given: object) -> object:
    it = following.next_trials(evidence(name), **{"labs": 120, "most": 3} | given)  # type: ignore[arg-type]
    return {
        "found": it,
        "fewest": [way.fewest for way in it.ways],
        "said": said.next_sentences(it),
        "table": said.next_table(it),
    }


NEXT: dict[str, Callable[[], object]] = {
    **{
        name: (lambda n=name: tried(of_next, n))
        for name in (
            "coarse",
            "coarse, two",
            "settled",
            "varied",
            "losses",
            "looks",
            "unplanned",
            "none fits",
            "one",
            "nothing",
            "gas",
            "acid",
            "plating",
        )
    },
    "target": lambda: of_next("coarse", target=0.5, larger_by=3.0, finer_g=0.05, seed=7),
    "many": lambda: of_next("coarse", most=9, target=0.999),
    "looks, many": lambda: of_next("looks", most=9),
}


def groups(*parts: tuple[str, int]) -> list[Groups]:
    return [Groups(PLANS[name], number) for name, number in parts]


def of_class(*parts: tuple[str, int], **given: object) -> object:
    return classes.class_characteristic(groups(*parts), **{"classes": 150, "seed": 2} | given)  # type: ignore[arg-type]


def differing() -> list[Groups]:
    """Return groups on a coarse and a fine balance."""
    coarse = replace(PLANS["two trials"], experiment=design.with_readability(SILVER, 0.1))
    return [Groups(PLANS["two trials"], 2), Groups(coarse, 5)]


CLASSES: dict[str, Callable[[], object]] = {
    "two": lambda: of_class(("coarse", 2)),
    "three": lambda: of_class(("one trial", 3)),
    "nine": lambda: of_class(("hopeless", 9)),
    "losses": lambda: of_class(("losses", 4)),
    "unknown": lambda: of_class(("varied, unknown", 3)),
    "between": lambda: classes.class_characteristic(
        [Groups(plan(BETWEEN, 0.003, 2), 4)], classes=150
    ),
    "gas": lambda: of_class(("gas", 4)),
    "acid": lambda: of_class(("acid", 4)),
    "plating": lambda: of_class(("plating", 3)),
    "two of a hydrate": lambda: classes.class_chances(
        groups(("hydrate", 2)), "MgSO4·7H2O", classes=100
    ),
    "varied, seen": lambda: classes.class_chances(
        [Groups(plan(SEEN, 0.0007, 2), 3)], "copper(I)", classes=100
    ),
    "two balances": lambda: classes.class_characteristic(differing(), classes=150),
    "nothing": lambda: classes.class_chances(groups(("coarse", 5)), NOTHING, classes=150),
    "recovered": lambda: classes.class_chances(
        groups(("losses", 5)), "copper(I)", recovered=0.7, classes=150
    ),
    "one group": lambda: tried(of_class, ("coarse", 1)),
    "different labs": lambda: tried(of_class, ("coarse", 2), ("gas", 2)),
    "different candidates": lambda: tried(of_class, ("coarse", 2), ("three candidates", 2)),
    "too many": lambda: tried(
        of_class, ("many trials", 60), ("coarse", 60), ("coarse", 60), classes=100
    ),
    "too few classes": lambda: tried(of_class, ("coarse", 2), classes=99),
    "no such candidate": lambda: tried(
        classes.class_chances, groups(("coarse", 2)), "gold", classes=100
    ),
    "variance": lambda: [
        made_class().variances(x, y) for x, y in ((1.0, 1.0), (2.0, 1.0), (0.0, 1.0))
    ],
    "pooled": lambda: pooled(),
    "weights": lambda: [
        classes._weights(np.array(v), np.array(n))
        for v, n in (
            ([1.0, 1.0], [1, 1]),
            ([1.0, 4.0], [2, 3]),
            ([1.0, 2.0], [2, 3]),
            ([1.0, 2.3], [2, 3]),
        )
    ],
}


def made_class() -> classes._Class:
    return classes._Class(differing(), "copper(II)", 1.0)


def pooled() -> object:
    rng = np.random.default_rng(5)
    estimates = rng.normal(0, 1, (8, 5)) * np.array([0.3, 1, 1, 3, 1])
    return classes.pooled(estimates, np.broadcast_to(np.array([0.5, 1, 2, 1, 0.7]), (8, 5)))


def of_room(parts: list[Groups]) -> object:
    it = room.room_plan(parts, classes=120)
    smallest = {
        aim: [
            tried(room.smallest_in_room, parts, aim=aim, target=t, classes=100) for t in (0.6, 0.95)
        ]
        for aim in AIMS
    }
    return {"plan": it, "smallest": smallest}


ROOMS: dict[str, Callable[[], object]] = {
    "one bench": lambda: of_room([Groups(PLANS["one trial"], 1)]),
    "four benches": lambda: of_room([Groups(PLANS["coarse"], 4)]),
    "two balances": lambda: of_room(differing()),
    "plating": lambda: room.room_plan([Groups(PLANS["plating"], 2)], classes=100),
    "prior": lambda: room.room_plan([Groups(PLANS["prior"], 3)], classes=100),
    "hopeless": lambda: room.room_plan([Groups(PLANS["hopeless"], 3)], classes=100),
    "no benches": lambda: tried(room.room_plan, []),
    "no benches, smallest": lambda: tried(room.smallest_in_room, []),
    "no such aim": lambda: tried(room.smallest_in_room, differing(), aim="some"),
    "shared out": lambda: {
        f"{benches} {[b.typed for b in Room(benches, kinds).balances]}": [
            Room(benches, kinds).shared_out(),
            [Room(benches, kinds).number_of(k) for k in Room(benches, kinds).balances],
        ]
        for benches in (1, 2, 3, 7, 12, 60)
        for kinds in (
            [0.1],
            [0.1, 0.01],
            [0.1, Balances(0.01, 2)],
            [Balances(0.1, 5), Balances(0.01, 2), Balances(0.001, 1)],
            [Balances(0.1, 60), Balances(0.01, 1)],
        )
    },
    "groups": lambda: [
        [
            (g.number, g.plan.experiment.instruments["balance"].readability_g)
            for g in room.groups_in(Room(n, [0.1, Balances(0.01, 2)]), PLANS["coarse"], kind)
        ]
        for n in (1, 12)
        for kind in (None, Balances(0.01, 2))
    ],
    "balances": lambda: [
        tried(Balances.of, text)
        for text in (
            "0.01: 2",
            "0,1",
            "0.01:",
            "0.01: x",
            "x",
            "0.01:0",
            "0.01:61",
            "200",
            "0.0000001",
            "1e-6:1",
        )
    ],
    "words": lambda: [
        [b.words, b.typed]
        for b in (Balances(0.01, 2), Balances(0.1), Balances(0.001, 1), Balances(100, 60))
    ],
    "rooms": lambda: [
        tried(Room, *given)
        for given in (
            (12, [0.1], 50, {"CuSO4·5H2O": 30}),
            (0, [0.1]),
            (61, [0.1]),
            (5, []),
            (5, [0.1, 0.1]),
            (5, [0.1], 0),
            (5, [0.1], None, {"Cu": -1}),
            (5, [0.1], None, {"xx": 1}),
        )
    ],
}


def of_telling(lab: Experiment, mol: float | None = None) -> object:
    it = telling.foretold(lab, mol)
    return {
        "steps": it.steps_g,
        "told": [it.told(s) for s in it.steps_g],
        "share": [it.share, it.coarsest_g, it.step_g],
        "plan": [it.plan.consumed_mol, it.plan.trials, it.plan.spread],
    }


TELLING: dict[str, Callable[[], object]] = {
    **{
        name: (lambda n=name: tried(of_telling, experiments.load(n)))
        for name in ("copper-silver", "copper-silver-coarse", "magnesium-gas")
    },
    "given": lambda: of_telling(SILVER, 0.0005),
    "coarse, much": lambda: of_telling(COARSE, 0.05),
    "coarse, little": lambda: of_telling(COARSE, 0.00005),
    "odd step": lambda: of_telling(
        SILVER.with_instrument("balance", Balance(readability_g=0.02)), 0.001
    ),
    "nothing reacted": lambda: tried(of_telling, made_labs.lab([(2.9, 2.9, 0.7, 0.7)])),
    "no trials": lambda: tried(of_telling, replace(SILVER, trials=())),
}

SMALL: dict[str, Callable[[], object]] = {
    "chances as text": lambda: [
        said.chance_text(p, t)
        for p in (
            0.0,
            0.0009,
            0.001,
            0.004,
            0.0099,
            0.01,
            0.4177,
            0.8973,
            0.8999,
            0.89999,
            0.9,
            0.99,
            0.991,
            0.999,
            0.9991,
            1.0,
        )
        for t in (0.0, 0.9)
    ],
    "steps as text": lambda: [
        said.step_text(s) for s in (1.0, 0.1, 0.02, 0.0001, 0.05, 0.025, 10.0)
    ],
    "three digits": lambda: [
        said.three_digits(v, up=up)
        for v in (0.06174, 0.0617, 250.0, 1234.5, 99.96, 0.000123456, 1.0)
        for up in (False, True)
    ],
    "two digits": lambda: [said._two(v) for v in (1.04, 1.05, 9.94, 9.95, 12.3)],
    "counts in words": lambda: [
        said._some(0),
        said._some(3),
        said._only(0),
        said._only(1),
        said._only(2),
        said._trials(1),
        said._trials(2),
    ],
    "first enough": lambda: [
        questions.first_enough([1.0, 2.0, 3.0, 5.0, 8.0, 9.0, 20.0], lambda place, n=n: place >= n)
        for n in range(9)
    ],
    "sizes": lambda: {
        name: [sizes[:3], len(sizes), sizes[-1], sizes[105]]
        for name in ("one trial", "fine", "plating", "acid")
        for sizes in (questions.sizes_of(PLANS[name]),)
    },
    "sizes in parts": lambda: questions.sizes_of(PLANS["one trial"], parts=10)[:120:7],
    "cost": lambda: [
        said.sample_cost_sentence(
            questions.smallest_amount(PLANS[a]), questions.smallest_amount(PLANS[b]), 0.001, 0.1
        )
        for a, b in (("fine", "coarse"), ("fine", "fine"), ("hopeless", "fine"))
    ],
    "refused plans": lambda: [
        tried(Plan, experiment=SILVER, **given)
        for given in (
            {"consumed_mol": 0.0},
            {"consumed_mol": -1.0},
            {"consumed_mol": 2e6},
            {"consumed_mol": 1.0, "trials": 0},
            {"consumed_mol": 1.0, "trials": 65},
            {"consumed_mol": 1.0, "spread": 0.95},
            {"consumed_mol": 1.0, "spread": -0.1},
            {"consumed_mol": "much"},
        )
    ],
    "refused questions": lambda: [
        tried(questions.smallest_amount, PLANS["one trial"], target=1.0),
        tried(questions.smallest_amount, PLANS["one trial"], target=0.04),
        tried(questions.fewest_trials, PLANS["one trial"], most=65),
        tried(questions.coarsest_balance, PLANS["one trial"], readabilities_g=[]),
        tried(questions.largest_recovery, PLANS["one trial"], side="none"),
        tried(plans.chances, PLANS["one trial"], "gold"),
        tried(plans.chances, PLANS["one trial"], "copper(I)", recovered=0.0),
        tried(plans.chances, PLANS["one trial"], "copper(I)", recovered=11.0),
        tried(simulation.simulate_labs, PLANS["one trial"], "copper(I)", labs=0),
        tried(simulation.simulate_labs, PLANS["one trial"], "copper(I)", labs=100_001),
        tried(simulation.simulate_labs, PLANS["one trial"], "copper(I)", seed=-1),
        tried(following.next_trials, evidence("coarse"), target=1.0),
        tried(following.next_trials, evidence("coarse"), most=33),
        tried(following.next_trials, evidence("coarse"), larger_by=1.0),
        tried(following.next_trials, evidence("coarse"), labs=99),
        tried(following.next_trials, evidence("coarse"), finer_g=0.0),
        tried(design.with_readability, SILVER, 0.0),
    ],
    "allowed ratios": lambda: [
        strips.allowed_ratios(r, rec)
        for r in (1.0, 1.5)
        for rec in ((1.0, 1.0), (0.8, 1.0), (0.5, 2.0), (0.99, 1.01))
    ],
    "answers by hand": lambda: by_hand(),
    "sentences by hand": lambda: [
        said.chances_sentence("X", outcomes.Chances(0.9, 0.01, 0.05, 0.03, 0.01)),
        said.chances_table([("X", outcomes.Chances(0.9, 0.01, 0.05, 0.03, 0.01))], 0.9),
        tried(said.chances_table, [("X", outcomes.Chances(0.9, 0.01, 0.05, 0.03, 0.01))], 1.1),
    ],
    "mixed": lambda: [
        outcomes.mixed(
            [
                outcomes.Chances(0.9, 0.01, 0.05, 0.03, 0.01, 100),
                outcomes.Chances(0.5, 0.1, 0.3, 0.1, 0.0, 300),
            ],
            w,
        )
        for w in (None, [0.25, 0.75])
    ],
    "chances from": lambda: [outcomes.chances_from([0.2, 0.3, 0.1, 0.3, 0.1], labs=50)],
    "evenly": lambda: [outcomes._evenly(n) for n in (1, 2, 5)],
    "meanings": lambda: meanings(),
}


def by_hand() -> object:
    """Return what is said of answers that no lab here gives."""
    answer = questions.fewest_trials(PLANS["four trials"])
    recovery = questions.largest_recovery(PLANS["one trial"], target=0.8)
    none = replace(answer, value=float("nan"), short=None)
    made = {
        "trials, shared": replace(none, shared_share=0.5),
        "trials, noise": replace(none, shared_share=0.49),
        "trials, one": replace(answer, value=2.0),
        "trials, one alone": replace(answer, value=1.0, short=None),
        "beyond coverage": replace(none, target=0.96, shared_share=0.7),
        "recovery in the way": replace(none, limiting="recovery allowance", shared_share=1.0),
        "no source": replace(none, limiting="", shared_share=0.9, limiting_share=0.9949),
        "all of one": replace(
            none, limiting="the balance", shared_share=0.9, limiting_share=0.9951
        ),
        "amount": replace(none, question="amount", unit="g"),
        "electrons": replace(none, question="amount", unit="mol"),
        "balance": replace(none, question="balance", unit="g"),
        "balance found": replace(answer, question="balance", value=0.01, unit="g"),
        "balance alone": replace(answer, question="balance", value=0.01, unit="g", short=None),
        "recovery": replace(none, question="recovery", unit=""),
        "recovery, nothing": replace(answer, question="recovery", unit="", value=0.0),
        "recovery, some": recovery,
        "recovery, most": replace(recovery, short=None),
    }
    return {name: said.answer_sentences(one) for name, one in made.items()}


def meanings() -> object:
    labs = simulated("one trial")
    found = {}
    for counts in (
        (90, 1, 5, 4, 0),
        (89, 2, 5, 4, 0),
        (50, 0, 45, 5, 0),
        (49, 0, 50, 1, 0),
        (1, 0, 98, 1, 0),
        (0, 3, 97, 0, 0),
        (49, 30, 20, 1, 0),
        (40, 0, 10, 45, 5),
        (0, 0, 100, 0, 0),
        (20, 20, 30, 30, 0),
        (98, 0, 0, 2, 0),
    ):
        verdicts = _Counted(counts)
        for truth in ("copper(II)", NOTHING):
            found[f"{counts} {truth}"] = said.meaning_sentence(
                replace(labs, truth=truth, verdicts=verdicts)
            )
    return found


class _Counted:
    """Verdicts of which only the counts are asked."""

    def __init__(self, counts: tuple[int, ...]) -> None:
        self.given = counts

    def counts(self, _: int) -> list[int]:
        return list(self.given)


ASKED = ("one trial", "four trials", "coarse", "losses", "plating", "gas", "hopeless", "looks")
CASES = cases(
    plan=by_name(of_plan, PLANS),
    within=by_name(within, PLANS),
    questions=by_name(of_questions, ASKED)
    | {"coarse, 0.6": lambda: of_questions("coarse", (0.6,))},
    recovery={
        f"{name}, {side}": (lambda n=name, s=side: of_recovery(n, s))
        for name, side in (
            ("fine, large", "both"),
            ("one trial", "losses"),
            ("two trials", "gains"),
            ("hopeless", "both"),
        )
    },
    labs=by_name(of_labs, PLANS),
    map=MAPS,
    next=NEXT,
    classes=CLASSES,
    room=ROOMS,
    telling=TELLING,
    small=SMALL,
)

test_answers, test_nothing_else = RECORD.tests(CASES)
