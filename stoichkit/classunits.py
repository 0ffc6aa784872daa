"""Units as class files write them: split from a header, told apart, and turned into ours."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from .errors import ReadingError
from .readings import parse_number

__all__ = ["Unit", "converted", "known_unit", "number_and_unit", "split_header"]


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit a class file may use for readings that are kept in another one.

    Attributes
    ----------
    symbol : str
        As it is written.
    base : str
        Unit of the readings: ``"g"``, ``"mL"``, ``"°C"``, ``"kPa"``, ``"A"`` or ``"s"``.
    factor, offset : Decimal
        Reading in the base unit = number × factor + offset.

    Examples
    --------
    >>> known_unit("mg")
    Unit(symbol='mg', base='g', factor=Decimal('0.001'), offset=Decimal('0'))
    """

    symbol: str
    base: str
    factor: Decimal
    offset: Decimal = Decimal(0)

    @property
    def same(self) -> bool:
        """Whether numbers stay as they are."""
        return self.factor == 1 and not self.offset

    @property
    def words(self) -> str:
        """How numbers in this unit are turned into readings."""
        if self.offset:
            sign = "−" if self.offset < 0 else "+"
            return f"number in {self.symbol} {sign} {abs(self.offset)} = reading in {self.base}"
        return f"1 {self.symbol} = {self.factor:f} {self.base}"


# The ounce and the pound are exact by definition (international avoirdupois, from memory), the
# conventional millimetre of mercury as in pressure_units.
_TABLE = {
    "g": "g=1 gram=1 grams=1 gr.=1 mg=1e-3 kg=1e3 µg=1e-6 μg=1e-6 ug=1e-6 "
    "oz=28.349523125 lb=453.59237",
    "mL": "mL=1 cm3=1 cm³=1 cm^3=1 cc=1 ccm=1 L=1e3 litre=1e3 liter=1e3 dm3=1e3 dm³=1e3 "
    "cL=10 dL=100 µL=1e-3 μL=1e-3 uL=1e-3",
    "°C": "°C=1 ℃=1 degC=1 C=1 celsius=1",
    "kPa": "kPa=1 hPa=0.1 Pa=1e-3 mbar=0.1 bar=100 MPa=1e3 atm=101.325 mmHg=0.133322387415 "
    "torr=0.133322368421",
    "A": "A=1 amp=1 ampere=1 mA=1e-3",
    "s": "s=1 sec=1 secs=1 second=1 seconds=1 ms=1e-3 min=60 mins=60 minute=60 minutes=60 h=3600 "
    "hour=3600 hours=3600",
}
_UNITS: dict[str, Unit] = {}
for _base, _line in _TABLE.items():
    for _entry in _line.split():
        _symbol, _factor = _entry.split("=")
        _UNITS[_symbol.casefold()] = Unit(_symbol, _base, Decimal(_factor))
_UNITS["k"] = Unit("K", "°C", Decimal(1), Decimal("-273.15"))
_UNITS["mpa"] = Unit("MPa", "kPa", Decimal(1000))

_ENDINGS = (
    re.compile(r"(?P<name>.*\S)\s*/\s*(?P<unit>[^/()\[\]]+)", re.DOTALL),
    re.compile(r"(?P<name>.*\S)\s*[(\[]\s*(?:in\s+)?(?P<unit>[^()\[\]]+)[)\]]", re.DOTALL),
    re.compile(r"(?P<name>.*\S)\s*,\s*(?:in\s+)?(?P<unit>[^,]+)", re.DOTALL),
    re.compile(r"(?P<name>.*\S)\s+in\s+(?P<unit>\S+)", re.DOTALL),
)
_NUMBER_UNIT = re.compile(r"([-+−–]?\s*[0-9.,]*[0-9][.,]?(?:[eE][+-]?[0-9]+)?)\s*([^\d\s.,]\S*)")


def known_unit(text: str) -> Unit | None:
    """Return the unit of that name, or None; capitals do not matter.

    >>> known_unit("ML").base, known_unit("furlong") is None
    ('mL', True)
    """
    plain = " ".join(text.split())
    plain = plain.replace("° C", "°C").replace("deg C", "degC").replace("mm Hg", "mmHg")
    return _UNITS.get(plain.casefold())


@lru_cache(maxsize=4096)
def split_header(header: str) -> tuple[str, str]:
    """Split a column header into the name of the reading and its unit.

    The unit stands behind a slash, in brackets, behind a comma or behind "in"; behind a slash
    and in square brackets any text counts as a unit, elsewhere only a known one.

    Parameters
    ----------
    header : str

    Returns
    -------
    (str, str)
        The unit is "" where none is written.

    Examples
    --------
    >>> [split_header(text) for text in ("wire before / g", "wire before [mg]", "flask (1)")]
    [('wire before', 'g'), ('wire before', 'mg'), ('flask (1)', '')]
    """
    text = " ".join(header.split())
    for number, pattern in enumerate(_ENDINGS):
        match = pattern.fullmatch(text)
        if match is None:
            continue
        name, unit = match["name"].strip(), match["unit"].strip()
        must_be = number == 0 or text.endswith("]")
        if known_unit(unit) is not None or (must_be and re.search(r"[^\W\d_]|°", unit)):
            return name, unit
    return text, ""


def number_and_unit(text: str) -> tuple[str, Unit] | None:
    """Split a cell such as "2.94 g" into the number and its unit, or return None.

    >>> number_and_unit("294 mg")[0], number_and_unit("2.94"), number_and_unit("2.9O")
    ('294', None, None)
    """
    match = _NUMBER_UNIT.fullmatch(text.strip())
    unit = known_unit(match[2]) if match else None
    return (match[1], unit) if match and unit else None


def converted(text: str, unit: Unit) -> str:
    """Write a number in the base unit, with the typed digits where the factor is a power of ten.

    For other factors two more digits than were typed are kept.

    Parameters
    ----------
    text : str
        A number as typed.
    unit : Unit
        The unit it was typed in.

    Returns
    -------
    str
        The number in ``unit.base``.

    Raises
    ------
    ReadingError
        If the text is not a number.

    Examples
    --------
    >>> converted("2940", known_unit("mg")), converted("294,50", known_unit("K"))
    ('2.940', '21.35')
    >>> converted("742.5", known_unit("mmHg")), converted("1.5", known_unit("min"))
    ('98.9919', '90.0')
    """
    if unit.same:
        return text
    reading = parse_number(text)
    plain = text.strip().replace(",", ".").translate(str.maketrans("−–﹣", "---"))
    value = Decimal(plain) * unit.factor + unit.offset
    power = unit.factor.as_tuple()
    exact = not unit.offset and power.digits in ((1,), (1, 0), (1, 0, 0))
    places = reading.decimals - unit.factor.adjusted()
    if exact or (unit.factor == int(unit.factor) and not unit.offset):
        places = max(places, 0) if exact else max(reading.decimals, 0)
    elif unit.offset:
        places = max(reading.decimals, -int(unit.offset.as_tuple().exponent))
    else:
        places = max(places, 0) + 2
    if places > 30:
        raise ReadingError("The number has too many decimals.", given=text, allowed="up to 30")
    return f"{value:.{places}f}"
