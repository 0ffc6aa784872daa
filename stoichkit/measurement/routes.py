"""One amount found by several routes: a metal's loss by weighing and by titration of its ion."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

from ..errors import ExperimentError, ModelError
from ..uncertainty import entry
from ..uncertainty.readings import ErrorPool
from ..uncertainty.sources import Number, standard_uncertainty
from .base import AmountModel, Care, Portion, Role, Setting, Span, Step, amount_step, check_text

MOST_ROUTES = 5
_THOUSANDTHS = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Routes(AmountModel):
    """Amount from two or more routes: n = Σ wᵢ nᵢ with fixed weights wᵢ.

    Whether the routes agree is tested by :func:`stoichkit.decision.evidence.assess`.

    Parameters
    ----------
    species : str
        Formula of the substance that every route is about.
    routes : tuple of AmountModel
        2 to 5 ways of measuring, each with a reading that no other route has.
    weights : tuple of float
        Part of each route in the mean, above 0, together 1. If left out, an experiment works them
        out from the standard uncertainties in its first trial, in thousandths, and keeps them.

    Raises
    ------
    ExperimentError
        If the routes or weights cannot be used; ``field`` names the route.

    Examples
    --------
    >>> from stoichkit.measurement import KnownConcentration, MassByDifference, SolutionVolume
    >>> from stoichkit.uncertainty.sources import nominal
    >>> both = Routes(species="Zn", weights=(0.75, 0.25), routes=(
    ...     MassByDifference(species="Zn", heavier="before", lighter="after"),
    ...     SolutionVolume(species="Zn", final="end", initial="start",
    ...                    concentration=KnownConcentration(mol_per_L=0.1))))
    >>> read = {"before": 5.0, "after": 4.6731, "end": 50.2, "start": 0.2}
    >>> round(1e3 * nominal(both.amount(read, ErrorPool())), 3)
    5.0
    >>> both.explain(read)[-1].formula
    '0.75 × n1(Zn) + 0.25 × n2(Zn)'
    """

    species: str
    routes: tuple[AmountModel, ...]
    weights: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        check_text(self, "species")
        routes = entry.listed("routes", self.routes, error=ExperimentError)
        entry.kept(self, routes=routes)
        for place, route in enumerate(routes, start=1):
            if not isinstance(route, AmountModel) or isinstance(route, Routes):
                raise ExperimentError(
                    "This is no route to an amount.",
                    field=f"routes[{place}]",
                    given=route,
                    allowed="a way of measuring that is no list of routes itself",
                )
        if not 2 <= len(routes) <= MOST_ROUTES:
            raise ExperimentError(
                "These are not several routes.",
                field="routes",
                given=len(routes),
                allowed=f"2 to {MOST_ROUTES} routes",
                fix="Write the fields of a single route without “routes”.",
            )
        used = Counter(name for route in routes for name in _readings_of(route))
        for place, route in enumerate(routes, start=1):
            self._check_route(place, route, used)
        self._check_weights()

    def _check_route(self, place: int, route: AmountModel, used: Mapping[str, int]) -> None:
        """Raise ExperimentError unless a route is about the species and has its own reading."""
        if route.species != self.species:
            raise ExperimentError(
                "This route is about another species.",
                field=f"routes[{place}].species",
                given=route.species,
                allowed=self.species,
                fix="Every route leads to the amount of one species; “factor” converts others.",
            )
        if all(used[name] > 1 for name in _readings_of(route)):
            raise ExperimentError(
                "This route has no reading of its own.",
                field=f"routes[{place}]",
                given=", ".join(_readings_of(route)) or None,
                allowed="a reading made in the trials that no other route uses",
                fix="Leave this route out: it cannot confirm or contradict the others.",
            )

    def _check_weights(self) -> None:
        """Keep the weights as numbers above 0 that make 1 together, or none."""
        given = entry.listed("weights", self.weights, error=ExperimentError)
        weights = tuple(
            entry.number(f"weights[{i}]", w, above=0, below=1, error=ExperimentError)
            for i, w in enumerate(given, start=1)
        )
        entry.kept(self, weights=weights)
        if weights and (len(weights) != len(self.routes) or abs(sum(weights) - 1) > 1e-9):
            raise ExperimentError(
                "These are not the weights of the routes.",
                field="weights",
                given=", ".join(f"{w:g}" for w in weights),
                allowed=f"{len(self.routes)} numbers above 0 that make 1 together",
                fix="Leave them out to have them worked out.",
            )

    @property
    def ways(self) -> tuple[AmountModel, ...]:
        """The routes."""
        return self.routes

    @property
    def parts(self) -> tuple[float, ...]:
        """The weights; equal ones where none are stated."""
        return self.weights or (1 / len(self.routes),) * len(self.routes)

    def weighted(self, values: Mapping[str, Number], pool: ErrorPool) -> Routes:
        """Return the same with weights by the standard uncertainties at these values.

        Weights are 1/u² in thousandths, each at least one; those that are stated stay.

        >>> from stoichkit.measurement import MassByDifference
        >>> from stoichkit.uncertainty.sources import Shape, uncertain_value
        >>> fine, coarse = (uncertain_value(1.0, name, kind="repeatability", shape=Shape.NORMAL,
        ...                                 scale=scale) for name, scale in (("a", 1), ("b", 2)))
        >>> two = Routes(species="Zn", routes=[MassByDifference(species="Zn", heavier="a"),
        ...                                    MassByDifference(species="Zn", heavier="b")])
        >>> two.weighted({"a": fine, "b": coarse}, ErrorPool()).weights
        (0.8, 0.2)
        """
        sizes = [standard_uncertainty(route.amount(values, pool)) for route in self.routes]
        if self.weights or min(sizes) <= 0:
            return self
        least = min(sizes)
        exact = [(least / u) ** 2 for u in sizes]
        parts = [max(round(_THOUSANDTHS * w / sum(exact)), 1) for w in exact]
        parts[parts.index(max(parts))] += _THOUSANDTHS - sum(parts)
        return replace(self, weights=tuple(part / _THOUSANDTHS for part in parts))

    def _steps(self, values: Mapping[str, Number], pool: ErrorPool) -> tuple[Step, ...]:
        s, steps, total, terms = self.species, [], 0.0, []
        for place, (route, part) in enumerate(zip(self.routes, self.parts, strict=True), start=1):
            *before, last = route.explain(values, pool)
            own, words = f"n{place}({s})", f"by route {place}, amount of {s}"
            steps += [*before, Step(own, words, last.formula, last.value, last.unit)]
            total = total + part * last.value
            terms.append(f"{part:.4g} × {own}")
        return (*steps, amount_step(s, " + ".join(terms), total))

    def roles(self) -> tuple[Role, ...]:
        """Return the readings of every route; one that two routes share is named by both."""
        return tuple(role for route in self.routes for role in route.roles())

    def formulas(self) -> dict[str, str]:
        """Return the species, and the formulas of each route."""
        found = {"species": self.species}
        for place, route in enumerate(self.routes, start=1):
            found |= {f"routes[{place}].{name}": f for name, f in route.formulas().items()}
        return found

    @property
    def span(self) -> Span:
        """The readings of the first route."""
        return self.routes[0].span

    def main_reading(self) -> str:
        """Refuse: each route has a reading that sets it; see :meth:`set_by`.

        Raises
        ------
        ModelError
        """
        raise ModelError(
            f"The amount of {self.species} is found by several routes, so no one reading sets it.",
            fix="Ask each of its ways.",
        )

    def set_by(self, way: AmountModel) -> str:
        """Return the reading that sets the amount by one route and no other."""
        main = way.main_reading()
        others = {n for other in self.routes if other != way for n in _readings_of(other)}
        own = [name for name in (main, way.span.low) if name and name not in others]
        if not own:
            place = self.routes.index(way) + 1
            raise ModelError(
                f"Route {place} to the amount of {self.species} cannot be varied by itself.",
                given=f"{main}, which another route reads too",
                allowed="a route whose difference of readings has one that no other route uses",
                fix="Plan with one of the routes, written without “routes”.",
            )
        return own[0]

    def reading(self, field: str) -> str:
        """Return the name of the reading in a field, of the first route that has such a field."""
        *others, last = self.routes
        for route in others:
            with suppress(AttributeError):
                return route.reading(field)
        return last.reading(field)

    def loses_mass(self, order: Sequence[str]) -> bool:
        """Say whether a route weighs what one piece lost."""
        return any(route.loses_mass(order) for route in self.routes)

    @property
    def substance(self) -> str:
        """What the first route handles."""
        return self.routes[0].substance

    @property
    def electrons_passed(self) -> int:
        """Electrons passed, of the first route that measures a charge."""
        return next((r.electrons_passed for r in self.routes if r.electrons_passed), 0)

    def unknown_air(self) -> tuple[float, float]:
        """Return the factors of the routes, by their weights."""
        bounds = [route.unknown_air() for route in self.routes]
        low, high = (
            sum(part * bound[end] for part, bound in zip(self.parts, bounds, strict=True))
            for end in (0, 1)
        )
        return low, high

    def remarks(self) -> tuple[str, ...]:
        """Say what every route takes for granted."""
        return tuple(dict.fromkeys(text for route in self.routes for text in route.remarks()))

    def expected_mass_g(self, amount_mol: float) -> float | None:
        """Return the mass of the first route that weighs."""
        masses = (route.expected_mass_g(amount_mol) for route in self.routes)
        return next((mass for mass in masses if mass is not None), None)

    def portion(self, setting: Setting) -> Portion | None:
        """Return how the first route has the substance come to the bench."""
        return self.routes[0].portion(setting)

    def care(self, setting: Setting) -> Care:
        """Return what to do for every route."""
        found = [route.care(setting) for route in self.routes]
        return Care(
            waiting=tuple(dict.fromkeys(text for care in found for text in care.waiting)),
            drying=tuple(dict.fromkeys(text for care in found for text in care.drying)),
            balance=next((care.balance for care in found if care.balance), ""),
        )

    def situation(self, setting: Setting) -> frozenset[str]:
        """Return the words of every route."""
        return frozenset[str]().union(*(route.situation(setting) for route in self.routes))

    def effects(self, setting: Setting) -> tuple[Mapping[str, str], ...]:
        """Return the effects of every route."""
        return tuple(effect for route in self.routes for effect in route.effects(setting))


def _readings_of(route: AmountModel) -> tuple[str, ...]:
    """Return the names of what is read for a route in each trial."""
    return tuple(dict.fromkeys(r.name for r in route.roles() if r.needs_reading and not r.once))
