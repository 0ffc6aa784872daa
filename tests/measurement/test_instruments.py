"""Instruments: figures in, labelled error sources out."""

from __future__ import annotations

import math
from dataclasses import FrozenInstanceError

import pytest

from stoichkit.errors import InstrumentError, ReadingError
from stoichkit.measurement.base import Instrument
from stoichkit.measurement.displays import (
    Ammeter,
    Balance,
    Barometer,
    Thermometer,
    Timer,
    kPa_from_atm,
    kPa_from_hPa,
    kPa_from_mmHg,
    kPa_from_torr,
)
from stoichkit.measurement.glassware import (
    Burette,
    GraduatedCylinder,
    Pipette,
    VolumetricFlask,
    _rows,
    published_graduation,
    published_tolerance,
)
from stoichkit.measurement.registry import KINDS, instrument_fields, make_instrument
from stoichkit.uncertainty.readings import ErrorPool, parse_number
from stoichkit.uncertainty.sources import (
    Shape,
    Source,
    contributions,
    nominal,
    standard_uncertainty,
)


def sources(value: object) -> dict[str, tuple[Source, float]]:
    """Return the sources of a number by label, with their coefficients."""
    return {source.label: (source, c) for source, c in contributions(value)}


def weigh(balance: Balance, text: str, label: str, pool: ErrorPool, vessel: str = "") -> object:
    return balance.quantity(
        parse_number(text), name="balance", label=label, vessel=vessel, pool=pool
    )


# -- balance ---------------------------------------------------------------------------------


def test_balance_sources_have_the_shapes_and_sizes_stated() -> None:
    balance = Balance(
        readability_g=0.01, repeatability_g=0.006, linearity_g=0.02, calibration_relative=1e-4
    )

    mass = sources(weigh(balance, "20.00", "gross", ErrorPool(), vessel="crucible"))

    rounding, _ = mass["rounding of gross"]
    assert (rounding.kind, rounding.shape, rounding.scale) == (
        "rounding",
        Shape.RECTANGULAR,
        0.005,
    )
    assert (rounding.reading, rounding.vessel) == ("gross", "crucible")
    scatter, _ = mass["repeatability of gross"]
    assert (scatter.kind, scatter.shape, scatter.scale) == ("repeatability", Shape.NORMAL, 0.006)
    assert (scatter.reading, scatter.vessel) == ("gross", "crucible")
    linearity, _ = mass["linearity at gross"]
    assert (linearity.kind, linearity.shape, linearity.scale) == (
        "linearity",
        Shape.RECTANGULAR,
        0.02,
    )
    calibration, sensitivity = mass["calibration of balance"]
    assert (calibration.shape, calibration.scale) == (Shape.RECTANGULAR, 1e-4)
    assert sensitivity == pytest.approx(20.0)


def test_linearity_counts_twice_in_a_difference_and_calibration_once() -> None:
    """QUAM:2012 example A2: linearity of tare and gross are separate."""
    balance = Balance(
        readability_g=1e-9, repeatability_g=0.0, linearity_g=0.02, calibration_relative=0.01
    )
    pool = ErrorPool()

    net = weigh(balance, "12", "gross", pool) - weigh(balance, "2", "tare", pool)

    parts = sources(net)
    assert len([s for s, _ in parts.values() if s.kind == "linearity"]) == 2
    assert parts["calibration of balance"][1] == pytest.approx(10.0)
    assert standard_uncertainty(net) == pytest.approx(
        math.sqrt(2 * 0.02**2 / 3 + (10 * 0.01) ** 2 / 3)
    )


def test_two_balances_do_not_share_their_calibration() -> None:
    balance, pool = Balance(calibration_relative=0.01), ErrorPool()

    a = balance.quantity(parse_number("1.00"), name="a", label="x", pool=pool)
    b = balance.quantity(parse_number("1.00"), name="b", label="y", pool=pool)

    assert {"calibration of a", "calibration of b"} <= set(sources(a + b))


def test_repeatability_left_out_is_assumed_and_said() -> None:
    assert Balance(readability_g=0.1).repeatability == 0.05
    assert "0.05 g is assumed" in Balance(readability_g=0.1).assumptions()[0]
    assert Balance(readability_g=0.1, repeatability_g=0.0).assumptions() == ()


def test_repeatability_zero_means_digits_only() -> None:
    mass = weigh(Balance(repeatability_g=0.0), "1.00", "x", ErrorPool())

    assert list(sources(mass)) == ["rounding of x"]


