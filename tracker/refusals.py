"""What is answered instead of a page: as a page to people, as JSON to programs."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views import defaults

from tracker.api.problems import MEDIA_TYPE, problem


def not_understood(request: HttpRequest, exception: Exception) -> HttpResponse:
    if _is_program(request):
        return _problem(400, "The request is not understood.")
    return defaults.bad_request(request, exception)


def forbidden(request: HttpRequest, exception: Exception) -> HttpResponse:
    if _is_program(request):
        return _problem(403, str(exception) or "Your role does not include this.")
    return defaults.permission_denied(request, exception)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    if _is_program(request):
        return _problem(404, "There is nothing here, or not for you.")
    return defaults.page_not_found(request, exception)


def fault(request: HttpRequest) -> HttpResponse:
    if _is_program(request):
        return _problem(500, "A fault of the service. Nothing has been kept.")
    return defaults.server_error(request)


def _is_program(request: HttpRequest) -> bool:
    return request.path.startswith("/api/")


def _problem(status: int, detail: str) -> JsonResponse:
    return JsonResponse(problem(status, detail), status=status, content_type=MEDIA_TYPE)
