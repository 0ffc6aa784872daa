"""A lab of one's own, said in one sentence with slots; what follows from it is plain data.

A :class:`Sentence` holds texts as typed. :func:`ways` tells how the sentence reads,
:func:`suggestions` what may stand in a slot, and :func:`understood` what each text was read as,
what is refused and why, the balanced equations, and the experiment as soon as everything can be
used. Who draws it needs to know no chemistry.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from string import Formatter
from typing import Any

from .._common import FrozenMap, nearest
from ..chemistry.candidates import Candidate
from ..chemistry.equation import balance_equation
from ..chemistry.formula import parse_formula
from ..chemistry.oxidation import NON_METALS
from ..errors import ExperimentError, ModelError, Refusal, StoichkitError
from ..measurement.base import Instrument, show
from ..measurement.displays import Balance
from ..measurement.registry import KINDS, make_instrument
from ..uncertainty import entry
from ..uncertainty.readings import parse_number
from .own_slots import Found, Read, Recipe, Rule, Slot, Suggestion
from .own_ways import RECIPES
from .parts import relocated
from .record import Experiment

MAX_TEXT = 2000


@dataclass(frozen=True, slots=True)
class Way:
    """One way to say a lab.

    Attributes
    ----------
    key, name : str
    parts : tuple of str or Slot
        The sentence: literal text and slots, in order.
    instruments : tuple of tuple of str or Slot
        A sentence for each instrument.
    heading : tuple of str or Slot
        The title, which may be left to follow from the sentence.
    """

    key: str
    name: str
    parts: tuple[str | Slot, ...]
    instruments: tuple[tuple[str | Slot, ...], ...]
    heading: tuple[str | Slot, ...]

    @property
    def slots(self) -> tuple[Slot, ...]:
        """Every slot, in the order in which they are read.

        >>> [slot.name for slot in ways()[0].slots][:3]
        ['metal', 'weighed', 'product']
        """
        lines = (self.parts, *self.instruments, self.heading)
        return tuple(part for line in lines for part in line if isinstance(part, Slot))


@dataclass(frozen=True, slots=True)
class Sentence:
    """A lab as a sentence: which way, and the texts of its slots as typed.

    Parameters
    ----------
    way : str
        Key of one of :func:`ways`.
    slots : mapping of str to str
        Texts by slot; one that is not here has its default.

    Raises
    ------
    ExperimentError
        If the way or a slot is not known, or a text is no text.

    Examples
    --------
    >>> lab = Sentence("displacement", {"metal": "iron", "product": "Cu", "states": "Fe2+, III"})
    >>> lab.text("weighed"), lab.text("metal")
    ('before and after', 'iron')
    """

    way: str
    slots: Mapping[str, str] = FrozenMap()

    def __post_init__(self) -> None:
        known = {slot.name for slot in way_named(self.way).slots}
        given = entry.mapping("slots", self.slots, "{slot: text}", error=ExperimentError)
        for name, text in given.items():
            if name not in known:
                raise ExperimentError(
                    "The sentence has no slot of that name.",
                    given=name,
                    allowed=", ".join(sorted(known)),
                    fix=nearest(name, known),
                )
            entry.text(name, text, error=ExperimentError)
        object.__setattr__(self, "slots", FrozenMap(given))

    def text(self, slot: str) -> str:
        """Return the text of a slot: as typed, or its default."""
        found = next((one for one in way_named(self.way).slots if one.name == slot), None)
        if found is None:
            Sentence(self.way, {slot: ""})  # says which there are
        return self.slots.get(slot, found.default if found else "")

    def with_text(self, slot: str, text: str) -> Sentence:
        """Return the sentence with another text in one slot.

        >>> Sentence("displacement").with_text("metal", "Zn").text("metal")
        'Zn'
        """
        return replace(self, slots={**self.slots, slot: text})


@dataclass(frozen=True, slots=True)
class Said:
    """What became of the text of one slot.

    Attributes
    ----------
    text : str
        As typed.
    items : tuple of str
        What it was read as, in words; one for each item of a list.
    note : str
        What was assumed.
    refusal : Refusal or None
        Why it cannot be used.
    missing : bool
        Whether it is still empty and must be filled in, or waits for a slot that is.
    """

    text: str
    items: tuple[str, ...] = ()
    note: str = ""
    refusal: Refusal | None = None
    missing: bool = False


@dataclass(frozen=True, slots=True)
class Understood:
    """What a sentence means, as far as it can be read.

    Attributes
    ----------
    slots : mapping of str to Said
    candidates : tuple of Candidate
        Empty until the slots that they follow from can be read.
    experiment : Experiment or None
        Without readings; None until everything can be used.
    """

    slots: Mapping[str, Said]
    candidates: tuple[Candidate, ...] = ()
    experiment: Experiment | None = None

    @property
    def equations(self) -> tuple[str, ...]:
        """The balanced equations of the candidates that have one.

        >>> lab = Sentence("displacement", {"metal": "Fe", "product": "Cu"})
        >>> understood(lab).equations
        ('Fe + Cu²⁺ → Fe²⁺ + Cu', '2 Fe + 3 Cu²⁺ → 2 Fe³⁺ + 3 Cu')
        """
        written = (one.equation for one in self.candidates if one.equation)
        return tuple(balance_equation(text).unicode() for text in written)

    @property
    def refusals(self) -> dict[str, Refusal]:
        """What cannot be used, by slot."""
        return {name: said.refusal for name, said in self.slots.items() if said.refusal}

    @property
    def missing(self) -> tuple[str, ...]:
        """The slots that are still to be filled in."""
        return tuple(name for name, said in self.slots.items() if said.missing)


_TITLE = Slot("title", "title of the lab", optional=True)


@lru_cache(maxsize=1)
def ways() -> tuple[Way, ...]:
    """Return every way to say a lab, in the order in which they are offered.

    >>> [part if isinstance(part, str) else f"[{part.name}]" for part in ways()[0].parts][:3]
    ['[metal]', ' was used up, weighed ', '[weighed]']
    """
    return tuple(way_named(key) for key in RECIPES)


def way_named(key: str) -> Way:
    """Return a way by its key.

    Raises
    ------
    ExperimentError
        If there is none of that key.
    """
    return _way(_recipe(key).key)


def _recipe(key: object) -> Recipe:
    if entry.text("way", key, error=ExperimentError) not in RECIPES:
        raise ExperimentError(
            "There is no such way to say a lab.",
            field="way",
            given=key,
            allowed=", ".join(RECIPES),
            fix=nearest(key, RECIPES),
        )
    return RECIPES[str(key)]


@lru_cache(maxsize=32)
def _way(key: str) -> Way:
    recipe = RECIPES[key]
    slots = {rule.slot.name: rule.slot for rule in recipe.rules}
    instruments = []
    for name, fixed in recipe.instruments.items():
        kind = KINDS[fixed["kind"]]
        figures = {slot.name.rpartition(".")[2]: slot for slot in _figures(name, fixed)}
        instruments.append((f"The {name} ", *_parts(kind.figures, figures), "."))
    return Way(
        recipe.key,
        recipe.name,
        _parts(recipe.template, slots),
        tuple(instruments),
        ("Title: ", _TITLE),
    )


def _parts(template: str, slots: Mapping[str, Slot]) -> tuple[str | Slot, ...]:
    found: list[str | Slot] = []
    for words, name, _, _ in Formatter().parse(template):
        found += [words] if words else []
        found += [slots[name]] if name else []
    return tuple(found)


def _figures(name: str, fixed: Mapping[str, Any]) -> tuple[Slot, ...]:
    """Return a slot for each figure asked of an instrument, with what it is taken to be."""
    kind = KINDS[fixed["kind"]]
    usual = make_instrument(**fixed)
    slots = []
    for _, field, _, _ in Formatter().parse(kind.figures):
        if field:
            value = getattr(usual, field)
            figure, _, unit = field.rpartition("_")
            label = f"{figure} of the {name}, {'°C' if unit == 'C' else unit}"
            text = "" if value is None else show(value)
            slots.append(Slot(f"{name}.{field}", label, "text", text, value is None))
    return tuple(slots)


def suggestions(sentence: Sentence, slot: str) -> tuple[Suggestion, ...]:
    """Return what may stand in a slot of a sentence, the usual first; none for a free number.

    Parameters
    ----------
    sentence : Sentence
        What stands in its other slots decides.
    slot : str

    Returns
    -------
    tuple of Suggestion
        A text for the slot (or for one item of a list) and its label.

    Raises
    ------
    ExperimentError
        If there is no such slot.

    Examples
    --------
    >>> lab = Sentence("displacement", {"metal": "Fe", "product": "Cu"})
    >>> [one.label for one in suggestions(lab, "states")][:2]
    ['iron(II), Fe²⁺', 'iron(III), Fe³⁺']
    """
    entry.record("sentence", sentence, Sentence, error=ExperimentError)
    entry.text("slot", slot, error=ExperimentError)
    sentence.text(slot)
    found, _ = _read_all(sentence)
    rule = next((r for r in _recipe(sentence.way).rules if r.slot.name == slot), None)
    return () if rule is None else tuple(rule.suggest(found))


def understood(sentence: Sentence) -> Understood:
    """Read a sentence: what each text means, what is refused, and what follows.

    Parameters
    ----------
    sentence : Sentence

    Returns
    -------
    Understood

    Examples
    --------
    >>> lab = understood(Sentence(
    ...     "displacement", {"metal": "iron", "product": "Cu", "states": "Fe2+, 3/2"}))
    >>> lab.slots["states"].items
    ('iron(II), Fe²⁺', 'iron(III), Fe³⁺, from n(Cu)/n(Fe) = 3/2')
    >>> lab.experiment.title, lab.experiment.reading_names()
    ('Iron in a solution of Cu²⁺', ('Fe before', 'Fe after', 'paper', 'paper + Cu'))
    >>> print(understood(Sentence("displacement", {"metal": "rust"})).refusals["metal"])
    This is not a metal. Given: rust. Allowed: the symbol or English name of a metal, ...
    """
    entry.record("sentence", sentence, Sentence, error=ExperimentError)
    recipe = _recipe(sentence.way)
    found, said = _read_all(sentence)
    instruments = _instruments(recipe, sentence, said)
    title = sentence.text("title").strip()
    said["title"] = Said(sentence.text("title"))
    candidates: tuple[Candidate, ...] = ()
    experiment = None
    place = recipe.asks
    try:
        if all(name in found for name in (recipe.asks, *_rule(recipe, recipe.asks).needs)):
            stated = recipe.stated(found)
            candidates = stated.spec.build(stated.consumed, stated.produced)
            if len(found) == len(recipe.rules):
                said["title"] = Said(sentence.text("title"), (title or recipe.title(found),))
                if instruments is not None:
                    place = "title"
                    experiment = _experiment(recipe, found, candidates, instruments, title)
    except StoichkitError as error:
        said[place] = replace(said[place], items=(), refusal=Refusal.of(error))
    return Understood(FrozenMap(said), candidates, experiment)


def _experiment(
    recipe: Recipe,
    found: Found,
    candidates: tuple[Candidate, ...],
    instruments: Mapping[str, Instrument],
    title: str,
) -> Experiment:
    measured = recipe.measured(found)
    return Experiment(
        title=title or recipe.title(found),
        consumed=measured.consumed,
        produced=measured.produced,
        instruments=instruments,
        candidates=candidates,
        candidate_spec=recipe.stated(found).spec,
        trials=(),
        shared_readings=FrozenMap({name: (text,) for name, text in measured.shared.items()}),
        order=tuple(name for name in measured.order if name not in measured.shared),
    )


def _rule(recipe: Recipe, slot: str) -> Rule:
    return next(rule for rule in recipe.rules if rule.slot.name == slot)


def _read_all(sentence: Sentence) -> tuple[dict[str, Any], dict[str, Said]]:
    """Read every slot of the sentence itself; return the values, and what is said of each."""
    found: dict[str, Any] = {}
    said: dict[str, Said] = {}
    for rule in _recipe(sentence.way).rules:
        name = rule.slot.name
        text = sentence.text(name)
        if not text.strip() and rule.blank is None:
            said[name] = Said(text, missing=True)
            continue
        if any(need not in found for need in rule.needs):
            said[name] = Said(text, missing=True)
            continue
        try:
            read = _read(rule, text, found)
        except StoichkitError as error:
            said[name] = Said(text, refusal=Refusal.of(error))
        else:
            found[name] = read.value
            said[name] = Said(text, read.said, read.note)
    return found, said


def _read(rule: Rule, text: str, found: Found) -> Read:
    if len(text) > MAX_TEXT:
        raise ModelError(
            "The text is too long.", given=len(text), allowed=f"up to {MAX_TEXT} characters"
        )
    if text.strip():
        return rule.read(text, found)
    assert rule.blank is not None
    return rule.blank(found)


def _instruments(
    recipe: Recipe, sentence: Sentence, said: dict[str, Said]
) -> dict[str, Instrument] | None:
    """Make the instruments of the texts typed; None if a figure is refused."""
    made: dict[str, Instrument] = {}
    for name, fixed in recipe.instruments.items():
        figures: dict[str, Any] = {}
        slots = _figures(name, fixed)
        for slot in slots:
            text = sentence.text(slot.name)
            said[slot.name] = Said(text, missing=not text.strip() and not slot.optional)
            if text.strip():
                try:
                    figures[slot.name] = parse_number(text, slot.label.partition(",")[0]).value
                except StoichkitError as error:
                    said[slot.name] = Said(text, refusal=Refusal.of(error))
        try:
            instrument = _instrument(fixed, figures)
        except StoichkitError as together:
            alone = {slot: why for slot in figures if (why := _refused(fixed, slot, figures))}
            if len(alone) < 2:  # the others may mend what it lacks, or lack something themselves
                alone = {next(iter(alone), slots[0].name): together}
            for place, why in alone.items():
                said[place] = replace(said[place], refusal=Refusal.of(why))
            continue
        if not any(said[slot.name].refusal or said[slot.name].missing for slot in slots):
            made[name] = instrument
            first = slots[0].name
            said[first] = replace(said[first], items=(instrument.describe(),))
    return made if len(made) == len(recipe.instruments) else None


def _instrument(fixed: Mapping[str, Any], figures: Mapping[str, float]) -> Instrument:
    """Make an instrument with these figures, by slot, in the place of the usual ones."""
    own: dict[str, Any] = {slot.rpartition(".")[2]: value for slot, value in figures.items()}
    return make_instrument(**{**fixed, **own})


def _refused(
    fixed: Mapping[str, Any], slot: str, figures: Mapping[str, float]
) -> StoichkitError | None:
    """Return why one figure cannot be used beside the usual ones; None if it can."""
    try:
        _instrument(fixed, {slot: figures[slot]})
    except StoichkitError as error:
        return error
    return None


_ARGUMENT = {
    "metal": "consumed",
    "substance": "consumed",
    "product": "produced",
    "balance.readability_g": "balance_g",
    "balance.repeatability_g": "repeatability_g",
}
"""Which argument of :func:`weighed` a slot is filled from, where that has another name."""
_PAIRS = '{"Fe": ["7.3", "6.2"]} for one trial, {"Fe": [["7.3", "6.2"], ["7.1", "6.0"]]} for two'


def weighed(
    consumed: Mapping[str, Sequence[Any]],
    produced: Mapping[str, Sequence[Any]],
    *,
    states: Iterable[int | str] = (),
    candidates: Iterable[str] = (),
    ion: str = "",
    balance_g: float | str | Sequence[float | str] = 0.01,
    repeatability_g: float | str | None = None,
    title: str = "",
) -> Experiment:
    """Make an experiment of what was weighed: what was used up, and what was made of it.

    Parameters
    ----------
    consumed : mapping of str to list
        Formula of what was used up, and its readings in g as typed (texts, which keep their last
        zeros): before and after; one alone if the balance was set to zero. For several trials a
        list of such lists.
    produced : mapping of str to list
        The same of what was made: its empty paper, and the paper with it; or one alone.
    states : list of int or str, optional
        Oxidation states of the metal used up that may have formed: 2, "II", "Fe2+", "iron(II)".
        The usual ones, with neighbours to compare with, if left out.
    candidates : list of str, optional
        In the place of ``states``, for substances of any kind: mole ratios produced over consumed
        ("3/2", "1.5"), equations or formulas, each with or without a name ("half = 1/2").
    ion : str, optional
        The ion in the solution that the metal made comes from, or its salt: "Cu2+", "CuSO4". Its
        usual ion if left out.
    balance_g : float or str, or list of such
        Step of the balance; a list has one for each trial, where they were weighed on different
        ones.
    repeatability_g : float or str, optional
        Standard deviation of repeated weighings; half a step if left out.
    title : str, optional

    Returns
    -------
    Experiment

    Raises
    ------
    ExperimentError
        If something cannot be used; ``field`` names the argument or the reading.

    Examples
    --------
    >>> import stoichkit
    >>> lab = stoichkit.weighed(
    ...     consumed={"Fe": ["7.3", "6.2"]}, produced={"Cu": ["53.4", "54.7"]},
    ...     states=[2, 3], balance_g=0.1)
    >>> print(lab.title, "|", dict(lab.trials[0].readings)["paper + Cu"])
    Iron in a solution of Cu²⁺ | ('54.7',)
    >>> stoichkit.assess(lab).verdict.candidates
    ('iron(II)',)
    """
    used, used_texts = _weighings(consumed, "consumed")
    made, made_texts = _weighings(produced, "produced")
    steps = _steps(balance_g, len(used_texts))
    named = entry.listed("candidates", candidates, str, error=ExperimentError)
    way, slots = "reaction", {"substance": used, "candidates": _list_text(named)}
    if not named:
        listed = entry.listed("states", states, error=ExperimentError)
        stated = [_state(one, f"states[{place}]") for place, one in enumerate(listed, start=1)]
        way = "displacement"
        slots = {"metal": used, "ion": ion, "states": _list_text(stated)}
    entry.texts(ion=ion, title=title)
    slots |= {
        "product": made,
        "weighed": "before and after" if len(used_texts[0]) == 2 else "alone",
        "product_weighed": "on paper" if len(made_texts[0]) == 2 else "alone",
        "balance.readability_g": steps[0],
        "title": title,
    }
    if repeatability_g is not None:
        slots["balance.repeatability_g"] = _figure("repeatability_g", repeatability_g)
    found = understood(Sentence(way, slots))
    for slot, refusal in found.refusals.items():
        raise ExperimentError(
            refusal.problem, field=_ARGUMENT.get(slot, slot), fix=refusal.advice or None
        )
    if found.experiment is None:
        raise ExperimentError(
            "This is missing.", field=", ".join(_ARGUMENT.get(s, s) for s in found.missing)
        )
    if len(used_texts) != len(made_texts):
        raise ExperimentError(
            "There are not as many trials of what was made as of what was used up.",
            field="produced",
            given=len(made_texts),
            allowed=len(used_texts),
        )
    names = found.experiment.reading_names()
    rows = [(*a, *b) for a, b in zip(used_texts, made_texts, strict=True)]
    lab = found.experiment.with_readings(
        {name: [row[place] for row in rows] for place, name in enumerate(names)}
    )
    return _on_balances(lab, steps)


def _steps(given: object, trials: int) -> list[str]:
    """Return the step of the balance of each trial, as text."""
    if not isinstance(given, list | tuple):
        return [_figure("balance_g", given)] * trials
    if len(given) != trials:
        raise ExperimentError(
            "There is not one balance for each trial.",
            field="balance_g",
            given=f"{len(given)} for {trials} trials",
            allowed="one step for all trials, or a list with one for each",
        )
    return [_figure("balance_g", one) for one in given]


def _on_balances(lab: Experiment, steps: Sequence[str]) -> Experiment:
    """Return a lab whose trials were weighed on balances of these steps."""
    usual = lab.instruments["balance"]
    assert isinstance(usual, Balance)
    names: dict[float, str] = {usual.readability_g: "balance"}
    trials = []
    for trial, text in zip(lab.trials, steps, strict=True):
        try:
            step = parse_number(text, "balance_g").value
            if step not in names:
                names[step] = f"balance {len(names) + 1}"
                other = replace(usual, readability_g=step)
                lab = lab.with_instrument(names[step], other)
        except StoichkitError as error:
            raise relocated(error, field="balance_g") from error
        trials.append(replace(trial, instruments={"balance": names[step]}))
    return lab.with_trials(trials)


def unweighed(
    reactant: str,
    bath: str = "",
    *,
    states: Iterable[int | str] = (),
    candidates: Iterable[str] = (),
    balance_g: float | str = 0.01,
    title: str = "",
) -> Experiment:
    """Make an experiment of a lab still to be done: what is used up, and what it is put into.

    Parameters
    ----------
    reactant : str
        A metal that displaces another out of a bath. Without a bath: a metal that is burnt to its
        oxide, or a salt whose crystals lose their water.
    bath : str
        Formula of the salt dissolved, such as "CuSO4.5H2O"; its metal is what is made.
    states : list of int or str, optional
        As for :func:`weighed`.
    candidates : list of str, optional
        Without a bath: formulas of oxides, or numbers of water; the usual ones if left out.
    balance_g : float or str
        Step of the balance.
    title : str, optional

    Returns
    -------
    Experiment
        Without trials.

    Raises
    ------
    ExperimentError
        If something cannot be used; ``field`` names the argument.

    Examples
    --------
    >>> lab = unweighed("Fe", "CuSO4.5H2O", states=[2, 3])
    >>> lab.title, [str(c.ratio) for c in lab.candidates], len(lab.trials)
    ('Iron in a solution of Cu²⁺', ['1', '3/2'], 0)
    >>> unweighed("CaSO4", candidates=["1/2", "2"]).title
    'Water in crystals of CaSO₄'
    """
    entry.texts(reactant=reactant, bath=bath, title=title)
    named = entry.listed("candidates", candidates, str, error=ExperimentError)
    listed = entry.listed("states", states, error=ExperimentError)
    stated = [_state(one, f"states[{place}]") for place, one in enumerate(listed, start=1)]
    slots = {"balance.readability_g": _figure("balance_g", balance_g), "title": title}
    if bath.strip():
        way = "displacement"
        slots |= {
            "metal": reactant, "product": metal_of(bath), "ion": bath, "states": _list_text(stated)
        }  # fmt: skip
    elif _is_salt(reactant):
        way = "hydrate"
        slots |= {"salt": reactant, "waters": _list_text(named)}
    else:
        way = "oxide"
        slots |= {"metal": reactant, "oxides": _list_text(named)}
    found = understood(Sentence(way, slots))
    places = {"metal": "reactant", "salt": "reactant", "ion": "bath", "product": "bath"}
    argument = _ARGUMENT | places | {"waters": "candidates", "oxides": "candidates"}
    for slot, refusal in found.refusals.items():
        raise ExperimentError(
            refusal.problem, field=argument.get(slot, slot), fix=refusal.advice or None
        )
    if found.experiment is None:
        raise ExperimentError(
            "This is missing.", field=", ".join(argument.get(s, s) for s in found.missing)
        )
    return found.experiment


def metal_of(salt: str) -> str:
    """Return the symbol of the one metal in a salt.

    Raises
    ------
    ExperimentError
        If it cannot be read, or there is none or more than one.

    Examples
    --------
    >>> metal_of("CuSO4.5H2O"), metal_of("AgNO3")
    ('Cu', 'Ag')
    """
    try:
        counts = parse_formula(salt).counts
    except StoichkitError as error:
        raise ExperimentError(
            "The salt of the bath cannot be read.", field="bath", given=salt, fix=str(error)
        ) from None
    found = [symbol for symbol in counts if symbol not in NON_METALS and symbol != "H"]
    if len(found) != 1:
        raise ExperimentError(
            "A bath holds the salt of one metal.", field="bath", given=salt,
            allowed="the formula of a salt, such as CuSO4.5H2O or AgNO3",
        )  # fmt: skip
    return found[0]


def _is_salt(text: str) -> bool:
    """Return whether a text is the formula of more than one element."""
    try:
        return len(parse_formula(text).counts) > 1
    except StoichkitError:
        return False


def _list_text(items: Iterable[int | str]) -> str:
    """Write a list for a slot; the semicolons keep a decimal comma what it is."""
    return "".join(f"{item}; " for item in items)


def _weighings(given: object, side: str) -> tuple[str, tuple[tuple[str, ...], ...]]:
    """Return the one substance and, trial by trial, its one or two readings."""
    table = entry.mapping(side, given, _PAIRS, error=ExperimentError)
    if len(table) != 1:
        raise ExperimentError(
            "One substance is named here.", field=side, given=", ".join(map(str, table)) or None
        )
    ((species, typed),) = table.items()
    entry.text(side, species, error=ExperimentError)
    listed = entry.listed(side, typed, error=ExperimentError)
    if all(isinstance(one, str) for one in listed):
        listed = (listed,)
    trials = tuple(entry.listed(side, one, str, error=ExperimentError) for one in listed)
    counts = {len(one) for one in trials}
    if counts not in ({1}, {2}):
        raise ExperimentError(
            "A trial has two readings, or one where the balance was set to zero; all trials alike.",
            field=side,
            given="; ".join(", ".join(one) for one in trials) or None,
            allowed=_PAIRS,
        )
    return species, trials


def _state(given: object, name: str) -> int | str:
    """Return an oxidation state as text or whole number."""
    if isinstance(given, str):
        return given
    return entry.whole(name, given, least=1, most=9, error=ExperimentError)


def _figure(name: str, given: object) -> str:
    """Return a figure of the balance as text."""
    if isinstance(given, str):
        entry.text(name, given, empty=False, error=ExperimentError)
        return given
    return show(entry.number(name, given, error=ExperimentError))
