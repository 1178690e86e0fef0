"""The fuel of an engine in the words and the figures of its page."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from django.utils.safestring import SafeString

from notices.models import Provision
from notices.rules.applicability.wording import percent_words
from notices.rules.compliance_time import State
from notices.rules.evaluate import Outcome
from notices.rules.facts import Unknown
from notices.rules.fuel import exact_share
from tracker.compliance.fuel_use import Class, Consumption, FuelUse, Hanging
from tracker.compliance.states import WORDS, word_of
from tracker.figures import wording
from tracker.figures.due_words import MAY_BE, doubt_words, point_words, state_words
from tracker.figures.shares import Shares, Stretch, draw_shares
from tracker.fleet.models import FuelKind, FuelRecord, FuelUnit

_HOLDS: Final = {
    Outcome.APPLIES: "holds",
    Outcome.DOES_NOT_APPLY: "does not hold",
    Outcome.UNDETERMINED: State.UNDETERMINED.value,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordShown:
    """A record of fuel with its quantity and kind in words."""

    row: FuelRecord
    amount: str
    kind: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassShown:
    """A class of shares with its due point in words; `past`: that it has been passed."""

    row: Class
    when: str
    also: str
    past: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HangingShown:
    """A provision that hangs on the fuel. `figure`: empty where no limit hangs on it.

    `said`: its state as lists say it. `lead`: when it is due and by which limit, in one
    line. `doubt`: that the meter must be read. `since`: since when the fuel counts.
    """

    row: Hanging
    word: str
    said: str
    lead: str
    doubt: str
    since: str
    classes: tuple[ClassShown, ...]
    figure: SafeString | str


def hanging_shown(use: FuelUse) -> tuple[HangingShown, ...]:
    """Those with limits of their own first; only they are drawn, and numbered."""
    ordered = sorted(use.hanging, key=lambda one: not one.classes)
    return tuple(_shown(one, use, place) for place, one in enumerate(ordered, 1))


def records_shown(use: FuelUse) -> tuple[RecordShown, ...]:
    return tuple(
        RecordShown(row=row, amount=amount(row), kind=kind_words(row))
        for row in use.rows
    )


def _shown(one: Hanging, use: FuelUse, place: int) -> HangingShown:
    word = _word(one)
    return HangingShown(
        row=one,
        word=word,
        said=state_words(one.due, word),
        lead=_lead(one, word),
        doubt=doubt_words(one.due),
        since=_since(one),
        classes=tuple(_class_shown(of_class) for of_class in one.classes),
        figure=_figure(one, use, place) if one.classes else "",
    )


def _word(one: Hanging) -> str:
    """Return the state; of an overhaul interval, under which nothing is done, if it holds."""
    assessed = one.assessed
    if assessed.rule.provision.kind == Provision.Kind.INTERVAL:
        return _HOLDS[assessed.outcome]
    return word_of(one.due)


def _class_shown(of_class: Class) -> ClassShown:
    word = word_of(of_class.due)
    when, also = point_words(of_class.due, word)
    said = state_words(of_class.due, word)
    past = {State.OVERDUE.value: "already past", MAY_BE: "may be past"}.get(said, "")
    return ClassShown(row=of_class, when=when, also=also, past=past)


def _lead(one: Hanging, word: str) -> str:
    provision = one.assessed.rule.provision
    title = f"{provision.title}, {one.part}" if one.part else provision.title
    share = one.mix.share
    if not one.classes:
        return f"{title}: {state_words(one.due, word)}."
    if isinstance(share, Unknown) and one.mix.tells:
        return (
            f"{title}: {word}. The leaded share is not known, so the shortest limit "
            "counts."
        )
    due = " ".join(point_words(one.due, word)).strip() if word in WORDS else word
    return f"{title}: {due}.{_limit(one)}"


def _limit(one: Hanging) -> str:
    """Return what the share holds, empty where nothing hangs on it now."""
    share = one.mix.share
    if isinstance(share, Unknown) or not one.mix.tells:
        return ""
    held = next(of_class for of_class in one.classes if of_class.holds)
    declared = ", as declared," if one.mix.mix.source == "declared" else ""
    since, _ = one.mix.held_since
    until_now = "" if since is None else f", since {wording.long_day(since)}"
    leaded = percent_words(share)
    return (
        f" With {leaded} of leaded fuel{declared} the limit is {held.limit}{until_now}."
    )


def _since(one: Hanging) -> str:
    if one.assessed.rule.provision.kind == Provision.Kind.INTERVAL:
        return "Fuel counts from the last overhaul, else from new."
    if one.last_on is not None:
        hours = one.last_hours
        at = "" if hours is None else f" at {wording.used_hours(hours)}"
        day = wording.long_day(one.last_on)
        return f"It was last done on {day}{at}; fuel counts from then on."
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
        return f"a blend, {percent_words(exact_share(row.leaded_share))} leaded"
    return f"{FuelKind(row.kind).label} fuel"
