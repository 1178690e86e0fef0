"""Addresses of the pages, one a line, sorted. Each has rows in tracker/routes.py."""

from django.urls import path

from tracker.web.views import station

app_name = "web"

urlpatterns = [
    path("station/", station.station, name="station"),
    path("station/people/<uuid:person>/end/", station.end_person, name="person-end"),
    path("station/people/<uuid:person>/role/", station.change_role, name="person-role"),
    path("station/people/add/", station.add_person, name="person-add"),
    path("station/settings/", station.settings, name="station-settings"),
    path(
        "station/sign-in/<uuid:owner>/<uuid:person>/end/",
        station.end_login,
        name="login-end",
    ),
    path("station/sign-in/add/", station.add_login, name="login-add"),
]
