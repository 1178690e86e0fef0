"""Fuel as a person enters it: exact quantities and shares, and what is refused."""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from typing import Any

import pytest

from notices.rules.errors import RuleError
from notices.rules.fuel import Fuel, exact_number, exact_share, fuel, leaded_of

DAY = date(2026, 5, 12)


def entered(**more: Any) -> Fuel:
    said: dict[str, Any] = {"quantity": "85.5", "unit": "L", "kind": "leaded"}
    return fuel(on=DAY, **said | more)


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("85.5", Fraction(171, 2)),
        (" 85,5 ", Fraction(171, 2)),
        ("0.1", Fraction(1, 10)),
        ("1234", Fraction(1234)),
        ("1,23", Fraction(123, 100)),
        ("0,125", Fraction(1, 8)),
        ("12,3456", Fraction(123456, 10000)),
        # As the service itself writes thousands, and as a person copies them.
        ("1\u202f234.5", Fraction(24690, 20)),
        ("1\u00a0234", Fraction(1234)),
        ("1 234 567,5", Fraction(2469135, 2)),
    ],
)
def test_a_number_is_exactly_what_is_written(text: str, number: Fraction) -> None:
    assert exact_number(text) == number


@pytest.mark.parametrize(
    ("text", "said"),
    [
        # A comma before three digits is a thousand to one reader, a decimal to another.
        ("1,234", '"1,234" can be read in two ways. Write 1234, or a decimal point.'),
        ("12,345,678", "Write 12345678"),
        ("1.234,5", '"1.234,5" is not a number. Write one such as 85.5.'),
        ("-5", '"-5" is less than nothing.'),
        ("−5", "less than nothing"),
        ("1e3", "is not a number"),
        ("1 23", "is not a number"),
        ("1234 567", "is not a number"),
        ("85.", "is not a number"),
        ("٨", "is not a number"),
        ("", "is not a number"),
    ],
)
def test_what_is_no_plain_number_is_refused(text: str, said: str) -> None:
    with pytest.raises(ValueError) as refused:
        exact_number(text)
    assert said in str(refused.value)


@pytest.mark.parametrize(
    ("text", "share"),
    [
        ("0.4", Fraction(2, 5)),
        ("0,4", Fraction(2, 5)),
        ("2/5", Fraction(2, 5)),
        ("1 / 3", Fraction(1, 3)),
        ("0", Fraction(0)),
        ("1", Fraction(1)),
        ("40 %", Fraction(2, 5)),
        ("40\u00a0%", Fraction(2, 5)),
        ("49,9 %", Fraction(499, 1000)),
        ("0.5%", Fraction(1, 200)),
        ("100 %", Fraction(1)),
    ],
)
def test_a_share_is_a_decimal_a_ratio_or_in_per_cent(
    text: str, share: Fraction
) -> None:
    assert exact_share(text) == share


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("1.1", '"1.1" is more than the whole. A share is from 0 to 1'),
        ("3/2", '"3/2" is more than the whole.'),
        ("40", 'If 40 % is meant, write "40 %".'),
        ("49,9", 'If 49,9 % is meant, write "49,9 %".'),
        ("101", "or in per cent, such as 40 %."),
        ("100.1 %", '"100.1 %" is more than the whole, which is 100 %.'),
        ("2/5 %", '"2/5" is not a number.'),
        ("%", "is not a number"),
        ("1/0", "A share of nothing is not a share"),
    ],
)
def test_what_is_no_share_is_refused(text: str, said: str) -> None:
    with pytest.raises(ValueError) as refused:
        exact_share(text)
    assert said in str(refused.value)


def test_gallons_and_litres_are_both_taken_exactly() -> None:
    assert entered().litres == Fraction(171, 2)
    gallons = entered(quantity="10", unit="US gal", kind="blend", leaded_share="2/5")
    assert gallons.litres == Fraction("37.85411784")
    assert gallons.leaded_litres == Fraction("15.141647136")


@pytest.mark.parametrize(
    ("kind", "share", "leaded"),
    [("leaded", None, 1), ("unleaded", "", 0), ("blend", "0.25", Fraction(1, 4))],
)
def test_each_kind_has_its_share(kind: str, share: str | None, leaded: Any) -> None:
    assert leaded_of(kind, share) == leaded


REFUSED = [
    ({"quantity": "0"}, "quantity", "Fuel taken on is more than 0"),
    ({"quantity": "-3"}, "quantity", '"-3" is less than nothing.'),
    ({"quantity": Fraction(-3)}, "quantity", "more than 0"),
    ({"quantity": "some"}, "quantity", "is not a number"),
    ({"quantity": "2000000"}, "quantity", "at most 1\u00a0000\u00a0000"),
    ({"unit": "gal"}, "unit", 'Expected the unit "L" or "US gal", not "gal".'),
    ({"kind": "avgas"}, "kind", 'Expected the kind "leaded", "unleaded" or "blend"'),
    ({"kind": "blend"}, "leaded_share", "Of a blend the leaded share is needed"),
    ({"kind": "blend", "leaded_share": "1.5"}, "leaded_share", "more than the whole"),
    ({"kind": "blend", "leaded_share": Fraction(-1)}, "leaded_share", "from 0 to 1"),
    ({"leaded_share": "0.5"}, "leaded_share", "for a blend only"),
]


@pytest.mark.parametrize(("more", "place", "said"), REFUSED)
def test_bad_fuel_is_refused_with_reason_and_place(
    more: dict[str, Any], place: str, said: str
) -> None:
    with pytest.raises(RuleError) as refused:
        entered(**more, path="fuel[2]")
    (fault,) = refused.value.faults
    assert fault.path == f"fuel[2].{place}"
    assert said in fault.message


def test_all_faults_of_one_entry_come_together() -> None:
    with pytest.raises(RuleError) as refused:
        entered(quantity="0", unit="gal", kind="blend")
    paths = [fault.path for fault in refused.value.faults]
    assert paths == ["unit", "quantity", "leaded_share"]


def test_fuel_that_cannot_be_is_not_made() -> None:
    with pytest.raises(ValueError, match="more than 0 litres"):
        Fuel(on=DAY, litres=Fraction(0), leaded=Fraction(0))
    with pytest.raises(ValueError, match="from 0 to 1"):
        Fuel(on=DAY, litres=Fraction(1), leaded=Fraction(2))
