"""The fuel of an engine in the words and the figures of its page."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from django.utils.safestring import SafeString

from notices.rules.applicability.wording import percent_words
from notices.rules.facts import Unknown
from tracker.compliance.fuel_use import Class, Consumption, FuelUse, Hanging
from tracker.compliance.states import word_of
from tracker.figures import wording
from tracker.figures.due_words import point_words
from tracker.figures.shares import Shares, Stretch, draw_shares
from tracker.fleet.models import FuelKind, FuelRecord, FuelUnit


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordShown:
    """A record of fuel with its quantity and kind in words."""

    row: FuelRecord
    amount: str
    kind: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassShown:
    """A class of shares with its due point in words."""

    row: Class
    when: str
    also: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HangingShown:
    """A provision that hangs on the fuel. `figure`: empty where no limit hangs on it.

    `since`: since when the fuel counts.
    """

    row: Hanging
    word: str
    when: str
    also: str
    since: str
    classes: tuple[ClassShown, ...]
    figure: SafeString | str


def hanging_shown(use: FuelUse) -> tuple[HangingShown, ...]:
    return tuple(_shown(one, use, place) for place, one in enumerate(use.hanging, 1))


def records_shown(use: FuelUse) -> tuple[RecordShown, ...]:
    return tuple(
        RecordShown(row=row, amount=amount(row), kind=kind_words(row))
        for row in use.rows
    )


def _shown(one: Hanging, use: FuelUse, place: int) -> HangingShown:
    word = word_of(one.due)
    when, also = point_words(one.due, word)
    return HangingShown(
        row=one,
        word=word,
        when=when,
        also=also,
        since=_since(one),
        classes=tuple(_class_shown(of_class) for of_class in one.classes),
        figure=_figure(one, use, place) if one.classes else "",
    )


def _class_shown(of_class: Class) -> ClassShown:
    when, also = point_words(of_class.due, word_of(of_class.due))
    return ClassShown(row=of_class, when=when, also=also)


def _since(one: Hanging) -> str:
    if one.last_on is not None:
        at = (
            ""
            if one.last_hours is None
            else f" at {wording.used_hours(one.last_hours)}"
        )
        return f"It was last done on {wording.long_day(one.last_on)}{at}; fuel counts from then on."
    if one.was_never_done:
        return "It was never done, so all fuel counts."
    return "Whether and when it was done is not known."


def _figure(one: Hanging, use: FuelUse, place: int) -> SafeString:
    share = one.mix.share
    known = None if isinstance(share, Unknown) else share
    return draw_shares(
        Shares(
            id=f"share-{place}",
            subject=f"engine {use.engine}",
            share=known,
            worded="" if known is None else percent_words(known),
            declared=one.mix.mix.source == "declared",
            stretches=tuple(_stretches(one.classes)),
        ),
        number=place,
    )


def _stretches(classes: Iterable[Class]) -> Iterable[Stretch]:
    for one in classes:
        yield Stretch(low=one.lower, high=one.upper, limit=one.limit, holds=one.holds)


def consumption_words(burnt: Consumption | None) -> str:
    """Return what the engine burns and what says so, empty where it is not known."""
    if burnt is None:
        return ""
    days = f"{wording.long_day(burnt.since)} to {wording.long_day(burnt.until)}"
    return (
        f"About {litres(burnt.litres_an_hour)} an hour, by the fuel and the hours from "
        f"{days}."
    )


def litres(quantity: Fraction) -> str:
    """Return litres to a tenth."""
    tenths = round(quantity * 10)
    whole = wording.grouped(tenths // 10)
    return f"{whole}.{tenths % 10}{wording.NO_BREAK}L"


def amount(row: FuelRecord) -> str:
    """Return the quantity as it was entered."""
    return f"{row.quantity}{wording.NO_BREAK}{FuelUnit(row.unit).value}"


def kind_words(row: FuelRecord) -> str:
    """Return the kind of fuel; of a blend its share as it was entered."""
    if row.kind == FuelKind.BLEND:
        return f"a blend, leaded share {row.leaded_share}"
    return f"{FuelKind(row.kind).label} fuel"
