"""The Celery app. The broker carries nudges only: the job rows are the queue (intake/jobs)."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "intake.settings.local")

app = Celery("intake")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["intake.jobs"])
