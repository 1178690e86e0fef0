"""A sheet uploaded, looked at, and only then imported: the bytes wait in between."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any, Final

from tracker.accounts.access import Right, Viewer
from tracker.compliance.changes.acting import entering
from tracker.compliance.changes.imports import (
    Imported,
    import_compliance,
    import_fleet,
    import_parts,
    look_at_compliance,
    look_at_fleet,
    look_at_parts,
)
from tracker.fleet.models import SheetKind, WaitingSheet
from tracker.fleet.sheets.plan import Plan
from tracker.fleet.sheets.reading import read_sheet

KEPT_FOR: Final = timedelta(days=7)
_RIGHTS: Final = {
    SheetKind.FLEET: Right.IMPORT_FLEET,
    SheetKind.PARTS: Right.IMPORT_FLEET,
    SheetKind.PAST: Right.RECORD_WORK,
}
_LOOKS: Final[dict[SheetKind, Callable[..., Plan[Any]]]] = {
    SheetKind.FLEET: look_at_fleet,
    SheetKind.PARTS: look_at_parts,
    SheetKind.PAST: look_at_compliance,
}
_IMPORTS: Final[dict[SheetKind, Callable[..., Imported]]] = {
    SheetKind.FLEET: import_fleet,
    SheetKind.PARTS: import_parts,
    SheetKind.PAST: import_compliance,
}


def upload_sheet(
    viewer: Viewer, kind: SheetKind, content: bytes, name: str, *, at: datetime
) -> WaitingSheet:
    """Keep a sheet that can be read until it is imported; SheetRefused if it cannot.

    Sheets of the station that have waited for a week are dropped.
    """
    with entering(viewer, _RIGHTS[kind]):
        sheet = read_sheet(content, name)
        stale = WaitingSheet.objects.filter(uploaded_at__lt=at - KEPT_FOR)
        stale.filter(station=viewer.station).delete()
        return WaitingSheet.objects.create(
            station=viewer.station,
            kind=kind,
            name=name[:200],
            digest=sheet.digest,
            content=content,
            uploaded_at=at,
            uploaded_by=viewer.user,
        )


def look_at_sheet(viewer: Viewer, sheet: WaitingSheet, *, at: datetime) -> Plan[Any]:
    """Return what a waiting sheet would do now. Nothing is written."""
    look = _LOOKS[SheetKind(sheet.kind)]
    return look(viewer, bytes(sheet.content), sheet.name, at=at)


def import_sheet(
    viewer: Viewer,
    sheet: WaitingSheet,
    *,
    digest: str,
    at: datetime,
    good_rows_only: bool = False,
    confirmed: bool = False,
) -> Imported:
    """Write a waiting sheet and drop it. `digest`: of what was looked at.

    Two transactions: after a fault in between, importing again changes nothing.
    """
    write = _IMPORTS[SheetKind(sheet.kind)]
    done = write(
        viewer,
        bytes(sheet.content),
        sheet.name,
        digest=digest,
        at=at,
        good_rows_only=good_rows_only,
        confirmed=confirmed,
    )
    with entering(viewer, _RIGHTS[SheetKind(sheet.kind)]):
        WaitingSheet.objects.visible_to(viewer).filter(pk=sheet.pk).delete()
    return done


def drop_sheet(viewer: Viewer, sheet: WaitingSheet) -> None:
    """Forget a waiting sheet; nothing of it has been written."""
    with entering(viewer, _RIGHTS[SheetKind(sheet.kind)]):
        WaitingSheet.objects.visible_to(viewer).filter(pk=sheet.pk).delete()
