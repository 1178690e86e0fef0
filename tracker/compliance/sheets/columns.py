"""The columns of a sheet of past compliance, and records written out by them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from tracker.compliance.models import Method, Record, RecordKind
from tracker.fleet.models import Engine, PartDescription
from tracker.fleet.sheets import cells
from tracker.fleet.sheets.cells import Column
from tracker.fleet.sheets.writing import write_csv, write_xlsx


def _read_item(cell: str) -> int:
    if not cell.isascii() or not cell.isdigit() or not 1 <= int(cell[:4]) <= 999:
        raise ValueError(
            f'"{cell[:40]}" is not an item. Write its number in the document: 1.'
        )
    return int(cell)


COLUMNS: Final[tuple[Column, ...]] = (
    cells.text("engine type", "Type designation.", longest=60, required=True),
    cells.text("engine serial", "Serial of the engine.", longest=60, required=True),
    cells.text("document", "Number as printed: SB-24-011.", longest=60, required=True),
    cells.text("revision", "As printed. Needed if there are several.", longest=20),
    Column(
        name="item",
        help="Which provision of the document, from 1. Needed if there are several.",
        read=_read_item,
        write=str,
    ),
    cells.text("part", "Serial or place of the part it was done on.", longest=60),
    cells.day("date", "When it was done.", required=True),
    cells.hours("hours", "Hours of the engine then."),
    cells.hours("part hours", "Hours of the part since new then."),
    cells.hours("airframe hours", "Hours of the airframe then."),
    cells.choice("method", "How it was complied with.", Method.values),
    cells.text("work", "What was done, as the logbook says.", longest=1000),
    cells.text("result", "What was found, if the document asks.", longest=60),
    cells.text("done by", "Who did it, as far as it can be read.", longest=120),
    cells.text("page", "Page of the logbook.", longest=40, required=True),
    cells.text("remarks", "Anything else.", longest=1000),
)


def export_compliance(engines: Iterable[Engine], *, xlsx: bool = False) -> bytes:
    """Return a file of the valid transcribed records, that imports as it was exported.

    `engines`: with their types. Two queries, however many.
    """
    wanted = {engine.pk: engine for engine in engines}
    records = list(
        Record.objects.valid()
        .filter(engine__in=list(wanted), kind=RecordKind.TRANSCRIBED)
        .select_related("provision")
        .order_by("engine", "sequence")
    )
    parts = {record.part_id for record in records}
    described = PartDescription.objects.filter(part__in=parts, current=True)
    serials = {row.part_id: row.serial for row in described}
    rows = [_row(wanted[record.engine_id], record, serials) for record in records]
    return write_xlsx(COLUMNS, rows) if xlsx else write_csv(COLUMNS, rows)


def _row(engine: Engine, record: Record, serials: Mapping[int, str]) -> dict[str, Any]:
    said = record.text
    page = said["transcribed"].removeprefix("transcribed from logbook, page ")
    return {
        "engine type": engine.engine_type.designation,
        "engine serial": engine.serial,
        "document": record.document_number,
        "revision": record.document_revision or None,
        "item": record.provision.order if record.provision else None,
        "part": serials.get(record.part_id or 0) or None,
        "date": record.on,
        "hours": record.hours,
        "part hours": record.part_hours,
        "airframe hours": record.airframe_hours,
        "method": record.method,
        "work": record.description,
        "result": record.result or None,
        "done by": said["done_by"] or None,
        "page": page.removesuffix("; signatory not seen"),
        "remarks": said["remarks"] or None,
    }
