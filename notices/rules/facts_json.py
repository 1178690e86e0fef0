"""One engine as a JSON object, read into facts with every fault named by its path.

Absent and null mean unknown; `false` under `aircraft`, `registry`, `rebuilt` and
`overhauled` means known not to be so. Hours are decimals with up to two places, dates
ISO 8601. Questions answered in JSON belong to the scope "".
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable, Mapping
from datetime import date
from typing import Any, Final, Literal, TypeVar

from notices.rules.errors import Fault, RuleError, child_path
from notices.rules.facts import (
    UNKNOWN,
    Compliance,
    EngineFacts,
    Hours,
    HoursKept,
    Overhaul,
    PartFacts,
    TemperatureRange,
    Unknown,
)
from notices.rules.forms import (
    DateForm,
    Exact,
    Flag,
    Form,
    HoursForm,
    Json,
    ObjectOf,
    RefusedError,
    Text,
    Whole,
    note_unknown_keys,
    refuse,
    shown,
)
from notices.rules.serials import parse_serial
from notices.rules.temperatures import Span

T = TypeVar("T")

MOST_MEMBERS: Final = 5000

_DATE = DateForm()
_HOURS = HoursForm()
_FLAG = Flag()
_SPAN = ObjectOf(Span, 'temperatures such as {"from": 85, "to": 101}')
_DESIGNATION = Text('a designation such as "MX-4"')
_SERIAL = Text('a serial number such as "4001"', parse_serial)

_ENGINE_KEYS: Final = (
    "type", "type_complete", "serial", "serial_pattern", "serial_run", "built",
    "shipped", "rebuilt", "aircraft", "registry", "operation", "hours", "overhauled",
    "embodied", "not_embodied", "complied", "history_reviewed", "attributes", "answers",
    "parts", "roles_reviewed", "role_counts", "leaded_share", "oil_temperature",
    "at_effective",
)  # fmt: skip
_PART_KEYS: Final = (
    "role", "place", "number", "serial", "change", "built", "shipped", "fitted",
    "overhauled", "hours", "attributes", "answers",
)  # fmt: skip


def engine_from_json(raw: Json, *, path: str = "") -> EngineFacts:
    """Return the facts of one engine; RuleError with all faults.

    `path`: where the object stands, put in front of the path of every fault.
    """
    faults: list[Fault] = []
    facts = None
    with contextlib.suppress(RefusedError):
        facts = _engine(_ObjectReader(raw, path, _ENGINE_KEYS, "an engine", faults))
    if faults:
        raise RuleError(faults)
    assert facts is not None
    return facts


def part_from_json(raw: Json, *, path: str = "") -> PartFacts:
    """Return the facts of one part; RuleError with all faults."""
    faults: list[Fault] = []
    part = _part(raw, path, faults)
    if faults:
        raise RuleError(faults)
    assert part is not None
    return part


class _ObjectReader:
    """Reads the keys of one JSON object; a fault leaves its key unknown."""

    def __init__(
        self, raw: Json, path: str, keys: Iterable[str], what: str, faults: list[Fault]
    ) -> None:
        if not isinstance(raw, Mapping):
            raise refuse(
                faults, path, f"Expected {what} as an object, not {shown(raw)}."
            )
        note_unknown_keys(raw, tuple(keys), path, faults)
        self.raw = raw
        self.path = path
        self.faults = faults

    def at(self, key: str) -> str:
        """Return the path of a key."""
        return child_path(self.path, key)

    def given(self, key: str) -> bool:
        """Return whether the key is there and not null."""
        return self.raw.get(key) is not None

    def value(self, key: str, form: Form) -> Any:
        """Return what the form reads under the key, UNKNOWN if absent, null or faulty."""
        if self.given(key):
            with contextlib.suppress(RefusedError):
                return form.read(self.raw[key], self.at(key), self.faults)
        return UNKNOWN

    def flag(self, key: str, *, default: bool) -> bool:
        """Return the flag under the key, `default` if absent."""
        value = self.value(key, _FLAG)
        return default if value is UNKNOWN else bool(value)

    def value_or_none(self, key: str, form: Form) -> Any:
        """The same, and None for `false`: known not to be so."""
        return None if self.raw.get(key) is False else self.value(key, form)

    def members(self, key: str, what: str) -> list[tuple[str, Json]]:
        """Return path and value of each member of the list under the key."""
        if not self.given(key):
            return []
        found = self.raw[key]
        if not isinstance(found, list | tuple):
            message = f"Expected a list of {what}, not {shown(found)}."
            self.faults.append(Fault(self.at(key), message))
            return []
        if len(found) > MOST_MEMBERS:
            message = f"A list of {what} has at most {MOST_MEMBERS} members."
            self.faults.append(Fault(self.at(key), message))
            return []
        return [(child_path(self.at(key), i), member) for i, member in enumerate(found)]

    def texts(self, key: str, what: str) -> tuple[str, ...]:
        """Return the texts listed under the key, in order."""
        texts = []
        for path, member in self.members(key, what):
            with contextlib.suppress(RefusedError):
                texts.append(Text(f"one of {what}").read(member, path, self.faults))
        return tuple(texts)

    def pairs(self, key: str, read: Callable[[Json, str], T]) -> dict[str, T]:
        """Return the object under the key with each value read; null is left out."""
        if not self.given(key):
            return {}
        found = self.raw[key]
        if not isinstance(found, Mapping):
            message = f"Expected an object, not {shown(found)}."
            self.faults.append(Fault(self.at(key), message))
            return {}
        values = {}
        for name, value in found.items():
            if value is not None:
                with contextlib.suppress(RefusedError):
                    path = child_path(self.at(key), str(name))
                    values[str(name)] = read(value, path)
        return values

    def attributes(self) -> dict[str, str]:
        """Return the named properties, each a text."""
        form = Text("a value as text", empty=True)
        return self.pairs(
            "attributes", lambda value, path: form.read(value, path, self.faults)
        )

    def answers(self) -> dict[tuple[str, str], bool]:
        """Return the answered questions, in the scope "" of the command line."""
        read = self.pairs(
            "answers", lambda value, path: _FLAG.read(value, path, self.faults)
        )
        return {("", question): answer for question, answer in read.items()}

    def inner(self, key: str, keys: Iterable[str], what: str) -> _ObjectReader | None:
        """Return a reader of the object under the key, None if absent or faulty."""
        if self.given(key):
            with contextlib.suppress(RefusedError):
                return _ObjectReader(
                    self.raw[key], self.at(key), keys, what, self.faults
                )
        return None


def _engine(reader: _ObjectReader) -> EngineFacts:
    overhauls = _overhauls(reader)
    hours = _hours(reader, ("new", "overhaul"))
    _check_overhaul_hours(reader, overhauls, hours)
    effective = reader.inner("at_effective", ("hours",), "the effective date's facts")
    return EngineFacts(
        type=reader.value("type", _DESIGNATION),
        type_complete=reader.flag("type_complete", default=True),
        serial=reader.value("serial", _SERIAL),
        serial_pattern=_none_if_unknown(
            reader.value("serial_pattern", Text('a pattern such as "L-#-#"'))
        ),
        serial_run=_none_if_unknown(reader.value("serial_run", Whole(1, 20))),
        built=reader.value("built", _DATE),
        shipped=reader.value("shipped", _DATE),
        rebuilt=_rebuilt(reader),
        aircraft=reader.value_or_none("aircraft", _DESIGNATION),
        registry=reader.value_or_none("registry", Text('a state such as "NO"')),
        operation=_operation(reader),
        hours=hours,
        overhauls=overhauls,
        embodied=frozenset(reader.texts("embodied", "designations")),
        not_embodied=frozenset(reader.texts("not_embodied", "designations")),
        complied=_complied(reader),
        history_reviewed=reader.flag("history_reviewed", default=False),
        attributes=reader.attributes(),
        answers=reader.answers(),
        parts=_parts(reader),
        roles_reviewed=frozenset(reader.texts("roles_reviewed", "roles")),
        role_counts=reader.pairs(
            "role_counts",
            lambda value, path: Whole(0, 1000).read(value, path, reader.faults),
        ),
        leaded_share=reader.value("leaded_share", Exact("a share", 0, 1)),
        oil_temperature=_temperature(reader),
        at_effective=(
            HoursKept() if effective is None else _hours(effective, ("new", "overhaul"))
        ),
    )


def _none_if_unknown(value: T | Unknown) -> T | None:
    return None if isinstance(value, Unknown) else value


def _rebuilt(reader: _ObjectReader) -> date | Literal[True] | Unknown | None:
    if reader.raw.get("rebuilt") is True:
        return True
    found: date | Unknown | None = reader.value_or_none("rebuilt", _DATE)
    return found


def _operation(reader: _ObjectReader) -> frozenset[str] | Unknown:
    found = reader.raw.get("operation")
    if found is None:
        return UNKNOWN
    if isinstance(found, str):
        use = reader.value("operation", Text('a use such as "private"'))
        return UNKNOWN if use is UNKNOWN else frozenset({use})
    if found == []:
        message = "Name at least one use, or write null where it is not known."
        reader.faults.append(Fault(reader.at("operation"), message))
    return frozenset(reader.texts("operation", "uses"))


def _hours(reader: _ObjectReader, kinds: tuple[str, ...]) -> HoursKept:
    inner = reader.inner("hours", kinds, "hours")
    if inner is None:
        return HoursKept()
    read: dict[str, Hours | Unknown] = {
        kind: inner.value(kind, _HOURS) for kind in kinds
    }
    new, overhaul = read["new"], read.get("overhaul", UNKNOWN)
    if isinstance(new, Unknown) or isinstance(overhaul, Unknown):
        return HoursKept(**read)
    if overhaul > new:
        message = "Hours since overhaul cannot be more than hours since new."
        reader.faults.append(Fault(inner.at("overhaul"), message))
    return HoursKept(**read)


def _overhauls(reader: _ObjectReader) -> tuple[Overhaul, ...] | Unknown:
    found = reader.raw.get("overhauled")
    if found is None:
        return UNKNOWN
    if found is False:
        return ()
    path = reader.at("overhauled")
    if isinstance(found, Mapping):
        members = [(path, found)]
    elif isinstance(found, list | tuple):
        members = reader.members("overhauled", "overhauls")
    else:
        message = (
            'Expected false, an overhaul such as {"on": "2021-04-03"} or a list of them, '
            f"not {shown(found)}."
        )
        reader.faults.append(Fault(path, message))
        return UNKNOWN
    read = [_overhaul(member, at, reader.faults) for at, member in members]
    _check_order(read, path, reader.faults)
    return tuple(read)


def _overhaul(raw: Json, path: str, faults: list[Fault]) -> Overhaul:
    try:
        reader = _ObjectReader(raw, path, ("on", "hours", "by"), "an overhaul", faults)
    except RefusedError:
        return Overhaul()
    return Overhaul(
        on=reader.value("on", _DATE),
        hours=reader.value("hours", _HOURS),
        by=reader.value("by", Text('who did it, such as "maker"')),
    )


def _check_order(overhauls: list[Overhaul], path: str, faults: list[Fault]) -> None:
    dates = [o.on for o in overhauls if not isinstance(o.on, Unknown)]
    hours = [o.hours for o in overhauls if not isinstance(o.hours, Unknown)]
    if dates != sorted(dates) or hours != sorted(hours):
        faults.append(Fault(path, "List the overhauls from the oldest to the last."))


def _check_overhaul_hours(
    reader: _ObjectReader, overhauls: tuple[Overhaul, ...] | Unknown, kept: HoursKept
) -> None:
    """Note hours that contradict each other: they would give two answers."""
    if isinstance(overhauls, Unknown) or isinstance(kept.new, Unknown):
        return
    at = overhauls[-1].hours if overhauls else Hours(0)
    if isinstance(at, Unknown):
        return
    if at > kept.new:
        message = "The last overhaul is at more hours than the engine has since new."
        reader.faults.append(Fault(reader.at("overhauled"), message))
    elif not isinstance(kept.overhaul, Unknown) and kept.overhaul != kept.new - at:
        message = (
            "Hours since overhaul disagree with hours since new less the hours of the "
            "last overhaul. Correct one of the three."
        )
        reader.faults.append(Fault(reader.at("hours.overhaul"), message))


def _complied(reader: _ObjectReader) -> tuple[Compliance, ...]:
    records = []
    for path, member in reader.members("complied", "records"):
        with contextlib.suppress(RefusedError):
            inner = _ObjectReader(
                member,
                path,
                ("number", "revision", "on", "hours"),
                "a record",
                reader.faults,
            )
            if not inner.given("number"):
                message = 'The key "number" is missing: which publication?'
                reader.faults.append(Fault(path, message))
            records.append(
                Compliance(
                    number=_text_or_empty(inner.value("number", _DESIGNATION)),
                    revision=inner.value("revision", Text('a revision such as "2"')),
                    on=inner.value("on", _DATE),
                    hours=inner.value("hours", _HOURS),
                )
            )
    return tuple(records)


def _text_or_empty(value: str | Unknown) -> str:
    return "" if isinstance(value, Unknown) else value


def _temperature(reader: _ObjectReader) -> TemperatureRange | Unknown:
    span = reader.value("oil_temperature", _SPAN)
    if isinstance(span, Unknown):
        return UNKNOWN
    assert isinstance(span, Span)
    if span.closed is None:
        message = 'Both "from" and "to" are needed.'
        reader.faults.append(Fault(reader.at("oil_temperature"), message))
        return UNKNOWN
    return span.closed


def _parts(reader: _ObjectReader) -> tuple[PartFacts, ...]:
    read = [
        _part(raw, at, reader.faults) for at, raw in reader.members("parts", "parts")
    ]
    return tuple(part for part in read if part is not None)


def _part(raw: Json, path: str, faults: list[Fault]) -> PartFacts | None:
    try:
        reader = _ObjectReader(raw, path, _PART_KEYS, "a part", faults)
    except RefusedError:
        return None
    if not reader.given("role"):
        faults.append(Fault(path, 'The key "role" is missing: which part is it?'))
    return PartFacts(
        role=_text_or_empty(reader.value("role", Text('a role such as "fuel pump"'))),
        place=_text_or_empty(reader.value("place", Text('a place such as "left"'))),
        number=reader.value("number", _DESIGNATION),
        serial=reader.value("serial", _SERIAL),
        change=reader.value("change", Text("a change letter", empty=True)),
        built=reader.value("built", _DATE),
        shipped=reader.value("shipped", _DATE),
        fitted="new"
        if reader.raw.get("fitted") == "new"
        else reader.value("fitted", _DATE),
        overhauls=_overhauls(reader),
        hours=_hours(reader, ("new", "overhaul", "fitted")),
        attributes=reader.attributes(),
        answers=reader.answers(),
    )
