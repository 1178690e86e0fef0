"""A refusal as a program reads it: application/problem+json, RFC 9457.

Beside the members of that document an answer to bad input lists `errors`, each with
the path of the value in the request and a message.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from http import HTTPStatus

MEDIA_TYPE = "application/problem+json"


def problem(
    status: int, detail: str, errors: Sequence[Mapping[str, str]] = ()
) -> dict[str, object]:
    """Return the body of a refusal; `errors` are pairs of path and message."""
    body: dict[str, object] = {
        "type": "about:blank",
        "title": HTTPStatus(status).phrase,
        "status": status,
        "detail": detail,
    }
    if errors:
        body["errors"] = list(errors)
    return body
