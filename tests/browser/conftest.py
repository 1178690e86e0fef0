"""A Chromium that looks at the running service. Skipped, with the reason, without one."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from datetime import timedelta
from io import BytesIO
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from django.utils import timezone
from playwright.sync_api import Browser, Error, Page, sync_playwright
from pypdf import PdfReader

from tracker.accounts.access import Viewer

NAMES = ("chromium", "chromium-browser", "google-chrome")
DESKTOP = {"width": 1440, "height": 900}
PHONE = {"width": 390, "height": 844}


def chromium() -> str | None:
    """The program that `TRACKER_CHROMIUM` names, or one that is installed."""
    named = os.environ.get("TRACKER_CHROMIUM")
    return named or next(filter(None, map(shutil.which, NAMES)), None)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    program = chromium()
    if program is None:
        pytest.skip("No Chromium is installed; TRACKER_CHROMIUM may name one.")
    # Playwright runs a loop of its own in this thread, which Django takes for a server's.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(
            executable_path=program, args=["--no-sandbox"]
        )
        yield started
        started.close()
    del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


def on_paper(page: Page) -> PdfReader:
    """The page as it is printed, once it has arrived whole.

    On a busy machine Chromium now and then says that printing failed, and prints the
    same page when it is asked again.
    """
    page.wait_for_load_state("load")
    for _ in range(4):
        try:
            return PdfReader(BytesIO(page.pdf(prefer_css_page_size=True)))
        except Error as fault:
            if "Printing failed" not in str(fault):
                raise
            page.wait_for_timeout(500)
    raise AssertionError("Chromium did not print the page.")


class Seen(list[str]):
    """What the browser complained of: refused by the content policy, failed, in error."""


@pytest.fixture
def visit(
    browser: Browser, live_server: Any
) -> Iterator[Callable[..., tuple[Page, Seen]]]:
    """Return a page signed in as a viewer, and what the browser complained of."""
    contexts = []

    def open_page(
        viewer: Viewer, path: str, *, phone: bool = False, dark: bool = False
    ) -> tuple[Page, Seen]:
        client = Client()
        client.force_login(viewer.user)
        context = browser.new_context(
            viewport=PHONE if phone else DESKTOP,  # type: ignore[arg-type]  # a TypedDict
            color_scheme="dark" if dark else "light",
        )
        contexts.append(context)
        context.add_cookies(
            [
                {
                    "name": settings.SESSION_COOKIE_NAME,
                    "value": client.cookies[settings.SESSION_COOKIE_NAME].value,
                    "url": live_server.url,
                }
            ]
        )
        page, seen = context.new_page(), Seen()
        page.on("console", lambda said: _note(seen, said.type, said.text))
        page.on("pageerror", lambda error: seen.append(str(error)))
        page.goto(live_server.url + path)
        return page, seen

    yield open_page
    for context in contexts:
        context.close()


def _note(seen: Seen, kind: str, text: str) -> None:
    if kind in ("error", "warning"):
        seen.append(text)


@pytest.fixture
def days_ago() -> Callable[[int], Any]:
    """A date so many days before today: the browser lives in the real time."""
    today = timezone.now().date()
    return lambda count: today - timedelta(days=count)
