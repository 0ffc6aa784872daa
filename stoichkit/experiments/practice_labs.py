"""Practice labs without end: invented readings that a short id gives again everywhere.

An id is seven letters and digits; the last is a check character, so that one mistyped, or two in
each other's place, are noticed. Everything is drawn by SHA-256 and worked out with whole
micrograms, so that the same id gives the same lab with every version of Python and NumPy.

Readings are drawn as the balance of the record is modelled: mass on the pan, plus its
repeatability, rounded to the step of its display. Which product formed is drawn by lot, whatever
chemistry would say: only the readings can tell.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import cached_property, lru_cache
from itertools import pairwise

from ..chemistry.candidates import Candidate, from_formulas, hydrate_series, oxidation_states
from ..chemistry.elements import element_name, molar_mass_value
from ..chemistry.formula import parse_formula
from ..errors import ExperimentError
from ..measurement.displays import Balance
from ..measurement.weighing import MassByDifference
from ..uncertainty import entry
from .parts import Caution, Trial
from .record import Experiment

ALPHABET = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
"""Letters and digits of an id; 0, 1, I, L and O are left out because they look alike."""
LENGTH = 7
LEVELS = range(1, 6)
_EDITION = "stoichkit practice lab 1"
_UG = 1_000_000
_LEAST_G, _MOST_G = Fraction(3, 100), Fraction(4)
_STEPS_UG = (100, 1000, 10_000, 100_000)
_UNITY = 1 << 32
_MOST = 10**12


class FaultKind(StrEnum):
    """What was planted in a practice lab."""

    SWAPPED = "two digits written in each other's place"
    LOST = "product lost"
    WET = "product not dry"


@dataclass(frozen=True, slots=True)
class PlantedFault:
    """A fault that was planted in the readings.

    Attributes
    ----------
    kind : FaultKind
    words : str
        What went wrong, as it is told at the end.
    trial : str
        Name of the trial; "" for all of them.
    """

    kind: FaultKind
    words: str
    trial: str = ""


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


@dataclass(frozen=True, slots=True)
class _Level:
    """What a level asks: how near the candidates, how far apart in steps, how often a fault."""

    least_gap: Fraction
    most_gap: Fraction
    apart: tuple[int, ...]  # tenths of a step
    trials: tuple[int, ...]
    faults: int  # in eighths


_LEVELS = {
    1: _Level(Fraction(2, 5), Fraction(9), (60, 100, 200), (3, 4), 0),
    2: _Level(Fraction(1, 4), Fraction(9), (3, 3, 60, 100), (3, 4), 0),
    3: _Level(Fraction(1, 8), Fraction(9), (3, 8, 15, 40), (2, 3, 4), 2),
    4: _Level(Fraction(1, 20), Fraction(1, 2), (4, 7, 10, 15, 30), (2, 3), 3),
    5: _Level(Fraction(1, 20), Fraction(2, 5), (4, 6, 8, 12), (2, 3), 4),
}
_LEAST_STEPS = 5
"""A mass of fewer steps of the display than this is not weighed."""
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
        "displaced", "oxide" or "hydrate".
    experiment : Experiment
        The record, as somebody at the bench would have written it.
    truth : str
        Name of the candidate from which the readings were drawn.
    fault : PlantedFault or None
    consumed_mol : float
        Amount that was meant to react in each trial, mol.
    masses_g : tuple of mapping
        What truly lay on the pan at each reading, g, by trial; a fault of writing is not in it.
    """

    id: str
    level: int
    scene: str
    experiment: Experiment
    truth: str
    fault: PlantedFault | None
    consumed_mol: float
    masses_g: tuple[dict[str, float], ...]

    @cached_property
    def step_g(self) -> float:
        """Step of the display, g."""
        balance = self.experiment.instruments["balance"]
        assert isinstance(balance, Balance)
        return balance.readability_g


