"""Bounds that a condition sets: periods, hours, shares, temperatures, change letters."""

# ruff: noqa: RUF009 - keyed(...) is dataclasses.field with a form

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Literal

from notices.rules.change_letters import LETTERS, figure_rank, letter_rank
from notices.rules.facts import Hours
from notices.rules.forms import DateForm, Exact, HoursForm, ListOf, Text, Words, keyed
from notices.rules.temperatures import (
    DEGREES,
    UNIT,
    Unit,
    check_physical,
    from_celsius,
    in_celsius,
)

_WHO = ListOf(Text('who did it, such as "maker"'), 'names such as "maker"')


def _one_of(*given: object | None) -> bool:
    return sum(value is not None for value in given) <= 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    """Dates: `first` and `to` inclusive, `after` and `before` strict."""

    first: date | None = keyed("from", DateForm(), default=None)
    after: date | None = keyed("after", DateForm(), default=None)
    to: date | None = keyed("to", DateForm(), default=None)
    before: date | None = keyed("before", DateForm(), default=None)

    def __post_init__(self) -> None:
        """Refuse a period without an end, with two of a kind, or with no day in it."""
        if not _one_of(self.first, self.after) or not _one_of(self.to, self.before):
            raise ValueError('Give "from" or "after", and "to" or "before", not both.')
        low, high = self.days
        if low is None and high is None:
            raise ValueError('Name at least one of "from", "after", "to", "before".')
        if low is not None and high is not None and low > high:
            raise ValueError("No day lies in this period: it ends before it begins.")

    @property
    def days(self) -> tuple[int | None, int | None]:
        """First and last day inside, as proleptic ordinals; None is an open end."""
        low = self.first.toordinal() if self.first else None
        low = self.after.toordinal() + 1 if self.after else low
        high = self.to.toordinal() if self.to else None
        high = self.before.toordinal() - 1 if self.before else high
        return low, high


