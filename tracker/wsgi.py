"""The entry point of a web server."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tracker.settings")
application = get_wsgi_application()

from django.conf import settings  # noqa: E402  # needs the applications

from tracker.checks import refuse_faults  # noqa: E402
from tracker.watch.jobs.loop import tick_beside_web  # noqa: E402

refuse_faults()
if not settings.REDIS_URL:
    tick_beside_web()
