"""Practice labs in which not everything is weighed: gas collected, titration, plating by charge.

Readings are drawn as the instruments of the record are modelled: what an instrument is wrong by
in all its readings once for the lab, repeatability for each reading, then the step of its scale.
Which candidate is true is drawn by lot, whatever chemistry would say.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import Any, Generic, Protocol, TypeVar

from .._common import data_table
from ..chemistry.candidates import (
    Candidate,
    from_equations,
    ion_of,
    oxidation_states,
    plain_ratios,
)
from ..chemistry.elements import element_name
from ..chemistry.oxidation import ROMAN
from ..measurement.base import AmountModel, Instrument
from ..measurement.concentration import KnownConcentration, SolutionVolume
from ..measurement.displays import Ammeter, Balance, Barometer, Thermometer, Timer
from ..measurement.gas_and_charge import ElectricCharge, GasVolume
from ..measurement.glassware import Burette, GraduatedCylinder
from ..measurement.weighing import MassByDifference
from .parts import Caution
from .practice_drawing import (
    ASKED,
    MICRO,
    Display,
    FaultKind,
    Level,
    Lot,
    PlantedFault,
    Rise,
    molar,
    nearest,
    shown,
    swap,
    written,
)

_GAS_CONSTANT = Fraction("8.314462618")
_FARADAY = Fraction("96485.33212")
_FAULTS = (FaultKind.SWAPPED, FaultKind.LOST, FaultKind.MORE)
_LEAST_STEPS = 3
"""Of a balance, or an ammeter: what is smaller is not measured on it."""
_STEPS_G = (100, 1000, 10_000, 100_000)  # µg
_EYES = "Wear eye protection and gloves; ventilate."
_SOURCE = "Common practice, no source; check the safety data sheets and local rules."


@dataclass(frozen=True, slots=True)
class Drawn:
    """A lab as it was drawn, without its id.

    Attributes
    ----------
    title, about : str
    consumed, produced : amount model
    instruments : mapping of str to Instrument
    candidates : tuple of Candidate
    shared, trials : readings as typed, by their names
    cautions : tuple of Caution
    truth : str
    fault : PlantedFault or None
    consumed_mol : Fraction
    true_values : tuple of mapping
        By trial, in the unit of each reading: what would have been read without any error.
    """

    title: str
    about: str
    consumed: AmountModel
    produced: AmountModel
    instruments: dict[str, Instrument]
    candidates: tuple[Candidate, ...]
    shared: dict[str, str]
    trials: tuple[dict[str, str], ...]
    cautions: tuple[Caution, ...]
    truth: str
    fault: PlantedFault | None
    consumed_mol: Fraction
    true_values: tuple[dict[str, float], ...]


@dataclass(frozen=True, slots=True)
class _Readings:
    """What was drawn: texts and true values by trial, and those that serve all."""

    displays: dict[str, Display]
    rises: tuple[Rise, ...]
    shared: dict[str, str] = field(default_factory=dict)
    texts: list[dict[str, str]] = field(default_factory=list)
    true_values: list[dict[str, float]] = field(default_factory=list)

    def read(self, values: Mapping[str, tuple[int, int]], sigmas: Mapping[str, int], lot: Lot,
             *, shared: bool = False) -> None:  # fmt: skip
        """Read values (true, as the instrument has them) as their displays show them."""
        texts = {
            name: written(
                shown(seen + lot.normal(sigmas[name]), self.displays[name].step),
                self.displays[name].step,
            )
            for name, (_, seen) in values.items()
        }
        if shared:
            self.shared.update(texts)
            return
        self.texts.append(texts)
        self.true_values.append({name: true / MICRO for name, (true, _) in values.items()})

    def clear(self) -> bool:
        """Return whether everything that should rise did, by steps that can be seen."""
        return all(
            2 * Fraction(self.displays[rise.larger].step, MICRO)
            <= rise.of({n: Fraction(t) for n, t in one.items()})
            <= rise.most
            for one in self.texts
            for rise in self.rises
        )


class _SetUp(Protocol):
    """How much is taken, and what it is measured with."""

    @property
    def consumed_mol(self) -> Fraction: ...

    def instruments(self) -> dict[str, Instrument]: ...


_S = TypeVar("_S", bound=_SetUp)


class _Scene(ABC, Generic[_S]):
    """What is done, and what is thought of."""

    __slots__ = ()

    @abstractmethod
    def candidates(self) -> tuple[Candidate, ...]:
        """Return what may be true."""

    @abstractmethod
    def set_ups(self, apart: Fraction) -> Iterator[_S]:
        """Yield what can be taken so that two candidates differ by so many steps."""

    @abstractmethod
    def models(self, set_up: _S) -> tuple[AmountModel, AmountModel]:
        """Return how what is consumed and what is produced are measured."""

    @abstractmethod
    def readings(
        self, set_up: _S, ratio: Fraction, part: Fraction, count: int, lot: Lot
    ) -> _Readings:
        """Draw the readings of so many trials, of which a part of the product was found."""

    @abstractmethod
    def fault(self, kind: FaultKind) -> str:
        """Return what went wrong, with braces for how much."""

    @abstractmethod
    def words(self, set_up: _S) -> tuple[str, str]:
        """Return title and scenario."""

    @abstractmethod
    def cautions(self) -> tuple[Caution, ...]:
        """Return what to beware of."""


def drawn(kind: str, level: int, lot: Lot) -> Drawn | None:
    """Draw a lab of a kind and a level; None if something does not show.

    Parameters
    ----------
    kind : "gas", "titration" or "charge"
    level : int
    lot : Lot
    """
    asked = ASKED[level]
    scenes = [s for s in SCENES[kind] if asked.least_gap <= _gap(s) <= asked.most_gap]
    return _drawn(scenes[lot.below(len(scenes))], asked, lot)


def _drawn(scene: _Scene[_S], asked: Level, lot: Lot) -> Drawn | None:
    apart = Fraction(asked.apart[lot.below(len(asked.apart))], 10)
    found = list(scene.set_ups(apart))
    if not found:
        return None
    set_up = found[lot.below(len(found))]
    candidates = scene.candidates()
    truth = candidates[lot.below(len(candidates))]
    count = asked.trials[lot.below(len(asked.trials))]
    kind_of_fault, part = None, Fraction(1)
    if lot.below(8) < asked.faults:
        kind_of_fault = _FAULTS[lot.below(len(_FAULTS))]
        size = lot.between(70, 150)
        if kind_of_fault is not FaultKind.SWAPPED:
            part += Fraction(-size if kind_of_fault is FaultKind.LOST else size, 1000)
    readings = scene.readings(set_up, truth.ratio, part, count, lot)
    if not readings.clear():
        return None
    names = [str(i + 1) for i in range(count)]
    fault = None
    if kind_of_fault is FaultKind.SWAPPED:
        fault = swap(readings.texts, names, readings.displays, readings.rises, lot)
    elif kind_of_fault is not None:
        size_text = f"{abs(float(100 * (part - 1))):.0f} %"
        fault = PlantedFault(kind_of_fault, scene.fault(kind_of_fault).format(size_text))
    title, about = scene.words(set_up)
    return Drawn(
        title, about, *scene.models(set_up), set_up.instruments(), candidates, readings.shared,
        tuple(readings.texts), scene.cautions(), truth.name, fault, set_up.consumed_mol,
        tuple(readings.true_values),
    )  # fmt: skip


def _gap(scene: _Scene[Any]) -> Fraction:
    """Return the least difference of two ratios, as a part of the larger."""
    ratios = sorted(one.ratio for one in scene.candidates())
    return min((b - a) / b for a, b in pairwise(ratios))


def _nearest_two(scene: _Scene[Any]) -> tuple[Fraction, Fraction]:
    ratios = sorted(one.ratio for one in scene.candidates())
    return min(pairwise(ratios), key=lambda pair: pair[1] - pair[0])


def _ends(scene: _Scene[Any]) -> tuple[Fraction, Fraction]:
    ratios = [one.ratio for one in scene.candidates()]
    return min(ratios), max(ratios)


def balance_of(step: int) -> Balance:
    """Return a balance of a step in micrograms, which repeats to half of it."""
    return Balance(readability_g=step / MICRO, repeatability_g=step / 2 / MICRO)


def _varied(amount: Fraction, lot: Lot) -> Fraction:
    """Return an amount that one group in particular took."""
    return amount * lot.between(850, 1150) / 1000


# Gas


@dataclass(frozen=True, slots=True)
class _Tube:
    """A gas tube: figures in millionths of a millilitre."""

    capacity_mL: int
    graduation: int
    step: int
    tolerance: int

    @property
    def sigma(self) -> int:
        return self.graduation // 5

    def made(self) -> GraduatedCylinder:
        return GraduatedCylinder(
            capacity_mL=self.capacity_mL, tolerance_mL=self.tolerance / MICRO,
            graduation_mL=self.graduation / MICRO, resolution_mL=self.step / MICRO,
            repeatability_mL=self.sigma / MICRO, temperature_C=0.0,
        )  # fmt: skip


_TUBES = (
    _Tube(50, 100_000, 10_000, 100_000),
    _Tube(100, 1_000_000, 100_000, 1_000_000),
    _Tube(250, 2_000_000, 1_000_000, 2_000_000),
)
_ROOM_ML_PER_MOL = 24_500
_THERMOMETER = Thermometer(readability_C=0.1, tolerance_C=0.5, repeatability_C=0.05)
_BAROMETER = Barometer(readability_kPa=0.1, tolerance_kPa=0.2, repeatability_kPa=0.05)


@dataclass(frozen=True, slots=True)
class _GasSetUp:
    consumed_mol: Fraction
    step: int
    tube: _Tube

    def instruments(self) -> dict[str, Instrument]:
        return {
            "balance": balance_of(self.step), "gas tube": self.tube.made(),
            "thermometer": _THERMOMETER, "barometer": _BAROMETER,
        }  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Gas(_Scene[_GasSetUp]):
    """A metal in acid; the hydrogen is collected over water."""

    metal: str
    states: tuple[str, ...]

    def candidates(self) -> tuple[Candidate, ...]:
        return oxidation_states(self.metal, self.states, displaced="H^+")

    def set_ups(self, apart: Fraction) -> Iterator[_GasSetUp]:
        low, high = _nearest_two(self)
        least, most = _ends(self)
        for step in _STEPS_G:
            a = Fraction(step, MICRO) / molar(self.metal)
            for tube in _TUBES:
                b = Fraction(tube.step + tube.tolerance, MICRO * _ROOM_ML_PER_MOL)
                amount = max(apart * (b + high * a) / (high - low), _LEAST_STEPS * a)
                volumes = (least * amount * _ROOM_ML_PER_MOL, most * amount * _ROOM_ML_PER_MOL)
                fits = tube.capacity_mL / 10 <= volumes[0] and volumes[1] <= tube.capacity_mL * 0.7
                if fits:
                    yield _GasSetUp(amount, step, tube)

    def models(self, set_up: _GasSetUp) -> tuple[AmountModel, AmountModel]:
        del set_up
        return (
            MassByDifference(species=self.metal, heavier="ribbon"),
            GasVolume(
                species="H2", final="gas volume", temperature="room temperature",
                pressure="room pressure", instrument="gas tube",
            ),
        )  # fmt: skip

    def readings(
        self, set_up: _GasSetUp, ratio: Fraction, part: Fraction, count: int, lot: Lot
    ) -> _Readings:
        tube = set_up.tube
        found = _Readings(
            {
                "ribbon": Display(set_up.step), "gas volume": Display(tube.step, "gas tube", "mL"),
                "room temperature": Display(100_000, "thermometer", "°C"),
                "room pressure": Display(100_000, "barometer", "kPa"),
            },
            (Rise("ribbon"), Rise("gas volume", most=Fraction(tube.capacity_mL))),
        )  # fmt: skip
        warm, pressure = lot.between(18_000_000, 26_000_000), lot.between(98_000_000, 103_000_000)
        wrong = {"room temperature": lot.even(500_000), "room pressure": lot.even(200_000)}
        found.read(
            {
                "room temperature": (warm, warm - wrong["room temperature"]),
                "room pressure": (pressure, pressure - wrong["room pressure"]),
            },
            {"room temperature": 50_000, "room pressure": 50_000},
            lot,
            shared=True,
        )
        kelvin = Fraction(warm, MICRO) + Fraction("273.15")
        dry_kPa = Fraction(pressure, MICRO) - _vapour_kPa(Fraction(warm, MICRO))
        tolerance = lot.pointed(tube.tolerance)
        for _ in range(count):
            amount = _varied(set_up.consumed_mol, lot)
            mass = nearest(amount * molar(self.metal) * MICRO)
            litres = amount * ratio * part * _GAS_CONSTANT * kelvin / dry_kPa
            volume = nearest(1000 * litres * MICRO)
            found.read(
                {"ribbon": (mass, mass), "gas volume": (volume, volume - tolerance)},
                {"ribbon": set_up.step // 2, "gas volume": tube.sigma},
                lot,
            )
        return found

    def fault(self, kind: FaultKind) -> str:
        if kind is FaultKind.LOST:
            return "In every trial {} of the gas escaped before the tube stood over the metal."
        return "Air stood in the tube: the volume was {} too large in every trial."

    def words(self, set_up: _GasSetUp) -> tuple[str, str]:
        del set_up
        metal = element_name(self.metal)
        return (
            f"{metal} in acid, gas over water",
            f"A piece of {metal} ribbon is weighed on the tared balance and dissolves in acid; the "
            "hydrogen is collected over water in a graduated tube and read at one level with the "
            f"water outside. Which ion did the {metal} become?",
        )

    def cautions(self) -> tuple[Caution, ...]:
        return (
            Caution(
                subject="a metal in acid, hydrogen",
                advice=(
                    _EYES,
                    "Hydrogen burns and explodes with air: no flame and no spark near it; let it "
                    "go under a hood.",
                    "Acid burns skin and eyes: rinse splashes off at once. Collect the solution "
                    "as metal waste.",
                ),
                source=_SOURCE,
            ),
        )


@lru_cache(maxsize=1)
def _vapour_table_Pa() -> tuple[Fraction, ...]:
    return tuple(Fraction(row["vapour_pressure_Pa"]) for row in data_table("water.csv"))


def _vapour_kPa(temperature_C: Fraction) -> Fraction:
    """Return the vapour pressure of water, straight between the degrees of the table."""
    table, below = _vapour_table_Pa(), int(temperature_C)
    part = temperature_C - below
    return (table[below] * (1 - part) + table[below + 1] * part) / 1000


# Titration

_BURETTE = Burette(
    capacity_mL=50.0, glass_class="B", tolerance_mL=0.1, graduation_mL=0.1, resolution_mL=0.01,
    repeatability_mL=0.01,
)  # fmt: skip
_STRENGTHS = (50_000, 100_000, 200_000, 500_000, 1_000_000)  # µmol/L
_EXPANSION = 840  # millionths: 4 °C and 2.1e-4 a degree


@dataclass(frozen=True, slots=True)
class _TitrationSetUp:
    consumed_mol: Fraction
    step: int
    strength: int

    def instruments(self) -> dict[str, Instrument]:
        return {"balance": balance_of(self.step), "burette": _BURETTE}


@dataclass(frozen=True, slots=True)
class _Titration(_Scene[_TitrationSetUp]):
    """A solid of known molar mass, and how much of a titrant it takes."""

    solid: str
    name: str
    titrant: str
    solution: str
    ratios: tuple[tuple[str, str], ...]
    question: str
    caution: str

    def candidates(self) -> tuple[Candidate, ...]:
        return plain_ratios(dict(self.ratios), consumed=self.solid, produced=self.titrant)

    def set_ups(self, apart: Fraction) -> Iterator[_TitrationSetUp]:
        low, high = _nearest_two(self)
        least, most = _ends(self)
        for step in _STEPS_G:
            a = Fraction(step, MICRO) / molar(self.solid)
            for strength in _STRENGTHS:
                per_mL = Fraction(strength, MICRO * 1000)
                b = per_mL * Fraction(11, 100)
                amount = max(apart * (b + high * a) / (high - low), _LEAST_STEPS * a)
                fits = least * amount / per_mL >= 4 and most * amount / per_mL <= 34
                if fits and amount * molar(self.solid) <= 2:
                    yield _TitrationSetUp(amount, step, strength)

    def models(self, set_up: _TitrationSetUp) -> tuple[AmountModel, AmountModel]:
        return (
            MassByDifference(
                species=self.solid, heavier="bottle before", lighter="bottle after"
            ),
            SolutionVolume(
                species=self.titrant, final="burette after", initial="burette before",
                concentration=KnownConcentration(
                    mol_per_L=set_up.strength / MICRO,
                    half_width_mol_per_L=set_up.strength / 200 / MICRO,
                    name=self.solution,
                ),
            ),
        )  # fmt: skip

    def readings(
        self, set_up: _TitrationSetUp, ratio: Fraction, part: Fraction, count: int, lot: Lot
    ) -> _Readings:
        balance, burette = Display(set_up.step), Display(10_000, "burette", "mL")
        found = _Readings(
            {
                "bottle before": balance, "bottle after": balance,
                "burette before": burette, "burette after": burette,
            },
            (
                Rise("bottle before", "bottle after"),
                Rise("burette after", "burette before", Fraction(48)),
            ),
        )  # fmt: skip
        strength = set_up.strength + lot.even(set_up.strength // 200)
        tolerance, warmth = lot.pointed(100_000), lot.even(_EXPANSION)
        for _ in range(count):
            amount = _varied(set_up.consumed_mol, lot)
            mass = nearest(amount * molar(self.solid) * MICRO)
            true = amount * ratio * part * 1000 * MICRO / strength  # mL
            read = (true - Fraction(tolerance, MICRO)) / (1 + Fraction(warmth, MICRO))
            bottle, start = lot.between(11_000_000, 19_000_000), lot.between(0, 3_000_000)
            end = start + nearest(true * MICRO)
            found.read(
                {
                    "bottle before": (bottle + mass, bottle + mass),
                    "bottle after": (bottle, bottle),
                    "burette before": (start, start),
                    "burette after": (end, start + nearest(read * MICRO)),
                },
                {
                    "bottle before": set_up.step // 2, "bottle after": set_up.step // 2,
                    "burette before": 10_000, "burette after": 10_000,
                },
                lot,
            )  # fmt: skip
        return found

    def fault(self, kind: FaultKind) -> str:
        if kind is FaultKind.LOST:
            return "In every trial {} of the crystals stuck to the funnel and was not titrated."
        return "Every titration was run past its end: the volume was {} too large."

    def words(self, set_up: _TitrationSetUp) -> tuple[str, str]:
        strength = written(set_up.strength, 100)
        return (
            f"{self.name} titrated",
            f"{self.name[:1].upper()}{self.name[1:]} is weighed out of a bottle and titrated with "
            f"{self.solution}, {strength} mol/L to within 0.5 %. {self.question}",
        )

    def cautions(self) -> tuple[Caution, ...]:
        advice = (_EYES, "Fill the burette below eye level, through a funnel.", self.caution)
        return (Caution(subject=f"titration with {self.solution}", advice=advice, source=_SOURCE),)


# Charge


@dataclass(frozen=True, slots=True)
class _AmmeterOf:
    step: int  # µA
    relative: int  # millionths

    def made(self) -> Ammeter:
        return Ammeter(
            readability_A=self.step / MICRO, tolerance_relative=self.relative / MICRO,
            tolerance_A=0.0, repeatability_A=self.step / 2 / MICRO,
        )  # fmt: skip


_AMMETERS = (_AmmeterOf(1000, 5000), _AmmeterOf(10_000, 10_000), _AmmeterOf(100_000, 20_000))
_CURRENTS = (200_000, 500_000, 1_000_000, 2_000_000)
_TIMER = Timer(readability_s=1.0, reaction_s=0.5, repeatability_s=0.5)


@dataclass(frozen=True, slots=True)
class _ChargeSetUp:
    consumed_mol: Fraction
    step: int
    ammeter: _AmmeterOf
    current: int

    def instruments(self) -> dict[str, Instrument]:
        return {
            "balance": balance_of(self.step), "ammeter": self.ammeter.made(), "timer": _TIMER,
        }  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Charge(_Scene[_ChargeSetUp]):
    """A metal plated at constant current."""

    metal: str
    states: tuple[int, ...]

    def candidates(self) -> tuple[Candidate, ...]:
        equations = {
            f"{element_name(self.metal)}({ROMAN[s - 1]})": f"{ion_of(self.metal, s)} + e- -> "
            f"{self.metal}"
            for s in self.states
        }
        return from_equations(equations, consumed="e-", produced=self.metal)

    def set_ups(self, apart: Fraction) -> Iterator[_ChargeSetUp]:
        low, high = _nearest_two(self)
        least, most = _ends(self)
        for step in _STEPS_G:
            b = Fraction(step, MICRO) / molar(self.metal)
            for ammeter in _AMMETERS:
                for current in _CURRENTS:
                    blur = Fraction(ammeter.step, current)
                    left = (high - low) - apart * high * blur
                    if current < _LEAST_STEPS * ammeter.step or left <= 0:
                        continue
                    amount = max(apart * b / left, _LEAST_STEPS * b / least)
                    seconds = amount * _FARADAY * MICRO / current
                    if 100 <= seconds <= 5400 and most * amount * molar(self.metal) <= 2:
                        yield _ChargeSetUp(amount, step, ammeter, current)

    def models(self, set_up: _ChargeSetUp) -> tuple[AmountModel, AmountModel]:
        del set_up
        return (
            ElectricCharge(species="e-", current="current", time="time"),
            MassByDifference(species=self.metal, heavier="strip after", lighter="strip before"),
        )

    def readings(
        self, set_up: _ChargeSetUp, ratio: Fraction, part: Fraction, count: int, lot: Lot
    ) -> _Readings:
        balance = Display(set_up.step)
        found = _Readings(
            {
                "current": Display(set_up.ammeter.step, "ammeter", "A"),
                "time": Display(MICRO, "timer", "s"),
                "strip before": balance, "strip after": balance,
            },
            (
                Rise("strip after", "strip before"),
                Rise("current", most=Fraction(20)),
                Rise("time", most=Fraction(20_000)),
            ),
        )  # fmt: skip
        relative = lot.even(set_up.ammeter.relative)
        for _ in range(count):
            current = set_up.current * lot.between(950, 1050) // 1000
            amount = _varied(set_up.consumed_mol, lot)
            time = nearest(amount * _FARADAY * MICRO * MICRO / current)
            mass = nearest(amount * ratio * part * molar(self.metal) * MICRO)
            strip = lot.between(8_000_000, 12_000_000)
            pressed = lot.even(500_000) + lot.even(500_000)
            found.read(
                {
                    "current": (current, nearest(current / (1 + Fraction(relative, MICRO)))),
                    "time": (time, time - pressed),
                    "strip before": (strip, strip),
                    "strip after": (strip + mass, strip + mass),
                },
                {
                    "current": set_up.ammeter.step // 2, "time": 500_000,
                    "strip before": set_up.step // 2, "strip after": set_up.step // 2,
                },
                lot,
            )  # fmt: skip
        return found

    def fault(self, kind: FaultKind) -> str:
        if kind is FaultKind.LOST:
            return "In every trial {} of the coat flaked off while the strip was rinsed."
        return "The strip was not dry: the coat seemed {} too heavy in every trial."

    def words(self, set_up: _ChargeSetUp) -> tuple[str, str]:
        del set_up
        metal = element_name(self.metal)
        return (
            f"{metal} plated by a measured charge",
            f"A strip hangs in a {metal} bath at constant current and is weighed before and after "
            f"it is plated. Which ion of {metal} was discharged?",
        )

    def cautions(self) -> tuple[Caution, ...]:
        return (
            Caution(
                subject="plating bath and electric supply",
                advice=(
                    _EYES,
                    "Use a low-voltage supply made for the purpose; switch off before touching "
                    "the strip.",
                    "Baths of nickel, cobalt, lead and chromium are poisonous, and some may cause "
                    "cancer: collect them as heavy-metal waste.",
                ),
                source=_SOURCE,
            ),
        )


_ACID = "How many hydrogen ions does one molecule of the acid give?"
_BASE_CAUTION = "Sodium hydroxide solution burns skin and eyes: rinse splashes off at once."
_GROUPS = ("monoprotic", "diprotic", "triprotic", "tetraprotic", "pentaprotic", "hexaprotic")


def _acid(formula: str, name: str, *groups: int) -> _Titration:
    ratios = tuple((_GROUPS[n - 1], str(n)) for n in groups)
    return _Titration(
        formula, name, "OH^-", "sodium hydroxide solution", ratios, _ACID, _BASE_CAUTION
    )


def _permanganate(formula: str, name: str, electrons: int) -> _Titration:
    """What permanganate becomes is told by the electrons it takes: 5, 4 or 3."""
    ratios = tuple(
        (word, str(Fraction(electrons, taken)))
        for word, taken in (("manganese(II)", 5), ("manganese(III)", 4), ("manganese(IV)", 3))
    )
    return _Titration(
        formula, name, "MnO4^-", "potassium permanganate solution", ratios,
        "To which oxidation state of manganese is the permanganate reduced?",
        "Potassium permanganate is an oxidiser and toxic to aquatic life; oxalates are harmful: "
        "collect the solutions.",
    )  # fmt: skip


def _silver(formula: str, name: str, *chlorides: int) -> _Titration:
    ratios = tuple((f"{n} chloride ion{'s' if n > 1 else ''}", str(n)) for n in chlorides)
    return _Titration(
        formula, name, "Ag^+", "silver nitrate solution", ratios,
        "How many chloride ions of one formula unit are free to meet silver?",
        "Silver nitrate stains and burns skin; cobalt and chromium salts may cause cancer: collect "
        "all as heavy-metal waste.",
    )  # fmt: skip


SCENES: dict[str, tuple[_Scene[Any], ...]] = {
    "gas": (
        _Gas("Mg", ("1", "2")),
        _Gas("Mg", ("1", "2", "3")),
        _Gas("Mg", ("2", "3")),
        _Gas("Zn", ("1", "2")),
        _Gas("Zn", ("2", "3")),
        _Gas("Al", ("2", "3")),
        _Gas("Fe", ("2", "3")),
        _Gas("Mn", ("2", "3", "4")),
        _Gas("Sn", ("2", "4")),
        _Gas("Cr", ("2", "3")),
        _Gas("Ti", ("3", "4")),
        _Gas("Ni", ("1", "2")),
    ),
    "titration": (
        _acid("C6H8O7", "citric acid", 1, 2, 3),
        _acid("C6H8O7", "citric acid", 2, 3),
        _acid("H2C2O4.2H2O", "oxalic acid", 1, 2),
        _acid("C4H6O6", "tartaric acid", 1, 2),
        _acid("C4H6O6", "tartaric acid", 2, 3),
        _acid("C10H6O8", "pyromellitic acid", 3, 4),
        _acid("C12H6O12", "mellitic acid", 5, 6),
        _acid("KH2PO4", "potassium dihydrogen phosphate", 1, 2),
        _permanganate("Na2C2O4", "sodium oxalate", 2),
        _permanganate("Fe(NH4)2(SO4)2.6H2O", "ammonium iron(II) sulfate", 1),
        _silver("Co(NH3)6Cl3", "hexaamminecobalt(III) chloride", 2, 3),
        _silver("Co(NH3)5Cl3", "pentaamminechloridocobalt(III) chloride", 1, 2),
    ),
    "charge": (
        _Charge("Cu", (1, 2)),
        _Charge("Ag", (1, 2)),
        _Charge("Sn", (2, 4)),
        _Charge("Pb", (2, 4)),
        _Charge("Ni", (2, 3)),
        _Charge("Co", (2, 3)),
        _Charge("Fe", (2, 3)),
        _Charge("Cr", (2, 3)),
        _Charge("In", (1, 3)),
        _Charge("Ir", (3, 4)),
        _Charge("Zn", (1, 2)),
        _Charge("Cu", (1, 2, 3)),
    ),
}
