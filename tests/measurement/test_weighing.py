"""Weighings: names in the order they are made, sums by hand, what is said of them."""

from __future__ import annotations

import re
from string import Formatter

import pytest

from stoichkit import experiments
from stoichkit.errors import ExperimentError, InstrumentError
from stoichkit.measurement.base import Setting
from stoichkit.measurement.displays import Balance
from stoichkit.measurement.glassware import published_tolerance
from stoichkit.measurement.registry import KINDS
from stoichkit.measurement.weighing import WEIGHINGS, MassByDifference, Precipitate, SumOfMasses
from stoichkit.uncertainty.readings import ErrorPool, parse_number
from stoichkit.uncertainty.sources import nominal


@pytest.mark.parametrize(
    ("key", "names", "heavier", "lighter"),
    [
        # what is used up grows lighter and is taken out of a bottle; what is made is put on
        # something that was weighed empty, or grows on a strip
        ("before and after", ("Fe before", "Fe after"), "Fe before", "Fe after"),
        ("by difference", ("Fe bottle before", "Fe bottle after"),
         "Fe bottle before", "Fe bottle after"),
        ("on paper", ("paper", "paper + Fe"), "paper + Fe", "paper"),
        ("in a dish", ("dish for Fe", "dish + Fe"), "dish + Fe", "dish for Fe"),
        ("on a strip", ("strip before", "strip after"), "strip after", "strip before"),
        ("alone", ("Fe",), "Fe", ""),
    ],
)  # fmt: skip
def test_readings_of_a_usual_weighing_in_the_order_they_are_made(
    key: str, names: tuple[str, ...], heavier: str, lighter: str
) -> None:
    way = WEIGHINGS[key]
    assert way.readings("Fe") == names
    assert (way.of("Fe").heavier, way.of("Fe").lighter) == (heavier, lighter)


def masses(**other: object) -> SumOfMasses:
    fields: dict[str, object] = {
        "species": "Cu", "plus": ("first", "second"), "minus": ("dish",), "instrument": "balance",
    }  # fmt: skip
    return SumOfMasses(**{**fields, **other})  # type: ignore[arg-type]


def test_a_sum_stands_for_its_first_pair() -> None:
    assert masses().reading("heavier") == "first"
    assert masses().reading("lighter") == "dish"
    assert masses(minus=()).reading("lighter") == "first"
    assert masses(minus=("dish", "lid")).reading("lighter") == "dish"


def test_the_mass_to_take_of_an_impure_solid() -> None:
    """0.1 mol Cu (63.546 g/mol) is 6.3546 g; of a solid with 90 % of it 7.0607 g."""
    assert masses(purity=0.9).mass_to_take_g(0.1) == pytest.approx(7.06067, abs=1e-5)
    assert masses(purity=0.9).expected_mass_g(0.1) == pytest.approx(6.3546, abs=1e-5)


def test_a_weighing_named_twice_is_refused_where_it_stands() -> None:
    for field, names in (("plus", ("first", "first")), ("minus", ("dish", "dish"))):
        with pytest.raises(ExperimentError) as caught:
            masses(**{field: names})
        assert caught.value.field == field
        assert caught.value.given == names[0]


def test_steps_from_two_weighings_to_an_amount_with_their_units() -> None:
    """1.27 g of Cu at 63.546 g/mol are 19.986 mmol; of a solid with 50 % of it half as many."""
    pool, balance = ErrorPool(), Balance(readability_g=0.01)
    for purity, units, mol in ((1.0, ["g", "g/mol", "mol"], 0.0199855),
                               (0.5, ["g", "", "g/mol", "mol"], 0.0099928)):  # fmt: skip
        model = MassByDifference(
            species="Cu", heavier="full", lighter="empty", instrument="balance", purity=purity
        )
        values = {
            name: balance.quantity(reading, name="balance", label=name, pool=pool)
            for name, reading in (("full", parse_number("2.67")), ("empty", parse_number("1.40")))
        }
        steps = model.explain(values, pool)
        assert [step.unit for step in steps] == units
        assert nominal(steps[-1].value) == pytest.approx(mol, abs=1e-7)


def difference(**other: object) -> MassByDifference:
    fields: dict[str, object] = {
        "species": "Cu", "heavier": "full", "lighter": "empty", "instrument": "balance",
    }  # fmt: skip
    return MassByDifference(**{**fields, **other})  # type: ignore[arg-type]


def test_a_plain_mass_is_two_weighings_of_a_pure_substance() -> None:
    assert difference().plain_mass
    assert not difference(purity=0.9).plain_mass
    assert not difference(density_g_per_cm3=8.9).plain_mass
    assert not difference(lighter="").plain_mass
    assert not difference(averaged=("full",)).plain_mass
    assert not difference(same_vessel=("full",)).plain_mass


def test_whether_the_species_itself_is_weighed() -> None:
    chloride = Precipitate(
        species="Cl^-", precipitate="AgCl", heavier="full", lighter="empty", instrument="balance"
    )
    assert difference().weighs_species
    assert not chloride.weighs_species
    assert not experiments.load("magnesium-gas").produced.weighs_species  # a volume of gas


def test_a_product_is_collected_driven_off_or_taken_up() -> None:
    """A product weighed with the reactant is lighter by what left it, heavier by what came."""
    order = ("crucible", "full", "crucible + solid")
    reactant = difference(heavier="full", lighter="crucible")
    setting = Setting(side="produced", other=reactant, order=order, instruments={})
    taken_up = difference(species="O", heavier="crucible + solid", lighter="full")
    driven_off = difference(species="CO2", heavier="full", lighter="crucible + solid")
    apart = difference(species="Ag", heavier="paper + Ag", lighter="paper")
    assert taken_up.situation(setting) == {"element taken up"}
    assert apart.situation(setting) == {"solid collected", "filtered", "empty vessel weighed"}
    assert difference(lighter="", heavier="Ag").situation(setting) == {
        "solid collected", "filtered",
    }  # fmt: skip
    assert "driven off" not in driven_off.situation(setting)
    consumed = Setting(side="consumed", other=reactant, order=order, instruments={})
    assert apart.situation(consumed) == {"weighed in"}


def test_a_mean_of_weighings_wants_the_balance_at_zero_between_them() -> None:
    setting = Setting(side="consumed", other=difference(), order=("full", "empty"), instruments={})
    waits = difference(averaged=("full",)).care(setting).waiting
    assert any("set the balance to zero, or nothing but the first reading is seen" in w
               for w in waits)  # fmt: skip
    assert not any("zero" in w for w in difference().care(setting).waiting)


UNITS = {"C": "°C"}


@pytest.mark.parametrize("kind", KINDS)
def test_the_unit_said_after_a_figure_is_that_of_its_field(kind: str) -> None:
    """``{readability_g} g``: a field is named with its unit."""
    parts = list(Formatter().parse(KINDS[kind].figures))
    for (_, field, _, _), (after, _, _, _) in zip(parts, [*parts[1:], ("", "", "", "")],
                                                  strict=True):  # fmt: skip
        if field:
            unit = field.rpartition("_")[2]
            said = re.match(r" ([^ ,]+)", after) if after else None
            assert said is None or said[1] == UNITS.get(unit, unit), (kind, field)
            assert said is not None or field == parts[-1][1], (kind, field)


def test_a_size_of_glass_without_a_published_tolerance_is_refused_with_those_there_are() -> None:
    with pytest.raises(InstrumentError) as caught:
        published_tolerance("burette", 33, "A")
    assert caught.value.given == "33 mL"
    assert re.fullmatch(r"(\d+, )+\d+ mL", str(caught.value.allowed))