def practice(lab: str | int, *, level: int | None = None) -> PracticeLab:
    """Return the practice lab of an id, or one made from a number.

    Parameters
    ----------
    lab : str or int
        An id, capitals or not, spaces and hyphens ignored; or a whole number, 0 to 10¹², from which
        an id is made.
    level : int, optional
        1 (far apart, seen at a glance) to 5 (near neighbours, coarse display, faults); only with a
        number, 1 if left out. An id holds its level.

    Returns
    -------
    PracticeLab

    Raises
    ------
    ExperimentError
        If the id is none, or was mistyped.
    ModelError
        If the number or the level is out of range.

    Examples
    --------
    >>> lab = practice(7, level=2)
    >>> lab.id, lab.experiment.invented
    ('86CAU28', True)
    >>> practice(lab.id.lower()).experiment == lab.experiment
    True
    >>> practice("86CAU29")
    Traceback (most recent call last):
    stoichkit.errors.ExperimentError: The id of the practice lab was mistyped...
    """
    if isinstance(lab, str):
        if level is not None:
            raise ExperimentError(
                "An id holds its level already.", given=level,
                fix="Leave the level out, or give a number in place of the id.",
            )  # fmt: skip
        return _made(checked_id(lab))
    number = entry.whole("lab", lab, least=0, most=_MOST)
    at = entry.whole("level", 1 if level is None else level, least=LEVELS[0], most=LEVELS[-1])
    return _made(new_id(at, number))


def new_id(level: int, number: int) -> str:
    """Return the id that belongs to a level and a whole number.

    >>> new_id(2, 7)
    '86CAU28'
    """
    lot = _Lot(f"{_EDITION} id {level} {number}")
    body = [level - 1 + len(LEVELS) * lot.below(6)]
    body += [lot.below(len(ALPHABET)) for _ in range(LENGTH - 2)]
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


class _Lot:
    """Whole numbers drawn by lot from a text, the same everywhere."""

    def __init__(self, text: str) -> None:
        self._text, self._count, self._bytes = text, 0, b""

    def _word(self) -> int:
        if len(self._bytes) < 8:
            self._bytes = hashlib.sha256(f"{self._text} {self._count}".encode()).digest()
            self._count += 1
        word, self._bytes = self._bytes[:8], self._bytes[8:]
        return int.from_bytes(word, "big")

    def below(self, number: int) -> int:
        """Return a whole number from 0, each as likely as the others."""
        most = (1 << 64) - (1 << 64) % number
        while (word := self._word()) >= most:
            continue
        return word % number

    def between(self, low: int, high: int) -> int:
        """Return a whole number from ``low`` to ``high``."""
        return low + self.below(high - low + 1)

    def normal(self, sigma: int) -> int:
        """Return a normal deviate: the sum of twelve even ones has variance 1."""
        total = sum(self._word() >> 32 for _ in range(12)) - 6 * (_UNITY - 1)
        return _nearest(Fraction(total * sigma, _UNITY))


def _nearest(value: Fraction) -> int:
    """Round to a whole number, halves away from zero."""
    whole = int(abs(value) + Fraction(1, 2))
    return whole if value >= 0 else -whole


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


def _molar(species: str) -> Fraction:
    return Fraction(f"{molar_mass_value(species):.4f}")


@lru_cache(maxsize=64)
def _made(name: str) -> PracticeLab:
    level = ALPHABET.index(name[0]) % len(LEVELS) + 1
    for attempt in range(200):
        found = _tried(name, level, _Lot(f"{_EDITION} {name} {attempt}"))
        if found is not None:
            return found
    raise AssertionError(name)  # no id was found that comes here


def _tried(name: str, level: int, lot: _Lot) -> PracticeLab | None:
    """Return a lab; None if a mass does not show, so that nothing could be asked."""
    asked = _LEVELS[level]
    scenes = [s for s in _SCENES if asked.least_gap <= _gap(s) <= asked.most_gap]
    scene = scenes[lot.below(len(scenes))]
    candidates = _candidates(scene)
    truth = candidates[lot.below(len(candidates))]
    consumed_ug, step = _size(scene, asked.apart[lot.below(len(asked.apart))], lot)
    count = asked.trials[lot.below(len(asked.trials))]
    kind, part = None, Fraction(1)
    if lot.below(8) < asked.faults:
        kind = tuple(FaultKind)[lot.below(len(FaultKind))]
        size = lot.between(70, 150)
        part = 1 + Fraction(size if kind is FaultKind.WET else -size, 1000)
        if kind is FaultKind.SWAPPED:
            part = Fraction(1)
    masses = [_masses(scene, truth.ratio, consumed_ug, part, lot) for _ in range(count)]
    sigma = step // 2
    shown = [{n: _shown(m + lot.normal(sigma), step) for n, m in one.items()} for one in masses]
    names = [str(i + 1) for i in range(count)]
    used, made = _differences(scene)
    if any(one[a] - one[b] < low * step for one in shown for (a, b), low in ((used, 2), (made, 1))):
        return None
    texts = [{n: _text(v, step) for n, v in one.items()} for one in shown]
    fault = None
    if kind is FaultKind.SWAPPED:
        fault = _swap(texts, names, step, (used, made), lot)
    elif kind is not None:
        fault = PlantedFault(kind, _fault_words(scene, kind, part))
    return PracticeLab(
        name, level, scene.kind,
        _record(name, scene, candidates, step, dict(zip(names, texts, strict=True))),
        truth.name, fault, float(Fraction(consumed_ug, _UG) / _molar(scene.consumed)),
        tuple({n: m / _UG for n, m in one.items()} for one in masses),
    )  # fmt: skip


