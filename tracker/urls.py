"""Every address of the service; each stands in the declared table of routes."""

from django.urls import include, path

handler400 = "tracker.refusals.not_understood"
handler403 = "tracker.refusals.forbidden"
handler404 = "tracker.refusals.not_found"
handler500 = "tracker.refusals.fault"

urlpatterns = [
    path("account/", include("tracker.accounts.urls")),
    path("api/v1/", include("tracker.api.urls")),
    path("", include("tracker.web.urls")),
]
