"""What if: other readings, or another balance, beside those that were typed.

Nothing typed is changed. What is looked at is a copy of the form with a few cells replaced, or with
every weighing rounded as a coarser balance would have shown it. One undo leads back.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_EVEN, Decimal
from functools import lru_cache
from typing import Any

from ...decision.evidence import Evidence
from ...decision.trust import out_of
from ...diagnosis.slips import Slip, corrected
from ...errors import ModelError, StoichkitError
from ...experiments.record import Experiment
from ...measurement.displays import Balance
from ...text.wording import joined
from ...uncertainty.readings import parse_number
from ...uncertainty.sources import contributions, nominal
from ..kit.telling import Telling
from .form import ALL_TRIALS, BalanceTexts, Form, Outcome, Place, copy_form, evaluate
from .readings import Change, ReadingsState

STEPS_G = (*(f"{d}e{p}" for p in (-4, -3, -2, -1) for d in (1, 2, 5)), "1")
"""Display steps of balances that can be tried, g."""
_PART = "what if"


@dataclass(frozen=True, slots=True)
class Tried:
    """What is looked at instead: cells by trial and reading, and the step of the balances, g."""

    cells: Mapping[tuple[int, str], str]
    step: str = ""
    words: str = ""


NOTHING = Tried({})


def step_text(step_g: str | float | Decimal) -> str:
    """Write a display step in plain digits.

    >>> step_text("2e-4"), step_text(0.1)
    ('0.0002', '0.1')
    """
    return format(Decimal(str(step_g)).normalize(), "f")


def rounded(text: str, step: Decimal) -> str:
    """Return a reading as a display with this step would have shown it; as typed if it is none.

    A reading in the middle between two steps goes to the even one.

    >>> [rounded(text, Decimal("0.1")) for text in ("2.94", "2,96 ", "x")]
    ['2.9', '3.0', 'x']
    """
    try:
        parse_number(text, "reading")
        value = Decimal(text.strip().replace(",", ".").replace("−", "-"))
    except (StoichkitError, ArithmeticError):
        return text
    shown = (value / step).quantize(Decimal(1), ROUND_HALF_EVEN) * step
    return format(shown.quantize(step), "f")


class WhatIf(Telling[None]):
    """The readings as they would be, and what they would tell.

    >>> state = ReadingsState("copper-silver")
    >>> tried = WhatIf(state)
    >>> tried.set_step("0.1")
    >>> tried.outcome.evidence.verdict.candidates, tried.form.trials[0].readings["wire before"]
    (('copper(II)',), '2.9')
    >>> state.history.undo(), tried.active, state.form.trials[0].readings["wire before"]
    ('tried a balance reading to 0.1 g', False, '2.94')
    """

    def __init__(self, readings: ReadingsState) -> None:
        super().__init__()
        self.readings = readings
        self._tried = NOTHING
        self._known: tuple[Any, Outcome] | None = None
        readings.history.join(_PART, lambda: self._tried, self._restore)
        self._stop = readings.subscribe(self._follow)

    def stop(self) -> None:
        """Stop listening to the readings, and leave their history."""
        self._stop()
        self.readings.history.leave(_PART)

    def _restore(self, tried: Tried) -> None:
        self._tried = tried
        self._tell(None)

    def _follow(self, change: Change) -> None:
        if self.readings.history.restoring or not self.active:
            return
        if change is Change.FORM:
            self._tried = NOTHING
        elif self._tried.cells:  # what was typed counts: nothing else is shown beside it
            self._tried = replace(self._tried, cells={}, words="")

    # What is tried

    @property
    def tried(self) -> Tried:
        """What is looked at instead of the readings."""
        return self._tried

    @property
    def active(self) -> bool:
        """Whether something other than the readings is looked at."""
        return self._tried != NOTHING

    @property
    def own_step(self) -> float:
        """Coarsest display step of the balances in use, g; nan without one."""
        steps = [
            one.readability_g
            for one in self.readings.experiment.instruments.values()
            if isinstance(one, Balance)
        ]
        return max(steps, default=float("nan"))

    @property
    def coarser(self) -> bool:
        """Whether a coarser balance is tried, which can be worked out from these readings."""
        return bool(self._tried.step) and float(self._tried.step) > self.own_step

    @property
    def form(self) -> Form:
        """The form with what is tried in place of what was typed."""
        if not self.active:
            return self.readings.form
        form = copy_form(self.readings.form)
        for (trial, name), text in self._tried.cells.items():
            texts = form.shared if trial == ALL_TRIALS else form.trials[trial].readings
            if name in texts:
                texts[name] = text
        if self.coarser:
            self._read_coarsely(form, Decimal(self._tried.step))
        return form

    def _read_coarsely(self, form: Form, step: Decimal) -> None:
        base = self.readings.base
        weighed = {
            role.name
            for role in base.roles()
            if isinstance(base.instruments.get(role.instrument), Balance)
        }
        for texts in (form.shared, *(trial.readings for trial in form.trials)):
            for name in weighed & texts.keys():
                parts = texts[name].split(";")
                texts[name] = "; ".join(rounded(one, step) for one in parts if one.strip())
        for name, figures in form.balances.items():
            balance = base.instruments[name]
            assert isinstance(balance, Balance)
            if Decimal(repr(balance.readability_g)) < step:
                form.balances[name] = BalanceTexts(step_text(step), figures.repeatability_g)

    @property
    def outcome(self) -> Outcome:
        """What the readings tell, with what is tried in place of what was typed."""
        if not (self._tried.cells or self.coarser):
            return self.readings.outcome
        form = self.form
        if self._known is None or self._known[0] != form:
            outcome = evaluate(form, self.readings.base, self.readings.outcome)
            self._known = form, outcome
        return self._known[1]

    @property
    def marks(self) -> frozenset[tuple[int, str]]:
        """The cells that show something other than what was typed."""
        if not self.active:
            return frozenset()
        typed, shown = self.readings.form, self.form
        found = {(ALL_TRIALS, n) for n, text in shown.shared.items() if text != typed.shared[n]}
        for i, trial in enumerate(shown.trials):
            found |= {
                (i, n) for n, text in trial.readings.items() if text != typed.trials[i].readings[n]
            }
        return frozenset(found)

    # Trying

    def back(self) -> None:
        """Look at the readings as they were typed."""
        if self.active:
            self._set(NOTHING, "went back to the readings as typed")

    def set_step(self, step: str) -> None:
        """Try a balance that reads to another step, g; "" for one's own."""
        if step and step not in map(step_text, STEPS_G):
            raise ModelError(
                "There is no such step.", given=step, allowed=", ".join(map(step_text, STEPS_G))
            )
        own = bool(step) and float(step) == self.own_step
        words = f"tried a balance reading to {step} g" if step else "went back to the own balance"
        self._set(replace(self._tried, step="" if own else step), words, key=(_PART, "step"))

    def show_corrected(self, *slips: Slip) -> None:
        """Look at the readings with slips corrected, at most one of each trial."""
        lab = self.readings.experiment
        for slip in slips:
            lab = corrected(lab, slip)
        self._take(lab, _corrected_words(slips))

    def shows_corrected(self, *slips: Slip) -> bool:
        """Whether these slips, and nothing else, are looked at corrected."""
        return bool(self._tried.cells) and self._tried.words == _corrected_words(slips)

    def _take(self, lab: Experiment, words: str) -> None:
        """Look at the readings of another record of the same lab."""
        typed = self.readings.form
        cells = {}
        for name, text in typed.shared.items():
            other = "; ".join(lab.shared_readings.get(name, ()))
            if other and _differs(other, text):
                cells[ALL_TRIALS, name] = other
        by_name = {one.name: one for one in lab.trials}
        for i, trial in enumerate(typed.trials):
            if trial.name not in by_name:
                continue
            for name, text in trial.readings.items():
                other = "; ".join(by_name[trial.name].readings.get(name, ()))
                if other and _differs(other, text):
                    cells[i, name] = other
        self._set(replace(self._tried, cells=cells, words=words), f"looked at {words}")

    def move(self, trial: str, consumed_mmol: float, produced_mmol: float) -> None:
        """Look at a trial as if its amounts were others: the readings that follow them are moved.

        The reading made last of each amount follows, to the nearest step of its display.
        """
        evidence = self.outcome.evidence
        judged = [] if evidence is None else [one.name for one in evidence.experiment.trials]
        names = [one.name for one in self.readings.form.trials]
        if evidence is None or trial not in judged or trial not in names:
            raise ModelError("There is no such trial.", given=trial, allowed=", ".join(judged))
        cells = dict(self._tried.cells)
        for side, amount in enumerate((consumed_mmol / 1000, produced_mmol / 1000)):
            name, text = _reading_for(evidence, judged.index(trial), side, amount)
            if name:
                cells[names.index(trial), name] = text
        words = f"{trial} moved"
        self._set(
            replace(self._tried, cells=cells, words=words), f"moved {trial}", key=(_PART, trial)
        )

    def _set(self, tried: Tried, words: str, *, key: Any = None) -> None:
        if tried == self._tried:
            return
        self.readings.history.record(words, key=key)
        self._tried = tried
        self._tell(None)

    # What is said

    @property
    def sentence(self) -> str:
        """Say what is looked at instead of the readings; "" for nothing else."""
        parts = []
        if self._tried.cells:
            names = [f"{self.readings.describe(Place('reading', i, n))} = {text}" for (i, n), text
                     in self._tried.cells.items()]  # fmt: skip
            more = f" and {len(names) - 3} more" if len(names) > 3 else ""
            parts.append(f"What if {joined(names[:3]) if not more else ', '.join(names[:3])}{more}")
        if self.coarser:
            begin = "What if the balance read to"
            step = f"{self._tried.step} g"
            parts.append(f"on a balance reading to {step}" if parts else f"{begin} {step}")
        return f"{', '.join(parts)}?" if parts else ""

    def could_tell(self) -> str:
        """Say what a finer balance could have told with these amounts; "" if none is tried.

        The digits it would have shown are not known, so this is the chance of each answer.
        """
        evidence = self.readings.evidence
        step = self._tried.step
        if not step or self.coarser or evidence is None:
            return ""
        return finer_sentence(evidence, step)


