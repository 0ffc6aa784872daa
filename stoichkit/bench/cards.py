"""What is printed for a class from a bench plan: bench cards, the stock card, labels.

A bench card holds all that one group needs at its bench on one page: what to take, what to do and
write, boxes for the digits, about how large the changes will be, what to take care of. The stock
card is for who prepares the class. Labels go on beakers, papers, bottles and waste.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from ..chemistry.elements import molar_mass_value
from ..chemistry.formula import parse_formula
from ..errors import ModelError, StoichkitError
from ..experiments.parts import Caution
from ..experiments.record import Experiment
from ..measurement.base import show
from ..measurement.concentration import KnownConcentration
from ..measurement.displays import Balance
from ..measurement.glassware import GraduatedCylinder, VolumetricFlask
from ..planning.plan import Plan
from ..text.cards import BOX, Cards, Labels, columns_for, packed, type_size
from ..text.document import Document
from ..text.parts import Bullets, Field, Part, Section, Strong, Subheading, Table
from ..text.wording import joined, species_text
from ..uncertainty import entry
from .cautions import EYES, LAST_WORD, LabSafety, advice_of, hazard_line, signal_of
from .datasheet import Column, row_names
from .dilutions import (
    Comparison,
    Dilution,
    dilute,
    good_enough,
)
from .expectations import Change
from .plan import BenchPlan, bench_plan
from .reagent_data import ReagentCautions, cautions_for, concentrated, heat_caution
from .reagents import batches, round_up
from .recipes import Recipe, percent, prepare_solution, smallest_cylinder, three_digits
from .supply import RESERVE, Reagent

_LOOSEST, _STRICTEST = 0.05, 0.005
"""Bounds of how well a solution in excess needs to be known, relative."""
_SHARE_OF_EXCESS = 4.0
_MOST_ML = 1e5
_BALANCES_G = (0.1, 0.01, 0.001)
_WEIGHINGS_TO_CONSTANT = 3
_ELSEWHERE = ("Signal word: ", "Added from the built-in table: ")
"""Advice that a card says in another way."""


def _planned(source: BenchPlan | Plan | Experiment, groups: int | Iterable[str] | None) -> tuple[
    BenchPlan, tuple[str, ...]
]:  # fmt: skip
    """Return the bench plan and the names of its groups."""
    if isinstance(source, BenchPlan):
        names = row_names("group", source.groups if groups is None else groups, "Group ")
        if len(names) != source.groups:
            raise ModelError(
                "The bench plan is for another number of groups.",
                given=len(names),
                allowed=source.groups,
                fix="Make the bench plan for as many groups: bench_plan(…, groups=…).",
            )
        return source, names
    names = row_names("group", 1 if groups is None else groups, "Group ")
    return bench_plan(source, groups=len(names)), names


# The bench card of a group


def bench_cards(
    plan_or_lab: BenchPlan | Plan | Experiment, *, groups: int | Iterable[str] | None = None
) -> Cards:
    """Return a bench card for each group, each on one page of A4 or Letter paper.

    On it: what to take, the steps, boxes for the readings with their units and as many decimals
    as the instrument shows, how large the changes will be, numbers of the instruments, cautions.
    What is too long for a card stands in full on further cards, which the card names; a group with
    more trials than fit has several cards.

    Parameters
    ----------
    plan_or_lab : BenchPlan, Plan or Experiment
        A bench plan states groups and trials; of a lab the usual one is made.
    groups : int or iterable of str, optional
        How many groups, or their names; as in the bench plan, or one, if left out.

    Returns
    -------
    Cards
        A :class:`.Document`; save it as ``.html`` to print, or as ``.md`` or ``.txt``.

    Raises
    ------
    ModelError
        If the bench plan is for another number of groups, or cannot be made.
    DataFileError
        If a name of a group cannot be used.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> cards = bench_cards(experiments.load("copper-silver"), groups=["red", "blue"])
    >>> [section.title for section in cards.sections]
    ['red', 'blue']
    >>> table = next(part for part in cards.sections[0].parts if isinstance(part, Table))
    >>> table.header[:2], table.rows[0][:2]
    (('Reading', 'trial 1'), ('wire before / g', '□□□.□□'))
    """
    plan, names = _planned(plan_or_lab, groups)
    trials = _trial_names(plan)
    longest = max(names, key=len)
    for count in range(1, len(trials) + 1):
        each = math.ceil(len(trials) / count)
        shares = [trials[i : i + each] for i in range(0, len(trials), each)]
        for moved in range(len(_MOVED) + 1):
            made = [_card(plan, f"{longest} 99 of 99", share, moved) for share in shares]
            if all(type_size(one) is not None for one in made):
                return _all_cards(plan, names, shares, moved)
    raise ModelError(
        "One trial does not fit on a card.",
        given=f"{len(plan.record)} readings",
        fix="Use the data sheet in place of cards.",
    )


def _trial_names(plan: BenchPlan) -> tuple[str, ...]:
    """Return the names of the trials, numbered as in the data sheet."""
    return tuple(f"trial {i + 1}" for i in range(plan.trials))


_MOVED = ("what to take care of", "how it is done", "waste and hazards")
"""What stands on further cards, in the order in which it has to leave a card that is full."""


def _all_cards(
    plan: BenchPlan, names: Sequence[str], shares: Sequence[Sequence[str]], moved: int
) -> Cards:
    several = len(shares) > 1
    cards = [
        _card(plan, f"{name}, card {i} of {len(shares)}" if several else name, share, moved)
        for name in names
        for i, share in enumerate(shares, 1)
    ]
    further: list[Section] = []
    if moved >= 1:
        further += packed("Take care, in full", _care_in_full(plan))
    if moved >= 2:
        further += packed("How it is done", _procedure(plan))
    if moved >= 3:
        further += packed("Waste and hazards", [*_hazards(plan), *plan.waste])
    return Cards(f"Bench cards: {plan.experiment.title}", (), (*cards, *further))


def _card(plan: BenchPlan, title: str, trials: Sequence[str], moved: int) -> Section:
    return Section(title, tuple(_parts(plan, trials, moved)))


def _parts(plan: BenchPlan, trials: Sequence[str], moved: int) -> Iterator[Part]:
    """Yield what stands on a card below its title."""
    experiment = plan.experiment
    yield Strong(experiment.title)
    yield Field("Names")
    yield Field("Date")
    for name, words in _instruments(plan).items():
        yield Field(f"{name} ({words}), its number")
    yield Subheading("Take for each trial")
    yield Bullets(tuple(_taken(plan)))
    yield Subheading("Do, and write what is shown")
    yield f"{EYES} Read the instruments in the order of the boxes; write every digit, zeros too."
    if moved < 2:
        yield Bullets((*plan.drying, *plan.waiting) or ("Follow the procedure you were given.",))
        if experiment.notes:
            yield "Notes of the record; where amounts differ, those above hold:"
            yield Bullets(experiment.notes)
    else:
        yield "How it is done stands on cards of its own: read them before you begin."
    yield from _tables(plan, trials)
    yield Subheading("About how large the changes will be")
    yield Bullets(tuple(_expected(plan)))
    yield Subheading("Take care")
    if moved < 1:
        yield Bullets((*_care_in_full(plan), *plan.waste))
    elif moved < 3:
        yield Bullets((*_hazards(plan), *plan.waste))
    if moved >= 1:
        word = next((w for w in ("Danger.", "Warning.") if w in _signals(plan)), "")
        sheets = f"{'“Take care, in full”'}{' and “Waste and hazards”' if moved >= 3 else ''}"
        yield Strong(f"{word} Read the cards {sheets} before you begin.".strip())
    yield LAST_WORD


def _signals(plan: BenchPlan) -> set[str]:
    return {signal_of(caution) for caution in plan.cautions}


def _instruments(plan: BenchPlan) -> dict[str, str]:
    """Return the instruments that are read, each with its step."""
    read = {role.instrument for role in plan.experiment.roles() if role.needs_reading}
    return {
        name: f"reads to {show(one.readability)} {one.unit}"
        for name, one in plan.experiment.instruments.items()
        if name in read
    }


def _taken(plan: BenchPlan) -> Iterator[str]:
    """Yield what to take for a trial, and with what it is measured."""
    for reagent in plan.reagents:
        notes = reagent.notes if reagent.volume_mL is None else ()
        what = f"about {reagent.amount} of {reagent.name}" if reagent.amount else reagent.name
        with_what = "" if reagent.measured_with == "not measured" else reagent.measured_with
        yield " ".join((f"{what}{f' ({with_what})' if with_what else ''}.", *notes))


def _procedure(plan: BenchPlan) -> list[str]:
    """Return where to dry and wait, then the notes of the record."""
    return [*plan.drying, *plan.waiting, *plan.experiment.notes]


def _tables(plan: BenchPlan, trials: Sequence[str]) -> Iterator[Table]:
    """Yield the boxes: first of what is read once, then of each trial, as many as stand abreast."""
    rows = [(c, _boxes(plan, c)) for one in plan.record for c in one.apart()]
    once = tuple((_named(c), boxes) for c, boxes in rows if c.shared)
    if once:
        yield Table(("Reading", "Once for all trials"), once)
    each = [(c, boxes) for c, boxes in rows if not c.shared]
    if not each:
        return
    abreast = min(columns_for(boxes) for _, boxes in each)
    blocks = math.ceil(len(trials) / abreast)
    width = math.ceil(len(trials) / blocks)
    for start in range(0, len(trials), width):
        shown = trials[start : start + width]
        lines = [(label, *(boxes for _ in shown)) for c, boxes in each for label in _again(c)]
        yield Table(("Reading", *shown), tuple(lines))


def _named(column: Column) -> str:
    return f"{column.name} / {column.unit}"


def _again(column: Column) -> Iterator[str]:
    """Yield the label of a reading, again for what is weighed until its mass stays."""
    yield _named(column)
    if column.repeated:
        for _ in range(_WEIGHINGS_TO_CONSTANT - 1):
            yield f"again, until it stays: {_named(column)}"


def _boxes(plan: BenchPlan, column: Column) -> str:
    """Return boxes for the digits of a reading: as many decimals as the instrument shows."""
    experiment = plan.experiment
    role = next(r for r in experiment.roles() if column.name.startswith(r.name))
    role = next((r for r in experiment.roles() if r.name == column.name), role)
    instrument = experiment.instruments[role.instrument]
    shown = [
        float(text.rpartition(" ")[0])
        for e in plan.expectations
        for name, text in e.readings
        if name == role.name
    ]
    largest = max([*map(abs, shown), instrument.capacity or 0.0, 10.0])
    whole = BOX * len(str(int(largest)))
    sign = "±" if instrument.can_be_negative else ""
    return f"{sign}{whole}{'.' + BOX * column.decimals if column.decimals else ''}"


def _expected(plan: BenchPlan) -> Iterator[str]:
    """Yield the range of each change over the candidates: it gives no candidate away."""
    every = [(e.consumed, e.produced, *e.further) for e in plan.expectations]
    for changes in zip(*every, strict=True):
        low, high = min(changes, key=_size), max(changes, key=_size)
        if low.text == high.text:
            steps = f", {three_digits(low.steps)} steps" if low.step else ""
            yield f"{low.what}: about {low.text}{steps}."
        else:
            steps = f", {three_digits(low.steps)} to {three_digits(high.steps)} steps"
            said = f"between {low.text} and {high.text}{steps if low.step else ''}"
            yield f"{low.what}: {said}, whatever is formed."


def _size(change: Change) -> float:
    return change.size


def _hazards(plan: BenchPlan) -> list[str]:
    lines = [line for caution in plan.cautions if (line := hazard_line(caution))]
    return [*lines, *_unknown(plan)]


def _care_in_full(plan: BenchPlan) -> list[str]:
    """Return each caution with its advice, sentences that were said already left out."""
    said: set[str] = set()
    found = []
    for caution in plan.cautions:
        advice = _new_sentences(caution, said)
        line = hazard_line(caution) if caution.statements else f"{caution.subject}:"
        stop = "." if caution.statements and advice else ""
        if caution.statements or advice:
            found.append(f"{line}{stop} {advice}".strip())
    return [*found, *_unknown(plan)]


def _new_sentences(caution: Caution, said: set[str]) -> str:
    """Return the advice that was not said yet; signal word and source are said elsewhere."""
    plain = [text for text in caution.advice if not text.startswith(_ELSEWHERE)]
    fresh = [advice_of([text]) for text in plain]
    new = [text for text in dict.fromkeys(fresh) if text and text not in said]
    said.update(new)
    return " ".join(new)


def _unknown(plan: BenchPlan) -> list[str]:
    if not plan.unknown:
        return []
    return [
        f"Nothing is known here about the hazards of {joined(list(plan.unknown))}: that does not "
        "mean that there are none."
    ]


# The stock card


@dataclass(frozen=True, slots=True)
class _Made:
    """A solution to be made up: how, in how many batches, and what else would have done."""

    reagent: Reagent
    recipe: Recipe | Dilution | None
    total_mL: float
    compared: Comparison | None

    @property
    def batches(self) -> int:
        return 0 if self.recipe is None else math.ceil(self.total_mL / self.recipe.volume_mL - 1e-9)


def stock_card(
    plan_or_lab: BenchPlan | Plan | Experiment, *, groups: int | Iterable[str] | None = None
) -> Document:
    """Return the stock card: what to order and make up for the whole class, and in which order.

    Totals hold a tenth more than all trials take. A solution in excess is made with the simplest
    glassware and the coarsest balance that know its concentration to a quarter of that excess,
    at least 0.5 % and at most 5 %; one that enters the verdict as the record says.

    Parameters
    ----------
    plan_or_lab, groups
        As for :func:`bench_cards`.

    Raises
    ------
    ModelError
        As for :func:`bench_cards`.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.bench import bench_plan
    >>> plan = bench_plan(experiments.load("copper-silver"), reacting_mass_g=0.12, groups=6)
    >>> card = stock_card(plan)
    >>> [section.title for section in card.sections]
    ['To order', 'Solutions, in the order to make them', 'To get ready', 'Cautions']
    >>> card.sections[0].parts[0].rows[1]
    ('silver nitrate, AgNO₃', '23 g', 'for 3 × 450 mL at 0.1 mol/L')
    """
    plan, names = _planned(plan_or_lab, groups)
    made = [m for r in plan.reagents if (m := _solution(plan, r)) is not None]
    made.sort(key=lambda one: not heat_caution(one.reagent.formula))
    sections = [Section("To order", tuple(_to_order(plan, made)))]
    if made:
        sections.append(
            Section("Solutions, in the order to make them", tuple(_to_make(plan, made)))
        )
    sections.append(Section("To get ready", (Bullets(tuple(_to_get_ready(plan, names))),)))
    safety = LabSafety(cautions=plan.cautions, unknown=plan.unknown, waste=plan.waste)
    sections.append(safety.section())
    runs = plan.trials * plan.groups
    opening = [
        f"For {plan.groups} group{'s' if plan.groups > 1 else ''} of {plan.trials} "
        f"trial{'s' if plan.trials > 1 else ''}: {runs} run{'s' if runs > 1 else ''}, and a tenth "
        "more in every total."
    ]
    if plan.experiment.invented:
        opening.insert(0, "The scenario is invented, for practice.")
    return Document(f"Stock card: {plan.experiment.title}", tuple(opening), tuple(sections))


def solution_card(
    solute: str, concentration_mol_per_L: float, volume_mL: float, *, relative_target: float = 0.01
) -> Document:
    """Return how one solution is made up with glassware that is good enough and no better.

    Parameters
    ----------
    solute : str
        Formula of the solid, with its crystal water, or of an acid or ammonia that is diluted from
        its usual concentrated solution.
    concentration_mol_per_L, volume_mL : float > 0
        Wanted; a flask makes its capacity, which may be more.
    relative_target : float > 0, < 1
        Standard uncertainty of the concentration that will do, relative to it.

    Raises
    ------
    FormulaError
        If the formula cannot be read.
    ModelError
        If a figure cannot be used, or no glassware here makes the solution.

    Examples
    --------
    >>> card = solution_card("CuSO4.5H2O", 0.5, 250)
    >>> print(card.opening[0])
    250 mL cylinder, class B, with a balance to 0.1 g is good enough: 0.45 % against the 1.0 ...
    """
    target = entry.number("relative_target", relative_target, above=0, below=1)
    c = entry.number("concentration_mol_per_L", concentration_mol_per_L, above=0)
    volume = entry.number("volume_mL", volume_mL, above=0, most=_MOST_ML)
    shown = species_text(parse_formula(entry.text("solute", solute)).plain())
    ways = _ways(solute, c, volume, exact=True)
    if not ways:  # say why: the simplest way refuses what was asked for
        prepare_solution(solute, c, volume)
    compared = good_enough(ways, target)
    best = min(compared.ways, key=lambda way: way.relative_uncertainty)
    made = ways[(compared.first or best).name]
    known = cautions_for(solute, concentration_mol_per_L=c)
    safety = LabSafety(
        cautions=(known.as_caution(),) if known.known else (),
        unknown=() if known.known else (shown,),
    )
    said = {*known.statements, *known.precautions, known.note}
    extra = [text for text in made.cautions if text not in said]
    opening = [compared.sentence]
    if isinstance(made, Recipe):
        opening.append(made.solubility.sentence)
        extra = [text for text in extra if text != made.solubility.sentence]
    count = math.ceil(volume / made.volume_mL - 1e-9)
    batch = f"Make {count} batches of {show(made.volume_mL)} mL." if count > 1 else ""
    steps = (*([batch] if batch else []), *made.steps)
    rows = tuple(
        (w.name, percent(w.relative_uncertainty), "yes" if w.reaches else "no", w.limited_by)
        for w in compared.ways
    )
    header = ("Way", "Concentration known to", "Good enough", "Limited by")
    return Document(
        f"{show(volume)} mL of {shown}, {three_digits(c)} mol/L",
        tuple(opening),
        (
            Section("How to make it", (Bullets((*steps, *extra)),)),
            Section("Which glassware", (Table(header, rows, "The simplest way first"),)),
            safety.section(),
        ),
    )


def _solution(plan: BenchPlan, reagent: Reagent) -> _Made | None:
    """Return how a solution of the plan is made up; None for what is none."""
    c = reagent.concentration_mol_per_L
    if reagent.volume_mL is None or c is None:
        return None
    total = round_up(RESERVE * plan.trials * plan.groups * reagent.volume_mL)
    if reagent.role != "in excess" or reagent.preparation is None:
        return _Made(reagent, reagent.preparation, total, None)
    ways = _ways(reagent.formula, c, total)
    target = min(max((plan.excess - 1) / _SHARE_OF_EXCESS, _STRICTEST), _LOOSEST)
    compared = good_enough(ways, target) if ways else None
    first = None if compared is None or compared.first is None else ways[compared.first.name]
    return _Made(reagent, first or reagent.preparation, total, compared)


def _ways(
    formula: str, mol_per_L: float, total_mL: float, *, exact: bool = False
) -> dict[str, Recipe | Dilution]:
    """Return the ways to make a solution, the simplest first: glassware before a finer balance.

    A cylinder is filled to the volume that is needed, a flask to its one mark.
    """
    count, size = batches(total_mL, "cylinder")
    volume = total_mL / count if exact else round_up(min(total_mL / count, size))
    stock = concentrated(formula)
    if stock is not None:
        return dict(_dilutions(stock, mol_per_L, volume))
    pieces: list[VolumetricFlask | GraduatedCylinder] = [
        one
        for glass_class in ("B", "A")
        if (one := smallest_cylinder(volume, glass_class)) is not None
    ]
    _, flask_mL = batches(total_mL, "flask")
    pieces += [VolumetricFlask(capacity_mL=flask_mL, glass_class=c) for c in ("B", "A")]
    found: dict[str, Recipe | Dilution] = {}
    for piece in pieces:
        made_mL = volume if isinstance(piece, GraduatedCylinder) else flask_mL
        for step in _BALANCES_G:
            balance = Balance(readability_g=step)
            try:
                recipe = prepare_solution(formula, mol_per_L, made_mL, flask=piece, balance=balance)
            except StoichkitError:  # less than one step of this balance
                continue
            found[f"{piece.named}, with a balance to {show(step)} g"] = recipe
    return found


def _dilutions(
    stock: KnownConcentration, mol_per_L: float, volume_mL: float
) -> Iterator[tuple[str, Dilution]]:
    """Yield the ways to dilute a concentrated solution; cylinders come first."""
    for kind, words in (("cylinder", "cylinders"), ("pipette", "pipette and flask")):
        for glass_class in ("B", "A"):
            try:
                found = dilute(
                    stock, mol_per_L, volume_mL=volume_mL, glassware=kind, glass_class=glass_class
                )
            except StoichkitError:  # too little for a cylinder, or no such pipette
                continue
            yield f"{words}, class {glass_class}", found


def _to_order(plan: BenchPlan, made: Sequence[_Made]) -> Iterator[Part]:
    rows = []
    for reagent in plan.reagents:
        own = next((one for one in made if one.reagent is reagent), None)
        if own is None:
            if reagent.for_class != "not measured" and reagent.formula:
                rows.append((reagent.name, reagent.for_class, reagent.role))
            continue
        batch = "" if own.recipe is None else f"{own.batches} × {show(own.recipe.volume_mL)} mL"
        volume = f"{batch} at {three_digits(_strength(own))} mol/L"
        match own.recipe:
            case Recipe(mass_g=mass, solute=solute, target_mol_per_L=c, volume_mL=each, purity=w):
                ideal_g = c * each / 1000 * molar_mass_value(solute) / w
                total = _grams(own.batches * max(mass, ideal_g))
                rows.append((_solid_name(solute), f"{total} g", f"for {volume}"))
            case Dilution(stages=stages, stock=stock):
                rows.append(
                    (stock, f"{show(own.batches * stages[0].taken_mL)} mL", f"for {volume}")
                )
            case None:
                rows.append(
                    (reagent.name, f"{show(own.total_mL)} mL", "ready made, as it is known")
                )
    yield Table(("What", "For the class", "What for"), tuple(rows), "Totals for the class")
    if plan.also:
        yield (
            f"Also named in the cautions of the record, in amounts it does not state: "
            f"{joined(list(plan.also))}."
        )


def _strength(own: _Made) -> float:
    return own.reagent.concentration_mol_per_L or 0.0


def _grams(mass_g: float) -> str:
    """Write a mass to order with three significant digits, rounded up."""
    step = 10.0 ** (math.floor(math.log10(mass_g)) - 2)
    return three_digits(math.ceil(mass_g / step - 1e-6) * step)


def _solid_name(formula: str) -> str:
    known = cautions_for(formula)
    shown = species_text(formula)
    return f"{known.name}, {shown}" if known.known else shown


def _to_make(plan: BenchPlan, made: Sequence[_Made]) -> Iterator[Part]:
    for number, own in enumerate(made, 1):
        reagent, recipe = own.reagent, own.recipe
        yield Subheading(f"{number}. {reagent.name}: {show(own.total_mL)} mL")
        if recipe is None:
            yield Bullets(reagent.notes)
            continue
        count = own.batches
        yield (
            f"{count} batch{'es' if count > 1 else ''} of {show(recipe.volume_mL)} mL"
            f"{', each made in the same way' if count > 1 else ''}. {_good_enough(plan, own)}"
        )
        heat = heat_caution(reagent.formula)
        known = cautions_for(reagent.formula)
        said = {*known.statements, *known.precautions, known.note, heat}
        cautions = [f"Caution: {text}" for text in recipe.cautions if text not in said]
        order = [f"Make it first: {heat}"] if heat else []
        yield Bullets((*order, *recipe.steps, *cautions))
        if own.compared is not None:
            first = own.compared.first
            until = len(own.compared.ways) if first is None else own.compared.ways.index(first) + 1
            rows = tuple(
                (w.name, percent(w.relative_uncertainty), "yes" if w.reaches else "no")
                for i, w in enumerate(own.compared.ways)
                if i < until or i == len(own.compared.ways) - 1
            )
            yield Table(("Way", "Concentration known to", "Good enough"), rows)


def _good_enough(plan: BenchPlan, own: _Made) -> str:
    """Say which glassware does, and why nothing better is needed."""
    if own.compared is None and own.reagent.role == "in excess":
        return "It is taken in excess, so that any glassware does."
    if own.compared is None:
        return "Its concentration enters the verdict: use the flask and balance of the record."
    why = f"it is taken in excess, {show(plan.excess)} times over"
    better = " Nothing better is needed" if own.compared.first else " It will have to do"
    return f"{own.compared.sentence}{better}: {why}."


def _to_get_ready(plan: BenchPlan, names: Sequence[str]) -> Iterator[str]:
    runs = math.ceil(RESERVE * plan.trials * plan.groups - 1e-9)
    vessels = _vessels(plan)
    for vessel in vessels:
        yield f"{vessel}: {runs}, one for each run and a tenth more."
    volumes = [c for c in plan.checks if c.subject == "vessel"]
    yield from (f"Beakers for the solutions: {runs}. {c.text}" for c in volumes)
    for name, words in _instruments(plan).items():
        yield f"{name}, {words}: numbered, so that each group can write down which it used."
    yield f"A bench card for each of {len(names)} group{'s' if len(names) > 1 else ''}, and labels."
    yield "A container for each kind of waste, labelled. Eye protection for everybody."


def _vessels(plan: BenchPlan) -> tuple[str, ...]:
    """Return the names of what holds something when it is weighed: papers, crucibles."""
    experiment = plan.experiment
    order = experiment.reading_names()
    found = [
        name
        for model in (experiment.consumed, experiment.produced)
        for way in model.ways
        for name in way.empty_vessels
        if not way.loses_mass(order)
    ]
    heavier = {way.span.high for m in (experiment.consumed, experiment.produced) for way in m.ways}
    return tuple(name for name in dict.fromkeys(found) if name not in heavier)


# Labels


def labels(
    plan_or_lab: BenchPlan | Plan | Experiment, *, groups: int | Iterable[str] | None = None
) -> Labels:
    """Return labels for the vessels of each group and trial, for bottles and for waste.

    They state group, trial and content, with the GHS signal word and hazard statements as text
    (from memory; check the safety data sheet). Sheets are cut along dashed lines; the smallest
    size that holds a label in full is taken.

    Parameters
    ----------
    plan_or_lab, groups
        As for :func:`bench_cards`.

    Raises
    ------
    ModelError
        As for :func:`bench_cards`.

    Source
    ------
    Globally Harmonized System (GHS), signal words and annex 3: from memory.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> made = labels(experiments.load("tin-oxide"), groups=["red"])
    >>> [section.title for section in made.sections][:3]
    ['red, trial 1: crucible', 'red, trial 2: crucible', 'red, trial 3: crucible']
    """
    plan, names = _planned(plan_or_lab, groups)
    contents = list(_contents(plan))
    trials = _trial_names(plan)
    sections = [
        Section(f"{group}, {trial}: {vessel}", tuple(_label(what, hazards)))
        for group in names
        for trial in trials
        for vessel, what, hazards in contents
    ]
    sections += [
        Section(reagent.name, tuple(_label(f"for {reagent.provides}", [known], bottle=True)))
        for reagent in plan.reagents
        if reagent.formula and reagent.for_class != "not measured"
        for known in (_known(reagent),)
    ]
    for text in plan.waste:
        what, _, advice = text.partition(": ")
        if advice.startswith("Nothing is collected") or set(what.split(", ")) <= set(plan.unknown):
            continue  # there is nothing to put a label on
        sections.append(Section(f"Waste: {what}", (advice, Field("From"))))
    return Labels(f"Labels: {plan.experiment.title}", (), tuple(sections))


def _known(reagent: Reagent) -> ReagentCautions:
    c = reagent.concentration_mol_per_L
    return cautions_for(reagent.formula, concentration_mol_per_L=c)


def _contents(plan: BenchPlan) -> Iterator[tuple[str, str, list[ReagentCautions]]]:
    """Yield each vessel of a trial with its content in words, and what is known of that."""
    experiment = plan.experiment
    for vessel in _vessels(plan):
        side = experiment.produced if vessel in _names_of(plan, "produced") else experiment.consumed
        substance = side.substance
        found = [cautions_for(substance)]
        name = _solid_name(substance)
        yield vessel, f"for {name}", [one for one in found if one.known]
    inside = [r for r in plan.reagents if r.volume_mL is not None]
    if inside:
        words = " + ".join(r.name for r in plan.reagents if r.formula and r.amount)
        yield "beaker", words, [k for r in inside if (k := _known(r)).known]


def _names_of(plan: BenchPlan, side: str) -> tuple[str, ...]:
    model = getattr(plan.experiment, side)
    return tuple(name for way in model.ways for name in way.empty_vessels)


def _label(
    what: str, hazards: Sequence[ReagentCautions], *, bottle: bool = False
) -> Iterator[Part]:
    """Yield what stands on a label below its title."""
    yield what
    words = [one.signal_word for one in hazards]
    if signal := next((w for w in ("Danger", "Warning") if w in words), ""):
        yield Strong(signal)
    statements = list(dict.fromkeys(s for one in hazards for s in one.statements))
    if statements:
        yield "; ".join(statements)
    if any(not one.known for one in hazards):
        yield "Hazards not known here: see the safety data sheet."
    if bottle:
        yield "From memory: check the safety data sheet."
        yield Field("Made on, by")
