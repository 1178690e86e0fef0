"""Where the limits of one action fall for one engine: a tree with a point at each leaf.

Hours stand on the engine's own axis (TSN, in hundredths). Nothing here depends on the
day or on the current hours.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import Enum
from functools import lru_cache
from typing import Any, Final, Literal

from notices.rules.facts import Hours
from notices.rules.forms import HoursForm
from notices.rules.times.limits import (
    FURTHER_FLIGHT,
    Cases,
    FirstOf,
    LastOf,
    Limit,
    parse_time,
    time_to_json,
)

NO_HOURS: Final = Hours(0)


class PointKind(Enum):
    """What is known of the point of one limit."""

    POINT = "point"
    EVENT_AHEAD = "event ahead"
    FURTHER_FLIGHT = "further flight"
    WAITING = "waits for an event"
    NOTHING_DUE = "nothing due"
    UNKNOWN = "not known"


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaf:
    """The point of one limit.

    `hours`, `on`: the last hour and the last day still in time; an event that has
    happened may give both, and `event` names it; else `event` is the one ahead or
    waited for, None for other limits. `lowest_hours`: the earliest an estimated point can be.
    `from_hours`, `from_on`: where the limit is counted from; for further flight the
    hours past which it is overdue. `missing`: the facts that are lacking.
    `limit`: None where no case holds or nothing is due any more.
    """

    kind: PointKind
    limit: Limit | None = None
    hours: Hours | None = None
    on: date | None = None
    event: str | None = None
    estimated: bool = False
    lowest_hours: Hours | None = None
    from_hours: Hours | None = None
    from_on: date | None = None
    missing: tuple[str, ...] = ()
    note: str = ""

    @property
    def earliest_hours(self) -> Hours | None:
        return self.hours if self.lowest_hours is None else self.lowest_hours


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowance:
    """How far past a limit work is not yet overdue. An event's point allows nothing."""

    hours: Hours = NO_HOURS
    days: int = 0

    def hours_of(self, leaf: Leaf) -> Hours | None:
        """Return the last hour of a leaf that is not yet overdue."""
        if leaf.hours is None or leaf.event is not None:
            return leaf.hours
        return Hours(leaf.hours + self.hours)

    def day_of(self, leaf: Leaf) -> date | None:
        """Return the last day of a leaf that is not yet overdue."""
        if leaf.on is None or leaf.event is not None:
            return leaf.on
        return leaf.on + timedelta(days=min(self.days, (date.max - leaf.on).days))


