"""Which provision of one revision is which of another."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from typing import Final

from notices.models import RuleVersion
from notices.rules.designations import plain_text

Pair = tuple[RuleVersion | None, RuleVersion | None]
Key = Callable[[RuleVersion], Hashable | None]


def _by_title(version: RuleVersion) -> Hashable:
    return version.provision.kind, plain_text(version.provision.title)


def _by_name(version: RuleVersion) -> Hashable | None:
    """An interval by the name under which others build on it."""
    return plain_text(version.interval["id"]) if version.interval else None


def _by_order(version: RuleVersion) -> Hashable:
    return version.provision.kind, version.provision.order


_KEYS: Final[Sequence[Key]] = (_by_title, _by_name, _by_order)
"""What makes two provisions the same, the surest first."""


def paired(before: Sequence[RuleVersion], after: Sequence[RuleVersion]) -> list[Pair]:
    """Return each provision of both with its counterpart, None where it has none.

    In the order of `after`; those that only `before` has stand last.
    """
    counterpart: dict[int, int] = {}
    for key in _KEYS:
        free: dict[Hashable, list[int]] = {}
        for place, version in enumerate(before):
            found = key(version)
            if found is not None and place not in counterpart.values():
                free.setdefault(found, []).append(place)
        for place, version in enumerate(after):
            same = free.get(key(version), [])
            if place not in counterpart and same:
                counterpart[place] = same.pop(0)
    pairs: list[Pair] = [
        (before[counterpart[place]] if place in counterpart else None, version)
        for place, version in enumerate(after)
    ]
    gone = [
        one for place, one in enumerate(before) if place not in counterpart.values()
    ]
    return [*pairs, *((one, None) for one in gone)]
