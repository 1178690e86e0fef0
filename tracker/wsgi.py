"""The entry point of a web server."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tracker.settings")
application = get_wsgi_application()

from tracker.checks import refuse_faults  # noqa: E402  # needs the applications

refuse_faults()
