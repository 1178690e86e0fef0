"""Lets a request reach a view only as the declared table says."""

from __future__ import annotations

import inspect
import logging
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from django.contrib.auth.views import redirect_to_login
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import redirect, render
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from tracker.accounts.access import Forbidden, Right
from tracker.accounts.models import User
from tracker.routes import METHODS, Audience, Route, route_of

log = logging.getLogger(__name__)

# What stays open to a person who has not yet chosen an own password.
BEFORE_OWN_PASSWORD = frozenset({"account_change_password", "account_logout"})


class DeclaredRoutes:
    """Stands last, so that the session and the viewer are known."""

    def __init__(self, respond: Callable[[HttpRequest], HttpResponse]) -> None:
        self.respond = respond

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.respond(request)

    def process_view(
        self, request: HttpRequest, view: object, args: object, kwargs: object
    ) -> HttpResponse | None:
        assert request.resolver_match is not None, "the address has been resolved"
        name = request.resolver_match.view_name
        if name not in METHODS:
            log.error("the route %s is not in the table and does not answer", name)
            raise Http404
        route = route_of(name, request.method or "")
        if route is None:
            return HttpResponseNotAllowed(METHODS[name])
        if name.startswith("api:"):
            return None  # api.permissions reads the same row, after authentication
        return refusal(request, route)


def refusal(request: HttpRequest, route: Route) -> HttpResponse | None:
    """Return what stands in the way of the view, None where nothing does."""
    if route.needs is Audience.ANYBODY:
        return None
    user = request.user
    if not isinstance(user, User):
        return _to_login(request)
    if user.initial_password and route.name not in BEFORE_OWN_PASSWORD:
        return redirect("account_change_password")
    if isinstance(route.needs, Right):
        viewer = getattr(request, "viewer", None)
        if viewer is None:
            return render(request, "account/stations.html", status=403)
        if not viewer.may(route.needs):
            raise Forbidden(route.needs)
    return None


def _to_login(request: HttpRequest) -> HttpResponse:
    """A part of a page cannot hold a sign-in form: its script is sent there instead."""
    if request.headers.get("HX-Request"):
        return HttpResponse(
            status=401, headers={"HX-Redirect": reverse("account_login")}
        )
    back = request.get_full_path() if request.method in {"GET", "HEAD"} else "/"
    return redirect_to_login(back)


@dataclass(frozen=True, slots=True)
class Found:
    """A route as the resolver knows it: its methods, and what its address names."""

    name: str
    methods: frozenset[str]
    parameters: tuple[str, ...]


def discovered(
    resolver: URLResolver | None = None,
    spaces: tuple[str, ...] = (),
    parameters: tuple[str, ...] = (),
) -> Iterator[Found]:
    """Walk every address of the service."""
    for entry in (resolver or get_resolver()).url_patterns:
        named = (*parameters, *entry.pattern.regex.groupindex)
        if isinstance(entry, URLResolver):
            inner = (*spaces, entry.namespace) if entry.namespace else spaces
            yield from discovered(entry, inner, named)
        else:
            name = ":".join((*spaces, entry.name or str(entry.pattern)))
            yield Found(name, frozenset(methods(entry)), named)


def methods(entry: URLPattern) -> set[str]:
    """The methods a view answers, by its class or by Django's method decorators."""
    view: Any = entry.callback
    owner = getattr(view, "view_class", None) or getattr(view, "cls", None)
    if owner is None:
        return set(_decorated(view))
    kept = getattr(view, "view_initkwargs", {}).get("http_method_names")
    answered = getattr(view, "actions", None) or {
        verb for verb in kept or owner.http_method_names if hasattr(owner, verb)
    }
    return {verb.upper() for verb in answered} - {"HEAD", "OPTIONS"}


def _decorated(view: Callable[..., object]) -> list[str]:
    """What `require_http_methods` and its kin were given; nothing: any method."""
    layer: Any = view
    while layer is not None:
        listed = inspect.getclosurevars(layer).nonlocals.get("request_method_list")
        if listed is not None:
            return [verb for verb in listed if verb not in {"HEAD", "OPTIONS"}]
        layer = getattr(layer, "__wrapped__", None)
    return ["any method"]
