"""Nodes of a rule in JSON: read with checks, written, and described by one declaration.

A node is a frozen dataclass whose fields say by `stored(...)` under which key and as
which kind of value they are stored. From that one declaration come the reader (all
faults of a text together, each with its path), the writer and the JSON schema.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any, Final, TypeVar

from notices.rules.errors import Fault, RuleError, child_path
from notices.rules.facts import Hours

Schema = dict[str, Any]
T = TypeVar("T")


class _Broken:
    """What a reader returns after it has noted a fault."""


BROKEN: Final = _Broken()


class Faults:
    """The faults found so far in one text."""

    def __init__(self) -> None:
        self._found: list[Fault] = []

    def add(self, path: str, message: str) -> _Broken:
        self._found.append(Fault(path, message))
        return BROKEN

    def extend(self, found: Iterable[Fault]) -> _Broken:
        self._found.extend(found)
        return BROKEN

    def raise_if_any(self) -> None:
        if self._found:
            raise RuleError(self._found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of stored value. `read` returns the value, or BROKEN with a fault noted.

    `expected`: what is expected, as the end of "Expected ...". `schema` is called
    late, so that kinds may refer to each other.
    """

    expected: str
    read: Callable[[object, Faults, str], Any]
    write: Callable[[Any], Any]
    schema: Callable[[], Schema]


def same(value: Any) -> Any:
    return value


def shown(raw: object) -> str:
    """Return a short quotation of what was found, for a message."""
    text = repr(raw) if not isinstance(raw, str) else f'"{raw}"'
    return text if len(text) <= 60 else f"{text[:57]}..."


def wrong(raw: object, expected: str, faults: Faults, path: str) -> _Broken:
    return faults.add(path, f"Expected {expected}, found {shown(raw)}.")


def hundredths(raw: object) -> Hours | None:
    """Return decimal hours as whole hundredths, None where that is not possible."""
    if isinstance(raw, bool) or not isinstance(raw, int | float | Decimal):
        return None
    try:
        exact = Decimal(str(raw)) * 100
        whole = int(exact)
    except (InvalidOperation, ValueError, OverflowError):
        return None
    return Hours(whole) if exact == whole else None


def decimal_hours(hours: int) -> int | float:
    """Return whole hundredths as decimal hours, whole where they are whole."""
    return hours // 100 if hours % 100 == 0 else hours / 100


def hours_kind(*, at_least: int) -> Kind:
    """Return hours, of at least so many hundredths."""
    expected = "decimal hours with at most two places"
    if at_least > 0:
        expected += ", more than 0"
    elif at_least == 0:
        expected += ", 0 or more"

    def read(raw: object, faults: Faults, path: str) -> Any:
        hours = hundredths(raw)
        if hours is None or hours < at_least or hours > 100_000_000:
            return wrong(raw, expected, faults, path)
        return hours

    limit: Schema = {"exclusiveMinimum": 0} if at_least > 0 else {"minimum": 0}
    schema: Schema = {"type": "number", "multipleOf": 0.01, **limit}
    return Kind(expected=expected, read=read, write=decimal_hours, schema=lambda: schema)


def whole_kind(*, at_least: int, at_most: int) -> Kind:
    expected = f"a whole number from {at_least} to {at_most}"

    def read(raw: object, faults: Faults, path: str) -> Any:
        is_whole = isinstance(raw, int) and not isinstance(raw, bool)
        if not is_whole or not at_least <= raw <= at_most:  # type: ignore[operator]  # is_whole has said so
            return wrong(raw, expected, faults, path)
        return raw

    schema: Schema = {"type": "integer", "minimum": at_least, "maximum": at_most}
    return Kind(expected=expected, read=read, write=same, schema=lambda: schema)


def _read_date(raw: object, faults: Faults, path: str) -> Any:
    if isinstance(raw, str) and len(raw) == 10:
        try:
            return date.fromisoformat(raw)
        except ValueError:
            pass
    return wrong(raw, DATE.expected, faults, path)


DATE: Final = Kind(
    expected='a date such as "2027-06-30"',
    read=_read_date,
    write=lambda day: day.isoformat(),
    schema=lambda: {"type": "string", "format": "date"},
)


def _read_text(raw: object, faults: Faults, path: str) -> Any:
    if isinstance(raw, str) and raw.strip():
        return raw.strip()
    return wrong(raw, TEXT.expected, faults, path)


TEXT: Final = Kind(
    expected="a text that is not empty",
    read=_read_text,
    write=same,
    schema=lambda: {"type": "string", "minLength": 1},
)


