"""The archive of an engine written: its status as a PDF, its facts, its ledger, its files."""

from __future__ import annotations

import json
from datetime import datetime

from tracker.accounts.access import Right, Viewer
from tracker.compliance.handed_over import alternatives_of
from tracker.compliance.ledger import canonical, links_of, open_attachment
from tracker.compliance.models import Attachment
from tracker.compliance.summary import status_of
from tracker.fleet.entries import day_at
from tracker.fleet.handed_over import rows_of_engine, type_of_engine
from tracker.fleet.models import Engine
from tracker.handover.archive import ATTACHMENTS, FACTS, LEDGER, STATUS, packed
from tracker.print.documents import Making, document_of
from tracker.print.pdf import Paper, pdf_of


def archive_of(viewer: Viewer, engine: Engine, *, at: datetime) -> bytes:
    """Return everything that goes along with an engine, as of now.

    Raises Forbidden, and AttachmentLost where a file of a record is not there any more.
    """
    viewer.require(Right.IMPORT_FLEET)
    links = links_of(engine)
    facts = {
        "type": type_of_engine(engine),
        "tables": rows_of_engine(engine),
        "alternatives": alternatives_of(engine),
    }
    ledger = [
        {"sequence": link.sequence, "hash": link.hash, "payload": link.payload}
        for link in links
    ]
    files = {
        STATUS: _status(viewer, engine, at),
        FACTS: canonical(facts).encode(),
        LEDGER: json.dumps(ledger, ensure_ascii=False).encode(),
    }
    for attachment in Attachment.objects.filter(record__engine=engine):
        files[f"{ATTACHMENTS}{attachment.sha256}"] = open_attachment(attachment)
    manifest: dict[str, object] = {
        "made_at": at.isoformat(),
        "station": viewer.station.name,
        "engine": {
            "chain": str(engine.chain_id),
            "type": engine.engine_type.designation,
            "serial": engine.serial,
        },
        "head": links[-1].hash if links else None,
        "records": len(links),
    }
    return packed(manifest, files)


def _status(viewer: Viewer, engine: Engine, at: datetime) -> bytes:
    on = day_at(viewer.station, at)
    making = Making(on=on, known_at=None, made_at=at, zone=viewer.station.time_zone)
    found = status_of(engine, on=on)
    return pdf_of(document_of(found, making), paper=Paper.A4, made_at=at)
