"""One question about a compliance time as a JSON object, and its answer.

    {"action": action, "engine": engine, "part"?: index, "effective"?: {"on", "hours"},
     "done"?: [{"on", "hours", "number", "revision", "result", "en_route", "part_hours"}],
     "events"?: [{"event", "on", "hours"}], "readings"?: [{"on", "hours", "meter"}],
     "on": date, "en_route"?: bool, "lead"?: {"hours", "days"}, "hours_a_day"?: number}

Absent and null mean unknown; an empty list is "known none". Hours are TSN of the
engine, also for a part.
"""

# ruff: noqa: RUF009 - keyed(...) is dataclasses.field with a form

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from typing import Any, Final, TypeVar

from notices.rules.compliance_time import due
from notices.rules.errors import Fault, RuleError, child_path
from notices.rules.facts import UNKNOWN, Asked, EngineFacts, Hours, PartFacts, Unknown
from notices.rules.facts_json import engine_from_json
from notices.rules.forms import (
    DateForm,
    Exact,
    Flag,
    HoursForm,
    Json,
    ObjectOf,
    RefusedError,
    Text,
    Whole,
    Words,
    keyed,
    note_unknown_keys,
    refuse,
    shown,
)
from notices.rules.times.actions import Action, parse_action
from notices.rules.times.due_points import late_to_json
from notices.rules.times.due_states import Due
from notices.rules.times.history import (
    TIME_IN_SERVICE,
    Done,
    Event,
    History,
    Rate,
    Reading,
    utilisation,
)
from notices.rules.times.limits import METERS
from notices.rules.times.points import (
    Tree,
    events_named,
    folded_hours,
    folded_on,
    tree_to_json,
)
from notices.rules.times.standing import Lead