@pytest.mark.parametrize(
    "figures",
    [
        {"readability_g": 0},
        {"readability_g": -0.01},
        {"readability_g": math.nan},
        {"readability_g": math.inf},
        {"readability_g": "0.01"},
        {"readability_g": True},
        {"repeatability_g": -1e-3},
        {"linearity_g": -1e-3},
        {"calibration_relative": 1.0},
        {"capacity_g": 0},
    ],
)
def test_impossible_balances_are_refused(figures: dict[str, object]) -> None:
    with pytest.raises(InstrumentError, match=r"`[a-z_]+` of the balance is (out of range|not)"):
        Balance(**figures)  # type: ignore[arg-type]


def test_fields_are_keyword_only_and_frozen() -> None:
    with pytest.raises(TypeError):
        Balance(0.01)  # type: ignore[misc]
    with pytest.raises(FrozenInstanceError):
        Balance().readability_g = 1.0  # type: ignore[misc]


# -- questions about a reading ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("20.105", "not a whole number of steps of 0.01 g"),
        ("20.1", "was it 20.10 g"),
        ("20.100", "more decimals"),
        ("250.00", "beyond the capacity"),
        ("-0.10", "is negative"),
    ],
)
def test_balance_asks_about_an_odd_reading(text: str, words: str) -> None:
    questions = Balance(readability_g=0.01, capacity_g=200.0).check(parse_number(text))

    assert len(questions) == 1
    assert words in questions[0]


@pytest.mark.parametrize("text", ["20.10", "0.07", "20,10", "199.99", "0.00"])
def test_balance_does_not_ask_about_a_plain_reading(text: str) -> None:
    assert Balance(readability_g=0.01, capacity_g=200.0).check(parse_number(text)) == ()


@pytest.mark.parametrize("steps", range(0, 400, 7))
def test_every_whole_number_of_steps_is_on_the_grid(steps: int) -> None:
    """Also for steps that binary numbers do not hold exactly."""
    for step, decimals in ((0.1, 1), (0.02, 2), (0.0005, 4), (5.0, 0)):
        text = f"{steps * step:.{decimals}f}"
        assert Balance(readability_g=step).check(parse_number(text)) == ()


def test_a_step_of_five_in_the_last_place() -> None:
    balance = Balance(readability_g=0.005)

    assert balance.check(parse_number("2.255")) == ()
    assert "steps of 0.005 g" in balance.check(parse_number("2.253"))[0]


def test_a_thermometer_may_be_below_zero() -> None:
    assert Thermometer(readability_C=0.1).check(parse_number("-5.0")) == ()


# -- meters ----------------------------------------------------------------------------------


def test_tolerance_of_a_meter_is_one_source_for_all_its_readings() -> None:
    thermometer = Thermometer(readability_C=0.1, tolerance_C=0.3, repeatability_C=0.0)
    pool = ErrorPool()

    first = thermometer.quantity(parse_number("21.0"), name="t", label="before", pool=pool)
    second = thermometer.quantity(parse_number("23.0"), name="t", label="after", pool=pool)

    assert sources(first)["tolerance of t"][0] is sources(second)["tolerance of t"][0]
    assert "tolerance of t" not in sources(second - first)


def test_ammeter_has_a_relative_and_a_constant_part() -> None:
    ammeter = Ammeter(
        readability_A=1e-9, repeatability_A=0.0, tolerance_relative=0.01, tolerance_A=0.02
    )

    current = ammeter.quantity(parse_number("2"), name="m", label="I", pool=ErrorPool())

    assert standard_uncertainty(current) == pytest.approx(math.hypot(0.02, 0.02) / math.sqrt(3))


def test_timer_counts_the_reaction_time_twice() -> None:
    timer = Timer(readability_s=1e-9, reaction_s=0.3, repeatability_s=0.0)

    time = timer.quantity(parse_number("600"), name="w", label="t", pool=ErrorPool())

    assert standard_uncertainty(time) == pytest.approx(0.3 * math.sqrt(2 / 3))


@pytest.mark.parametrize(
    "meter", [Thermometer(), Barometer(), Ammeter(), Timer()], ids=lambda m: m.noun
)
def test_meters_say_what_they_assume(meter: Instrument) -> None:
    assert len(meter.assumptions()) == 2
    assert all(s.endswith(".") for s in meter.assumptions())
    assert "no source" in " ".join(meter.assumptions())


def test_a_missing_reading_is_named() -> None:
    with pytest.raises(ReadingError, match="“p” is missing"):
        Barometer().quantity(None, name="b", label="p", pool=ErrorPool())


def test_pressure_units() -> None:
    """760 torr = 1 atm = 101.325 kPa exactly (definition); mmHg from memory, recomputed."""
    assert kPa_from_torr(760) == pytest.approx(101.325, rel=1e-15)
    assert kPa_from_atm(1) == 101.325
    assert kPa_from_hPa(1013.25) == pytest.approx(101.325, rel=1e-15)
    assert kPa_from_mmHg(760) == pytest.approx(13595.1 * 9.80665 * 0.760 / 1000, rel=1e-12)


