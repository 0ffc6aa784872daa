"""Which balance each row of a class file was weighed on, as a column of the file says.

An entry is the name of a balance of the experiment, or the step of its display: “0.01 g”, “0.1”,
“1 cg”. A balance that the experiment does not have is taken to err as many steps as its own.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal

from ..experiments.record import Experiment
from ..measurement.displays import Balance
from .columns import Unit, alike, known_unit, split_header
from .questions import plain_name

_HEADERS = {
    "balance", "balances", "balance used", "balance no", "balance number", "which balance", "scale",
    "scales", "scale no", "waage", "waage nr", "weighed on", "weighed with", "balanza", "bilancia",
    "readability", "balance readability", "balance step", "display step",
}  # fmt: skip
_STEP = re.compile(
    r"(?:±\s*|d\s*=\s*|to\s+|reads to\s+|balance,?\s+|scales?,?\s+)?"
    r"(?P<number>[0-9]*[.,]?[0-9]+)\s*(?P<unit>[a-zµμ]*)(?:\s+(?:balance|scales?))?",
    re.IGNORECASE,
)
_DIGITS = ((1,), (2,), (5,))
_LEAST, _MOST = Decimal("1e-6"), Decimal(10)


def balance_column(header: str) -> tuple[bool, Unit | None]:
    """Say whether a column holds balances, and in which unit it gives their steps.

    >>> balance_column("Balance"), balance_column("balance [mg]")[1].symbol
    ((True, None), 'mg')
    >>> balance_column("wire before / g")[0]
    False
    """
    name, unit = split_header(header)
    return alike(name) in _HEADERS, known_unit(unit) if unit else None


def step_of(text: str, unit: Unit | None = None) -> float | None:
    """Return the display step that an entry gives, g; None where it gives none.

    A whole number without a unit may be that of a balance, and is no step. A step is 1, 2 or 5
    times a power of ten.

    >>> [step_of(text) for text in ("0.01 g", "0,1", "1 cg", "A", "2", "200 g")]
    [0.01, 0.1, 0.01, None, None, None]
    """
    found = _STEP.fullmatch(text.strip())
    if found is None:
        return None
    size = Decimal(found["number"].replace(",", "."))
    if found["unit"]:
        unit = known_unit(found["unit"])
    elif unit is None and size < 1:
        unit = known_unit("g")
    if unit is None or unit.base != "g" or not size:
        return None
    size *= unit.factor
    plain = size.normalize().as_tuple().digits in _DIGITS and _LEAST <= size <= _MOST
    return float(size) if plain else None


@dataclass(slots=True)
class Balances:
    """The balances of the rows of a class file.

    Attributes
    ----------
    experiment : Experiment
    base : str
        The balance of the experiment on which every mass is read, in whose place others stand;
        "" where there is not one such.
    made : dict of str to Balance
        Balances that the file names and the experiment does not have.
    used : dict of int to str
        The balance of each row that was not weighed on that of the experiment.
    """

    experiment: Experiment
    base: str = ""
    made: dict[str, Balance] = field(default_factory=dict)
    used: dict[int, str] = field(default_factory=dict)

    @classmethod
    def of(cls, experiment: Experiment) -> Balances:
        """Return the balances of an experiment, before any row names one.

        >>> from stoichkit import experiments
        >>> Balances.of(experiments.load("copper-silver")).base
        'balance'
        """
        read = {role.instrument for role in experiment.roles() if role.needs_reading}
        weighed = [n for n in read if isinstance(experiment.instruments[n], Balance)]
        return cls(experiment, weighed[0] if len(weighed) == 1 else "")

    def named(self, text: str, unit: Unit | None = None) -> str | None:
        """Return the balance that an entry names; None where it cannot be understood.

        >>> from stoichkit import experiments
        >>> balances = Balances.of(experiments.load("copper-silver"))
        >>> [balances.named(text) for text in ("0.01 g", "Balance", "1 mg", "B")]
        ['balance', 'balance', 'balance 0.001 g', None]
        """
        own = self.experiment.instruments.get(self.base)
        if not isinstance(own, Balance):
            return None
        known = {n: one for n, one in self._known().items() if isinstance(one, Balance)}
        for name in known:
            if plain_name(name) == plain_name(text):
                return name
        step = step_of(text, unit)
        if step is None:
            return None
        alike_ = [n for n, one in known.items() if math.isclose(one.readability, step)]
        if self.base in alike_:
            return self.base
        if alike_:
            return alike_[0] if len(alike_) == 1 else None
        name = f"balance {step:g} g"
        while name in self.experiment.instruments:
            name += "*"
        self.made[name] = own.read_to(step)
        return name

    def may_be_that_of_the_lab(self, text: str, unit: Unit | None = None) -> bool:
        """Say whether an entry that stands in all rows says nothing against the lab's balance."""
        step = step_of(text, unit)
        return step is None or any(
            math.isclose(one.readability, step) for one in self.experiment.instruments.values()
        )

    def _known(self) -> dict[str, object]:
        return {**self.experiment.instruments, **self.made}

    def balance(self, name: str) -> Balance:
        """Return a balance by its name; "" is that of the experiment."""
        found = self.made.get(name) or self.experiment.instruments[name or self.base]
        assert isinstance(found, Balance)
        return found

    def of_rows(self, rows: Collection[int]) -> tuple[str, ...]:
        """Return the balance of each row; "" for that of the experiment."""
        return tuple(self.used.get(row, "") for row in rows)

    def record(self, names: Sequence[str]) -> tuple[Experiment, list[Mapping[str, str]]]:
        """Return the record of trials weighed on these balances, and the instruments of each.

        Where all were weighed on one, that is the balance of the record.
        """
        if not any(names):
            return self.experiment, [{}] * len(names)
        instruments = dict(self.experiment.instruments)
        if len({*names}) == 1:
            instruments[self.base] = self.balance(names[0])
            return replace(self.experiment, instruments=instruments), [{}] * len(names)
        instruments |= {name: self.made[name] for name in self.made if name in names}
        return replace(self.experiment, instruments=instruments), [
            {self.base: name} if name else {} for name in names
        ]
