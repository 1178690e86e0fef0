"""Viscosity grades of engine oil: SAE J300, table of January 2015.

The standard was not at hand. The rows with a W and 30, 50, 60 agree in several published
reproductions; 8, 12, 16 and 20 were seen in one (dated 20 January 2015) only. J300 is a
laboratory classification: these figures recommend no ambient temperature.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from notices.rules.temperatures import from_celsius
from notices.rules.viscosity import Grade, parse_grade

# Grade, cranking tested at deg C, pumping tested at deg C, least mm2/s at 100 deg C.
WINTER = [
    ("0W", -35, -40, "3.8"),
    ("5W", -30, -35, "3.8"),
    ("10W", -25, -30, "4.1"),
    ("15W", -20, -25, "5.6"),
    ("20W", -15, -20, "5.6"),
    ("25W", -10, -15, "9.3"),
]
# Grade, least and most (not reached) mm2/s at 100 deg C.
SUMMER = [
    ("8", "4.0", "6.1"),
    ("12", "5.0", "7.1"),
    ("16", "6.1", "8.2"),
    ("20", "6.9", "9.3"),
    ("30", "9.3", "12.5"),
    ("40", "12.5", "16.3"),
    ("50", "16.3", "21.9"),
    ("60", "21.9", "26.1"),
]


@pytest.mark.parametrize(("text", "cranking", "pumping", "thin"), WINTER)
def test_cold_cranking_is_tested_where_the_table_says(
    text: str, cranking: int, pumping: int, thin: str
) -> None:
    assert parse_grade(text).cranking_celsius == cranking
    assert parse_grade(f"{text}-50").cranking_celsius == cranking
    assert pumping - cranking == -5, "OIL-10: five degrees below, six of six"


def test_two_common_grades_in_both_units() -> None:
    """OIL-09: 20W-50 and 15W-50 are tested at -15 and -20 deg C, +5 and -4 deg F."""
    tested = [parse_grade(text).cranking_celsius for text in ("20W-50", "15W-50")]
    assert tested == [-15, -20]
    assert [from_celsius(Fraction(degrees), "F") for degrees in (-15, -20)] == [5, -4]


def test_grades_stand_in_the_order_of_the_table() -> None:
    """W grades by their cranking temperature, the others by viscosity when hot."""
    winter = [parse_grade(text) for text, *_ in WINTER]
    summer = [parse_grade(text) for text, *_ in SUMMER]
    assert all(one < other for one, other in pairwise([*winter, *summer]))
    thickness = [float(least) for _, least, _ in SUMMER]
    assert thickness == sorted(thickness)
    assert [float(thin) for *_, thin in WINTER] == sorted(float(t) for *_, t in WINTER)


@pytest.mark.parametrize("cold", [text for text, *_ in WINTER])
@pytest.mark.parametrize("hot", [text for text, *_ in SUMMER])
def test_every_pair_is_a_multigrade_between_its_neighbours(cold: str, hot: str) -> None:
    pair = parse_grade(f"{cold}-{hot}")
    assert pair == Grade(int(cold[:-1]), int(hot))
    assert parse_grade(cold) < pair < parse_grade(hot)
    assert pair < parse_grade("8"), "a grade without W was never cranked cold"


def test_the_w_grade_decides_before_the_other() -> None:
    ordered = ["0W-60", "5W-20", "10W-30", "10W-40", "15W-50", "20W-20", "20W-50", "30"]
    assert all(parse_grade(a) < parse_grade(b) for a, b in pairwise(ordered))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("17W-40", "no grade 17W. It knows 0W, 5W, 10W, 15W, 20W, 25W."),
        ("15W-45", "no grade 45. It knows 8, 12, 16, 20, 30, 40, 50, 60."),
        ("SAE 100", "no grade 100."),
        ("-20", ""),
        ("W", "is not written as a grade of SAE J300"),
        ("", "is not written as a grade"),
        ("15W-50-60", "is not written as a grade"),
        ("75W-90", "no grade 75W"),  # a gear oil, SAE J306
    ],
)
def test_what_the_table_does_not_hold_is_refused(text: str, said: str) -> None:
    with pytest.raises(ValueError) as refused:
        parse_grade(text)
    assert said in str(refused.value)
