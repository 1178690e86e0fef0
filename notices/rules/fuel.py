"""Fuel taken on, as a person enters it, read into exact litres and an exact share.

Quantities are exact fractions as entered: 30 of 100 US gallons is exactly 30 %, and so
is what gallons and litres make together.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Final

from notices.rules.errors import Fault, RuleError, child_path
from notices.rules.facts import UNKNOWN, Hours, Unknown
from notices.rules.phrases import MINUS, grouped, quoted, ungrouped

LITRES_IN_US_GALLON: Final = Fraction("3.785411784")
"""Exact by definition: a US gallon is 231 cubic inches of 2.54 cm."""

LITRES: Final = "L"
US_GALLONS: Final = "US gal"
LITRES_IN: Final = {LITRES: Fraction(1), US_GALLONS: LITRES_IN_US_GALLON}

LEADED: Final = "leaded"
UNLEADED: Final = "unleaded"
BLEND: Final = "blend"
_LEADED_IN: Final = {LEADED: Fraction(1), UNLEADED: Fraction(0)}

MOST_FUEL: Final = 1_000_000
_DECIMAL: Final = re.compile(r"([0-9]{1,9})(?:[.,]([0-9]{1,9}))?")
_RATIO: Final = re.compile(r"([0-9]{1,9}) */ *([0-9]{1,9})")
_GROUPED: Final = re.compile(r"[1-9][0-9]{0,2}(,[0-9]{3})+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuel:
    """Fuel taken on. `leaded`: its leaded share; `hours`: on the engine's axis."""

    on: date
    litres: Fraction
    leaded: Fraction
    hours: Hours | Unknown = UNKNOWN

    def __post_init__(self) -> None:
        if self.litres <= 0:
            raise ValueError("Fuel taken on is more than 0 litres.")
        if not 0 <= self.leaded <= 1:
            raise ValueError("The leaded share of a fuel is from 0 to 1.")

    @property
    def leaded_litres(self) -> Fraction:
        return self.litres * self.leaded


def exact_number(text: str) -> Fraction:
    """Return a number of at least 0, written with a decimal point or comma.

    Raises ValueError, also where a comma may stand for thousands: "1,234".
    """
    bare = ungrouped(text)
    if bare.startswith(("-", MINUS)):
        raise ValueError(f"{quoted(bare)} is less than nothing.")
    if _GROUPED.fullmatch(bare):
        plain = bare.replace(",", "")
        raise ValueError(
            f"{quoted(bare)} can be read in two ways. Write {plain}, or a decimal point."
        )
    found = _DECIMAL.fullmatch(bare)
    if found is None:
        raise ValueError(f"{quoted(bare)} is not a number. Write one such as 85.5.")
    return Fraction(f"{found[1]}.{found[2] or 0}")


def exact_share(text: str) -> Fraction:
    """Return a share: a decimal, one number of another, or so many per cent.

    Raises ValueError. A number above 1 without a sign might be meant as per cent and
    might be a slip, so it is not taken for either.
    """
    bare = text.strip()
    if bare.endswith("%"):
        percent = exact_number(bare.removesuffix("%"))
        if percent > 100:
            raise ValueError(f'"{bare}" is more than the whole, which is 100 %.')
        return percent / 100
    ratio = _RATIO.fullmatch(bare)
    if ratio is not None and int(ratio[2]) == 0:
        raise ValueError("A share of nothing is not a share: the number below is 0.")
    share = Fraction(int(ratio[1]), int(ratio[2])) if ratio else exact_number(bare)
    if share > 1:
        raise ValueError(_above_one(bare, may_be_percent=not ratio and share <= 100))
    return share


def _above_one(text: str, *, may_be_percent: bool) -> str:
    said = (
        f'"{text}" is more than the whole. A share is from 0 to 1, such as 0.4 or 2/5'
    )
    if may_be_percent:
        return f'{said}. If {text} % is meant, write "{text} %".'
    return f"{said}, or in per cent, such as 40 %."


def fuel(
    *,
    on: date,
    quantity: str | Fraction,
    unit: str,
    kind: str,
    leaded_share: str | Fraction | None = None,
    hours: Hours | Unknown = UNKNOWN,
    path: str = "",
) -> Fuel:
    """Return a record of fuel as a person entered it.

    `unit`: "L" or "US gal". `kind`: "leaded", "unleaded" or "blend", of which
    `leaded_share` is needed. Raises RuleError with every fault; the path of each ends
    with the name of what is wrong.
    """
    faults: list[Fault] = []
    litres = _litres(quantity, unit, path, faults)
    leaded = _leaded_of(kind, leaded_share, path, faults)
    if faults:
        raise RuleError(faults)
    assert litres is not None
    assert leaded is not None
    return Fuel(on=on, litres=litres, leaded=leaded, hours=hours)


def leaded_of(
    kind: str, leaded_share: str | Fraction | None = None, *, path: str = ""
) -> Fraction:
    """Return the leaded share of a kind of fuel; RuleError with every fault."""
    faults: list[Fault] = []
    leaded = _leaded_of(kind, leaded_share, path, faults)
    if faults:
        raise RuleError(faults)
    assert leaded is not None
    return leaded


def _litres(
    quantity: str | Fraction, unit: str, path: str, faults: list[Fault]
) -> Fraction | None:
    if unit not in LITRES_IN:
        known = " or ".join(f'"{one}"' for one in LITRES_IN)
        message = f"Expected the unit {known}, not {quoted(unit)}."
        faults.append(Fault(child_path(path, "unit"), message))
    at = child_path(path, "quantity")
    try:
        amount = quantity if isinstance(quantity, Fraction) else exact_number(quantity)
    except ValueError as error:
        faults.append(Fault(at, str(error)))
        return None
    if not 0 < amount <= MOST_FUEL:
        message = f"Fuel taken on is more than 0 and at most {grouped(MOST_FUEL)}."
        faults.append(Fault(at, message))
        return None
    return amount * LITRES_IN[unit] if unit in LITRES_IN else None


def _leaded_of(
    kind: str, share: str | Fraction | None, path: str, faults: list[Fault]
) -> Fraction | None:
    at = child_path(path, "leaded_share")
    given = share is not None and share != ""
    if kind in _LEADED_IN:
        if given:
            message = f'A share is given for a blend only, and this fuel is "{kind}".'
            faults.append(Fault(at, message))
        return _LEADED_IN[kind]
    if kind != BLEND:
        known = '"leaded", "unleaded" or "blend"'
        message = f"Expected the kind {known}, not {quoted(kind)}."
        faults.append(Fault(child_path(path, "kind"), message))
        return None
    if share is None or share == "":
        message = "Of a blend the leaded share is needed, such as 0.4 or 2/5."
        faults.append(Fault(at, message))
        return None
    try:
        leaded = share if isinstance(share, Fraction) else exact_share(share)
    except ValueError as error:
        faults.append(Fault(at, str(error)))
        return None
    if not 0 <= leaded <= 1:
        faults.append(Fault(at, "A share is from 0 to 1, such as 0.4 or 2/5."))
        return None
    return leaded
