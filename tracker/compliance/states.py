"""The state of a stored finding on a day: the exact answer, and the same in SQL.

Most rows are told by their columns, in SQL. Of those that only the whole point tells,
most are not near any of their limits; the few that are get decided one by one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from typing import Any, Final

from django.db.models import Case, F, IntegerField, Q, Value, When
from django.db.models.functions import Coalesce, Greatest

from notices.rules.compliance_time import (
    Brief,
    Due,
    DuePoint,
    Lead,
    Rate,
    State,
    brief_at,
    state_at,
)
from notices.rules.facts import UNKNOWN, Hours
from notices.rules.times.points import Leaf, PointKind
from tracker.accounts.models import Station
from tracker.compliance.many_keys import among
from tracker.compliance.models import (
    Closed,
    Finding,
    FindingQuerySet,
    Standing,
    ToldBy,
)

FURTHER_FLIGHT: Final = "before further flight"
WORDS: Final = (
    FURTHER_FLIGHT,
    State.OVERDUE.value,
    State.UNDETERMINED.value,
    State.COMING_DUE.value,
    State.OUTSTANDING.value,
)
"""The states of a due list in the order in which it shows them."""

IF_IT_APPLIES: Final = f"{FURTHER_FLIGHT}, if it applies"
COUNTED: Final = (FURTHER_FLIGHT, IF_IT_APPLIES, *WORDS[1:])
"""The words under which findings are counted: what may ground an engine stands apart."""

_LISTED: Final = {State(word): rank for rank, word in enumerate(WORDS) if rank}
_AHEAD: Final = {State.COMING_DUE, State.OUTSTANDING}
_OVERDUE, _UNDETERMINED, _COMING, _OUTSTANDING = 1, 2, 3, 4


IN_FORCE: Final = DuePoint(tree=Leaf(kind=PointKind.EVENT_AHEAD))
"""The point of a prohibition without times: it stays, and nothing completes it."""


def lead_of(station: Station) -> Lead:
    """Return how long before its point something is coming due at a station."""
    return Lead(hours=Hours(station.lead_hours), days=station.lead_days)


def rate_from(standing: Standing | None) -> Rate | None:
    """Return the utilisation as it was last evaluated."""
    if standing is None or standing.rate is None:
        return None
    kept = {name: Fraction(text) for name, text in standing.rate.items()}
    return Rate(a_day=kept["a_day"], low=kept["low"], high=kept["high"])


def due_of(finding: Finding, *, on: date, lead: Lead) -> Due:
    """Return the exact state of a finding. It is read with its engine and standing."""
    engine = finding.engine
    standing = getattr(engine, "standing", None)
    zero = standing.zero if standing is not None else 0
    hours = UNKNOWN if engine.hours_now is None else Hours(engine.hours_now - zero)
    return worded(
        state_at(
            DuePoint.from_json(finding.point),
            on=on,
            hours=hours,
            lead=lead,
            rate=rate_from(standing),
            reading_on=engine.read_on,
            meter=standing.meter if standing is not None and standing.meter else None,
        )
    )


def worded(due: Due) -> Due:
    """Return the state with its sentence, also where no compliance time stands behind."""
    if due.point.tree == IN_FORCE.tree:
        return replace(due, events=(), own_sentence="In force: no record completes it.")
    if due.point.tree is None and due.state is State.NOTHING_DUE:
        why = " ".join(due.point.reasons)
        return replace(
            due, own_sentence=why or "Nothing is to be done: it asks for no action."
        )
    return due


def ranks_by_point(
    findings: FindingQuerySet, *, on: date, lead: Lead
) -> Iterator[tuple[int, int | None]]:
    """Yield the key of each finding with its rank. Reads no more than that takes."""
    rows: Any = findings.select_related(None).values_list(
        "pk",
        "point",
        "engine__hours_now",
        "engine__read_on",
        "engine__standing__zero",
        "engine__standing__hours_a_day",
    )
    for key, point, hours_now, read_on, zero, a_day in rows:
        due = brief_at(
            DuePoint.from_json(point, bare=True),
            on=on,
            hours=UNKNOWN if hours_now is None else Hours(hours_now - (zero or 0)),
            lead=lead,
            rate=_upper(a_day),
            reading_on=read_on,
        )
        yield key, rank_of(due)


def _upper(hours_a_day: int | None) -> Rate | None:
    """Return the utilisation by its upper end alone, which decides what may be past."""
    if hours_a_day is None:
        return None
    a_day = Fraction(hours_a_day)
    return Rate(a_day=a_day, low=a_day, high=a_day)


def rank_of(due: Due | Brief) -> int | None:
    """Return where a state stands in a due list, None where it has no place there."""
    if due.state not in _LISTED:
        return None
    if due.further_flight:
        return 0
    if due.may_be_overdue and due.state in _AHEAD:
        return _OVERDUE
    return _LISTED[due.state]


def word_of(due: Due) -> str:
    """Return the state in one word, as a list shows it."""
    rank = rank_of(due)
    return due.state.value if rank is None else WORDS[rank]


def counted_as(word: str, *, may_apply: bool) -> str:
    """Return under what a finding is counted. `may_apply`: it is not known whether."""
    return IF_IT_APPLIES if word == FURTHER_FLIGHT and may_apply else word


def still_open(findings: FindingQuerySet) -> FindingQuerySet:
    return findings.filter(closed=Closed.OPEN)


def told_by_point(on: date, lead: Lead) -> Q:
    """Return which open findings only the whole point can tell."""
    return Q(told_by=ToldBy.POINT, fixed=False) & _near(on, lead)


def rank_in_sql(on: date, lead: Lead, decided: dict[int, list[int]]) -> Case:
    """Return the rank as an expression. `decided`: keys of findings by their rank."""
    first, last = Q(told_by=ToldBy.FIRST), Q(told_by=ToldBy.LAST)
    hours, may = F("engine__hours_now"), _hours_by_now(on)
    unread = Q(engine__hours_now=None, overdue_hours__isnull=False)
    known = [
        When(pk__in=among(keys), then=Value(rank))
        for rank, keys in decided.items()
        if keys
    ]
    return Case(
        *known,
        When(further_flight=True, then=Value(0)),
        When(first & _first_past(on, hours), then=Value(_OVERDUE)),
        When(doubtful=True, then=Value(_UNDETERMINED)),
        When(told_by=ToldBy.POINT, then=Value(_OUTSTANDING)),
        When(unread, then=Value(_UNDETERMINED)),
        When(last & _all_past(on, hours), then=Value(_OVERDUE)),
        When(first & Q(overdue_hours__lt=may), then=Value(_OVERDUE)),
        When(last & _all_past(on, may), then=Value(_OVERDUE)),
        When(first & _within_lead(on, lead), then=Value(_COMING)),
        When(last & _all_within_lead(on, lead), then=Value(_COMING)),
        default=Value(_OUTSTANDING),
        output_field=IntegerField(),
    )


def _first_past(on: date, hours: Any) -> Q:
    return Q(overdue_hours__lt=hours) | Q(overdue_date__lt=on)


def _all_past(on: date, hours: Any) -> Q:
    by_hours = Q(latest_hours=None) | Q(latest_hours__lt=hours)
    return by_hours & (Q(latest_date=None) | Q(latest_date__lt=on))


def _near(on: date, lead: Lead) -> Q:
    unread = Q(engine__hours_now=None, overdue_hours__isnull=False)
    return _within_lead(on, lead) | Q(earliest_hours__lt=_hours_by_now(on)) | unread


def _within_lead(on: date, lead: Lead) -> Q:
    reached, last = _leads(on, lead)
    return Q(earliest_hours__lte=reached) | Q(earliest_date__lte=last)


def _all_within_lead(on: date, lead: Lead) -> Q:
    reached, last = _leads(on, lead)
    by_hours = Q(latest_hours=None) | Q(latest_hours__lte=reached)
    return by_hours & (Q(latest_date=None) | Q(latest_date__lte=last))


def _leads(on: date, lead: Lead) -> tuple[Any, date]:
    """A lead of a station or an owner, which says something of both kinds."""
    assert lead.hours is not None, "a lead of hours"
    assert lead.days is not None, "a lead of days"
    last = on + timedelta(days=min(lead.days, (date.max - on).days))
    return F("engine__hours_now") + int(lead.hours), last


def _hours_by_now(on: date) -> Any:
    """The hours that the engine may have reached since its last reading."""
    days = Greatest(Value(on.toordinal()) - F("engine__standing__read_on_day"), 0)
    flown = Coalesce(F("engine__standing__hours_a_day") * days, 0)
    return F("engine__hours_now") + flown