# -- glassware -------------------------------------------------------------------------------


def test_pipette_delivers_its_capacity_without_a_reading() -> None:
    pipette = Pipette(capacity_mL=25.0, tolerance_mL=0.06, repeatability_mL=0.01, temperature_C=0.0)

    volume = pipette.quantity(name="p", label="aliquot", pool=ErrorPool())

    assert nominal(volume) == 25.0
    assert standard_uncertainty(volume) == pytest.approx(math.hypot(0.06 / math.sqrt(6), 0.01))


def test_fillings_of_one_pipette_share_its_tolerance_only() -> None:
    pipette, pool = Pipette(capacity_mL=10.0, temperature_C=3.0), ErrorPool()

    first = pipette.quantity(name="p", label="first", pool=pool)
    second = pipette.quantity(name="p", label="second", pool=pool)

    assert set(sources(first - second)) == {"repeatability of first", "repeatability of second"}


def test_a_reading_on_one_mark_glassware_is_refused() -> None:
    with pytest.raises(ReadingError, match="Nothing is read on a pipette"):
        Pipette().quantity(parse_number("10.0"), name="p", label="x", pool=ErrorPool())
    assert "nothing is read" in VolumetricFlask().check(parse_number("100"))[0]


def test_rectangular_tolerance_can_be_chosen() -> None:
    flask = VolumetricFlask(
        tolerance_mL=0.1, tolerance_shape="rectangular", repeatability_mL=0.0, temperature_C=0.0
    )

    volume = flask.quantity(name="f", label="x", pool=ErrorPool())

    assert standard_uncertainty(volume) == pytest.approx(0.1 / math.sqrt(3))


def delivered(burette: Burette, texts: tuple[str, str], trial: str, pool: ErrorPool) -> object:
    """Return one delivered volume, as the readings of one trial."""
    final, initial = (parse_number(text) for text in texts)
    return burette.quantity(
        final, name="b", label=f"{trial} final", pool=pool, delivery="acid"
    ) - burette.quantity(initial, name="b", label=f"{trial} initial", pool=pool, delivery=None)


def test_a_delivery_carries_the_burette_tolerance_once() -> None:
    burette = Burette(
        capacity_mL=50.0,
        tolerance_mL=0.05,
        resolution_mL=1e-9,
        repeatability_mL=0.0,
        temperature_C=0.0,
    )

    volume = delivered(burette, ("30.00", "10.00"), "1", ErrorPool())

    assert standard_uncertainty(volume) == pytest.approx(0.05 / math.sqrt(6))


def test_trials_share_the_burette_tolerance_and_not_the_reading_errors() -> None:
    burette, pool = Burette(capacity_mL=50.0, temperature_C=0.0), ErrorPool()

    first = delivered(burette, ("30.00", "10.00"), "1", pool)
    second = delivered(burette, ("30.00", "10.00"), "2", pool)

    assert "tolerance of b for acid" in sources(first)
    kinds = {source.kind for source, _ in sources(first - second).values()}
    assert kinds == {"rounding", "repeatability"}


def test_two_different_deliveries_have_two_tolerances() -> None:
    burette, pool = Burette(), ErrorPool()

    a = burette.quantity(parse_number("10.00"), name="b", label="a", pool=pool, delivery="a")
    b = burette.quantity(parse_number("20.00"), name="b", label="b", pool=pool, delivery="b")

    assert {"tolerance of b for a", "tolerance of b for b"} <= set(sources(b - a))


def test_temperature_acts_on_the_delivered_volume() -> None:
    burette = Burette(tolerance_mL=0.0, resolution_mL=1e-9, repeatability_mL=0.0, temperature_C=4.0)

    volume = delivered(burette, ("40.00", "30.00"), "1", ErrorPool())

    assert standard_uncertainty(volume) == pytest.approx(10 * 4 * 2.1e-4 / math.sqrt(3))


def test_burette_reading_error_agrees_with_the_table() -> None:
    """Reading precision ±0.02 mL of each reading: textbook Table 2.6 (read), as two sd."""
    assert 2 * Burette(capacity_mL=50.0, glass_class="A").repeatability == pytest.approx(0.02)


def test_scale_defaults_are_a_tenth_of_a_graduation() -> None:
    assert Burette(capacity_mL=50.0).readability == 0.01
    assert GraduatedCylinder(capacity_mL=100.0).readability == 0.1
    assert GraduatedCylinder(capacity_mL=100.0).repeatability == 0.2


