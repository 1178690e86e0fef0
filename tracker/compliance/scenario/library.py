"""Publications and their revisions: entered by one person, confirmed by another."""

from __future__ import annotations

from datetime import date, timedelta

from notices.library import ProvisionInput, ReferenceInput, RevisionInput
from notices.models import Publication, Revision
from tracker.compliance import changes
from tracker.compliance.scenario import files
from tracker.compliance.scenario.files import Row
from tracker.compliance.scenario.stage import Stage, iso, iso_or_none


def enter_publications(stage: Stage) -> None:
    for row in files.publications(stage.today):
        first = iso(row["revisions"][0]["issued"])
        publication = changes.add_publication(
            stage.team.technician,
            kind=row["kind"],
            number=row["number"],
            issuer=row["issuer"],
            title=row["title"],
            at=stage.at(first),
        )
        stage.publications[publication.number] = publication
        for revision in row["revisions"]:
            _enter(stage, publication, revision)


def _enter(stage: Stage, publication: Publication, row: Row) -> None:
    issued = iso(row["issued"])
    draft = changes.add_draft(
        stage.team.technician,
        publication,
        _stated(row),
        at=stage.at(issued),
    )
    if "document" in row:
        _attach(stage, draft, row["document"], issued)
    if row.get("draft"):
        return
    confirmed = min(issued + timedelta(2), stage.today)
    revision = changes.confirm_revision(
        stage.team.inspector,
        draft,
        version=draft.version,
        at=stage.at(confirmed),
    )
    if "cancelled" in row:
        on = iso(row["cancelled"])
        changes.cancel_revision(
            stage.team.inspector,
            revision,
            on=on,
            reason=row["cancelled_reason"],
            at=stage.at(on),
        )


def _attach(stage: Stage, draft: Revision, name: str, on: date) -> None:
    changes.attach_document(
        stage.team.technician,
        draft,
        content=files.document(name),
        name=name,
        at=stage.at(on),
    )
    draft.refresh_from_db()


def _stated(row: Row) -> RevisionInput:
    return RevisionInput(
        label=row["label"],
        issued_on=iso(row["issued"]),
        effective_on=iso_or_none(row.get("effective")),
        summary=row["summary"],
        applicability=row["applicability"],
        provisions=[_provision(each) for each in row["provisions"]],
        references=[ReferenceInput(**each) for each in row.get("references", ())],
    )


def _provision(row: Row) -> ProvisionInput:
    given = {key: value for key, value in row.items() if key not in _CONVERTED}
    hours = row.get("man_hours")
    return ProvisionInput(
        **given,
        effective_on=iso_or_none(row.get("effective")),
        man_hours=None if hours is None else round(hours * 100),
    )


_CONVERTED = {"effective", "man_hours"}
