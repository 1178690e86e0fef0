"""Viscosity grades of engine oil after SAE J300, and their order from thin to thick.

The list of grades and the temperatures at which cold cranking is tested are those of
the table of January 2015, as reproduced by others; the standard itself was not at hand.
J300 is a laboratory classification: it recommends no ambient temperature and says
nothing of use in an aircraft. The engine maker's table decides.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import total_ordering
from typing import Final

CRANKING_CELSIUS: Final = {0: -35, 5: -30, 10: -25, 15: -20, 20: -15, 25: -10}
"""Of each W grade: at how many degrees Celsius its cold cranking is tested."""

HOT_GRADES: Final = (8, 12, 16, 20, 30, 40, 50, 60)

WARMEST_CRANKING_CELSIUS: Final = max(CRANKING_CELSIUS.values())

_GRADE: Final = re.compile(
    r"(?:(?P<sae>sae)[ -]*)?(?:(?P<cold>[0-9]{1,3})[ -]*w[ /-]*)?(?P<hot>[0-9]{1,3})?",
    re.IGNORECASE,
)


@total_ordering
@dataclass(frozen=True, slots=True)
class Grade:
    """A grade that J300 knows. `cold`: the number before W; `hot`: the one without."""

    cold: int | None
    hot: int | None

    @property
    def cranking_celsius(self) -> int | None:
        """At how many degrees Celsius cold cranking is tested, None without a W."""
        return None if self.cold is None else CRANKING_CELSIUS[self.cold]

    def __lt__(self, other: Grade) -> bool:
        """The grade for the colder start first, then the thinner when hot."""
        return self._rank < other._rank

    @property
    def _rank(self) -> tuple[int, int]:
        cranking = self.cranking_celsius
        no_cranking = WARMEST_CRANKING_CELSIUS + 1
        return no_cranking if cranking is None else cranking, self.hot or 0

    def __str__(self) -> str:
        cold = "" if self.cold is None else f"{self.cold}W"
        hot = "" if self.hot is None else f"{self.hot}"
        return f"{cold}-{hot}" if cold and hot else cold or hot


def parse_grade(text: str) -> Grade:
    """Return the grade written as "15W-50", "20W" or "30", with or without "SAE".

    Raises ValueError for what J300 does not know.
    """
    found = _GRADE.fullmatch(text.strip())
    if found is None or not (found["cold"] or found["hot"]):
        raise ValueError(
            f'"{text.strip()}" is not written as a grade of SAE J300, '
            'such as "15W-50", "20W" or "30".'
        )
    cold, hot = (None if found[end] is None else int(found[end]) for end in _ENDS)
    if cold is not None and cold not in CRANKING_CELSIUS:
        raise ValueError(_unknown(f"{cold}W", [f"{one}W" for one in CRANKING_CELSIUS]))
    if hot is not None and hot not in HOT_GRADES:
        raise ValueError(_unknown(str(hot), [str(one) for one in HOT_GRADES]))
    return Grade(cold, hot)


_ENDS: Final = ("cold", "hot")


def _unknown(grade: str, known: list[str]) -> str:
    return f"SAE J300 knows no grade {grade}. It knows {', '.join(known)}."


def grade_if_j300(text: str) -> Grade | None:
    """Return the grade, None for a text that does not claim to be one of J300.

    A number alone that J300 does not list may be a commercial aviation number, so it
    claims nothing. Raises ValueError for a W grade, or one called SAE, that J300 does
    not know.
    """
    found = _GRADE.fullmatch(text.strip())
    if found is None or not (found["cold"] or found["hot"]):
        return None
    claims = found["sae"] or found["cold"]
    if not claims and int(found["hot"]) not in HOT_GRADES:
        return None
    return parse_grade(text)
