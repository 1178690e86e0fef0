"""Acts on alternative methods of compliance: one entered as approved, one ended."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

from notices.library.contents import names_this_part
from notices.models import Provision
from notices.rules.compliance_time import parse_other_times
from notices.rules.errors import Fault, RuleError
from tracker.accounts.access import Right, Viewer
from tracker.compliance.changes.acting import changing
from tracker.compliance.models import AlternativeMethod
from tracker.fleet.entries import checked_text
from tracker.fleet.errors import Refused
from tracker.fleet.history import write_fact
from tracker.fleet.models import Engine

_APPROVED: Final = (
    "reference",
    "approved_by",
    "approved_on",
    "description",
    "times",
    "valid_until",
    "later_revisions",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class AlternativeEntry:
    """What an approval says. `times`: in place of the action's own, as stored.

    `approved_by`: the office that the directive names, or who else may approve it.
    `true_from`: since when it counts for the engine, None for since the approval.
    """

    reference: str
    approved_by: str
    approved_on: date
    description: str
    times: Mapping[str, Any]
    true_from: date | None = None
    valid_until: date | None = None
    later_revisions: bool = False

    @property
    def since(self) -> date:
        return self.true_from or self.approved_on


def approve_alternative(
    viewer: Viewer,
    engine: Engine,
    provision: Provision,
    entry: AlternativeEntry,
    *,
    at: datetime,
) -> AlternativeMethod:
    """Enter an alternative method for one provision of a revision, and one engine.

    Raises RuleError with the path of every fault in the times.
    """
    with changing(viewer, engine, Right.ENTER_ALTERNATIVES, at=at) as locked:
        _check_provision(viewer, provision)
        _check_days(locked, provision, entry)
        return write_fact(
            AlternativeMethod,
            station=viewer.station,
            subject={"engine": locked, "provision": provision},
            true_from=entry.since,
            at=at,
            by=viewer.user,
            **_texts(entry),
            approved_on=entry.approved_on,
            times=_checked_times(entry.times, provision),
            valid_until=entry.valid_until,
            later_revisions=entry.later_revisions,
        )


def end_alternative(
    viewer: Viewer,
    engine: Engine,
    provision: Provision,
    *,
    reason: str,
    true_from: date,
    at: datetime,
) -> AlternativeMethod:
    """Record that an alternative method is withdrawn, or was entered by mistake."""
    with changing(viewer, engine, Right.ENTER_ALTERNATIVES, at=at) as locked:
        row = AlternativeMethod.objects.filter(
            engine=locked, provision=provision, current=True, valid=True
        ).get()
        if true_from < row.true_from:
            raise Refused(
                "true_from",
                f"It counts since {row.true_from} and cannot end before that. Where it "
                "was entered by mistake, give that day.",
            )
        return write_fact(
            AlternativeMethod,
            station=viewer.station,
            subject={"engine": locked, "provision": provision},
            true_from=true_from,
            at=at,
            by=viewer.user,
            **{name: getattr(row, name) for name in _APPROVED},
            valid=False,
            reason=checked_text(AlternativeMethod, "reason", reason, required=True),
        )


def _check_provision(viewer: Viewer, provision: Provision) -> None:
    if provision.station_id != viewer.station.pk:
        raise Provision.DoesNotExist("This provision is of another station.")
    if provision.revision.confirmed_at is None:
        raise Refused("", f"{provision.revision} is a draft. Confirm it first.")
    if provision.kind != Provision.Kind.ACTION:
        raise Refused(
            "",
            f"{provision} is of the kind {provision.get_kind_display()}. Only an action "
            "has a method and times that another can take the place of.",
        )


def _check_days(engine: Engine, provision: Provision, entry: AlternativeEntry) -> None:
    if entry.since < entry.approved_on:
        raise Refused(
            "true_from",
            f"It cannot count since {entry.since}, before it was approved on "
            f"{entry.approved_on}. Check both.",
        )
    if entry.valid_until is not None and entry.valid_until < entry.since:
        raise Refused(
            "valid_until",
            f"It would end on {entry.valid_until}, before it counts at all, since "
            f"{entry.since}. Check both.",
        )
    later = AlternativeMethod.objects.filter(
        engine=engine, provision=provision, current=True, true_from__gt=entry.since
    ).first()
    if later is not None:
        raise Refused(
            "true_from",
            f"What was entered of {later.reference} counts since {later.true_from}, "
            f"after {entry.since}. Say that this one counts since that day or a later "
            "one.",
        )


def _texts(entry: AlternativeEntry) -> dict[str, str]:
    return {
        name: checked_text(AlternativeMethod, name, getattr(entry, name), required=True)
        for name in ("reference", "approved_by", "description")
    }


def _checked_times(raw: Mapping[str, Any], provision: Provision) -> dict[str, Any]:
    """Return the times in the form in which they are stored."""
    times = parse_other_times(raw).to_json()
    faults = [
        Fault(name, 'It tests "this" part, but the provision is about the engine.')
        for name, time in times.items()
        if not provision.role and names_this_part(time)
    ]
    if faults:
        raise RuleError(faults)
    return times