def test_the_looked_up_tolerance_is_an_assumption_with_its_source() -> None:
    said = GraduatedCylinder(capacity_mL=50.0, glass_class="A").assumptions()

    assert "ASTM E1272-02(2012)" in said[0]
    assert "printed on the glass wins" in said[0]
    assert "read in that table" in said[0]
    stated = GraduatedCylinder(
        capacity_mL=50.0,
        tolerance_mL=0.3,
        graduation_mL=1.0,
        resolution_mL=0.5,
        repeatability_mL=0.2,
        temperature_C=0.0,
    )
    assert stated.assumptions() == ()


def test_a_tolerance_from_memory_says_so() -> None:
    assert "from memory" in Burette(capacity_mL=25.0, glass_class="A").assumptions()[0]


def test_a_size_in_no_table_asks_for_the_printed_figure() -> None:
    with pytest.raises(InstrumentError, match="Or give tolerance_mL") as caught:
        Pipette(capacity_mL=7.5)
    assert "25" in str(caught.value.allowed)
    assert Pipette(capacity_mL=7.5, tolerance_mL=0.05).tolerance == 0.05
    with pytest.raises(InstrumentError, match="Give graduation_mL"):
        Burette(capacity_mL=2.0, tolerance_mL=0.01)


@pytest.mark.parametrize(
    ("figures", "words"),
    [
        ({"glass_class": "C"}, "`glass_class` of the burette"),
        ({"tolerance_shape": "normal"}, "`tolerance_shape` of the burette"),
        ({"capacity_mL": 0}, "`capacity_mL`"),
        ({"tolerance_mL": 60.0}, "`tolerance_mL`"),
        ({"graduation_mL": 0}, "`graduation_mL`"),
        ({"resolution_mL": 0}, "`resolution_mL`"),
        ({"temperature_C": -1}, "`temperature_C`"),
    ],
)
def test_impossible_glassware_is_refused(figures: dict[str, object], words: str) -> None:
    with pytest.raises(InstrumentError, match=words):
        Burette(**figures)  # type: ignore[arg-type]


def test_lookup_prefers_a_table_read_and_then_the_largest_tolerance() -> None:
    """50 mL class A cylinder: 0.25 and 0.20 read, 0.5 from memory."""
    assert published_tolerance("cylinder", 50.0, "A").tolerance_mL == 0.25
    assert published_tolerance("flask", 500.0, "A").tolerance_mL == 0.15
    assert published_graduation("cylinder", 10) == 0.2


def test_every_row_of_the_glassware_table_is_usable() -> None:
    rows = _rows()

    assert len(rows) > 100
    for row in rows:
        assert row.kind in KINDS
        assert row.glass_class in "AB"
        assert 0 < row.tolerance_mL < row.capacity_mL / 10
        assert row.status in {"read", "rule", "memory"}
        assert row.source
        chosen = published_tolerance(row.kind, row.capacity_mL, row.glass_class)
        assert chosen.tolerance_mL > 0
    assert len({(r.kind, r.capacity_mL, r.glass_class, r.graduation_mL, r.source) for r in rows})


def test_class_b_is_never_tighter_than_class_a_in_one_source() -> None:
    tight = {
        (r.kind, r.capacity_mL, r.source): r.tolerance_mL for r in _rows() if r.glass_class == "A"
    }
    for row in _rows():
        if row.glass_class == "B" and (row.kind, row.capacity_mL, row.source) in tight:
            assert row.tolerance_mL >= tight[row.kind, row.capacity_mL, row.source]


# -- registry --------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", list(KINDS))
def test_every_kind_is_made_described_and_saved(kind: str) -> None:
    instrument = make_instrument(kind)

    assert instrument.describe().endswith(".")
    assert instrument.unit in {"g", "mL", "°C", "kPa", "A", "s"}
    assert make_instrument(**instrument_fields(instrument)) == instrument
    assert instrument_fields(instrument) == {"kind": kind}


def test_saved_fields_are_those_that_were_stated() -> None:
    burette = Burette(capacity_mL=25.0, glass_class="A", tolerance_mL=0.04)

    fields = instrument_fields(burette)

    assert fields == {
        "kind": "burette",
        "capacity_mL": 25.0,
        "glass_class": "A",
        "tolerance_mL": 0.04,
    }
    assert make_instrument(**fields) == burette


def test_unknown_kind_and_field_are_answered_with_the_nearest() -> None:
    with pytest.raises(InstrumentError, match="Did you mean “burette”") as caught:
        make_instrument("buret")
    assert "balance" in str(caught.value.allowed)
    with pytest.raises(InstrumentError, match="Did you mean “tolerance_C”"):
        make_instrument("thermometer", tolerance_c=0.5)
    with pytest.raises(InstrumentError, match="not known"):
        make_instrument(["balance"])  # type: ignore[arg-type]


def test_only_an_instrument_has_instrument_fields() -> None:
    with pytest.raises(InstrumentError, match="not an instrument"):
        instrument_fields("balance")  # type: ignore[arg-type]
