"""Who calls: the session of a person who signed in on a page."""

from __future__ import annotations

from rest_framework.authentication import SessionAuthentication
from rest_framework.request import Request


class SignedInSession(SessionAuthentication):
    """Names itself, so that a caller without a session gets 401 and not 403."""

    def authenticate_header(self, request: Request) -> str:
        return "Session"