Joined = Literal["first_of", "last_of", "one_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """Several points: due at the first, at the last, or at one not known which."""

    joined: Joined
    members: tuple[Tree, ...]
    missing: tuple[str, ...] = ()


Tree = Leaf | Branch


def leaves(tree: Tree) -> Iterator[Leaf]:
    """Yield the leaves from left to right."""
    if isinstance(tree, Leaf):
        yield tree
    else:
        for member in tree.members:
            yield from leaves(member)


def branches(tree: Tree) -> Iterator[Branch]:
    """Yield the branches from the root down."""
    if isinstance(tree, Branch):
        yield tree
        for member in tree.members:
            yield from branches(member)


def join(joined: Joined, members: tuple[Tree, ...]) -> Tree:
    """Return the members under one branch, a single one as it is."""
    return members[0] if len(members) == 1 else Branch(joined=joined, members=members)


def folded_hours(tree: Tree) -> Hours | None:
    """Return the hours of the whole: least in first_of and one_of, greatest in last_of.

    What is not known, and limits of another kind, are left out.
    """
    if isinstance(tree, Leaf):
        return tree.hours
    known = [h for h in map(folded_hours, tree.members) if h is not None]
    if not known:
        return None
    return max(known) if tree.joined == "last_of" else min(known)


def folded_earliest_hours(tree: Tree) -> Hours | None:
    """Return the least hours of the whole, each estimate at the earliest it can be."""
    if isinstance(tree, Leaf):
        return tree.earliest_hours
    known = [h for h in map(folded_earliest_hours, tree.members) if h is not None]
    if not known:
        return None
    return max(known) if tree.joined == "last_of" else min(known)


def is_estimated(tree: Tree) -> bool:
    """Return whether the hours of the whole are those of an estimate."""
    return _deciding(tree)[1]


def _deciding(tree: Tree) -> tuple[Hours | None, bool]:
    """Return the hours of the whole, and whether only an estimate has these hours."""
    if isinstance(tree, Leaf):
        return tree.hours, tree.estimated
    known = [
        (hours, estimated)
        for hours, estimated in map(_deciding, tree.members)
        if hours is not None
    ]
    if not known:
        return None, any(leaf.estimated for leaf in leaves(tree))
    hours = max(known)[0] if tree.joined == "last_of" else min(known)[0]
    return hours, all(estimated for at, estimated in known if at == hours)


def folded_on(tree: Tree) -> date | None:
    """Return the date of the whole, folded as `folded_hours` folds."""
    if isinstance(tree, Leaf):
        return tree.on
    known = [day for day in map(folded_on, tree.members) if day is not None]
    if not known:
        return None
    return max(known) if tree.joined == "last_of" else min(known)


def which(tree: Tree) -> Literal["first", "last"] | None:
    """Return "first" or "last", None for a single limit or where both are nested."""
    kinds = {branch.joined for branch in branches(tree)}
    if kinds == {"first_of"}:
        return "first"
    return "last" if kinds == {"last_of"} else None


def events_named(tree: Tree) -> tuple[str, ...]:
    """Return the events still ahead or waited for, each once, further flight first."""
    ahead = (PointKind.EVENT_AHEAD, PointKind.WAITING, PointKind.FURTHER_FLIGHT)
    found = [leaf.event for leaf in leaves(tree) if leaf.kind in ahead]
    names = list(dict.fromkeys(name for name in found if name))
    return tuple(sorted(names, key=lambda name: name != FURTHER_FLIGHT))


def missing_facts(tree: Tree) -> tuple[str, ...]:
    """Return the facts that are lacking anywhere in the tree, each once."""
    found = [fact for leaf in leaves(tree) for fact in leaf.missing]
    found += [fact for branch in branches(tree) for fact in branch.missing]
    return tuple(dict.fromkeys(found))


def unknown_beside(tree: Tree, joined: Joined) -> tuple[Leaf, ...]:
    """Return the leaves without a known point that stand beside a known one.

    In a `first_of` it may fall due earlier by them than the known point says, in a
    `last_of` later.
    """
    found: list[Leaf] = []
    for branch in branches(tree):
        unknown = [member for member in branch.members if not _has_point(member)]
        if branch.joined == joined and len(unknown) < len(branch.members):
            found += [
                leaf
                for member in unknown
                for leaf in leaves(member)
                if leaf.kind is PointKind.UNKNOWN
            ]
    return tuple(found)


def _has_point(tree: Tree) -> bool:
    return folded_hours(tree) is not None or folded_on(tree) is not None


def is_further_flight(tree: Tree) -> bool:
    """Return whether no hours and no days are allowed any more."""
    if isinstance(tree, Leaf):
        return tree.kind is PointKind.FURTHER_FLIGHT
    answers = [is_further_flight(member) for member in tree.members]
    return all(answers) if tree.joined == "last_of" else any(answers)


def waits(tree: Tree) -> bool:
    """Return whether nothing is due: no case holds, or an event has not happened."""
    if isinstance(tree, Leaf):
        return tree.kind in (PointKind.WAITING, PointKind.NOTHING_DUE)
    answers = [waits(member) for member in tree.members]
    return any(answers) if tree.joined == "last_of" else all(answers)


def same_points(one: Tree, other: Tree) -> bool:
    """Return whether two trees fall on the same points, however they are worded."""
    return _bare(one) == _bare(other)


def _bare(tree: Tree) -> Tree:
    if isinstance(tree, Leaf):
        return replace(tree, limit=None, from_hours=None, from_on=None, note="")
    return replace(tree, members=tuple(_bare(member) for member in tree.members))


def tree_to_json(tree: Tree) -> dict[str, Any]:
    """Return the tree as written, with a `point` at each limit.

    `{"first_of": [{"hours": 50, "after": "effective", "point": {"hours": 530}}]}`
    """
    if isinstance(tree, Branch):
        written: dict[str, Any] = {tree.joined: [tree_to_json(m) for m in tree.members]}
        return {**written, "missing": list(tree.missing)} if tree.missing else written
    limit = {} if tree.limit is None else time_to_json(tree.limit)
    return {**limit, "point": _point_to_json(tree)}


def _point_to_json(leaf: Leaf) -> dict[str, Any]:
    return {
        "kind": leaf.kind.value,
        "hours": _hours_out(leaf.hours),
        "date": _date_out(leaf.on),
        "event": leaf.event,
        "estimated": leaf.estimated,
        "lowest_hours": _hours_out(leaf.lowest_hours),
        "from_hours": _hours_out(leaf.from_hours),
        "from_date": _date_out(leaf.from_on),
        "missing": list(leaf.missing),
        "note": leaf.note,
    }


def tree_from_json(raw: Mapping[str, Any], *, bare: bool = False) -> Tree:
    """Read back what `tree_to_json` has written.

    `bare`: without the limits as they are worded, which decide nothing any more.
    """
    joined: Joined
    for joined in ("first_of", "last_of", "one_of"):
        if joined in raw:
            members = tuple(tree_from_json(member, bare=bare) for member in raw[joined])
            missing = tuple(raw.get("missing", ()))
            return Branch(joined=joined, members=members, missing=missing)
    limit = {} if bare else {k: value for k, value in raw.items() if k != "point"}
    point = raw["point"]
    return Leaf(
        kind=PointKind(point["kind"]),
        limit=_limit(json.dumps(limit)) if limit else None,
        hours=_hours_in(point["hours"]),
        on=_date_in(point["date"]),
        event=point["event"],
        estimated=point["estimated"],
        lowest_hours=_hours_in(point["lowest_hours"]),
        from_hours=_hours_in(point["from_hours"]),
        from_on=_date_in(point["from_date"]),
        missing=tuple(point["missing"]),
        note=point["note"],
    )


@lru_cache(maxsize=20_000)
def _limit(text: str) -> Limit:
    """Return a limit as written: one rule's limits come back with every engine."""
    time = parse_time(json.loads(text))
    assert not isinstance(time, FirstOf | LastOf | Cases)
    return time


def _hours_in(raw: float | None) -> Hours | None:
    return None if raw is None else Hours(round(raw * 100))


def _hours_out(hours: Hours | None) -> Any:
    return None if hours is None else HoursForm().write(hours)


def _date_out(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def _date_in(raw: str | None) -> date | None:
    return None if raw is None else date.fromisoformat(raw)
