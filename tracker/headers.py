"""What every answer tells the browser, beyond the content policy."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

PERMISSIONS = "camera=(), geolocation=(), microphone=(), payment=(), usb=()"


class BrowserHeaders:
    """No device, nothing kept of a signed-in page, nothing left after signing out."""

    def __init__(self, respond: Callable[[HttpRequest], HttpResponse]) -> None:
        self.respond = respond

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.respond(request)
        response.setdefault("Permissions-Policy", PERMISSIONS)
        # A static file is answered before anybody is recognised.
        user = getattr(request, "user", None)
        if user is not None and user.is_authenticated:
            response["Cache-Control"] = "no-store"
        match = request.resolver_match
        if match and match.view_name == "account_logout" and request.method == "POST":
            response["Clear-Site-Data"] = '"cache", "storage"'
        return response
