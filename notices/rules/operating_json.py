"""One question about fuel and the intervals it moves as a JSON object, and its answer.

    {"fuel": [{"on", "quantity", "unit": "L" | "US gal",
               "kind": "leaded" | "unleaded" | "blend", "leaded_share"?, "hours"?}],
     "since"?: {"on"?, "hours"?}, "on": date, "hours"?, "declared"?: share,
     "next"?: {"kind", "leaded_share"?}, "litres_an_hour"?: number,
     "action"?: action, and with it the other keys of a question about what is due}

`since`: when the action was last done; if it is absent the records of the action say
so, and without an action all fuel counts. `hours`: of the engine now; if they are
absent, its own `hours`. `declared`: the habit that stands in where there is no record,
or fewer than 2 litres on record for each hour run since; if it is absent, the engine's
own `leaded_share`. `next`: the fuel that is taken on from now; if it is absent, fuel
like the last. Quantities and shares are numbers, or texts such as "85,5" and "2/5".
The answer:

    {"share", "source": "records" | "declared" | "unknown", "litres", "leaded_litres",
     "records", "first_on", "last_on", "sentence",
     "crossings": [{"on", "index", "thresholds": [{"over" | "from", "passed"}],
                    "before", "after", "sentence"}],
     "ahead": [{"over" | "from", "passed", "litres", "beyond", "hours", "sentence"}],
     "due": as of a question about what is due, "classes": [{"shares", "now", "limit",
     "due"}]}

A crossing is a record with which the running share came to the other side. `litres`: of
the next fuel until the share crosses, null for never; `beyond`: it crosses just after
them. With an action, `due` is what holds under this share, and `classes` what would hold
under each class of shares that the action tells apart.
"""

# ruff: noqa: RUF009 - keyed(...) is dataclasses.field with a form

from __future__ import annotations

import contextlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from itertools import groupby
from typing import Final

from notices.rules.due_json import DUE_KEYS, DueQuestion, due_to_json, read_due
from notices.rules.errors import Fault, RuleError
from notices.rules.facts import UNKNOWN, Hours, Unknown
from notices.rules.forms import (
    DateForm,
    HoursForm,
    Json,
    ObjectOf,
    RefusedError,
    Text,
    decimal_of,
    keyed,
    number_of,
    refuse,
    shown,
)
from notices.rules.objects import ObjectReader
from notices.rules.operating import (
    Crossing,
    Fuel,
    Mix,
    PointAt,
    Threshold,
    ahead,
    crossings,
    exact_number,
    exact_share,
    fuel,
    leaded_of,
    mix_since,
    points_by_share,
    since_last_done,
    thresholds,
)
from notices.rules.operating_wording import (
    ahead_sentence,
    class_words,
    crossing_sentence,
    limit_sizes,
    mix_sentence,
)

_KEYS: Final = (
    "fuel", "since", "on", "hours", "declared", "next", "litres_an_hour", "action",
)  # fmt: skip
_FUEL_KEYS: Final = ("on", "quantity", "unit", "kind", "leaded_share", "hours")
_DATE: Final = DateForm()
_HOURS: Final = HoursForm()

Since = tuple[date | Unknown | None, Hours | Unknown]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Since:
    on: date | Unknown = keyed("on", _DATE, default=UNKNOWN)
    hours: Hours | Unknown = keyed("hours", _HOURS, default=UNKNOWN)

    def __post_init__(self) -> None:
        if self.on is UNKNOWN and self.hours is UNKNOWN:
            raise ValueError('Say when it was last done: "on", "hours" or both.')


@dataclass(frozen=True, slots=True)
class _Number:
    """A number, or one as text: exact as written. `share`: from 0 to 1."""

    share: bool = False

    def read(self, raw: Json, path: str, faults: list[Fault]) -> Fraction:
        """Return the number."""
        try:
            if isinstance(raw, str):
                return exact_share(raw) if self.share else exact_number(raw)
            number = decimal_of(raw)
            if number is None:
                raise ValueError(f"Expected a number, not {shown(raw)}.")
            if self.share and not 0 <= number <= 1:
                raise ValueError(f"A share is from 0 to 1, not {number}.")
            return Fraction(number)
        except ValueError as error:
            raise refuse(faults, path, str(error)) from error

    def write(self, value: Fraction) -> Json:
        """Return the number, to the precision of JSON."""
        return number_of(value)

    def schema(self) -> dict[str, Json]:
        """A number or a text."""
        return {"type": ["number", "string"]}


