"""Cautions and waste of a bench plan: those of the record, and those of each reagent."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace

from .bench_parts import Reagent
from .bench_supply import find_supply
from .cautions import ReagentCautions, cautions_for
from .equation import parse_equation
from .experiment import Experiment
from .experiment_parts import Caution
from .formula import parse_formula
from .solution_parts import check_positive
from .solutions import Dilution

_USED_MOL_PER_L = 0.1
_STRENGTH = re.compile(r"([0-9]+(?:[.,][0-9]+)?) mol/L")
_SUBJECT_END = re.compile(r",| in | for |$")

__all__ = ["also_named", "cautions_of", "unknown_of", "waste_of"]


def _looked_up(experiment: Experiment, reagents: Iterable[Reagent]) -> Iterator[ReagentCautions]:
    """Yield what is known about each reagent, its stock solution, and each product."""
    seen = set()
    for reagent in reagents:
        if reagent.formula and reagent.formula != "e-":
            c = reagent.concentration_mol_per_L
            seen.add(parse_formula(reagent.formula).plain())
            yield cautions_for(reagent.formula, concentration_mol_per_L=c)
            made = reagent.preparation
            if isinstance(made, Dilution):
                strength = check_positive("strength", float(made.stock_mol_per_L.nominal_value))
                stock = cautions_for(reagent.formula, concentration_mol_per_L=strength)
                yield replace(stock, name=made.stock)
    provided = {p for reagent in reagents for p in reagent.provides.split(" or ")}
    ions: dict[str, list[str]] = {}
    for species in _species(experiment):
        formula = parse_formula(species)
        if formula.plain() in seen or formula.unicode() in provided or formula.is_electron:
            continue
        supply = find_supply(species, {})
        if formula.charge and supply is not None:
            ions.setdefault(supply.solute, []).append(formula.unicode())
        else:
            yield cautions_for(species)
    for solute, names in ions.items():
        salt = cautions_for(solute, concentration_mol_per_L=_USED_MOL_PER_L)
        name = f"{' or '.join(names)} in the used solution, judged as {salt.name}"
        yield replace(salt, name=name)


def _species(experiment: Experiment) -> dict[str, None]:
    """Return all substances of the equations, and of the amounts where there is no equation."""
    found: dict[str, None] = {}
    for candidate in experiment.candidates:
        if candidate.equation:
            equation = parse_equation(candidate.equation)
            for term in (*equation.left, *equation.right):
                state = term.formula.state
                plain = term.formula.plain()
                found[plain.removesuffix(f"({state})" if state else "")] = None
    return found


def cautions_of(experiment: Experiment, reagents: tuple[Reagent, ...]) -> tuple[Caution, ...]:
    """Return the cautions of the record, then those of reagents from the table.

    Where the record speaks of a reagent by its name, statements that only the table has are
    added to the record's; nothing is taken away.

    Parameters
    ----------
    experiment : Experiment
    reagents : tuple of Reagent

    Examples
    --------
    >>> from stoichkit import experiments
    >>> [c.subject for c in cautions_of(experiments.load("tin-oxide"), ())][-1]
    'tin(IV) oxide'
    """
    found = [_with_signal(caution) for caution in experiment.cautions]
    for known in _looked_up(experiment, reagents):
        if not known.known or not (known.statements or known.precautions):
            continue
        same = [i for i, c in enumerate(found) if _speaks_of(c, known.name)]
        if same:
            found[same[0]] = _joined(found[same[0]], known)
        else:
            found.append(known.as_caution())
    return tuple(found)


def _spoken_of(caution: Caution) -> ReagentCautions:
    """Return what the table has on the subject of a caution, at the strength it states."""
    name = _SUBJECT_END.split(caution.subject, maxsplit=1)[0]
    strength = _STRENGTH.search(caution.subject)
    c = float(strength[1].replace(",", ".")) if strength else None
    return cautions_for(name, concentration_mol_per_L=c if c else None)


def _with_signal(caution: Caution) -> Caution:
    """Put the signal word of the subject in front, where it is known."""
    known = _spoken_of(caution)
    if not known.signal_word:
        return caution
    return replace(caution, advice=(f"Signal word: {known.signal_word}.", *caution.advice))


def also_named(experiment: Experiment, reagents: tuple[Reagent, ...]) -> tuple[str, ...]:
    """Return reagents that the record's cautions name but that are in no equation.

    >>> from stoichkit import experiments
    >>> also_named(experiments.load("tin-oxide"), ())
    ('nitric acid', 'nitrogen dioxide')
    """
    planned = {known.name for known in _looked_up(experiment, reagents)}
    spoken = (known for known in map(_spoken_of, experiment.cautions) if known.known)
    return tuple(dict.fromkeys(known.name for known in spoken if known.name not in planned))


def _speaks_of(caution: Caution, name: str) -> bool:
    words = caution.subject.casefold()
    wanted = name.casefold()
    return words == wanted or words.startswith((f"{wanted},", f"{wanted} "))


def _joined(caution: Caution, known: ReagentCautions) -> Caution:
    codes = {statement.split()[0] for statement in caution.statements}
    new = tuple(s for s in known.statements if s.split()[0] not in codes)
    if not new:
        return caution
    return replace(
        caution,
        statements=(*caution.statements, *new),
        advice=(*caution.advice, f"Added from the built-in table: {', '.join(_codes(new))}."),
        source=caution.source,
    )


def _codes(statements: Iterable[str]) -> list[str]:
    return [statement.split()[0] for statement in statements]


def unknown_of(experiment: Experiment, reagents: tuple[Reagent, ...]) -> tuple[str, ...]:
    """Return the substances about whose hazards nothing is known here, written as formulas.

    Parameters
    ----------
    experiment : Experiment
    reagents : tuple of Reagent

    Examples
    --------
    >>> from stoichkit import experiments
    >>> unknown_of(experiments.load("magnesium-gas"), ())
    ('Mg⁺', 'Mg³⁺')
    """
    return tuple(
        dict.fromkeys(
            parse_formula(known.reagent).unicode()
            for known in _looked_up(experiment, reagents)
            if not known.known
        )
    )


def waste_of(experiment: Experiment, reagents: tuple[Reagent, ...]) -> tuple[str, ...]:
    """Return what to do with what is left, each sentence with the substances it is for.

    Parameters
    ----------
    experiment : Experiment
    reagents : tuple of Reagent

    Examples
    --------
    >>> from stoichkit import experiments
    >>> waste_of(experiments.load("copper-silver"), ())[0][:20]
    'copper: Collect the '
    """
    by_sentence: dict[str, dict[str, None]] = {}
    spoken_of = (known for known in map(_spoken_of, experiment.cautions) if known.known)
    for known in (*_looked_up(experiment, reagents), *spoken_of):
        by_sentence.setdefault(known.waste, {})[known.name] = None
    return tuple(f"{', '.join(names)}: {text}" for text, names in by_sentence.items() if text)