@dataclass(frozen=True, slots=True, kw_only=True)
class OverhaulTest:
    """An overhaul in a period, by or not by somebody.

    `which`: "last" looks at the last overhaul only, "any" at each of them.
    """

    first: date | None = keyed("from", DateForm(), default=None)
    after: date | None = keyed("after", DateForm(), default=None)
    to: date | None = keyed("to", DateForm(), default=None)
    before: date | None = keyed("before", DateForm(), default=None)
    by: tuple[str, ...] = keyed("by", _WHO, default=())
    not_by: tuple[str, ...] = keyed("not_by", _WHO, default=())
    which: Literal["last", "any"] = keyed(
        "which", Words(("last", "any")), default="last"
    )

    def __post_init__(self) -> None:
        """Refuse a test that names nothing, or a period that cannot be."""
        dates = (self.first, self.after, self.to, self.before)
        if any(day is not None for day in dates):
            assert self.period is not None
        elif not self.by and not self.not_by:
            raise ValueError(
                'Name a date, "by" or "not_by"; write true for "ever overhauled".'
            )

    @property
    def period(self) -> Period | None:
        """The dates, None where any date will do."""
        if self.first or self.after or self.to or self.before:
            return Period(
                first=self.first, after=self.after, to=self.to, before=self.before
            )
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class _HoursBounds:
    """Hours: `first` and `to` inclusive, `over` and `under` strict."""

    first: Hours | None = keyed("from", HoursForm(), default=None)
    over: Hours | None = keyed("over", HoursForm(), default=None)
    to: Hours | None = keyed("to", HoursForm(), default=None)
    under: Hours | None = keyed("under", HoursForm(), default=None)

    def __post_init__(self) -> None:
        """Refuse bounds that name nothing or that nothing can meet."""
        if not _one_of(self.first, self.over) or not _one_of(self.to, self.under):
            raise ValueError('Give "from" or "over", and "to" or "under", not both.')
        low, high = self.hundredths
        if low is None and high is None:
            raise ValueError('Name at least one of "from", "over", "to", "under".')
        if high is not None and (low or 0) > high:
            raise ValueError("No hours lie between these bounds.")

    @property
    def hundredths(self) -> tuple[int | None, int | None]:
        """Least and most hundredths of an hour inside; None is an open end."""
        low = self.first if self.over is None else self.over + 1
        high = self.to if self.under is None else self.under - 1
        return low, high


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineHours(_HoursBounds):
    """Hours of an engine, now or on the effective date."""

    since: Literal["new", "overhaul"] = keyed("since", Words(("new", "overhaul")))
    at: Literal["now", "effective"] = keyed(
        "at", Words(("now", "effective")), default="now"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PartHours(_HoursBounds):
    """Hours of a part, now or on the effective date."""

    since: Literal["new", "overhaul", "fitted"] = keyed(
        "since", Words(("new", "overhaul", "fitted"))
    )
    at: Literal["now", "effective"] = keyed(
        "at", Words(("now", "effective")), default="now"
    )

    def __post_init__(self) -> None:
        """Refuse hours since fitting on the effective date: nobody keeps them."""
        _HoursBounds.__post_init__(self)
        if self.since == "fitted" and self.at == "effective":
            raise ValueError(
                'Hours since "fitted" are known for now only. Write "new" or "overhaul".'
            )


class _FractionBounds:
    """Shared reading of exact bounds: `first`/`to` inclusive, `over`/`under` strict."""

    __slots__ = ()

    first: Fraction | None
    over: Fraction | None
    to: Fraction | None
    under: Fraction | None

    def __post_init__(self) -> None:
        """Refuse bounds that name nothing or that nothing can meet."""
        if not _one_of(self.first, self.over) or not _one_of(self.to, self.under):
            raise ValueError('Give "from" or "over", and "to" or "under", not both.')
        low = self.first if self.over is None else self.over
        high = self.to if self.under is None else self.under
        if low is None and high is None:
            raise ValueError('Name at least one of "from", "over", "to", "under".')
        strict = self.over is not None or self.under is not None
        if (
            low is not None
            and high is not None
            and (low > high or (low == high and strict))
        ):
            raise ValueError("Nothing lies between these bounds.")

    def holds(self, value: Fraction) -> bool:
        """Return whether the value lies inside."""
        return (
            (self.first is None or value >= self.first)
            and (self.over is None or value > self.over)
            and (self.to is None or value <= self.to)
            and (self.under is None or value < self.under)
        )

    @property
    def ends(self) -> tuple[Fraction, ...]:
        """The values at which the answer can change."""
        ends = (self.first, self.over, self.to, self.under)
        return tuple(end for end in ends if end is not None)


_SHARE = Exact("a share", 0, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareBounds(_FractionBounds):
    """A share by volume from 0 to 1."""

    first: Fraction | None = keyed("from", _SHARE, default=None)
    over: Fraction | None = keyed("over", _SHARE, default=None)
    to: Fraction | None = keyed("to", _SHARE, default=None)
    under: Fraction | None = keyed("under", _SHARE, default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class TemperatureBounds(_FractionBounds):
    """A temperature, in the unit in which the bounds were entered."""

    first: Fraction | None = keyed("from", DEGREES, default=None)
    over: Fraction | None = keyed("over", DEGREES, default=None)
    to: Fraction | None = keyed("to", DEGREES, default=None)
    under: Fraction | None = keyed("under", DEGREES, default=None)
    unit: Unit = keyed("unit", UNIT, default="C")

    def __post_init__(self) -> None:
        """Refuse also bounds that are colder than anything can be."""
        _FractionBounds.__post_init__(self)
        for end in (self.first, self.over, self.to, self.under):
            check_physical(end, self.unit)

    def holds(self, value: Fraction) -> bool:
        """Return whether a temperature in degrees Celsius lies inside."""
        return _FractionBounds.holds(self, from_celsius(value, self.unit))

    @property
    def ends(self) -> tuple[Fraction, ...]:
        """The temperatures in degrees Celsius at which the answer can change."""
        return tuple(
            in_celsius(end, self.unit)
            for end in (self.first, self.over, self.to, self.under)
            if end is not None
        )


def _check_change(text: str) -> None:
    if letter_rank(text) is None and figure_rank(text) is None:
        raise ValueError(
            f'"{text}" is not a change letter. Expected letters of {LETTERS}, or figures.'
        )


_CHANGE = Text('a change letter such as "K"', _check_change, empty=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeBounds:
    """Change letters in drawing order, or figures, ends included."""

    first: str | None = keyed("from", _CHANGE, default=None)
    to: str | None = keyed("to", _CHANGE, default=None)

    def __post_init__(self) -> None:
        """Refuse bounds that name nothing, mix letters and figures, or run backwards."""
        ends = [end for end in (self.first, self.to) if end is not None]
        if not ends:
            raise ValueError('Name at least one of "from", "to".')
        ranks = [
            figure_rank(end) if self.in_figures else letter_rank(end) for end in ends
        ]
        if None in ranks:
            raise ValueError(
                "One end is a letter and the other a figure. Write two tests."
            )
        if len(ranks) == 2 and ranks != sorted(ranks, key=lambda rank: rank or 0):
            raise ValueError(f'"{ends[0]}" comes after "{ends[1]}" in drawing order.')

    @property
    def in_figures(self) -> bool:
        """Whether changes are counted in figures; no change at all fits both."""
        return any(
            end is not None and letter_rank(end) is None
            for end in (self.first, self.to)
        )
