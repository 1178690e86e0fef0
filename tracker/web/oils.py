"""The oils that tables in force name for an engine, in the words and figures of a page."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from django.utils.safestring import SafeString

from notices.rules.applicability.wording import condition_sentence, percent_words
from notices.rules.facts import TemperatureRange, Unknown
from notices.rules.fluids import FUELS, Advice, Verdict
from notices.rules.fluids_wording import ambient_words
from notices.rules.operating import Mix
from notices.rules.operating_wording import mix_sentence
from notices.rules.temperatures import Span, Unit, degrees_words, from_celsius
from tracker.compliance.fluids import EngineOils, Oil, OilTable
from tracker.figures.temperatures import DEGREE, OilBar, Oils, draw_oils
from tracker.figures.wording import NO_BREAK, listed


@dataclass(frozen=True, slots=True, kw_only=True)
class RowShown:
    """A row of a table in words. `only`: its own condition, empty for none.

    `ambient`: as the maker gives it; `converted`: in the reader's unit, if that differs.
    """

    advice: Advice
    ambient: str
    converted: str
    fuel: str
    why: str
    only: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TableShown:
    table: OilTable
    figure: SafeString
    rows: tuple[RowShown, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DisputedShown:
    """An oil that one table calls suited and another does not, and why it does not."""

    verdict: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OilsShown:
    """`climate`, `fuel`: empty where not known. `rests_on`: what the fuel rests on."""

    climate: str
    fuel: str
    rests_on: str
    suited: str
    disputed: tuple[DisputedShown, ...]
    tables: tuple[TableShown, ...]


def oils_shown(oils: EngineOils, *, figure: int = 1) -> OilsShown:
    """Return the words and figures; `figure`: the number of the first of these."""
    unit = _unit_of(oils)
    return OilsShown(
        climate=_climate_words(oils.climate, unit),
        fuel=_fuel_in_use(oils.fuel),
        rests_on=_rests_on(oils.mix),
        suited=listed(list(map(str, oils.suited))),
        disputed=tuple(_disputed(oil, oils) for oil in oils.disputed),
        tables=tuple(
            _table(table, oils, unit, place)
            for place, table in enumerate(oils.tables, figure)
        ),
    )


def _unit_of(oils: EngineOils) -> Unit:
    """The unit in which the climate was entered, else that of the first row."""
    if oils.unit is not None:
        return oils.unit
    units = [one.row.ambient.unit for table in oils.tables for one in table.advice]
    return units[0] if units else "C"


def _climate_words(climate: TemperatureRange | Unknown, unit: Unit) -> str:
    if isinstance(climate, Unknown):
        return ""
    low, high = (
        degrees_words(from_celsius(end, unit), unit)
        for end in (climate.low, climate.high)
    )
    return _unbroken(f"{low} to {high}")


def _fuel_in_use(fuel: frozenset[str] | Unknown) -> str:
    if isinstance(fuel, Unknown):
        return ""
    return listed([kind for kind in FUELS if kind in fuel])


def _rests_on(mix: Mix) -> str:
    if isinstance(mix.share, Unknown):
        return ""
    if mix.source == "declared":
        return f"{percent_words(mix.share)} leaded, as declared"
    return mix_sentence(mix)


def _disputed(oil: Oil, oils: EngineOils) -> DisputedShown:
    for_it: list[str] = []
    against: list[str] = []
    for table, one in oil.said:
        number = _number(table, oils)
        if one.suited:
            for_it.append(f"suited by {number}")
        else:
            against.append(f"{one.verdict.value} by {number}. {_unbroken(one.why)}")
    verdict = Verdict.UNDETERMINED if oil.suited is None else Verdict.NOT_SUITED
    said = ", ".join([*for_it, " ".join(against)])
    return DisputedShown(verdict=verdict.value, words=f"{oil}: {said}")


def _number(table: OilTable, oils: EngineOils) -> str:
    """The number of its document, with its title where that has several tables."""
    number = table.rule.publication.number
    several = [one.rule.publication.number for one in oils.tables].count(number) > 1
    return f"{number} ({table.rule.provision.title})" if several else number


def _unbroken(text: str) -> str:
    """A degree sign stays with its figure."""
    return text.replace(" °", f"{NO_BREAK}°")


def _table(table: OilTable, oils: EngineOils, unit: Unit, place: int) -> TableShown:
    climate = None
    if not isinstance(oils.climate, Unknown):
        ends = (oils.climate.low, oils.climate.high)
        climate = (_tenths(ends[0], unit), _tenths(ends[1], unit))
    drawn = Oils(
        id=f"oils-{place}",
        subject=f"engine {oils.engine}, by {table.rule.publication.number}",
        unit=unit,
        climate=climate,
        bars=tuple(_bar(one, unit) for one in table.advice),
    )
    return TableShown(
        table=table,
        figure=draw_oils(drawn, number=place),
        rows=tuple(_row(one, unit) for one in table.advice),
    )


def _tenths(celsius: Fraction, unit: Unit) -> int:
    return round(from_celsius(celsius, unit) * DEGREE)


def _bar(one: Advice, unit: Unit) -> OilBar:
    low, high = (
        None if end is None else _tenths(end, unit) for end in one.row.ambient.celsius
    )
    return OilBar(
        name=one.row.grade,
        kind=one.row.kind,
        low=low,
        high=high,
        verdict=one.verdict.value,
        why=_unbroken(one.why),
    )


def _row(one: Advice, unit: Unit) -> RowShown:
    row = one.row
    return RowShown(
        advice=one,
        ambient=_unbroken(ambient_words(row.ambient)),
        converted=_converted(row.ambient, unit),
        fuel=listed([kind for kind in FUELS if kind in row.fuel], "or"),
        why=_unbroken(one.why),
        only="" if row.when is None else condition_sentence(row.when),
    )


def _converted(span: Span, unit: Unit) -> str:
    if span.unit == unit:
        return ""
    low, high = (
        None if end is None else from_celsius(end, unit) for end in span.celsius
    )
    return _unbroken(ambient_words(Span(low=low, high=high, unit=unit)))
