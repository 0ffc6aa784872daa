"""Practice labs without end: invented readings that a short id gives again everywhere.

An id is seven letters and digits; the last is a check character, so that one mistyped, or two in
each other's place, are noticed. Everything is drawn by SHA-256 and worked out with whole
micrograms, so that the same id gives the same lab with every version of Python and NumPy.

Readings are drawn as the instruments of the record are modelled: mass on the pan, plus the
repeatability of the balance, rounded to the step of its display. Which product formed is drawn by
lot, whatever chemistry would say: only the readings can tell.

Here are the labs in which everything is weighed; an id that begins with Z is of the others, see
:mod:`.practice_kinds`, and its second character holds kind and level.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache
from itertools import pairwise

from ..chemistry.candidates import Candidate, from_formulas, hydrate_series, oxidation_states
from ..chemistry.elements import element_name
from ..chemistry.formula import parse_formula
from ..errors import ExperimentError
from ..measurement.displays import Balance
from ..measurement.weighing import MassByDifference
from ..uncertainty import entry
from .parts import Caution, Trial
from .practice_drawing import (
    ASKED,
    LEAST_STEPS,
    MICRO,
    Display,
    FaultKind,
    Lot,
    PlantedFault,
    Rise,
    molar,
    nearest,
    shown,
    swap,
    written,
)
from .practice_kinds import balance_of, drawn
from .record import Experiment

ALPHABET = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
"""Letters and digits of an id; 0, 1, I, L and O are left out because they look alike."""
LENGTH = 7
LEVELS = range(1, 6)
KINDS = ("weighed", "gas", "titration", "charge")
"""What a practice lab may be about."""
_OTHER = ALPHABET[-1]
"""Begins an id of the other kinds; :func:`new_id` never began one of a weighed lab with it."""
_EDITION = "stoichkit practice lab 1"
_LEAST_G, _MOST_G = Fraction(3, 100), Fraction(4)
_STEPS_UG = (100, 1000, 10_000, 100_000)
_MOST = 10**12
_TITLE = "Practice lab "
_INVENTED = (
    "An invented scenario with invented readings; which product formed was drawn by lot, so that "
    "only the readings can tell."
)
_FAULTS = (FaultKind.SWAPPED, FaultKind.LOST, FaultKind.WET)


@dataclass(frozen=True, slots=True)
class _Scene:
    """What is done, and which products are thought of."""

    kind: str  # "displaced", "oxide", "hydrate"
    consumed: str
    produced: str
    candidates: tuple[str, ...]  # states, formulas, waters
    with_what: str = ""


_SCENES = (
    _Scene("displaced", "Fe", "Cu", ("2", "3"), "copper sulfate"),
    _Scene("displaced", "Cu", "Ag", ("1", "2"), "silver nitrate"),
    _Scene("displaced", "Zn", "Cu", ("1", "2"), "copper sulfate"),
    _Scene("displaced", "Sn", "Cu", ("2", "4"), "copper chloride"),
    _Scene("displaced", "Ni", "Ag", ("2", "3"), "silver nitrate"),
    _Scene("displaced", "Co", "Ag", ("2", "3"), "silver nitrate"),
    _Scene("displaced", "Al", "Cu", ("1", "2", "3"), "copper chloride"),
    _Scene("displaced", "Fe", "Ag", ("2", "3"), "silver nitrate"),
    _Scene("displaced", "Mg", "Zn", ("1", "2"), "zinc sulfate"),
    _Scene("oxide", "Fe", "O", ("FeO", "Fe3O4")),
    _Scene("oxide", "Fe", "O", ("Fe3O4", "Fe2O3")),
    _Scene("oxide", "Cu", "O", ("Cu2O", "CuO")),
    _Scene("oxide", "Sn", "O", ("SnO", "SnO2")),
    _Scene("oxide", "Co", "O", ("CoO", "Co3O4")),
    _Scene("oxide", "Mn", "O", ("Mn2O3", "Mn3O4", "MnO2")),
    _Scene("oxide", "Ti", "O", ("TiO", "Ti2O3", "TiO2")),
    _Scene("oxide", "Ni", "O", ("NiO", "Ni2O3")),
    _Scene("hydrate", "MgSO4", "H2O", ("6", "7")),
    _Scene("hydrate", "CuSO4", "H2O", ("3", "5")),
    _Scene("hydrate", "ZnSO4", "H2O", ("6", "7")),
    _Scene("hydrate", "BaCl2", "H2O", ("1", "2")),
    _Scene("hydrate", "CoCl2", "H2O", ("2", "6")),
    _Scene("hydrate", "NiSO4", "H2O", ("6", "7")),
    _Scene("hydrate", "Na2CO3", "H2O", ("7", "10")),
    _Scene("hydrate", "CaCl2", "H2O", ("2", "4", "6")),
)


_EYES = "Wear eye protection and gloves; ventilate."
_SOURCE = "Common practice, no source; check the safety data sheets and local rules."
_CAUTIONS = {
    "displaced": (
        "solutions of metal salts",
        (
            _EYES,
            "Copper, silver, zinc, nickel and cobalt solutions are toxic to aquatic life, and some "
            "harm skin or lungs: collect them as heavy-metal waste.",
        ),
    ),
    "oxide": (
        "igniting a metal in a crucible",
        (
            _EYES,
            "A hot crucible looks like a cold one: use tongs and let it cool before weighing.",
            "Dusts of metal oxides are not to be breathed in; nickel and cobalt oxides may cause "
            "cancer.",
        ),
    ),
    "hydrate": (
        "heating crystals in an open crucible",
        (
            _EYES,
            "Crystals that lose water spit: begin with a small flame and the lid ajar.",
            "Salts of barium, cobalt, nickel and copper are toxic: collect them as waste.",
        ),
    ),
}


@dataclass(frozen=True)
class PracticeLab:
    """A practice lab with what is told only at the end.

    Attributes
    ----------
    id : str
        Seven letters and digits.
    level : int
        1 to 5.
    scene : str
        "displaced", "oxide", "hydrate", "gas", "titration" or "charge".
    experiment : Experiment
        The record, as somebody at the bench would have written it.
    truth : str
        Name of the candidate from which the readings were drawn.
    fault : PlantedFault or None
    consumed_mol : float
        Amount that was meant to react in each trial, mol.
    true_values : tuple of mapping
        What would have been read without any error, by trial, in the unit of the reading; a fault
        of writing is not in it.
    """

    id: str
    level: int
    scene: str
    experiment: Experiment
    truth: str
    fault: PlantedFault | None
    consumed_mol: float
    true_values: tuple[dict[str, float], ...]

    @cached_property
    def step_g(self) -> float:
        """Step of the balance, g."""
        balance = self.experiment.instruments["balance"]
        assert isinstance(balance, Balance)
        return balance.readability_g


def practice(lab: str | int, *, level: int | None = None, kind: str | None = None) -> PracticeLab:
    """Return the practice lab of an id, or one made from a number.

    Parameters
    ----------
    lab : str or int
        An id, capitals or not, spaces and hyphens ignored; or a whole number, 0 to 10¹², from which
        an id is made.
    level : int, optional
        1 (far apart, seen at a glance) to 5 (near neighbours, coarse display, faults); only with a
        number, 1 if left out. An id holds its level.
    kind : "weighed", "gas", "titration" or "charge", optional
        Only with a number, "weighed" if left out. An id holds its kind.

    Returns
    -------
    PracticeLab

    Raises
    ------
    ExperimentError
        If the id is none, or was mistyped.
    ModelError
        If the number or the level is out of range, or there is no such kind.

    Examples
    --------
    >>> lab = practice(7, level=2)
    >>> lab.id, lab.experiment.invented
    ('86CAU28', True)
    >>> practice(lab.id.lower()).experiment == lab.experiment
    True
    >>> practice(7, level=2, kind="charge").experiment.title
    'Practice lab ZV7JWEN: cobalt plated by a measured charge'
    >>> practice("86CAU29")
    Traceback (most recent call last):
    stoichkit.errors.ExperimentError: The id of the practice lab was mistyped...
    """
    if isinstance(lab, str):
        for name, given in (("level", level), ("kind", kind)):
            if given is not None:
                raise ExperimentError(
                    f"An id holds its {name} already.", given=given,
                    fix=f"Leave the {name} out, or give a number in place of the id.",
                )  # fmt: skip
        return _made(checked_id(lab))
    number = entry.whole("lab", lab, least=0, most=_MOST)
    at = entry.whole("level", 1 if level is None else level, least=LEVELS[0], most=LEVELS[-1])
    return _made(new_id(at, number, "weighed" if kind is None else kind))


def new_id(level: int, number: int, kind: str = "weighed") -> str:
    """Return the id that belongs to a level, a whole number and a kind.

    Raises
    ------
    ModelError
        If there is no such kind.

    Examples
    --------
    >>> new_id(2, 7), new_id(2, 7, "gas")
    ('86CAU28', 'ZJGBGNS')
    """
    entry.choice("kind", kind, KINDS, of="a practice lab")
    if kind == "weighed":
        lot = Lot(f"{_EDITION} id {level} {number}")
        body = [level - 1 + len(LEVELS) * lot.below(6)]
    else:
        lot = Lot(f"{_EDITION} id {kind} {level} {number}")
        others = KINDS[1:]
        place = others.index(kind) + len(others) * lot.below(2)
        body = [ALPHABET.index(_OTHER), level - 1 + len(LEVELS) * place]
    body += [lot.below(len(ALPHABET)) for _ in range(LENGTH - 1 - len(body))]
    return "".join(ALPHABET[i] for i in (*body, _check(body)))


def checked_id(text: str) -> str:
    """Return an id as it is written, or say what is wrong with it.

    Raises
    ------
    ExperimentError
        If its length, a letter or its check character is wrong.

    Examples
    --------
    >>> checked_id(" 86ca-u28 ")
    '86CAU28'
    """
    plain = "".join(text.split()).replace("-", "").upper()
    allowed = f"{LENGTH} letters and digits; 0, 1, I, L and O do not occur"
    if len(plain) != LENGTH:
        raise ExperimentError(
            "This is not the id of a practice lab.", given=text[:40], allowed=allowed
        )
    if strange := [letter for letter in plain if letter not in ALPHABET]:
        raise ExperimentError(
            "The id of the practice lab holds what no id has.", given=strange[0], allowed=allowed
        )
    places = [ALPHABET.index(letter) for letter in plain]
    if _check(places[:-1]) != places[-1]:
        raise ExperimentError(
            "The id of the practice lab was mistyped: its last character does not fit the others.",
            given=plain,
            allowed=allowed,
            fix="Compare it letter by letter.",
        )
    return plain


def _check(places: Sequence[int]) -> int:
    """Return the check character: the weights differ, and 31 is prime."""
    return sum((i + 2) * place for i, place in enumerate(places)) % len(ALPHABET)


@lru_cache(maxsize=64)
def _candidates(scene: _Scene) -> tuple[Candidate, ...]:
    if scene.kind == "displaced":
        ion = "Ag^+" if scene.produced == "Ag" else f"{scene.produced}^2+"
        return oxidation_states(scene.consumed, scene.candidates, displaced=ion)
    if scene.kind == "oxide":
        return from_formulas(scene.candidates, consumed=scene.consumed, produced=scene.produced)
    return hydrate_series(scene.consumed, waters=scene.candidates)


def _gap(scene: _Scene) -> Fraction:
    """Return the least difference of two ratios, as a part of the larger."""
    ratios = sorted(one.ratio for one in _candidates(scene))
    return min((b - a) / b for a, b in pairwise(ratios))


@lru_cache(maxsize=64)
def _made(name: str) -> PracticeLab:
    other = name[0] == _OTHER
    holds = ALPHABET.index(name[1 if other else 0])
    level, place = holds % len(LEVELS) + 1, holds // len(LEVELS)
    for attempt in range(200):
        lot = Lot(f"{_EDITION} {name} {attempt}")
        if other:
            kinds = KINDS[1:]
            found = _other(name, level, kinds[place % len(kinds)], lot)
        else:
            found = _tried(name, level, lot)
        if found is not None:
            return found
    raise AssertionError(name)  # no id was found that comes here


def _other(name: str, level: int, kind: str, lot: Lot) -> PracticeLab | None:
    """Return a lab in which not everything is weighed; None if something does not show."""
    found = drawn(kind, level, lot)
    if found is None:
        return None
    experiment = Experiment(
        title=f"{_TITLE}{name}: {found.title}",
        about=f"{found.about} {_INVENTED}",
        invented=True,
        consumed=found.consumed,
        produced=found.produced,
        instruments=found.instruments,
        candidates=found.candidates,
        shared_readings={n: (text,) for n, text in found.shared.items()},
        trials=_trials(found.trials),
        cautions=found.cautions,
    )
    return PracticeLab(
        name, level, kind, experiment, found.truth, found.fault, float(found.consumed_mol),
        found.true_values,
    )  # fmt: skip


def _trials(texts: Sequence[dict[str, str]]) -> tuple[Trial, ...]:
    return tuple(
        Trial(str(i), {name: (text,) for name, text in one.items()})
        for i, one in enumerate(texts, 1)
    )


def _tried(name: str, level: int, lot: Lot) -> PracticeLab | None:
    """Return a lab; None if a mass does not show, so that nothing could be asked."""
    asked = ASKED[level]
    scenes = [s for s in _SCENES if asked.least_gap <= _gap(s) <= asked.most_gap]
    scene = scenes[lot.below(len(scenes))]
    candidates = _candidates(scene)
    truth = candidates[lot.below(len(candidates))]
    consumed_ug, step = _size(scene, asked.apart[lot.below(len(asked.apart))], lot)
    count = asked.trials[lot.below(len(asked.trials))]
    kind, part = None, Fraction(1)
    if lot.below(8) < asked.faults:
        kind = _FAULTS[lot.below(len(_FAULTS))]
        size = lot.between(70, 150)
        part = 1 + Fraction(size if kind is FaultKind.WET else -size, 1000)
        if kind is FaultKind.SWAPPED:
            part = Fraction(1)
    masses = [_masses(scene, truth.ratio, consumed_ug, part, lot) for _ in range(count)]
    sigma = step // 2
    seen = [{n: shown(m + lot.normal(sigma), step) for n, m in one.items()} for one in masses]
    names = [str(i + 1) for i in range(count)]
    used, made = _differences(scene)
    if any(one[a] - one[b] < low * step for one in seen for (a, b), low in ((used, 2), (made, 1))):
        return None
    texts = [{n: written(v, step) for n, v in one.items()} for one in seen]
    fault = None
    if kind is FaultKind.SWAPPED:
        displays = dict.fromkeys(texts[0], Display(step))
        fault = swap(texts, names, displays, [Rise(*used), Rise(*made)], lot)
    elif kind is not None:
        fault = PlantedFault(kind, _fault_words(scene, kind, part))
    return PracticeLab(
        name, level, scene.kind,
        _record(name, scene, candidates, step, texts),
        truth.name, fault, float(Fraction(consumed_ug, MICRO) / molar(scene.consumed)),
        tuple({n: m / MICRO for n, m in one.items()} for one in masses),
    )  # fmt: skip


def _size(scene: _Scene, apart: int, lot: Lot) -> tuple[int, int]:
    """Return the mass to be consumed and the step of the display, µg.

    The mass is such that the two nearest candidates differ by so many steps, a step in either
    substance counted.
    """
    ratios = sorted(one.ratio for one in _candidates(scene))
    low, high = min(pairwise(ratios), key=lambda pair: pair[1] - pair[0])
    a, b = molar(scene.consumed), molar(scene.produced)
    fitting = []
    for step in _STEPS_UG:
        grams = Fraction(step, MICRO)
        mass = Fraction(apart, 10) * (grams / b + high * grams / a) / (high - low) * a
        mass = max(mass, LEAST_STEPS * grams)
        if _LEAST_G <= mass <= _MOST_G:
            fitting.append((nearest(mass * MICRO), step))
    if not fitting:
        raise AssertionError((scene, apart))
    return fitting[lot.below(len(fitting))]


def _masses(
    scene: _Scene, ratio: Fraction, consumed_ug: int, part: Fraction, lot: Lot
) -> dict[str, int]:
    """Return what lies on the pan at each reading of a trial, µg."""
    used = consumed_ug * lot.between(850, 1150) // 1000
    made = nearest(used / molar(scene.consumed) * ratio * part * molar(scene.produced))
    if scene.kind == "displaced":
        wire, paper = lot.between(1_400_000, 3_100_000), lot.between(580_000, 890_000)
        return {
            "strip before": wire + used, "strip after": wire,
            "paper": paper, "paper + metal": paper + made,
        }  # fmt: skip
    crucible = lot.between(14_000_000, 21_500_000)
    if scene.kind == "oxide":
        return {
            "crucible": crucible, "crucible + metal": crucible + used,
            "crucible + oxide": crucible + used + made,
        }  # fmt: skip
    return {
        "crucible": crucible, "crucible + crystals": crucible + used + made,
        "crucible + residue": crucible + used,
    }  # fmt: skip


def _differences(scene: _Scene) -> tuple[tuple[str, str], tuple[str, str]]:
    """Return heavier and lighter reading of what was consumed, and of what was produced."""
    return {
        "displaced": (("strip before", "strip after"), ("paper + metal", "paper")),
        "oxide": (("crucible + metal", "crucible"), ("crucible + oxide", "crucible + metal")),
        "hydrate": (
            ("crucible + residue", "crucible"),
            ("crucible + crystals", "crucible + residue"),
        ),
    }[scene.kind]


def _fault_words(scene: _Scene, kind: FaultKind, part: Fraction) -> str:
    size = f"{abs(float(100 * (part - 1))):.0f} %"
    lost = kind is FaultKind.LOST
    if scene.kind == "displaced":
        if lost:
            return f"In every trial {size} of the metal was washed through the paper."
        return f"The metal was not dry: water made it {size} too heavy in every trial."
    if scene.kind == "oxide":
        if lost:
            return f"In every trial {size} of the gain was lost again as smoke and spray."
        return f"The crucible was not dry: the gain was {size} too large in every trial."
    if lost:
        return f"It was not heated to the end: {size} of the water stayed in every trial."
    return f"Crystals spat out: the loss was {size} too large in every trial."


def _record(
    name: str,
    scene: _Scene,
    candidates: tuple[Candidate, ...],
    step: int,
    texts: Sequence[dict[str, str]],
) -> Experiment:
    (heavy, light), (heavier, lighter) = _differences(scene)
    subject, advice = _CAUTIONS[scene.kind]
    hydrate = scene.kind == "hydrate"
    metal = scene.consumed if hydrate else element_name(scene.consumed)
    salt = parse_formula(metal).unicode() if hydrate else ""
    made = "" if hydrate else element_name(scene.produced)
    title, about = {
        "displaced": (
            f"{metal} in {scene.with_what} solution",
            f"A strip of {metal} hangs in {scene.with_what} solution and is weighed before and "
            f"after; the {made} that comes out"
            f" is weighed on its paper. Which ion did the {metal} become?",
        ),
        "oxide": (
            f"{metal} ignited in air",
            f"{metal} powder is ignited in a crucible until the mass no longer changes; the gain "
            "is oxygen. Which oxide formed?",
        ),
        "hydrate": (
            f"water in crystals of {metal}",
            f"Crystals of hydrated {salt} are heated in a crucible until the mass no longer "
            "changes; the loss is water. How many water molecules went with each formula unit?",
        ),
    }[scene.kind]
    return Experiment(
        title=f"{_TITLE}{name}: {title}",
        about=f"{about[:1].upper()}{about[1:]} {_INVENTED}",
        invented=True,
        consumed=MassByDifference(species=scene.consumed, heavier=heavy, lighter=light),
        produced=MassByDifference(species=scene.produced, heavier=heavier, lighter=lighter),
        instruments={"balance": balance_of(step)},
        candidates=candidates,
        trials=_trials(texts),
        cautions=(Caution(subject=subject, advice=advice, source=_SOURCE),),
    )


def practice_of(experiment: Experiment) -> PracticeLab | None:
    """Return the practice lab that a record is, None if it is none, or was changed.

    >>> practice_of(practice(7).experiment).id == practice(7).id
    True
    >>> from stoichkit import experiments
    >>> practice_of(experiments.load("tin-oxide"))
    """
    head, _, rest = entry.record("experiment", experiment, Experiment).title.partition(": ")
    if not rest or not head.startswith(_TITLE):
        return None
    try:
        lab = practice(head.removeprefix(_TITLE))
    except ExperimentError:
        return None
    same = (
        "consumed", "produced", "candidates", "instruments", "shared_readings", "trials",
    )  # fmt: skip
    alike = all(getattr(lab.experiment, part) == getattr(experiment, part) for part in same)
    return lab if alike else None
