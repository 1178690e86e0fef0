"""A JSON object read key by key, where a fault leaves its key unknown.

Absent and null mean unknown. Every fault is noted with its path, so that all of an
object come together.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable, Mapping
from typing import Any, Final, TypeVar

from notices.rules.errors import Fault, child_path
from notices.rules.facts import UNKNOWN
from notices.rules.forms import (
    Flag,
    Form,
    Json,
    RefusedError,
    Text,
    note_unknown_keys,
    refuse,
    shown,
)

T = TypeVar("T")

MOST_MEMBERS: Final = 5000


class ObjectReader:
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
        value = self.value(key, Flag())
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

    def inner(self, key: str, keys: Iterable[str], what: str) -> ObjectReader | None:
        """Return a reader of the object under the key, None if absent or faulty."""
        if self.given(key):
            with contextlib.suppress(RefusedError):
                return ObjectReader(
                    self.raw[key], self.at(key), keys, what, self.faults
                )
        return None
