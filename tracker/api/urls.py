"""Addresses of the API, version 1. No format suffixes: it speaks JSON only."""

from django.urls import path
from drf_spectacular.views import SpectacularAPIView

from tracker.api import fuel, overhauls, records, views
from tracker.api.permissions import DeclaredAccess

app_name = "api"

urlpatterns = [
    path("due", views.DueList.as_view(), name="due"),
    path("engines", views.EngineList.as_view(), name="engines"),
    path("engines/<uuid:engine>", views.EngineDetail.as_view(), name="engine"),
    path(
        "engines/<uuid:engine>/findings",
        views.EngineFindings.as_view(),
        name="engine-findings",
    ),
    path("engines/<uuid:engine>/fuel", fuel.EngineFuel.as_view(), name="engine-fuel"),
    path(
        "engines/<uuid:engine>/overhaul",
        overhauls.EngineOverhaul.as_view(),
        name="engine-overhaul",
    ),
    path(
        "engines/<uuid:engine>/readings",
        views.EngineReadings.as_view(),
        name="engine-readings",
    ),
    path(
        "engines/<uuid:engine>/records",
        records.EngineRecords.as_view(),
        name="engine-records",
    ),
    path("fuel/<uuid:fuel>", fuel.FuelDetail.as_view(), name="fuel"),
    path("publications", views.PublicationList.as_view(), name="publications"),
    path(
        "publications/<uuid:publication>",
        views.PublicationDetail.as_view(),
        name="publication",
    ),
    path("readings", views.ReadingList.as_view(), name="readings"),
    path("readings/<uuid:reading>", views.ReadingDetail.as_view(), name="reading"),
    path("records/<uuid:record>", records.RecordDetail.as_view(), name="record"),
    path(
        "records/<uuid:record>/void",
        records.RecordVoid.as_view(),
        name="record-void",
    ),
    path(
        "schema",
        SpectacularAPIView.as_view(permission_classes=[DeclaredAccess]),
        name="schema",
    ),
]