def _corrected_words(slips: Sequence[Slip]) -> str:
    """Say which readings are looked at corrected.

    Slips of one trial differ in what was read or in what it may have been.
    """
    said = [
        f"{slip.trial or 'all trials'}, {joined(list(slip.readings))} = "
        f"{joined(list(slip.corrected))}"
        for slip in slips
    ]
    return f"{'; '.join(said)} (corrected)"


@lru_cache(maxsize=8)
def finer_sentence(evidence: Evidence, step: str) -> str:
    """Say how often labs with these amounts would be conclusive on a balance with another step.

    >>> from stoichkit import assess, experiments
    >>> print(finer_sentence(assess(experiments.load("copper-silver-coarse")), "0.01"))
    The digits that a balance reading to 0.01 g would have shown are not known. Of labs with these
    amounts on it, ... would single out copper(I) if that is true and ... copper(II).
    """
    from ...planning.design import with_readability
    from ...planning.plan import MOST_TRIALS, Plan, chances

    lab = with_readability(evidence.experiment, float(step))
    amount = abs(nominal(evidence.n_consumed))
    names = evidence.verdict.candidates or tuple(evidence.candidates)
    try:
        plan = Plan(
            experiment=lab,
            consumed_mol=amount,
            trials=min(len(lab.trials), MOST_TRIALS),
            spread=0.1,
        )
        found = [(name, chances(plan, name).right) for name in names[:3]]
    except StoichkitError as error:
        return f"What a finer balance could have told cannot be worked out: {error.problem}"
    (name, first), *others = found
    said = [f"{out_of(first)} would single out {name} if that is true"]
    said += [f"{out_of(p)} {one}" for one, p in others]
    return (
        f"The digits that a balance reading to {step} g would have shown are not known. "
        f"Of labs with these amounts on it, {joined(said)}."
    )


