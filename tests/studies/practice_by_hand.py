"""Practice labs with gas, titration or charge worked out once more from their texts.

As in :mod:`.practice`: what careful people type, and what one mistake at a time leads to.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from decimal import Decimal
from functools import cached_property

from stoichkit._common import data_table
from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.chemistry.formula import SYMBOLS
from stoichkit.decision.typed import MistakeKind as Kind
from stoichkit.experiments.practice_labs import PracticeLab
from stoichkit.reports.question import Question

Made = tuple[str, str, Kind, dict[str, float]]
"""Question, what is typed, the mistake made, and answers typed before."""
R, F = 8.314462618, 96485.33212


def figures(value: Decimal) -> int:
    """Return the figures of a difference as it stands."""
    return len(value.as_tuple().digits) if value else 1


def typed(value: float, count: int) -> str:
    """Write a value with so many figures, as a person does."""
    places = count - 1 - math.floor(math.log10(abs(value))) if value else count
    return f"{value:.{places}f}" if 0 <= places < 8 else f"{value:.{count - 1}e}"


def powers(value: float, own: int) -> tuple[str, str]:
    """Write a value with a power of ten, in two ways."""
    size = math.floor(math.log10(value))
    raised = str(size).translate(str.maketrans("0123456789-", "⁰¹²³⁴⁵⁶⁷⁸⁹⁻"))
    part = f"{value / 10.0**size:.{own}f}"
    return f"{part}·10{raised}", f"{part}x10^{size}"


def vapour_kPa(temperature_C: float) -> float:
    """Return the vapour pressure of water, straight between the degrees of the table."""
    table = [float(row["vapour_pressure_Pa"]) / 1000 for row in data_table("water.csv")]
    below = int(temperature_C)
    return table[below] + (temperature_C - below) * (table[below + 1] - table[below])


class ByHand:
    """The first trial of a lab: what is common to the three kinds."""

    a_mol: float
    b_mol: float
    few_a: int
    few_b: int

    def __init__(self, lab: PracticeLab, questions: dict[str, Question]) -> None:
        self.lab, self.questions, record = lab, questions, lab.experiment
        texts = {**record.shared_readings, **record.trials[0].readings}
        self.read = {name: Decimal(one[-1]) for name, one in texts.items()}
        self.used, self.made = record.consumed.species, record.produced.species
        self.ratio = questions["required ratio"].number.value

    @property
    def r(self) -> float:
        return self.b_mol / self.a_mol

    @property
    def few(self) -> int:
        return min(self.few_a, self.few_b)

    def key(self, symbol: str) -> str:
        """Return the key of a step."""
        for part in ("consumed", "produced"):
            if (found := f"step {symbol} {part}") in self.questions:
                return found
        raise LookupError(symbol)

    # What is asked of all

    def amounts(self) -> tuple[tuple[str, float, int], ...]:
        return (
            (f"n({self.used})", self.a_mol, self.few_a),
            (f"n({self.made})", self.b_mol, self.few_b),
        )

    def right(self) -> Iterator[tuple[str, str]]:
        """Yield what careful people type."""
        for symbol, value, own in self.amounts():
            key = self.key(symbol)
            for count in (own, own + 1, own + 2):
                yield key, typed(value, count)
                yield key, f"{value:.{count - 1}e} mol"
            for text in powers(value, own):
                yield key, text
            yield key, f"{typed(1000 * value, own + 1)} mmol"
        a, b = (float(typed(value, own + 2)) for _, value, own in self.amounts())
        for value in (self.r, b / a):
            for count in (self.few, self.few + 1, self.few + 2):
                yield "ratio", typed(value, count)
        required, unit = self.required
        few = min(self.few_a, 4)
        for count in (few, few + 1):
            yield "expected", f"{typed(required, count)} {unit}"
        few = min(self.few, 3)
        for count in (few, few + 1, few + 2):
            yield "percent", f"{typed(self.percent, count)} %"

    @property
    def required(self) -> tuple[float, str]:
        value = self.a_mol * self.ratio
        if f"m({self.made})" in self.symbols:
            return value * molar_mass_value(self.made), "g"
        return value, "mol"

    @property
    def percent(self) -> float:
        return 100 * self.b_mol / (self.a_mol * self.ratio)

    @cached_property
    def symbols(self) -> set[str]:
        return {key.split(" ")[1] for key in self.questions if key.startswith("step ")}

    def mistakes(self) -> Iterator[Made]:
        """Yield question, what is typed, the mistake made, and answers typed before."""
        few, r = max(self.few, 3), self.r
        yield self.one("ratio", 1 / r, few, Kind.INVERTED)
        yield self.one("ratio", 2 * r, few, Kind.TWICE)
        yield self.one("ratio", r / 2, few, Kind.TWICE)
        yield self.one("ratio", 10 * r, few, Kind.DECIMAL)
        yield self.one("ratio", self.a_mol * self.b_mol, few, Kind.MULTIPLIED)
        for candidate in self.lab.experiment.candidates:
            yield "ratio", typed(float(candidate.ratio), 3), Kind.CANDIDATE, {}
        wrong = 1.37 * self.a_mol
        yield (
            "ratio", typed(self.b_mol / wrong, few), Kind.CARRIED, {f"n({self.used})": wrong},
        )  # fmt: skip
        required, _ = self.required
        if abs(self.ratio - 1) > 0.1:
            yield self.one("expected", required / self.ratio, self.few_a + 1, Kind.COEFFICIENT)
            yield self.one("expected", required / self.ratio**2, self.few_a + 1, Kind.INVERTED)
        yield self.one("expected", 1000 * required, self.few_a + 1, Kind.PREFIX)
        yield self.one("percent", self.percent / 100, few, Kind.FRACTION)
        yield self.one("percent", 1e4 / self.percent, few, Kind.INVERTED)
        yield self.one("percent", 100 - self.percent, few, Kind.MISSING)
        for symbol, value, own in self.amounts():
            key = self.key(symbol)
            yield self.one(key, 1000 * value, own + 1, Kind.PREFIX)
            yield self.one(key, 10 * value, own + 1, Kind.DECIMAL)
            yield self.one(key, 2 * value, own + 1, Kind.TWICE)

    def one(self, key: str, value: float, count: int, kind: Kind) -> Made:
        return key, typed(value, max(count, 3)), kind, {}

    # What is weighed

    def right_molar(self, species: str) -> Iterator[tuple[str, str]]:
        key, molar = self.key(f"M({species})"), molar_mass_value(species)
        yield key, f"{molar:.2f} g mol⁻¹"
        yield key, f"{molar:.3f}"

    def wrong_molar(self, species: str) -> Iterator[Made]:
        key, molar = self.key(f"M({species})"), molar_mass_value(species)
        if species in SYMBOLS:
            number = SYMBOLS.index(species) + 1
            yield key, f"{number}", Kind.ATOMIC_NUMBER, {}
            yield key, f"{molar_mass_value(SYMBOLS[number]):.2f}", Kind.NEIGHBOUR, {}
            yield key, f"{2 * molar:.2f}", Kind.TWO_ATOMS, {}

    def right_difference(self, symbol: str, larger: str, smaller: str, unit: str) -> Iterator[
        tuple[str, str]
    ]:  # fmt: skip
        key, a, b = self.key(symbol), self.read[larger], self.read[smaller]
        yield key, f"{a - b} {unit}"
        yield key, str(a - b).replace(".", ",")
        yield key, f"{a} - {b}"
        yield key, f"{a}−{b} {unit}"

    def wrong_difference(self, symbol: str, larger: str, smaller: str) -> Iterator[Made]:
        key, a, b = self.key(symbol), self.read[larger], self.read[smaller]
        value = a - b
        step = Decimal(1).scaleb(value.as_tuple().exponent)  # type: ignore[arg-type]
        yield key, f"{-value}", Kind.SIGN, {}
        yield key, f"{a + b}", Kind.ADDED, {}
        yield key, f"{a}", Kind.TARE, {}
        yield key, f"{b}", Kind.TARE, {}
        yield key, f"{value + step}", Kind.LAST_DIGIT, {}
        yield key, f"{value + 10 * step}", Kind.LAST_DIGIT, {}
        yield key, f"{10 * value}", Kind.DECIMAL, {}
        yield key, f"{2 * value}", Kind.TWICE, {}

    def wrong_amount(self, species: str, mass: float, own: int) -> Iterator[Made]:
        key, molar = self.key(f"n({species})"), molar_mass_value(species)
        yield self.one(key, mass * molar, own + 1, Kind.MULTIPLIED)
        yield self.one(key, molar / mass, own + 1, Kind.INVERTED)
        if species in SYMBOLS:
            number = SYMBOLS.index(species) + 1
            yield self.one(key, mass / number, own + 1, Kind.ATOMIC_NUMBER)
            other = molar_mass_value(SYMBOLS[number])
            yield self.one(key, mass / other, own + 1, Kind.NEIGHBOUR)

    def other_trial(self, name: str, scale: float) -> Iterator[Made]:
        """Take one reading of the second trial; the ratio changes as that reading does."""
        trials = self.lab.experiment.trials
        if len(trials) > 1:
            part = float(Decimal(trials[1].readings[name][-1]) / self.read[name])
            yield self.one("ratio", self.r * part**scale, max(self.few, 3), Kind.OTHER_TRIAL)


class Gas(ByHand):
    """A metal weighed on a tared balance; hydrogen over water."""

    def __init__(self, lab: PracticeLab, questions: dict[str, Question]) -> None:
        super().__init__(lab, questions)
        self.V, self.t = float(self.read["gas volume"]), float(self.read["room temperature"])
        self.p = float(self.read["room pressure"])
        self.T, self.pw = self.t + 273.15, vapour_kPa(self.t)
        self.m = float(self.read["ribbon"])
        self.a_mol = self.m / molar_mass_value(self.used)
        self.b_mol = (self.p - self.pw) * self.V / (R * self.T) / 1000
        self.few_a = figures(self.read["ribbon"])
        self.few_b = self.questions[self.key("n(H2)")].number.figures

    def right(self) -> Iterator[tuple[str, str]]:
        yield from super().right()
        yield from self.right_molar(self.used)
        kelvin, dry = self.key("T"), self.key("p(H2)")
        yield kelvin, f"{self.T:.2f}"
        yield kelvin, f"{self.T:.1f} K"
        yield kelvin, f"{self.t} + 273.15"
        yield self.key("p(H2O)"), f"{self.pw:.3f} kPa"
        yield self.key("p(H2O)"), f"{self.pw:.2f}"
        for places in (1, 2, 3):
            yield dry, f"{self.p - self.pw:.{places}f}"
        yield dry, f"{self.p}-{self.pw:.3f} kPa"
        yield dry, f"{1000 * (self.p - self.pw):.0f} Pa"
        kPa = f"{self.p - self.pw:.3f}"
        yield self.key("n(H2)"), f"{kPa}*{self.read['gas volume']}/(8.314*{self.T:.2f})/1000"
        molar = molar_mass_value(self.used)
        yield self.key(f"n({self.used})"), f"{self.read['ribbon']}/{molar:.3f}"

    def mistakes(self) -> Iterator[Made]:
        yield from super().mistakes()
        yield from self.wrong_molar(self.used)
        yield from self.wrong_amount(self.used, self.m, self.few_a)
        yield from self.other_trial("gas volume", 1)
        yield from self.other_trial("ribbon", -1)
        key, dry = self.key("n(H2)"), self.key("p(H2)")
        yield self.key("T"), f"{self.t}", Kind.CELSIUS, {}
        yield dry, f"{self.p + self.pw:.2f}", Kind.ADDED, {}
        yield dry, f"{self.p}", Kind.TARE, {}
        yield dry, f"{self.pw:.3f}", Kind.OTHER_STEP, {}
        yield dry, f"{self.pw - self.p:.2f}", Kind.SIGN, {}
        yield dry, f"{1000 * (self.p - self.pw):.0f}", Kind.PREFIX, {}
        few = self.few_b + 1
        yield self.one(key, self.b_mol * self.T / self.t, few, Kind.CELSIUS)
        yield self.one(key, self.b_mol * self.p / (self.p - self.pw), max(few, 4), Kind.TARE)
        yield self.one(key, self.b_mol * self.T**2, few, Kind.MULTIPLIED)
        yield self.one(key, self.b_mol * R, few, Kind.LEFT_OUT)
        yield self.one(key, self.b_mol * self.T, few, Kind.LEFT_OUT)
        yield self.one(key, 1 / self.b_mol, few, Kind.INVERTED)
        yield self.one("ratio", self.r * self.T / self.t, 3, Kind.CELSIUS)


class Titration(ByHand):
    """A solid weighed by difference; a titrant out of a burette."""

    def __init__(self, lab: PracticeLab, questions: dict[str, Question]) -> None:
        super().__init__(lab, questions)
        self.m = self.read["bottle before"] - self.read["bottle after"]
        self.V = self.read["burette after"] - self.read["burette before"]
        self.c = self.lab.experiment.produced.concentration.mol_per_L  # type: ignore[union-attr]
        self.a_mol = float(self.m) / molar_mass_value(self.used)
        self.b_mol = self.c * float(self.V) / 1000
        self.few_a, self.few_b = figures(self.m), figures(self.V)

    def right(self) -> Iterator[tuple[str, str]]:
        yield from super().right()
        yield from self.right_molar(self.used)
        yield from self.right_difference(f"m({self.used})", "bottle before", "bottle after", "g")
        yield from self.right_difference("V", "burette after", "burette before", "mL")
        yield self.key(f"m({self.used})"), f"{1000 * self.m:f} mg"
        yield self.key("V"), f"{self.V / 1000:f} L"
        key = self.key(f"n({self.made})")
        yield key, f"{self.c}*{self.V}/1000"
        yield key, f"{self.c} × {self.V / 1000:f} mol"
        yield key, f"{self.c}*{self.V} mmol"

    def mistakes(self) -> Iterator[Made]:
        yield from super().mistakes()
        yield from self.wrong_molar(self.used)
        yield from self.wrong_amount(self.used, float(self.m), self.few_a)
        yield from self.wrong_difference(f"m({self.used})", "bottle before", "bottle after")
        yield from self.wrong_difference("V", "burette after", "burette before")
        yield self.key(f"m({self.used})"), f"{1000 * self.m:f}", Kind.PREFIX, {}
        yield self.key("V"), f"{self.V / 1000:f}", Kind.PREFIX, {}
        key, few = self.key(f"n({self.made})"), self.few_b + 1
        end = float(self.read["burette after"])
        both = end + float(self.read["burette before"])
        if self.read["burette before"]:
            yield self.one(key, self.c * end / 1000, few, Kind.TARE)
            yield self.one(key, self.c * both / 1000, few, Kind.ADDED)
            yield self.one("ratio", self.c * both / 1000 / self.a_mol, 4, Kind.ADDED)
        yield self.one(key, self.c / float(self.V), few, Kind.MULTIPLIED)
        yield self.one(key, float(self.V) / self.c, few, Kind.MULTIPLIED)
        heavy = float(self.read["bottle before"])
        a_key = self.key(f"n({self.used})")
        yield self.one(a_key, heavy / molar_mass_value(self.used), self.few_a + 2, Kind.TARE)


class Charge(ByHand):
    """Current and time; a strip weighed before and after."""

    def __init__(self, lab: PracticeLab, questions: dict[str, Question]) -> None:
        super().__init__(lab, questions)
        self.current, self.time = float(self.read["current"]), float(self.read["time"])
        self.m = self.read["strip after"] - self.read["strip before"]
        self.a_mol = self.current * self.time / F
        self.b_mol = float(self.m) / molar_mass_value(self.made)
        self.few_a = self.questions[self.key("Q")].number.figures
        self.few_b = figures(self.m)

    def right(self) -> Iterator[tuple[str, str]]:
        yield from super().right()
        yield from self.right_molar(self.made)
        yield from self.right_difference(f"m({self.made})", "strip after", "strip before", "g")
        charge, key = self.current * self.time, self.key("Q")
        for count in (self.few_a, self.few_a + 1, self.few_a + 2):
            yield key, typed(charge, count)
        yield key, f"{self.read['current']} × {self.read['time']} A s"
        yield key, f"{self.read['current']}*{self.read['time']} C"
        yield self.key("n(e-)"), f"{self.read['current']}*{self.read['time']}/96485"

    def mistakes(self) -> Iterator[Made]:
        yield from super().mistakes()
        yield from self.wrong_molar(self.made)
        yield from self.wrong_amount(self.made, float(self.m), self.few_b)
        yield from self.wrong_difference(f"m({self.made})", "strip after", "strip before")
        yield from self.other_trial("time", -1)
        few, key = self.few_a + 1, self.key("Q")
        charge = self.current * self.time
        if abs(self.current - 1) > 0.2:
            yield self.one(key, self.time / self.current, few, Kind.MULTIPLIED)
            yield key, f"{self.read['time']}", Kind.LEFT_OUT, {}
        yield self.one(key, 10 * charge, few, Kind.DECIMAL)
        yield self.one(key, 2 * charge, few, Kind.TWICE)
        key = self.key("n(e-)")
        yield self.one(key, charge * F, few, Kind.MULTIPLIED)
        yield self.one(key, F / charge, few, Kind.INVERTED)
        yield self.one(key, charge, few, Kind.OTHER_STEP)
        heavy = float(self.read["strip after"])
        made = self.key(f"n({self.made})")
        yield self.one(made, heavy / molar_mass_value(self.made), self.few_b + 2, Kind.TARE)


HANDS = {"gas": Gas, "titration": Titration, "charge": Charge}
