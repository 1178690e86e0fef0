"""An engine taken in with its facts and its ledger, as another station handed it over."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from tracker.accounts.access import Right, Viewer
from tracker.compliance import ledger
from tracker.compliance.changes.acting import entering, refresh_engines
from tracker.compliance.ledger import Link
from tracker.fleet import handed_over
from tracker.fleet.models import Engine


def take_in(
    viewer: Viewer,
    *,
    chain_id: UUID,
    engine_type: Mapping[str, Any],
    tables: Mapping[str, Sequence[dict[str, Any]]],
    links: Sequence[Link],
    files: Mapping[str, bytes],
    at: datetime,
) -> Engine:
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
        refresh_engines(viewer, [engine.pk], at=at)
        return engine
