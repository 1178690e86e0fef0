"""Puts the viewer on the request, where somebody is signed in and has a station."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from tracker.accounts.access import Viewer
from tracker.accounts.models import Membership, Role, User

STATION_KEY = "station"


class ViewedRequest(HttpRequest):
    """A request as views see it, on every route that needs a right."""

    user: User  # the gate lets no anonymous one through
    viewer: Viewer


def viewer_of(request: HttpRequest) -> Viewer | None:
    """Return who is looking, in the station of the session or the first joined.

    Read from the database at each request, so that a right that ends, ends at once.
    """
    user = request.user
    if not isinstance(user, User):
        return None
    memberships = list(Membership.objects.held_by(user))
    if not memberships:
        return None
    chosen = request.session.get(STATION_KEY)
    membership = next(
        (m for m in memberships if str(m.station.public_id) == chosen), memberships[0]
    )
    return Viewer(user=user, station=membership.station, role=Role(membership.role))


class ViewerMiddleware:
    def __init__(self, respond: Callable[[HttpRequest], HttpResponse]) -> None:
        self.respond = respond

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.viewer = viewer_of(request)  # type: ignore[attr-defined]  # see ViewedRequest
        return self.respond(request)
