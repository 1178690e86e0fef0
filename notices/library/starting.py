"""A new revision that starts from what another one says."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from notices.library.drafts import stated_in
from notices.library.inputs import ProvisionInput, ReferenceInput, RevisionInput
from notices.models import Reference, Revision, RuleVersion
from notices.rules.designations import designation

_ALWAYS: Final = {"always": True}


def start_from(revision: Revision) -> RevisionInput:
    """Return what a revision says as its rules stand now, to be entered as the next.

    Label, dates and the reason of issue are the next one's own and stay empty. Four
    queries.
    """
    said = stated_in(revision)
    rules = RuleVersion.objects.filter(provision__revision=revision, current=True)
    ordered = rules.order_by("provision__order")
    applicabilities = list(ordered.values_list("applicability", flat=True))
    distinct = [
        one
        for place, one in enumerate(applicabilities)
        if one not in applicabilities[:place]
    ]
    applicability, provisions = said.applicability, list(said.provisions)
    if len(distinct) == 1:
        applicability = distinct[0] or None
    elif distinct:
        # Rules were corrected one by one: each keeps whom it speaks of.
        applicability = {"any": distinct}
        provisions = [
            _narrowed(provision, own)
            for provision, own in zip(provisions, applicabilities, strict=True)
        ]
    return replace(
        said,
        label="",
        issued_on=None,
        effective_on=None,
        summary="",
        applicability=applicability,
        provisions=provisions,
        references=_references(revision, said),
    )


def _narrowed(provision: ProvisionInput, own: dict[str, object]) -> ProvisionInput:
    condition = provision.condition
    if condition in (None, _ALWAYS):
        return replace(provision, condition=own)
    return replace(provision, condition={"all": [own, condition]})


def _references(revision: Revision, said: RevisionInput) -> list[ReferenceInput]:
    """Keep all, so that what was superseded stays so, and name what is revised."""
    number = revision.publication.number
    own = ReferenceInput(kind=Reference.Kind.REVISES, number=number)
    key = designation(number)
    others = [
        one
        for one in said.references
        if one.kind != own.kind or designation(one.number) != key
    ]
    return [own, *others]
