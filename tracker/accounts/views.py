"""Choose which of several stations to look at."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from tracker.accounts.middleware import STATION_KEY
from tracker.accounts.models import Membership, User


@require_http_methods(["GET", "POST"])
def stations(request: HttpRequest) -> HttpResponse:
    assert isinstance(request.user, User), "the gate asks for a signed-in person"
    memberships = Membership.objects.held_by(request.user)
    if request.method == "POST":
        chosen = request.POST.get("station")
        if not any(str(m.station.public_id) == chosen for m in memberships):
            raise Http404
        request.session[STATION_KEY] = chosen
        return redirect("/")
    return render(request, "account/stations.html", {"memberships": memberships})
