"""The service: the Celery application is loaded with Django."""

from tracker.celery import app as celery_app

__all__ = ["celery_app"]
