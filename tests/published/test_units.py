"""Units of volume and temperature, and the lead in a fuel, against published figures.

US gallon and quart and the degree Fahrenheit are exact by definition (the figures are
from memory); the reference is the unit library pint, asked for exact fractions. Lead in
fuel: ASTM D910, read in secondary sources only; it is text here and decides nothing.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from notices.rules.forms import HoursForm
from notices.rules.operating import LITRES_IN_US_GALLON, fuel
from notices.rules.temperatures import degrees_words, from_celsius, in_celsius

UNITS: pint.UnitRegistry[Fraction] = pint.UnitRegistry(non_int_type=Fraction)
DAY = date(2026, 5, 12)


def by_pint(amount: Fraction, unit: str, wanted: str) -> Fraction:
    found = UNITS.Quantity(amount, unit).to(wanted).magnitude
    assert isinstance(found, Fraction)
    return found


def litres(quantity: str | Fraction, unit: str) -> Fraction:
    return fuel(on=DAY, quantity=quantity, unit=unit, kind="leaded").litres


AMOUNTS = st.fractions(min_value=Fraction(1, 1000), max_value=5000)


@given(AMOUNTS)
def test_gallons_are_litres_exactly(amount: Fraction) -> None:
    assert litres(amount, "US gal") == by_pint(amount, "US_liquid_gallon", "liter")
    assert litres(amount, "L") == amount


def test_a_gallon_is_four_quarts() -> None:
    assert Fraction("0.946352946") * 4 == LITRES_IN_US_GALLON
    assert by_pint(Fraction(4), "US_liquid_quart", "liter") == LITRES_IN_US_GALLON
    assert Fraction("2.54") ** 3 * 231 / 1000 == LITRES_IN_US_GALLON


# Exact pairs of deg C and deg F.
PAIRS = [
    (-40, -40), (-35, -31), (-30, -22), (-25, -13), (-20, -4), (-15, 5), (-10, 14),
    (0, 32), (20, 68), (100, 212), (150, 302),
]  # fmt: skip


@pytest.mark.parametrize(("celsius", "fahrenheit"), PAIRS)
def test_exact_pairs_of_temperatures(celsius: int, fahrenheit: int) -> None:
    """UNIT-01 is the first of them."""
    assert from_celsius(Fraction(celsius), "F") == fahrenheit
    assert in_celsius(Fraction(fahrenheit), "F") == celsius


def test_a_temperature_that_does_not_come_out_even() -> None:
    """UNIT-02: 245 deg F are 118.33 deg C, and exactly 118 1/3."""
    assert in_celsius(Fraction(245), "F") == Fraction(355, 3)
    assert round(float(in_celsius(Fraction(245), "F")), 2) == 118.33
    assert degrees_words(in_celsius(Fraction(245), "F")) == "118.333 °C"


def test_a_rise_converts_without_the_32() -> None:
    """UNIT-03: a rise of 15 deg C is a rise of 27 deg F."""
    warm, cold = (from_celsius(Fraction(c), "F") for c in (85, 70))
    assert warm - cold == 27


@given(st.fractions(min_value=-273, max_value=2000))
def test_degrees_convert_as_the_library_does_and_back(degrees: Fraction) -> None:
    assert from_celsius(degrees, "F") == by_pint(degrees, "degC", "degF")
    assert in_celsius(degrees, "F") == by_pint(degrees, "degF", "degC")
    assert in_celsius(from_celsius(degrees, "F"), "F") == degrees
    assert from_celsius(degrees, "C") == degrees


@pytest.mark.parametrize(
    ("grams_a_litre", "grams_a_gallon"),
    [
        # FUEL-01: the limit of 100LL in ASTM D910, 0.56 g/L, is published as 2.12 g/gal.
        ("0.56", "2.12"),
        # FUEL-02: the limit of unleaded motor gasoline, 0.013 g/L, as about 0.05 g/gal.
        ("0.013", "0.05"),
    ],
)
def test_lead_by_volume_in_both_units(grams_a_litre: str, grams_a_gallon: str) -> None:
    found = Fraction(grams_a_litre) * litres("1", "US gal")
    assert round(Decimal(found.numerator) / found.denominator, 2) == Decimal(
        grams_a_gallon
    )


# Tetraethyl lead: 1.653 g/mL, 64.06 % lead by mass (both from memory).
LEAD_IN_A_MILLILITRE = Fraction("1.653") * Fraction("0.6406")


@pytest.mark.parametrize(
    ("millilitres_a_gallon", "grams_a_litre"),
    [
        # FUEL-03: 100LL is published as 2 mL of tetraethyl lead a gallon.
        ("2", "0.559"),
        # FUEL-05: grade 80 and grade 100/130.
        ("0.5", "0.140"),
        ("4", "1.119"),
    ],
)
def test_lead_by_the_gallon_of_old_in_grams_a_litre(
    millilitres_a_gallon: str, grams_a_litre: str
) -> None:
    lead = Fraction(millilitres_a_gallon) * LEAD_IN_A_MILLILITRE
    found = lead / litres("1", "US gal")
    assert round(Decimal(found.numerator) / found.denominator, 3) == Decimal(
        grams_a_litre
    )


def hours_of(raw: float) -> int:
    """Hundredths of an hour, as a question in JSON gives hours."""
    return HoursForm().read(raw, "hours", [])


def test_unit_05_and_06_tenths_of_an_hour_add_up_exactly() -> None:
    """A tenth of an hour is six minutes, and ten of them are exactly one hour."""
    assert hours_of(0.1) * 60 == 6 * 100
    assert sum(hours_of(0.1) for _ in range(10)) == hours_of(1.0)
