"""Mole ratio from four weighings and two atomic weights, with uncertainty: per group.

Peers: uncertainties, metrolopy and GTC (group by group), auto-uncertainties (arrays; it takes every
operand as independent, so it is right only where no reading is used twice, as here).
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from uncertainties import ufloat

from stoichkit.chemistry.elements import molar_mass
from stoichkit.decision.arrays import weighed_ratios
from stoichkit.measurement.displays import Balance
from stoichkit.uncertainty.sources import nominal, standard_uncertainty
from tests.labs import weighed

from .measure import Row, best, missing, peer, show

BALANCE = Balance(readability_g=0.01, repeatability_g=0.005)
U_G = math.hypot(0.01 / math.sqrt(12), 0.005)
MOLAR = [(nominal(molar_mass(s)), standard_uncertainty(molar_mass(s))) for s in ("Cu", "Ag")]
GROUPS = 100_000


def tables(groups: int) -> list[np.ndarray]:
    """Return invented readings in g."""
    rng = np.random.default_rng(1)
    return weighed(rng, rng.uniform(0.05, 0.6, groups), 2.0, 0.01, 0.5, (groups,))


def ours(readings: list[np.ndarray]) -> Any:
    """Ratios, uncertainties and all six signed contributions."""
    return weighed_ratios(*readings, consumed="Cu", produced="Ag", balance=BALANCE)


def one_by_one(readings: list[np.ndarray], make: Any, u_of: Any) -> list[tuple[float, float]]:
    """The same by a library of uncertain numbers; the molar masses are shared."""
    copper, silver = (make(*m) for m in MOLAR)
    found = []
    for row in zip(*(t.tolist() for t in readings), strict=True):
        before, after, tare, gross = (make(x, U_G) for x in row)
        ratio = ((gross - tare) / silver) / ((before - after) / copper)
        found.append(u_of(ratio))
    return found


def _peers() -> dict[str, Any]:
    found: dict[str, Any] = {"uncertainties": (ufloat, lambda r: (r.nominal_value, r.std_dev))}
    if metrolopy := peer("metrolopy"):
        found["metrolopy"] = (metrolopy.ummy, lambda r: (r.x, r.u))
    if gtc := peer("GTC"):
        found["GTC"] = (gtc.ureal, lambda r: (gtc.value(r), gtc.uncertainty(r)))
    return found


def _agree(readings: list[np.ndarray], values: Any, errors: Any) -> None:
    mine = ours(readings)
    np.testing.assert_allclose(mine.ratio, values, rtol=1e-9)
    np.testing.assert_allclose(mine.standard_uncertainty, errors, rtol=1e-9)


def rows() -> list[Row]:
    """Measure; every peer's numbers are first compared with ours to 1e-9."""
    out = []
    peers = _peers()
    some, many, single = tables(1000), tables(GROUPS), tables(1)
    for name in ("uncertainties", "metrolopy", "GTC"):
        if name not in peers:
            out.append(missing(f"array of {GROUPS:,} groups, with budget", name))
            continue
        _agree(some, *np.array(one_by_one(some, *peers[name])).T)
        mine, theirs = best(
            lambda: ours(many), lambda n=name: one_by_one(some, *peers[n]), repeats=7
        )
        target = 1000.0 if name == "uncertainties" else math.nan
        label = f"array of {GROUPS:,} groups, with budget; us a group"
        out.append(Row(label, name, mine / GROUPS * 1e6, theirs / 1000 * 1e6, target))
    mine, theirs = best(
        lambda: ours(some), lambda: one_by_one(some, *peers["uncertainties"]), inner=10
    )
    out.append(
        Row("array of 1,000 groups; us a group", "uncertainties", mine * 1e3, theirs * 1e3, 500)
    )
    mine, theirs = best(
        lambda: ours(single), lambda: one_by_one(single, *peers["uncertainties"]), inner=200
    )
    out.append(
        Row("one group as an array of one", "uncertainties", mine * 1e6, theirs * 1e6, math.nan)
    )
    out.append(_auto(many))
    return out


def _auto(many: list[np.ndarray]) -> Row:
    label = f"array of {GROUPS:,} groups, with budget; us a group"
    auto = peer("auto_uncertainties")
    if auto is None:
        return missing(label, "auto-uncertainties")
    make = auto.Uncertainty
    errors = np.full(GROUPS, U_G)

    def theirs() -> Any:
        copper, silver = (make(*m) for m in MOLAR)
        before, after, tare, gross = (make(t, errors) for t in many)
        return ((gross - tare) / silver) / ((before - after) / copper)

    found = theirs()
    _agree(many, found.value, found.error)
    mine, other = best(lambda: ours(many), theirs, repeats=11)
    return Row(label, "auto-uncertainties", mine / GROUPS * 1e6, other / GROUPS * 1e6, 2)


def shared_reading() -> str:
    """Show what a shared element does: copper in the metal and in the oxide."""
    given = [[1.0], [0.6], [10.0], [10.5]]
    found = weighed_ratios(*given, consumed="Cu", produced="CuO", balance=BALANCE)
    i = found.sources.index("atomic weight of Cu")
    alone = (
        found.ratio[0] * MOLAR[0][1] * math.hypot(1 / MOLAR[0][0], 1 / nominal(molar_mass("CuO")))
    )
    return (
        f"Copper in Cu and CuO: its weight adds {abs(found.contributions[i, 0]):.3g} to the ratio; "
        f"taken as two independent errors it would be {alone:.3g}."
    )


def main() -> str:
    return show("Propagation with an uncertainty budget", rows()) + "\n" + shared_reading() + "\n"


if __name__ == "__main__":
    print(main())
