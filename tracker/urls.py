"""Every address of the service; each stands in the declared table of routes."""

from django.urls import include, path

urlpatterns = [
    path("account/", include("allauth.account.urls")),
]
