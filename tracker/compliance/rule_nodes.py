"""Every key of a rule as it is stated, with what it is about."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from tracker.compliance.rules import CompiledRule


@dataclass(frozen=True, slots=True)
class Node:
    """One key of a rule with what stands beside it.

    `role`: of the part that it asks about; `this`: of the parts the provision is about.
    """

    key: str
    value: Any
    beside: Mapping[str, Any]
    role: str
    this: str


def nodes_of(rule: CompiledRule) -> Iterator[Node]:
    """Yield the keys of all conditions, times and oils of a rule."""
    version = rule.version
    stated = (version.applicability, version.condition, version.action, version.fluids)
    for raw in stated:
        yield from _nodes_in(raw, "", rule.provision.role)


def _nodes_in(raw: Any, role: str, this: str) -> Iterator[Node]:
    if isinstance(raw, list):
        for member in raw:
            yield from _nodes_in(member, role, this)
    elif isinstance(raw, Mapping):
        for key, value in raw.items():
            yield Node(key, value, raw, role, this)
            about = this if key == "this" else role
            if key == "part" and isinstance(value, Mapping):
                about = value["role"]
            yield from _nodes_in(value, about, this)


def texts_in(value: Any) -> list[str]:
    """Return the texts of a value that is one text or a list."""
    listed = value if isinstance(value, list) else [value]
    return [text for text in listed if isinstance(text, str)]