_SINCE: Final = ObjectOf(_Since, "when it was last done, with on and hours")
_NUMBER: Final = _Number()
_SHARE: Final = _Number(share=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Question:
    """The question as read."""

    records: tuple[Fuel, ...]
    since: Since
    on: date
    hours_now: Hours | Unknown
    declared: Fraction | Unknown
    added: Fraction | None
    litres_an_hour: Fraction | None
    due: DueQuestion | None

    def mix(self) -> Mix:
        """Return the share since the action was last done."""
        since, hours = self.since
        return mix_since(
            self.records,
            since=since,
            since_hours=hours,
            on=self.on,
            hours_now=self.hours_now,
            declared=self.declared,
        )

    def crossings(self, steps: tuple[Threshold, ...]) -> tuple[Crossing, ...]:
        """Return what the records moved since then."""
        since, hours = self.since
        return crossings(
            self.records,
            steps,
            since=since,
            since_hours=hours,
            on=self.on,
            hours_now=self.hours_now,
            declared=self.declared,
        )


def operating_from_json(raw: Json, *, path: str = "") -> dict[str, Json]:
    """Return the answer to one question; RuleError with all faults of the question."""
    question = _read(raw, path)
    due, mix = question.due, question.mix()
    steps = () if due is None else thresholds(due.action)
    points = (
        ()
        if due is None
        else points_by_share(due.action, due.engine, due.asked(), due.history)
    )
    answer = _mix_to_json(mix)
    answer["crossings"] = [
        _crossing_to_json(tuple(of_one), points)
        for _, of_one in groupby(question.crossings(steps), lambda one: one.index)
    ]
    answer["ahead"] = _ahead_to_json(question, mix, steps)
    if due is not None:
        answer["due"] = due_to_json(due.answer(mix.share))
        answer["classes"] = [_class_to_json(one, mix, due) for one in points]
    return answer


def _read(raw: Json, path: str) -> _Question:
    faults: list[Fault] = []
    has_action = isinstance(raw, Mapping) and raw.get("action") is not None
    keys = (*_KEYS, *(DUE_KEYS if has_action else ()))
    try:
        reader = ObjectReader(raw, path, dict.fromkeys(keys), "a question", faults)
    except RefusedError as refused:
        raise RuleError(faults) from refused
    due = read_due(reader.raw, faults, path=path) if has_action else None
    on = None if has_action else _day(reader)
    records = _records(reader)
    since = reader.value("since", _SINCE)
    hours_now = reader.value("hours", _HOURS)
    declared = reader.value("declared", _SHARE)
    if due is not None:
        hours_now = due.engine.axis_now if hours_now is UNKNOWN else hours_now
        declared = due.engine.leaded_share if declared is UNKNOWN else declared
    burnt = _litres_an_hour(reader)
    added = _added(reader)
    if faults:
        raise RuleError(faults)
    day = on if due is None else due.on
    assert day is not None
    return _Question(
        records=records,
        since=_since_of(due) if since is UNKNOWN else (since.on, since.hours),
        on=day,
        hours_now=hours_now,
        declared=declared,
        added=_like_the_last(records, day) if added is None else added,
        litres_an_hour=burnt,
        due=due,
    )


def _since_of(due: DueQuestion | None) -> Since:
    """Return when the action was last done by its own records; all fuel without one."""
    if due is None:
        return None, UNKNOWN
    return since_last_done(due.answer().point, due.history, due.engine)


def _day(reader: ObjectReader) -> date | None:
    if not reader.given("on"):
        message = 'The key "on" is missing: the day that is asked for.'
        reader.faults.append(Fault(reader.path, message))
    day = reader.value("on", _DATE)
    return None if day is UNKNOWN else day


def _litres_an_hour(reader: ObjectReader) -> Fraction | None:
    burnt: Fraction | Unknown = reader.value("litres_an_hour", _NUMBER)
    if isinstance(burnt, Unknown):
        return None
    if burnt <= 0:
        message = "An engine that runs burns more than 0 litres an hour."
        reader.faults.append(Fault(reader.at("litres_an_hour"), message))
    return burnt


def _records(reader: ObjectReader) -> tuple[Fuel, ...]:
    found = []
    for path, member in reader.members("fuel", "fuel"):
        with contextlib.suppress(RefusedError):
            one = ObjectReader(member, path, _FUEL_KEYS, "fuel", reader.faults)
            record = _record(one)
            if record is not None:
                found.append(record)
    return tuple(found)


def _record(reader: ObjectReader) -> Fuel | None:
    before = len(reader.faults)
    for key in ("on", "quantity", "unit", "kind"):
        if not reader.given(key):
            message = f'The key "{key}" is missing.'
            reader.faults.append(Fault(reader.path, message))
    on = reader.value("on", _DATE)
    quantity = reader.value("quantity", _NUMBER)
    unit = reader.value("unit", Text('a unit, "L" or "US gal"'))
    kind = reader.value("kind", Text("a kind of fuel"))
    share = reader.value("leaded_share", _SHARE)
    hours = reader.value("hours", _HOURS)
    if len(reader.faults) > before:
        return None
    try:
        return fuel(
            on=on,
            quantity=quantity,
            unit=unit,
            kind=kind,
            leaded_share=None if share is UNKNOWN else share,
            hours=hours,
            path=reader.path,
        )
    except RuleError as error:
        reader.faults.extend(error.faults)
        return None


def _like_the_last(records: tuple[Fuel, ...], day: date) -> Fraction | None:
    past = sorted((one for one in records if one.on <= day), key=lambda one: one.on)
    return past[-1].leaded if past else None


def _added(reader: ObjectReader) -> Fraction | None:
    """Return the leaded share of the fuel to come, None where it is not asked."""
    inner = reader.inner("next", ("kind", "leaded_share"), "the fuel to come")
    if inner is None:
        return None
    kind = inner.value("kind", Text("a kind of fuel"))
    share = inner.value("leaded_share", _SHARE)
    try:
        return leaded_of(
            "" if kind is UNKNOWN else kind,
            None if share is UNKNOWN else share,
            path=inner.path,
        )
    except RuleError as error:
        reader.faults.extend(error.faults)
        return None


def _mix_to_json(mix: Mix) -> dict[str, Json]:
    return {
        "share": _share(mix.share),
        "source": mix.source,
        "litres": number_of(mix.litres),
        "leaded_litres": number_of(mix.leaded_litres),
        "records": mix.count,
        "first_on": None if mix.first_on is None else mix.first_on.isoformat(),
        "last_on": None if mix.last_on is None else mix.last_on.isoformat(),
        "sentence": mix_sentence(mix),
    }


def _share(share: Fraction | Unknown) -> Json:
    return None if isinstance(share, Unknown) else number_of(share)


def _passed(threshold: Threshold) -> dict[str, Json]:
    """Return the shares that have passed a threshold, as a rule writes them."""
    key = "from" if threshold.inclusive else "over"
    return {key: number_of(threshold.share)}


def _crossing_to_json(
    crossed: tuple[Crossing, ...], points: tuple[PointAt, ...]
) -> dict[str, Json]:
    first = crossed[0]
    return {
        "on": first.on.isoformat(),
        "index": first.index,
        "thresholds": [
            {**_passed(one.threshold), "passed": one.upward} for one in crossed
        ],
        "before": _share(first.before),
        "after": number_of(first.after),
        "sentence": crossing_sentence(crossed, points),
    }


def _ahead_to_json(
    question: _Question, mix: Mix, steps: tuple[Threshold, ...]
) -> list[Json]:
    if question.added is None:
        return []
    found = ahead(
        mix, steps, next_leaded=question.added, litres_an_hour=question.litres_an_hour
    )
    return [
        {
            **_passed(one.threshold),
            "passed": one.upward,
            "litres": None if one.litres is None else number_of(one.litres),
            "beyond": one.beyond,
            "hours": None if one.hours is None else number_of(one.hours),
            "sentence": ahead_sentence(one, question.added),
        }
        for one in found
    ]


def _class_to_json(one: PointAt, mix: Mix, due: DueQuestion) -> dict[str, Json]:
    """Return what would be due under a class of shares; `now`: the share is in it."""
    share = mix.share
    return {
        "shares": class_words(one.shares),
        "now": not isinstance(share, Unknown) and one.shares.holds(share),
        "limit": None if one.point.tree is None else limit_sizes(one.point.tree),
        "due": due_to_json(due.answer(one.shares.some)),
    }
