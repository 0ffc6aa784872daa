"""What to take care of in a lab: cautions of its record, hazards of its reagents, and waste.

The one place where it is said. A bench plan knows its reagents; whatever else shows an experiment
asks :func:`lab_safety`, which takes the usual ones. The safety data sheet has the last word.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache

from ..chemistry.candidates import Candidate
from ..chemistry.equation import parse_equation
from ..chemistry.formula import parse_formula
from ..errors import StoichkitError
from ..experiments.parts import Caution
from ..experiments.record import Experiment
from ..measurement.base import AmountModel, Instrument
from ..text.parts import Bullets, Part, Section
from ..text.wording import joined
from ..uncertainty import entry
from ..uncertainty.sources import nominal
from .dilutions import Dilution
from .reagent_data import CHECK, ReagentCautions, cautions_for
from .reagents import reagents_of
from .supply import Lab, Reagent, find_supply, needs_of, stateless

EYES = "Everybody in the room wears eye protection."
LAST_WORD = (
    "These notes do not replace the safety data sheets: they, local rules and licensed practice "
    "decide."
)
_SIGNAL = "Signal word: "
_LITTLE_MOL = 0.001
_USUAL_EXCESS = 1.2
_RUNS = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class LabSafety:
    """What to take care of in a lab.

    Attributes
    ----------
    cautions : tuple of Caution
        Those of the record, then those of reagents and products that it does not mention.
    unknown : tuple of str
        Substances about whose hazards nothing is known here.
    waste : tuple of str
        What to do with what is left, each sentence with the substances it is for.
    left_out : str
        Why reagents beside the substances of the equations could not be found; "" if they were.
    """

    cautions: tuple[Caution, ...]
    unknown: tuple[str, ...] = ()
    waste: tuple[str, ...] = ()
    left_out: str = ""

    def section(self, title: str = "Cautions") -> Section:
        """Return everything as a section of a document; what holds for most is said once."""
        usual = Counter(c.source for c in self.cautions).most_common(1)
        common = usual[0][0] if usual else ""
        said = tuple(
            f"{c.subject}: {_run_on(c.statements)}{advice_of(c.advice)}"
            + ("" if c.source == common else f" ({c.source})")
            for c in self.cautions
        )
        parts: list[Part] = [EYES, *([Bullets(said)] if said else [])]
        if common:
            parts.append(f"Source, where none is named: {common}")
        advice = " ".join(text for c in self.cautions for text in c.advice)
        waste = tuple(w for w in self.waste if w.partition(": ")[2] not in advice)
        if waste:
            parts += ["Waste:", Bullets(waste)]
        return Section(title, (*parts, *self._last()))

    def in_short(self, title: str = "Cautions") -> Section:
        """Return signal words and hazard statements, with waste and who decides.

        >>> from stoichkit import experiments
        >>> short = lab_safety(experiments.load("tin-oxide")).in_short()
        >>> short.parts[0], short.parts[1].items[1]
        ('Everybody in the room wears eye protection.', 'nitrogen dioxide, the brown gas given...')
        """
        said = tuple(filter(None, map(hazard_line, self.cautions)))
        parts: list[Part] = [EYES, *([Bullets(said)] if said else [])]
        if self.waste:
            parts += ["Waste:", Bullets(self.waste)]
        return Section(title, (*parts, *self._last()))

    def _last(self) -> Iterator[str]:
        if self.unknown:
            yield (
                f"Nothing is known here about the hazards of {joined(list(self.unknown))}. That "
                f"does not mean that there are none. {CHECK}"
            )
        if self.left_out:
            yield self.left_out
        yield LAST_WORD


def lab_safety(experiment: Experiment) -> LabSafety:
    """Return what to take care of in a lab, with the usual reagents for its equations.

    A record without cautions gets those of its reagents all the same.

    Parameters
    ----------
    experiment : Experiment

    Raises
    ------
    ModelError
        If that is no experiment.

    Source
    ------
    ``data/hazards.csv`` and ``data/advice.csv``: GHS statements from memory.

    Examples
    --------
    >>> from stoichkit.experiments import weighed
    >>> lab = weighed({"Fe": [["7.30", "6.21"]]}, {"Cu": [["0.75", "2.00"]]}, states=[2, 3])
    >>> found = lab_safety(lab)
    >>> len(lab.cautions), [caution.subject for caution in found.cautions][:2]
    (0, ['iron', 'copper(II) sulfate'])
    """
    of = entry.record("experiment", experiment, Experiment)
    return _safety(_Kind(of.consumed, of.produced, of.candidates, of.cautions, of.instruments, of))


@dataclass(frozen=True, slots=True)
class _Kind:
    """What the cautions of a lab depend on, so that other readings need no other cautions."""

    consumed: AmountModel
    produced: AmountModel
    candidates: tuple[Candidate, ...]
    cautions: tuple[Caution, ...]
    instruments: Mapping[str, Instrument]
    experiment: Experiment = field(compare=False)


@lru_cache(maxsize=16)
def _safety(kind: _Kind) -> LabSafety:
    """Return the cautions of one kind of lab."""
    experiment = kind.experiment
    reagents: tuple[Reagent, ...] = ()
    left_out = ""
    try:
        reagents = _usual_reagents(experiment)
    except StoichkitError as error:
        left_out = (
            "What the reagents are made up from could not be found, so that these are the hazards "
            f"of the substances in the equations alone: {error}"
        )
    return LabSafety(
        cautions=cautions_of(experiment, reagents),
        unknown=unknown_of(experiment, reagents),
        waste=waste_of(experiment, reagents),
        left_out=left_out,
    )


def _usual_reagents(experiment: Experiment) -> tuple[Reagent, ...]:
    """Return the reagents of a few small trials, with what their solutions are made from."""
    lab = Lab(experiment=experiment, consumed_mol=_LITTLE_MOL, excess=_USUAL_EXCESS, runs=_RUNS)
    needs = [needs_of(c, experiment.consumed.species) for c in experiment.candidates]
    return reagents_of(lab, [need for need in needs if need is not None], {})


def hazard_line(caution: Caution) -> str:
    """Return subject, signal word and hazard statements; the advice on a step; "" for neither."""
    if caution.statements:
        return " ".join((f"{caution.subject}:", signal_of(caution), "; ".join(caution.statements)))
    step = not cautions_for(caution.subject).known  # not a substance without hazards
    return f"{caution.subject}: {advice_of(caution.advice)}" if step else ""


def signal_of(caution: Caution) -> str:
    """Return the GHS signal word of a caution with a full stop, "" for none.

    >>> signal_of(cautions_for("Mg").as_caution())
    'Danger.'
    """
    return next((t.removeprefix(_SIGNAL) for t in caution.advice if t.startswith(_SIGNAL)), "")


def _run_on(statements: Iterable[str]) -> str:
    """Join statements so that more can follow."""
    whole = "; ".join(statements)
    return f"{whole}. " if whole else ""


def advice_of(sentences: Iterable[str]) -> str:
    """Return advice as one run of text; that the data sheet is checked is said once for all."""
    return " ".join(" ".join(sentences).replace(CHECK, "").split())


_USED_MOL_PER_L = 0.1
_STRENGTH = re.compile(r"([0-9]+(?:[.,][0-9]+)?) mol/L")
_SUBJECT_END = re.compile(r",| in | for |$")


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
                strength = nominal(made.stock_mol_per_L)
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
                found[stateless(term.formula)] = None
    if not found:
        for species in (experiment.consumed.species, experiment.produced.species):
            found[stateless(parse_formula(species))] = None
    return found


def cautions_of(experiment: Experiment, reagents: tuple[Reagent, ...]) -> tuple[Caution, ...]:
    """Return the cautions of the record, then those of reagents from the table.

    Where the record speaks of a reagent by its name, statements that only the table has are
    added to the record's; nothing is taken away.
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
    if not known.signal_word or signal_of(caution):
        return caution
    return replace(caution, advice=(f"{_SIGNAL}{known.signal_word}.", *caution.advice))


def also_named(experiment: Experiment, reagents: tuple[Reagent, ...]) -> tuple[str, ...]:
    """Return reagents that the record's cautions name but that are in no equation."""
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
    """Return the substances about whose hazards nothing is known here, written as formulas."""
    return tuple(
        dict.fromkeys(
            parse_formula(known.reagent).unicode()
            for known in _looked_up(experiment, reagents)
            if not known.known
        )
    )


def waste_of(experiment: Experiment, reagents: tuple[Reagent, ...]) -> tuple[str, ...]:
    """Return what to do with what is left, each sentence with the substances it is for."""
    by_sentence: dict[str, dict[str, None]] = {}
    spoken_of = (known for known in map(_spoken_of, experiment.cautions) if known.known)
    for known in (*_looked_up(experiment, reagents), *spoken_of):
        by_sentence.setdefault(known.waste, {})[known.name] = None
    return tuple(f"{', '.join(names)}: {text}" for text, names in by_sentence.items() if text)
