from django.apps import AppConfig


class ComplianceConfig(AppConfig):
    name = "tracker.compliance"
    label = "compliance"
