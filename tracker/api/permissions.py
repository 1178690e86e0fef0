"""Reads the declared table of routes, as the gate does for pages."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rest_framework.permissions import BasePermission
from rest_framework.request import Request

from tracker.accounts.access import Forbidden, Right, Viewer
from tracker.accounts.models import User
from tracker.routes import route_of

if TYPE_CHECKING:  # importing it here would run into rest-framework's own settings
    from rest_framework.views import APIView


def viewer_in(request: Request) -> Viewer:
    """The viewer of a call that DeclaredAccess let through under a right."""
    viewer = request._request.viewer  # type: ignore[attr-defined]  # set by middleware
    assert isinstance(viewer, Viewer), "the table asks for a right on this route"
    return viewer


class DeclaredAccess(BasePermission):
    """Asks for the right that the table declares for this route and method."""

    message = "You belong to no station, or have not chosen an own password yet."

    def has_permission(self, request: Request, view: APIView) -> bool:
        user = request.user
        if not isinstance(user, User):
            return False
        match = request.resolver_match
        route = route_of(match.view_name, request.method or "") if match else None
        if route is None or user.initial_password:
            return False
        if not isinstance(route.needs, Right):
            return True
        viewer = getattr(request._request, "viewer", None)
        if viewer is None:
            return False
        if not viewer.may(route.needs):
            raise Forbidden(route.needs)
        return True
