"""Two addresses for whoever watches the service: it answers, and it does its work."""

from __future__ import annotations

from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from tracker.watch.health import problems


@never_cache
@require_GET
def alive(request: HttpRequest) -> JsonResponse:
    """The process answers; nothing else is asked."""
    return JsonResponse({"alive": True})


@never_cache
@require_GET
def ready(request: HttpRequest) -> JsonResponse:
    """200 where all goes on, 503 with what does not."""
    found = problems(timezone.now())
    status = 503 if found else 200
    return JsonResponse({"ready": not found, "problems": found}, status=status)
