"""The ways in which a lab can be said in one sentence, and the record that each makes.

A recipe is one way: a template with slots in braces, a rule for each slot, and what the record is
made of once all are read.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from fractions import Fraction
from functools import partial

from ..chemistry.candidates import (
    from_formulas,
    hydrate_series,
    ion_of,
    oxidation_state,
)
from ..chemistry.elements import KNOWN, element_name
from ..chemistry.formula import parse_formula
from ..chemistry.oxidation import NON_METALS, ROMAN
from ..chemistry.ratios import exact_ratio
from ..chemistry.usual import state_in, usual_compounds, usual_states
from ..errors import ModelError, StoichkitError
from ..measurement.base import AmountModel
from ..measurement.registry import from_fields
from ..measurement.weighing import WEIGHINGS, MassByDifference, held_by
from .candidate_spec import CandidateSpec, candidate_in
from .own_slots import (
    CONSUMED,
    PRODUCED,
    VIOLENT,
    Found,
    Measured,
    Read,
    Recipe,
    Rule,
    Slot,
    Stated,
    Suggestion,
    blank_states,
    choice,
    each,
    formulas,
    general_rule,
    items_of,
    metals,
    nothing,
    number,
    ratio_suggestions,
    read_formula,
    read_gas,
    read_general,
    read_metal,
    read_state,
    shown_ion,
    spec_of,
    state_suggestions,
    substance,
    suggested,
    title_of,
    weighed_by,
)

_BALANCE = {"balance": {"kind": "balance"}}


# -- a metal displaces another ----------------------------------------------------------------


def _ion(text: str, found: Found) -> Read:
    metal = found["product"]
    state = state_in(metal, text)
    state = oxidation_state(metal, text) if state is None else state
    return Read((ion_of(metal, state), state), (shown_ion(metal, state),))


def _blank_ion(found: Found) -> Read:
    metal = found["product"]
    usual = usual_states().get(metal)
    if usual is None:
        raise ModelError(
            f"No usual ion of {metal} is known here.", allowed=f"an ion such as {metal}^2+"
        )
    state = 2 if 2 in usual else usual[0]
    read = _ion(str(state), found)
    return replace(read, note="left empty: its usual ion")


def _product_metal(text: str, found: Found) -> Read:
    read = read_metal(text, found)
    if read.value == found["metal"]:
        raise ModelError(
            "The metal made is the one used up.", given=text, allowed="another metal, such as Cu"
        )
    return read


def _displaced_states(text: str, found: Found) -> Read:
    metal, product, (_, charge) = found["metal"], found["product"], found["ion"]
    one = partial(
        read_state, metal=metal, species=(metal, product), state_of=lambda ratio: ratio * charge
    )
    return each(text, one)


def _displacement(found: Found) -> Stated:
    metal, (ion, _) = found["metal"], found["ion"]
    fields = {"metal": metal, "states": list(found["states"]), "displaced": ion}
    return Stated(metal, found["product"], CandidateSpec("oxidation_states", fields))


def _two_weighings(
    found: Found, consumed: str, produced: str, *, precipitate: str = ""
) -> Measured:
    used, made = WEIGHINGS[found["weighed"]], WEIGHINGS[found["product_weighed"]]
    return Measured(
        used.of(consumed),
        made.of(produced, precipitate=precipitate),
        (*used.readings(consumed), *made.readings(precipitate or produced)),
        {},
    )


_STATES_OF_METAL = Slot("states", "oxidation states that may have formed", "list", optional=True)

DISPLACEMENT = Recipe(
    key="displacement",
    name="a metal in the solution of another metal",
    template="{metal} was used up, weighed {weighed}; it made {product} out of a solution of "
    "{ion}, weighed {product_weighed}. Which of {states} formed?",
    rules=(
        Rule(Slot("metal", "metal used up"), read_metal, metals),
        weighed_by("weighed", "how the metal was weighed", *CONSUMED),
        Rule(Slot("product", "metal made"), _product_metal, metals, ("metal",)),
        Rule(
            Slot("ion", "ion in the solution", optional=True),
            _ion,
            lambda found: state_suggestions(found["product"]) if "product" in found else (),
            ("product",),
            _blank_ion,
        ),
        weighed_by("product_weighed", "how the metal made was weighed", *PRODUCED),
        Rule(
            _STATES_OF_METAL,
            _displaced_states,
            lambda found: state_suggestions(found["metal"]) if "metal" in found else (),
            ("metal", "product", "ion"),
            lambda found: blank_states(found["metal"]),
        ),
    ),
    asks="states",
    instruments=_BALANCE,
    title=lambda found: (
        f"{element_name(found['metal']).capitalize()} in a solution of "
        f"{shown_ion(found['product'], found['ion'][1])}"
    ),
    stated=_displacement,
    measured=lambda found: _two_weighings(found, found["metal"], found["product"]),
)

# -- a solid heated in a crucible -------------------------------------------------------------

_CRUCIBLE = choice(
    "weighed",
    "how the crucible was weighed",
    {
        "three times": "empty, filled and after heating",
        "twice": "filled and after heating, on a balance set to zero with it empty",
    },
)


def _crucible(found: Found, filled: str, heated: str) -> tuple[str, str, str]:
    """Return the names of the weighings of a crucible; "" for empty where it was set to zero."""
    if found["weighed"] == "twice":
        return "", filled, heated
    return "crucible", f"crucible + {filled}", f"crucible + {heated}"


_PREFIXES = ("mono", "di", "tri", "tetra", "penta", "hexa", "hepta", "octa", "nona", "deca",
             "undeca", "dodeca")  # fmt: skip
_WORDS = {"hemi": Fraction(1, 2), "sesqui": Fraction(3, 2)} | {
    prefix: Fraction(number) for number, prefix in enumerate(_PREFIXES, start=1)
}
_RANGE = re.compile(r"([0-9]{1,2})\s*(?:-|–|to|\.\.)\s*([0-9]{1,2})")
_WATERS = re.compile(r"[·.*]?\s*([0-9/.,: ]+?)\s*(?:H2O|H₂O|waters?)?", re.IGNORECASE)


def _salt(text: str, found: Found) -> Read:
    read = read_formula(text, found)
    salt, _, water = read.value.partition("·")
    if not water:
        return read
    return replace(read_formula(salt, found), note="the salt without its water")


def _water(item: str, salt: str) -> tuple[Fraction, str]:
    word, plain = item.lower().removesuffix("hydrate"), _WATERS.fullmatch(item)
    if word in _WORDS and word != item.lower():
        waters = _WORDS[word]
    elif plain:
        waters = exact_ratio(plain[1], "number of water molecules")
    else:
        try:
            waters = candidate_in(item, salt, "H2O", salt, "H2O").ratio
        except StoichkitError as error:
            raise ModelError(
                f"This is no hydrate of {salt}.",
                given=item,
                allowed=f"numbers such as 5 or 1/2, pentahydrate, or {salt}·5H2O",
            ) from error
    return waters, hydrate_series(salt, waters=[waters])[0].name


def _waters(text: str, found: Found) -> Read:
    salt = found["salt"]
    spread: list[str] = []
    for item in items_of(text):
        ends = _RANGE.fullmatch(item)
        spread += map(str, range(int(ends[1]), int(ends[2]) + 1)) if ends else [item]
    return each("; ".join(spread) + ";", partial(_water, salt=salt))


def _usual_waters(salt: str) -> list[str]:
    usual = usual_compounds("hydrate").get(salt, ())
    whole = [str(number) for number in range(1, 13)]
    more = [one for one in usual if one not in whole]
    return [*more, *whole]


def _water_suggestions(found: Found) -> tuple[Suggestion, ...]:
    if "salt" not in found:
        return ()
    salt = found["salt"]
    usual = usual_compounds("hydrate").get(salt, ())
    rest = [one for one in _usual_waters(salt) if one not in usual]
    return tuple(Suggestion(one, _water(one, salt)[1]) for one in (*usual, *rest))


def _blank_waters(found: Found) -> Read:
    read = _waters("; ".join(_usual_waters(found["salt"])), found)
    return replace(read, note="left empty: 1 to 12, and any usual fraction")


def _hydrate(found: Found) -> Stated:
    waters = [str(one) for one in found["waters"]]
    spec = CandidateSpec("hydrate", {"salt": found["salt"], "waters": waters})
    return Stated(found["salt"], "H2O", spec)


def _hydrate_measured(found: Found) -> Measured:
    empty, filled, heated = _crucible(found, "crystals", "residue")
    again = (heated,)
    return Measured(
        MassByDifference(species=found["salt"], heavier=heated, lighter=empty, repeated=again),
        MassByDifference(species="H2O", heavier=filled, lighter=heated, repeated=again),
        tuple(name for name in (empty, filled, heated) if name),
        {},
    )


HYDRATE = Recipe(
    key="hydrate",
    name="water driven off a hydrate",
    template="Crystals of {salt} with water were heated until no water was left; the crucible was "
    "weighed {weighed}. Which of {waters} was it?",
    rules=(
        Rule(Slot("salt", "salt without its water"), _salt, formulas("hydrate")),
        _CRUCIBLE,
        Rule(
            Slot("waters", "waters for each formula unit", "list", optional=True),
            _waters,
            _water_suggestions,
            ("salt",),
            _blank_waters,
        ),
    ),
    asks="waters",
    instruments=_BALANCE,
    title=lambda found: f"Water in crystals of {parse_formula(found['salt']).unicode()}",
    stated=_hydrate,
    measured=_hydrate_measured,
)


def _oxide_of(metal: str, oxygen: Fraction) -> str:
    """Write the oxide with that many atoms of oxygen for each of the metal."""
    a, b = oxygen.denominator, oxygen.numerator
    return f"{metal}{a if a > 1 else ''}O{b if b > 1 else ''}"


def _oxide(item: str, metal: str) -> tuple[str, str]:
    plain = re.sub(r"\s*oxide$", "", item, flags=re.IGNORECASE)
    try:
        formula = from_formulas([item], consumed=metal, produced="O")[0].name
        return formula, parse_formula(formula).unicode()
    except StoichkitError as error:
        try:
            state, said = read_state(plain, metal, (metal, "O"), lambda ratio: 2 * ratio)
        except StoichkitError:
            raise ModelError(
                f"This is no oxide of {element_name(metal)}: {error.problem}",
                given=item,
                allowed=f"a formula such as {metal}O, or {element_name(metal)}(II) oxide",
            ) from error
    formula = _oxide_of(metal, Fraction(state, 2))
    return formula, f"{parse_formula(formula).unicode()}, from {said}"


def _usual_oxides(metal: str) -> list[str]:
    usual = [*usual_compounds("oxide").get(metal, ())]
    if len(usual) < 2:
        ratios = (
            {c.ratio for c in from_formulas(usual, consumed=metal, produced="O")} if usual else ()
        )
        near = (Fraction(1, 2), Fraction(1), Fraction(3, 2), Fraction(2))
        usual += [_oxide_of(metal, one) for one in near if one not in ratios]
    return usual


def _oxide_suggestions(found: Found) -> tuple[Suggestion, ...]:
    if "metal" not in found:
        return ()
    usual = usual_compounds("oxide").get(found["metal"], ())
    return tuple(
        Suggestion(
            one, parse_formula(one).unicode() + ("" if one in usual else ", to compare with")
        )
        for one in _usual_oxides(found["metal"])
    )


def _blank_oxides(found: Found) -> Read:
    read = each("; ".join(_usual_oxides(found["metal"])), partial(_oxide, metal=found["metal"]))
    return replace(read, note="left empty: the usual ones, with others to compare with")


def _oxide_measured(found: Found) -> Measured:
    metal = found["metal"]
    empty, filled, heated = _crucible(found, metal, "oxide")
    return Measured(
        MassByDifference(species=metal, heavier=filled, lighter=empty),
        MassByDifference(species="O", heavier=heated, lighter=filled, repeated=(heated,)),
        tuple(name for name in (empty, filled, heated) if name),
        {},
    )


OXIDE = Recipe(
    key="oxide",
    name="an oxide made from a metal",
    template="{metal} was turned into its oxide in a crucible, which was weighed {weighed}. Which "
    "of {oxides} formed?",
    rules=(
        Rule(
            Slot("metal", "metal"),
            read_metal,
            lambda _found: tuple(
                Suggestion(one, f"{one}, {element_name(one)}")
                for one in usual_compounds("oxide")
                if one not in VIOLENT
            ),
        ),
        _CRUCIBLE,
        Rule(
            Slot("oxides", "oxides that may have formed", "list", optional=True),
            lambda text, found: each(text, partial(_oxide, metal=found["metal"])),
            _oxide_suggestions,
            ("metal",),
            _blank_oxides,
        ),
    ),
    asks="oxides",
    instruments=_BALANCE,
    title=lambda found: f"Which oxide does {element_name(found['metal'])} form?",
    stated=lambda found: Stated(
        found["metal"], "O", CandidateSpec("formulas", {"list": list(found["oxides"])})
    ),
    measured=_oxide_measured,
)

# -- a gas given off --------------------------------------------------------------------------


def _is_metal(formula: str) -> bool:
    return formula in KNOWN and formula not in NON_METALS


def _asks_for_states(found: Found) -> bool:
    """Say whether hydrogen comes from a metal, so that the question is its oxidation state."""
    return found.get("gas") == "H2" and _is_metal(str(found.get("substance")))


def _gas_candidates(text: str, found: Found) -> Read:
    if not _asks_for_states(found):
        return read_general(text, found["substance"], found["gas"])
    metal = found["substance"]
    one = partial(read_state, metal=metal, species=(metal, "H2"), state_of=lambda ratio: 2 * ratio)
    return each(text, one)


def _blank_gas_candidates(found: Found) -> Read:
    if not _asks_for_states(found):
        raise ModelError(
            "It is not said what may have happened.",
            allowed="mole ratios such as 1/2, 1, or equations with semicolons between",
        )
    return blank_states(found["substance"])


def _gas_suggestions(found: Found) -> tuple[Suggestion, ...]:
    if _asks_for_states(found):
        return state_suggestions(found["substance"])
    return ratio_suggestions(found, ("substance", "gas"), "1/2", "1", "3/2", "2")


def _gas_stated(found: Found) -> Stated:
    substance, gas, named = found["substance"], found["gas"], found["candidates"]
    if not _asks_for_states(found):
        return Stated(substance, gas, spec_of(named))
    fields = {"metal": substance, "states": list(named), "displaced": "H^+"}
    return Stated(substance, gas, CandidateSpec("oxidation_states", fields))


def _gas_measured(found: Found) -> Measured:
    weighed = WEIGHINGS[found["weighed"]]
    names = {"temperature": "room temperature", "pressure": "room pressure"}
    fields = {"species": found["gas"], "final": "gas volume", "instrument": "gas tube", **names}
    return Measured(
        weighed.of(found["substance"]),
        from_fields("gas over water" if found["collected"] == "over water" else "gas", fields),
        (*weighed.readings(found["substance"]), "gas volume", *names.values()),
        {name: found[slot] for slot, name in names.items() if found[slot] is not None},
    )


GAS = Recipe(
    key="gas",
    name="a gas given off and collected",
    template="{substance} was used up, weighed {weighed}; it gave off {gas}, collected {collected} "
    "at {temperature} °C and {pressure} kPa. Which of {candidates} is true?",
    rules=(
        substance(
            "substance",
            "substance used up",
            suggested("Mg", "Zn", "Al", "Fe", "CaCO3", "NaHCO3", "H2O2"),
        ),
        weighed_by("weighed", "how it was weighed", "alone", "before and after", "in a dish"),
        Rule(Slot("gas", "gas", default="H2"), read_gas, formulas("gas")),
        choice(
            "collected",
            "how the gas was collected",
            {"over water": "over water, in a graduated tube", "dry": "dry, in a graduated tube"},
        ),
        number("temperature", "room temperature", "°C", blank="read in each trial", least=-50.0),
        number("pressure", "room pressure", "kPa", blank="read in each trial"),
        Rule(
            Slot("candidates", "oxidation states, mole ratios or equations", "list", optional=True),
            _gas_candidates,
            _gas_suggestions,
            ("substance", "gas"),
            _blank_gas_candidates,
        ),
    ),
    asks="candidates",
    instruments={
        **_BALANCE,
        "gas tube": {
            "kind": "cylinder",
            "capacity_mL": 50.0,
            "graduation_mL": 0.2,
            "temperature_C": 0.0,
        },
        "thermometer": {"kind": "thermometer"},
        "barometer": {"kind": "barometer"},
    },
    title=lambda found: title_of("{gas} from {substance}", found),
    stated=_gas_stated,
    measured=_gas_measured,
)

# -- a metal plated by a measured charge ------------------------------------------------------


def _plated_states(text: str, found: Found) -> Read:
    metal = found["metal"]
    one = partial(read_state, metal=metal, species=("e-", metal), state_of=lambda ratio: 1 / ratio)
    return each(text, one)


def _plating(found: Found) -> Stated:
    metal = found["metal"]
    equations = {
        f"{element_name(metal)}({ROMAN[n - 1]})": f"{ion_of(metal, n)} + {n} e- -> {metal}"
        for n in found["states"]
    }
    return Stated("e-", metal, CandidateSpec("equations", equations))


def _plating_measured(found: Found) -> Measured:
    weighed = WEIGHINGS[found["weighed"]]
    return Measured(
        from_fields("charge", {"species": "e-", "current": "current", "time": "time"}),
        weighed.of(found["metal"]),
        ("current", "time", *weighed.readings(found["metal"])),
        {},
    )


PLATING = Recipe(
    key="plating",
    name="a metal plated by a measured charge",
    template="A measured current, for a measured time, plated {metal}, weighed {weighed}. Which of "
    "{states} was discharged?",
    rules=(
        Rule(Slot("metal", "metal plated"), read_metal, metals),
        weighed_by("weighed", "how the deposit was weighed", "on a strip", "alone"),
        Rule(
            Slot("states", "oxidation states of the ion discharged", "list", optional=True),
            _plated_states,
            lambda found: state_suggestions(found["metal"]) if "metal" in found else (),
            ("metal",),
            lambda found: blank_states(found["metal"]),
        ),
    ),
    asks="states",
    instruments={**_BALANCE, "ammeter": {"kind": "ammeter"}, "timer": {"kind": "timer"}},
    title=lambda found: f"{element_name(found['metal']).capitalize()} plated by a measured charge",
    stated=_plating,
    measured=_plating_measured,
)

# -- volumes of a solution, and precipitates --------------------------------------------------

_BURETTE = {"burette": {"kind": "burette"}}
_VOLUME = choice(
    "volume",
    "how the volume was read",
    {"twice": "before and after", "once": "once, from the zero mark"},
)
_STRENGTH = (
    number("concentration", "concentration", "mol/L", above_zero=True),
    number("error", "limits of its error", "mol/L", blank="its error is left out"),
)


def _volume_of(species: str, found: Found) -> tuple[AmountModel, tuple[str, ...]]:
    """Return the amount in a volume from a burette, and the names of its readings."""
    names = ("burette before", "burette after")
    concentration = {
        "kind": "known",
        "mol_per_L": float(found["concentration"].replace(",", ".")),
        "half_width_mol_per_L": float((found["error"] or "0").replace(",", ".")),
        "name": f"{species} solution",
    }
    twice = found["volume"] == "twice"
    fields = {
        "species": species,
        "final": names[1],
        "initial": names[0] if twice else "",
        "concentration": concentration,
    }
    return from_fields("solution", fields), names if twice else names[1:]


def _titration_measured(found: Found) -> Measured:
    weighed = WEIGHINGS[found["weighed"]]
    titrant, names = _volume_of(found["titrant"], found)
    read = (*weighed.readings(found["substance"]), *names)
    return Measured(weighed.of(found["substance"]), titrant, read, {})


def _general_stated(consumed: str, produced: str) -> Callable[[Found], Stated]:
    return lambda found: Stated(found[consumed], found[produced], spec_of(found["candidates"]))


TITRATION = Recipe(
    key="titration",
    name="a substance titrated",
    template="{substance} was weighed {weighed} and titrated with {titrant} of {concentration} ± "
    "{error} mol/L; the burette was read {volume}. How much for each: {candidates}?",
    rules=(
        substance("substance", "substance titrated", nothing),
        weighed_by("weighed", "how it was weighed", "alone", "in a dish", "by difference"),
        substance(
            "titrant",
            "what the titrant provides",
            suggested("NaOH", "OH^-", "HCl", "H^+", "Na2S2O3", "KMnO4", "AgNO3"),
        ),
        *_STRENGTH,
        _VOLUME,
        general_rule("substance", "titrant", "1", "2", "3"),
    ),
    asks="candidates",
    instruments={**_BALANCE, **_BURETTE},
    title=lambda found: title_of("{substance} titrated with {titrant}", found),
    stated=_general_stated("substance", "titrant"),
    measured=_titration_measured,
)


def _solid(text: str, found: Found) -> Read:
    read = read_formula(text, found)
    held_by(read.value, found["species"])
    return read


_PRECIPITATED = (
    substance(
        "species",
        "what was precipitated",
        lambda _found: tuple(
            Suggestion(one, parse_formula(one).unicode()) for one in usual_compounds("precipitate")
        ),
    ),
    Rule(
        Slot("precipitate", "precipitate weighed"),
        _solid,
        lambda found: tuple(
            Suggestion(one, parse_formula(one).unicode())
            for one in usual_compounds("precipitate").get(str(found.get("species")), ())
        ),
        ("species",),
    ),
    weighed_by("product_weighed", "how the precipitate was weighed", *PRODUCED),
    general_rule("substance", "species", "1", "2", "3"),
)

PRECIPITATE = Recipe(
    key="precipitate",
    name="a precipitate from a weighed substance",
    template="{substance} was used up, weighed {weighed}; its {species} came down as "
    "{precipitate}, weighed {product_weighed}. How much for each: {candidates}?",
    rules=(
        substance("substance", "substance used up", nothing),
        weighed_by("weighed", "how it was weighed", "alone", "in a dish", "by difference"),
        *_PRECIPITATED,
    ),
    asks="candidates",
    instruments=_BALANCE,
    title=lambda found: title_of("{species} in {substance}, as {precipitate}", found),
    stated=_general_stated("substance", "species"),
    measured=lambda found: _two_weighings(
        found, found["substance"], found["species"], precipitate=found["precipitate"]
    ),
)


def _dissolved_measured(found: Found) -> Measured:
    made = WEIGHINGS[found["product_weighed"]]
    volume, names = _volume_of(found["substance"], found)
    solid = found["precipitate"]
    product = made.of(found["species"], precipitate=solid)
    return Measured(volume, product, (*names, *made.readings(solid)), {})


DISSOLVED = Recipe(
    key="dissolved",
    name="a precipitate from a measured volume of solution",
    template="{substance} was used up out of a solution of {concentration} ± {error} mol/L; the "
    "burette was read {volume}. Its {species} came down as {precipitate}, weighed "
    "{product_weighed}. How much for each: {candidates}?",
    rules=(
        substance("substance", "substance in the solution", nothing),
        *_STRENGTH,
        _VOLUME,
        *_PRECIPITATED,
    ),
    asks="candidates",
    instruments={**_BALANCE, **_BURETTE},
    title=lambda found: title_of(
        "{species} in {substance} solution, weighed as {precipitate}", found
    ),
    stated=_general_stated("substance", "species"),
    measured=_dissolved_measured,
)

# -- anything else that is weighed ------------------------------------------------------------


def _other_product(text: str, found: Found) -> Read:
    read = read_formula(text, found)
    if read.value == found["substance"]:
        raise ModelError("This is what was used up.", given=text, allowed="what was made of it")
    return read


REACTION = Recipe(
    key="reaction",
    name="any reaction in which both are weighed",
    template="{substance} was used up, weighed {weighed}; it made {product}, weighed "
    "{product_weighed}. Which of {candidates} is true?",
    rules=(
        substance("substance", "substance used up", nothing),
        weighed_by("weighed", "how it was weighed", *CONSUMED),
        Rule(Slot("product", "substance made"), _other_product, nothing, ("substance",)),
        weighed_by("product_weighed", "how the product was weighed", *PRODUCED),
        general_rule("substance", "product", "1/2", "1", "3/2", "2"),
    ),
    asks="candidates",
    instruments=_BALANCE,
    title=lambda found: title_of("From {substance} to {product}", found),
    stated=_general_stated("substance", "product"),
    measured=lambda found: _two_weighings(found, found["substance"], found["product"]),
)

RECIPES: Mapping[str, Recipe] = {
    one.key: one
    for one in (
        DISPLACEMENT,
        HYDRATE,
        OXIDE,
        GAS,
        PLATING,
        TITRATION,
        PRECIPITATE,
        DISSOLVED,
        REACTION,
    )
}
"""The ways, by key, in the order in which they are offered."""
