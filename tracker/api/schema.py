"""The OpenAPI schema: refusals are described at every operation, once here."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema

from tracker.api.problems import MEDIA_TYPE

PROBLEM: dict[str, Any] = {
    "type": "object",
    "required": ["type", "title", "status", "detail"],
    "properties": {
        "type": {"type": "string"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string"},
        "errors": {
            "type": "array",
            "description": "What is wrong in the request, value by value.",
            "items": {
                "type": "object",
                "required": ["path", "message"],
                "properties": {
                    "path": {"type": "string"},
                    "message": {"type": "string"},
                },
            },
        },
        "first": {
            "type": "object",
            "description": "Where the same is recorded already: that record.",
            "required": ["id", "sequence", "recorded_by", "recorded_at"],
            "properties": {
                "id": {"type": "string", "format": "uuid"},
                "sequence": {"type": "integer"},
                "recorded_by": {"type": "string"},
                "recorded_at": {"type": "string", "format": "date-time"},
            },
        },
    },
}
EVERYWHERE = {
    "401": "Nobody is signed in.",
    "403": "The role does not include this.",
    "429": "Too many calls; the header Retry-After says when to go on.",
}
ON_AN_OBJECT = {"404": "There is no such object, or not for this person."}
ON_BAD_INPUT = {"400": "Something in the request is wrong; `errors` says what."}
ON_WRITES = ON_BAD_INPUT | {
    "409": "Somebody else has changed or recorded it meanwhile.",
    "415": "The body is not JSON.",
    "422": "It can be, but is so unlikely that it must be sent again as confirmed.",
}


class SessionScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]  # registers itself
    target_class = "tracker.api.authentication.SignedInSession"
    name = "session"

    def get_security_definition(self, auto_schema: AutoSchema) -> dict[str, Any]:
        name = settings.SESSION_COOKIE_NAME
        return {"type": "apiKey", "in": "cookie", "name": name}


class ProblemSchema(AutoSchema):
    def get_operation(self, *args: Any, **kwargs: Any) -> dict[str, Any] | None:
        operation: dict[str, Any] | None = super().get_operation(*args, **kwargs)
        if operation is not None:
            for status, text in self._refusals().items():
                operation["responses"].setdefault(status, _described(text))
        return operation

    def _refusals(self) -> dict[str, str]:
        refusals = dict(EVERYWHERE)
        if "{" in self.path:
            refusals |= ON_AN_OBJECT
        elif self.method == "GET":
            # A list answers 404 for a page that it does not have.
            refusals |= {"404": "There is no such page of the list."} | ON_BAD_INPUT
        if self.method != "GET":
            refusals |= ON_WRITES
        return refusals


def _described(text: str) -> dict[str, Any]:
    return {"description": text, "content": {MEDIA_TYPE: {"schema": PROBLEM}}}
