"""Amounts from the volume of a solution, whose concentration is known, made up or titrated."""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import ClassVar

from ..chemistry.elements import molar_mass
from ..chemistry.formula import parse_formula
from ..errors import ExperimentError, ReadingError
from ..uncertainty import entry
from ..uncertainty.readings import ErrorPool
from ..uncertainty.sources import Number, Shape, error_source, nominal
from .base import (
    PRACTICE,
    AmountModel,
    Care,
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
    delivered_volume_mL,
    difference,
    get,
    glass_role,
    purity_factor,
    span_roles,
    times,
)
from .glassware import Burette


class Concentration(ABC):
    """A way to the concentration of a solution, which has a name."""

    __slots__ = ()
    name: str

    @abstractmethod
    def roles(self) -> tuple[Role, ...]:
        """Say what is read for it."""

    @abstractmethod
    def steps(self, values: Mapping[str, Number], pool: ErrorPool) -> tuple[Step, ...]:
        """Return the steps to the concentration in mol/L, the last one.

        Parameters and errors are those of :meth:`AmountModel.amount`.
        """

    @property
    def made_up(self) -> PreparedSolution | None:
        """How the solution is made up from a solid; None where it comes in a bottle."""
        return None


class Stock:
    """A solution that stands ready to be diluted."""

    __slots__ = ()
    may_be_acid: ClassVar[bool] = True
    """Whether it may be an acid, as what comes in a bottle may."""

    def strength(self) -> tuple[str, Number]:
        """Return what it is called, and its concentration in mol/L."""
        raise NotImplementedError


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownConcentration(Concentration, Stock):
    """A solution whose concentration is stated, as on the label of a bottle.

    Parameters
    ----------
    mol_per_L : float > 0
        Concentration of the solute.
    half_width_mol_per_L : float >= 0
        Limits of the error (rectangular). Give this or the standard uncertainty, not both.
    standard_mol_per_L : float >= 0
        Standard uncertainty (normal).
    name : str
        Name of the solution: amounts with the same named solution share one error.

    Raises
    ------
    ExperimentError
        If a figure cannot be used.

    Examples
    --------
    >>> KnownConcentration(mol_per_L=0.1, half_width_mol_per_L=0.0005).mol_per_L
    0.1
    """

    mol_per_L: float
    half_width_mol_per_L: float = 0.0
    standard_mol_per_L: float = 0.0
    name: str = "solution"

    def __post_init__(self) -> None:
        check_text(self, "name")
        for field in ("mol_per_L", "half_width_mol_per_L", "standard_mol_per_L"):
            above = 0.0 if field == "mol_per_L" else -math.inf
            least = -math.inf if field == "mol_per_L" else 0.0
            value = getattr(self, field)
            found = entry.number(field, value, least=least, above=above, error=ExperimentError)
            entry.kept(self, **{field: found})
        if self.half_width_mol_per_L and self.standard_mol_per_L:
            raise ExperimentError(
                "The error of the concentration is given twice.",
                field="standard_mol_per_L",
                allowed="either the half-width or the standard uncertainty",
            )

    def roles(self) -> tuple[Role, ...]:
        """Return no roles: nothing is read."""
        return ()

    def steps(self, values: Mapping[str, Number], pool: ErrorPool) -> tuple[Step, ...]:
        """Return the one step that states the concentration; ``values`` is not used."""
        del values
        words = f"concentration of {self.name}"
        shape = Shape.NORMAL if self.standard_mol_per_L else Shape.RECTANGULAR
        scale = self.standard_mol_per_L or self.half_width_mol_per_L
        error = pool.shared(
            ("concentration", self),
            lambda: error_source(words, kind="concentration", shape=shape, scale=scale),
        )
        return (Step("c", words, "", self.mol_per_L + error, "mol/L"),)

    def strength(self) -> tuple[str, Number]:
        """Return the name and the concentration stated."""
        return self.name, self.steps({}, ErrorPool())[-1].value