def _read_truth(raw: object, faults: Faults, path: str) -> Any:
    return raw if isinstance(raw, bool) else wrong(raw, TRUTH.expected, faults, path)


TRUTH: Final = Kind(
    expected="true or false",
    read=_read_truth,
    write=same,
    schema=lambda: {"type": "boolean"},
)


def one_of_kind(words: Sequence[str]) -> Kind:
    expected = "one of " + ", ".join(f'"{word}"' for word in words)

    def read(raw: object, faults: Faults, path: str) -> Any:
        return raw if raw in words else wrong(raw, expected, faults, path)

    schema: Schema = {"enum": list(words)}
    return Kind(expected=expected, read=read, write=same, schema=lambda: schema)


def list_kind(member: Kind, *, expected: str) -> Kind:
    """Return a list of one member or more, read as a tuple."""

    def read(raw: object, faults: Faults, path: str) -> Any:
        if not isinstance(raw, list | tuple) or not raw:
            return wrong(raw, expected, faults, path)
        members = [
            member.read(item, faults, child_path(path, index))
            for index, item in enumerate(raw)
        ]
        return BROKEN if any(item is BROKEN for item in members) else tuple(members)

    return Kind(
        expected=expected,
        read=read,
        write=lambda members: [member.write(item) for item in members],
        schema=lambda: {"type": "array", "minItems": 1, "items": member.schema()},
    )


def reference(name: str, to: Callable[[], Kind]) -> Kind:
    """Return a kind that is defined later, in schemas a reference to `#/$defs/name`."""
    return Kind(
        expected=name,
        read=lambda raw, faults, path: to().read(raw, faults, path),
        write=lambda value: to().write(value),
        schema=lambda: {"$ref": f"#/$defs/{name}"},
    )


def stored(
    key: str, kind: Kind, *, default: Any = dataclasses.MISSING, ask: str = ""
) -> Any:
    """Declare a field kept under `key`. `ask`: what to add where the key is missing.

    A field that still has its default is not written.
    """
    metadata = {"key": key, "kind": kind, "ask": ask}
    if default is dataclasses.MISSING:
        return dataclasses.field(metadata=metadata)
    return dataclasses.field(default=default, metadata=metadata)


def read_mapping(
    raw: object, expected: str, faults: Faults, path: str
) -> Mapping[str, object] | None:
    if isinstance(raw, Mapping) and all(isinstance(key, str) for key in raw):
        return raw
    wrong(raw, expected, faults, path)
    return None


def read_node(node: type[T], raw: object, faults: Faults, path: str) -> Any:
    """Read one node with the keys that its class declares; unknown keys are faults.

    null under a key that may be left out is read as left out.
    """
    found = read_mapping(raw, "an object in braces", faults, path)
    if found is None:
        return BROKEN
    fields = {f.metadata["key"]: f for f in dataclasses.fields(node)}  # type: ignore[arg-type]  # T is a dataclass
    values: dict[str, Any] = {}
    broken = False
    for key in found:
        if key not in fields:
            allowed = ", ".join(fields)
            faults.add(child_path(path, key), f"Unknown key. Expected here: {allowed}.")
            broken = True
    for key, declared in fields.items():
        optional = declared.default is not dataclasses.MISSING
        if key in found and not (optional and found[key] is None):
            kind: Kind = declared.metadata["kind"]
            value = kind.read(found[key], faults, child_path(path, key))
            broken = broken or value is BROKEN
            values[declared.name] = value
        elif not optional:
            ask = declared.metadata["ask"] or f'Add "{key}".'
            faults.add(path, f'"{key}" is missing. {ask}')
            broken = True
    return BROKEN if broken else node(**values)


def write_node(node: Any) -> dict[str, Any]:
    written: dict[str, Any] = {}
    for declared in dataclasses.fields(node):
        value = getattr(node, declared.name)
        has_default = declared.default is not dataclasses.MISSING
        if not (has_default and value == declared.default):
            written[declared.metadata["key"]] = declared.metadata["kind"].write(value)
    return written


def node_schema(node: type) -> Schema:
    """Return the JSON schema of a node: its keys, which are needed, and no others."""
    fields = dataclasses.fields(node)
    return {
        "type": "object",
        "additionalProperties": False,
        "required": [
            f.metadata["key"] for f in fields if f.default is dataclasses.MISSING
        ],
        "properties": {
            f.metadata["key"]: f.metadata["kind"].schema() for f in fields
        },
    }
