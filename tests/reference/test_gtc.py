"""First-order propagation and budgets against the GUM Tree Calculator (package GTC).

GTC is the uncertainty library of a national standards laboratory. Each model is written twice,
once with this package's sources and once with GTC's, sharing the same sources between the two
amounts; estimates, standard uncertainties, correlation and every line of the budget must agree.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import GTC
import pytest
from digits import matching_digits
from uncertainties import correlation_matrix, umath

from stoichkit.chemistry.elements import atomic_weight, molar_mass
from stoichkit.uncertainty.sources import (
    Number,
    Shape,
    budget,
    contributions,
    nominal,
    standard_uncertainty,
    uncertain_value,
)

DIGITS = 12


@dataclass
class Both:
    """Makes the same input for both libraries, under one label."""

    here: dict[str, Number] = field(default_factory=dict)
    there: dict[str, Any] = field(default_factory=dict)

    def add(self, label: str, value: float, shape: Shape, scale: float) -> None:
        make = {
            Shape.NORMAL: lambda: scale,
            Shape.RECTANGULAR: lambda: GTC.type_b.uniform(scale),
            Shape.TRIANGULAR: lambda: GTC.type_b.triangular(scale),
            Shape.ARCSINE: lambda: GTC.type_b.arcsine(scale),
        }
        self.here[label] = uncertain_value(value, label, kind="other", shape=shape, scale=scale)
        self.there[label] = GTC.ureal(value, make[shape](), label=label)

    def add_atomic_weights(self, *symbols: str) -> None:
        for symbol in symbols:
            weight = atomic_weight(symbol)
            ((source, _),) = contributions(weight)
            u = GTC.type_b.uniform(source.scale)
            self.there[symbol] = GTC.ureal(nominal(weight), u, label=source.label)


def assert_same(found: Number, expected: Any) -> None:
    """Assert that estimate, standard uncertainty and every line of the budget agree."""
    assert matching_digits(nominal(found), GTC.value(expected)) > DIGITS
    assert matching_digits(standard_uncertainty(found), GTC.uncertainty(expected)) > DIGITS
    mine = {line.label: line.uncertainty for line in budget(found)}
    theirs = {line.label: line.u for line in GTC.reporting.budget(expected, trim=0)}
    assert len(theirs) > 3
    total = GTC.uncertainty(expected)
    for label in mine.keys() | theirs.keys():  # a source that cancels may be left out by either
        assert abs(mine.get(label, 0.0) - theirs.get(label, 0.0)) < 1e-12 * total, label
    assert list(mine.values()) == sorted(mine.values(), reverse=True)
    assert math.fsum(line.share for line in budget(found)) == pytest.approx(1.0, abs=1e-12)


def assert_same_pair(found: tuple[Number, Number], expected: tuple[Any, Any]) -> None:
    for mine, theirs in zip(found, expected, strict=True):
        assert_same(mine, theirs)
    r = correlation_matrix(found)[0][1]
    assert r == pytest.approx(GTC.get_correlation(*expected), abs=1e-11)
    assert abs(r) > 1e-6  # the two amounts do share sources
    for ratio in (0.5, 2.0, 5.0):
        assert_same(found[1] - ratio * found[0], expected[1] - ratio * expected[0])
    assert_same(found[1] / found[0], expected[1] / expected[0])


def test_hydrate_with_a_shared_weighing() -> None:
    """Water driven off and dry salt share the residue's weighing and the atomic weight of O."""
    both = Both()
    for label, grams in (("empty", 24.3302), ("hydrate", 26.1171), ("residue", 25.4721)):
        both.add(f"{label}, rounding", grams, Shape.RECTANGULAR, 0.00005)
        both.add(f"{label}, repeatability", 0.0, Shape.NORMAL, 0.0002)
    both.add("calibration", 1.0, Shape.RECTANGULAR, 1e-5)
    both.add_atomic_weights("Cu", "S", "O", "H")

    def amounts(x: dict[str, Any], salt: Any, water: Any) -> tuple[Any, Any]:
        def mass(label: str) -> Any:
            return (x[f"{label}, rounding"] + x[f"{label}, repeatability"]) * x["calibration"]

        residue = mass("residue")
        return (residue - mass("empty")) / salt, (mass("hydrate") - residue) / water

    t = both.there
    salt, water = t["Cu"] + t["S"] + 4 * t["O"], 2 * t["H"] + t["O"]
    assert_same_pair(
        amounts(both.here, molar_mass("CuSO4"), molar_mass("H2O")), amounts(t, salt, water)
    )


def test_titration_with_a_shared_pipette_and_standard() -> None:
    """A carbonate: hydrogen ion used and carbon dioxide bound share solution and glassware."""
    both = Both()
    both.add("mass of standard, g", 1.3249, Shape.NORMAL, 0.0003)
    both.add("purity", 0.9995, Shape.RECTANGULAR, 0.0005)
    both.add("flask, mL", 250.0, Shape.TRIANGULAR, 0.15)
    both.add("pipette, mL", 25.0, Shape.TRIANGULAR, 0.03)
    both.add("burette, mL", 24.87, Shape.TRIANGULAR, 0.05)
    both.add("end point, mL", 0.0, Shape.NORMAL, 0.03)
    both.add("expansion", 0.0, Shape.RECTANGULAR, 3.0 * 2.1e-4)
    both.add_atomic_weights("Na", "C", "O")

    def amounts(x: dict[str, Any], carbonate: Any) -> tuple[Any, Any]:
        flask = x["flask, mL"] * (1 + x["expansion"])
        taken = x["mass of standard, g"] * x["purity"] / carbonate * x["pipette, mL"] / flask
        acid_mol_per_mL = 0.1003e-3
        delivered = (x["burette, mL"] + x["end point, mL"]) * (1 + x["expansion"])
        return taken, acid_mol_per_mL * delivered * x["purity"]

    t = both.there
    assert_same_pair(
        amounts(both.here, molar_mass("Na2CO3")),
        amounts(t, 2 * t["Na"] + t["C"] + 3 * t["O"]),
    )


def test_gas_over_water_with_a_shared_thermometer() -> None:
    """Two gas volumes at one temperature, which enters the gas law and the vapour pressure."""
    both = Both()
    both.add("V1, mL", 48.2, Shape.RECTANGULAR, 0.05)
    both.add("V2, mL", 71.6, Shape.RECTANGULAR, 0.05)
    both.add("tube, mL", 0.0, Shape.TRIANGULAR, 0.4)
    both.add("t, °C", 21.0, Shape.RECTANGULAR, 0.25)
    both.add("swing of t, °C", 0.0, Shape.ARCSINE, 0.3)
    both.add("p, kPa", 100.9, Shape.NORMAL, 0.1)

    def amounts(x: dict[str, Any], exp: Any) -> tuple[Any, Any]:
        t = x["t, °C"] + x["swing of t, °C"]
        vapour = 0.61094 * exp(17.625 * t / (t + 243.04))
        per_mL = (x["p, kPa"] - vapour) * 1e-3 / (8.31446261815324 * (t + 273.15))
        return per_mL * (x["V1, mL"] + x["tube, mL"]), per_mL * (x["V2, mL"] + x["tube, mL"])

    assert_same_pair(amounts(both.here, umath.exp), amounts(both.there, GTC.exp))
