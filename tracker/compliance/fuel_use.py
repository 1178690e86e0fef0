"""What the fuel of one engine means for it: which limits hold, since when, what is ahead."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction
from typing import Final
from uuid import UUID

from notices.rules.compliance_time import Due, DuePoint
from notices.rules.facts import Unknown
from notices.rules.fuel import Fuel
from notices.rules.operating import Ahead, ahead
from notices.rules.operating_wording import ahead_sentence, class_words, mix_sentence
from notices.rules.phrases import due_hours_words
from notices.rules.times.history import Reading, hours_on
from tracker.accounts.access import Viewer
from tracker.compliance.facts import EngineFile, engine_files
from tracker.compliance.findings import Assessment, assessments
from tracker.compliance.findings.standings import rate_of
from tracker.compliance.in_force import library_in_force
from tracker.compliance.mixes import RuleMix, limit_words
from tracker.compliance.summary.lines import state_of
from tracker.fleet.models import Engine, FuelRecord

YEAR: Final = timedelta(days=365)
PAGE_SIZE: Final = 50
LEADED, UNLEADED = Fraction(1), Fraction(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Consumption:
    """What an engine burns, between two days on which both fuel and hours are known."""

    litres_an_hour: Fraction
    since: date
    until: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Class:
    """Shares for which one limit holds, and when that limit is reached.

    `lower`, `upper`: between which they lie. `holds`: None where the share of the
    engine is not known.
    """

    words: str
    limit: str
    lower: Fraction
    upper: Fraction
    due: Due
    holds: bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Hanging:
    """One provision that hangs on the fuel, for the engine or one of its parts.

    It may be one that does not apply with the share of now, and would with another.
        `crossed`: what each record changed that came to another side, newest first.
    `ahead`: what fuel taken on from now on would change.
    """

    assessed: Assessment
    mix: RuleMix
    due: Due
    classes: tuple[Class, ...]
    reasons: tuple[str, ...]
    crossed: tuple[str, ...]
    ahead: tuple[str, ...]

    @property
    def part(self) -> str:
        return str(self.assessed.part) if self.assessed.part else ""

    @property
    def last_on(self) -> date | None:
        return self.assessed.point.last_on

    @property
    def last_hours(self) -> int | None:
        return self.assessed.point.last_hours

    @property
    def was_never_done(self) -> bool:
        return self.last_on is None and not isinstance(self.mix.past.done, Unknown)


@dataclass(frozen=True, slots=True, kw_only=True)
class FuelUse:
    """`rows`: a page of all records, newest first, withdrawn ones among them."""

    engine: Engine
    declared: str
    hanging: tuple[Hanging, ...]
    consumption: Consumption | None
    rows: tuple[FuelRecord, ...]
    total: int
    number: int
    pages: int


def fuel_use_of(viewer: Viewer, public_id: UUID, on: date, *, page: int = 1) -> FuelUse:
    """Return the use; Engine.DoesNotExist where the viewer does not see the engine.

    The number of queries is fixed, however many rules and records there are.
    """
    engines = Engine.objects.visible_to(viewer).for_list().select_related("station")
    engine = engines.get(public_id=public_id)
    file = engine_files([engine], on=on)[engine.pk]
    library = library_in_force(engine.station, on)
    rules = [rule for rule in library.for_engines([file.facts]) if rule.thresholds]
    records = FuelRecord.objects.filter(engine=engine)
    total = records.count()
    pages = max(1, -(-total // PAGE_SIZE))
    number = min(max(page, 1), pages)
    newest = records.select_related("recorded_by").order_by("-on", "-pk")
    burnt = consumption(file.fuel, file.readings, on)
    return FuelUse(
        engine=engine,
        declared=file.operation.leaded_share if file.operation else "",
        hanging=tuple(
            _hanging(assessed, assessed.mix, file, on, burnt)
            for assessed in assessments(rules, file, on=on)
            if assessed.mix is not None and (assessed.is_kept or assessed.mix.whether())
        ),
        consumption=burnt,
        rows=tuple(newest[(number - 1) * PAGE_SIZE : number * PAGE_SIZE]),
        total=total,
        number=number,
        pages=pages,
    )


def consumption(
    fuel: Sequence[Fuel], readings: Sequence[Reading], on: date
) -> Consumption | None:
    """Return litres an hour over the year up to `on`, None without a basis.

    Between the first and the last fuel of which the hours are known, as noted with it
    or by the readings on that day or around it; what was taken on after the first has
    been burnt by the last, as far as tanks are filled alike (common practice, no
    source).
    """
    year = [one for one in fuel if on - YEAR <= one.on <= on]
    placed = [
        (one.on, hours, place)
        for place, one in enumerate(year)
        if (hours := _hours_at(one, readings)) is not None
    ]
    if not placed:
        return None
    (since, began, first), (until, ended, last) = placed[0], placed[-1]
    if ended <= began:
        return None
    burnt = sum((one.litres for one in year[first + 1 : last + 1]), Fraction(0))
    return Consumption(
        litres_an_hour=burnt * 100 / (ended - began), since=since, until=until
    )


def _hours_at(one: Fuel, readings: Sequence[Reading]) -> Fraction | None:
    if not isinstance(one.hours, Unknown):
        return Fraction(one.hours)
    found = hours_on(readings, one.on)
    return None if found is None else found.hours


def _hanging(
    assessed: Assessment,
    mix: RuleMix,
    file: EngineFile,
    on: date,
    burnt: Consumption | None,
) -> Hanging:
    due = state_of(assessed, file, on=on, rate=rate_of(file, on=on))
    return Hanging(
        assessed=assessed,
        mix=mix,
        due=due,
        classes=tuple(_classes(assessed, mix, file, on)),
        reasons=(*_reasons(mix, assessed.point), *mix.whether()),
        crossed=tuple(mix.told(crossed) for crossed in reversed(mix.crossed)),
        ahead=tuple(_ahead(mix, due, file.fuel, burnt)),
    )


def _reasons(mix: RuleMix, point: DuePoint) -> tuple[str, ...]:
    """Return the share and what goes with it, also where nothing hangs on it now."""
    if mix.tells or not mix.limits or point.tree is None:
        return mix.reasons(point) or (mix_sentence(mix.mix),)
    limit = limit_words(point.tree)
    return mix_sentence(mix.mix), f"Now the limit is {limit}, whatever the share."


def _classes(
    assessed: Assessment, mix: RuleMix, file: EngineFile, on: date
) -> Iterator[Class]:
    rate, share, lower = rate_of(file, on=on), mix.share, UNLEADED
    uppers = [*(one.share for one in mix.limits), LEADED]
    for found, upper in zip(mix.points, uppers, strict=False):
        tree = found.point.tree
        at_share = replace(assessed, point=found.point)
        yield Class(
            words=class_words(found.shares),
            limit="nothing due" if tree is None else limit_words(tree),
            lower=lower,
            upper=upper,
            due=state_of(at_share, file, on=on, rate=rate),
            holds=None if isinstance(share, Unknown) else found.shares.holds(share),
        )
        lower = upper


def _ahead(
    mix: RuleMix, due: Due, fuel: Sequence[Fuel], burnt: Consumption | None
) -> Iterator[str]:
    """Yield what each fuel would change next: the one taken on last, then the others.

    A threshold beyond which all stays as it is, is none of them.
    """
    if mix.mix.source != "records":
        return
    asked = dict.fromkeys([fuel[-1].leaded, LEADED, UNLEADED])
    for leaded in asked:
        found = ahead(
            mix.mix,
            mix.rule.thresholds,
            next_leaded=leaded,
            litres_an_hour=burnt.litres_an_hour if burnt else None,
        )
        changing = next((one for one in found if mix.changes_with(one)), None)
        if changing is not None and changing.litres is not None:
            yield f"{ahead_sentence(changing, leaded)}{_due_before(changing, due)}"


def _due_before(one: Ahead, due: Due) -> str:
    """Return that it is due before so much fuel is burnt, empty where it is not."""
    left, _ = due.left
    if left is None or one.hours is None or one.hours * 100 <= left:
        return ""
    if left <= 0:
        return " It is due now."
    return f" It is due before that, in {due_hours_words(left)}."
