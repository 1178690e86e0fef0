"""The identity of many engines on a day, as columns: no file is read, no row is kept.

Columns say of most engines that a rule surely does not apply to them, so that the files
of the others alone need to be read. They hold what was so on the day that is asked for,
not what `Engine` repeats of the newest row, which may be dated ahead.

An engine that is left out is one whose answer the passing of days cannot change, unless
its identity changes. A row of identity or a rebuild dated ahead is among those of which
`days_ahead` speaks: it was written by an act on the engine, which set
`Standing.again_on` to that day, and a full evaluation keeps it there. So nothing of
that needs to be noted here.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from notices.rules.columns import Columns, IdentityRow, columns_of
from notices.rules.conditions import Condition
from tracker.compliance.facts.identities import STATED, identity_row
from tracker.compliance.facts.rows import ALL_THAT_IS_KNOWN, happened
from tracker.compliance.many_keys import among
from tracker.fleet.history import as_of
from tracker.fleet.models import Engine, Identity, Overhaul


@dataclass(frozen=True, slots=True, kw_only=True)
class Fleet:
    """Engines by their keys, and what they are."""

    keys: tuple[int, ...]
    columns: Columns

    def concerned_by(self, conditions: Iterable[Condition]) -> list[int]:
        """Return the keys of the engines to which one of these may apply."""
        return [self.keys[place] for place in self.columns.left_by(conditions)]


def fleet_of(engines: QuerySet[Engine], *, on: date) -> Fleet:
    """Return what these engines were on a day, as is known now. Three queries."""
    keys = tuple(engines.order_by("pk").values_list("pk", flat=True))
    of_fleet = among(keys)
    identities = as_of(Identity, of_fleet, on=on, known_at=ALL_THAT_IS_KNOWN)
    stated = {key: row for key, *row in identities.values_list("engine", *STATED)}
    rebuilds = happened(Overhaul, of_fleet, on, ALL_THAT_IS_KNOWN).filter(
        kind=Overhaul.Kind.REBUILD
    )
    last_rebuild = dict(rebuilds.values_list("engine", "on"))
    return Fleet(
        keys=keys,
        columns=columns_of(
            identity_row(stated[key], last_rebuild.get(key))
            if key in stated
            else IdentityRow()
            for key in keys
        ),
    )