T = TypeVar("T")
_HOURS: Final = HoursForm()
_DATE: Final = DateForm()
DUE_KEYS: Final = (
    "action", "engine", "part", "effective", "done", "events", "readings", "on",
    "en_route", "lead", "hours_a_day",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Effective:
    on: date | Unknown = keyed("on", _DATE, default=UNKNOWN)
    hours: Hours | Unknown = keyed("hours", _HOURS, default=UNKNOWN)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Done:
    on: date | Unknown = keyed("on", _DATE, default=UNKNOWN)
    hours: Hours | Unknown = keyed("hours", _HOURS, default=UNKNOWN)
    number: str | Unknown = keyed("number", Text("a number"), default=UNKNOWN)
    revision: str | Unknown = keyed(
        "revision", Text("a revision", empty=True), default=UNKNOWN
    )
    result: str | Unknown = keyed("result", Text("what was found"), default=UNKNOWN)
    en_route: bool = keyed("en_route", Flag(), default=False)
    part_hours: Hours | Unknown = keyed("part_hours", _HOURS, default=UNKNOWN)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Event:
    name: str = keyed("event", Text("the name of an event"))
    on: date | Unknown = keyed("on", _DATE, default=UNKNOWN)
    hours: Hours | Unknown = keyed("hours", _HOURS, default=UNKNOWN)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reading:
    on: date = keyed("on", _DATE)
    hours: Hours = keyed("hours", _HOURS)
    meter: str = keyed("meter", Words(METERS), default=TIME_IN_SERVICE)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lead:
    hours: Hours | None = keyed("hours", _HOURS, default=None)
    days: int | None = keyed("days", Whole(0, 36500), default=None)


_EFFECTIVE: Final = ObjectOf(_Effective, "the effective date with on and hours")
_LEAD: Final = ObjectOf(_Lead, "a lead with hours and days")


@dataclass(frozen=True, slots=True, kw_only=True)
class DueQuestion:
    """One question as read: everything that `due` wants, and where it stood."""

    path: str
    action: Action
    engine: EngineFacts
    part: PartFacts | None
    history: History
    on: date
    lead: Lead
    en_route: bool
    rate: Rate | None
    reading: Reading | None

    def asked(self, leaded_share: Fraction | Unknown = UNKNOWN) -> Asked:
        """Return the circumstances. `leaded_share`: wins over the engine's own."""
        return Asked(on=self.on, part=self.part, leaded_share=leaded_share)

    def answer(self, leaded_share: Fraction | Unknown = UNKNOWN) -> Due:
        """Return the due result; RuleError where events contradict the engine."""
        try:
            return due(
                self.action,
                self.engine,
                self.asked(leaded_share),
                self.history,
                lead=self.lead,
                en_route=self.en_route,
                rate=self.rate,
                reading_on=None if self.reading is None else self.reading.on,
                meter=None if self.reading is None else self.reading.meter,
            )
        except RuleError as error:
            faults = [
                Fault(child_path(self.path, one.path), one.message)
                for one in error.faults
            ]
            raise RuleError(faults) from error


class Question:
    """Reads the parts of one question; a part that is refused notes its faults."""

    def __init__(self, raw: Mapping[str, Json], path: str) -> None:
        self.raw = raw
        self.path = path
        self.faults: list[Fault] = []

    def at(self, key: str) -> str:
        return child_path(self.path, key)

    def action(self) -> Action | None:
        try:
            return parse_action(self.raw.get("action"), path=self.at("action"))
        except RuleError as error:
            self.faults.extend(error.faults)
            return None

    def engine(self) -> EngineFacts:
        try:
            return engine_from_json(self.raw.get("engine"), path=self.at("engine"))
        except RuleError as error:
            self.faults.extend(error.faults)
            return EngineFacts()

    def part(self, engine: EngineFacts) -> PartFacts | None:
        index = self.raw.get("part")
        if index is None:
            return None
        is_whole = isinstance(index, int) and not isinstance(index, bool)
        if is_whole and 0 <= index < len(engine.parts):
            return engine.parts[index]
        message = (
            f"Expected the index of one of {len(engine.parts)} parts of the engine, "
            f"counted from 0, not {shown(index)}."
        )
        self.faults.append(Fault(self.at("part"), message))
        return None

    def one(self, key: str, form: Any, otherwise: T) -> T:
        raw = self.raw.get(key)
        if raw is None:
            return otherwise
        try:
            found: T = form.read(_without_null(raw), self.at(key), self.faults)
        except RefusedError:
            return otherwise
        return found

    def several(self, key: str, kind: type[T], what: str) -> tuple[T, ...] | Unknown:
        raw = self.raw.get(key)
        if raw is None:
            return UNKNOWN
        if not isinstance(raw, list):
            refuse(self.faults, self.at(key), f"Expected a list of {what}.")
            return UNKNOWN
        found = []
        for index, item in enumerate(raw):
            path = child_path(self.at(key), index)
            try:
                found.append(
                    ObjectOf(kind, what).read(_without_null(item), path, self.faults)
                )
            except RefusedError:
                continue
        return tuple(found)

    def day(self) -> date | None:
        if self.raw.get("on") is None:
            message = 'The key "on" is missing: the day that is asked for.'
            self.faults.append(Fault(self.path, message))
            return None
        day: date | None = self.one("on", _DATE, None)
        return day

    def lead(self) -> Lead:
        lead = self.one("lead", _LEAD, _Lead())
        return Lead(hours=lead.hours, days=lead.days)


def _without_null(raw: Json) -> Json:
    """Return an object without its nulls, which mean unknown here."""
    if isinstance(raw, Mapping):
        return {key: value for key, value in raw.items() if value is not None}
    return raw


def due_from_json(raw: Json, *, path: str = "") -> dict[str, Json]:
    """Return the answer to one question; RuleError with all faults of the question."""
    if not isinstance(raw, Mapping):
        raise RuleError([Fault(path, f"Expected an object, not {shown(raw)}.")])
    faults: list[Fault] = []
    note_unknown_keys(raw, DUE_KEYS, path, faults)
    question = read_due(raw, faults, path=path)
    if question is None:
        raise RuleError(faults)
    return due_to_json(question.answer())


def read_due(
    raw: Mapping[str, Json], faults: list[Fault], *, path: str
) -> DueQuestion | None:
    """Return the question in the keys of `DUE_KEYS`; None once there are faults."""
    question = Question(raw, path)
    action, engine, on = question.action(), question.engine(), question.day()
    part = question.part(engine)
    history = history_of(question)
    lead = question.lead()
    en_route = question.one("en_route", Flag(), False)
    rate = rate_of(question, history, on)
    faults.extend(question.faults)
    if faults:
        return None
    assert action is not None
    assert on is not None
    engine, reading = with_reading(engine, history, on)
    return DueQuestion(
        path=path,
        action=action,
        engine=engine,
        part=part,
        history=history,
        on=on,
        lead=lead,
        en_route=en_route,
        rate=rate,
        reading=reading,
    )


def history_of(question: Question) -> History:
    """Return the engine's past as the question gives it."""
    effective = question.one("effective", _EFFECTIVE, _Effective())
    done = question.several("done", _Done, "records")
    events = question.several("events", _Event, "events")
    readings = question.several("readings", _Reading, "readings")
    return History(
        effective_on=effective.on,
        effective_hours=effective.hours,
        done=done if isinstance(done, Unknown) else tuple(map(_as_done, done)),
        events=events
        if isinstance(events, Unknown)
        else tuple(Event(name=one.name, on=one.on, hours=one.hours) for one in events),
        readings=()
        if isinstance(readings, Unknown)
        else tuple(
            Reading(on=one.on, hours=one.hours, meter=one.meter) for one in readings
        ),
    )


def _as_done(one: _Done) -> Done:
    return Done(
        on=one.on,
        hours=one.hours,
        number=one.number,
        revision=one.revision,
        result=one.result,
        en_route=one.en_route,
        part_hours=one.part_hours,
    )


def rate_of(question: Question, history: History, on: date | None) -> Rate | None:
    """Return the utilisation: as said in the question, else from the readings."""
    said: Fraction | None = question.one(
        "hours_a_day", Exact("hours a day", 0, 24), None
    )
    if said is not None:
        a_day = said * 100
        return Rate(a_day=a_day, low=a_day, high=a_day)
    return None if on is None else utilisation(history.readings, on)


def with_reading(
    engine: EngineFacts, history: History, on: date
) -> tuple[EngineFacts, Reading | None]:
    """Return the engine with the hours of its last reading, and that reading.

    Hours that the engine states itself win; they are then as of the day asked for,
    unless the last reading says the same.
    """
    past = [one for one in history.readings if one.on <= on]
    if not past:
        return engine, None
    last = max(past, key=lambda one: (one.on, one.hours))
    if isinstance(engine.hours.new, Unknown):
        kept = replace(engine.hours, new=last.hours)
        return replace(engine, hours=kept), last
    return engine, last if engine.hours.new == last.hours else None


def due_to_json(answer: Due) -> dict[str, Json]:
    """Return a due result as JSON: decimal hours, ISO dates, null where there is none."""
    forecast = answer.forecast
    return {
        "state": answer.state.value,
        "hours": _hours(answer.hours),
        "date": _day(answer.on),
        "event": _event(answer.events),
        "which": answer.which,
        "limits": None if answer.limits is None else tree_to_json(answer.limits),
        "remaining_hours": _hours(answer.remaining_hours),
        "remaining_days": answer.remaining_days,
        "late": None if answer.late is None else late_to_json(answer.late),
        "forecast": None if forecast is None else _day(forecast.on),
        "forecast_range": None
        if forecast is None
        else [_day(forecast.earliest), _day(forecast.latest)],
        "estimated": answer.estimated,
        "earliest_hours": _earliest(answer),
        "candidates": [_candidate(tree) for tree in answer.candidates],
        "missing": list(answer.missing),
        "may_be_overdue": answer.may_be_overdue,
        "if_it_applies": None
        if answer.if_it_applies is None
        else answer.if_it_applies.value,
        "sentence": answer.sentence,
    }


def _earliest(answer: Due) -> Json:
    """Return the earliest that the hours may be, None where they are exact."""
    earliest = answer.point.earliest_hours
    if answer.hours is None or (earliest == answer.hours and not answer.estimated):
        return None
    return _hours(earliest)


def _candidate(tree: Tree) -> dict[str, Json]:
    return {
        "hours": _hours(folded_hours(tree)),
        "date": _day(folded_on(tree)),
        "event": _event(events_named(tree)),
        "limits": tree_to_json(tree),
    }


def _event(names: tuple[str, ...]) -> Json:
    return names[0] if len(names) == 1 else list(names) or None


def _hours(hours: Hours | None) -> Json:
    return None if hours is None else _HOURS.write(hours)


def _day(day: date | None) -> Json:
    return None if day is None else day.isoformat()