@dataclass(frozen=True, slots=True, kw_only=True)
class PreparedSolution(Concentration):
    """A solution made up by weighing, filling a flask to its mark, and perhaps diluting.

    c = m · purity / (M · V_flask), then × V_pipette / V_flask for each dilution. Its weighing
    and its glassware are used once: one concentration serves all trials.

    Parameters
    ----------
    solute : str
        Formula of the solid weighed.
    heavier, lighter : str
        Names of the readings; ``lighter=""`` when the balance was tared to zero.
    instrument : str
        Name of the balance.
    purity, purity_half_width : float
        Mass fraction of the solute, 0 to 1, and its half-width (rectangular).
    flask : str
        Name of the volumetric flask.
    dilutions : tuple of (pipette, flask)
        Names of the glassware of each dilution, in order.
    name : str
        Name of the solution, different for each solution of an experiment.

    Raises
    ------
    ExperimentError
        If a field cannot be used.

    Examples
    --------
    >>> from stoichkit.uncertainty.readings import ErrorPool
    >>> from stoichkit.uncertainty.sources import nominal
    >>> stock = PreparedSolution(solute="AgNO3", heavier="salt", name="stock")
    >>> [role.name for role in stock.roles()]
    ['salt', 'flask of stock']
    >>> c = stock.steps({"salt": 1.6987, "flask of stock": 100.0}, ErrorPool())[-1].value
    >>> round(nominal(c), 5)
    0.1
    """

    solute: str
    heavier: str
    lighter: str = ""
    instrument: str = "balance"
    purity: float = 1.0
    purity_half_width: float = 0.0
    flask: str = "flask"
    dilutions: tuple[tuple[str, str], ...] = ()
    name: str = "solution"

    def __post_init__(self) -> None:
        check_text(self, "solute", "heavier", "instrument", "flask", "name")
        check_pair("heavier", self.heavier, "lighter", self.lighter)
        check_purity(self)
        entry.kept(
            self, dilutions=entry.listed("dilutions", self.dilutions, tuple, error=ExperimentError)
        )
        for pair in self.dilutions:
            named = all(isinstance(p, str) and p for p in pair)
            if not named or len(pair) != 2:
                raise ExperimentError(
                    "A dilution names its pipette and its flask.",
                    field="dilutions",
                    given=pair,
                    allowed='two names, such as ["pipette", "flask"]',
                )

    def _dilution_names(self) -> tuple[tuple[str, str], ...]:
        return tuple(
            (f"pipette of {self.name}, dilution {i}", f"flask of {self.name}, dilution {i}")
            for i in range(1, len(self.dilutions) + 1)
        )

    def roles(self) -> tuple[Role, ...]:
        """Return the weighings and the glassware, each made once for all trials."""
        filled = [(f"flask of {self.name}", self.flask)]
        for names, pair in zip(self._dilution_names(), self.dilutions, strict=True):
            filled += zip(names, pair, strict=True)
        return (
            *span_roles(self._span, "g", vessel_group=self.lighter, once=True),
            *(glass_role(name, glass, once=True) for name, glass in filled),
        )

    @property
    def _span(self) -> Span:
        return Span(self.heavier, self.lighter, self.instrument, "mass")

    @property
    def made_up(self) -> PreparedSolution:
        """This recipe."""
        return self

    def stock_mol_per_L(self, values: Mapping[str, Number], pool: ErrorPool) -> Number:
        """Return the concentration before anything is diluted."""
        return next(s.value for s in self.steps(values, pool) if s.unit == "mol/L")

    def steps(self, values: Mapping[str, Number], pool: ErrorPool) -> tuple[Step, ...]:
        """Return the steps from the weighing to the concentration in mol/L, the last one."""
        s = self.solute
        mass = difference(values, self.heavier, self.lighter)
        purity = purity_factor(pool, self, self.name, self.purity, self.purity_half_width)
        molar = molar_mass(s)
        flask = f"flask of {self.name}"
        concentration = mass * purity / molar / (get(values, flask) / 1000)
        stock = "c" if not self.dilutions else "c0"
        steps = [
            Step(f"m({s})", f"mass of {s}", self._span.what, mass, "g"),
            Step(f"w({s})", f"mass fraction of {s}", "", purity, ""),
            Step(f"M({s})", f"molar mass of {s}", "", molar, "g/mol"),
            Step(
                stock,
                f"concentration of {self.name}",
                f"m({s}) × w({s}) / (M({s}) × {flask})",
                concentration,
                "mol/L",
            ),
        ]
        for i, (pipette, to_flask) in enumerate(self._dilution_names(), start=1):
            concentration = concentration * get(values, pipette) / get(values, to_flask)
            symbol = "c" if i == len(self.dilutions) else f"c{i}"
            how = f"c{i - 1} × {pipette} / {to_flask}"
            words = f"concentration after dilution {i}"
            steps.append(Step(symbol, words, how, concentration, "mol/L"))
        return tuple(steps)


