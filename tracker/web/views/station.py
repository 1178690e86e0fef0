"""The station about itself: its settings, its people, and who signs in for owners."""

from __future__ import annotations

from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import (
    require_GET,
    require_http_methods,
    require_POST,
)

from tracker.accounts import people
from tracker.accounts.middleware import ViewedRequest
from tracker.accounts.models import Membership, Role
from tracker.fleet import logins
from tracker.fleet.errors import Refused
from tracker.fleet.models import OwnerLogin
from tracker.web.forms.station import LoginForm, PersonForm, RoleForm, StationForm


@require_GET
def station(request: ViewedRequest) -> HttpResponse:
    here = request.viewer.station
    shown = {
        "station": here,
        "people": Membership.objects.of(here),
        "roles": Role.choices,
        "logins": OwnerLogin.objects.current_at(here),
    }
    return render(request, "web/station/detail.html", shown)


@require_http_methods(["GET", "POST"])
def settings(request: ViewedRequest) -> HttpResponse:
    form = StationForm(request.POST or None, station=request.viewer.station)
    if not form.is_valid():
        return _answer(request, "settings", form)
    try:
        people.change_settings(request.viewer, form.cleaned_data)
    except people.PeopleRefused as refused:
        form.add_error("check_address", str(refused))
        return _answer(request, "settings", form)
    messages.success(request, "The settings of the station are kept.")
    return redirect("web:station")


@require_http_methods(["GET", "POST"])
def add_person(request: ViewedRequest) -> HttpResponse:
    form = PersonForm(request.POST or None)
    if not form.is_valid():
        return _answer(request, "person", form)
    try:
        membership, made = people.add_person(
            request.viewer, **form.cleaned_data, at=timezone.now()
        )
    except people.PeopleRefused as refused:
        form.add_error("email", str(refused))
        return _answer(request, "person", form)
    if made is None:
        messages.success(
            request,
            f"{membership.user.email} belongs to the station now and signs in as before.",
        )
        return redirect("web:station")
    shown = {"person": membership.user, "password": made}
    return render(request, "web/station/password.html", shown)


@require_POST
def change_role(request: ViewedRequest, person: UUID) -> HttpResponse:
    membership = _membership(request, person)
    form = RoleForm(request.POST)
    if not form.is_valid():
        return _refused(request, "Choose one of the roles.")
    try:
        people.change_role(
            request.viewer, membership, at=timezone.now(), **form.cleaned_data
        )
    except people.PeopleRefused as refused:
        return _refused(request, str(refused))
    messages.success(request, f"The role of {membership.user} is changed.")
    return redirect("web:station")


@require_POST
def end_person(request: ViewedRequest, person: UUID) -> HttpResponse:
    membership = _membership(request, person)
    try:
        logins.leave_station(request.viewer, membership, at=timezone.now())
    except people.PeopleRefused as refused:
        return _refused(request, str(refused))
    messages.success(request, f"{membership.user} has left the station.")
    return redirect("web:station")


@require_http_methods(["GET", "POST"])
def add_login(request: ViewedRequest) -> HttpResponse:
    form = LoginForm(request.POST or None, viewer=request.viewer)
    if not form.is_valid():
        return _answer(request, "login", form)
    owner = form.cleaned_data["owner"]
    membership = _membership(request, form.cleaned_data["person"].public_id)
    try:
        logins.link_login(
            request.viewer, owner=owner, membership=membership, at=timezone.now()
        )
    except Refused as refused:
        form.add_error("person", str(refused))
        return _answer(request, "login", form)
    messages.success(request, f"{membership.user} signs in for {owner}.")
    return redirect("web:station")


@require_POST
def end_login(request: ViewedRequest, owner: UUID, person: UUID) -> HttpResponse:
    login = get_object_or_404(
        OwnerLogin.objects.current_at(request.viewer.station),
        owner__public_id=owner,
        user__public_id=person,
    )
    logins.unlink_login(request.viewer, login, at=timezone.now())
    messages.success(request, f"{login.user} no longer signs in for {login.owner}.")
    return redirect("web:station")


def _membership(request: ViewedRequest, person: UUID) -> Membership:
    here = Membership.objects.of(request.viewer.station)
    return get_object_or_404(here, user__public_id=person)


def _answer(request: ViewedRequest, name: str, form: forms.Form) -> HttpResponse:
    """The form as it was sent, with what is wrong, or empty."""
    template = f"web/station/{name}.html"
    return render(request, template, {"form": form}, status=422 if form.errors else 200)


def _refused(request: ViewedRequest, message: str) -> HttpResponse:
    messages.error(request, message)
    return redirect("web:station")
