"""An engine taken in with its facts and its ledger, as another station handed it over."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from tracker.accounts.access import Right, Viewer
from tracker.compliance import ledger
from tracker.compliance.changes.acting import entering, refresh_engines
from tracker.compliance.handed_over import take_in_alternatives
from tracker.compliance.ledger import Link
from tracker.fleet import handed_over
from tracker.fleet.models import Engine


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenIn:
    """The engine. `unplaced`: alternative methods that the library has no place for."""

    engine: Engine
    unplaced: tuple[str, ...]


def take_in(
    viewer: Viewer,
    *,
    chain_id: UUID,
    engine_type: Mapping[str, Any],
    tables: Mapping[str, Sequence[dict[str, Any]]],
    alternatives: Sequence[Mapping[str, Any]],
    links: Sequence[Link],
    files: Mapping[str, bytes],
    at: datetime,
) -> TakenIn:
    """Return the engine, entered whole or not at all, its findings worked out.

    Raises RuleError with the place of what is wrong, Refused where the station keeps
    the engine already.
    """
    with entering(viewer, Right.IMPORT_FLEET):
        engine = handed_over.write_engine(
            viewer.station,
            dict(engine_type),
            tables,
            chain_id=chain_id,
            at=at,
            by=viewer.user,
        )
        ledger.take_in_chain(engine, links, files, by=viewer.user)
        unplaced = take_in_alternatives(engine, alternatives, by=viewer.user)
        refresh_engines(viewer, [engine.pk], at=at)
        return TakenIn(engine=engine, unplaced=tuple(unplaced))
