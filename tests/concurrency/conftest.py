"""Real threads on real commits. SQLite lets one writer in at a time, so only PostgreSQL can show these races."""

import pytest
from django.apps import apps
from django.conf import settings

from intake.releases.models import Wording
from tests.releases.starter import put_starter_wordings_into_force


@pytest.fixture(autouse=True)
def postgresql(request):
    if "postgresql" not in settings.DATABASES["default"]["ENGINE"]:
        pytest.skip("SQLite lets one writer in at a time; set DATABASE_URL to a PostgreSQL server to run this")
    request.getfixturevalue("committed_db")
    if not Wording.objects.exists():  # emptied after an earlier test
        put_starter_wordings_into_force(apps)