def _size(scene: _Scene, apart: int, lot: _Lot) -> tuple[int, int]:
    """Return the mass to be consumed and the step of the display, µg.

    The mass is such that the two nearest candidates differ by so many steps, a step in either
    substance counted.
    """
    ratios = sorted(one.ratio for one in _candidates(scene))
    low, high = min(pairwise(ratios), key=lambda pair: pair[1] - pair[0])
    a, b = _molar(scene.consumed), _molar(scene.produced)
    fitting = []
    for step in _STEPS_UG:
        grams = Fraction(step, _UG)
        mass = Fraction(apart, 10) * (grams / b + high * grams / a) / (high - low) * a
        mass = max(mass, _LEAST_STEPS * grams)
        if _LEAST_G <= mass <= _MOST_G:
            fitting.append((_nearest(mass * _UG), step))
    if not fitting:
        raise AssertionError((scene, apart))
    return fitting[lot.below(len(fitting))]


def _masses(
    scene: _Scene, ratio: Fraction, consumed_ug: int, part: Fraction, lot: _Lot
) -> dict[str, int]:
    """Return what lies on the pan at each reading of a trial, µg."""
    used = consumed_ug * lot.between(850, 1150) // 1000
    made = _nearest(used / _molar(scene.consumed) * ratio * part * _molar(scene.produced))
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


def _shown(mass_ug: int, step: int) -> int:
    return _nearest(Fraction(mass_ug, step)) * step


def _text(mass_ug: int, step: int) -> str:
    places = 6 - (len(str(step)) - 1)
    digits = f"{mass_ug // step:0{places + 1}d}"
    return f"{digits[:-places]}.{digits[-places:]}"


def _swap(
    texts: Sequence[dict[str, str]],
    names: Sequence[str],
    step: int,
    pairs: Sequence[tuple[str, str]],
    lot: _Lot,
) -> PlantedFault | None:
    """Write two digits of one reading in each other's place; None where that would show at once."""
    found = []
    for at, one in enumerate(texts):
        for name, text in one.items():
            for changed in _turned(text):
                values = {n: Fraction(t) for n, t in {**one, name: changed}.items()}
                off = abs(values[name] - Fraction(text)) * _UG
                if off >= 5 * step and all(
                    Fraction(2 * step, _UG) <= values[a] - values[b] <= 8 for a, b in pairs
                ):
                    found.append((at, name, text, changed))
    if not found:
        return None
    at, name, text, changed = found[lot.below(len(found))]
    texts[at][name] = changed
    words = f"In trial {names[at]} the balance showed {text} g for “{name}”; {changed} was written."
    return PlantedFault(FaultKind.SWAPPED, words, names[at])


def _turned(text: str) -> Iterator[str]:
    places = [i for i, letter in enumerate(text) if letter.isdigit()]
    for i, j in pairwise(places[-3:]):
        if text[i] != text[j]:
            letters = list(text)
            letters[i], letters[j] = letters[j], letters[i]
            yield "".join(letters)


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
    trials: dict[str, dict[str, str]],
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
        title=f"Practice lab {name}: {title}",
        about=f"{about[:1].upper()}{about[1:]} An invented scenario with invented readings; which "
        "product formed was drawn by lot, so that only the readings can tell.",
        invented=True,
        consumed=MassByDifference(species=scene.consumed, heavier=heavy, lighter=light),
        produced=MassByDifference(species=scene.produced, heavier=heavier, lighter=lighter),
        instruments={
            "balance": Balance(readability_g=step / _UG, repeatability_g=(step // 2) / _UG)
        },
        candidates=candidates,
        trials=tuple(
            Trial(trial, {n: (text,) for n, text in one.items()}) for trial, one in trials.items()
        ),
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
    if not rest or not head.startswith("Practice lab "):
        return None
    try:
        lab = practice(head.removeprefix("Practice lab "))
    except ExperimentError:
        return None
    same = ("consumed", "produced", "candidates", "instruments", "trials")
    alike = all(getattr(lab.experiment, part) == getattr(experiment, part) for part in same)
    return lab if alike else None
