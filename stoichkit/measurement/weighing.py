"""Amounts from weighing: mass by difference, precipitate, and the check for constant mass."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import ClassVar

from .._common import nearest
from ..chemistry.elements import molar_mass, molar_mass_value
from ..chemistry.formula import parse_formula
from ..errors import ExperimentError, ModelError
from ..uncertainty import entry
from ..uncertainty.readings import ErrorPool, Reading
from ..uncertainty.sources import Number
from .base import (
    PRACTICE,
    AmountModel,
    Care,
    Instrument,
    Portion,
    Role,
    Setting,
    Span,
    Step,
    amount_step,
    check_factor,
    check_pair,
    check_purity,
    check_text,
    difference,
    get,
    purity_factor,
    show,
    span_roles,
    times,
)
from .buoyancy import (
    AIR_G_PER_CM3,
    AIR_HALF_WIDTH_G_PER_CM3,
    NOTHING,
    WEIGHTS_G_PER_CM3,
    air_correction,
    checked_density,
    unknown_factors,
)

_MOST_MASSES = 20
_REPEATED = "Only a reading of this amount can be repeated."
_AVERAGED = "Only a reading of this amount can be averaged."
_SAME = "Only a vessel of this amount can be the same in every trial."


def _mass_steps(
    what: str, formula: str, mass: Number, density: float | None, pool: ErrorPool
) -> tuple[Step, ...]:
    """Return the steps to a mass, the last one; corrected for air if the density is known."""
    if density is None:
        return (Step(f"m({what})", f"mass of {what}", formula, mass, "g"),)
    factor = air_correction(density, pool)
    return (
        Step(f"W({what})", f"mass in air of {what}", formula, mass, "g"),
        Step(f"k({what})", f"buoyancy of air at {show(density)} g/cm³", "", factor, ""),
        Step(f"m({what})", f"mass of {what}", f"W({what}) × k({what})", mass * factor, "g"),
    )


def _mass_to_amount(
    model: MassByDifference | SumOfMasses, mass: tuple[Step, ...], pool: ErrorPool
) -> tuple[Step, ...]:
    """Return the steps from the mass, the last of those given, to the amount of a species."""
    s = model.species
    steps = [*mass]
    product, formula = steps[-1].value, f"m({s})"
    if (model.purity, model.purity_half_width) != (1, 0):
        purity = purity_factor(pool, model, s, model.purity, model.purity_half_width)
        steps.append(Step(f"w({s})", f"mass fraction of {s}", "", purity, ""))
        product, formula = product * purity, f"{formula} × w({s})"
    molar = molar_mass(s)
    steps.append(Step(f"M({s})", f"molar mass of {s}", "", molar, "g/mol"))
    steps.append(amount_step(s, f"{formula} / M({s})", product / molar))
    return tuple(steps)


def _air_remark(substance: str, density: float | None) -> tuple[str, ...]:
    """Say what corrects a mass for air, if its density is known."""
    if density is None:
        return ()
    return (
        f"The mass of {parse_formula(substance).unicode()} is corrected for the buoyancy of air of "
        f"{show(1000 * AIR_G_PER_CM3)} ± {show(1000 * AIR_HALF_WIDTH_G_PER_CM3)} kg/m³ at the "
        f"stated density of {show(density)} g/cm³, with weights of {WEIGHTS_G_PER_CM3:.1f} g/cm³.",
    )


def check_names(field: str, given: object, known: Sequence[str], problem: str) -> None:
    """Raise ExperimentError unless a field is a tuple of known names of readings."""
    unknown = [n for n in given if n not in known] if isinstance(given, tuple) else [given]
    if unknown:
        raise ExperimentError(
            problem,
            field=field,
            given=", ".join(map(str, given)) if isinstance(given, tuple) else given,
            allowed=", ".join(known),
            fix=nearest(unknown[0], known) if isinstance(given, tuple) else None,
        )
    if isinstance(given, tuple) and len({*given}) < len(given):
        raise ExperimentError(
            "A reading is named twice.", field=field, given=", ".join(given),
            allowed=", ".join(known), fix="Name it once.",
        )  # fmt: skip


def check_averaged(model: Weighed | SumOfMasses, known: Sequence[str]) -> None:
    """Raise ExperimentError unless the readings averaged are of this amount, none of them dried."""
    check_names("repeated", model.repeated, known, _REPEATED)
    check_names("averaged", model.averaged, known, _AVERAGED)
    refuse_both(tuple(name for name in model.averaged if name in model.repeated), "averaged")


def refuse_both(names: Sequence[str], field: str) -> None:
    """Raise ExperimentError if any readings are both repeated to constant mass and averaged."""
    if names:
        raise ExperimentError(
            "A weighing is either repeated to constant mass, so that the last counts, or repeated "
            "on one thing, so that the mean counts.",
            field=field,
            given=", ".join(names),
            allowed="a reading in “repeated” or in “averaged”, not in both",
            fix="Take it out of “averaged” if anything was heated or dried in between.",
        )


def _on_the_vessel(same_vessel: Sequence[str]) -> tuple[str, ...]:
    """Say which vessel is the same in every trial, if one is."""
    if not same_vessel:
        return ()
    return (
        f"The vessel of {_quoted(same_vessel)} is the same thing in every trial of a group: what "
        "the display cannot show of its mass is one unknown, and more trials do not average it "
        "out.",
    )


def _on_the_mean(averaged: Sequence[str]) -> tuple[str, ...]:
    """Say what the mean of repeated weighings takes for granted, if there is one."""
    if not averaged:
        return ()
    return (
        f"Of the weighings of {_quoted(averaged)} in a trial the mean counts: the scatter of the "
        "balance averages out, what its display cannot show does not.",
    )


def _weigh_again(averaged: Sequence[str]) -> tuple[str, ...]:
    """Say how weighings are repeated of which the mean counts."""
    if not averaged:
        return ()
    return (
        f"{_quoted(averaged)}: between two weighings take it off and set the balance to zero, or "
        f"nothing but the first reading is seen again ({PRACTICE}).",
    )


def _quoted(names: Sequence[str]) -> str:
    return " and ".join(f"“{name}”" for name in names)


class Weighed(AmountModel):
    """What the ways share in which a solid is weighed: two weighings, or one if tared.

    Two weighings share the vessel that stays on the pan.
    """

    __slots__ = ()
    weighed: ClassVar[bool] = True
    is_linear: ClassVar[bool] = True

    heavier: str
    lighter: str
    instrument: str
    vessel: str | None
    repeated: tuple[str, ...]
    averaged: tuple[str, ...]
    same_vessel: tuple[str, ...]
    density_g_per_cm3: float | None

    def _check_weighings(self, *texts: str) -> None:
        check_text(self, "species", *texts, "heavier", "instrument")
        check_pair("heavier", self.heavier, "lighter", self.lighter)
        if self.vessel is not None:
            entry.text("vessel", self.vessel, error=ExperimentError)
        known = tuple(name for name in (self.heavier, self.lighter) if name)
        check_averaged(self, known)
        check_names("same_vessel", self.same_vessel, known, _SAME)
        if self.same_vessel and not self.lighter:
            raise ExperimentError(
                "The balance was set to zero with the vessel on it, so its mass was not read.",
                field="same_vessel",
                given=self.same_vessel,
                fix="Leave it out, or name the weighing of the empty vessel as “lighter”.",
            )
        entry.kept(self, density_g_per_cm3=checked_density(self.density_g_per_cm3))

    def roles(self) -> tuple[Role, ...]:
        """Return the two weighings, or the one if the balance was tared."""
        group = self.lighter if self.vessel is None else self.vessel
        roles = span_roles(self.span, "g", vessel_group=group)
        same = bool(self.same_vessel)
        return tuple(
            replace(
                role,
                repeated=role.name in self.repeated,
                averaged=role.name in self.averaged,
                same_vessel=same,
            )
            for role in roles
        )

    def remarks(self) -> tuple[str, ...]:
        """Say what corrects for air, which vessel is always the same, and what is averaged."""
        same = _on_the_vessel(self.same_vessel)
        return (*self._on_air(), *same, *_on_the_mean(self.averaged))

    def _on_air(self) -> tuple[str, ...]:
        return _air_remark(self.substance, self.density_g_per_cm3)

    def unknown_air(self) -> tuple[float, float]:
        """Return the factors at any possible density; none if it is stated."""
        return unknown_factors() if self.density_g_per_cm3 is None else NOTHING

    @property
    def span(self) -> Span:
        """The two weighings."""
        return Span(self.heavier, self.lighter, self.instrument, "mass")

    def _mass(self, values: Mapping[str, Number], pool: ErrorPool) -> tuple[Step, ...]:
        """Return the steps to the mass, the last one; corrected for air if its density is known."""
        mass = difference(values, self.heavier, self.lighter)
        return _mass_steps(self.substance, self.span.what, mass, self.density_g_per_cm3, pool)

    @property
    def excess_means(self) -> str:
        """Residue or water on the solid; not where water itself is driven off."""
        return super().excess_means if self.species == "H2O" else "residue or water"

    def care(self, setting: Setting) -> Care:
        """Return how the solid is dried, and the waits for a hot vessel and for the display."""
        hot = (
            "Let a hot vessel cool to room temperature in a desiccator, 15 to 20 minutes for a "
            f"crucible ({PRACTICE}): warm air around it makes it seem lighter."
        )
        still = "Wait until the display of the balance is still; close its doors or shield it."
        collected = bool(setting.is_product and self.lighter)
        settles = self.repeated or collected or self.loses_mass(setting.order)
        return Care(
            waiting=(*((hot,) if self.repeated else ()), still, *_weigh_again(self.averaged)),
            drying=tuple(self._drying(setting)),
            balance=self.instrument if settles else "",
        )

    def _drying(self, setting: Setting) -> Iterator[str]:
        """Yield how the solid is dried: heated, rinsed as one piece, or filtered and washed."""
        for name in self.repeated:
            yield (
                f"“{name}”: heat it, first for about 10 minutes, then 5 minutes at a time "
                f"({PRACTICE}), cool and weigh after each heating, until the mass is constant."
            )
        if self.repeated:
            return
        shown = parse_formula(self.substance).unicode()
        lost = self.loses_mass(setting.order)
        if lost or (setting.is_product and setting.other.electrons_passed):
            yield (
                f"“{self.lighter if lost else self.heavier}”: rinse it with water without rubbing, "
                "then, where the notes say so, with a little volatile solvent away from flames; "
                f"dry it for 5 to 10 minutes in air ({PRACTICE}) and weigh, and weigh again after "
                "5 minutes: it must not lose mass."
            )
        elif setting.is_product and self.lighter:
            yield (
                f"“{self.heavier}”: filter where there is a filter, wash with water until nothing "
                f"dissolved is left in the {shown}, dry it with what it is weighed on: in an oven "
                "at about 105 °C for an hour and then 15 minutes at a time, or overnight in air "
                f"({PRACTICE}); let it cool, weigh, and go on until the mass is constant."
            )
            yield (
                f"“{self.lighter}”: bring what is weighed empty to constant mass in the same way; "
                "a filter paper holds a few per cent of moisture."
            )
        else:
            yield (
                f"“{self.heavier}”: weigh it dry and clean; {shown} that is damp weighs too much."
            )

    def situation(self, setting: Setting) -> frozenset[str]:
        """Say of a product whether it is collected or plated, driven off or taken up.

        A product weighed together with the reactant is one of the last two; the order in which
        the readings are made tells which.
        """
        if not setting.is_product:
            return frozenset()
        if self.lighter and self.lighter == setting.other.span.high:
            gives_off = self.species == "H2O" or setting.later(self.lighter, self.heavier)
            return frozenset({"driven off" if gives_off else "element taken up"})
        if setting.other.electrons_passed:  # it grows on a strip: no filter, no empty vessel
            return frozenset({"solid collected", "plated"})
        empty = ["empty vessel weighed"] if self.lighter else []
        return frozenset({"solid collected", "filtered", *empty})


@dataclass(frozen=True, slots=True, kw_only=True)
class MassByDifference(Weighed):
    """Amount from two weighings: n = (heavier − lighter) · purity / M.

    Serves for before/after, gross/tare and heating to constant mass.

    Parameters
    ----------
    species : str
        Formula of the substance the mass consists of, e.g. ``"H2O"`` for water driven off.
    heavier, lighter : str
        Names of the readings; ``lighter=""`` when the balance was tared to zero.
    instrument : str
        Name of the balance.
    vessel : str or None
        Name of what stays on the pan in both weighings; weighings in several amounts that are
        made in one vessel need the same name. None: named after the lighter reading.
    repeated : tuple of str
        Readings repeated to constant mass; the last one counts.
    averaged : tuple of str
        Readings of one thing that may be made several times in a trial; the mean counts.
    same_vessel : tuple of str
        Weighings, best that of the empty vessel, whose vessel is the same thing in every trial
        and not another one of its kind.
    density_g_per_cm3 : float or None
        Density of what is weighed, or of what was driven off or taken up, 0.1 to 25 g/cm³:
        corrects for the buoyancy of air. None: not known, anything from 0.9 to 22.
    purity, purity_half_width : float
        Mass fraction of the species, 0 to 1, and its half-width (rectangular).

    Raises
    ------
    ExperimentError
        If a field cannot be used.

    Examples
    --------
    >>> from stoichkit.uncertainty.readings import ErrorPool
    >>> from stoichkit.uncertainty.sources import nominal
    >>> model = MassByDifference(species="Cu", heavier="before", lighter="after")
    >>> round(nominal(model.amount({"before": 2.300, "after": 1.665}, ErrorPool())), 5)
    0.00999
    >>> [step.formula for step in model.explain({"before": 2.300, "after": 1.665})]
    ['before − after', '', 'm(Cu) / M(Cu)']
    """

    species: str
    heavier: str
    lighter: str = ""
    instrument: str = "balance"
    vessel: str | None = None
    repeated: tuple[str, ...] = ()
    averaged: tuple[str, ...] = ()
    same_vessel: tuple[str, ...] = ()
    density_g_per_cm3: float | None = None
    purity: float = 1.0
    purity_half_width: float = 0.0

    def __post_init__(self) -> None:
        self._check_weighings()
        check_purity(self)

    def _steps(self, values: Mapping[str, Number], pool: ErrorPool) -> tuple[Step, ...]:
        return _mass_to_amount(self, self._mass(values, pool), pool)

    @property
    def _pure(self) -> bool:
        return (self.purity, self.purity_half_width) == (1, 0)

    @property
    def plain_mass(self) -> bool:
        """Whether two weighings of a pure substance are all there is."""
        plain = self._pure and self.density_g_per_cm3 is None
        return plain and bool(self.lighter) and not self.same_vessel and not self.averaged

    def loses_mass(self, order: Sequence[str]) -> bool:
        """Say whether the heavier weighing comes first."""
        return bool(self.lighter) and order.index(self.heavier) < order.index(self.lighter)

    def expected_mass_g(self, amount_mol: float) -> float | None:
        """Return the mass of the species, g."""
        return amount_mol * molar_mass_value(self.species)

    def mass_to_take_g(self, amount_mol: float) -> float:
        """Return the mass of the impure solid, g."""
        return amount_mol * molar_mass_value(self.species) / self.purity

    def portion(self, setting: Setting) -> Portion | None:
        """Return the solid, with the balance it is weighed on."""
        if setting.is_product:
            return None
        shown = parse_formula(self.species).unicode()
        step = show(setting.instruments[self.instrument].readability)
        return Portion(
            name=shown,
            provides=shown,
            formula=self.species,
            measured_with=f"{self.instrument}, to {step} g",
            role=(
                "in excess, what is used up is weighed"
                if self.loses_mass(setting.order)
                else "limiting"
            ),
            solid=True,
        )

    def situation(self, setting: Setting) -> frozenset[str]:
        """Say of what is consumed whether it is weighed in or what is left over."""
        if setting.is_product:
            return Weighed.situation(self, setting)
        left = self.lighter and setting.later(self.lighter, self.heavier)
        return frozenset({"metal left over" if left else "weighed in"})


@dataclass(frozen=True, slots=True, kw_only=True)
class SumOfMasses(AmountModel):
    """Amount from any signed sum of weighings: n = (Σ plus − Σ minus) · purity / M.

    Serves for a solid collected in several portions, or a vessel whose lid was weighed apart.

    Parameters
    ----------
    species : str
        Formula of the substance the mass consists of.
    plus, minus : tuple of str
        Names of the readings that are added and subtracted, none twice, 2 to 20 in all. The first
        of ``minus`` is the empty vessel of the first of ``plus``, and so on in pairs; what is left
        over stands alone.
    instrument : str
        Name of the balance.
    repeated, averaged, same_vessel, density_g_per_cm3, purity, purity_half_width
        As for :class:`MassByDifference`.

    Raises
    ------
    ExperimentError
        If a field cannot be used.

    Examples
    --------
    >>> from stoichkit.uncertainty.readings import ErrorPool
    >>> from stoichkit.uncertainty.sources import nominal
    >>> silver = SumOfMasses(
    ...     species="Ag", plus=("filter 1 + Ag", "filter 2 + Ag"), minus=("filter 1", "filter 2"))
    >>> read = {"filter 1 + Ag": 1.60, "filter 2 + Ag": 0.92, "filter 1": 0.81, "filter 2": 0.79}
    >>> round(nominal(silver.amount(read, ErrorPool())), 5)
    0.00853
    >>> silver.explain(read)[0].formula
    'filter 1 + Ag + filter 2 + Ag − filter 1 − filter 2'
    """

    weighed: ClassVar[bool] = True
    is_linear: ClassVar[bool] = True

    species: str
    plus: tuple[str, ...]
    minus: tuple[str, ...] = ()
    instrument: str = "balance"
    repeated: tuple[str, ...] = ()
    averaged: tuple[str, ...] = ()
    same_vessel: tuple[str, ...] = ()
    density_g_per_cm3: float | None = None
    purity: float = 1.0
    purity_half_width: float = 0.0

    def __post_init__(self) -> None:
        check_text(self, "species", "instrument")
        for field in ("plus", "minus"):
            names = entry.listed(field, getattr(self, field), str, error=ExperimentError)
            entry.kept(self, **{field: names})
            for name in names:
                entry.text(field, name, empty=False, error=ExperimentError)
        every = (*self.plus, *self.minus)
        twice = [name for name in every if every.count(name) > 1]
        if not self.plus or not 2 <= len(every) <= _MOST_MASSES or twice:
            raise ExperimentError(
                "These weighings do not make a sum.",
                field="minus" if twice and twice[0] in self.minus else "plus",
                given=twice[0] if twice else ", ".join(every) or None,
                allowed=f"2 to {_MOST_MASSES} different readings, one of “plus” at least",
                fix="For one weighing use “mass by difference”." if len(every) == 1 else None,
            )
        check_averaged(self, every)
        self._check_vessels(every)
        entry.kept(self, density_g_per_cm3=checked_density(self.density_g_per_cm3))
        check_purity(self)

    def _check_vessels(self, every: Sequence[str]) -> None:
        """Refuse a vessel that is the same in every trial where it is not weighed twice in one."""
        check_names("same_vessel", self.same_vessel, every, _SAME)
        pairs = [*zip(self.plus, self.minus, strict=False)]
        alone = [name for name in self.same_vessel if not any(name in pair for pair in pairs)]
        if alone:
            raise ExperimentError(
                "This weighing stands alone in the sum, so no vessel is seen in it twice.",
                field="same_vessel",
                given=alone[0],
                allowed=", ".join(name for pair in pairs for name in pair) or None,
                fix="Name the empty vessel in “minus” at the place that it has in “plus” filled.",
            )

    @property
    def empty_vessels(self) -> tuple[str, ...]:
        """Those of ``minus`` that belong to one of ``plus``."""
        return self.minus[: len(self.plus)]

    def roles(self) -> tuple[Role, ...]:
        """Return the weighings, those of each pair with its vessel."""
        vessels = self.empty_vessels
        found = []
        for names in (self.plus, self.minus):
            for i, name in enumerate(names):
                role = span_roles(Span(name, "", self.instrument, "mass"), "g")[0]
                pair = (self.plus[i], vessels[i]) if i < len(vessels) else ()
                found.append(
                    replace(
                        role,
                        vessel_group=pair[1] if pair else "",
                        same_vessel=any(one in self.same_vessel for one in pair),
                        repeated=name in self.repeated,
                        averaged=name in self.averaged,
                    )
                )
        return tuple(found)

    @property
    def span(self) -> Span:
        """The first pair of weighings: the amount is linear in its difference."""
        return Span(self.plus[0], (*self.minus, "")[0], self.instrument, "mass")

    def reading(self, field: str) -> str:
        """Return the first reading added for the heavier, the first subtracted for the lighter."""
        return (*self.minus, *self.plus)[0] if field == "lighter" else self.plus[0]

    @property
    def formula(self) -> str:
        """The sum as it stands in the worked solution."""
        return " − ".join([" + ".join(self.plus), *self.minus])

    def _steps(self, values: Mapping[str, Number], pool: ErrorPool) -> tuple[Step, ...]:
        mass = sum(get(values, n) for n in self.plus) - sum(get(values, n) for n in self.minus)
        steps = _mass_steps(self.species, self.formula, mass, self.density_g_per_cm3, pool)
        return _mass_to_amount(self, steps, pool)

    @property
    def excess_means(self) -> str:
        """Residue or water on the solid; not where water itself is weighed."""
        water = self.species == "H2O"
        return "something else was taken for it" if water else "residue or water"

    def expected_mass_g(self, amount_mol: float) -> float | None:
        """Return the mass of the species, g."""
        return amount_mol * molar_mass_value(self.species)

    def mass_to_take_g(self, amount_mol: float) -> float:
        """Return the mass of the impure solid, g."""
        return amount_mol * molar_mass_value(self.species) / self.purity

    def unknown_air(self) -> tuple[float, float]:
        """Return the factors at any possible density; none if it is stated."""
        return unknown_factors() if self.density_g_per_cm3 is None else NOTHING

    def remarks(self) -> tuple[str, ...]:
        """Say what corrects for air, which vessel is always the same, and what is averaged."""
        on_air = _air_remark(self.species, self.density_g_per_cm3)
        return (*on_air, *_on_the_vessel(self.same_vessel), *_on_the_mean(self.averaged))

    def portion(self, setting: Setting) -> Portion | None:
        """Return the solid, with the balance it is weighed on."""
        found = AmountModel.portion(self, setting)
        return found and replace(found, solid=True)

    def care(self, setting: Setting) -> Care:
        """Return how weighings are awaited, and what is dried to constant mass."""
        del setting
        still = "Wait until the display of the balance is still; close its doors or shield it."
        dried = tuple(
            f"“{name}”: dry or heat it, let it cool, weigh, and go on until the mass is constant "
            f"({PRACTICE})."
            for name in self.repeated
        )
        return Care(
            waiting=(still, *_weigh_again(self.averaged)),
            drying=dried,
            balance=self.instrument if self.repeated else "",
        )

    def situation(self, setting: Setting) -> frozenset[str]:
        """Say of a product that it is collected, of what is consumed that it is weighed in."""
        return frozenset({"solid collected", "filtered"} if setting.is_product else {"weighed in"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Precipitate(Weighed):
    """Amount of a species from the mass of its precipitate: n = factor · m / M(precipitate).

    Parameters
    ----------
    species : str
        What was precipitated, e.g. ``"Cl^-"``.
    precipitate : str
        Formula of the solid weighed, e.g. ``"AgCl"``.
    factor : Fraction or int
        Moles of the species for each mole of precipitate.
    heavier, lighter, instrument, vessel, repeated, averaged, same_vessel, density_g_per_cm3
        As for :class:`MassByDifference`.

    Raises
    ------
    ExperimentError
        If a field cannot be used.

    Examples
    --------
    >>> from stoichkit.uncertainty.readings import ErrorPool
    >>> from stoichkit.uncertainty.sources import nominal
    >>> model = Precipitate(species="Cl^-", precipitate="AgCl", heavier="dry solid")
    >>> round(nominal(model.amount({"dry solid": 1.0881}, ErrorPool())), 6)
    0.007592
    """

    species: str
    precipitate: str
    heavier: str
    lighter: str = ""
    factor: Fraction | int = 1
    instrument: str = "balance"
    vessel: str | None = None
    repeated: tuple[str, ...] = ()
    averaged: tuple[str, ...] = ()
    same_vessel: tuple[str, ...] = ()
    density_g_per_cm3: float | None = None

    def __post_init__(self) -> None:
        self._check_weighings("precipitate")
        check_factor(self)

    def _steps(self, values: Mapping[str, Number], pool: ErrorPool) -> tuple[Step, ...]:
        solid = self.precipitate
        mass = self._mass(values, pool)
        molar = molar_mass(solid)
        return (
            *mass,
            Step(f"M({solid})", f"molar mass of {solid}", "", molar, "g/mol"),
            amount_step(
                self.species,
                f"m({solid}) / M({solid}){times(self.factor)}",
                mass[-1].value / molar * float(self.factor),
            ),
        )

    @property
    def substance(self) -> str:
        """The precipitate."""
        return self.precipitate

    def formulas(self) -> dict[str, str]:
        """Return the species and its precipitate."""
        return {"species": self.species, "precipitate": self.precipitate}

    def expected_mass_g(self, amount_mol: float) -> float | None:
        """Return the mass of the precipitate, g."""
        return amount_mol / float(self.factor) * molar_mass_value(self.precipitate)

    def portion(self, setting: Setting) -> Portion | None:
        """Return the species, found by its precipitate."""
        found = AmountModel.portion(self, setting)
        return found and replace(found, measured_with="its precipitate, weighed")


@dataclass(frozen=True, slots=True)
class Weighing:
    """A usual way to weigh what was used up or made: its words, and the names of its readings.

    Attributes
    ----------
    key, words : str
        How a choice names it, and how it ends the sentence “it was weighed …”.
    heavier, lighter : str
        Names of the readings, with ``{}`` for what is weighed; ``lighter=""`` for a balance set to
        zero.
    heavier_first : bool
        Which of the two is read first.

    Examples
    --------
    >>> WEIGHINGS["before and after"].readings("Fe")
    ('Fe before', 'Fe after')
    >>> WEIGHINGS["on paper"].of("Cu").lighter
    'paper'
    """

    key: str
    words: str
    heavier: str
    lighter: str = ""
    heavier_first: bool = False

    def readings(self, what: str) -> tuple[str, ...]:
        """Return the names of the readings of one thing, in the order they are made."""
        names = [name.format(what) for name in (self.lighter, self.heavier) if name]
        return tuple(reversed(names) if self.heavier_first else names)

    def of(self, species: str, *, precipitate: str = "") -> Weighed:
        """Return the amount of a species that is weighed so, itself or as its precipitate."""
        what = precipitate or species
        heavier, lighter = self.heavier.format(what), self.lighter.format(what)
        if not precipitate:
            return MassByDifference(species=species, heavier=heavier, lighter=lighter)
        return Precipitate(
            species=species,
            precipitate=precipitate,
            heavier=heavier,
            lighter=lighter,
            factor=held_by(precipitate, species),
        )


def held_by(solid: str, species: str) -> Fraction:
    """Return how many of a species there are in each formula unit of a solid.

    Oxygen and hydrogen, which may belong to something else in the solid, count only where the
    species holds nothing else.

    Raises
    ------
    ModelError
        If the solid does not hold it.

    Examples
    --------
    >>> str(held_by("AgCl", "Cl^-")), str(held_by("Fe2O3", "Fe")), str(held_by("BaSO4", "SO4^2-"))
    ('1', '2', '1')
    >>> held_by("AgCl", "Br^-")
    Traceback (most recent call last):
    stoichkit.errors.ModelError: AgCl does not hold Br^-. Given: AgCl. Allowed: a solid with Br^-.
    """
    inside, wanted = parse_formula(solid).counts, parse_formula(species).counts
    own = {s: n for s, n in wanted.items() if s not in ("O", "H")} or wanted
    found = {Fraction(inside.get(symbol, 0), count) for symbol, count in own.items()}
    if len(found) != 1 or 0 in found:
        raise ModelError(
            f"{solid} does not hold {species}.", given=solid, allowed=f"a solid with {species}"
        )
    return found.pop()


WEIGHINGS: Mapping[str, Weighing] = {
    one.key: one
    for one in (
        Weighing("before and after", "before and after", "{} before", "{} after", True),
        Weighing("on paper", "on its paper", "paper + {}", "paper"),
        Weighing("in a dish", "by difference, in its dish", "dish + {}", "dish for {}"),
        Weighing("alone", "alone, on a balance set to zero", "{}"),
        Weighing(
            "by difference",
            "by difference, out of its bottle",
            "{} bottle before",
            "{} bottle after",
            True,
        ),
        Weighing("on a strip", "on its strip", "strip after", "strip before"),
    )
}
"""The usual ways to weigh, by the key of a choice."""


@dataclass(frozen=True, slots=True)
class ConstantMass:
    """Whether repeated weighings have settled.

    Attributes
    ----------
    reached : bool
        Whether the last two weighings agree within ``limit_g``.
    change_g : float
        Last weighing less the one before.
    limit_g : float
        Change the balance cannot tell from none: the larger of one step and twice the standard
        uncertainty of a difference (rounding and repeatability).
    sentence : str
        The same in words.
    """

    reached: bool
    change_g: float
    limit_g: float
    sentence: str


def constant_mass(readings: Sequence[Reading], balance: Instrument) -> ConstantMass:
    """Say whether the last two weighings agree within what the balance resolves.

    Parameters
    ----------
    readings : sequence of Reading
        Successive weighings in g, two or more.
    balance : Balance

    Raises
    ------
    ExperimentError
        If there are fewer than two readings.

    Examples
    --------
    >>> from stoichkit.measurement.displays import Balance
    >>> from stoichkit.uncertainty.readings import parse_number
    >>> weighings = [parse_number(text) for text in ("20.52", "20.36", "20.35")]
    >>> constant_mass(weighings, Balance(readability_g=0.01, repeatability_g=0.0)).sentence
    'Constant mass: the last change, -0.01 g, is within the 0.01 g this balance cannot resolve.'
    """
    if len(readings) < 2:
        raise ExperimentError(
            "Constant mass needs two weighings or more.", given=f"{len(readings)} readings"
        )
    step = balance.readability
    limit = max(step, 2 * math.sqrt(2 * (balance.repeatability**2 + step**2 / 12)))
    change = round(readings[-1].value - readings[-2].value, 12)
    reached = abs(change) <= limit * (1 + 1e-9)
    size = f"{change:+.6g} g"
    sentence = (
        f"Constant mass: the last change, {size}, is within the {limit:.2g} g this balance "
        "cannot resolve."
        if reached
        else f"Not yet constant: the last change, {size}, is more than the {limit:.2g} g this "
        f"balance cannot resolve (steps of {show(step)} g). Heat, cool and weigh again."
    )
    return ConstantMass(reached, change, limit, sentence)


def constant_mass_rule(balance: Instrument) -> str:
    """Say when a mass counts as constant on a balance, by the limit of :func:`constant_mass`.

    >>> from stoichkit.measurement.displays import Balance
    >>> constant_mass_rule(Balance(readability_g=0.01, repeatability_g=0.005))
    'The mass counts as constant when two weighings in a row differ by no more than 0.01 g
    (1 step of 0.01 g), ...'
    """
    same = Reading(0.0, "0", 0)
    limit = constant_mass([same, same], balance).limit_g
    step = balance.readability
    steps = int(limit / step + 1e-9)
    return (
        f"The mass counts as constant when two weighings in a row differ by no more than "
        f"{show(steps * step)} g ({steps} step{'s' if steps > 1 else ''} of {show(step)} g), which "
        f"is what this balance cannot tell from no change ({limit:.2g} g)."
    )
