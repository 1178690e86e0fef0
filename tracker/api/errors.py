"""The one place where a refusal of whatever layer becomes a problem document."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.core.exceptions import ObjectDoesNotExist, PermissionDenied
from django.http import Http404
from rest_framework import exceptions
from rest_framework.response import Response
from rest_framework.views import exception_handler

from notices.rules.errors import RuleError
from tracker.api.problems import MEDIA_TYPE, problem
from tracker.compliance.ledger import Taken
from tracker.fleet.errors import ChangedMeanwhile, Doubtful, Refused

Errors = list[dict[str, str]]


def as_problem(fault: Exception, context: dict[str, Any]) -> Response | None:
    """Called by rest-framework; None leaves the fault to become a 500."""
    if isinstance(fault, Taken):
        return _taken(fault)
    if isinstance(fault, ChangedMeanwhile):
        return _answer(409, str(fault), [])
    if isinstance(fault, Refused):
        status, message = 400, str(fault)
        if isinstance(fault, Doubtful):
            status = 422
            message += ' To confirm it, send "confirmed": true with it.'
        return _answer(status, "", [{"path": fault.field, "message": message}])
    if isinstance(fault, RuleError):
        errors = [{"path": f.path, "message": f.message} for f in fault.faults]
        return _answer(400, "", errors)
    if isinstance(fault, Http404 | ObjectDoesNotExist):
        return _answer(404, "There is nothing here, or not for you.", [])
    if isinstance(fault, PermissionDenied):
        return _answer(403, str(fault) or "Your role does not include this.", [])
    response = exception_handler(fault, context)
    if response is None:
        return None
    assert isinstance(fault, exceptions.APIException)
    errors = []
    if isinstance(fault, exceptions.ValidationError):
        errors = list(_flat(fault.detail, ""))
    kept = {name: value for name, value in response.items() if name != "Content-Type"}
    return _answer(response.status_code, str(fault.detail), errors, kept)


def _answer(
    status: int, detail: str, errors: Errors, headers: dict[str, str] | None = None
) -> Response:
    if errors:
        paths = ", ".join(sorted({e["path"] for e in errors if e["path"]}))
        detail = f"Not kept. Look at: {paths}." if paths else "Not kept."
    body = problem(status, detail, errors)
    return Response(body, status=status, headers=headers, content_type=MEDIA_TYPE)


def _taken(fault: Taken) -> Response:
    """Who was first, and with which record."""
    first = fault.first
    answer = _answer(409, str(fault), [])
    answer.data["first"] = {
        "id": str(first.public_id),
        "sequence": first.sequence,
        "recorded_by": first.recorded_by.name,
        "recorded_at": first.recorded_at.isoformat().replace("+00:00", "Z"),
    }
    return answer


def _flat(detail: Any, path: str) -> Iterator[dict[str, str]]:
    """Give each message of a nested detail with the path of the value it is about."""
    if isinstance(detail, dict):
        for name, inner in detail.items():
            own = path if name == "non_field_errors" else f"{path}.{name}".lstrip(".")
            yield from _flat(inner, own)
    elif isinstance(detail, list):
        for place, inner in enumerate(detail):
            nested = isinstance(inner, dict | list)
            yield from _flat(inner, f"{path}[{place}]" if nested else path)
    else:
        yield {"path": path, "message": str(detail)}
