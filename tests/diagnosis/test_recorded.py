"""What a diagnosis answers, recorded: says when an answer changes, not that it is right.

That it is right is for the other tests here, by hand and against tables. The cases go through
every branch: odd labs, slips of every kind, refusals. How to write the record anew:
``tests/recorded.py``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from stoichkit import experiments
from stoichkit.chemistry.candidates import oxidation_states
from stoichkit.decision.evidence import CandidateEvidence, Evidence
from stoichkit.diagnosis import (
    causes,
    constant_mass,
    effects,
    line,
    sentences,
    slips,
    stability,
)
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Balance
from tests.labs import lab
from tests.odd_labs import ODD, evidence_of, experiment_of
from tests.recorded import Record, by_name, cases, each, tried

RECORD = Record(
    __file__,
    brief=(Experiment, Evidence, CandidateEvidence, effects.Effect, stability.Couple),
    leave=("experiment", "evidence"),
)


def of_line(name: str) -> object:
    evidence, lab = evidence_of(name), experiment_of(name)
    found = slips.find_slips(lab)
    return {
        "line": line.diagnose(evidence),
        "without slips": line.diagnose(evidence, slips=()).sentence,
        "slips": found,
        "said": [sentences.slip_sentence(one, trials=n) for one in found[:6] for n in (1, 3)],
        "corrected": [tried(fixed, lab, one) for one in found[:2]],
        "in each": [
            slips.slip_in(lab, trial, one) for one in found[:1] for trial in lab.trials[:3]
        ],
        "none": [sentences.no_slip_sentence(evidence.verdict, beside=b) for b in ("", "Beside.")],
    }


def fixed(lab: Experiment, slip: slips.Slip) -> object:
    return [t.readings for t in slips.corrected(lab, slip).trials[:2]]


def of_suspects(name: str) -> object:
    lab = experiment_of(name)
    return {
        "off the grid": list(slips.off_grid(lab)),
        "suspects": [
            f"{one.kind.name} {dict(one.changes)} {one.rule}"
            for trial in lab.trials[:1]
            for one in slips.suspects(lab, trial)
        ],
        "shared": [
            f"{one.kind.name} {dict(one.changes)} {one.rule}" for one in slips.shared_suspects(lab)
        ],
    }


def of_causes(name: str) -> object:
    evidence = evidence_of(name)
    found = {}
    for candidate in list(evidence.candidates)[:2]:
        some = tried(causes.causes_for, evidence, candidate)
        if isinstance(some, str):
            found[candidate] = some
            continue
        found[candidate] = {
            "causes": some,
            "turns": [[c.kind, c.turn, c.explains, *c.possible_range] for c in some],
            "said": [sentences.cause_sentence(c) for c in some],
            "check": [sentences.check_sentence(c) for c in some],
            "paragraph": sentences.causes_paragraph(some),
            "table": sentences.effects_table(some).rows,
        }
    return found


def of_pairs(name: str, candidate: str, keys: tuple[str, str], residue: str = "") -> object:
    evidence = evidence_of(name)
    one, other = (effects.effect_named(evidence.experiment, key, residue=residue) for key in keys)
    it = causes.combine(evidence, candidate, one, other)
    grid = [(a, b) for a in (0.0, 0.03, 0.2, -0.1) for b in (0.0, 0.05, 0.3)]
    return {
        "pair": it,
        "compatible": [it.compatible(*p) for p in grid],
        "possible": [it.possible(*p) for p in grid],
        "said": sentences.combination_sentence(it),
    }


PAIRS: dict[str, Callable[[], object]] = {
    "water and loss": lambda: of_pairs(
        "copper-silver", "copper(I)", ("wet product", "lost product")
    ),
    "loss and water": lambda: of_pairs(
        "copper-silver", "copper(II)", ("lost product", "wet product")
    ),
    "water and salt": lambda: of_pairs(
        "none fits", "copper(II)", ("wet product", "residue salt"), "AgNO3"
    ),
    "wet": lambda: of_pairs("wet", "copper(II)", ("wet product", "damp metal")),
    "lossy": lambda: of_pairs("lossy", "copper(II)", ("lost product", "metal in product")),
    "tin": lambda: of_pairs("tin-oxide", "SnO", ("unfinished oxidation", "wet oxide")),
    "hydrate": lambda: of_pairs("hydrate-heating", "MgSO4·6H2O", ("water left", "spitting")),
    "gas": lambda: of_pairs("magnesium-gas", "magnesium(I)", ("gas lost", "air in tube")),
    "same": lambda: tried(of_pairs, "copper-silver", "copper(I)", ("wet product", "wet product")),
    "no such effect": lambda: tried(of_pairs, "tin-oxide", "SnO", ("gas lost", "spitting")),
    "no such candidate": lambda: tried(
        of_pairs, "copper-silver", "gold", ("wet product", "lost product")
    ),
    "recovery": lambda: tried(of_pairs, "recovery", "copper(I)", ("wet product", "lost product")),
    "no salt": lambda: tried(
        of_pairs, "copper-silver", "copper(I)", ("wet product", "residue salt"), "xx"
    ),
}


def of_effects(name: str) -> object:
    lab = experiments.load(name)
    found = effects.effects_for(lab, residue="AgNO3")
    return {
        "situation": sorted(effects.situation(lab)),
        "effects": [
            [e.key, e.name, e.substance, e.unit, e.mechanism, e.check, e.most_reading]
            for e in found
        ],
        "actions": [e.actions for e in found],
        "moved": [effects.moved_amounts(lab, e) for e in found],
    }


FINE = Balance(readability_g=0.001, repeatability_g=0.0005)
WEIGHINGS: dict[str, list[tuple[float, str]]] = {
    "levelling": [(0, "1.848"), (5, "1.672"), (10, "1.565"), (15, "1.500")],
    "done": [(0, "1.848"), (10, "1.502"), (20, "1.500"), (30, "1.500")],
    "two": [(0, "1.848"), (10, "1.502")],
    "two alike": [(0, "1.500"), (10, "1.500")],
    "two near": [(0, "1.501"), (10, "1.500")],
    "three": [(0, "1.9"), (10, "1.6"), (20, "1.5")],
    "straight": [(0, "2.000"), (10, "1.900"), (20, "1.800"), (30, "1.700")],
    "slow": [(0, "2.000"), (10, "1.990"), (20, "1.981"), (30, "1.972")],
    "rising": [(0, "1.500"), (10, "1.510"), (20, "1.530")],
    "a stray": [(0, "1.848"), (5, "1.400"), (10, "1.565"), (15, "1.500")],
    "uneven times": [(0, "1.848"), (3, "1.730"), (20, "1.470"), (60, "1.452")],
    "one": [(0, "1.5")],
    "backwards": [(10, "1.6"), (0, "1.5"), (20, "1.4")],
    "not a number": [(0, "1.6"), (10, "x"), (20, "1.4")],
    "many": [(float(i), f"{1.4 + 0.4 * 0.8**i:.3f}") for i in range(12)],
}


def of_drying(name: str, step: Balance) -> object:
    it = tried(constant_mass.drying, WEIGHINGS[name], step)
    return it if isinstance(it, str) else {"drying": it, "said": sentences.drying_sentence(it)}


METALS: dict[str, tuple[str, list[int], str]] = {
    "iron": ("Fe", [2, 3], "Cu"), "copper": ("Cu", [1, 2], "Ag"), "tin": ("Sn", [2, 4], "Cu"),
    "zinc": ("Zn", [1, 2], "Cu"), "lead": ("Pb", [2, 4], "Ag"), "aluminium": ("Al", [1, 3], "Cu"),
    "nickel": ("Ni", [2, 3], "Ag"), "silver": ("Ag", [1, 2], "Cu"),
    "chromium": ("Cr", [2, 3], "Sn"),
}  # fmt: skip


def of_redox(lab: Experiment) -> object:
    found = stability.redox_findings(lab)
    return {
        "findings": found,
        "said": [sentences.redox_sentence(f) for f in found],
        "together": sentences.redox_sentences(found),
        "ions": [stability.ion_formed(c) for c in lab.candidates[:4]],
        "metals": stability.metals_present(lab),
        "tests": [sentences.spot_test_sentence(n, t) for n, t in stability.suggested_tests(lab)],
    }  # fmt: skip


def beside(metal: str, states: list[int], made: str) -> Experiment:
    ready = lab([(3.0, 2.5, 2.0, 2.6)])
    return replace(
        ready,
        consumed=replace(ready.consumed, species=metal),
        produced=replace(ready.produced, species=made),
        candidate_spec=None,
        candidates=oxidation_states(
            metal, states, displaced=f"{made}^+" if made == "Ag" else f"{made}^2+"
        ),
    )


def typed_so(kind: str) -> Experiment:
    """Return a lab with a reading of nothing, or with a temperature in kelvin."""
    if kind == "nothing":
        return lab([(2.94, 2.84, 0.0, 0.4), (2.94, 2.84, 0.7, 0.0)])
    ready = experiments.load("magnesium-gas")
    return ready.with_reading("", "room temperature", ["294.6"])


def of_typed(kind: str) -> object:
    made = typed_so(kind)
    return [
        [f"{one.kind.name} {dict(one.changes)} {one.rule}" for one in slips.suspects(made, trial)]
        for trial in made.trials[:2]
    ] + [[f"{one.kind.name} {dict(one.changes)} {one.rule}" for one in slips.shared_suspects(made)]]


BURNT = experiments.unweighed("Mg", candidates=["MgO", "MgO2"])
SMALL: dict[str, Callable[[], object]] = {
    "couples": lambda: [
        [c.oxidised, c.reduced, c.electrons, c.potential_V] for c in stability.couples()
    ],
    "couple": lambda: [
        tried(stability.couple, *p)
        for p in (("Cu^2+", "Cu"), ("Cu^3+", "Cu"), ("Fe^3+", "Fe^2+"), ("Fe^3+", "Fe"))
    ],
    "combined": lambda: [
        tried(stability.combined_potential_V, p) for p in ([(0.77, 1), (-0.44, 2)], [], [(1.0, 0)])
    ],
    "cells": lambda: [
        tried(stability.cell, stability.couple(*a), stability.couple(*b))
        for a, b in (
            (("Cu^2+", "Cu"), ("Zn^2+", "Zn")),
            (("Zn^2+", "Zn"), ("Cu^2+", "Cu")),
            (("Cu^2+", "Cu"), ("Cu^2+", "Cu")),
        )
    ],
    "at": lambda: [
        stability.cell(
            stability.couple("Cu^2+", "Cu"), stability.couple("Zn^2+", "Zn")
        ).potential_at_V(q)
        for q in (1.0, 100.0, 1e-4)
    ],
    "not at": lambda: [
        tried(
            stability.cell(
                stability.couple("Cu^2+", "Cu"), stability.couple("Zn^2+", "Zn")
            ).potential_at_V,
            q,
        )
        for q in (0.0, -1.0)
    ],
    "spots": lambda: each(
        stability.spot_tests, ["Fe^3+", "Fe^2+", "Cu^2+", "Ag^+", "Na^+", "Zn^2+"]
    ),
    "effects": lambda: [[e.key, e.applies_to, e.actions] for e in effects.catalogue()],
    "shown": lambda: [
        slips.shown(slips.Decimal(v), s)
        for v, s in (
            ("1.23", 0.01),
            ("1.235", 0.01),
            ("1.24", 0.02),
            ("1.23", 0.02),
            ("5", 0.1),
            ("1e13", 1.0),
        )
    ],
    "level": lambda: [
        tried(slips.find_slips, experiment_of("transposed"), level=v) for v in (0.0, 0.5, -0.1)
    ],
    "levels": lambda: [
        [s.kind.name for s in slips.find_slips(experiment_of("outlying"), level=v)]
        for v in (1e-6, 0.01, 0.4)
    ],
    "typed as nothing": lambda: of_typed("nothing"),
    "typed in kelvin": lambda: of_typed("kelvin"),
    "in kelvin": lambda: slips.find_slips(typed_so("kelvin")),
    "burnt": lambda: [
        sorted(effects.situation(BURNT)),
        [e.key for e in effects.effects_for(BURNT)],
    ],
    "no effect": lambda: tried(effects.effect_named, experiments.load("tin-oxide"), "nothing"),
    "no candidate": lambda: tried(causes.causes_for, evidence_of("copper-silver"), "gold"),
    "residue": lambda: [
        tried(causes.causes_for, evidence_of("copper-silver"), "copper(II)", residue=r)
        for r in ("AgNO3", "NaCl", "(")
    ],
    "steps": lambda: [
        sentences._in_steps(v, s)
        for v, s in ((0.0049, 0.001), (0.00015, 0.01), (0.0, 0.1), (0.1, 0.1), (1.23, 0.1))
    ],
}

CASES = cases(
    line=by_name(of_line, ODD),
    suspects=by_name(
        of_suspects,
        (
            "transposed",
            "off the grid",
            "hydrate-heating",
            "magnesium-gas",
            "acid-titration",
            "copper-plating",
            "tin-oxide",
            "one vessel",
        ),
    ),
    causes=by_name(
        of_causes,
        (
            "copper-silver",
            "copper-silver-coarse",
            "none fits",
            "wet",
            "lossy",
            "doubted",
            "recovery",
            "reversed",
            "drifting",
            "nothing read",
            "tin-oxide",
            "hydrate-heating",
            "magnesium-gas",
            "acid-titration",
            "copper-plating",
        ),
    ),
    pair=PAIRS,
    effects=by_name(of_effects, experiments.names()),
    drying={n: (lambda n=n: of_drying(n, FINE)) for n in WEIGHINGS}
    | {
        f"{n}, coarse": (lambda n=n: of_drying(n, Balance(readability_g=0.01)))
        for n in ("levelling", "two near", "one")
    },
    redox={
        **{n: (lambda a=a: of_redox(beside(*a))) for n, a in METALS.items()},
        **{n: (lambda n=n: of_redox(experiments.load(n))) for n in experiments.names()},
    },
    small=SMALL,
)

test_answers, test_nothing_else = RECORD.tests(CASES)
