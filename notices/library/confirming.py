"""Confirm a revision, cancel it, and change one rule of it for a reason."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, Final, Unpack

from django.contrib.auth.models import AbstractBaseUser

from notices.library.check import Check, Json
from notices.library.checking import checked
from notices.library.contents import (
    CONTENTS,
    HOLDS,
    NEEDED,
    check_rule,
    names_this_part,
    stored_condition,
    stored_content,
)
from notices.library.drafts import locked_draft, stated_in
from notices.library.inputs import (
    ChangedMeanwhile,
    LibraryRefused,
    RevisionInput,
    RuleChange,
)
from notices.library.interval_warnings import refuse_intervals
from notices.library.intervals import (
    Types,
    beside_revision,
    holds_or_will,
    intervals_in,
    placed,
)
from notices.models import Provision, Reference, Revision, RuleVersion

_NO_TYPES: Final[Types] = {}
CONDITIONS: Final = ("applicability", "condition")


def confirm_revision(
    revision: Revision,
    *,
    version: int,
    second_person: bool,
    by: AbstractBaseUser,
    at: datetime,
    types: Types = _NO_TYPES,
) -> Revision:
    """Return the revision as confirmed, its rules frozen.

    `version`: the version that was looked at. `second_person`: whether somebody else
    than who entered it must confirm. `types`: the station's engine types. What a
    draft may lack is refused here: dates, applicability, provisions and what goes with
    their kind; so are two base intervals for one engine.
    """
    draft = locked_draft(revision, version)
    if second_person and by.pk in {draft.entered_by_id, draft.changed_by_id}:
        raise LibraryRefused(
            "Another person than who entered or changed this revision must confirm it."
        )
    stated = checked(stated_in(draft))
    _check_complete(draft, stated)
    takes_over_on = draft.effective_on or draft.issued_on
    assert takes_over_on is not None, "checked just now"
    _check_supersession(draft, takes_over_on)
    _check_intervals(draft, max(takes_over_on, at.date()), types)
    draft.takes_over_on = takes_over_on
    draft.confirmed_at = at
    draft.confirmed_by_id = by.pk
    draft.version += 1
    draft.save(
        update_fields=["takes_over_on", "confirmed_at", "confirmed_by", "version"]
    )
    RuleVersion.objects.filter(provision__revision=draft).update(
        applicability=draft.applicability, frozen_at=at
    )
    return draft


def cancel_revision(
    revision: Revision, *, on: date, reason: str, by: AbstractBaseUser, at: datetime
) -> Revision:
    """Return the revision as cancelled; from `on` it no longer holds.

    Cancelled on the day it takes over or before, it never held, and what came before
    it goes on. Cancelled later, its publication has no current revision from then on.
    """
    check = Check()
    why = check.text(
        "reason", reason, longest=200, needed="Say why the revision is cancelled."
    )
    check.done()
    locked = Revision.objects.select_for_update().get(pk=revision.pk)
    if locked.is_draft:
        raise LibraryRefused(f"{locked} is a draft. Discard it instead.")
    if locked.cancelled_on is not None:
        raise LibraryRefused(f"{locked} is cancelled already.")
    locked.cancelled_on = on
    locked.cancelled_at = at
    locked.cancelled_by_id = by.pk
    locked.cancelled_reason = why
    locked.version += 1
    locked.save(
        update_fields=[
            "cancelled_on",
            "cancelled_at",
            "cancelled_by",
            "cancelled_reason",
            "version",
        ]
    )
    return locked


def change_rule(
    provision: Provision,
    *,
    number: int,
    reason: str,
    by: AbstractBaseUser,
    at: datetime,
    types: Types = _NO_TYPES,
    **changed: Unpack[RuleChange],
) -> RuleVersion:
    """Return a new frozen version of the rule; what is not given stays as it was.

    `number`: of the version that was on the screen; refused if it is not the newest.
    `types`: as on confirming.
    """
    locked = Provision.objects.select_for_update().get(pk=provision.pk)
    before = locked.rules.get(current=True)
    if before.frozen_at is None:
        raise LibraryRefused("The revision is a draft. Change the draft instead.")
    if before.number != number:
        raise ChangedMeanwhile("The rule was changed meanwhile. Look at it again.")
    check = Check()
    why = check.text(
        "reason", reason, longest=200, needed="Say why the rule is changed."
    )
    rule = _changed_rule(check, locked, before, changed)
    if not any(given is not None for given in changed.values()):
        raise LibraryRefused("Nothing of the rule was changed.")
    after = RuleVersion(
        provision=locked,
        number=before.number + 1,
        **rule,
        reason=why,
        written_at=at,
        written_by_id=by.pk,
        frozen_at=at,
    )
    if after.interval and holds_or_will(locked.revision, at.date()):
        _check_changed_interval(after, at.date(), types)
    locked.rules.filter(pk=before.pk).update(current=False)
    after.save()
    return after


def changed_rule(
    provision: Provision, before: RuleVersion, **changed: Unpack[RuleChange]
) -> dict[str, Json]:
    """Return the whole rule as it would be, in its stored form; nothing is written."""
    return _changed_rule(Check(), provision, before, changed)


def _changed_rule(
    check: Check, provision: Provision, before: RuleVersion, changed: RuleChange
) -> dict[str, Json]:
    kept = {name: getattr(before, name) for name in (*CONDITIONS, *CONTENTS)}
    new: dict[str, Json] = {}
    for name, given in changed.items():
        if given is None:
            continue
        if name in CONDITIONS:
            new[name] = stored_condition(check, name, given)
        else:
            new[name] = stored_content(check, name, provision.kind, name, given)
    for name, stored in new.items():
        if not provision.role and names_this_part(stored):
            check.add(name, 'Tests "this" part, but the provision is about the engine.')
    check.done()
    rule = {**kept, **new}
    check_rule(check, "", kind=provision.kind, role=provision.role, rule=rule)
    check.done()
    return rule


def _check_complete(draft: Revision, stated: RevisionInput) -> None:
    check = Check()
    if draft.issued_on is None and draft.effective_on is None:
        check.add("issued_on", "Give the date of issue or the effective date.")
    if stated.applicability is None:
        check.add(
            "applicability",
            'Say which engines it applies to; {"always": true} means every engine.',
        )
    if not stated.provisions:
        check.add(
            "provisions",
            "A revision says at least one thing. If nothing is to be done, "
            "add one of kind information.",
        )
    for index, provision in enumerate(stated.provisions):
        needed = NEEDED.get(provision.kind)
        holds = HOLDS.get(provision.kind)
        if needed is not None and holds and not getattr(provision, holds):
            check.add(f"provisions[{index}].{holds}", needed)
    check.done()


def _check_intervals(draft: Revision, on: date, types: Types) -> None:
    """Refuse what engines cannot be told together, from a day on."""
    own = intervals_in(draft)
    if own:
        check = Check()
        refuse_intervals(check, own, beside_revision(draft, on), types)
        check.done()


def _check_changed_interval(after: RuleVersion, on: date, types: Types) -> None:
    revision, order = after.provision.revision, after.provision.order
    beside = [one for one in intervals_in(revision) if one.order != order]
    others = [*beside, *beside_revision(revision, on)]
    check = Check()
    refuse_intervals(check, [placed(after)], others, types, lambda _: "interval")
    check.done()


def _check_supersession(draft: Revision, takes_over_on: date) -> None:
    """Refuse what would leave nothing current: superseding oneself, or one another.

    Only revisions that take over on one day can supersede one another; of two days,
    the later wins.
    """
    reached = _superseded_by(Revision.objects.filter(pk=draft.pk))
    seen: set[int] = set()
    while new := reached - seen:
        if draft.publication_id in new:
            raise LibraryRefused(
                f"{draft.publication.number} would supersede itself. Take it out of "
                "what is superseded; a later revision takes over without that."
            )
        seen |= new
        reached = _superseded_by(
            Revision.objects.taken_over(takes_over_on).filter(
                publication__in=new, takes_over_on=takes_over_on
            )
        )


def _superseded_by(revisions: Any) -> set[int]:
    return set(
        Reference.objects.filter(
            kind=Reference.Kind.SUPERSEDES,
            revision__in=revisions,
            publication__isnull=False,
        ).values_list("publication", flat=True)
    )
