"""The service: the Celery application is loaded with Django."""

from tracker.celery import app as celery_app

__version__ = "0.1.0"
__all__ = ["celery_app"]
