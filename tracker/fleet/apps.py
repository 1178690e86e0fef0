from django.apps import AppConfig


class FleetConfig(AppConfig):
    name = "tracker.fleet"
    label = "fleet"
