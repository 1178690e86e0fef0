"""No line of the log holds the secret part of an address."""

from __future__ import annotations

import logging

import pytest
from django.conf import settings

from tracker.log_masks import WithoutSecrets

SECRET = "ZnbLJdYQpYINg6K73QcHUy0X3z_cCYcMghYLr8thqIc"


def line(message: str, *args: object) -> str:
    record = logging.LogRecord("django", 30, "x", 1, message, args, None)
    assert WithoutSecrets().filter(record)
    return record.getMessage()


@pytest.mark.parametrize(
    ("path", "shown"),
    [
        (f"/hours/{SECRET}/", "/hours/.../"),
        (f"/calendar/{SECRET}.ics", "/calendar/..."),
        (f"/unsubscribe/4f0c.{SECRET}/", "/unsubscribe/.../"),
        (f"GET /hours/{SECRET}/?x=1 HTTP/1.1", "GET /hours/.../?x=1 HTTP/1.1"),
        ("/calendar/end/", "/calendar/end/"),
        ("/engines/", "/engines/"),
    ],
)
def test_a_secret_is_masked_and_all_else_stays(path: str, shown: str) -> None:
    assert line("%s: %s", "Not Found", path) == f"Not Found: {shown}"
    assert line(f"Not Found: {path}") == f"Not Found: {shown}"


def test_every_handler_of_the_log_masks() -> None:
    handlers = settings.LOGGING["handlers"]
    assert {name for name, one in handlers.items() if "secrets" in one["filters"]} == (
        set(handlers)
    )
