"""The due point of one action for one engine: what changes with facts, not with days.

It is stored as JSON with flat columns to select by, and read back exactly.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Final, Literal

from notices.rules.facts import Hours
from notices.rules.forms import HoursForm
from notices.rules.times.points import (
    NO_HOURS,
    Allowance,
    Branch,
    Leaf,
    PointKind,
    Tree,
    branches,
    events_named,
    folded_earliest_hours,
    folded_hours,
    folded_on,
    is_estimated,
    is_further_flight,
    leaves,
    missing_facts,
    tree_from_json,
    tree_to_json,
    which,
)

Closed = Literal["does not apply", "terminated", "complied with", "nothing due"]
_HOURS: Final = HoursForm()


@dataclass(frozen=True, slots=True, kw_only=True)
class Late:
    """By how much the last record was late; inside a tolerance it was not late."""

    hours: Hours = NO_HOURS
    days: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class DuePoint:
    """Where an action falls due for one engine or part.

    `closed`: nothing can fall due, and why; `tree` may then still name an event waited
    for. `undetermined`: a fact is missing on which the state depends, whatever the
    day; the rest is computed as if the action applied and were still open. Even where
    it is false, the state can be undetermined by a leaf of the tree. `until`: where
    the repeats end, None where they do not or where that is decided. `missing`: the
    facts that are lacking. `last_hours`, `last_on`: the last record that counts.
    `grounds`: sentences that say why this one of several limits holds; whoever knows
    what it hangs on adds them. `approval`: the sentence of an approval under which
    something else is done, or at another time, than the document says.
    """

    closed: Closed | None = None
    tree: Tree | None = None
    until: Tree | None = None
    undetermined: bool = False
    missing: tuple[str, ...] = ()
    reasons: tuple[str, ...] = ()
    late: Late | None = None
    repeats: bool = False
    last_on: date | None = None
    last_hours: Hours | None = None
    tolerance_hours: Hours = NO_HOURS
    tolerance_days: int = 0
    tolerance_en_route: bool = False
    grounds: tuple[str, ...] = ()
    approval: str = ""

    @property
    def all_grounds(self) -> str:
        """Why this limit holds and no other, in one text."""
        return " ".join((*self.grounds, self.approval)).strip()

    @property
    def hours(self) -> Hours | None:
        """TSN at which it is due, folded from the leaves."""
        return None if self._open is None else folded_hours(self._open)

    @property
    def on(self) -> date | None:
        """Last day in time, folded from the leaves."""
        return None if self._open is None else folded_on(self._open)

    @property
    def events(self) -> tuple[str, ...]:
        """Events ahead or waited for, further flight first."""
        return () if self.tree is None else events_named(self.tree)

    @property
    def which(self) -> Literal["first", "last"] | None:
        """First or last, None for one limit or where both are nested."""
        return None if self._open is None else which(self._open)

    @property
    def further_flight(self) -> bool:
        """Due before further flight, as long as it is open or undetermined."""
        return self._open is not None and is_further_flight(self._open)

    @property
    def estimated(self) -> bool:
        """Its hours are estimated from readings on both sides of a date."""
        return self._open is not None and is_estimated(self._open)

    @property
    def candidates(self) -> tuple[Tree, ...]:
        """The points of which one holds, where it is not known which."""
        if self._open is None:
            return ()
        found: list[Tree] = []
        for branch in branches(self._open):
            if branch.joined == "one_of":
                found.extend(branch.members)
        return tuple(found)

    @property
    def earliest_hours(self) -> Hours | None:
        """The hours with every estimate at its earliest, folded from the leaves.

        No tolerance. Without a date or a further flight in the tree, nothing is coming
        due before this less the lead.
        """
        return None if self._open is None else folded_earliest_hours(self._open)

    @property
    def earliest_date(self) -> date | None:
        """Least date of any leaf, without tolerance."""
        return min((x.on for x in self._leaves if x.on is not None), default=None)

    @property
    def latest_hours(self) -> Hours | None:
        """Greatest hours of any leaf."""
        return max((x.hours for x in self._leaves if x.hours is not None), default=None)

    @property
    def latest_date(self) -> date | None:
        """Greatest date of any leaf."""
        return max((x.on for x in self._leaves if x.on is not None), default=None)

    @property
    def overdue_hours(self) -> Hours | None:
        """Least hours past which a leaf is overdue, with the tolerance that always holds.

        Where `flat`, more hours than this are overdue and no fewer are.
        """
        allowance = self.allowance(en_route=False)
        known = [allowance.hours_of(leaf) for leaf in self._leaves]
        return min((h for h in known if h is not None), default=None)

    @property
    def overdue_date(self) -> date | None:
        """Least day after which a leaf is overdue, with the tolerance that always holds."""
        allowance = self.allowance(en_route=False)
        known = [allowance.day_of(leaf) for leaf in self._leaves]
        return min((day for day in known if day is not None), default=None)

    @property
    def further_flight_hours(self) -> Hours | None:
        """Hours past which a further-flight limit is overdue, least of them."""
        flights = [
            x.from_hours
            for x in self._leaves
            if x.kind is PointKind.FURTHER_FLIGHT and x.from_hours is not None
        ]
        return min(flights, default=None)

    @property
    def flat(self) -> bool:
        """The columns alone decide the state, without the tree.

        That is: one limit or one first_of, every point known, no end of repeats.
        """
        if self.undetermined or self.until is not None or self._open is None:
            return False
        known = (PointKind.POINT, PointKind.EVENT_AHEAD, PointKind.FURTHER_FLIGHT)
        joined = {branch.joined for branch in branches(self._open)}
        return joined <= {"first_of"} and all(x.kind in known for x in self._leaves)

    @property
    def all_missing(self) -> tuple[str, ...]:
        """Facts lacking for the state or for a point, each once."""
        in_tree = () if self.tree is None else missing_facts(self.tree)
        return tuple(dict.fromkeys(self.missing + in_tree))

    @property
    def _open(self) -> Tree | None:
        return self.tree if self.closed is None else None

    @property
    def _leaves(self) -> tuple[Leaf, ...]:
        return () if self._open is None else tuple(leaves(self._open))

    def allowance(self, *, en_route: bool) -> Allowance:
        """Return the tolerance that holds, under way or not."""
        if self.tolerance_en_route and not en_route:
            return Allowance()
        return Allowance(hours=self.tolerance_hours, days=self.tolerance_days)

    def to_json(self) -> dict[str, Any]:
        """Return the JSON value to store; `from_json` reads back an equal point."""
        return {
            "closed": self.closed,
            "tree": None if self.tree is None else tree_to_json(self.tree),
            "until": None if self.until is None else tree_to_json(self.until),
            "undetermined": self.undetermined,
            "missing": list(self.missing),
            "reasons": list(self.reasons),
            "late": None if self.late is None else late_to_json(self.late),
            "repeats": self.repeats,
            "last_date": None if self.last_on is None else self.last_on.isoformat(),
            "last_hours": _write(self.last_hours),
            "tolerance": {
                "hours": _write(self.tolerance_hours),
                "days": self.tolerance_days,
                "en_route": self.tolerance_en_route,
            },
            "grounds": list(self.grounds),
            "approval": self.approval,
        }

    @classmethod
    def from_json(cls, raw: Mapping[str, Any], *, bare: bool = False) -> DuePoint:
        """Read back what `to_json` has written. `bare`: as `tree_from_json` has it."""
        late, tolerance, last_on = raw["late"], raw["tolerance"], raw["last_date"]
        return cls(
            closed=raw["closed"],
            tree=None
            if raw["tree"] is None
            else tree_from_json(raw["tree"], bare=bare),
            until=None
            if raw["until"] is None
            else tree_from_json(raw["until"], bare=bare),
            undetermined=raw["undetermined"],
            missing=tuple(raw["missing"]),
            reasons=tuple(raw["reasons"]),
            late=None if late is None else _late(late),
            repeats=raw["repeats"],
            last_on=None if last_on is None else date.fromisoformat(last_on),
            last_hours=_read(raw["last_hours"]),
            tolerance_hours=_read(tolerance["hours"]) or NO_HOURS,
            tolerance_days=tolerance["days"],
            tolerance_en_route=tolerance["en_route"],
            grounds=tuple(raw.get("grounds", ())),
            approval=raw.get("approval", ""),
        )


def late_to_json(late: Late) -> dict[str, Any]:
    """Return lateness as decimal hours, with days where there are any."""
    days = {"days": late.days} if late.days else {}
    return {"hours": _HOURS.write(late.hours), **days}


def _late(raw: Mapping[str, Any]) -> Late:
    return Late(hours=_read(raw["hours"]) or NO_HOURS, days=raw.get("days", 0))


def _write(hours: Hours | None) -> Any:
    return None if hours is None else _HOURS.write(hours)


def _read(raw: float | None) -> Hours | None:
    return None if raw is None else Hours(round(raw * 100))


def one_of(members: tuple[Tree, ...], missing: tuple[str, ...]) -> Tree:
    """Return several points of which one holds, it is not known which."""
    return Branch(joined="one_of", members=members, missing=missing)