def _differs(one: str, other: str) -> bool:
    """Return whether two texts are different readings, not the same in another spelling."""
    return "".join(one.split()).replace(",", ".") != "".join(other.split()).replace(",", ".")


def _reading_for(evidence: Evidence, index: int, side: int, amount_mol: float) -> tuple[str, str]:
    """Return the reading of a trial that makes an amount what is wanted, and its text.

    An amount is linear in its readings, so that the sensitivity to one says how far it has to go.
    """
    lab, amount = evidence.experiment, evidence.amounts[index][side]
    models = lab.consumed, lab.produced
    trial, order = lab.trials[index], lab.reading_names()
    beside = {role.name for role in models[1 - side].roles()}
    span = models[side].span
    names = [n for n in (span.high, span.low) if n and trial.readings.get(n)]
    if not names:
        return "", ""
    name = min(names, key=lambda n: (n in beside, -order.index(n)))
    *before, text = trial.readings[name]
    role = next(one for one in lab.roles() if one.name == name)
    step = lab.instruments[role.instrument].readability
    slope = sum(
        coefficient
        for source, coefficient in contributions(amount)
        if source.kind == "rounding" and source.reading == f"{name}, trial {trial.name}"
    )
    if not slope:
        return "", ""
    here = parse_number(text, name).value
    wanted = max(here + (amount_mol - nominal(amount)) / slope, 0.0)
    grid = Decimal(repr(step))
    shown = (Decimal(repr(wanted)) / grid).quantize(Decimal(1), ROUND_HALF_EVEN) * grid
    return name, "; ".join([*before, format(shown.quantize(grid), "f")])
