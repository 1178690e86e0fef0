"""One engine as a JSON object, read into facts with every fault named by its path.

Absent and null mean unknown; `false` under `aircraft`, `registry`, `rebuilt` and
`overhauled` means known not to be so. Hours are decimals with up to two places, dates
ISO 8601. Questions answered in JSON belong to the scope "".
"""

from __future__ import annotations

import contextlib
from collections.abc import Mapping
from datetime import date
from typing import Final, Literal, TypeVar

from notices.rules.errors import Fault, RuleError
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
    HoursForm,
    Json,
    ObjectOf,
    RefusedError,
    Text,
    Whole,
    shown,
)
from notices.rules.objects import ObjectReader
from notices.rules.serials import parse_serial
from notices.rules.temperatures import Span

T = TypeVar("T")

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
        facts = _engine(ObjectReader(raw, path, _ENGINE_KEYS, "an engine", faults))
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


def _engine(reader: ObjectReader) -> EngineFacts:
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
        attributes=_attributes(reader),
        answers=_answers(reader),
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


def _attributes(reader: ObjectReader) -> dict[str, str]:
    form = Text("a value as text", empty=True)
    return reader.pairs(
        "attributes", lambda value, path: form.read(value, path, reader.faults)
    )


def _answers(reader: ObjectReader) -> dict[tuple[str, str], bool]:
    """Return the answered questions, in the scope "" of the command line."""
    read = reader.pairs(
        "answers", lambda value, path: _FLAG.read(value, path, reader.faults)
    )
    return {("", question): answer for question, answer in read.items()}


def _none_if_unknown(value: T | Unknown) -> T | None:
    return None if isinstance(value, Unknown) else value


def _rebuilt(reader: ObjectReader) -> date | Literal[True] | Unknown | None:
    if reader.raw.get("rebuilt") is True:
        return True
    found: date | Unknown | None = reader.value_or_none("rebuilt", _DATE)
    return found


def _operation(reader: ObjectReader) -> frozenset[str] | Unknown:
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


def _hours(reader: ObjectReader, kinds: tuple[str, ...]) -> HoursKept:
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


def _overhauls(reader: ObjectReader) -> tuple[Overhaul, ...] | Unknown:
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
        reader = ObjectReader(raw, path, ("on", "hours", "by"), "an overhaul", faults)
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
    reader: ObjectReader, overhauls: tuple[Overhaul, ...] | Unknown, kept: HoursKept
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


def _complied(reader: ObjectReader) -> tuple[Compliance, ...]:
    records = []
    for path, member in reader.members("complied", "records"):
        with contextlib.suppress(RefusedError):
            inner = ObjectReader(
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


def _temperature(reader: ObjectReader) -> TemperatureRange | Unknown:
    span = reader.value("oil_temperature", _SPAN)
    if isinstance(span, Unknown):
        return UNKNOWN
    assert isinstance(span, Span)
    if span.closed is None:
        message = 'Both "from" and "to" are needed.'
        reader.faults.append(Fault(reader.at("oil_temperature"), message))
        return UNKNOWN
    return span.closed


def _parts(reader: ObjectReader) -> tuple[PartFacts, ...]:
    read = [
        _part(raw, at, reader.faults) for at, raw in reader.members("parts", "parts")
    ]
    return tuple(part for part in read if part is not None)


def _part(raw: Json, path: str, faults: list[Fault]) -> PartFacts | None:
    try:
        reader = ObjectReader(raw, path, _PART_KEYS, "a part", faults)
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
        attributes=_attributes(reader),
        answers=_answers(reader),
    )
