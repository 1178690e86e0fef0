"""Pages that a secret address opens, for people without a session.

The secret alone carries the right, so no token of a form is asked for: a browser that
is told to send no referrer names no origin with a form either. No page of them sets a
cookie, and none changes anything by being looked at, which programs that scan mails do.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Final

# What the public module offers counts no page that is only looked at.
from allauth.core.internal import ratelimit
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.csrf import csrf_exempt

View = Callable[[HttpRequest, str], HttpResponse]
PREFIX: Final = 8
"""Characters of a secret by which its tries are counted, whoever makes them."""


def by_secret(action: str) -> Callable[[View], Callable[..., HttpResponse]]:
    """Give a view the secret of its address, unless it is tried too often.

    `action`: the name of its rates in the settings.
    """

    def decorate(view: View) -> Callable[..., HttpResponse]:
        @csrf_exempt
        @wraps(view)
        def answer(request: HttpRequest, **named: str) -> HttpResponse:
            [secret] = named.values()
            too_often = ratelimit.consume_or_429(
                request,
                app="allauth.account",
                action=action,
                key=secret[:PREFIX],
                limit_get=True,
            )
            return _kept_nowhere(too_often or view(request, secret))

        return answer

    return decorate


def opens_nothing(request: HttpRequest) -> HttpResponse:
    """The one answer to a secret that is unknown, has run out or was revoked."""
    return render(request, "web/links/nothing.html", status=404)


def _kept_nowhere(response: HttpResponse) -> HttpResponse:
    """Nobody keeps a copy, and the address is told to no other site."""
    response.setdefault("Cache-Control", "no-store")
    response["Referrer-Policy"] = "no-referrer"
    response["X-Robots-Tag"] = "noindex"
    return response
