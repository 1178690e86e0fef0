"""Drafts of a revision: entered, changed as a whole, discarded."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.contrib.auth.models import AbstractBaseUser
from django.db.models import Max

from notices.library.checking import checked
from notices.library.inputs import (
    ChangedMeanwhile,
    LibraryRefused,
    ProvisionInput,
    ReferenceInput,
    RevisionInput,
)
from notices.models import (
    Document,
    Provision,
    Publication,
    Reference,
    Revision,
    RuleVersion,
)
from notices.rules.designations import designation
from notices.rules.errors import Fault, RuleError


def add_draft(
    *,
    publication: Publication,
    stated: RevisionInput,
    by: AbstractBaseUser,
    at: datetime,
) -> Revision:
    """Return a new draft. Locks the publication, so that revisions stay in order."""
    entered = checked(stated)
    locked = Publication.objects.select_for_update().get(pk=publication.pk)
    _check_label(locked, entered.label)
    last = locked.revisions.aggregate(last=Max("sequence"))["last"] or 0
    revision = Revision(
        station_id=locked.station_id,
        publication=locked,
        sequence=last + 1,
        entered_at=at,
        entered_by_id=by.pk,
    )
    _fill(revision, entered)
    revision.save()
    _write_content(revision, entered, by, at)
    return revision


def change_draft(
    revision: Revision,
    *,
    version: int,
    stated: RevisionInput,
    by: AbstractBaseUser,
    at: datetime,
) -> Revision:
    """Return the draft with everything replaced by what is stated now.

    `version`: the version that was on the screen; refused if it is not the newest.
    """
    entered = checked(stated)
    draft = locked_draft(revision, version)
    _check_label(draft.publication, entered.label, but=draft)
    _fill(draft, entered)
    draft.version += 1
    draft.changed_by_id = by.pk
    draft.save()
    draft.provisions.all().delete()
    draft.references.all().delete()
    _write_content(draft, entered, by, at)
    return draft


def discard_draft(revision: Revision, *, version: int) -> None:
    """Delete the draft with what it says. Nothing was ever found by it."""
    locked_draft(revision, version).delete()


def attach_document(revision: Revision, document: Document) -> Revision:
    """Return the revision with its document; on a confirmed one it stays."""
    locked = Revision.objects.select_for_update().get(pk=revision.pk)
    if document.station_id != locked.station_id:
        raise LibraryRefused("This document belongs to another station.")
    if locked.document_id == document.pk:
        return locked
    if locked.document_id is not None and not locked.is_draft:
        raise LibraryRefused(
            f"{locked} is confirmed with another document, which stays as its proof."
        )
    locked.document = document
    locked.version += 1
    locked.save(update_fields=["document", "version"])
    return locked


def stated_in(revision: Revision) -> RevisionInput:
    """Return what a revision says, as it would be entered. Three queries."""
    return RevisionInput(
        label=revision.label,
        issued_on=revision.issued_on,
        effective_on=revision.effective_on,
        summary=revision.summary,
        applicability=revision.applicability or None,
        provisions=[
            _stated_provision(provision)
            for provision in revision.provisions.prefetch_related("rules")
        ],
        references=[
            ReferenceInput(kind=reference.kind, number=reference.number)
            for reference in revision.references.all()
        ],
    )


def locked_draft(revision: Revision, version: int) -> Revision:
    """Return the draft as it is now, locked; refuse if it is none, or was changed."""
    locked = Revision.objects.select_for_update().filter(pk=revision.pk).first()
    if locked is None:
        raise ChangedMeanwhile("This draft was discarded meanwhile.")
    if not locked.is_draft:
        raise LibraryRefused(
            f"{locked} is confirmed and stays as it is. Enter a new revision, "
            "or change the rule of one provision with the reason."
        )
    if locked.version != version:
        raise ChangedMeanwhile(
            f"{locked} was changed meanwhile. Look at it again before you go on."
        )
    return locked


def _check_label(
    publication: Publication, label: str, *, but: Revision | None = None
) -> None:
    others = publication.revisions.filter(label__iexact=label)
    if but is not None:
        others = others.exclude(pk=but.pk)
    if others.exists():
        message = f'{publication.number} has a revision "{label}" already.'
        raise RuleError([Fault("label", message)])


def _fill(revision: Revision, entered: RevisionInput) -> None:
    revision.label = entered.label
    revision.issued_on = entered.issued_on
    revision.effective_on = entered.effective_on
    revision.summary = entered.summary
    revision.applicability = entered.applicability or {}


def _write_content(
    revision: Revision, entered: RevisionInput, by: AbstractBaseUser, at: datetime
) -> None:
    provisions = Provision.objects.bulk_create(
        _new_provision(revision, order, given)
        for order, given in enumerate(entered.provisions, start=1)
    )
    RuleVersion.objects.bulk_create(
        RuleVersion(
            provision=provision,
            applicability=revision.applicability,
            condition=given.condition,
            action=given.action or {},
            interval=given.interval or {},
            fluids=given.fluids or [],
            written_at=at,
            written_by_id=by.pk,
        )
        for provision, given in zip(provisions, entered.provisions, strict=True)
    )
    _write_references(revision, entered.references)


def _write_references(revision: Revision, given: Sequence[ReferenceInput]) -> None:
    """Write them, each linked to its publication if that is in the library."""
    numbered = Publication.objects.filter(
        station_id=revision.station_id,
        number_key__in=[designation(reference.number) for reference in given],
    )
    known = dict(numbered.values_list("number_key", "pk"))
    Reference.objects.bulk_create(
        Reference(
            revision=revision,
            kind=reference.kind,
            number=reference.number,
            number_key=designation(reference.number),
            publication_id=known.get(designation(reference.number)),
        )
        for reference in given
    )


def _new_provision(revision: Revision, order: int, given: ProvisionInput) -> Provision:
    return Provision(
        station_id=revision.station_id,
        revision=revision,
        order=order,
        kind=given.kind,
        title=given.title,
        description=given.description,
        category=given.category,
        role=given.role,
        effective_on=given.effective_on,
        ferry=given.ferry,
        report_to=given.report_to,
        man_hours=given.man_hours,
        parts_needed=given.parts_needed,
        embodies=list(given.embodies),
    )


def _stated_provision(provision: Provision) -> ProvisionInput:
    rule = next(rule for rule in provision.rules.all() if rule.current)
    return ProvisionInput(
        kind=provision.kind,
        title=provision.title,
        description=provision.description,
        category=provision.category,
        role=provision.role,
        effective_on=provision.effective_on,
        ferry=provision.ferry,
        report_to=provision.report_to,
        man_hours=provision.man_hours,
        parts_needed=provision.parts_needed,
        embodies=tuple(provision.embodies),
        condition=rule.condition,
        action=rule.action or None,
        interval=rule.interval or None,
        fluids=rule.fluids or None,
    )
