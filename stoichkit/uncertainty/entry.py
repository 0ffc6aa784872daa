"""What a caller may give: numbers, arrays, texts, records; all else is refused with its name.

Every public function checks its arguments here, so that a masked value, a truth value, a date or
an array in the wrong place is named instead of being counted or ending in an error of Python.
Decimal, Fraction, NumPy scalars and arrays of no dimension are numbers; lists, tuples and
whatever NumPy takes for an array (a column or a table of a data frame) are arrays.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import date, time, timedelta
from decimal import Decimal
from fractions import Fraction
from numbers import Rational, Real
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar

from ..errors import ExperimentError, ModelError, StoichkitError, short

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

T = TypeVar("T")
_MAKE = {
    "Balance": "Make one with Balance(readability_g=…).",
    "Cause": "causes_for(evidence, candidate) returns some.",
    "Choices": "load_choices(path) reads one.",
    "ClassAmounts": "amounts_of(evidence) makes one.",
    "ClassData": "load_class(path, experiment) makes one.",
    "ClassEvidence": "assess_class(path, experiment).evidence is one.",
    "ClassResult": "assess_class(path, experiment) makes one.",
    "ClassVerdict": "class_verdict(…) makes one; so does assess_class(…).verdict.",
    "Combination": "combine(evidence, candidate, effect, effect) makes one.",
    "Couple": "couple(oxidised, reduced) finds one.",
    "Drying": "drying(weighings, balance) makes one.",
    "Effect": "effects_for(experiment) returns those of a lab.",
    "Evidence": "assess(experiment) makes one.",
    "Experiment": "load_experiment(path) reads one; experiments.load(name) gives a ready one.",
    "MonteCarlo": "monte_carlo(…) or propagate(…) makes one.",
    "Plan": "Make one with Plan(experiment=…, consumed_mol=…).",
    "Pooled": "pool(estimates, variances) makes one.",
    "Answer": "smallest_amount(plan) and the like make one.",
    "DesignMap": "design_map(experiment, …) makes one.",
    "OperatingCharacteristic": "operating_characteristic(plan) makes one.",
    "SimulatedLabs": "simulate_labs(plan, truth) makes one.",
    "Reaction": "balance_equation(text) makes one.",
    "RedoxFinding": "redox_findings(experiment) returns some.",
    "Slip": "find_slips(experiment) returns those of a lab.",
    "Dilution": "dilute(stock, target_mol_per_L) makes one.",
    "KnownConcentration": "Make one with KnownConcentration(mol_per_L=…).",
    "Recipe": "prepare_solution(solute, concentration_mol_per_L, volume_mL) makes one.",
    "Supply": "Make one with Supply(species=…, solute=…).",
    "VolumetricFlask": "Make one with VolumetricFlask(capacity_mL=…).",
    "Stock": "KnownConcentration(mol_per_L=…), prepare_solution(…) and dilute(…) make one.",
    "SpotTest": "spot_tests(ion) returns some.",
}
"""How to come by a record, by the name of its type."""
_LARGEST_RATIO = 10**9
_DEEPEST = 4
_TEXT, _TRUTH, _DATE = "text", "true or false", "a date or a time"
_COMPLEX, _MISSING, _UNCERTAIN = "a complex number", "missing", "an uncertain number"
_MASKED, _NAN = "masked", "nan"
_OUT_OF_RANGE, _NOT_FINITE, _HUGE = "out of range", "not finite", "too large"
_KINDS = {
    "b": _TRUTH, "S": _TEXT, "U": _TEXT, "T": _TEXT, "c": _COMPLEX, "M": _DATE, "m": _DATE,
    "V": "a record of several fields",
}  # fmt: skip
"""What an array holds that holds no numbers, by the kind of its data type."""
_FIX = {
    _MISSING: "Leave it out, or fill it in.",
    _MASKED: "Leave it out, or fill it in.",
    _TEXT: "Write numbers without quotes.",
    _UNCERTAIN: "Give its estimate, nominal(…).",
}


class _Unusable(Exception):
    """What was found instead of a number, and where in an array."""

    def __init__(self, kind: str, given: object, place: tuple[int, ...] = ()) -> None:
        super().__init__(kind)
        self.kind, self.given, self.place = kind, given, place


def number(
    name: str,
    value: object,
    *,
    least: float = -math.inf,
    most: float = math.inf,
    above: float = -math.inf,
    below: float = math.inf,
    infinite: bool = False,
    of: str = "",
    error: type[StoichkitError] = ModelError,
) -> float:
    """Return a number as a float if it may be used.

    Parameters
    ----------
    name : str
        The argument, as the caller knows it.
    value : object
        An int, float, Fraction, Decimal, NumPy scalar or array of no dimension.
    least, most, above, below : float
        Limits; the first two are allowed themselves.
    infinite : bool
        Whether it need not be finite; nan is never a number.
    of : str
        What it belongs to, such as "the balance", for the message.
    error : type of StoichkitError
        What is raised; an ExperimentError has the name as its field.

    Examples
    --------
    >>> from decimal import Decimal
    >>> number("mass_g", Decimal("1.5"), above=0)
    1.5
    >>> number("mass_g", "1.5", above=0, most=5)
    Traceback (most recent call last):
    stoichkit.errors.ModelError: `mass_g` is not a number: it is text. Given: 1.5. Allowed: a
    finite number above 0, up to 5. Write numbers without quotes.
    >>> number("mass_g", -2.0, least=0)
    Traceback (most recent call last):
    stoichkit.errors.ModelError: `mass_g` is out of range. Given: -2.0. Allowed: a finite number,
    0 or more.
    """
    try:
        found = value if type(value) is float else _float(value)
    except _Unusable as bad:
        allowed = _range(_sort(infinite), least, most, above, below)
        raise _no_number(error, name, "a number", bad, allowed, of=of) from None
    if least <= found <= most and (above < found < below or (infinite and math.isinf(found))):
        return found
    allowed = _range(_sort(infinite), least, most, above, below)
    raise refusal(error, name, _fault(found, infinite), value, allowed, of=of)


def whole(
    name: str,
    value: object,
    *,
    least: int | None = None,
    most: int | None = None,
    error: type[StoichkitError] = ModelError,
) -> int:
    """Return a whole number as an int if it may be used; 3.0 is one, 2.5 is not.

    >>> whole("trials", 3.0, least=1, most=64)
    3
    >>> whole("trials", 2.5, least=1, most=64)
    Traceback (most recent call last):
    stoichkit.errors.ModelError: `trials` is not a whole number: it is one with decimals. Given:
    2.5. Allowed: a whole number from 1 to 64.
    """
    low, high = -math.inf if least is None else least, math.inf if most is None else most
    try:
        found = value if type(value) is int else _whole(value)
    except _Unusable as bad:
        allowed = _range("a whole number", low, high)
        raise _no_number(error, name, "a whole number", bad, allowed) from None
    if not low <= found <= high:
        raise refusal(error, name, "is out of range", value, _range("a whole number", low, high))
    return found


def exact(name: str, value: object, *, error: type[StoichkitError] = ModelError) -> Fraction | int:
    """Return an exact ratio above 0, whole or a Fraction, as it is; nothing with decimals.

    >>> exact("waters", Fraction(1, 2))
    Fraction(1, 2)
    >>> exact("waters", 0.5)
    Traceback (most recent call last):
    stoichkit.errors.ModelError: `waters` is not an exact ratio above 0. Given: 0.5. Allowed: a
    whole number, or a fraction such as 1/2, up to 1,000,000,000.
    """
    allowed = f"a whole number, or a fraction such as 1/2, up to {_LARGEST_RATIO:,}"
    try:
        found = _real(value)
    except _Unusable as bad:
        raise _no_number(error, name, "an exact ratio above 0", bad, allowed) from None
    if not isinstance(found, int | Fraction) or found <= 0:
        raise refusal(error, name, "is not an exact ratio above 0", value, allowed)
    if not Fraction(1, _LARGEST_RATIO) <= found <= _LARGEST_RATIO:
        raise refusal(error, name, "is out of range", value, allowed)
    return found


def plain(value: object) -> int | float | Fraction | Decimal | None:
    """Return the number in a value as it is, whatever its size; None where there is none.

    >>> plain(Decimal("1.50")), plain(True)
    (Decimal('1.50'), None)
    """
    try:
        return _real(value)  # type: ignore[no-any-return]
    except _Unusable:
        return None


def quantity(
    name: str,
    value: object,
    *,
    least: float = -math.inf,
    most: float = math.inf,
    above: float = -math.inf,
    error: type[StoichkitError] = ModelError,
) -> Any:
    """Return a number that may be uncertain, as it is; its estimate is what has limits.

    An exact one stays an int or a Fraction and becomes a float otherwise.

    >>> quantity("amount", 3, least=0)
    3
    >>> quantity("amount", True)
    Traceback (most recent call last):
    stoichkit.errors.ModelError: `amount` is not a number: it is true or false. Given: True.
    Allowed: a finite number, exact or uncertain.
    """
    from uncertainties.core import AffineScalarFunc

    allowed = f"{_range('a finite number', least, most, above)}, exact or uncertain"
    if isinstance(value, AffineScalarFunc):
        estimate = value.nominal_value
    else:
        try:
            value = _real(value)
            estimate = _float(value)
        except _Unusable as bad:
            raise _no_number(error, name, "a number", bad, allowed) from None
        value = value if isinstance(value, int | Fraction) else estimate
    if not (least <= estimate <= most and above < estimate < math.inf):
        raise refusal(error, name, _fault(estimate), value, allowed)
    return value


def array(
    name: str,
    value: Any,
    *,
    ndim: Collection[int] = (),
    size: int = 0,
    empty: bool = False,
    allowed: str = "",
    least: float = -math.inf,
    most: float = math.inf,
    above: float = -math.inf,
    infinite: bool = False,
    error: type[StoichkitError] = ModelError,
) -> NDArray[np.float64]:
    """Return an array of numbers as float64 if it may be used; not copied if it is one.

    Parameters
    ----------
    name, infinite, error
        As for :func:`number`.
    value : object
        An array, a number, a list or tuple of numbers or of such lists, a column or table of a
        data frame. Every element must be a number as for :func:`number`: one that is missing or
        masked is refused, also in an array that hides it.
    ndim : collection of int
        Numbers of dimensions that are allowed; any if left out, and then it may be empty.
    size : int
        A list of so many numbers is needed.
    empty : bool
        Whether an array with the right number of dimensions may be empty.
    allowed : str
        What is allowed, in words, where the limits do not say it well.
    least, most, above : float
        Limits of every element; the first two are allowed themselves.

    Examples
    --------
    >>> import numpy as np
    >>> array("masses_g", [1, 2.5], ndim=(1, 2)).tolist()
    [1.0, 2.5]
    >>> array("masses_g", np.ma.masked_less([1.5, -9.0], 0))
    Traceback (most recent call last):
    stoichkit.errors.ModelError: An element of `masses_g` is not a number: it is masked. Given:
    place [1], counted from 0. Allowed: finite numbers. Leave it out, or fill it in.
    """
    import numpy as np

    try:
        right = type(value) is np.ndarray and value.dtype == np.float64
        found = value if right else _floats(value)
        if found.size and not (
            (infinite or np.count_nonzero(np.isfinite(found)) == found.size)  # quicker than all()
            and (not infinite or not np.isnan(found).any())
            and (least == -math.inf or (found >= least).all())
            and (most == math.inf or (found <= most).all())
            and (above == -math.inf or (found > above).all())
        ):
            _find_bad(found, least, most, above, infinite)
    except _Unusable as bad:
        sort = "numbers" if infinite else "finite numbers"
        allowed = allowed or _range(sort, least, most, above)
        part, given = "", bad.given
        if bad.place:
            part, where = "An element", f"place {[*bad.place]}, counted from 0"
            given = where if bad.kind in (_MASKED, _NAN) else f"{short(bad.given)} at {where}"
        sort = "a number" if part else "an array of numbers"
        plain = bad.kind in (_OUT_OF_RANGE, _NOT_FINITE, _HUGE)
        problem = f"is {bad.kind}" if plain else f"is not {sort}: it is {bad.kind}"
        fix = _FIX.get(bad.kind)
        raise refusal(error, name, problem, given, allowed, fix, part=part) from None
    if ndim and (found.ndim not in ndim or not (found.size or empty)):
        sorts = {0: "one number", 1: "a list of numbers", 2: "a table of numbers"}
        sizes = " or ".join(sorts.get(n, f"{n} dimensions") for n in sorted(ndim))
        problem = "is empty" if found.ndim in ndim else f"has {found.ndim} dimensions"
        shape = f"shape {found.shape}"
        raise refusal(error, name, problem, shape, allowed or f"{sizes}, not empty")
    if size and found.shape != (size,):
        allowed = allowed or f"a list of {size} numbers"
        raise refusal(error, name, "has the wrong length", value, allowed)
    return found


def text(
    name: str, value: object, *, empty: bool = True, error: type[StoichkitError] = ModelError
) -> str:
    """Return a text if it is one.

    >>> text("title", b"lab")
    Traceback (most recent call last):
    stoichkit.errors.ModelError: `title` is not text. Given: b'lab'. Allowed: text.
    """
    if not isinstance(value, str):
        raise refusal(error, name, "is not text", value, "text")
    if not empty and not value.strip():
        raise refusal(error, name, "is empty", repr(value), "text")
    return value


def texts(**given: object) -> None:
    """Refuse the first of several arguments that is not text.

    >>> texts(title="Lab", note=3)
    Traceback (most recent call last):
    stoichkit.errors.ModelError: `note` is not text. Given: 3. Allowed: text.
    """
    for name, value in given.items():
        text(name, value)


def flags(**given: object) -> None:
    """Refuse the first of several arguments that is neither true nor false.

    >>> flags(pictures=True, worked="yes")
    Traceback (most recent call last):
    stoichkit.errors.ModelError: `worked` is neither true nor false. Given: yes. Allowed: True or
    False.
    """
    for name, value in given.items():
        flag(name, value)


def choice(
    name: str,
    value: object,
    allowed: Collection[str],
    *,
    of: str = "",
    error: type[StoichkitError] = ModelError,
) -> str:
    """Return a word if it is one of those allowed.

    >>> choice("glass_class", "C", ("A", "B"))
    Traceback (most recent call last):
    stoichkit.errors.ModelError: `glass_class` is not one of the words known here. Given: C.
    Allowed: A or B.
    """
    if isinstance(value, str) and value in allowed:
        return value
    words = " or ".join(allowed) if len(allowed) < 4 else ", ".join(allowed)
    raise refusal(error, name, "is not one of the words known here", value, words, of=of)


def flag(name: str, value: object, *, error: type[StoichkitError] = ModelError) -> bool:
    """Return a truth value if it is one; 0 and 1 are.

    >>> flag("inflate", 1), flag("inflate", "no")
    Traceback (most recent call last):
    stoichkit.errors.ModelError: `inflate` is neither true nor false. Given: no. Allowed: True or
    False.
    """
    if isinstance(value, bool) or type(value).__name__ in ("bool", "bool_"):
        return bool(value)
    if isinstance(value, int) and value in (0, 1):
        return value == 1
    raise refusal(error, name, "is neither true nor false", value, "True or False")


def record(
    name: str, value: object, *kinds: type[T], error: type[StoichkitError] = ModelError
) -> T:
    """Return a record if it is of one of these types; else say how to come by one.

    >>> record("reaction", 3, Fraction)
    Traceback (most recent call last):
    stoichkit.errors.ModelError: `reaction` is not a Fraction. Given: 3. Allowed: a Fraction.
    """
    if isinstance(value, kinds):
        return value
    words = " or ".join(_a(kind.__name__) for kind in kinds)
    raise refusal(error, name, f"is not {words}", value, words, _MAKE.get(kinds[0].__name__))


def listed(
    name: str,
    value: object,
    *kinds: type[Any],
    error: type[StoichkitError] = ModelError,
) -> tuple[Any, ...]:
    """Return a list, or anything else that can be gone through, as a tuple of these types.

    Without types its items may be anything.

    >>> listed("formulas", ["SnO", 2], str)
    Traceback (most recent call last):
    stoichkit.errors.ModelError: Item 2 of `formulas` is not text. Given: 2. Allowed: text.
    """
    words = " or ".join(_a(kind.__name__) for kind in kinds)
    try:
        if isinstance(value, str | bytes | Mapping):
            raise TypeError
        items: tuple[Any, ...] = tuple(value)  # type: ignore[arg-type]
    except TypeError:
        allowed = f"a list, each item {words}" if words else "a list"
        raise refusal(error, name, "is not a list", value, allowed) from None
    for place, item in enumerate(items, start=1):
        if kinds and not isinstance(item, kinds):
            how = _MAKE.get(kinds[0].__name__)
            raise refusal(error, name, f"is not {words}", item, words, how, part=f"Item {place}")
    return items


def mapping(
    name: str, value: object, allowed: str, *, error: type[StoichkitError] = ModelError
) -> Mapping[Any, Any]:
    """Return a mapping (a dict) if it is one; ``allowed`` says of what to what.

    >>> mapping("amounts_mol", [0.1], "{reactant: amount}")
    Traceback (most recent call last):
    stoichkit.errors.ModelError: `amounts_mol` is not a mapping. Given: [0.1]. Allowed:
    {reactant: amount}.
    """
    if not isinstance(value, Mapping):
        raise refusal(error, name, "is not a mapping", value, allowed)
    return value


def function(
    name: str, value: object, allowed: str, *, error: type[StoichkitError] = ModelError
) -> Callable[..., Any]:
    """Return a function if it is one; ``allowed`` says how it is called.

    >>> function("sample", 3, "sample(rng, size)")
    Traceback (most recent call last):
    stoichkit.errors.ModelError: `sample` cannot be called. Given: 3. Allowed: sample(rng, size).
    """
    if not callable(value):
        raise refusal(error, name, "cannot be called", value, allowed)
    return value


def kept(record: object, **checked: object) -> None:
    """Set fields of a frozen record to what was found in them; an int stays one, to be saved so.

    >>> from types import SimpleNamespace
    >>> made = SimpleNamespace(mass_g=Decimal("1.5"), step_g=1)
    >>> kept(made, mass_g=1.5, step_g=1.0)
    >>> made
    namespace(mass_g=1.5, step_g=1)
    """
    for field, value in checked.items():
        if not (type(value) is float and type(getattr(record, field)) is int):
            object.__setattr__(record, field, value)


def _float(value: object) -> float:
    """Return a number as a float."""
    try:
        return float(_real(value))
    except OverflowError:
        raise _Unusable(_HUGE, value) from None
    except (TypeError, ValueError):  # a signalling nan; a symbol without a value
        raise _Unusable(_NAN, value) from None


def _whole(value: object) -> int:
    """Return a number without decimals as an int, if a float can hold it."""
    size = _float(value)
    if not size.is_integer():
        kind = "one with decimals" if math.isfinite(size) else _NOT_FINITE
        raise _Unusable(_NAN if math.isnan(size) else kind, value)
    return int(_real(value))


def _real(value: object) -> Any:
    """Return the number in a value as int, float, Fraction or Decimal; what has none is unusable.

    Numbers of other packages come back as float, whole ones as int.
    """
    if isinstance(value, bool):
        raise _Unusable(_TRUTH, value)
    if isinstance(value, int | float | Fraction | Decimal):
        return float(value) if isinstance(value, float) else value
    if value is None or type(value).__name__ in ("NAType", "NaTType"):
        raise _Unusable(_MISSING, value)
    if isinstance(value, str | bytes | bytearray):
        raise _Unusable(_TEXT, value)
    if isinstance(value, date | time | timedelta):
        raise _Unusable(_DATE, value)
    if isinstance(value, complex):
        raise _Unusable(_COMPLEX, value)
    if hasattr(value, "nominal_value"):
        raise _Unusable(_UNCERTAIN, value)
    if hasattr(value, "__array__"):
        return _of_numpy(value)
    if isinstance(value, Rational):
        ratio = Fraction(int(value.numerator), int(value.denominator))
        return ratio.numerator if ratio.denominator == 1 else ratio
    if isinstance(value, Real):
        return _float_of(value)
    raise _Unusable(f"of type {type(value).__name__}", value)


def _is_masked(value: Any) -> bool:
    """Whether a value is a masked array; their module is not loaded to see that."""
    loaded = sys.modules.get("numpy.ma")
    return loaded is not None and isinstance(value, loaded.MaskedArray)


def _of_numpy(value: Any) -> Any:
    """Return the number in a NumPy scalar or an array of no dimension."""
    import numpy as np

    if _is_masked(value) and value.ndim == 0 and bool(value.mask):
        raise _Unusable(_MASKED, value)
    if not isinstance(value, np.generic):
        inner = np.asarray(value)
        if inner.ndim:
            raise _Unusable(f"an array of shape {inner.shape}", value)
        return _real(inner[()])
    if value.dtype.kind in "iu":
        return int(value)
    if value.dtype.kind == "f":
        return _float_of(value)
    raise _Unusable(_KINDS.get(value.dtype.kind, f"of type {value.dtype}"), value)


def _float_of(value: Any) -> float:
    """Turn a number of another package into a float."""
    try:
        return float(value)
    except OverflowError:
        raise _Unusable(_HUGE, value) from None
    except (TypeError, ValueError):
        raise _Unusable(_NAN, value) from None


def _floats(value: Any) -> NDArray[np.float64]:
    """Return an array of floats; what holds anything but numbers is unusable."""
    import numpy as np

    if _is_masked(value):
        hidden = np.argwhere(np.ma.getmaskarray(value))
        if len(hidden):
            raise _Unusable(_MASKED, value, tuple(hidden[0].tolist()))
        value = value.data
    if isinstance(value, Sequence) and not isinstance(value, str | bytes | bytearray):
        plain = frozenset((int, float, np.float64, np.float32, np.int64, np.int32))
        nested = _nested(value, (), plain)
        try:
            return np.array(nested, dtype=np.float64)
        except OverflowError:
            raise _Unusable(_HUGE, value) from None
        except ValueError:
            raise _Unusable("rows of different lengths", value) from None
    if not hasattr(value, "__array__") or isinstance(value, np.generic):
        return np.asarray(_float(value))
    found = np.asarray(value)
    if found.dtype.kind in "fiu":
        with np.errstate(over="ignore"):
            return np.asarray(found, dtype=np.float64)
    if found.dtype.kind == "O":
        out = np.empty(found.shape)
        for place, one in np.ndenumerate(found):
            out[place] = _at(_float, one, place)
        return out
    raise _Unusable(_KINDS.get(found.dtype.kind, f"of type {found.dtype}"), value)


def _nested(value: Sequence[Any], place: tuple[int, ...], plain: frozenset[type]) -> Any:
    """Return lists in which every element is a number or an array of floats."""
    if len(place) > _DEEPEST:
        raise _Unusable("lists in lists in lists", value)
    if plain.issuperset(map(type, value)):
        return value
    return [
        _nested(one, (*place, i), plain)
        if isinstance(one, list | tuple)
        else _at(_floats, one, (*place, i))
        for i, one in enumerate(value)
    ]


def _at(convert: Callable[[Any], T], value: object, place: tuple[int, ...]) -> T:
    """Convert an element, and say where it is if it cannot be."""
    try:
        return convert(value)
    except _Unusable as bad:
        raise _Unusable(bad.kind, bad.given, (*place, *bad.place)) from None


def _find_bad(
    found: NDArray[np.float64], least: float, most: float, above: float, infinite: bool
) -> NoReturn:
    """Say which element cannot be used, and why."""
    import numpy as np

    bad = np.isnan(found) | (found < least) | (found > most) | (found <= above)
    bad |= np.isinf(found) & (not infinite)
    place = tuple(np.argwhere(bad)[0].tolist())
    value = float(found[place])
    if math.isnan(value):
        raise _Unusable(_NAN, value, place)
    beyond = math.isinf(value) and not infinite
    raise _Unusable(_NOT_FINITE if beyond else _OUT_OF_RANGE, value, place)


def _fault(found: float, infinite: bool = False) -> str:
    """Say why a number cannot be used."""
    if math.isnan(found):
        return "is not a number"
    return f"is {_NOT_FINITE if math.isinf(found) and not infinite else _OUT_OF_RANGE}"


def _sort(infinite: bool) -> str:
    return "a number" if infinite else "a finite number"


def _range(
    sort: str,
    least: float,
    most: float,
    above: float = -math.inf,
    below: float = math.inf,
) -> str:
    """Say what is allowed, such as "a finite number above 0, up to 5"."""
    if math.isfinite(least) and math.isfinite(most):
        return f"{sort} from {_figure(least)} to {_figure(most)}"
    if math.isfinite(above) and math.isfinite(below):
        return f"{sort} between {_figure(above)} and {_figure(below)}"
    parts = [f"{sort} above {_figure(above)}" if math.isfinite(above) else sort]
    if math.isfinite(least):
        parts.append(f"{_figure(least)} or more")
    if math.isfinite(most):
        parts.append(f"up to {_figure(most)}")
    if math.isfinite(below):
        parts.append(f"below {_figure(below)}")
    return ", ".join(parts)


def _figure(limit: float) -> str:
    large = isinstance(limit, int) and abs(limit) >= 10_000
    return f"{limit:,}" if large else f"{limit:g}"


def _a(word: str) -> str:
    if word == "str":
        return "text"
    return f"{'an' if word[0] in 'AEIOUaeiou' else 'a'} {word}"


def _no_number(
    error: type[StoichkitError],
    name: str,
    needed: str,
    bad: _Unusable,
    allowed: str,
    *,
    of: str = "",
) -> StoichkitError:
    """Return the refusal of what is not a number, saying what it is."""
    tail = "" if bad.kind == _NAN else f": it is {bad.kind}"
    problem = "is too large" if bad.kind == _HUGE else f"is not {needed}{tail}"
    return refusal(error, name, problem, bad.given, allowed, _FIX.get(bad.kind), of=of)


def refusal(
    error: type[StoichkitError],
    name: str,
    problem: str,
    given: object,
    allowed: str,
    fix: str | None = None,
    *,
    part: str = "",
    of: str = "",
) -> StoichkitError:
    """Return the refusal of an argument by its name; ``part`` of it, or what it is a part ``of``.

    >>> print(refusal(ModelError, "masses_g", "does not rise", [2, 1], "rising numbers"))
    `masses_g` does not rise. Given: [2, 1]. Allowed: rising numbers.
    """
    given = "None" if given is None else given
    if issubclass(error, ExperimentError):
        subject = f"{part} here" if part else "This"
        return error(f"{subject} {problem}.", field=name, given=given, allowed=allowed, fix=fix)
    called = f"`{name}`" if name.isidentifier() else name
    called += f" of {of}" if of else ""
    subject = f"{part} of {called}" if part else called[0].upper() + called[1:]
    return error(f"{subject} {problem}.", given=given, allowed=allowed, fix=fix)
