"""The secret addresses of the viewer's calendars: made, shown once, ended."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from tracker.accounts.access import Viewer
from tracker.accounts.middleware import ViewedRequest
from tracker.fleet.models import Owner
from tracker.watch.links.calendars import calendars_of, end_calendar, make_calendar
from tracker.watch.models import CalendarLink


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """A calendar that the viewer may have; `owner` is None for the whole station."""

    owner: Owner | None
    link: CalendarLink | None


@require_http_methods(["GET", "POST"])
def calendar(request: ViewedRequest) -> HttpResponse:
    """Which addresses there are; a new one is shown on this page and never again."""
    made = owner = None
    if request.method == "POST":
        owner = _owner_asked(request)
        made = make_calendar(request.viewer, owner, at=timezone.now())
    shown = {"offers": offers(request.viewer), "made": made, "made_for": owner}
    return render(request, "web/calendars/detail.html", shown)


@require_POST
def end(request: ViewedRequest) -> HttpResponse:
    owner = _owner_asked(request)
    if end_calendar(request.viewer, owner, at=timezone.now()):
        messages.success(request, "The address is ended. It shows nothing any more.")
    else:
        messages.info(request, "There was no address to end.")
    return redirect("web:calendar")


def offers(viewer: Viewer) -> list[Offer]:
    """Of staff the station's; of a person who is an owner, one for each they sign in for."""
    links = {link.owner_id: link for link in calendars_of(viewer)}
    if not viewer.is_owner:
        return [Offer(owner=None, link=links.get(None))]
    owners = Owner.objects.visible_to(viewer)
    return [Offer(owner=owner, link=links.get(owner.pk)) for owner in owners]


def _owner_asked(request: ViewedRequest) -> Owner | None:
    """Return whose calendar is meant; None for the station's, which is for staff."""
    asked = request.POST.get("owner", "")
    if not request.viewer.is_owner:
        if asked:
            raise Http404
        return None
    owners = Owner.objects.visible_to(request.viewer)
    try:
        return owners.get(public_id=UUID(asked)) if asked else owners.get()
    except (ValueError, Owner.DoesNotExist, Owner.MultipleObjectsReturned):
        raise Http404 from None
