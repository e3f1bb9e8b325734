"""The WSGI application; Celery's app is loaded with it so that a nudge finds its broker."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "pipeline.settings")

application = get_wsgi_application()

from pipeline.celery import app as celery_app  # noqa: E402

__all__ = ["application", "celery_app"]
