"""Parts that do not go together, or of which it cannot be said, by their findings."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from notices.library.contents import roles_named
from notices.models import Provision
from notices.rules.designations import plain_text
from tracker.compliance.due import DueRow
from tracker.compliance.overview import PartNow


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """A finding about parts that must go together, with the parts that it means.

    `unrecorded`: roles that the rule names and of which no part is recorded.
    """

    row: DueRow
    parts: tuple[PartNow, ...]
    unrecorded: tuple[str, ...]


def conflicts_of(
    rows: Iterable[DueRow], parts: Sequence[PartNow]
) -> tuple[Conflict, ...]:
    """Return those among open findings, in their order. They are read with their rules."""
    return tuple(
        _conflict(row, parts)
        for row in rows
        if row.provision.kind == Provision.Kind.TOGETHER
    )


def _conflict(row: DueRow, parts: Sequence[PartNow]) -> Conflict:
    """The parts by which the core decided, where it names two of them; else those of
    every role that the rule names, told apart by the core's reasons where they can be.
    """
    rule = row.finding.rule
    roles = [row.provision.role] if row.provision.role else []
    roles += roles_named([rule.applicability, rule.condition])
    by_role = {
        role: [part for part in parts if plain_text(part.description.role) == role]
        for role in map(plain_text, roles)
    }
    told = {role: _told(row, fitted) for role, fitted in by_role.items()}
    if not row.finding.undetermined and sum(map(bool, told.values())) > 1:
        return Conflict(row=row, parts=_flat(told.values()), unrecorded=())
    meant = [told[role] or fitted for role, fitted in by_role.items()]
    unrecorded = tuple(role for role, fitted in by_role.items() if not fitted)
    return Conflict(row=row, parts=_flat(meant), unrecorded=unrecorded)


def _told(row: DueRow, parts: Iterable[PartNow]) -> list[PartNow]:
    """Those that the finding is about, or that one of its reasons names as fitted."""
    own = row.finding.part_id
    return [
        part
        for part in parts
        if part.description.part_id == own
        or any(
            re.search(rf"\bfitted {re.escape(part.label)}:", reason, re.IGNORECASE)
            for reason in row.finding.reasons
        )
    ]


def _flat(lists: Iterable[Sequence[PartNow]]) -> tuple[PartNow, ...]:
    return tuple(part for some in lists for part in some)
