"""Acts on how an owner is told: what they want, and silence for a reason."""

from __future__ import annotations

from datetime import datetime

from tracker.accounts.access import Right, Viewer
from tracker.compliance.changes.acting import entering
from tracker.compliance.models import EventKind
from tracker.fleet import preferences
from tracker.fleet.errors import Refused
from tracker.fleet.models import Owner, Preference
from tracker.fleet.preferences import PreferenceFacts


def change_preference(
    viewer: Viewer, owner: Owner, facts: PreferenceFacts
) -> Preference:
    """Write how an owner wants to be told; the owner may say so, or staff for them.

    Raises Forbidden, Refused, and Owner.DoesNotExist for whom the viewer does not see.
    """
    unknown = set(facts.without) - set(EventKind.values)
    if unknown:
        raise Refused("without", f'"{min(unknown)}" is not a kind of what is told.')
    with entering(viewer, Right.SET_PREFERENCES):
        return preferences.change_preference(_locked(viewer, owner), facts)


def silence_owner(
    viewer: Viewer, owner: Owner, reason: str, *, at: datetime
) -> Preference:
    """Tell an owner nothing any more, for a reason that is shown. Raises as above."""
    with entering(viewer, Right.MANAGE_STATION):
        own = _locked(viewer, owner)
        return preferences.silence(own, reason, at=at, by=viewer.user)


def end_silence(viewer: Viewer, owner: Owner) -> None:
    """Tell an owner again from now on. Raises as above."""
    with entering(viewer, Right.MANAGE_STATION):
        preferences.end_silence(_locked(viewer, owner))


def _locked(viewer: Viewer, owner: Owner) -> Owner:
    """The owner as the viewer sees them now, held so that acts take turns."""
    seen = Owner.objects.visible_to(viewer).filter(pk=owner.pk, removed_at=None)
    return Owner.objects.select_for_update().get(pk__in=seen.values("pk"))
