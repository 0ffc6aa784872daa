"""Several routes to one amount in a class: whether they agree over all its groups, and each alone.

The rule is that of one lab, on the pooled means. What two routes give of every group is pooled as
the verdict pools the groups, and tested by the readings alone: a fault of one route in every group
is what pooling would average in unseen. A fault in a few groups makes those groups differ, which
their scatter shows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ..decision.evidence import air_of, trial_amounts
from ..decision.routes import Agreement, RoutePair, route_pairs, ways_alone
from ..errors import ModelError
from ..experiments.record import Experiment
from ..measurement.base import Models
from ..measurement.buoyancy import NOTHING
from .amounts import ClassAmounts, group_of, put_together

Air = tuple[tuple[float, float], bool]
"""Between which factors air may have changed a ratio, and whether that always matters."""


@dataclass(frozen=True, slots=True)
class ClassRoutes:
    """The routes to the amounts of a class.

    Attributes
    ----------
    records : tuple of Experiment
        They have as many routes to each amount.
    pairs : tuple of (RoutePair, ClassAmounts, Air)
        Every two routes to one amount, with the groups' amounts by both.
    shift : (float, float)
        What every trial would have produced more, mol, and how many times as much, by every route.
    """

    records: tuple[Experiment, ...]
    pairs: tuple[tuple[RoutePair, ClassAmounts, Air], ...]
    shift: tuple[float, float] = (0.0, 1.0)

    @classmethod
    def of(cls, records: Sequence[Experiment]) -> ClassRoutes:
        """Return the routes of a class; none where there is one to each amount."""
        counts = [[len(model.ways) for model in _models(record)] for record in records]
        for record, count in zip(records, counts, strict=True):
            if count != counts[0]:
                raise ModelError(
                    "The experiments of a class have different routes to their amounts.",
                    given=record.title,
                    allowed="as many routes to each amount in every experiment",
                )
        pairs = []
        each = [list(route_pairs(_models(record))) for record in records]
        for ways in zip(*each, strict=True):
            by_both = [
                r.amounts_by(one.models[0], one.models[1])
                for r, one in zip(records, ways, strict=True)
            ]
            amounts = put_together(list(zip(records, by_both, strict=True)))
            pairs.append((ways[0], amounts, class_air(records, amounts, [w.models for w in ways])))
        return cls(tuple(records), tuple(pairs))

    def without(self, group: str) -> ClassRoutes:
        """Return the same without one group."""
        if not self.pairs:  # of one route each, nothing here depends on the groups
            return self
        left = [[t for t in r.trials if group_of(t) != group] for r in self.records]
        return ClassRoutes(
            tuple(r.with_trials(t) for r, t in zip(self.records, left, strict=True) if t),
            tuple((pair, amounts.without(group), air) for pair, amounts, air in self.pairs),
            self.shift,
        )

    def shifted(self, add_mol: float, times: float) -> ClassRoutes:
        """Return the same if all routes had found so much more product; they agree as before."""
        return replace(self, shift=(add_mol, times))

    def agreements(self) -> tuple[Agreement, ...]:
        """Return for each two routes whether their pooled means agree, by the readings alone."""
        return tuple(pair.compared(amounts.linear, air) for pair, amounts, (air, _) in self.pairs)

    def alone(
        self, agreements: Sequence[Agreement]
    ) -> list[tuple[ClassAmounts, Air, tuple[int, int]]]:
        """Return the class by each route alone to the amounts whose routes disagree."""
        found = []
        each = [ways_alone(_models(record), agreements) for record in self.records]
        for ways in zip(*each, strict=True):
            models = [models for models, _ in ways]
            pairs = [trial_amounts(r, m) for r, m in zip(self.records, models, strict=True)]
            amounts = put_together(list(zip(self.records, pairs, strict=True)))
            air = class_air(self.records, amounts, models)
            found.append((amounts.changed(*self.shift), air, ways[0][1]))
        return found


def class_air(
    records: Sequence[Experiment],
    amounts: ClassAmounts,
    models: Sequence[Models | None] | None = None,
) -> Air:
    """Return by which factors air may have changed the ratio of a class, and if that matters.

    ``models`` are other ways from the readings of each record, such as one of several routes.

    >>> from stoichkit import experiments
    >>> from stoichkit.classroom.amounts import amounts_of
    >>> lab = experiments.load("copper-silver")
    >>> class_air([lab], amounts_of(lab))[1], class_air([], amounts_of(lab))
    (False, ((1.0, 1.0), False))
    """
    found = []
    for record, ways in zip(records, models or [None] * len(records), strict=True):
        own = dict.fromkeys(group_of(trial) for trial in record.trials)
        found.append(air_of(record, [p for name in own for p in amounts.groups[name]], ways))
    if not found:
        return NOTHING, False
    ends, fine = zip(*found, strict=True)
    return (min(low for low, _ in ends), max(high for _, high in ends)), any(fine)


def _models(record: Experiment) -> Models:
    return record.consumed, record.produced
