"""What a group should have calculated from its own readings, and which answers to accept."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from ..errors import StoichkitError
from ..experiments.checks import read_value
from ..experiments.parts import Trial
from ..experiments.record import Experiment
from ..measurement.base import Role, Step
from ..uncertainty import entry
from ..uncertainty.readings import ErrorPool, Reading
from ..uncertainty.sources import Number, contributions, nominal, standard_uncertainty
from .accepted import Accepted
from .formulas import Node, NotKnown, is_plain_sum, tree_of

ACCEPTED = (
    "An answer stands for every number that it may have been rounded from. It is accepted if one "
    "of them lies in the range given: half a unit of the last significant digit either way, at "
    "most 5 % (common practice, no source). Where the readings bear one digit, the value rounded "
    "to one digit is accepted as well.",
    "A sum or difference of readings alone is exact: no other number is accepted.",
    "A value found in a table by a reading is accepted within one standard uncertainty, or within "
    "one unit of its last significant digit if that is more.",
    "Sums and differences keep the decimals of their reading with the fewest; products and "
    "quotients keep the significant digits of their factor with the fewest.",
    "Molar masses are accepted within 0.1 g/mol, other given values within 0.1 %.",
    "Each step starts from the unrounded result of the step before.",
    "Where a mass or an amount comes out below zero nothing is asked; that it does is said.",
)
_MOLAR_MASS_G_PER_MOL = 0.1
_GIVEN = 0.001
_TABLE_FIGURES = 3
"""Of a value that is found in a table by a reading."""
_SCALE = {"°C": "K"}


@dataclass(frozen=True, slots=True)
class AnswerLine:
    """One step of the calculation of a group.

    Attributes
    ----------
    trial : str
        Name of the trial; "all" for the mean.
    symbol, words, formula, unit : str
        As :class:`stoichkit.measurement.base.Step`.
    value, standard_uncertainty : float
        Unrounded; nan if the step cannot be calculated.
    digits : int
        Significant digits the readings give it; 0 for a value from a table.
    low, high : float
        Answers accepted, unrounded.
    note : str
        Why a step cannot be calculated, or is not asked for.
    exact : bool
        Whether it is a sum or difference of readings alone, which nobody has to round.
    """

    trial: str
    symbol: str
    words: str
    formula: str
    value: float
    unit: str
    standard_uncertainty: float
    digits: int
    low: float
    high: float
    note: str = ""
    exact: bool = False

    @property
    def accepted(self) -> Accepted:
        """Which numbers are right."""
        return Accepted(
            value=self.value, low=self.low, high=self.high, figures=self.digits, exact=self.exact
        )

    @property
    def answer(self) -> str:
        """The value with its significant digits; "" for a value from a table."""
        if not self.digits or math.isnan(self.value):
            return ""
        if self.value == 0:
            return "0"
        rounded = exact = Decimal(f"{self.value:.12g}")
        for _ in range(2):  # 9.99 becomes 10.0 and then 10
            last = Decimal(1).scaleb(rounded.adjusted() - self.digits + 1)
            rounded = exact.quantize(last, ROUND_HALF_UP)
        plain = -4 <= rounded.adjusted() < self.digits
        return f"{rounded:f}" if plain else f"{rounded:.{self.digits - 1}e}"


def answer_lines(experiment: Experiment) -> tuple[AnswerLine, ...]:
    """Work out each step of each trial from the readings, with the answers to accept.

    Parameters
    ----------
    experiment : Experiment
        The record of one group.

    Returns
    -------
    tuple of AnswerLine
        For each trial the steps to both amounts and the mole ratio; with several trials the mole
        ratio of the mean amounts last. The rule is in ``ACCEPTED``.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> lines = answer_lines(experiments.load("copper-silver"))
    >>> for line in lines[:3]:
    ...     print(line.symbol, line.answer, f"{line.low:.4g} to {line.high:.4g}", line.unit)
    m(Cu) 0.12 0.12 to 0.12 g
    M(Cu)  63.45 to 63.65 g/mol
    n(Cu) 0.0019 0.001838 to 0.001938 mol
    >>> lines[-1].words, lines[-1].answer
    ('mole ratio of the mean amounts', '2.1')
    """
    entry.record("experiment", experiment, Experiment)
    pool = ErrorPool()
    lines: list[AnswerLine] = []
    pairs: list[tuple[Number, Number]] = []
    fewest: list[int] = []
    for trial in experiment.trials:
        try:
            key = _TrialKey(experiment, trial, pool)
            lines += key.lines()
        except StoichkitError as error:
            nan = math.nan
            lines.append(AnswerLine(trial.name, "", "", "", nan, "", nan, 0, nan, nan, str(error)))
            continue
        pairs.append(key.amounts)
        fewest.append(key.digits)
    if not all(nominal(amount) >= 0 for pair in pairs for amount in pair):
        pairs = []  # it is said of the trial
    if len(pairs) > 1 and len(pairs) == len(experiment.trials):
        a, b = (sum(pair[side] for pair in pairs) / len(pairs) for side in (0, 1))
        words = "mole ratio of the mean amounts"
        lines += _ratio(experiment, "all", words, a, b, min(fewest))
    return tuple(lines)


def _ratio(
    experiment: Experiment, trial: str, words: str, a: Number, b: Number, digits: int
) -> Iterator[AnswerLine]:
    produced, consumed = experiment.produced.species, experiment.consumed.species
    formula = f"n({produced}) / n({consumed})"
    below = ""
    if nominal(a) <= 0:
        below = "the amount consumed is below zero" if nominal(a) < 0 else "nothing was consumed"
    elif nominal(b) < 0:
        below = "the amount produced is below zero"
    if below:
        yield _not_asked(trial, Step("r", words, formula, math.nan, ""), f"No ratio: {below}.")
        return
    yield _line(trial, Step("r", words, formula, b / a, ""), digits)


def _not_asked(trial: str, step: Step, note: str) -> AnswerLine:
    """Return the line of a step that nobody can be asked for, and why."""
    nan = math.nan
    return AnswerLine(
        trial, step.symbol, step.words, step.formula, nan, step.unit, nan, 0, nan, nan, note
    )


def _line(trial: str, step: Step, digits: int, *, exact: bool = False) -> AnswerLine:
    """Return the line of one step, with the answers that are accepted."""
    value, u = nominal(step.value), standard_uncertainty(step.value)
    half = 0.0
    if not digits:
        half = _MOLAR_MASS_G_PER_MOL if step.unit == "g/mol" else _GIVEN * abs(value)
        half = max(u, half)
    elif not step.formula:  # found in a table by what was read
        digits = min(digits, _TABLE_FIGURES)
        half = max(u, 10.0 ** (_magnitude(value) + 1 - digits))
    elif not exact:
        half = Accepted.of(value, digits).high - value
    low, high = (0.0 if abs(end) < 1e-9 * half else end for end in (value - half, value + half))
    return AnswerLine(
        trial, step.symbol, step.words, step.formula, value, step.unit, u, digits, low, high,
        exact=exact,
    )  # fmt: skip


def _magnitude(value: float) -> int:
    size = abs(float(f"{value:.12g}"))  # 0.3 − 0.2 is 0.1, not 0.09999999999999998
    return math.floor(math.log10(size)) if size else 0


class _TrialKey:
    """The steps of one trial, with the significant digits that its readings carry on."""

    def __init__(self, experiment: Experiment, trial: Trial, pool: ErrorPool) -> None:
        self.experiment, self.trial = experiment, trial
        values = experiment.quantities(trial, pool)
        self.steps = (
            experiment.consumed.explain(values, pool),
            experiment.produced.explain(values, pool),
        )
        self.amounts = (self.steps[0][-1].value, self.steps[1][-1].value)
        self.typed: dict[str, tuple[Role, Reading]] = {}
        for role in experiment.roles():
            for owner, readings in (("", experiment.shared_readings), (trial.name, trial.readings)):
                if role.name in readings:
                    label = f"{role.name}, trial {owner}" if owner else role.name
                    typed = read_value(role, readings[role.name])
                    self.typed[label] = (role, typed)
        self.carried = {label: _digits_of(r) for label, (_, r) in self.typed.items()}
        self.digits = 0

    def lines(self) -> list[AnswerLine]:
        """Return the lines of all steps and the mole ratio."""
        consumed, produced = ([self._step(step) for step in steps] for steps in self.steps)
        read = [steps[-1].digits for steps in (consumed, produced) if steps[-1].digits]
        self.digits = min(read, default=3)
        a, b = self.amounts
        ratio = _ratio(self.experiment, self.trial.name, "mole ratio", a, b, self.digits)
        return [*consumed, *produced, *ratio]

    def _step(self, step: Step) -> AnswerLine:
        """Return the line of one step, and carry its digits on to later ones."""
        if step.formula and nominal(step.value) < 0:
            value = f"{nominal(step.value):.4g}".replace("-", "−")
            note = (
                f"The {step.words} comes out below zero ({value} {step.unit}). Check which reading "
                "is subtracted from which."
            )
            return _not_asked(self.trial.name, step, note)
        effects: dict[str, float] = {}
        for source, c in contributions(step.value):
            if source.kind == "rounding" and source.reading in self.typed:
                effects[source.reading] = c
        summed = [
            label
            for label, c in effects.items()
            if _SCALE.get(self.typed[label][0].unit, self.typed[label][0].unit) == step.unit
            and abs(abs(c) - 1) < 1e-3
        ]
        if not effects:
            return _line(self.trial.name, step, 0)
        if summed:
            place = min(self.typed[label][1].decimals for label in summed)
            digits = max(1, _magnitude(nominal(step.value)) + 1 + place)
            for label in summed:
                self.carried[label] = digits
            exact = self._is_difference(step, place)
            return _line(self.trial.name, step, digits, exact=exact)
        digits = min(self.carried[label] for label in effects)
        for label in effects:
            self.carried[label] = digits
        return _line(self.trial.name, step, digits)

    def _is_difference(self, step: Step, place: int) -> bool:
        """Whether it is a sum of readings alone that ends at their decimals, as no mean need do."""
        value = nominal(step.value)
        if step.unit == "K" or abs(value - round(value, place)) > 1e-6 * 10.0**-place:
            return False
        try:
            tree = tree_of(step.formula, {role.name for role, _ in self.typed.values()}, ())
        except NotKnown:
            return False
        return isinstance(tree, Node) and is_plain_sum(tree)


def _digits_of(reading: Reading) -> int:
    """Count the significant digits of a typed number."""
    return max(1, _magnitude(reading.value) + 1 + reading.decimals)
