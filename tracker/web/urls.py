"""Addresses of the pages, one a line, sorted. Each has rows in tracker/routes.py."""

from django.urls import path

from tracker.web.views import due, engines, owners, publications, station, status

app_name = "web"

urlpatterns = [
    path("", due.start, name="due"),
    path(
        "documents/<uuid:document>/", publications.document, name="publication-document"
    ),
    path("due/", due.everything_open, name="due-open"),
    path("due/missing/", due.missing, name="due-missing"),
    path("engines/", engines.engine_list, name="engine-list"),
    path("engines/<uuid:engine>/", engines.engine, name="engine"),
    path("engines/<uuid:engine>/history/", engines.history, name="engine-history"),
    path(
        "engines/<uuid:engine>/not-applying/",
        engines.not_applying,
        name="engine-not-applying",
    ),
    path("engines/<uuid:engine>/status/", status.status, name="engine-status"),
    path("owners/", owners.owner_list, name="owner-list"),
    path("owners/<uuid:owner>/", owners.owner, name="owner"),
    path("publications/", publications.publication_list, name="publication-list"),
    path(
        "publications/<uuid:publication>/", publications.publication, name="publication"
    ),
    path(
        "publications/<uuid:publication>/not-affected/",
        publications.not_affected,
        name="publication-not-affected",
    ),
    path(
        "revisions/<uuid:revision>/",
        publications.revision,
        name="publication-revision",
    ),
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
