"""What a question in JSON may not say of the past, and what of it is only planned.

The facts of an engine are those of the day asked for, and hours of an engine never
fall: what contradicts that is refused, since any answer to it would be wrong. Work,
events, readings and fuel dated after that day are plans, which do not count.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Final

from notices.rules.errors import Fault, child_path
from notices.rules.facts import Hours
from notices.rules.forms import DateForm, Form, HoursForm, Json, RefusedError
from notices.rules.phrases import date_words, used_hours_words
from notices.rules.times.history import TIME_IN_SERVICE

_DATE: Final = DateForm()
_HOURS: Final = HoursForm()
_DATED: Final = ("done", "events", "readings", "fuel")
_RUN_ON: Final = (
    "If a meter was changed, give the hours of the engine, which run on, and not what "
    "the meter shows."
)


@dataclass(frozen=True, slots=True)
class _Entry:
    """One thing that happened or will. `meter`: of a reading that is a stand-in."""

    path: str
    on: date | None
    hours: Hours | None
    meter: str = TIME_IN_SERVICE


def contradictions(raw: Mapping[str, Json], path: str) -> tuple[Fault, ...]:
    """Return what cannot be in a question that was read without a fault."""
    on = _day(raw.get("on"))
    engine = raw.get("engine") or {}
    faults = [*_falling(_listed(raw, "readings", path))]
    faults += _falling(_listed(raw, "fuel", path))
    faults += _beyond(raw, engine, on, path)
    if on is not None:
        faults += _after(engine, on, child_path(path, "engine"))
    return tuple(faults)


def plans(raw: Mapping[str, Json], path: str) -> tuple[str, ...]:
    """Return a sentence for each thing dated after the day asked for."""
    on = _day(raw.get("on"))
    if on is None:
        return ()
    return tuple(
        f"{one.path} is dated {date_words(one.on)}, after the day asked for: it is a "
        "plan and does not count."
        for key in _DATED
        for one in _listed(raw, key, path)
        if one.on is not None and one.on > on
    )


def _falling(entries: Iterator[_Entry]) -> Iterator[Fault]:
    """Yield each entry with fewer hours than the one before it by the same meter."""
    known = [
        (one.meter, one.on, one.hours, one.path)
        for one in entries
        if one.on is not None and one.hours is not None
    ]
    for (meter, day, hours, _), (later_meter, later, fewer, at) in pairwise(
        sorted(known)
    ):
        if meter == later_meter and fewer < hours:
            message = (
                f"{used_hours_words(fewer)} on {date_words(later)} is less than "
                f"{used_hours_words(hours)} on {date_words(day)}, and hours do not "
                f"fall. {_RUN_ON}"
            )
            yield Fault(child_path(at, "hours"), message)


def _beyond(
    raw: Mapping[str, Json], engine: Mapping[str, Json], on: date | None, path: str
) -> Iterator[Fault]:
    """Yield what was done at more hours than the engine has, or is to be at fewer."""
    now = _hours(raw.get("hours")) or _hours((engine.get("hours") or {}).get("new"))
    if now is None:
        return
    at = child_path(path, "engine")
    past = [
        *(one for key in _DATED for one in _listed(raw, key, path)),
        *_listed(engine, "complied", at),
        *_effective(raw, path),
    ]
    has = f"the engine has {used_hours_words(now)}"
    for one in past:
        if one.hours is None or one.meter != TIME_IN_SERVICE:
            continue
        is_plan = on is not None and one.on is not None and one.on > on
        if is_plan and one.hours < now:
            said = f"{used_hours_words(one.hours)} is to come, but {has} already."
        elif not is_plan and one.hours > now and not _is_before_rebuild(one, engine):
            said = f"This was at {used_hours_words(one.hours)}, but {has}."
        else:
            continue
        yield Fault(child_path(one.path, "hours"), f"{said} {_RUN_ON}")


def _is_before_rebuild(one: _Entry, engine: Mapping[str, Json]) -> bool:
    """Whether it may be of before the maker's rebuild, at which TSN began anew."""
    rebuilt = engine.get("rebuilt")
    day = _day(rebuilt)
    return rebuilt is True or (day is not None and (one.on is None or one.on <= day))


def _after(engine: Mapping[str, Json], on: date, path: str) -> Iterator[Fault]:
    """Yield the facts of the engine, and of its parts, that begin only after the day."""
    several: list[tuple[str, Mapping[str, Json]]] = [(path, engine)]
    several += _objects(engine, "parts", path)
    for at, thing in several:
        for key in ("built", "shipped", "rebuilt", "fitted"):
            yield from _too_late(child_path(at, key), _day(thing.get(key)), on)
        for one in _listed(thing, "overhauled", at):
            yield from _too_late(child_path(one.path, "on"), one.on, on)
    for one in _listed(engine, "complied", path):
        yield from _too_late(child_path(one.path, "on"), one.on, on)


def _too_late(path: str, day: date | None, on: date) -> Iterator[Fault]:
    if day is not None and day > on:
        yield Fault(
            path,
            f"{date_words(day)} is after the day asked for, {date_words(on)}, of which "
            "the facts of the engine are. Ask for a later day, or leave it out.",
        )


def _effective(raw: Mapping[str, Json], path: str) -> Iterator[_Entry]:
    found = raw.get("effective")
    if isinstance(found, Mapping):
        yield _entry(found, child_path(path, "effective"))


def _listed(raw: Mapping[str, Json], key: str, path: str) -> Iterator[_Entry]:
    """Yield what stands under a key as a list, or alone."""
    found = raw.get(key)
    if isinstance(found, Mapping):
        yield _entry(found, child_path(path, key))
    for at, one in _objects(raw, key, path):
        yield _entry(one, at)


def _objects(
    raw: Mapping[str, Json], key: str, path: str
) -> Iterator[tuple[str, Mapping[str, Json]]]:
    found = raw.get(key)
    for index, one in enumerate(found if isinstance(found, list) else ()):
        if isinstance(one, Mapping):
            yield child_path(child_path(path, key), index), one


def _entry(raw: Mapping[str, Json], path: str) -> _Entry:
    """Return an entry; hours of a part that was on another engine are not the engine's."""
    is_elsewhere = raw.get("part_hours") is not None
    return _Entry(
        path,
        _day(raw.get("on")),
        None if is_elsewhere else _hours(raw.get("hours")),
        raw.get("meter") or TIME_IN_SERVICE,
    )


def _day(raw: Json) -> date | None:
    found: date | None = _read(raw, _DATE)
    return found


def _hours(raw: Json) -> Hours | None:
    found: Hours | None = _read(raw, _HOURS)
    return found


def _read(raw: Json, form: Form) -> Json:
    """Return what a form reads, None for what is not of that form ("new", false)."""
    if raw is None or isinstance(raw, bool | Mapping):
        return None
    try:
        return form.read(raw, "", [])
    except RefusedError:
        return None
