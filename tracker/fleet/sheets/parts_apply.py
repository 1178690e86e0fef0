"""The good rows of a planned parts sheet -> the writes about parts."""

from __future__ import annotations

from datetime import datetime

from tracker.accounts.models import User
from tracker.fleet.errors import Refused
from tracker.fleet.models import Engine
from tracker.fleet.parts import add_part, correct_fitting, describe_part
from tracker.fleet.sheets.parts_plan import PartWish
from tracker.fleet.sheets.plan import Plan, RowRefused


def apply_parts(plan: Plan[PartWish], *, by: User, at: datetime) -> list[Engine]:
    """Write the good rows of a plan made in this transaction; return their engines.

    RowRefused, with the line, for a row that can no longer be written.
    """
    engines: dict[int, Engine] = {}
    for row in (*plan.to_add, *plan.to_change):
        try:
            _write(row.wish, by, at)
        except Refused as refused:
            raise RowRefused(row.line, refused) from refused
        engines[row.wish.engine.pk] = row.wish.engine
    return list(engines.values())


def _write(wish: PartWish, by: User, at: datetime) -> None:
    if wish.fitting is None:
        add_part(
            wish.engine, wish.entry, wish.fit, true_from=wish.true_from, at=at, by=by
        )
        return
    if wish.described:
        describe_part(wish.fitting.part, wish.entry, at=at, by=by)
    if wish.fitted:
        correct_fitting(wish.fitting, wish.fit, at=at, by=by)
