"""How values are written in JSON: read with every fault named, written back, described.

A form reads one kind of value (a designation, a period, a choice of words), writes it
back so that reading gives the same, and describes itself as JSON Schema. Dataclasses
whose fields carry `keyed(...)` are read, written and described from those fields alone.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any, Protocol

from notices.rules.errors import Fault, child_path
from notices.rules.facts import Hours
from notices.rules.phrases import LONGEST_QUOTED, quoted

LONGEST_TEXT = 2000
MOST_HOURS = 10_000_000
MOST_PLACES = 6

Json = Any
"""A value as json.loads returns it; checked by the forms before it is used."""


class RefusedError(ValueError):
    """A value cannot be read; its faults are already in the list."""


class Form(Protocol):
    """One kind of JSON value."""

    def read(self, raw: Json, path: str, faults: list[Fault]) -> Any:
        """Return the value, or note the faults and raise RefusedError."""

    def write(self, value: Any) -> Json:
        """Return JSON that reads as the same value."""

    def schema(self) -> dict[str, Json]:
        """Return a JSON Schema (2020-12) of the value."""


def refuse(faults: list[Fault], path: str, message: str) -> RefusedError:
    """Note the fault and return what to raise."""
    faults.append(Fault(path, message))
    return RefusedError(message)


def shown(raw: Json) -> str:
    """Return a JSON value as a short quotation for a message."""
    match raw:
        case None:
            return "null"
        case bool():
            return "true" if raw else "false"
        case str():
            return quoted(raw)
        case Mapping():
            return "an object"
        case list() | tuple():
            return "a list"
    return str(raw)[:LONGEST_QUOTED]


@dataclass(frozen=True, slots=True)
class Text:
    """A text that says something. `check` raises ValueError with a full sentence."""

    what: str
    check: Callable[[str], object] | None = None
    empty: bool = False

    def read(self, raw: Json, path: str, faults: list[Fault]) -> str:
        """Return the text as written."""
        if not isinstance(raw, str):
            raise refuse(faults, path, f"Expected {self.what}, not {shown(raw)}.")
        if len(raw) > LONGEST_TEXT:
            raise refuse(
                faults, path, f"At most {LONGEST_TEXT} characters are allowed."
            )
        if not raw.strip() and not self.empty:
            raise refuse(faults, path, f"Expected {self.what}, not an empty text.")
        if self.check is not None:
            try:
                self.check(raw)
            except ValueError as error:
                raise refuse(faults, path, str(error)) from error
        return raw

    def write(self, value: str) -> Json:
        """Return the text."""
        return value

    def schema(self) -> dict[str, Json]:
        """A string with something in it."""
        least = {} if self.empty else {"minLength": 1}
        return {"type": "string", **least, "description": self.what}


@dataclass(frozen=True, slots=True)
class Made:
    """A text turned into a value by `make`; `text` gives the text back."""

    form: Text
    make: Callable[[str], Any]
    text: Callable[[Any], str]

    def read(self, raw: Json, path: str, faults: list[Fault]) -> Any:
        """Return what `make` makes of the text."""
        read = self.form.read(raw, path, faults)
        try:
            return self.make(read)
        except ValueError as error:
            raise refuse(faults, path, str(error)) from error

    def write(self, value: Any) -> Json:
        """Return the text."""
        return self.text(value)

    def schema(self) -> dict[str, Json]:
        """The schema of the text."""
        return self.form.schema()


@dataclass(frozen=True, slots=True)
class ListOf:
    """A list of at least one value; a single one may stand alone only if `single`."""

    form: Form
    what: str

    def read(self, raw: Json, path: str, faults: list[Fault]) -> tuple[Any, ...]:
        """Return all values, after looking at each."""
        if not isinstance(raw, list | tuple):
            raise refuse(
                faults, path, f"Expected a list of {self.what}, not {shown(raw)}."
            )
        if not raw:
            raise refuse(
                faults,
                path,
                f"Expected at least one of {self.what}; the list is empty.",
            )
        values, failed = [], False
        for index, member in enumerate(raw):
            try:
                values.append(self.form.read(member, child_path(path, index), faults))
            except RefusedError:
                failed = True
        if failed:
            raise RefusedError(path)
        return tuple(values)

    def write(self, value: Sequence[Any]) -> Json:
        """Return the list."""
        return [self.form.write(member) for member in value]

    def schema(self) -> dict[str, Json]:
        """An array of at least one."""
        return {"type": "array", "items": self.form.schema(), "minItems": 1}


@dataclass(frozen=True, slots=True)
class Words:
    """One of a few words."""

    words: tuple[str, ...]

    def read(self, raw: Json, path: str, faults: list[Fault]) -> str:
        """Return the word."""
        if not isinstance(raw, str) or raw not in self.words:
            listed = " or ".join(f'"{word}"' for word in self.words)
            raise refuse(faults, path, f"Expected {listed}, not {shown(raw)}.")
        return raw

    def write(self, value: str) -> Json:
        """Return the word."""
        return value

    def schema(self) -> dict[str, Json]:
        """An enumeration."""
        return {"enum": list(self.words)}


@dataclass(frozen=True, slots=True)
class Flag:
    """True or false, or only one of them where `only` is given."""

    only: bool | None = None

    def read(self, raw: Json, path: str, faults: list[Fault]) -> bool:
        """Return the flag."""
        if not isinstance(raw, bool) or self.only not in (None, raw):
            wanted = "true or false" if self.only is None else shown(self.only)
            raise refuse(faults, path, f"Expected {wanted}, not {shown(raw)}.")
        return raw

    def write(self, value: bool) -> Json:
        """Return the flag."""
        return value

    def schema(self) -> dict[str, Json]:
        """A boolean."""
        return {"type": "boolean"} if self.only is None else {"const": self.only}


@dataclass(frozen=True, slots=True)
class Whole:
    """A whole number from `least` on."""

    least: int
    most: int

    def read(self, raw: Json, path: str, faults: list[Fault]) -> int:
        """Return the number."""
        if isinstance(raw, bool) or not isinstance(raw, int):
            raise refuse(faults, path, f"Expected a whole number, not {shown(raw)}.")
        if not self.least <= raw <= self.most:
            raise refuse(
                faults,
                path,
                f"Expected a number from {self.least} to {self.most}, not {shown(raw)}.",
            )
        return raw

    def write(self, value: int) -> Json:
        """Return the number."""
        return value

    def schema(self) -> dict[str, Json]:
        """An integer with bounds."""
        return {"type": "integer", "minimum": self.least, "maximum": self.most}


def decimal_of(raw: Json) -> Decimal | None:
    """Return a JSON number as written, None if it is not a finite number."""
    if isinstance(raw, bool) or not isinstance(raw, int | float | Decimal):
        return None
    value = Decimal(repr(raw)) if isinstance(raw, float) else Decimal(raw)
    return value if value.is_finite() else None


def number_of(value: Fraction) -> Json:
    """Return an exact decimal fraction as a JSON number."""
    return value.numerator if value.denominator == 1 else float(value)


@dataclass(frozen=True, slots=True)
class HoursForm:
    """Decimal hours with up to two places, kept in whole hundredths."""

    def read(self, raw: Json, path: str, faults: list[Fault]) -> Hours:
        """Return the hours in hundredths."""
        value = decimal_of(raw)
        if value is None:
            raise refuse(
                faults,
                path,
                f"Expected hours as a number, such as 512.3, not {shown(raw)}.",
            )
        if not 0 <= value <= MOST_HOURS:
            raise refuse(
                faults,
                path,
                f"Expected hours from 0 to {MOST_HOURS}, not {shown(raw)}.",
            )
        hundredths = value * 100
        if hundredths != int(hundredths):
            raise refuse(
                faults,
                path,
                f"Hours have at most two decimal places, not {shown(raw)}.",
            )
        return Hours(int(hundredths))

    def write(self, value: Hours) -> Json:
        """Return decimal hours."""
        return number_of(Fraction(value, 100))

    def schema(self) -> dict[str, Json]:
        """A number from 0 on."""
        return {
            "type": "number",
            "minimum": 0,
            "maximum": MOST_HOURS,
            "multipleOf": 0.01,
            "description": "hours",
        }


@dataclass(frozen=True, slots=True)
class Exact:
    """A number kept as an exact fraction, between `least` and `most`."""

    what: str
    least: int
    most: int

    def read(self, raw: Json, path: str, faults: list[Fault]) -> Fraction:
        """Return the number."""
        value = decimal_of(raw)
        if value is None or not self.least <= value <= self.most:
            raise refuse(
                faults,
                path,
                f"Expected {self.what} from {self.least} to {self.most}, not {shown(raw)}.",
            )
        exact = Fraction(value)
        if (exact * 10**MOST_PLACES).denominator != 1:
            raise refuse(
                faults, path, f"At most {MOST_PLACES} decimal places are allowed."
            )
        return exact

    def write(self, value: Fraction) -> Json:
        """Return the number."""
        return number_of(value)

    def schema(self) -> dict[str, Json]:
        """A number with bounds."""
        return {
            "type": "number",
            "minimum": self.least,
            "maximum": self.most,
            "description": self.what,
        }


_ISO = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


@dataclass(frozen=True, slots=True)
class DateForm:
    """A plain date, ISO 8601 with hyphens."""

    def read(self, raw: Json, path: str, faults: list[Fault]) -> date:
        """Return the date."""
        if isinstance(raw, str) and _ISO.fullmatch(raw):
            try:
                return date.fromisoformat(raw)
            except ValueError as error:
                raise refuse(
                    faults, path, f"{shown(raw)} is not a day of the calendar."
                ) from error
        raise refuse(
            faults, path, f'Expected a date such as "2024-02-01", not {shown(raw)}.'
        )

    def write(self, value: date) -> Json:
        """Return the date in ISO form."""
        return value.isoformat()

    def schema(self) -> dict[str, Json]:
        """A date string."""
        return {"type": "string", "format": "date"}


@dataclass(frozen=True, slots=True)
class Either:
    """One of several forms; `pick` says by the look of the value which one to read.

    `pick` returns an index into `forms`; `holds` the same for a value to write.
    """

    forms: tuple[Form, ...]
    pick: Callable[[Json], int]
    holds: Callable[[Any], int]

    def read(self, raw: Json, path: str, faults: list[Fault]) -> Any:
        """Return what the form that fits reads."""
        return self.forms[self.pick(raw)].read(raw, path, faults)

    def write(self, value: Any) -> Json:
        """Return what the form that fits writes."""
        return self.forms[self.holds(value)].write(value)

    def schema(self) -> dict[str, Json]:
        """Any of the schemas."""
        return {"anyOf": [form.schema() for form in self.forms]}


MISSING: Any = dataclasses.MISSING


def keyed(key: str, form: Form, *, default: Any = MISSING) -> Any:
    """Return a dataclass field that stands under `key` in JSON; optional by default."""
    return field(metadata={"key": key, "form": form}, default=default)


def keyed_fields(kind: type) -> list[tuple[str, dataclasses.Field[Any], Form]]:
    """Return key, field and form of each field that stands in JSON, in order."""
    return [
        (f.metadata["key"], f, f.metadata["form"])
        for f in dataclasses.fields(kind)
        if "key" in f.metadata
    ]


@dataclass(frozen=True, slots=True)
class ObjectOf:
    """A JSON object read from the keyed fields of a dataclass.

    A dataclass may have `check(self) -> str | None` in `checked`: what contradicts.
    """

    kind: type
    what: str

    def read(self, raw: Json, path: str, faults: list[Fault]) -> Any:
        """Return an instance, after looking at every key."""
        if not isinstance(raw, Mapping):
            raise refuse(
                faults, path, f"Expected {self.what} as an object, not {shown(raw)}."
            )
        fields = keyed_fields(self.kind)
        before = len(faults)
        note_unknown_keys(raw, [key for key, _, _ in fields], path, faults)
        values: dict[str, Any] = {}
        for key, owned, form in fields:
            if key in raw:
                try:
                    values[owned.name] = form.read(
                        raw[key], child_path(path, key), faults
                    )
                except RefusedError:
                    continue
            elif owned.default is MISSING:
                faults.append(Fault(path, f'The key "{key}" is missing.'))
        if len(faults) > before:
            raise RefusedError(path)
        try:
            return self.kind(**values)
        except ValueError as error:
            raise refuse(faults, path, str(error)) from error

    def write(self, value: Any) -> Json:
        """Return the keys that differ from their defaults."""
        return {
            key: form.write(getattr(value, owned.name))
            for key, owned, form in keyed_fields(self.kind)
            if getattr(value, owned.name) != owned.default
        }

    def schema(self) -> dict[str, Json]:
        """An object without other keys."""
        fields = keyed_fields(self.kind)
        return {
            "type": "object",
            "properties": {key: form.schema() for key, _, form in fields},
            "required": [key for key, owned, _ in fields if owned.default is MISSING],
            "additionalProperties": False,
        }


def note_unknown_keys(
    raw: Mapping[Any, Json], known: Sequence[str], path: str, faults: list[Fault]
) -> None:
    """Note each key that is not known, with the keys that are."""
    listed = ", ".join(f'"{key}"' for key in known)
    for key in raw:
        if key not in known:
            faults.append(
                Fault(
                    child_path(path, str(key)),
                    f'The key "{key}" is not known here. Expected: {listed}.',
                )
            )