@dataclass(frozen=True, slots=True, kw_only=True)
class TitratedSolution(Concentration):
    """A solution whose concentration is found by titrating a measured portion of it.

    c = factor · c(titrant) · V(titrant) / V(aliquot). The titration is made once and serves all
    trials, so its errors do too.

    Parameters
    ----------
    titrant_mol_per_L : float > 0
        Concentration of the titrant.
    titrant_half_width_mol_per_L, titrant_standard_mol_per_L : float >= 0
        Its error, as for :class:`KnownConcentration`.
    final, initial : str
        Names of the burette readings of the titration; ``initial=""`` when it was set to zero.
    instrument : str
        Name of the burette.
    aliquot : str
        Name of the one-mark pipette that takes the portion.
    factor : Fraction or int
        Moles of the solute for each mole of titrant.
    titrant, name : str
        Names of the titrant and of the solution, different for each solution of an experiment.

    Raises
    ------
    ExperimentError
        If a field cannot be used.

    Examples
    --------
    >>> from stoichkit.uncertainty.readings import ErrorPool
    >>> from stoichkit.uncertainty.sources import nominal
    >>> acid = TitratedSolution(
    ...     titrant_mol_per_L=0.1, final="end", aliquot="pipette", factor=Fraction(1, 2),
    ...     name="acid")
    >>> [role.name for role in acid.roles()]
    ['end', 'pipette of acid, titrated']
    >>> read = {"end": 20.0, "pipette of acid, titrated": 25.0}
    >>> round(nominal(acid.steps(read, ErrorPool())[-1].value), 6)
    0.04
    """

    titrant_mol_per_L: float
    final: str
    aliquot: str
    titrant_half_width_mol_per_L: float = 0.0
    titrant_standard_mol_per_L: float = 0.0
    initial: str = ""
    instrument: str = "burette"
    factor: Fraction | int = 1
    titrant: str = "titrant"
    name: str = "solution"

    def __post_init__(self) -> None:
        check_text(self, "final", "aliquot", "instrument", "titrant", "name")
        check_pair("final", self.final, "initial", self.initial)
        check_factor(self)
        try:
            known = self._known()
        except ExperimentError as error:
            raise ExperimentError(
                error.problem,
                field=f"titrant_{error.field}",
                given=error.given,
                allowed=error.allowed,
                fix=error.fix,
            ) from None
        for field in ("mol_per_L", "half_width_mol_per_L", "standard_mol_per_L"):
            entry.kept(self, **{f"titrant_{field}": getattr(known, field)})
        if self.titrant == self.name:
            raise ExperimentError(
                "The titrant has the name of the solution that it titrates.",
                field="titrant",
                given=self.titrant,
                fix="Give each solution a name of its own.",
            )

    def _known(self) -> KnownConcentration:
        """Return the titrant, whose error is shared with every use of the same solution."""
        return KnownConcentration(
            mol_per_L=self.titrant_mol_per_L,
            half_width_mol_per_L=self.titrant_half_width_mol_per_L,
            standard_mol_per_L=self.titrant_standard_mol_per_L,
            name=self.titrant,
        )

    @property
    def _portion(self) -> str:
        return f"{self.aliquot} of {self.name}, titrated"

    @property
    def _span(self) -> Span:
        return Span(self.final, self.initial, self.instrument, "volume")

    def roles(self) -> tuple[Role, ...]:
        """Return the readings of the titration and its pipette, each made once for all trials."""
        return (
            *span_roles(self._span, "mL", once=True),
            glass_role(self._portion, self.aliquot, once=True),
        )

    def steps(self, values: Mapping[str, Number], pool: ErrorPool) -> tuple[Step, ...]:
        """Return the steps from the titration to the concentration in mol/L, the last one.

        Raises
        ------
        ReadingError
            If no titrant was used.
        """
        (stated,) = self._known().steps({}, pool)
        used = delivered_volume_mL(values, self.final, self.initial)
        if nominal(used) == 0:  # a volume below zero is told with the verdict
            read = " and ".join(f"“{name}”" for name in (self.final, self.initial) if name)
            raise ReadingError(
                f"The titration of {self.name} used no titrant: the concentration would be zero.",
                given="0 mL",
                allowed="more than 0 mL",
                fix=f"Check the {'readings' if self.initial else 'reading'} {read}.",
            )
        portion = get(values, self._portion)
        found = stated.value * used / portion * float(self.factor)
        return (
            Step("c(t)", stated.words, "", stated.value, "mol/L"),
            Step("V(t)", f"volume of {self.titrant}", self._span.what, used, "mL"),
            Step(
                "c",
                f"concentration of {self.name}",
                f"c(t) × V(t) / {self._portion}{times(self.factor)}",
                found,
                "mol/L",
            ),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class SolutionVolume(AmountModel):
    """Amount from volume and concentration: n = factor · c · V.

    Parameters
    ----------
    species : str
        What the amount is of.
    concentration : Concentration
        The solution: a :class:`KnownConcentration`, :class:`PreparedSolution` or
        :class:`TitratedSolution`.
    final, initial : str
        Names of the burette readings; ``initial=""`` when it was set to zero.
    pipette : str
        Name of a one-mark pipette used instead of the burette.
    factor : Fraction or int
        Moles of the species for each mole of solute.
    instrument : str
        Name of the burette (or measuring cylinder).

    Raises
    ------
    ExperimentError
        If a field cannot be used, or both or neither of burette and pipette are named.

    Examples
    --------
    >>> from stoichkit.uncertainty.readings import ErrorPool
    >>> acid = SolutionVolume(
    ...     species="HCl", concentration=KnownConcentration(mol_per_L=0.25), final="end")
    >>> round(acid.amount({"end": 35.23}, ErrorPool()), 7)
    0.0088075
    """

    species: str
    concentration: Concentration
    final: str = ""
    initial: str = ""
    pipette: str = ""
    factor: Fraction | int = 1
    instrument: str = "burette"

    def __post_init__(self) -> None:
        check_text(self, "species", "instrument")
        for field in ("final", "initial", "pipette"):
            entry.text(field, getattr(self, field), error=ExperimentError)
        if not isinstance(self.concentration, Concentration):
            raise ExperimentError(
                "The concentration is missing.",
                field="concentration",
                given=self.concentration,
                allowed="a known concentration, a prepared or a titrated solution",
            )
        if bool(self.final) == bool(self.pipette) or (self.pipette and self.initial):
            raise ExperimentError(
                "The volume must come from a scale or from a pipette.",
                field="pipette" if self.pipette else "final",
                given=self.pipette or None,
                allowed="either final (and initial) readings or a pipette",
            )
        check_text(self, "final" if self.final else "pipette")
        if self.final:
            check_pair("final", self.final, "initial", self.initial)
        check_factor(self)

    @property
    def _aliquot(self) -> str:
        return f"{self.pipette} of {self.concentration.name} for {self.species}"

    def roles(self) -> tuple[Role, ...]:
        """Return the burette readings or the pipette, then what the solution was made with."""
        aliquot = (glass_role(self._aliquot, self.pipette),)
        volume = aliquot if self.pipette else span_roles(self.span, "mL")
        return (*volume, *self.concentration.roles())

    def volume_mL(self, values: Mapping[str, Number]) -> Number:
        """Return the volume of solution used, in mL.

        Raises
        ------
        ExperimentError
            If a value is missing.

        Examples
        --------
        >>> used = SolutionVolume(species="HCl", final="end", initial="start",
        ...                       concentration=KnownConcentration(mol_per_L=0.1))
        >>> used.volume_mL({"end": 20.5, "start": 0.25})
        20.25
        """
        if self.pipette:
            return get(values, self._aliquot)
        return delivered_volume_mL(values, self.final, self.initial)

    def _steps(self, values: Mapping[str, Number], pool: ErrorPool) -> tuple[Step, ...]:
        made = self.concentration.steps(values, pool)
        volume = self.volume_mL(values)
        amount = made[-1].value * volume / 1000 * float(self.factor)
        formula = self._aliquot if self.pipette else self.span.what
        return (
            *made,
            Step("V", f"volume of {self.concentration.name}", formula, volume, "mL"),
            amount_step(self.species, f"c × V{times(self.factor)}", amount),
        )

    def formulas(self) -> dict[str, str]:
        """Return the species, and what the solution was made from."""
        made = self.concentration.made_up
        return {"species": self.species} | ({"concentration.solute": made.solute} if made else {})

    @property
    def span(self) -> Span:
        """The burette readings; none with a pipette."""
        return Span(self.final, self.initial, self.pipette or self.instrument, "volume")

    @property
    def solution(self) -> Concentration:
        """The solution."""
        return self.concentration

    def solute_mol(self, amount_mol: float) -> float:
        """Return the amount of solute, mol."""
        return amount_mol / float(self.factor)

    def portion(self, setting: Setting) -> Portion | None:
        """Return the solution: what reacts, or the titrant that finds a product."""
        glass = self.pipette or self.instrument
        made = self.concentration.made_up
        return Portion(
            name=self.concentration.name,
            provides=parse_formula(self.species).unicode(),
            formula=made.solute if made else "",
            measured_with=f"{glass}: {setting.instruments[glass].describe()}",
            role="measured, titrant" if setting.is_product else "limiting, measured",
        )

    def care(self, setting: Setting) -> Care:
        """Return how a burette is run and when the end point is reached, or how glass drains."""
        if not isinstance(setting.instruments[self.pipette or self.instrument], Burette):
            return Care(waiting=("Let the glassware drain fully and read at eye level.",))
        return Care(
            waiting=(
                "Burette: let it run no faster than 0.5 mL/s (USP General Chapter 31), and wait "
                f"30 seconds before each reading ({PRACTICE}).",
                f"Titrate until the colour change stays for 30 seconds ({PRACTICE}); do one quick "
                "run first to find the volume.",
            )
        )

    def situation(self, setting: Setting) -> frozenset[str]:
        """Say of a product whether it is titrated."""
        return frozenset({"titrated"} if setting.is_product and self.final else ())
