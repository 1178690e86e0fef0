"""Webhooks of the station: the list, a new one, its secret, off and on, and a test."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import (
    require_GET,
    require_http_methods,
    require_POST,
)

from tracker.accounts.middleware import ViewedRequest
from tracker.fleet.errors import Refused
from tracker.watch.hooks import acts
from tracker.watch.hooks.listing import hooks_for_page
from tracker.watch.models import Hook
from tracker.web.forms.hooks import HookForm


@require_GET
def hook_list(request: ViewedRequest) -> HttpResponse:
    shown = {"hooks": hooks_for_page(request.viewer)}
    return render(request, "web/hooks/list.html", shown)


@require_http_methods(["GET", "POST"])
def add_hook(request: ViewedRequest) -> HttpResponse:
    form = HookForm(request.POST or None)
    if form.is_valid():
        try:
            hook, secret = acts.add_hook(
                request.viewer, **form.cleaned_data, at=timezone.now()
            )
        except Refused as refused:
            form.refuse(refused)
        else:
            return _secret(request, hook, secret)
    status = 422 if form.errors else 200
    return render(request, "web/hooks/add.html", {"form": form}, status=status)


@require_POST
def renew_secret(request: ViewedRequest, hook: UUID) -> HttpResponse:
    seen = _seen(request, hook)
    return _secret(request, seen, acts.renew_secret(request.viewer, seen))


@require_POST
def switch(request: ViewedRequest, hook: UUID) -> HttpResponse:
    seen, at = _seen(request, hook), timezone.now()
    is_on = request.POST.get("to") == "on"
    try:
        if is_on:
            acts.start(request.viewer, seen, at=at)
        else:
            acts.stop(request.viewer, seen, at=at)
    except Refused as refused:
        return _refused(request, refused)
    said = "on. What it has missed is posted now." if is_on else "off."
    messages.success(request, f"The webhook is switched {said}")
    return redirect("web:hook-list")


@require_POST
def send_test(request: ViewedRequest, hook: UUID) -> HttpResponse:
    try:
        acts.send_test(request.viewer, _seen(request, hook), at=timezone.now())
    except Refused as refused:
        return _refused(request, refused)
    messages.success(
        request, "A test event waits to be posted. What came of it will stand here."
    )
    return redirect("web:hook-list")


def _seen(request: ViewedRequest, hook: UUID) -> Hook:
    return get_object_or_404(Hook.objects.visible_to(request.viewer), public_id=hook)


def _secret(request: ViewedRequest, hook: Hook, secret: str) -> HttpResponse:
    shown = {"hook": hook, "secret": secret}
    return render(request, "web/hooks/secret.html", shown)


def _refused(request: ViewedRequest, refused: Refused) -> HttpResponse:
    messages.error(request, str(refused))
    return redirect("web:hook-list")
